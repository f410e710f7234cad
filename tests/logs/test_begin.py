"""`log begin`: twelve loggers' files drafted; what it cannot tell it leaves open, and nothing flies past that."""

from __future__ import annotations

import re
from math import pi
from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.text.problems import CampaignError, ChoiceError
from sweep.cli import main
from sweep.logs.begin.command import begin
from sweep.logs.begin.names import heard
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.table import LogTally, read_chunks
from sweep.logs.report.day import judge_day
from tests.logs.foreign import Logger, Sea, log_of
from tests.logs.loggers.corrected import corrected, drafted
from tests.logs.loggers.odd import ODD, OFF, speed_alone
from tests.logs.loggers.twelve import LOGGERS
from tests.model.crafts import COURIER_FILE

WITHOUT_BEARING = "heading: head"


@pytest.mark.parametrize("name", LOGGERS)
def test_at_most_two_keys_of_a_logger_s_file_are_to_be_corrected(name: str) -> None:
    written = LOGGERS[name]()
    found = corrected(written, drafted(written))
    assert len(found.wrong) <= 2, found.wrong
    assert not found.silent


@pytest.mark.parametrize("name", LOGGERS)
def test_a_draft_is_a_mapping_that_reads_its_log(name: str, tmp_path: Path) -> None:
    written = LOGGERS[name]()
    (tmp_path / written.name).write_bytes(written.content)
    (tmp_path / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    begin([tmp_path / written.name], None, tmp_path / "craft.yaml", WITHOUT_BEARING)
    mapping, tally = load_mapping(tmp_path / "mapping.yaml"), LogTally()
    chunks = list(read_chunks(mapping.files[0], mapping, tally))
    assert sum(len(chunk.time) for chunk in chunks) > 1900
    assert (tally.torn, tally.clockless, tally.backwards) == (0, 0, 0)
    assert tally.last - tally.first == pytest.approx(40.0, abs=0.1)
    assert {"range", "pitch", "force_z"} <= set(mapping.channels)


@pytest.mark.parametrize("name", ODD)
def test_odd_files(name: str, tmp_path: Path) -> None:
    """Nothing to correct by hand, but where it asks; and the day that the draft reads is the one that was flown."""
    written = ODD[name]()
    found = corrected(written, drafted(written))
    assert not found.wrong
    (tmp_path / written.name).write_bytes(written.content)
    (tmp_path / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    files = [tmp_path / written.name]
    if name == "without_its_speed":
        files.insert(0, tmp_path / speed_alone().name)
        files[0].write_bytes(speed_alone().content)
    said = begin(files, None, tmp_path / "craft.yaml", "bearing: 0 deg")
    path = tmp_path / "mapping.yaml"
    if name == "without_its_speed":
        assert "fill in off" in said[-1]
        with pytest.raises(CampaignError, match="off"):
            load_mapping(path)
        text = path.read_text(encoding="utf-8")
        assert "its first row has 3.2 s more" in text
        path.write_text(text.replace("TO FILL IN", f"{OFF} s"), encoding="utf-8")
    day = judge_day(load_mapping(path))
    (run,) = day.flying
    assert run.length == pytest.approx(37.0, abs=1.1)
    assert run.speed == pytest.approx(4.0, abs=0.05)
    sea = day.sea()
    assert sea is not None
    assert sea.height.low < 0.05 < sea.height.high
    assert sea.period.low < 1.1 < sea.period.high
    assert not day.grave


def test_another_logger_s_file_has_a_log_of_its_own_to_go_with(tmp_path: Path) -> None:
    for name, written in (("a.csv", LOGGERS["held"]()), ("b.csv", LOGGERS["bow_down"]()), ("c.csv", speed_alone())):
        (tmp_path / name).write_bytes(written.content)
    with pytest.raises(ChoiceError, match="it has a range too: draft it alone"):
        begin([tmp_path / "a.csv", tmp_path / "b.csv"], None, None, None)
    with pytest.raises(ChoiceError, match="has nothing that"):
        begin([tmp_path / "a.csv", tmp_path / "c.csv"], None, None, None)
    (tmp_path / "d.csv").write_bytes(ODD["without_its_speed"]().content)
    (tmp_path / "e.csv").write_bytes(ODD["without_its_speed"]().content)
    with pytest.raises(ChoiceError, match="it may be of any of them"):
        begin([tmp_path / "d.csv", tmp_path / "c.csv", tmp_path / "e.csv"], None, None, None)


def test_what_no_log_tells_is_left_to_fill_in_and_refused_until_then(tmp_path: Path) -> None:
    written = LOGGERS["autopilot"]()
    (tmp_path / written.name).write_bytes(written.content)
    said = begin([tmp_path / written.name], None, None, None)
    assert "fill in craft and waves" in said[-1]
    text = (tmp_path / "mapping.yaml").read_text(encoding="utf-8")
    assert text.count("TO FILL IN") == 2
    with pytest.raises(CampaignError):
        load_mapping(tmp_path / "mapping.yaml")


def test_every_guess_has_its_reason_and_every_doubt_its_question(tmp_path: Path) -> None:
    written = LOGGERS["bare"]()
    (tmp_path / written.name).write_bytes(written.content)
    begin([tmp_path / written.name], None, None, None)
    lines = (tmp_path / "mapping.yaml").read_text(encoding="utf-8").splitlines()
    columns = [line for line in lines if re.match(r"  \w+: \{column", line)]
    assert len(columns) >= 5
    assert all("   # " in line for line in columns)
    assert sum("# ? " in line for line in lines) >= 5


def test_without_gravity_it_asks(tmp_path: Path) -> None:
    rows = "\n".join(f"{0.02 * i:.2f},{9 + i % 3},{0.1 * (i % 5 - 2):.1f}" for i in range(400))
    (tmp_path / "log.csv").write_text("time_s,range_cm,acc_z\n" + rows, encoding="utf-8")
    said = "\n".join(begin([tmp_path / "log.csv"], None, None, None))
    assert "gravity in no unit" in said
    assert "without it no sea is told" in (tmp_path / "mapping.yaml").read_text(encoding="utf-8")


def test_what_is_no_log_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "log.bin").write_bytes(bytes(range(256)) * 40)
    with pytest.raises(ChoiceError, match="packed records need their layout"):
        begin([tmp_path / "log.bin"], None, None, None)
    (tmp_path / "text.csv").write_text("a,b\n" + "1,2\n" * 100, encoding="utf-8")
    with pytest.raises(ChoiceError, match="cannot tell its clock"):
        begin([tmp_path / "text.csv"], None, None, None)
    assert not (tmp_path / "mapping.yaml").exists()


def test_the_page_escapes_words_and_shows_every_channel(tmp_path: Path) -> None:
    rows = "\n".join(f"{0.02 * i:.2f},{9 + i % 3},{-9.8 + 0.1 * (i % 5 - 2):.1f},{i % 9}" for i in range(400))
    (tmp_path / "log.csv").write_text("time_s,range_cm,acc_z,<b>x</b>\n" + rows, encoding="utf-8")
    begin([tmp_path / "log.csv"], None, None, None)
    page = (tmp_path / "mapping.html").read_text(encoding="utf-8")
    assert "<b>x" not in page
    assert page.count("<svg") == 2
    assert "&lt;b&gt;x" in page


def test_the_command_and_a_mapping_that_is_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written = LOGGERS["held"]()
    (tmp_path / written.name).write_bytes(written.content)
    assert main(["log", "begin", str(tmp_path / written.name), "--waves", "bearing: 240 deg"]) == 0
    assert "Traces to confirm" in capsys.readouterr().out
    assert main(["log", "begin", str(tmp_path / written.name)]) == 2
    assert "there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("heading", "channel", "unit"),
    [
        ("Roll [deg]", "roll", ("deg", 1.0)),
        ("gyro_y_dps", "pitch_rate", ("deg/s", 1.0)),
        ("AccZ", "force_z", None),
        ("ay", "other", None),
        ("batteryVolt", "other", None),
        ("SOG (kts)", "speed", ("kn", 1.0)),
        ("GPS.course", "heading", None),
        ("yaw rate", "other", None),
    ],
)
def test_headings(heading: str, channel: str, unit: tuple[str, float] | None) -> None:
    assert heard(heading)[1:3] == (channel, unit)


