"""The command line: the only place that prints or exits.

Exit codes: 0 done, 1 it failed, 2 the input is wrong, 130 interrupted.
"""

from __future__ import annotations

import argparse
import errno
import gc
import io
import os
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sweep.arguments import build_parser
from sweep.interrupt import stopped_soon
from sweep.words.columns import fitted
from sweep.words.plain_text import tell

DONE, FAILED, WRONG_INPUT, INTERRUPTED = 0, 1, 2, 130
"""Exit codes: POSIX has 128 + 2 for an interrupt; 2 for wrong input is common practice, no source."""


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
        with stopped_soon(told, INTERRUPTED):
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


def _act(asked: argparse.Namespace) -> int:
    try:
        ACTIONS[asked.verb](asked)
        sys.stdout.flush()
    except Exception as error:
        if _is_unread(error):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return DONE
        code = _explain(error)
        if getattr(asked, "json", False):
            from sweep.report.objects import error_object

            _tell_object(asked, error_object(error, _words(error)), code)
        return code
    return DONE


def _is_unread(error: Exception) -> bool:
    """Whether the reader of the output, such as `head`, has had enough; Windows says that an argument is wrong."""
    on_windows = sys.platform == "win32" and isinstance(error, OSError) and error.errno == errno.EINVAL
    return isinstance(error, BrokenPipeError) or (on_windows and getattr(error, "filename", None) is None)


def _tell_object(asked: argparse.Namespace, said: Mapping[str, Any], code: int = DONE) -> None:
    """The object of `--json`."""
    from sweep.words.objects import object_text

    tell(object_text(" ".join(filter(None, [asked.verb, getattr(asked, "part", None)])), code, said))


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


def _new(asked: argparse.Namespace) -> None:
    from sweep.starter.new import copy_demo, new

    if asked.demo is not None:
        copy_demo(asked.folder, asked.demo, tell)
    else:
        new(asked.folder, asked.answers, input, tell)


def _explain_word(asked: argparse.Namespace) -> None:
    import json

    from sweep.campaign.schema import schema_of
    from sweep.reference.explain import USUAL_WIDTH, contents, explain
    from sweep.reference.keys import FILES

    if asked.schema:
        tell(json.dumps(schema_of(FILES[asked.schema]), indent=2))
        return
    if asked.pages:
        from sweep.report.reference_pages import write_reference

        tell(f"Reference: {write_reference(asked.pages)}")
        return
    width = _width() or USUAL_WIDTH
    tell("\n".join(explain(asked.word, width) if asked.word else contents(width)))


def _log(asked: argparse.Namespace) -> None:
    {"begin": _log_begin, "demo": _log_demo}.get(asked.part, _log_judged)(asked)


def _log_judged(asked: argparse.Namespace) -> None:
    from sweep.logs.report import commands

    def say(text: str) -> None:
        tell(text, sys.stderr)

    found: dict[str, Any] = {}
    if asked.part == "fit":
        lines = commands.fit(asked.mapping, asked.numbers, asked.out, say, found.update)
    elif asked.part == "compare":
        lines = commands.compare(asked.mapping, say, asked.score, found.update)
    else:
        lines = getattr(commands, asked.part)(asked.mapping, say, found.update)
    if asked.json:
        _tell_object(asked, {"sentences": lines, **found})
    else:
        tell("\n".join(_in_width(lines)))


def _log_begin(asked: argparse.Namespace) -> None:
    from sweep.logs.begin.command import begin

    tell("\n".join(_in_width(begin(asked.files, asked.out, asked.craft, asked.waves))))


def _log_demo(asked: argparse.Namespace) -> None:
    from sweep.logs.report.demo import write_demo

    tell(f"Mapping: {write_demo(asked.folder, tell)}")


