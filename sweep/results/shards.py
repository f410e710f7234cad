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
from typing import NamedTuple

import pandas as pd
import pyarrow.parquet as pq

from sweep.results.atomic_files import as_parquet, from_parquet, made_from, write_whole
from sweep.results.fingerprint import Keys
from sweep.results.form_check import SHARD, checked
from sweep.results.held_folder import check as check_held
from sweep.results.plain_files import StoreError, open_to_append, read_plain, reading, unwritten

SUMS = "SHA256SUMS"
SUM_LINE = re.compile(r"([0-9a-f]{64})  (part-\d{5,}\.parquet)")
PLACES = ["design", "condition", "replicate"]
DAMAGED, OTHERS, MISSING = "damaged", "of other flights than these", "missing"
ASIDE = {DAMAGED: ".torn", OTHERS: ".other"}
"""Reasons why a shard is set aside, each with the ending of its new name."""
MOST_HELD = 300_000
"""Flights that are held in memory at most, 150 MB (judgement)."""
MOST_KNOWN = 50_000
"""Shards whose content is remembered once it was looked at (judgement): some kB each."""
TOGETHER = 64
"""Shards that are read before they are handed on (judgement): some MB."""


def add_shard(folder: Path, number: int, flights: pd.DataFrame, made_from: str = "") -> None:
    """Keep a finished shard: first the rows, then its line in the list of sound ones; made_from: digest of its content."""
    name, content = f"part-{number:05d}.parquet", as_parquet(flights, made_from)
    path, checksum = folder / "flights" / name, hashlib.sha256(content).hexdigest()
    write_whole(path, content)
    _know(path, Content(checksum, made_from, flights[PLACES]))
    try:
        with open_to_append(folder / "flights" / SUMS) as file:
            file.write(f"{checksum}  {name}\n".encode())
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
        elif (found := _content(path)).checksum != checksum:
            aside[name] = DAMAGED
        elif (keys and not _holds(found, keys)) or (planned is not None and planned.get(_number(name)) != found.made_from):
            aside[name] = OTHERS
        else:
            sound[name] = checksum
    return sound, aside


class Content(NamedTuple):
    """What a shard is: the checksum of its bytes, the digest that it carries, and its places, None where it has no rows."""

    checksum: str
    made_from: str
    places: pd.DataFrame | None


Stamp = tuple[int, int, int]
"""What changes with a file: when it was written, ns, its size, and its number in the file system."""


def _stamp(path: Path) -> Stamp:
    found = path.stat()
    return found.st_mtime_ns, found.st_size, found.st_ino


_known: dict[tuple[Path, Stamp], Content] = {}
"""The content of shards as this process wrote or saw them; a night has thousands, which are looked at again and again."""


def _know(path: Path, content: Content) -> Content:
    if len(_known) >= MOST_KNOWN:
        _known.clear()
    _known[path, _stamp(path)] = content
    return content


def _content(path: Path) -> Content:
    """The content of a shard, looked at anew only where the file has changed."""
    if (known := _known.get((path, _stamp(path)))) is not None:
        return known
    try:
        places = from_parquet(path, PLACES)
    except (StoreError, LookupError, ValueError, TypeError, ArithmeticError):
        places = None
    return _know(path, Content(hashlib.sha256(read_plain(path)).hexdigest(), made_from(path), places))


def is_of(path: Path, keys: Keys) -> bool:
    """Whether a shard carries the digest of its own rows, by these keys."""
    return _holds(_content(path), keys)


def _holds(found: Content, keys: Keys) -> bool:
    try:
        return found.places is not None and found.made_from == keys.of_rows(found.places)
    except (LookupError, ValueError, TypeError, ArithmeticError):
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
    """The rows of all shards, in the order of their numbers, of some shards at a time; only the named columns and the one
    design, if they are named."""
    paths = _shards(folder)
    for table in _tables(paths, columns):
        yield table if design is None else table[table["design"] == design]  # Arrow's own choosing of rows starts threads


def _tables(paths: list[Path], columns: Sequence[str] | None) -> Iterator[pd.DataFrame]:
    """The tables of shards, put together as far as they are alike: many small ones take long in whatever reads them."""
    if (held := _held.get(_stamps(paths))) is not None and not {*(columns or ())} - {*held}:
        yield held.copy(deep=False) if columns is None else held[list(columns)]
        return
    for first in range(0, len(paths), TOGETHER):
        some = paths[first : first + TOGETHER]
        yield from _checked_together(some, [from_parquet(path, columns) for path in some], columns)


def _checked_together(paths: list[Path], tables: list[pd.DataFrame], columns: Sequence[str] | None) -> list[pd.DataFrame]:
    """Tables as `checked` leaves them, in one if they are alike."""
    if all(table.dtypes.equals(tables[0].dtypes) for table in tables):
        try:
            return [checked(paths[0], pd.concat(tables, ignore_index=True), SHARD, columns)]
        except StoreError:
            pass  # whose it is, the table tells that is wrong alone
    return [checked(path, table, SHARD, columns) for path, table in zip(paths, tables, strict=True)]


_held: dict[tuple[tuple[Path, Stamp], ...], pd.DataFrame] = {}
"""The rows of the folder that was read whole last, by its files as they were: ranking, pages and results read it in turn."""


def _stamps(paths: list[Path]) -> tuple[tuple[Path, Stamp], ...]:
    return tuple((path, _stamp(path)) for path in paths if path.exists())


def _hold(folder: Path) -> pd.DataFrame:
    """All rows of a folder, which are held until another is read whole."""
    paths = _shards(folder)
    stamps = _stamps(paths)
    if stamps not in _held:
        table = pd.concat(list(_tables(paths, None)), ignore_index=True)
        _held.clear()
        _held[stamps] = table
    return _held[stamps]


def shards_reader(folder: Path) -> Callable[[Sequence[str]], Iterable[pd.DataFrame]]:
    """`read_shards` of a folder that is asked again and again for some columns: where it has few flights, all is read once."""
    if not 0 < count_flights(folder) <= MOST_HELD:
        return partial(read_shards, folder)
    held = _hold(folder)
    return lambda columns: (held[list(columns)],)


def read_shard(folder: Path, number: int) -> pd.DataFrame:
    """The rows of one sound shard."""
    path = folder / "flights" / f"part-{number:05d}.parquet"
    return checked(path, from_parquet(path), SHARD)


def count_flights(folder: Path) -> int:
    """How many flights the shards hold."""
    paths = _shards(folder)
    if (held := _held.get(_stamps(paths))) is not None:
        return len(held)
    return sum(_count_rows(path) for path in paths)


def _count_rows(path: Path) -> int:
    with reading(path) as file:
        rows: int = pq.read_metadata(file).num_rows
    return rows


def read_flights(folder: Path, columns: Sequence[str] | None = None, design: int | None = None) -> pd.DataFrame:
    """The rows of all shards, as `read_shards` gives them; raises StoreError if there are none."""
    if columns is None and design is None and 0 < count_flights(folder) <= MOST_HELD:
        return _hold(folder).copy(deep=False)
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
