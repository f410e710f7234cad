"""Results folders with mistakes of every kind, as somebody else may send one: is each read, or refused in words?

Part of the command `fuzz`. A sound folder, flown once, is damaged in one of its files, a note or a table: values of tables are
changed under a right digest and a right checksum, so that only what they are can tell. Then it is ranked, loaded, and at times
drawn.
"""

from __future__ import annotations

import functools
import hashlib
import json
import math
import random
import shutil
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any
from unittest import mock

import pandas as pd

from sweep import workflow
from sweep.campaign.campaign import load_campaign
from sweep.campaign.text.problems import CampaignError
from sweep.report.log_summary import LOG_SUMMARY, as_note, read_log_summary
from sweep.report.publishing import render
from sweep.results import store
from sweep.results.atomic_files import as_parquet, from_parquet, made_from
from sweep.results.partial import load_so_far
from sweep.results.plain_files import StoreError
from sweep.results.rank_folder import rank_results
from sweep.results.store import Results
from tests.site_results import log_account

TOO_LONG = 30.0  # s
CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = f"""\
title: A folder to send
craft: {CRAFT}
factors:
  foils.*.area: [40 cm^2, 60 cm^2]
  struts.height: {{from: 16 cm, to: 20 cm, levels: 3}}
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 4
flight: {{length: 3 s, settle: 1 s, seed: 3}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score: {{ride_height_error: {{scale: 1 cm}}, servo_travel: {{scale: 10 deg/s}}}}
map: {{speeds: 4 m/s, heights: [4 cm, 12 cm], headings: head, replicates: 1}}
"""
RACE = CAMPAIGN + "budget: {simulated: 150 s}\ntolerances: usual\n"
NUMBERS: tuple[Any, ...] = (math.inf, -math.inf, math.nan, -1, -1e9, 1e308, 0, 2**40, -(2**31), 1e-300, 0.5)
TEXTS = ("", "x", "=1+1", "\x1b[2J", "\u202eabc", "kept", "broken", "x" * 5000, "../../etc/passwd", "<script>", "\x00")
VALUES: tuple[Any, ...] = (*NUMBERS, *TEXTS, None, [], {}, [[]], {"a": None}, True, False, 10**400, [1, "a"], "2020-01-02")


@functools.cache
def sound() -> tuple[Path, Path]:
    """Two whole results folders, of a sweep and of a race, flown once for this process."""
    place = Path(tempfile.mkdtemp(prefix="folders-"))
    for name, text in (("sweep", CAMPAIGN), ("race", RACE)):
        (place / f"{name}.yaml").write_text(text, encoding="utf-8")
        with mock.patch("sweep.report.publishing.publish_locked"):
            workflow.run(load_campaign(place / f"{name}.yaml"), place / name, workers=1)
        (place / name / LOG_SUMMARY).write_text(json.dumps(as_note(log_account())), encoding="utf-8")
    return place / "sweep", place / "race"


def _some(folder: Path, draws: random.Random, *patterns: str) -> Path:
    return draws.choice(sorted(path for pattern in patterns for path in folder.rglob(pattern)))


def _damage(folder: Path, draws: random.Random) -> None:
    """A file cut off, with a bit turned or a stretch of zeros, empty, or gone."""
    path = _some(folder, draws, "*.*", "SHA256SUMS")
    content = bytearray(path.read_bytes())
    at, kind = draws.randrange(max(len(content), 1)), draws.randrange(5)
    if kind == 4 or not content:
        path.unlink()
        return
    if kind == 0:
        content = content[:at]
    elif kind == 1:
        content[at] ^= 1 << draws.randrange(8)
    elif kind == 2:
        content[at : at + 64] = bytes(len(content[at : at + 64]))
    else:
        content = bytearray()
    path.write_bytes(content)


def _text(folder: Path, draws: random.Random) -> None:
    """A text as the other kinds of files are mutated."""
    from tests.benchmarks.fuzz import as_bytes, mutated

    path = _some(folder, draws, "*.json", "*.yaml", "SHA256SUMS")
    path.write_bytes(as_bytes(mutated(path.read_text(encoding="utf-8"), draws)))


def _note(folder: Path, draws: random.Random) -> None:
    """A value of a note replaced, or a key of it dropped."""
    path = _some(folder, draws, "*.json")
    note = json.loads(path.read_text(encoding="utf-8"))
    inside: Any = note
    while True:
        key = draws.choice(list(inside) if isinstance(inside, dict) else range(len(inside)))
        if isinstance(inside[key], dict | list) and inside[key] and draws.random() < 0.7:
            inside = inside[key]
            continue
        if isinstance(inside, dict) and draws.random() < 0.2:
            del inside[key]
        else:
            inside[key] = draws.choice(VALUES)
        break
    path.write_text(json.dumps(note), encoding="utf-8")


def _table(folder: Path, draws: random.Random) -> None:
    """A table changed, under the digest that it had, and listed with its checksum."""
    path = _some(folder, draws, "*.parquet")
    table = from_parquet(path)
    changed = draws.choice((_cell, _cell, _cell, _cell, _column, _rows))(table, draws)
    content = as_parquet(changed, made_from(path))
    sums = path.parent / store.SUMS
    if sums.exists():
        old, new = (hashlib.sha256(each).hexdigest() for each in (path.read_bytes(), content))
        sums.write_text(sums.read_text(encoding="ascii").replace(old, new), encoding="ascii")
    path.write_bytes(content)


