"""The command line: which commands there are, and what each is given."""

from __future__ import annotations

import argparse
import difflib
import sys
import textwrap
from pathlib import Path
from typing import Any, TypeAlias

from sweep.model.history import RECORD_RATE
from sweep.version import __version__
from sweep.words.plain_text import tell

FIRST_STEPS = (
    "To begin: 'foilsweep new my-boat' asks for your own boat's measurements; 'foilsweep new first --demo quick' writes a demo "
    "into the folder 'first', and 'foilsweep run first/quick.yaml' flies it. 'foilsweep COMMAND --help' says more about each."
)
EXAMPLES = {
    "check": ("check first/quick.yaml", "check my-boat/campaign.yaml --json"),
    "run": ("run first/quick.yaml", "run my-boat/campaign.yaml --out results/windy", "run results/windy"),
    "rank": ("rank results/quick", "rank results/quick --csv table.csv"),
    "publish": ("publish results/quick --zip", "publish results/after --former results/before"),
    "fly": ("fly first/quick.yaml --design 0 --condition 0", 'fly results/quick --design 3 --condition "chop, head, 4 m/s"'),
    "code": ("code results/quick --design 3 --out my-code",),
    "new": ("new my-boat", "new my-boat --answers tern.yaml", "new first --demo quick"),
    "explain": ("explain latency", "explain foils.bow.area", "explain --pages reference"),
    "log": ("log demo my-afternoon", "log read my-afternoon/afternoon.yaml"),
    "log begin": ("log begin pass-1.csv pass-2.csv --craft craft.yaml",),
    "log read": ("log read my-afternoon/afternoon.yaml",),
    "log sea": ("log sea my-afternoon/afternoon.yaml --json",),
    "log law": ("log law my-afternoon/afternoon.yaml",),
    "log compare": ("log compare my-afternoon/afternoon.yaml",),
    "log passes": ("log passes my-afternoon/afternoon.yaml",),
    "log fit": ("log fit my-afternoon/afternoon.yaml --out fitted.yaml",),
    "log demo": ("log demo my-afternoon",),
}
"""Of every command, as its help shows them."""
FILES = ("craft", "campaign", "mapping", "answers")
"""Files that have a schema."""


Commands: TypeAlias = "argparse._SubParsersAction[_Parser]"


def _examples(command: str) -> str:
    return "\n".join(["For example:", *(f"  foilsweep {each}" for each in EXAMPLES[command])])


class _Parser(argparse.ArgumentParser):
    """Refuses what it does not know with the usage of the command that was meant, and the nearest words.

    Options are written out: what is short for one today may be short for two tomorrow.
    """

    def __init__(self, **given: Any) -> None:
        super().__init__(allow_abbrev=False, formatter_class=argparse.RawDescriptionHelpFormatter, **given)

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
    """The commands and their options; what is asked for has the name of its command, `verb`, and of a part of it, `part`."""
    parser = _Parser(
        prog="foilsweep",
        description="Sweep designs of small hydrofoil boats, rank them, and say how sure that is.",
        epilog="\n".join(textwrap.wrap(FIRST_STEPS, 60)),
    )
    parser.add_argument("--version", action="version", version=f"foilsweep {__version__}")
    verbs = parser.add_subparsers(dest="verb", metavar="COMMAND", required=True)
    _add_sweep(verbs)
    _add_designs(verbs)
    _add_words(verbs)
    _add_log(
        verbs.add_parser(
            "log", help="after the water: read logs, estimate the sea, compare set-ups, fit the craft", epilog=_examples("log")
        )
    )
    return parser


def _add_sweep(verbs: Commands) -> None:
    """Of a whole campaign, and of its results."""
    check = verbs.add_parser("check", help="check a campaign and forecast its time; writes nothing", epilog=_examples("check"))
    check.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML)")

    _add_json(check)

    run = verbs.add_parser(
        "run",
        help="fly a campaign, rank its designs and write the site; continues where it was stopped",
        epilog=_examples("run"),
    )
    run.add_argument(
        "campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder, to fly the campaign in it"
    )
    run.add_argument("--out", type=Path, metavar="DIR", help="results folder (results/NAME by default)")
    where = run.add_mutually_exclusive_group()
    where.add_argument("--workers", type=_positive, metavar="N", help="threads that fly (all processors by default)")
    where.add_argument("--cluster", metavar="ADDRESS", help="fly on a Dask cluster instead, such as tcp://host:8786")
    run.add_argument("--quiet", action="store_true", help="say nothing until it is done")
    _add_json(run)
    _add_word(run)

    rank = verbs.add_parser(
        "rank", help="rank a results folder again, by the scores and limits in its campaign.yaml", epilog=_examples("rank")
    )
    rank.add_argument("folder", type=Path, metavar="DIR", help="results folder")
    how = rank.add_mutually_exclusive_group()
    how.add_argument("--csv", metavar="FILE", help="write all designs as CSV instead; - for the terminal")
    _add_json(how)

    publish = verbs.add_parser("publish", help="write the site of a results folder again", epilog=_examples("publish"))
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


