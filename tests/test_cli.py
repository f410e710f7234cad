import contextlib
import io
import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from sweep import cli
from sweep.results.store import read_table
from tests.test_workflow import CRAFT, SMALL, contents

ROOT = Path(__file__).parent.parent
QUICK = ROOT / "configs" / "quick.yaml"
VERBS = ("check", "run", "rank", "publish", "fly", "code", "new", "explain", "log")


@pytest.fixture
def small(tmp_path, monkeypatch):
    """A small campaign's path, with the work done in an empty folder."""
    path = tmp_path / "small.yaml"
    path.write_text(SMALL.format(craft=CRAFT))
    monkeypatch.chdir(tmp_path)
    return path


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """A run in a folder of its own: that folder, what was printed, and what was said besides."""
    place, out, err = tmp_path_factory.mktemp("ran"), io.StringIO(), io.StringIO()
    path = place / "small.yaml"
    path.write_text(SMALL.format(craft=CRAFT))
    with contextlib.chdir(place), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        assert cli.main(["run", str(path), "--workers", "1"]) == 0
    return place, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def results(ran):
    return ran[0] / "results" / "small"


def command(*arguments, **options):
    return subprocess.Popen(
        [sys.executable, "-m", "sweep", *map(str, arguments)], env=os.environ | {"PYTHONPATH": str(ROOT)}, **options
    )


def verbs():
    (subparsers,) = (action for action in cli.build_parser()._actions if action.dest == "verb")
    return subparsers


def test_every_verb_has_help():
    assert tuple(verbs().choices) == VERBS
    assert {action.dest for action in verbs()._choices_actions if action.help} == set(VERBS)


