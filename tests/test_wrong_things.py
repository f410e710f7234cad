"""What builders get wrong: each is told with its place, its cause and a cure, and ends without a traceback."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import pytest
import yaml

from sweep import cli
from tests.campaign.files import CAMPAIGN, write

SLIPS = yaml.safe_load(Path(__file__).with_name("wrong_things.yaml").read_text(encoding="utf-8"))
UTF_8 = "wanted text in UTF-8"
TOLD = "wanted a mapping of title, craft, water, factors"
CONTENTS = {
    "UTF-16": (CAMPAIGN.encode("utf-16"), "chop.yaml: found text in UTF-16, wanted text in UTF-8: save it again"),
    "UTF-16 without a mark": (
        CAMPAIGN.encode("utf-16-le"),
        "chop.yaml: found text in UTF-16, wanted text in UTF-8: save it again",
    ),
    "Latin-1": (CAMPAIGN.replace("chop", "Böe").encode("latin-1"), f"chop.yaml:1:21: found the byte 0xf6, {UTF_8}"),
    "cp1251": (CAMPAIGN.replace("Tender", "Тендер").encode("cp1251"), f"chop.yaml:1:8: found the byte 0xd2, {UTF_8}"),
    "an archive": (
        b"PK\x03\x04\xff\xfe\x80" + bytes(range(128, 250)),
        "chop.yaml: found a file that is no text, wanted a text file",
    ),
    "a zero byte": (CAMPAIGN.replace("chop", "ch\0op").encode(), "chop.yaml:1:22: found a character that YAML does not allow"),
    "nothing": (b"", f"chop.yaml:1:1: found nothing, {TOLD}"),
    "a page": (b"<html><body>x</body></html>", TOLD),
    "a program": (b"import sweep\nprint(1)\n", TOLD),
    "a table": (b"a,b\n1,2\n", TOLD),
    "JSON that lacks all": (b'{"title": "x"}', "craft: found no craft, wanted a path, or a mapping (the craft file's path"),
}
COMMANDS = {
    "two campaigns": ("check chop.yaml tender.yaml", "found 'tender.yaml' beside 'chop.yaml'; wanted one CAMPAIGN at a time"),
    "standard input": ("check -", "-: found the standard input, wanted a YAML file: save what comes from there"),
    "a folder": ("check .", ".: found a folder, wanted a YAML file"),
    "a misspelt file": ("check chp.yaml", "chp.yaml: found no such file, wanted a YAML file"),
    "a craft file": ("check tender.yaml", "tender.yaml: found a craft file, which a campaign names, wanted a campaign file"),
    "output onto a file": ("run chop.yaml --out tender.yaml", "--out: found the file 'tender.yaml', wanted a folder"),
    "output under a file": ("run chop.yaml --out tender.yaml/x", "--out: found the file 'tender.yaml', wanted a folder"),
    "a misspelt demo": ("new x --demo courier-chopp", "--demo: found 'courier-chopp', wanted a demo, perhaps courier-chop"),
    "a demo by its file": ("new x --demo courier-chop.yaml", "wanted a demo, perhaps courier-chop"),
    "answers that are not there": ("new x --answers nope.yaml", "nope.yaml: found no such file, wanted a YAML file"),
    "a design too many": (
        "fly chop.yaml --design 99999 --condition 0",
        "wanted a design of this campaign, 0 (the base craft) to 432",
    ),
    "a condition by its sea": ("fly chop.yaml --design 1 --condition chop", "wanted the name or the number of a condition"),
    "a condition too many": ("fly chop.yaml --design 1 --condition 99", "wanted the name or the number of a condition"),
    "code of no design": ("code chop.yaml --design 99999", "wanted a design of this campaign"),
    "workers below one": ("run chop.yaml --workers -1", "found '-1', wanted a whole number from 1"),
    "a campaign as mapping": (
        "log read chop.yaml",
        "found a campaign file, which `foilsweep run` takes, wanted a mapping file of logs",
    ),
    "a log as mapping": ("log read x.csv", "x.csv: found no such file, wanted a YAML file"),
    "no log": ("log begin nope.csv", "nope.csv: found a file that cannot be read (No such file or directory), wanted a log"),
    "a misspelt word": ("explain latncy", "Nothing is called 'latncy'; the nearest: latency"),
    "a misspelt schema": ("explain --schema camp", "'camp' is no FILE; perhaps campaign"),
    "two forms at once": ("rank . --json --csv -", "argument --csv: not allowed with argument --json"),
    "no results": ("rank .", ". has no manifest.json; wanted the results folder of a run."),
    "a file as results": ("rank chop.yaml", "chop.yaml is a file; wanted the results folder of a run."),
    "results nowhere": ("publish nowhere", "nowhere does not exist; wanted the results folder of a run."),
}


def told(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """What a command that must fail says."""
    before = sorted(path.name for path in folder.iterdir())
    with contextlib.chdir(folder):
        try:
            code = cli.main(arguments)
        except SystemExit as stopped:  # by the parser of arguments
            code = int(stopped.code or 0)
    said = capsys.readouterr()
    assert code in (cli.WRONG_INPUT, cli.FAILED)
    assert said.out == ""
    assert "Traceback" not in said.err
    assert sorted(path.name for path in folder.iterdir()) == before, "it wrote something"
    return said.err


def test_there_are_many() -> None:
    assert len(SLIPS) + len(CONTENTS) + len(COMMANDS) >= 150
    assert len({slip["what"] for slip in SLIPS}) == len(SLIPS)


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip["what"])
def test_a_slip_in_a_file(slip: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path, **{slip["in"]: [tuple(each) for each in slip["changes"]]})
    said = told(tmp_path, ["check", "chop.yaml"], capsys)
    begins = f"{slip['place']}: {slip['key']}: found " if slip["key"] else f"{slip['place']}: found "
    (line,) = [each for each in said.splitlines() if each.startswith(begins)]
    assert f"wanted {slip['cure']}" in line


@pytest.mark.parametrize("content", CONTENTS.values(), ids=CONTENTS.keys())
def test_a_file_that_is_no_campaign(content: tuple[bytes, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path)
    (tmp_path / "chop.yaml").write_bytes(content[0])
    assert content[1] in told(tmp_path, ["check", "chop.yaml"], capsys)


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS.keys())
def test_a_slip_on_the_command_line(command: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path)
    assert command[1] in " ".join(told(tmp_path, command[0].split(), capsys).split())
