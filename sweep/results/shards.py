"""The rows of flights, in shards that are whole or not there, each with the digest of what was flown in it.

`flights/SHA256SUMS` lists the sound ones as `sha256sum --check` reads them. A shard that does not match it, or that holds other
flights than it should, is set aside and flown again.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

from sweep.results.atomic_files import as_parquet, from_parquet, made_from, write_whole
from sweep.results.fingerprint import Keys
from sweep.results.form_check import SHARD, checked
from sweep.results.held_folder import check as check_held
from sweep.results.plain_files import StoreError, open_to_append, read_plain, reading, unwritten

SUMS = "SHA256SUMS"
SUM_LINE = re.compile(r"([0-9a-f]{64})  (part-\d{5,}\.parquet)")
DAMAGED, OTHERS, MISSING = "damaged", "of other flights than these", "missing"
ASIDE = {DAMAGED: ".torn", OTHERS: ".other"}
"""Reasons why a shard is set aside, each with the ending of its new name."""
MOST_HELD = 100_000
"""Flights that are held in memory at most, 50 MB (judgement)."""
TOGETHER = 64
"""Shards that are read before they are handed on (judgement): some MB."""


def add_shard(folder: Path, number: int, flights: pd.DataFrame, made_from: str = "") -> None:
    """Keep a finished shard: first the rows, then its line in the list of sound ones; made_from: digest of its content."""
    name, content = f"part-{number:05d}.parquet", as_parquet(flights, made_from)
    write_whole(folder / "flights" / name, content)
    try:
        with open_to_append(folder / "flights" / SUMS) as file:
            file.write(f"{hashlib.sha256(content).hexdigest()}  {name}\n".encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise unwritten(folder / "flights" / SUMS, error) from error


def list_in_order(folder: Path) -> None:
    """List the shards by their numbers, in whatever order they came."""
    lines = sorted(listed_shards(folder / "flights").items(), key=lambda item: _number(item[0]))
    write_whole(folder / "flights" / SUMS, "".join(f"{checksum}  {name}\n" for name, checksum in lines).encode())


def sound_shards(
    folder: Path, keys: Keys | None = None, planned: Mapping[int, str] | None = None
) -> tuple[set[int], dict[str, str]]:
    """Numbers of the shards that are whole and hold these flights; names of the others and why. Those have been set aside.

    keys: of the flights that the folder is to hold; planned: the digest of the flights that each number stands for.
    """
    flights = folder / "flights"
    sound, aside = _sorted_out(flights, keys, planned)
    aside = {name: why for name, why in aside.items() if why in ASIDE}
    for name, why in aside.items():
        check_held(flights)
        os.replace(flights / name, flights / f"{name}{ASIDE[why]}")
    write_whole(flights / SUMS, "".join(f"{checksum}  {name}\n" for name, checksum in sound.items()).encode())
    return {_number(name) for name in sound}, aside


def drop_shards(folder: Path, first: int) -> None:
    """Take the shards from this number on out of the list: the folder then has only those before."""
    flights = folder / "flights"
    listed = listed_shards(flights)
    kept = {name: checksum for name, checksum in listed.items() if _number(name) < first}
    if kept != listed:
        write_whole(flights / SUMS, "".join(f"{checksum}  {name}\n" for name, checksum in kept.items()).encode())


def unsound_shards(folder: Path, keys: Keys) -> dict[str, str]:
    """Names of the shards that are not whole or not of these flights, and why; nothing is touched."""
    return _sorted_out(folder / "flights", keys, None)[1]


def _sorted_out(flights: Path, keys: Keys | None, planned: Mapping[int, str] | None) -> tuple[dict[str, str], dict[str, str]]:
    """Of the shards that are listed: the checksums of the sound ones, and why the others are not."""
    sound: dict[str, str] = {}
    aside: dict[str, str] = {}
    for name, checksum in sorted(listed_shards(flights).items(), key=lambda item: _number(item[0])):
        path = flights / name
        if not path.exists():
            aside[name] = MISSING
        elif hashlib.sha256(read_plain(path)).hexdigest() != checksum:
            aside[name] = DAMAGED
        elif (keys and not is_of(path, keys)) or (planned is not None and planned.get(_number(name)) != made_from(path)):
            aside[name] = OTHERS
        else:
            sound[name] = checksum
    return sound, aside


def is_of(path: Path, keys: Keys) -> bool:
    """Whether a shard carries the digest of its own rows, by these keys."""
    try:
        return made_from(path) == keys.of_rows(from_parquet(path, ["design", "condition", "replicate"]))
    except (StoreError, LookupError, ValueError, TypeError, ArithmeticError):
        return False


def shard_digest(folder: Path, number: int) -> str:
    """The digest that a shard carries."""
    return made_from(folder / "flights" / f"part-{number:05d}.parquet")


def listed_shards(flights: Path) -> dict[str, str]:
    """Shard name -> checksum; a line that was cut off does not count."""
    try:
        lines = read_plain(flights / SUMS).decode("ascii", errors="replace").splitlines()
    except FileNotFoundError:
        return {}
    return {found[2]: found[1] for line in lines if (found := SUM_LINE.fullmatch(line))}


def _number(name: str) -> int:
    return int(name.removeprefix("part-").removesuffix(".parquet"))


def read_shards(folder: Path, columns: Sequence[str] | None = None, design: int | None = None) -> Iterator[pd.DataFrame]:
    """The rows of each shard, in the order of their numbers; only the named columns and the one design, if they are named."""
    paths = _shards(folder)
    for first in range(0, len(paths), TOGETHER):
        some = paths[first : first + TOGETHER]
        for table in _checked_together(some, [from_parquet(path, columns) for path in some], columns):
            yield table if design is None else table[table["design"] == design]  # Arrow's own choosing of rows starts threads


def _checked_together(paths: list[Path], tables: list[pd.DataFrame], columns: Sequence[str] | None) -> list[pd.DataFrame]:
    """Each table as `checked` leaves it: small ones take as long as large ones, so those alike are looked at as one."""
    if all(table.dtypes.equals(tables[0].dtypes) for table in tables):
        try:
            whole = checked(paths[0], pd.concat(tables, ignore_index=True), SHARD, columns)
        except StoreError:
            pass  # whose it is, the table tells that is wrong alone
        else:
            ends = np.cumsum([len(table) for table in tables])
            return [whole.iloc[end - len(table) : end].reset_index(drop=True) for table, end in zip(tables, ends, strict=True)]
    return [checked(path, table, SHARD, columns) for path, table in zip(paths, tables, strict=True)]


def shards_reader(folder: Path) -> Callable[[Sequence[str]], Iterable[pd.DataFrame]]:
    """`read_shards` of a folder that is asked again and again for some columns: where it has few flights, all is read once."""
    if count_flights(folder) > MOST_HELD:
        return partial(read_shards, folder)
    held = list(read_shards(folder))
    return lambda columns: (part[list(columns)] for part in held)


def read_shard(folder: Path, number: int) -> pd.DataFrame:
    """The rows of one sound shard."""
    path = folder / "flights" / f"part-{number:05d}.parquet"
    return checked(path, from_parquet(path), SHARD)


def count_flights(folder: Path) -> int:
    """How many flights the shards hold."""
    return sum(_count_rows(path) for path in _shards(folder))


def _count_rows(path: Path) -> int:
    with reading(path) as file:
        rows: int = pq.read_metadata(file).num_rows
    return rows


def read_flights(folder: Path, columns: Sequence[str] | None = None, design: int | None = None) -> pd.DataFrame:
    """The rows of all shards, as `read_shards` gives them; raises StoreError if there are none."""
    tables = list(read_shards(folder, columns, design))
    if not tables:
        raise StoreError(f"{folder}: no flight has been flown here yet.")
    return pd.concat(tables, ignore_index=True)


def _shards(folder: Path) -> list[Path]:
    return [folder / "flights" / name for name in sorted(listed_shards(folder / "flights"), key=_number)]


def whole_shards(flights: Path) -> Iterator[Path]:
    """The shards in a folder of flights that match their checksums, in the order of their numbers; nothing is touched."""
    for name, checksum in sorted(listed_shards(flights).items(), key=lambda item: _number(item[0])):
        path = flights / name
        if path.exists() and hashlib.sha256(read_plain(path)).hexdigest() == checksum:
            yield path