@pytest.mark.parametrize("verb", VERBS)
def test_every_option_has_help(verb):
    assert all(action.help for action in verbs().choices[verb]._actions)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_stands_in_the_readme(verb):
    assert f"foilsweep {verb}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_help_imports_nothing_heavy():
    code = "import sys, sweep.cli; sweep.cli.build_parser().format_help(); print([*sys.modules])"
    modules = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert "'sweep.cli'" in modules
    assert not any(f"'{heavy}'" in modules for heavy in ("numpy", "pandas", "numba", "pydantic", "scipy", "pyarrow"))


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["sail"],
        ["run"],
        ["run", "x.yaml", "--workers", "0"],
        ["run", "x.yaml", "--workers", "two"],
        ["fly", "x.yaml", "--design", "1"],
        ["fly", "x.yaml", "--design", "-1", "--condition", "0"],
        ["fly", "x.yaml", "--design", "1", "--condition", "0", "--rate", "0"],
    ],
)
def test_a_wrong_command_exits_with_2(arguments, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(arguments)
    assert stop.value.code == 2
    assert "usage: foilsweep" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "foilsweep new first --demo quick"),
        (["rnu", "x.yaml"], "'rnu' is no COMMAND; perhaps run"),
        (["lgo", "x.yaml"], "'lgo' is no COMMAND; perhaps log"),
        (["share"], "'share' is no COMMAND; wanted one of check, run, rank, publish, fly, code, new, explain, log"),
        (["log", "raed", "x.yaml"], "'raed' is no PART; perhaps read"),
        (["run", "x.yaml", "--workrs", "2"], "unknown: --workrs 2; perhaps --workers"),
        (["run", "x.yaml", "y.yaml"], "found 'y.yaml' beside 'x.yaml'"),
    ],
)
def test_a_misspelt_command_is_told_the_nearest(arguments, told, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(arguments)
    assert stop.value.code == 2
    said = capsys.readouterr().err
    assert told in " ".join(said.split())
    assert not arguments or "usage: foilsweep" in said


def test_an_unknown_option_shows_the_usage_of_its_own_command(capsys):
    with pytest.raises(SystemExit):
        cli.main(["run", "x.yaml", "--workrs", "2"])
    assert "usage: foilsweep run [-h] [--out DIR]" in capsys.readouterr().err


def test_check_says_what_it_would_take_and_writes_nothing(small, capsys):
    assert cli.main(["check", str(small)]) == 0
    said = capsys.readouterr().out
    assert "5 designs (0 is the base craft), 2 conditions, 2 replicates: 20 flights of 4 s, " in said
    assert "80 s of simulated time in all." in said
    assert "x real time" in said
    assert "Base craft Courier: 3.2 kg" in said
    assert "At 4 m/s it trims" in said
    assert list(small.parent.iterdir()) == [small]


def test_check_says_that_a_craft_cannot_fly(small, capsys):
    small.write_text(SMALL.format(craft=CRAFT).replace("speeds: [4 m/s]", "speeds: [1 m/s]"))
    assert cli.main(["check", str(small)]) == 0
    assert "At 1 m/s it has no trim: lift is short" in capsys.readouterr().out


@pytest.mark.parametrize("verb", ["check", "run"])
def test_every_mistake_is_told_and_nothing_written(small, capsys, verb):
    small.write_text(SMALL.format(craft=CRAFT).replace("4 m/s", "4").replace("pitch_rms", "pitch_rsm"))
    assert cli.main([verb, str(small)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "small.yaml:9:" in told.err
    assert "pitch_rsm" in told.err
    assert "Traceback" not in told.err
    assert list(small.parent.iterdir()) == [small]


def test_a_campaign_that_is_not_there_is_wrong_input(small, capsys):
    assert cli.main(["run", "nowhere.yaml"]) == 2
    assert "nowhere.yaml" in capsys.readouterr().err


def test_run_goes_to_results_and_says_where_the_site_is(ran):
    place, out, err = ran
    site = Path("results/small/site/index.html")
    assert (place / "results/small/manifest.json").exists()
    assert (place / site).exists()
    assert out.splitlines()[-1] == f"Site: {site}"
    assert "strut height, cm" in out
    assert "20 of 20 flights (100 %)" in err


def test_a_changed_campaign_over_old_flights_is_wrong_input(results, small, capsys):
    small.write_text(SMALL.format(craft=CRAFT).replace("length: 4 s", "length: 5 s"))
    before = contents(results)
    assert cli.main(["run", str(small), "--out", str(results)]) == 2
    assert "flight.length: was 4 s, is 5 s" in capsys.readouterr().err
    assert contents(results) == before


def test_rank_prints_the_standings(results, capsys):
    assert cli.main(["rank", str(results)]) == 0
    answer, table, after = capsys.readouterr().out.split("\n\n")
    assert answer.startswith("Design ")
    assert len(table.splitlines()) == 6
    assert after == f"To write its site with these standings: foilsweep publish {results}\n"


@pytest.mark.usefixtures("without_design_pages")
def test_publish_ranks_again_by_a_changed_limit(results, capsys, tmp_path):
    results = Path(shutil.copytree(results, tmp_path / "small"))
    campaign = results / "campaign.yaml"
    campaign.write_text(
        campaign.read_text().replace("limits: {touchdowns: 60 /min, upsets: 80 %}", "limits: {touchdowns: 0.01 /min}")
    )
    assert cli.main(["publish", str(results)]) == 0
    assert "The standings were made with other scores, limits or names: ranking again." in capsys.readouterr().err
    assert "upsets: at most" not in (results / "site" / "index.html").read_text()
    assert set(read_table(results, "limits")["response"]) == {"touchdowns"}
    assert cli.main(["publish", str(results)]) == 0
    assert "ranking again" not in capsys.readouterr().err


def test_rank_writes_csv(results, capsys, tmp_path):
    assert cli.main(["rank", str(results), "--csv", "-"]) == 0
    printed = capsys.readouterr().out
    assert cli.main(["rank", str(results), "--csv", str(tmp_path / "table.csv")]) == 0
    assert (tmp_path / "table.csv").read_bytes().decode() == printed
    assert len(pd.read_csv(tmp_path / "table.csv")) == 5


def test_publish_writes_the_same_site_again(results, capsys):
    pages = {path: path.read_bytes() for path in (results / "site").rglob("*") if path.is_file()}
    (results / "site" / "index.html").unlink()
    assert cli.main(["publish", str(results), "--one-file"]) == 0
    said = [f"Site: {results / 'site' / 'index.html'}", f"One file: {results / 'site.html'}"]
    assert capsys.readouterr().out.splitlines() == said
    assert {path: path.read_bytes() for path in (results / "site").rglob("*") if path.is_file()} == pages
    assert "Card for the water" in (results / "site.html").read_text(encoding="utf-8")
    (results / "site.html").unlink()


FLY = ("--design", "2", "--condition", "chop, head, 4 m/s")


def test_fly_tells_its_flight_and_writes_it(small, capsys):
    assert cli.main(["fly", str(small), *FLY, "--replicate", "1", "--rate", "10"]) == 0
    told = capsys.readouterr().out.splitlines()
    folder = Path("results/small-flights/design-2-condition-0-replicate-1")
    assert told[0] == "Design 2 in chop, head, 4 m/s, replicate 1: flew to the end."
    assert told[-2:] == [f"History: {folder / 'data' / 'ride-2.csv'}", f"Page: {folder / 'index.html'}"]
    assert len(pd.read_csv(folder / "data" / "ride-2.csv")) == 40
    assert (folder / "index.html").exists()


@pytest.mark.parametrize("wrong", [("--condition", "chop, beam"), ("--design", "5")])
def test_fly_takes_only_what_the_campaign_has(small, capsys, wrong):
    arguments = dict(zip(FLY[::2], FLY[1::2], strict=True)) | dict([wrong])
    assert cli.main(["fly", str(small), *(word for pair in arguments.items() for word in pair)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "of this campaign" in told.err
    assert list(small.parent.iterdir()) == [small]


def test_fly_writes_nothing_for_a_flight_that_cannot_start(small, capsys):
    small.write_text(SMALL.format(craft=CRAFT).replace("speeds: [4 m/s]", "speeds: [1 m/s]"))
    assert cli.main(["fly", str(small), "--design", "0", "--condition", "0"]) == 0
    _, why = capsys.readouterr().out.split("could not start: no trim within foil travel and thrust at this speed.\n")
    assert why.startswith("At 1 m/s lift is short: ")
    assert list(small.parent.iterdir()) == [small]


@pytest.mark.parametrize("verb", ["rank", "publish"])
def test_a_folder_without_results_is_told(verb, tmp_path, capsys):
    assert cli.main([verb, str(tmp_path)]) == 1
    assert f"{tmp_path} has no manifest.json; wanted the results folder of a run." in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert cli.main([verb, str(tmp_path / "nowhere")]) == 1
    assert "nowhere does not exist; wanted the results folder" in capsys.readouterr().err
    assert cli.main([verb, str(CRAFT)]) == 1
    assert "courier.yaml is a file; wanted the results folder" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_failure_of_the_disk_is_told(small, capsys):
    (small.parent / "results").write_text("a file where the folder should be")
    assert cli.main(["run", str(small)]) == 2
    assert "--out: found the file 'results'" in capsys.readouterr().err


def test_an_error_of_the_program_is_not_hidden(monkeypatch):
    monkeypatch.setitem(cli.ACTIONS, "publish", lambda asked: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        cli.main(["publish", "x"])


@pytest.mark.parametrize("where", ["at work", "in telling an error"])
def test_an_interrupt_is_told_wherever_it_comes(monkeypatch, capsys, tmp_path, where):
    def interrupted(_):
        raise KeyboardInterrupt

    if where == "at work":
        monkeypatch.setitem(cli.ACTIONS, "publish", interrupted)
    else:
        monkeypatch.setattr(cli, "_explain", interrupted)
    assert cli.main(["publish", str(tmp_path)]) == 130
    assert capsys.readouterr().err == "\nInterrupted.\n"


def long_campaign(folder):
    """A campaign of a few seconds on one worker."""
    path = folder / "long.yaml"
    longer = SMALL.replace("length: 4 s", "length: 15 s").replace("  replicates: 2\n", "  replicates: 10\n")
    path.write_text(longer.format(craft=CRAFT))
    return path


def started(path, out):
    """A run that has just kept its first shard."""
    process = command("run", path, "--out", out, "--workers", 1, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    while process.poll() is None and not (out / "flights" / "part-00000.parquet").exists():
        time.sleep(0.005)
    return process


@pytest.mark.usefixtures("unpublished")
def test_an_interrupted_run_says_how_to_go_on(tmp_path):
    path, folder = long_campaign(tmp_path), tmp_path / "results"
    with started(path, folder) as process:
        process.send_signal(signal.SIGINT)
        told = process.communicate()[1]
    assert process.returncode == 130
    assert told.splitlines()[-1] == "Interrupted. What has been flown is kept: the same command goes on from there."
    assert "Warning" not in told
    assert cli.main(["run", str(path), "--out", str(folder)]) == 0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["check", "one.yaml", "two.yaml"], "found 'two.yaml' beside 'one.yaml'; wanted one CAMPAIGN at a time"),
        (["check", "-"], "-: found the standard input, wanted a YAML file: save what comes from there, and name that file"),
        (
            ["run", str(QUICK), "--out", str(QUICK)],
            f"--out: found the file {str(QUICK)!r}, wanted a folder, or a name that is free",
        ),
        (["new", "there", "--demo", "qick"], "--demo: found 'qick', wanted a demo, perhaps quick"),
    ],
)
def test_a_slip_on_the_command_line_is_told_with_its_cure(arguments, told, capsys):
    with pytest.raises(SystemExit) as stopped:
        raise SystemExit(cli.main(arguments))
    assert stopped.value.code
    assert told in capsys.readouterr().err


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_closed_outputs_are_no_error(small, closed):
    command = f"{shlex.quote(sys.executable)} -m sweep check {shlex.quote(str(small))} {closed}"
    ended = subprocess.run(
        ["sh", "-c", command], cwd=small.parent, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True
    )
    assert ended.returncode == 0
    assert b"Traceback" not in ended.stderr


def test_options_are_written_out(small, capsys):
    with pytest.raises(SystemExit):
        cli.main(["rank", str(small.parent), "--cs", "-"])
    assert "unknown: --cs" in capsys.readouterr().err


def test_sentences_break_where_the_terminal_ends(small, capsys, monkeypatch):
    monkeypatch.setattr(cli, "_width", lambda: 70)
    assert cli.main(["check", str(small)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in said if not line.startswith(" ")) <= 70