def _cell(table: pd.DataFrame, draws: random.Random) -> pd.DataFrame:
    if table.empty:
        return table
    column, row = draws.choice(list(table)), draws.randrange(len(table))
    numeric = pd.api.types.is_numeric_dtype(table[column].dtype) and draws.random() < 0.8
    value = draws.choice(NUMBERS if numeric else (*NUMBERS, *TEXTS, None))
    values = [*table[column]]
    values[row] = value
    if isinstance(value, str) or draws.random() < 0.2:
        values = [str(each) for each in values]
    elif numeric:
        values = [math.nan if each is None or each is pd.NA else float(each) for each in values]
        whole = all(each == each and abs(each) < 2**53 and each == int(each) for each in values)
        values = [int(each) for each in values] if whole else values
    return table.assign(**{column: pd.Series(values, index=table.index, dtype=None if numeric else object)})


def _column(table: pd.DataFrame, draws: random.Random) -> pd.DataFrame:
    column, kind = draws.choice(list(table)), draws.randrange(4)
    if kind == 0:
        return table.drop(columns=column)
    if kind == 1:
        return table.rename(columns={column: draws.choice(["x", "design", "condition", "time", "score"])}).loc[
            :, lambda renamed: ~renamed.columns.duplicated()
        ]
    return table.assign(**{column: draws.choice(VALUES[:20])}) if kind == 2 else table.assign(x=draws.choice(VALUES[:20]))


def _rows(table: pd.DataFrame, draws: random.Random) -> pd.DataFrame:
    kind = draws.randrange(4)
    if kind == 0:
        return table.head(0)
    if kind == 1:
        return table.iloc[draws.randrange(max(len(table), 1)) :]
    if kind == 2:
        return pd.concat([table, table.head(draws.randrange(1, 4))], ignore_index=True)
    return table.sample(frac=1.0, random_state=draws.randrange(2**31)).reset_index(drop=True)


def _place(folder: Path, draws: random.Random) -> None:
    """A file under another's name, or a foreign one beside them."""
    pattern = draws.choice(("*.parquet", "part-*.parquet", "design-*.parquet", "*.json"))
    one = _some(folder, draws, pattern)
    kind = draws.randrange(3)
    if kind == 0:
        _some(folder, draws, pattern).write_bytes(one.read_bytes())
    elif kind == 1:
        name = draws.choice(("design-9.parquet", "design-x.parquet", "design-01.parquet", f"design-{'9' * 30}.parquet"))
        shutil.copy(one, folder / "leaders" / name)
    else:
        one.rename(one.with_name(draws.choice(("part-99999.parquet", "x.parquet", "design-.parquet"))))


CHANGES: tuple[Callable[[Path, random.Random], None], ...] = (_damage, _text, _note, _note, _table, _table, _table, _place)


def change(folder: Path, draws: random.Random) -> None:
    """Change one thing in a folder, at times two."""
    for _ in range(draws.choice((1, 1, 1, 2))):
        with suppress(ValueError, TypeError, LookupError, StoreError):  # of a table that no file can hold, or of a broken one
            draws.choice(CHANGES)(folder, draws)


def check_first(results: Results) -> None:
    """Raises AssertionError for a place 1 whose numbers no flight can have."""
    first = results.standings.head(1)
    for name in ("score", "time_foilborne"):
        assert all(math.isfinite(value) and value >= 0.0 for value in first.get(name, [])), f"{name} of place 1: {first[name]}"


def read(folder: Path, draw: bool) -> None:
    """Rank a folder, load it, and have its pages drawn if that is asked for; raises AssertionError as `check_first`."""
    rank_results(folder)
    results, missing = load_so_far(folder)
    logs = read_log_summary(folder)
    check_first(results)
    if draw:
        for page in render(results, logs, missing).values():
            page.encode()  # as it is written


def try_folder(draws: random.Random, place: Path) -> tuple[str, str]:
    """Change a sound folder and read it: 'read', 'refused', or a finding; and what was changed."""
    folder, drawn = place / "folder", draws.random() < 0.1
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(draws.choice(sound()), folder)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    change(folder, draws)
    after = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    touched = sorted(path for path in before.keys() | after if before.get(path) != after.get(path))
    begun = time.process_time()  # of a busy machine the clock would tell too much
    try:
        read(folder, drawn)
        came = "read"
    except (StoreError, CampaignError) as error:
        came = "refused" if str(error).strip() else "a refusal without words"
    except Exception:
        came = traceback.format_exc(limit=-4)
    taken = time.process_time() - begun
    return (f"took {taken:.0f} s" if taken > TOO_LONG else came), ", ".join(str(path.relative_to(folder)) for path in touched)


def fuzz_folders(times: int, seed: int, found: Callable[[str, str], None]) -> Counter[str]:
    """Change sound folders and count what came of it, as `fuzz.fuzz` does; findings are told with the files changed."""
    counts = Counter[str]()
    with tempfile.TemporaryDirectory() as place:
        for number in range(times):
            came, what = try_folder(random.Random(f"{seed} folders {number}"), Path(place))
            counts[came if came in ("read", "refused") else "findings"] += 1
            if came not in ("read", "refused"):
                found(came, f"folder {number}: {what}")
    return counts
