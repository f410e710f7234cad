"""The command line: the only place that prints or exits.

Exit codes: 0 done, 1 it failed, 2 the input is wrong, 130 interrupted.
"""

from __future__ import annotations

import argparse
import difflib
import gc
import io
import os
import signal
import socket
import sys
import textwrap
import threading
import time
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sweep.model.history import RECORD_RATE
from sweep.version import __version__
from sweep.words.plain_text import tell

DONE, FAILED, WRONG_INPUT, INTERRUPTED = 0, 1, 2, 130
"""Exit codes: POSIX has 128 + 2 for an interrupt; 2 for wrong input is common practice, no source."""
FIRST_STEPS = (
    "To begin: 'foilsweep new my-boat' asks for your own boat's measurements; 'foilsweep new first --demo quick' writes a demo "
    "into the folder 'first', and 'foilsweep run first/quick.yaml' flies it. 'foilsweep COMMAND --help' says more about each."
)
FILES = ("craft", "campaign", "mapping")
"""Files that have a schema."""
PATIENCE = 1.0
"""Seconds from Ctrl-C in which a command may end by itself (judgement)."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code."""
    _spare_the_processor()
    _open_what_is_closed()
    parser = build_parser()
    given = sys.argv[1:] if arguments is None else arguments
    if not given:
        parser.print_help(sys.stderr)
        raise SystemExit(WRONG_INPUT)
    asked = parser.parse_args(given)
    warnings.filterwarnings("ignore", ".*tasks which were still being processed")  # joblib, when it is interrupted
    kept = {"run": "has been flown", "new": "was answered"}.get(asked.verb)
    told = "\nInterrupted." + (f" What {kept} is kept: the same command goes on from there." if kept else "")
    try:
        with _stopped_soon(told):
            return _act(asked)
    except KeyboardInterrupt:
        tell(told, sys.stderr)
        return INTERRUPTED


def command() -> None:
    """`foilsweep` as a program. What `check` has imported is not taken apart at its end, which takes a tenth of its time."""
    code = main()
    if sys.argv[1:2] == ["check"]:  # it has no workers and no files to close, and what it says is flushed
        sys.stderr.flush()
        os._exit(code)
    sys.exit(code)


def _spare_the_processor() -> None:
    """Threads of linear algebra wait busily, and its matrices here are small; what a command makes mostly lives to its end.

    Together a third of the time of a short command.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(100_000, 20, 100)


def _open_what_is_closed() -> None:
    """A program that was begun without an output, or without one for errors, has nobody to tell."""
    sys.stdout, sys.stderr = sys.stdout or io.StringIO(), sys.stderr or io.StringIO()


@contextmanager
def _stopped_soon(told: str) -> Iterator[None]:
    """Within two seconds of Ctrl-C the program ends, even where machine code is at work that no exception reaches.

    It may end anywhere: what a run has kept is whole on the disk at any moment. The watch outlives the command if Ctrl-C was
    given, since the end of the interpreter waits for such work too.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard, wake = socket.socketpair()
    wake.setblocking(False)
    asked, ended, said = threading.Event(), threading.Event(), threading.Event()

    def wait() -> None:
        while (signs := heard.recv(1)) and signs[0] != signal.SIGINT:
            pass
        if signs:
            asked.set()
            if not ended.wait(PATIENCE):
                os.write(2, b"" if said.is_set() else f"{told}\n".encode())
                os._exit(INTERRUPTED)

    before = signal.set_wakeup_fd(wake.fileno(), warn_on_full_buffer=False)
    watch = threading.Thread(target=wait, daemon=True)
    watch.start()
    try:
        yield
    except KeyboardInterrupt:
        said.set()
        raise
    finally:
        signal.set_wakeup_fd(before)
        if not asked.is_set():
            ended.set()
            wake.close()
            watch.join()
            heard.close()


def _act(asked: argparse.Namespace) -> int:
    try:
        asked.action(asked)
        sys.stdout.flush()
    except BrokenPipeError:  # the reader, such as `head`, has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except Exception as error:
        return _explain(error)
    return DONE


