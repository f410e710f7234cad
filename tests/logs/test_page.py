"""The page of the logs: every word escaped, CSV that starts no formula, and the demo said to be one."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest

from sweep.logs.compare.comparison import Split
from sweep.logs.report import sentences
from sweep.logs.report.day import passes_of
from sweep.logs.sea.sea_state import Estimate
from sweep.report.log_summary import LOG_SUMMARY, PASS_HEADINGS, LogSummary, Pass, as_note, read_log_summary, summary_of
from sweep.report.pages.logs import account, change_table, log_table, of_another_boat, parts_of, write_log_summary
from sweep.report.publishing import render
from sweep.results.values import LOGS, wrong_shape
from tests.logs.made import MAPPING, head_pass, judged, write_day
from tests.site_results import log_account, results

HOSTILE = "=cmd|' /C calc'!A0 <script>alert(1)</script>"


def kept(folder: Path) -> LogSummary:
    """An account with hostile words wherever a mapping may have them."""
    text = MAPPING.replace("A test day", "Day <b>one</b>").replace(
        "{file: pass.csv}", '{file: pass.csv, setup: "=2+2 <i>x</i>"}'
    )
    told = account(judged(folder, text + "made_up: true\n", head_pass()), {}, "")
    numbers = dict.fromkeys((name for name in PASS_HEADINGS if name not in ("label", "setup")), 1.0)
    return dataclasses.replace(told, table=[Pass(label=HOSTILE, setup="=2+2", **numbers)])


def test_words_are_escaped_and_csv_starts_no_formula(tmp_path: Path) -> None:
    found = kept(tmp_path)
    files = render(results(tmp_path, leaders=0, areas=2), found)
    page = files["logs.html"]
    assert "<b>one</b>" not in page
    assert "<i>x</i>" not in page
    assert "<script>alert" not in page
    assert "made up" in page
    for line in files["data/passes.csv"].splitlines()[1:]:
        assert all(cell[:1] not in "=+-@" for cell in line.replace('"', "").split(",") if cell)
    assert 'href="logs.html"' in files["index.html"]
    assert "After the water" in files["sure.html"]


def test_kept_and_read_again(tmp_path: Path) -> None:
    assert read_log_summary(tmp_path) is None
    assert read_log_summary(None) is None
    (tmp_path / LOG_SUMMARY).write_text(json.dumps(as_note(kept(tmp_path))), encoding="utf-8")
    found = read_log_summary(tmp_path)
    assert found is not None
    assert found == kept(tmp_path)
    assert log_table(found)["label"].tolist() == [HOSTILE]


def test_the_site_s_tests_have_an_account_of_the_same_form(tmp_path: Path) -> None:
    real = account(judged(tmp_path), {}, "")
    assert log_account().run_headings == real.run_headings
    for each in (log_account(), real):
        assert wrong_shape(json.loads(json.dumps(as_note(each))), LOGS) == ""
        assert summary_of(as_note(each)) == each


def test_a_run_tells_in_a_campaign_s_words_how_it_met_the_waves(tmp_path: Path) -> None:
    waves = sentences.RUN_HEADINGS.index("waves")
    assert {row[waves] for row in sentences.run_rows(judged(tmp_path).runs)} == {"head, 180 deg"}


def test_a_set_up_stands_in_quotes(tmp_path: Path) -> None:
    mean, part = Estimate(0.02, 0.018, 0.022), Estimate(0.0, -0.001, 0.001)
    found = Split("gain up", "gain up, 2", (mean, mean), 0.001, part, part, part, 0.1, (2, 2), "worse", None, True, "")
    assert any("with “gain up, 2”: that is worse" in sentence for sentence in sentences.split_sentences(found, "sensed_error"))


def test_the_parts_of_water_and_set_up_multiply_to_the_difference(tmp_path: Path) -> None:
    """4 cm, then 5: 20 % more by the set-up in one sea, so 5 / 4 / 1.2 by the water; and back again from the file."""
    mean, later, part = Estimate(0.04, 0.03, 0.05), Estimate(0.05, 0.04, 0.06), Estimate(0.0, -0.001, 0.001)
    more = Estimate(0.2, 0.0, 0.44)
    found = Split("a", "b", (mean, later), -0.01, part, part, more, 0.1, (2, 2), "worse", None, True, "")
    water, setup = parts_of(found)
    assert water == pytest.approx((1.25 / 1.2, 1.25 / 1.44, 1.25))
    assert setup == pytest.approx((1.2, 1.0, 1.44))
    assert change_table(log_account())["part"].tolist() == ["the water", "the set-up"] * 2
    without = {name: value for name, value in as_note(log_account()).items() if name != "changes"}
    assert wrong_shape(json.loads(json.dumps(without)), LOGS) == ""
    assert summary_of(without).changes == []
    files = render(results(tmp_path, leaders=0, areas=2), log_account())
    assert "changes-chart" in files["logs.html"]
    assert files["data/changes.csv"].count("the set-up") == 2


def test_every_sea_of_the_page_has_its_interval(tmp_path: Path) -> None:
    day = judged(tmp_path)
    found = account(day, {}, "")
    assert len(passes_of(day)[0]) == 1
    assert " to " in found.sea[0]
    assert found.runs[0][6].count(" to ") == 2


@pytest.mark.parametrize("word", ["read", "sea"])
def test_the_command_says_it(word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from sweep.cli import main
    from tests.logs.made import write_day

    assert main(["log", word, str(write_day(tmp_path, MAPPING + "made_up: true\n"))]) == 0
    told = capsys.readouterr()
    assert "made up" in told.out
    assert "pass.csv" in told.out
    assert "read 100 %" in told.err
    assert "Nothing looks wrong." in told.out


def test_the_command_refuses_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from sweep.cli import main
    from tests.logs.made import write_day

    path = str(write_day(tmp_path))
    assert main(["log", "compare", path]) == 2
    assert "one set-up only" in capsys.readouterr().err
    assert main(["log", "fit", path, "--numbers", "weight"]) == 2
    assert "wanted numbers of lift" in capsys.readouterr().err


def test_logs_of_another_boat_are_said_to_be_so(tmp_path: Path) -> None:
    """First on the page and on the terminal; of one boat, however its name is spaced, nothing is said."""
    (tmp_path / "site").mkdir()
    mapping, said = write_day(tmp_path), []
    write_log_summary(tmp_path / "site", mapping, "Lookout", said.append)
    found = read_log_summary(tmp_path / "site")
    assert found is not None
    assert found.result[0] == found.doubts[0] == said[-1]
    assert "These logs are of “Courier” by its craft file, and the designs of this site are of “Lookout”" in said[-1]
    write_log_summary(tmp_path / "site", mapping, " courier", said.append)
    found = read_log_summary(tmp_path / "site")
    assert found is not None
    assert not any("another" in sentence or "These logs are of" in sentence for sentence in found.result + found.doubts)
    assert of_another_boat("Courier", "Courier mark two")
