"""`foilsweep code`: the folder that it writes, what it refuses, and that what it writes works as its README says."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import zipfile
from itertools import groupby
from pathlib import Path

import pytest

from sweep import cli
from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.text.problems import ChoiceError
from sweep.export.code import code_files
from sweep.export.compose import PARTS
from sweep.export.flight import TICKS, record
from sweep.export.settings import law_of
from sweep.model.onboard.safety import LINK_LOST, SWITCHED_OFF
from tests.export.compiled import COMPILER, STRICT, needs_compiler
from tests.model.crafts import WATER, courier, with_wand
from tests.own.laws import with_code

ROOT = Path(__file__).resolve().parents[2]
CRAFT = ROOT / "configs" / "craft" / "courier.yaml"
NAMES = {
    "README.md",
    "BENCH.md",
    "control.h",
    "control.c",
    "sizes.h",
    "settings.c",
    "vectors.h",
    "check.h",
    "check.c",
    "host_check.c",
    "serial_check.c",
}
CAMPAIGN = """\
title: A small one
craft: {craft}
factors:
  control.height.proportional: [0.4 deg/cm, 0.6 deg/cm]
conditions:
  seas: {{calm: {{kind: flat}}, chop: {{kind: jonswap, height: 3 cm, period: 1 s}}}}
  headings: [head]
  speeds: [{speeds}]
  replicates: 1
flight: {{length: 4 s, settle: 1 s, seed: 3, start: {start}}}
score:
  ride_height_error: {{scale: 1 cm}}
"""


def campaign(folder: Path, speeds: str = "4 m/s", start: str = "flying") -> str:
    """A campaign file of two designs."""
    path = folder / "small.yaml"
    path.write_text(CAMPAIGN.format(craft=CRAFT, speeds=speeds, start=start))
    return str(path)


@pytest.fixture(scope="module")
def code(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The code of design 2."""
    place = tmp_path_factory.mktemp("code")
    assert cli.main(["code", campaign(place, "3 m/s, 4 m/s"), "--design", "2", "--out", str(place / "my-code")]) == 0
    return place / "my-code"


def test_it_writes_one_folder_of_text(code: Path) -> None:
    texts = {path.name: path.read_text(encoding="utf-8") for path in code.iterdir()}
    assert set(texts) == NAMES
    assert ".height_loop.proportional = 1.04719" in texts["settings.c"]
    assert "control.height.proportional: 0.6 deg/cm" in texts["settings.c"]
    assert "#define TRIMS 2" in texts["sizes.h"]
    assert not re.search(r"\$\w", "".join(texts.values()))
    source = [
        line for name in NAMES - {"README.md", "BENCH.md", "settings.c", "vectors.h"} for line in texts[name].splitlines()
    ]
    assert max(map(len, source)) <= 130


def test_the_source_keeps_to_what_its_head_says(code: Path) -> None:
    """No heap, no changing global, no library but the square root; and no part that this design does not use."""
    source = (code / "control.c").read_text(encoding="utf-8")
    assert set(re.findall(r"#include (\S+)", source)) == {"<math.h>", '"control.h"'}
    assert not re.search(r"malloc|calloc|\bfree\b|\bgoto\b|\bdouble\b|\blong\b|printf", source)
    assert set(re.findall(r"\b(sqrtf?|sin|cos|tan|atan2?|fabs|pow|exp|floor)\b\(", source)) == {"sqrt", "sqrtf"}
    assert not re.search(r"median|refuses|foresee|schedule_speed|climb\b.*=.*upward", source)
    assert not re.findall(r"^#if ", source, flags=re.M)
    assert [line for line in re.findall(r"^static [^(]*;", source, flags=re.M) if "const" not in line] == []


@pytest.mark.skipif(
    shutil.which("g++") is None and not os.environ.get("CI"), reason="no g++ here: boards' programs are often C++ around this C"
)
def test_the_header_is_for_c_plus_plus_too(code: Path, tmp_path: Path) -> None:
    main = tmp_path / "main.cpp"
    main.write_text(
        '#include "control.h"\nint main() { control_memory m; control_start(&m); return m.mode != CONTROL_STOPPED; }\n'
    )
    law = [
        [COMPILER or "", "-std=c99", "-c", code / f"{name}.c", "-o", tmp_path / f"{name}.o"] for name in ("control", "settings")
    ]
    link = ["g++", "-Wall", "-Wextra", "-Werror", "-I", code, main, tmp_path / "control.o", tmp_path / "settings.o", "-lm"]
    for command in (*law, [*link, "-o", tmp_path / "main"], [tmp_path / "main"]):
        assert subprocess.run(command, check=False).returncode == 0