def _explain(error: Exception) -> int:
    """Tell what went wrong, without a traceback where the cause lies outside the program."""
    from sweep.campaign.text.problems import CampaignError, ChoiceError
    from sweep.flying.memory import is_of_memory
    from sweep.results.store import ChangedCampaignError, StoreError

    if not isinstance(error, CampaignError | ChoiceError | StoreError | OSError) and not is_of_memory(error):
        raise error
    tell(_words(error), sys.stderr)
    return WRONG_INPUT if isinstance(error, CampaignError | ChoiceError | ChangedCampaignError) else FAILED


def _words(error: Exception) -> str:
    from sweep.flying.memory import is_of_memory

    if is_of_memory(error):
        return (
            f"Not enough memory{f' ({error})' if str(error) else ''}. Close other programs, or take fewer --workers; "
            "what has been flown is kept, and the same command goes on from there."
        )
    if isinstance(error, OSError) and error.filename is not None:
        return f"{error.filename}: {error.strerror}."
    return str(error)


class _Parser(argparse.ArgumentParser):
    """Refuses what it does not know with the usage of the command that was meant, and the nearest words.

    Options are written out: what is short for one today may be short for two tomorrow.
    """

    def __init__(self, **given: Any) -> None:
        super().__init__(allow_abbrev=False, **given)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        asked, unknown = super().parse_known_args(args, namespace)
        if unknown:
            known = [text for action in self._actions for text in action.option_strings]
            near = difflib.get_close_matches(unknown[0].partition("=")[0], known, n=1)
            if not unknown[0].startswith("-") and "campaign" in vars(asked):
                self.error(f"found {unknown[0]!r} beside {str(asked.campaign)!r}; wanted one CAMPAIGN at a time")
            self.error(f"unknown: {' '.join(unknown)}" + (f"; perhaps {near[0]}" if near else ""))
        return asked, unknown

    def _print_message(self, message: str, file: Any = None) -> None:
        tell(message, file or sys.stderr, end="")

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        try:
            super()._check_value(action, value)
        except argparse.ArgumentError as error:
            known = list(action.choices or ())
            near = difflib.get_close_matches(str(value), known, n=1)
            wanted = f"perhaps {near[0]}" if near else f"wanted one of {', '.join(known)}"
            raise argparse.ArgumentError(None, f"{value!r} is no {action.metavar}; {wanted}") from error