def test_the_demo_s_own_log_is_drafted_as_its_mapping_has_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A log that no rule was made for: a rangefinder named by its place, a pitch named by the nose, foils by a letter."""
    assert main(["log", "demo", str(tmp_path / "demo")]) == 0
    path = tmp_path / "demo" / "pass-1.csv"
    begin([path], tmp_path / "demo" / "draft.yaml", tmp_path / "demo" / "craft.yaml", "bearing: 240 deg")
    wanted, found = (load_mapping(tmp_path / "demo" / name) for name in ("afternoon.yaml", "draft.yaml"))
    assert {(each.channel, each.column, each.factor) for each in found.columns} == {
        (each.channel, each.column, each.factor) for each in wanted.columns
    }
    page = (tmp_path / "demo" / "draft.html").read_text(encoding="utf-8")
    (track,) = [line for line in page.split("<svg")[1:] if 'aria-label="throttle' in line]
    assert track.count("M") == 2, "the log has one hole of 20 s"
    text = (tmp_path / "demo" / "draft.yaml").read_text(encoding="utf-8")
    for foil in wanted.craft.foils:
        assert f"# ? foil_{foil}: " in text, "no column tells its sign"


@pytest.mark.parametrize(
    ("heading", "channel"),
    [
        ("bow_mm", "range"),
        ("bow_deg", "pitch"),
        ("nose_down_deg", "pitch"),
        ("port_cm", "range"),
        ("pitch_m", ""),
        ("yaw_mm", ""),
    ],
)
def test_a_unit_that_a_quantity_cannot_have_tells_another(heading: str, channel: str) -> None:
    assert heard(heading).channel == channel


def test_a_log_in_feet_with_the_newest_row_first(tmp_path: Path) -> None:
    """An American logger's: feet, feet a second and feet a second squared, month before day; the day is asked for."""
    passes = []
    for heading in (pi, 0.0):
        rows = log_of(Sea(0.05, 1.1, 900), 4.0, heading, 40.0, Logger(rate=50.0))
        feet = 0.3048
        since = pd.Timestamp("2026-07-14 15:00:00") + pd.to_timedelta(rows["t"], unit="s")
        table = pd.DataFrame(
            {
                "Date": since.dt.strftime("%m/%d/%Y %H:%M:%S.%f").str[:-3],
                "Height (ft)": (rows["h"] / (100.0 * feet)).round(4),
                "Pitch (deg)": rows["trim"].round(2),
                "AccZ (ft/s2)": (rows["az"] / feet).round(2),
                "Course": (rows["course"] % 360.0).round(1),
                "Speed (ft/s)": (rows["v"] / feet).round(2),
            }
        )
        passes.append(tmp_path / f"pass {len(passes)}.csv")
        table.iloc[::-1].to_csv(passes[-1], index=False)
    (tmp_path / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    said = begin(passes, None, tmp_path / "craft.yaml", "bearing: 0 deg")
    assert not any("no word tells its unit" in line or "gravity in no unit" in line for line in said)
    day = judge_day(load_mapping(tmp_path / "mapping.yaml"))
    assert [run.length for run in day.flying] == pytest.approx([37.0, 37.0], abs=1.5)
    assert [run.speed for run in day.flying] == pytest.approx([4.0, 4.0], abs=0.05)
    sea = day.sea()
    assert sea is not None
    assert sea.height.low < 0.05 < sea.height.high
