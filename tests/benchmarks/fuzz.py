"""Files with mistakes of every kind: is each read, or refused in words, and nothing else?

    python -m tests.benchmarks.fuzz [TIMES] [SEED] [KIND]

Mutates the shipped campaigns, crafts, polars, mapping files and demo logs TIMES times each and counts what came of it. Anything
but the house's own errors, a number of seconds too long, or a file that was not there before, is a finding and is printed.
Crafts that can be read are put in trim and flown for a second; those of `numbers` have one number of any size. Results folders
are changed as `fuzz_folders` says.
"""

from __future__ import annotations

import random
import re
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.draws import draw_block, water_of
from sweep.campaign.polars import read_polar
from sweep.campaign.text.problems import CampaignError
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from sweep.model.flight import fly
from sweep.model.pack.fleet import build_fleets

CONFIGS = Path(__file__).parents[2] / "configs"
TOO_LONG = 30.0  # s

NUMBERS = (
    *(
        "1e400",
        "-1e400",
        "nan",
        ".nan",
        ".inf",
        "-.inf",
        "-0",
        "0",
        "-1",
        "1e-400",
        "9" * 400,
        "1e308",
        "0x10",
        "1_000",
        "2**63",
    ),
    *("٣", "４２", "½", "1,5", "1 000", "++1", "1e", "0b2", "12:30:45", "18446744073709551616"),
)
VALUES = (
    *NUMBERS,
    *(f"{number} cm" for number in ("1e400", "nan", "-0", "٣", "inf", "1e308", "-5")),
    *(
        "~",
        "true",
        "''",
        "[]",
        "{}",
        "[[]]",
        "{a: b}",
        "[1, 2]",
        "*x",
        "&x 1",
        "!!python/object:os.system x",
        "!!binary aGk=",
        "<<",
    ),
    *(
        "../../etc/passwd",
        "/dev/zero",
        "/dev/stdin",
        "CON",
        "a/b.csv",
        "\\0",
        "=1+1",
        "%s%n",
        "{0}",
        "\u202eabc",
        "\ud7ff",
        "x" * 5000,
    ),
    *(
        "." * 300,
        "naca-0012",
        "courier.yaml",
        "[" * 30,
        "{" * 30,
        "- - - - -",
        "|",
        ">",
        '"',
        "'",
        "#",
        "\t",
        "---",
        "...",
        "%YAML 9.9",
    ),
)


def mutated(text: str, draws: random.Random) -> str:
    """A text with one to four changes, each of a kind drawn anew."""
    lines = text.splitlines()
    for _ in range(draws.randint(1, 4)):
        change = draws.choice(CHANGES)
        lines = change(lines or [""], draws)
    return "\n".join(lines) + draws.choice(("\n", "", "\r\n"))


def _at(lines: list[str], draws: random.Random) -> int:
    return draws.randrange(len(lines))


def _delete(lines: list[str], draws: random.Random) -> list[str]:
    place = _at(lines, draws)
    return lines[:place] + lines[place + draws.randint(1, 3) :]


def _double(lines: list[str], draws: random.Random) -> list[str]:
    place, to = _at(lines, draws), _at(lines, draws)
    return [*lines[:to], lines[place], *lines[to:]]


def _swap(lines: list[str], draws: random.Random) -> list[str]:
    one, other = _at(lines, draws), _at(lines, draws)
    lines = list(lines)
    lines[one], lines[other] = lines[other], lines[one]
    return lines


def _indent(lines: list[str], draws: random.Random) -> list[str]:
    place = _at(lines, draws)
    return [*lines[:place], draws.choice((" ", "  ", "\t", "- ")) + lines[place].lstrip(), *lines[place + 1 :]]


def _value(lines: list[str], draws: random.Random) -> list[str]:
    """Another value for a word or number of a line."""
    place = _at(lines, draws)
    words = lines[place].replace(",", " , ").replace("{", " { ").replace("}", " } ").split(" ")
    words[draws.randrange(len(words))] = draws.choice(VALUES)
    return [*lines[:place], " ".join(words), *lines[place + 1 :]]