def build_parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    parser = _Parser(
        prog="foilsweep",
        description="Sweep designs of small hydrofoil boats, rank them, and say how sure that is.",
        epilog=FIRST_STEPS,
    )
    parser.add_argument("--version", action="version", version=f"foilsweep {__version__}")
    verbs = parser.add_subparsers(dest="verb", metavar="COMMAND", required=True)

    check = verbs.add_parser("check", help="check a campaign and forecast its time; writes nothing")
    check.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML)")
    check.set_defaults(action=_check)

    run = verbs.add_parser("run", help="fly a campaign, rank its designs and write the site; continues where it was stopped")
    run.add_argument(
        "campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder, to fly the campaign in it"
    )
    run.add_argument("--out", type=Path, metavar="DIR", help="results folder (results/NAME by default)")
    where = run.add_mutually_exclusive_group()
    where.add_argument("--workers", type=_positive, metavar="N", help="threads that fly (all processors by default)")
    where.add_argument("--cluster", metavar="ADDRESS", help="fly on a Dask cluster instead, such as tcp://host:8786")
    run.add_argument("--quiet", action="store_true", help="say nothing until it is done")
    run.set_defaults(action=_run)

    rank = verbs.add_parser("rank", help="rank a results folder again, by the scores and limits in its campaign.yaml")
    rank.add_argument("folder", type=Path, metavar="DIR", help="results folder")
    rank.add_argument("--csv", metavar="FILE", help="write all designs as CSV instead; - for the terminal")
    rank.set_defaults(action=_rank)

    publish = verbs.add_parser("publish", help="write the site of a results folder again")
    publish.add_argument("folder", type=Path, metavar="DIR", help="results folder")
    publish.add_argument(
        "--logs",
        type=Path,
        metavar="MAPPING",
        help="mapping file of logs from the water: adds a page that compares them with the model",
    )
    publish.add_argument(
        "--former", type=Path, metavar="DIR", help="results folder from before a change: adds a page that compares both"
    )
    publish.add_argument("--zip", action="store_true", help="also write the site as one file, DIR/site.zip")
    publish.add_argument(
        "--one-file", action="store_true", help="also write the first page and the cards as one page to send, DIR/site.html"
    )
    publish.set_defaults(action=_publish)

    fly = verbs.add_parser("fly", help="fly one flight of a campaign and write its time history, as CSV and as a page")
    fly.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder")
    fly.add_argument("--design", type=_whole, required=True, metavar="N", help="number of the design; 0 is the base craft")
    fly.add_argument("--condition", required=True, metavar="NAME", help="name of the condition, or its number")
    fly.add_argument("--replicate", type=_whole, default=0, metavar="R", help="which draw of the waves (0 by default)")
    fly.add_argument(
        "--rate", type=_positive, default=RECORD_RATE, metavar="HZ", help=f"rows a second ({RECORD_RATE:g} by default)"
    )
    fly.add_argument("--out", type=Path, metavar="DIR", help="folder (results/NAME-flights/... by default)")
    fly.set_defaults(action=_fly)

    code = verbs.add_parser("code", help="write a design's control law as C for the boat's board, with vectors to check it by")
    code.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder")
    code.add_argument("--design", type=_whole, required=True, metavar="N", help="number of the design; 0 is the base craft")
    code.add_argument("--out", type=Path, metavar="DIR", help="folder (results/NAME-code/design-N by default)")
    code.set_defaults(action=_code)

    new = verbs.add_parser(
        "new",
        help="write a craft file and a campaign to start from: asks for ten measurements, and continues where it was stopped",
    )
    new.add_argument("folder", type=Path, nargs="?", default=Path(), metavar="DIR", help="folder to write to (here by default)")
    new.add_argument("--answers", type=Path, metavar="FILE", help="take the measurements from a YAML file instead of asking")
    new.add_argument("--demo", metavar="NAME", help="copy a shipped demo instead, such as courier-chop")
    new.set_defaults(action=_new)

    explain = verbs.add_parser("explain", help="say what a key of a file, a choice, a response or a unit means")
    explain.add_argument(
        "word", nargs="?", metavar="WORD", help="such as latency, foils.bow.area or broaches; all groups without"
    )
    explain.add_argument("--schema", choices=FILES, metavar="FILE", help=f"write the JSON Schema of a file: {', '.join(FILES)}")
    explain.set_defaults(action=_explain_word)

    _add_log(verbs.add_parser("log", help="after the water: read logs, estimate the sea, compare set-ups, fit the craft"))
    return parser


def _add_log(log: argparse.ArgumentParser) -> None:
    parts = log.add_subparsers(dest="part", metavar="PART", required=True, help="what to do with the logs")
    begin = parts.add_parser("begin", help="draft a mapping file from logs, with traces to confirm")
    begin.add_argument("files", type=Path, nargs="+", metavar="FILE", help="logs that are written alike")
    begin.add_argument("--out", type=Path, metavar="FILE", help="mapping file to write (mapping.yaml beside the first log)")
    begin.add_argument("--craft", type=Path, metavar="FILE", help="craft file of the boat")
    begin.add_argument("--waves", metavar="WAVES", help="where waves came from, as 'bearing: 240 deg' or 'heading: head'")
    begin.set_defaults(action=_log_begin)
    for name, said in (
        ("read", "read logs by a mapping file: the runs in them, and what looks wrong"),
        ("sea", "estimate the sea that the boat met, with intervals"),
        ("law", "replay the logged sensors through the control law: which gains, limits, filters, delay and signs flew"),
        ("compare", "compare set-ups: how much of a difference is the water, how much the set-up"),
        ("passes", "plan the passes to fly next, so that they show a difference"),
    ):
        part = parts.add_parser(name, help=said)
        part.add_argument("mapping", type=Path, metavar="MAPPING", help="mapping file (YAML)")
        part.set_defaults(action=_log)
        if name == "compare":
            part.add_argument("--score", type=Path, metavar="FILE", help="CSV to keep foretold beside measured in, over days")
    fit = parts.add_parser("fit", help="fit numbers of the craft to the logs, and write its file")
    fit.add_argument("mapping", type=Path, metavar="MAPPING", help="mapping file (YAML)")
    fit.add_argument("--numbers", metavar="NAMES", help="numbers to fit, such as lift,drag,range_lag,range_noise")
    fit.add_argument("--out", type=Path, metavar="FILE", help="craft file to write")
    fit.set_defaults(action=_log)
    demo = parts.add_parser("demo", help="write demo logs, made by the model, with their mapping file")
    demo.add_argument("folder", type=Path, metavar="DIR", help="folder to write to")
    demo.set_defaults(action=_log_demo)


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(f"found {text!r}, wanted a whole number from 0")
    return int(text)