def _add_designs(verbs: Commands) -> None:
    """Of one design."""
    fly = verbs.add_parser(
        "fly", help="fly one flight of a campaign and write its time history, as CSV and as a page", epilog=_examples("fly")
    )
    fly.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder")
    fly.add_argument("--design", type=_whole, required=True, metavar="N", help="number of the design; 0 is the base craft")
    fly.add_argument("--condition", required=True, metavar="NAME", help="name of the condition, or its number")
    fly.add_argument("--replicate", type=_whole, default=0, metavar="R", help="which draw of the waves (0 by default)")
    fly.add_argument(
        "--rate", type=_positive, default=RECORD_RATE, metavar="HZ", help=f"rows a second ({RECORD_RATE:g} by default)"
    )
    fly.add_argument("--out", type=Path, metavar="DIR", help="folder (results/NAME-flights/... by default)")
    _add_word(fly)

    code = verbs.add_parser(
        "code",
        help="write a design's control law as C for the boat's board, with vectors to check it by",
        epilog=_examples("code"),
    )
    code.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="campaign file (YAML), or a results folder")
    code.add_argument("--design", type=_whole, required=True, metavar="N", help="number of the design; 0 is the base craft")
    said = "folder, or a name that ends in .zip (results/NAME-code/design-N by default)"
    code.add_argument("--out", type=Path, metavar="DIR", help=said)


def _add_words(verbs: Commands) -> None:
    """To begin with, and to look up."""
    new = verbs.add_parser(
        "new",
        help="write a craft file and a campaign to start from: asks for ten measurements, and continues where it was stopped",
        epilog=_examples("new"),
    )
    new.add_argument("folder", type=Path, nargs="?", default=Path(), metavar="DIR", help="folder to write to (here by default)")
    new.add_argument("--answers", type=Path, metavar="FILE", help="take the measurements from a YAML file instead of asking")
    new.add_argument("--demo", metavar="NAME", help="copy a shipped demo instead, such as courier-chop")

    explain = verbs.add_parser(
        "explain", help="say what a key of a file, a choice, a response or a unit means", epilog=_examples("explain")
    )
    explain.add_argument(
        "word", nargs="?", metavar="WORD", help="such as latency, foils.bow.area or broaches; all groups without"
    )
    explain.add_argument("--pages", type=Path, metavar="DIR", help="write all of it as pages, to open without a network")
    explain.add_argument("--schema", choices=FILES, metavar="FILE", help=f"write the JSON Schema of a file: {', '.join(FILES)}")


def _add_json(command: argparse._ActionsContainer) -> None:
    said = "write one object on one line instead, for scripts; 'foilsweep explain json' lists its keys"
    command.add_argument("--json", action="store_true", help=said)


def _add_word(command: argparse.ArgumentParser) -> None:
    said = "compile and run the control code of the builder's own that the campaign names, as a program on this computer"
    command.add_argument("--run-code", action="store_true", help=said)


def _add_log(log: argparse.ArgumentParser) -> None:
    parts = log.add_subparsers(dest="part", metavar="PART", required=True, help="what to do with the logs")
    begin = parts.add_parser(
        "begin", help="draft a mapping file from logs, with traces to confirm", epilog=_examples("log begin")
    )
    begin.add_argument("files", type=Path, nargs="+", metavar="FILE", help="logs that are written alike")
    begin.add_argument("--out", type=Path, metavar="FILE", help="mapping file to write (mapping.yaml beside the first log)")
    begin.add_argument("--craft", type=Path, metavar="FILE", help="craft file of the boat")
    begin.add_argument("--waves", metavar="WAVES", help="where waves came from, as 'bearing: 240 deg' or 'heading: head'")
    for name, said in (
        ("read", "read logs by a mapping file: the runs in them, and what looks wrong"),
        ("sea", "estimate the sea that the boat met, with intervals"),
        ("law", "replay the logged sensors through the control law: which gains, limits, filters, delay and signs flew"),
        ("compare", "compare set-ups: how much of a difference is the water, how much the set-up"),
        ("passes", "plan the passes to fly next, so that they show a difference"),
    ):
        part = parts.add_parser(name, help=said, epilog=_examples(f"log {name}"))
        part.add_argument("mapping", type=Path, metavar="MAPPING", help="mapping file (YAML)")
        _add_json(part)
        if name == "compare":
            part.add_argument("--score", type=Path, metavar="FILE", help="CSV to keep foretold beside measured in, over days")
    fit = parts.add_parser("fit", help="fit numbers of the craft to the logs, and write its file", epilog=_examples("log fit"))
    fit.add_argument("mapping", type=Path, metavar="MAPPING", help="mapping file (YAML)")
    fit.add_argument("--numbers", metavar="NAMES", help="numbers to fit, such as lift,drag,range_lag,range_noise")
    fit.add_argument("--out", type=Path, metavar="FILE", help="craft file to write")
    _add_json(fit)
    demo = parts.add_parser(
        "demo", help="write demo logs, made by the model, with their mapping file", epilog=_examples("log demo")
    )
    demo.add_argument("folder", type=Path, metavar="DIR", help="folder to write to")


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(f"found {text!r}, wanted a whole number from 0")
    return int(text)


def _positive(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"found {text!r}, wanted a whole number from 1")
    return int(text)