def _number(lines: list[str], draws: random.Random) -> list[str]:
    """Another number for one of a line, its digits only."""
    place = _at(lines, draws)
    line = lines[place]
    spots = [at for at, sign in enumerate(line) if sign.isdigit()]
    if not spots:
        return lines
    at = draws.choice(spots)
    return [*lines[:place], line[:at] + draws.choice(NUMBERS) + line[at + 1 :], *lines[place + 1 :]]


def _sign(lines: list[str], draws: random.Random) -> list[str]:
    """A character put in or taken out."""
    place = _at(lines, draws)
    line = lines[place]
    at = draws.randrange(len(line) + 1)
    put = draws.choice(("", chr(draws.randrange(1, 0xD7FF)), draws.choice("{}[]:,-&*!|>'\"%@`#?\t\0")))
    return [*lines[:place], line[:at] + put + line[at + draws.randrange(2) :], *lines[place + 1 :]]


def _key(lines: list[str], draws: random.Random) -> list[str]:
    """A key more: long, strange, or deep."""
    key = draws.choice(
        ("k" * 5000, "foils", "__class__", "a.b.c", "? x", "1", "~", "true", "foils.*.*", "*.*.*.*", "\u202e", "title")
    )
    deep = draws.choice(("1", "{a: " * 25 + "1" + "}" * 25, "[" * 25 + "]" * 25, draws.choice(VALUES)))
    place = _at(lines, draws)
    return [*lines[:place], " " * draws.choice((0, 0, 2, 4)) + f"{key}: {deep}", *lines[place:]]


CHANGES: tuple[Callable[[list[str], random.Random], list[str]], ...] = (
    *(_delete, _double, _swap, _indent),
    *(_value, _value, _value, _number, _number, _sign, _key),
)


EXTREMES = ("0", "1e-300", "1e-30", "1e-9", "1e-3", "1e3", "1e9", "1e14", "1e30", "1e300", "-1e-9", "-1", "-1e6", "-1e300")
NUMBER = re.compile(r"(?<![\w.#-])-?\d+(?:\.\d+)?(?= ?[a-zA-Z%,}\n])")


def out_of_proportion(text: str, draws: random.Random) -> str:
    """A text with one of its numbers, or two, of another size or sign."""
    for _ in range(draws.randint(1, 2)):
        found = draws.choice(list(NUMBER.finditer(text)))
        text = text[: found.start()] + draws.choice(EXTREMES) + text[found.end() :]
    return text


class Target:
    """A kind of file: the shipped ones, how they are read, how mutated, and what stands beside a mutated one."""

    def __init__(
        self,
        files: list[Path],
        read: Callable[[Path], object],
        mutate: Callable[[str, random.Random], str] = mutated,
    ) -> None:
        self.files, self.read, self.mutate = files, read, mutate

    def copy(self, place: Path) -> list[Path]:
        """The files of the target in a folder where they may be changed."""
        return [place / path.relative_to(CONFIGS) for path in self.files]


def _craft(path: Path) -> object:
    campaign = load_campaign(path.parents[1] / "quick.yaml", craft=path)
    condition = list_conditions(campaign)[0]
    block = draw_block(campaign, condition, 0)._replace(length=1.0)
    return [fly(fleet, block) for _, fleet in build_fleets([campaign.craft], water_of(campaign), condition.speed)]


def _log(path: Path) -> object:
    return judge_day(load_mapping(path.parent / "afternoon.yaml"))


def put_logs(folder: Path) -> None:
    """A craft and four short logs beside the shipped mapping file, made up: a rangefinder and a unit at rest, all but."""
    shutil.copy(folder.parent / "craft" / "courier.yaml", folder / "craft.yaml")
    names = (
        "t_ms bow_mm nose_down_deg roll_deg q_rad_s ax_g az_g compass_deg gps_kn throttle_pct foil_p_deg foil_s_deg foil_a_deg"
    )
    for number in range(1, 5):
        rows = [
            f"{20 * row},{180 + row % 7},{row % 5 / 10},{row % 3 / 10},{row % 4 / 100},0.01,-1,240,7.8,60,1,1,{row % 2}"
            for row in range(60)
        ]
        (folder / f"pass-{number}.csv").write_text("\n".join([names.replace(" ", ","), *rows]) + "\n", encoding="utf-8")