def _positive(text: str) -> int:
    if (found := _whole(text)) < 1:
        raise argparse.ArgumentTypeError(f"found {text!r}, wanted a whole number from 1")
    return found


def _new(asked: argparse.Namespace) -> None:
    from sweep.starter.new import copy_demo, new

    if asked.demo is not None:
        copy_demo(asked.folder, asked.demo, tell)
    else:
        new(asked.folder, asked.answers, input, tell)


def _explain_word(asked: argparse.Namespace) -> None:
    import json

    from sweep.campaign.schema import campaign_schema, craft_schema
    from sweep.logs.read.schema import mapping_schema
    from sweep.reference.explain import USUAL_WIDTH, contents, explain

    if asked.schema:
        made = {"campaign": campaign_schema, "craft": craft_schema, "mapping": mapping_schema}[asked.schema]()
        tell(json.dumps(made, indent=2))
        return
    width = _width() or USUAL_WIDTH
    tell("\n".join(explain(asked.word, width) if asked.word else contents(width)))


def _log(asked: argparse.Namespace) -> None:
    from sweep.logs.report import commands

    def say(text: str) -> None:
        tell(text, sys.stderr)

    if asked.part == "fit":
        lines = commands.fit(asked.mapping, asked.numbers, asked.out, say)
    elif asked.part == "compare":
        lines = commands.compare(asked.mapping, say, asked.score)
    else:
        lines = getattr(commands, asked.part)(asked.mapping, say)
    tell("\n".join(lines))


def _log_begin(asked: argparse.Namespace) -> None:
    from sweep.logs.begin.command import begin

    tell("\n".join(begin(asked.files, asked.out, asked.craft, asked.waves)))


def _log_demo(asked: argparse.Namespace) -> None:
    from sweep.logs.report.demo import write_demo

    tell(f"Mapping: {write_demo(asked.folder, tell)}")


def _check(asked: argparse.Namespace) -> None:
    gc.disable()  # it ends before that pays
    try:
        from sweep.campaign.campaign import load_campaign
        from sweep.preflight.forecast import preview

        tell("\n".join(_in_width(preview(load_campaign(asked.campaign)))))
    finally:
        gc.enable()


def _run(asked: argparse.Namespace) -> None:
    begun = time.monotonic()
    from sweep.campaign.campaign import load_campaign
    from sweep.campaign.text.problems import CampaignError, Problem

    if asked.campaign.is_dir():
        from sweep.results.store import load_stored_campaign

        campaign, folder = load_stored_campaign(asked.campaign), asked.out or asked.campaign
    else:
        campaign = load_campaign(asked.campaign)
        folder = asked.out or Path("results") / campaign.name
    if folder.exists() and not folder.is_dir():
        raise CampaignError([Problem("--out", 0, 0, "", f"the file {str(folder)!r}", "a folder, or a name that is free")])

    from sweep.flying.progress import Progress, Watcher
    from sweep.preflight.forecast import doubts
    from sweep.report.headline import result
    from sweep.report.terminal import builds_text, standings_text
    from sweep.workflow import run

    watcher = Watcher() if asked.quiet else Progress(sys.stderr)
    watcher.say("Checking the designs in trim, before anything flies.")  # the first time this takes a while
    for doubt in doubts(campaign):
        watcher.say(doubt)
    results = run(campaign, folder, asked.workers, watcher, asked.cluster, begun)
    width = _width()
    table = standings_text(results.campaign, results.designs, results.standings, width)
    tell("\n".join(["", *_in_width(result(results)), "", table, ""]))
    if boats := builds_text(results.campaign, results.designs, results.builds, results.settings, width):
        tell(f"{boats}\n")
    tell(f"Site: {folder / 'site' / 'index.html'}")