@needs_compiler
def test_the_commands_of_its_readme_work(code: Path) -> None:
    """Whatever it prints, somebody does: the check, by its line as written, and the loop."""
    text = (code / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^ *(gcc .*)$", text, flags=re.M)
    found = subprocess.run(line, shell=True, cwd=code, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout + found.stderr
    assert f"{TICKS} ticks" in found.stdout
    (code / "host_check").unlink()
    (loop,) = re.findall(r"```c\n(.*?)```", text, flags=re.S)
    yours = "static number seconds_since_last_tick(void) { return SETTINGS.period; }\n"
    yours += (
        "static unsigned char arming_switch_is_on(void) { return 0; }\nstatic unsigned char told_to_go(void) { return 0; }\n"
    )
    yours += "static number seconds_since_last_message(void) { return 0; }\n"
    yours += "static number course_from_the_person_in_charge(void) { return 0; }\n"
    yours += "static void send_to_servos_and_motors(const struct control_commands *c) { (void)c; }\n"
    head = '#include "control.h"\n'
    main = code.parent / "loop.c"
    main.write_text(loop.replace(head, head + yours) + "int main(void) { begin_control(); tick_control(); return 0; }\n")
    sources = [main, code / "control.c", code / "settings.c"]
    command = [COMPILER or "", *STRICT, "-I", code, *sources, "-lm", "-o", main.with_suffix("")]
    found = subprocess.run(command, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stderr
    assert subprocess.run([main.with_suffix("")], check=False).returncode == 0


def test_what_was_changed_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["code", campaign(tmp_path), "--design", "0", "--out", str(tmp_path / "own")]
    assert cli.main(given) == 0
    before = {path.name: path.read_text() for path in (tmp_path / "own").iterdir()}
    assert cli.main(given) == 0  # the same again changes nothing
    changed_file = tmp_path / "own" / "settings.c"
    changed_file.write_text("mine")
    capsys.readouterr()
    assert cli.main(given) == 2
    assert f"{changed_file}: found a file with other content" in capsys.readouterr().err
    assert {path.name: path.read_text() for path in (tmp_path / "own").iterdir()} == before | {"settings.c": "mine"}


@pytest.mark.parametrize(
    ("design", "speeds", "said"),
    [
        ("7", "4 m/s", "design 7: wanted a design of this campaign, 0 (the base craft) to 2"),
        ("1", "0.6 m/s", "no code, for it flies level at none of the speeds"),
    ],
)
def test_what_cannot_be_written_is_told(
    design: str, speeds: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["code", campaign(tmp_path, speeds), "--design", design, "--out", str(tmp_path / "own")]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "own").exists()


def test_a_campaign_from_rest_has_its_code_too(tmp_path: Path) -> None:
    """The flight of the check starts in trim all the same, as its README says."""
    assert cli.main(["code", campaign(tmp_path, start="rest"), "--design", "0", "--out", str(tmp_path / "own")]) == 0
    assert "from 2 s after its start in trim" in (tmp_path / "own" / "README.md").read_text()


def test_the_flight_of_the_check_has_the_safe_state(tmp_path: Path) -> None:
    """A link that is lost stops the law within its ticks, and the switch, off and on again, lets it run to the last one."""
    loaded = load_campaign(Path(campaign(tmp_path)))
    recorded = record(loaded, law_of(loaded.craft, WATER, loaded.speeds))
    assert recorded is not None
    modes = [next(modes) for _, modes in groupby(tick.commanded.stopped_by for tick in recorded.ticks)]
    assert recorded.stops
    assert modes == [0.0, LINK_LOST, SWITCHED_OFF, 0.0]
    assert len(recorded.ticks) == TICKS


@pytest.mark.parametrize(
    ("craft", "said"),
    [
        (with_wand(), "its law reads a rangefinder of kind wand"),
        (with_code(courier(), ""), "its law is the builder's own file already: my_control.c"),
    ],
)
def test_a_law_that_the_c_does_not_know_is_not_written(craft: Craft, said: str, tmp_path: Path) -> None:
    loaded = load_campaign(Path(campaign(tmp_path)))
    with pytest.raises(ChoiceError, match=said):
        code_files(loaded, craft, "Design 0")


def test_the_parts_are_packed_with_the_program() -> None:
    assert {"control.h", "README.md", "BENCH.md", "tick.c"} <= {path.name for path in PARTS.iterdir()}
    assert PARTS.is_relative_to(ROOT / "sweep")


def test_the_same_design_gives_the_same_text(tmp_path: Path) -> None:
    loaded = load_campaign(Path(campaign(tmp_path)))
    assert code_files(loaded, loaded.craft, "Design 0") == code_files(loaded, loaded.craft, "Design 0")


def test_a_name_that_ends_in_zip_is_written_as_one(code: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same texts in one file, the same bytes each time; what was changed is not written over."""
    path = tmp_path / "my-code.zip"
    given = ["code", campaign(tmp_path, "3 m/s, 4 m/s"), "--design", "2", "--out", str(path)]
    assert cli.main(given) == 0
    first = path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        texts = {name.removeprefix("my-code/"): archive.read(name).decode() for name in archive.namelist()}
    texts.pop("vectors.h")
    assert texts.keys() == NAMES - {"vectors.h"}
    assert texts == {name: (code / name).read_text(encoding="utf-8") for name in texts}
    assert cli.main(given) == 0
    assert path.read_bytes() == first
    path.write_bytes(b"mine")
    capsys.readouterr()
    assert cli.main(given) == 2
    assert "a file with other content" in capsys.readouterr().err
    assert path.read_bytes() == b"mine"


def test_the_shipped_law_with_one_line_changed_is_what_it_says(tmp_path: Path) -> None:
    """configs/firm-below.c is control.c of its campaign's craft, but for its head and what is marked 'ours'."""
    assert cli.main(["code", str(ROOT / "configs" / "own-law.yaml"), "--design", "0", "--out", str(tmp_path / "code")]) == 0
    written = (tmp_path / "code" / "control.c").read_text(encoding="utf-8").splitlines()
    ours = (ROOT / "configs" / "firm-below.c").read_text(encoding="utf-8").splitlines()
    kept = [line.replace("firm * missing", "missing") for line in ours if "/* ours: " not in line]
    assert len(ours) - len(kept) == 1
    assert sum("firm * missing" in line for line in ours) == 1
    assert kept[kept.index(" *") :] == written[written.index(" *") :]