def _check(asked: argparse.Namespace) -> None:
    gc.disable()  # it ends before that pays
    try:
        from sweep.campaign.campaign import load_campaign
        from sweep.own.permit import told
        from sweep.preflight.forecast import preview

        campaign = load_campaign(asked.campaign)
        said = [*preview(campaign), *told(campaign)]
        if asked.json:
            from sweep.report.objects import forecast_object

            _tell_object(asked, forecast_object(campaign, said))
        else:
            tell("\n".join(_in_width(said)))
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
    if in_the_way := [each for each in (folder, *folder.parents) if each.exists() and not each.is_dir()]:
        raise CampaignError(
            [Problem("--out", 0, 0, "", f"the file {str(in_the_way[0])!r}", "a folder, or a name that is free")]
        )

    from sweep.flying.progress import Progress, Watcher
    from sweep.own.permit import refuse_unasked, run_code
    from sweep.preflight.forecast import doubts
    from sweep.report.headline import result
    from sweep.report.terminal import builds_text, standings_text
    from sweep.workflow import run

    if asked.run_code:
        run_code(campaign)
    refuse_unasked(campaign)
    watcher = Watcher() if asked.quiet else Progress(sys.stderr)
    watcher.say("Checking the designs in trim, before anything flies.")  # the first time this takes a while
    for doubt in doubts(campaign):
        watcher.say(doubt)
    results = run(campaign, folder, asked.workers, watcher, asked.cluster, begun)
    if asked.json:
        from sweep.report.objects import results_object

        _tell_object(asked, results_object(results, folder, site=True))
        return
    width = _width()
    table = standings_text(results.campaign, results.designs, results.standings, width)
    tell("\n".join(["", *_in_width(result(results)), "", table, ""]))
    if boats := builds_text(results, width):
        tell(f"{boats}\n")
    tell(f"Site: {folder / 'site' / 'index.html'}")


def _width() -> int | None:
    """Columns of the terminal that is written to; None where none is."""
    import shutil

    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def _in_width(lines: Iterable[str]) -> Iterable[str]:
    """Sentences and tables that fit the terminal; elsewhere as they are."""
    width = _width()
    return fitted(lines, width) if width else lines


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
    if asked.json:
        from sweep.report.objects import results_object

        _tell_object(asked, results_object(results, asked.folder, site=False))
    elif asked.csv is None:
        from sweep.report.headline import result

        width = _width()
        boats = builds_text(results, width)
        told = ["\n".join(_in_width(result(results))), standings_text(results.campaign, designs, standings, width), boats]
        tell("\n\n".join(filter(None, told)))
        if kept:
            tell("\n" + "\n".join(_in_width([f"To write its site with these standings: foilsweep publish {asked.folder}"])))
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
    from sweep.flying.own_flights import heard
    from sweep.model.quantities import NO_TRIM
    from sweep.own.permit import run_code
    from sweep.report.single_flight import choose, flight_text, fly_chosen, load_to_fly, short_of, table_path, write_flight

    campaign = load_to_fly(asked.campaign, Path("results"))
    chosen = choose(campaign, asked.design, asked.condition, asked.replicate)
    if asked.run_code:
        run_code(campaign)
    flight = fly_chosen(campaign, chosen, asked.rate)
    tell("\n".join([flight_text(chosen, flight), *(f"Own code failed: {clause}." for clause in heard())]))
    if flight.history.empty:
        if flight.status == NO_TRIM:
            tell(short_of(campaign, chosen))
        return
    name = f"design-{chosen.design}-condition-{chosen.condition.index}-replicate-{chosen.replicate}"
    folder = asked.out or Path("results") / f"{campaign.name}-flights" / name
    write_flight(campaign, chosen, flight, folder)
    tell(f"History: {folder / table_path(chosen)}\nPage: {folder / 'index.html'}")


def _code(asked: argparse.Namespace) -> None:
    from sweep.campaign.designs import craft_of, row_of
    from sweep.export.code import code_files, write_files, write_zip
    from sweep.own.board import board_files
    from sweep.report.single_flight import load_to_fly
    from sweep.words.phrases import called

    campaign = load_to_fly(asked.campaign, Path("results"))
    folder = asked.out or Path("results") / f"{campaign.name}-code" / f"design-{asked.design}"
    craft = craft_of(campaign, row_of(campaign, asked.design))
    made = board_files if craft.control.traits.own else code_files
    files = made(campaign, craft, called(asked.design))
    if folder.suffix == ".zip":
        write_zip(files, folder)
    else:
        write_files(files, folder)
    tell(f"Code: {', '.join(files)} in {folder}")
    tell("Read README.md there before anything moves. Propellers off.")


ACTIONS: dict[str, Callable[[argparse.Namespace], None]] = {
    "check": _check,
    "run": _run,
    "rank": _rank,
    "publish": _publish,
    "fly": _fly,
    "code": _code,
    "new": _new,
    "explain": _explain_word,
    "log": _log,
}
"""What each command does."""