def _width() -> int | None:
    """Columns of the terminal that is written to; None where none is."""
    import shutil

    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def _in_width(lines: Iterable[str]) -> Iterator[str]:
    """Sentences that break between words where the terminal ends; rows of tables, which begin with spaces, as they are."""
    width = _width()
    for line in lines:
        yield from textwrap.wrap(line, width) if width and line and not line.startswith(" ") else [line]


def _rank(asked: argparse.Namespace) -> None:
    from sweep.report.terminal import builds_text, standings_csv, standings_text
    from sweep.results.identity import cautions
    from sweep.results.rank_folder import rank_results

    results, kept = rank_results(asked.folder)
    if not kept:
        tell(f"{asked.folder} cannot be written to: these standings are printed, but not saved there.", sys.stderr)
    for caution in cautions(asked.folder, results.manifest, results.campaign, results.dropped):
        tell(caution, sys.stderr)
    standings, designs = results.standings, results.designs
    if asked.csv is None:
        from sweep.report.headline import result

        width = _width()
        boats = builds_text(results.campaign, designs, results.builds, results.settings, width)
        told = ["\n".join(_in_width(result(results))), standings_text(results.campaign, designs, standings, width), boats]
        tell("\n\n".join(filter(None, told)))
        if kept:
            tell(f"\nTo write its site with these standings: foilsweep publish {asked.folder}")
    elif asked.csv == "-":
        tell(standings_csv(designs, standings), end="")
    else:
        Path(asked.csv).write_text(standings_csv(designs, standings), encoding="utf-8", newline="")


def _publish(asked: argparse.Namespace) -> None:
    from sweep.report.publishing import publish_locked
    from sweep.results.store import load_flown, locked

    campaign, _, _ = load_flown(asked.folder)
    with locked(asked.folder):
        if asked.logs is not None:
            from sweep.report.pages.logs import write_log_summary

            write_log_summary(asked.folder, asked.logs, campaign.craft.name, lambda text: tell(text, sys.stderr))
        _rank_if_changed(asked.folder)
        tell(f"Site: {publish_locked(asked.folder, asked.zip, asked.former, asked.one_file) / 'index.html'}")
        if (asked.folder / "site.zip").exists():
            tell(f"Zip: {asked.folder / 'site.zip'}")
        if (asked.folder / "site.html").exists():
            tell(f"One file: {asked.folder / 'site.html'}")


def _rank_if_changed(folder: Path) -> None:
    """Rank again what is ranked by something else than the folder has now: a site would tell of the old beside the new."""
    from sweep.results.rank_folder import is_ranked, rank_locked

    if not is_ranked(folder):
        tell("The standings were made with other scores, limits or names: ranking again.", sys.stderr)
        rank_locked(folder)


def _fly(asked: argparse.Namespace) -> None:
    from sweep.report.single_flight import choose, flight_text, fly_chosen, load_to_fly, short_of, table_path, write_flight

    campaign = load_to_fly(asked.campaign, Path("results"))
    chosen = choose(campaign, asked.design, asked.condition, asked.replicate)
    flight = fly_chosen(campaign, chosen, asked.rate)
    tell(flight_text(chosen, flight))
    if flight.history.empty:
        tell(short_of(campaign, chosen))
        return
    name = f"design-{chosen.design}-condition-{chosen.condition.index}-replicate-{chosen.replicate}"
    folder = asked.out or Path("results") / f"{campaign.name}-flights" / name
    write_flight(campaign, chosen, flight, folder)
    tell(f"History: {folder / table_path(chosen)}\nPage: {folder / 'index.html'}")


def _code(asked: argparse.Namespace) -> None:
    from sweep.export.code import write_code
    from sweep.report.single_flight import load_to_fly

    campaign = load_to_fly(asked.campaign, Path("results"))
    folder = asked.out or Path("results") / f"{campaign.name}-code" / f"design-{asked.design}"
    written = write_code(campaign, asked.design, folder)
    tell(f"Code: {', '.join(path.name for path in written)} in {folder}")
    tell("Read README.md there before anything moves. Propellers off.")