def targets() -> dict[str, Target]:
    """The kinds of files, each with those shipped."""
    lessons, crafts = sorted((CONFIGS / "lessons").glob("*.yaml")), sorted((CONFIGS / "craft").glob("*.yaml"))
    return {
        "campaigns": Target([*sorted(CONFIGS.glob("*.yaml")), *lessons], load_campaign),
        "crafts": Target(crafts, _craft),
        "numbers": Target(crafts, _craft, out_of_proportion),
        "polars": Target(sorted((CONFIGS / "polars").glob("*.csv")), read_polar),
        "designs": Target(sorted((CONFIGS / "lessons").glob("*.csv")), lambda path: load_campaign(path.with_suffix(".yaml"))),
        "mappings": Target([CONFIGS / "log" / "afternoon.yaml"], load_mapping),
        "logs": Target([CONFIGS / "log" / f"pass-{number}.csv" for number in range(1, 5)], _log),
    }


def as_bytes(text: str) -> bytes:
    """A mutated text, of which not every sign is one that a file may hold."""
    return text.encode("utf-8", errors="surrogatepass")


def try_one(target: Target, path: Path, content: bytes) -> str:
    """Write a mutated file in the place of the sound one and read it: 'read', 'refused', or a finding."""
    sound, begun = path.read_bytes(), time.process_time()  # of a busy machine the clock would tell too much
    there = set(path.parents[1].rglob("*"))
    path.write_bytes(content)
    try:
        target.read(path)
        came = "read"
    except CampaignError as error:
        came = "refused" if str(error).strip() else "a refusal without words"
    except Exception:
        came = traceback.format_exc(limit=-4)
    path.write_bytes(sound)
    taken = time.process_time() - begun
    if taken > TOO_LONG:
        came = f"took {taken:.0f} s"
    strays = set(path.parents[1].rglob("*")) - there
    return f"wrote {sorted(strays)}" if strays else came


def fuzz(name: str, times: int, seed: int, found: Callable[[str, str], None]) -> Counter[str]:
    """Mutate the files of a kind and count what came of it; findings are told with the text that led to them."""
    target, draws, counts = targets()[name], random.Random(f"{seed} {name}"), Counter[str]()
    with tempfile.TemporaryDirectory() as place:
        shutil.copytree(CONFIGS, Path(place) / "configs")
        put_logs(Path(place) / "configs" / "log")
        paths = target.copy(Path(place) / "configs")
        for _ in range(times):
            path = draws.choice(paths)
            text = target.mutate(path.read_text(encoding="utf-8"), draws)
            came = try_one(target, path, as_bytes(text))
            counts[came if came in ("read", "refused") else "findings"] += 1
            if came not in ("read", "refused"):
                found(came, text)
    return counts


def main() -> None:
    """Fuzz every kind of file and print the counts."""
    times, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 300), (2, 1)))
    findings: list[str] = []

    def keep(came: str, text: str) -> None:
        findings.append(came)
        print(f"--- {came}\n{text[:3000]}", file=sys.stderr, flush=True)

    print("| files | mutated | read | refused in words | findings |\n|---|---|---|---|---|")
    from tests.benchmarks.fuzz_folders import fuzz_folders

    kinds = {name: partial(fuzz, name) for name in targets()} | {"folders": fuzz_folders}
    for name in sys.argv[3:] or kinds:
        counts = kinds[name](times, seed, keep)
        print(f"| {name} | {times} | {counts['read']} | {counts['refused']} | {counts['findings']} |", flush=True)
    sys.exit(bool(findings))


if __name__ == "__main__":
    main()
