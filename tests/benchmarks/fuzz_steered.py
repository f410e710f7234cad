"""Results folders changed as a string of bytes says, so that a fuzzer can lead the changes to branches not taken before.

Part of the command `fuzz_guided`. The first byte chooses the file, the second what is done with the folder then. For a note or
a text the rest is what stands there instead; for a table it says, change by change, what happens to its cells, columns, kinds,
rows, the notes in its schema, and its bytes. Whatever comes of it stands under the digest that the table had and, of a shard,
under a right checksum.
"""

from __future__ import annotations

import hashlib
import io
import random
import shutil
import struct
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from sweep.campaign.text.problems import CampaignError
from sweep.report.log_summary import read_log_summary
from sweep.report.publishing import render
from sweep.results import store
from sweep.results.form_check import check_forms
from sweep.results.partial import load_so_far
from sweep.results.plain_files import StoreError
from sweep.results.rank_folder import rank_results
from tests.benchmarks.fuzz import as_bytes, mutated
from tests.benchmarks.fuzz_folders import TOO_LONG, VALUES, check_first, sound

KINDS = (
    *(pa.int8(), pa.uint8(), pa.int64(), pa.uint64(), pa.float16(), pa.float32(), pa.float64(), pa.bool_()),
    *(pa.string(), pa.large_string(), pa.binary(), pa.null(), pa.timestamp("ns"), pa.duration("s"), pa.date32()),
    *(pa.decimal128(38, 3), pa.list_(pa.float64()), pa.dictionary(pa.int8(), pa.string())),
)
"""What a column may be cast to."""
TEXTS = (".json", ".yaml")
MOST_CHANGES = 8
RANKED, DRAWN, ENOUGH = 7, 14, 16
"""From what byte on, counted round, a folder is ranked before it is read, and from what on it is drawn."""


class Steps:
    """Bytes that are taken one by one, nought when there are no more."""

    def __init__(self, content: bytes) -> None:
        self._left = content

    def __bool__(self) -> bool:
        return bool(self._left)

    def take(self, many: int) -> bytes:
        """The next bytes."""
        taken, self._left = self._left[:many], self._left[many:]
        return taken.ljust(many, b"\0")

    def number(self, below: int) -> int:
        """A whole number below this, of two bytes."""
        return int.from_bytes(self.take(2), "big") % max(below, 1)

    def value(self) -> Any:
        """A value for a cell: of those that `fuzz_folders` puts in, a number of any kind, or a text."""
        kind = self.take(1)[0] % 4
        if kind == 0:
            return VALUES[self.number(len(VALUES))]
        if kind == 1:
            return struct.unpack(">d", self.take(8))[0]
        return int.from_bytes(self.take(8), "big", signed=True) if kind == 2 else self.text()

    def text(self) -> str:
        """A text of up to 255 bytes, which is what it is told to be long."""
        return self.take(self.take(1)[0]).decode("utf-8", errors="replace")


def _cell(table: pa.Table, steps: Steps) -> pa.Table:
    at, row = steps.number(table.num_columns), steps.number(table.num_rows)
    values = table.column(at).to_pylist()
    values[row] = steps.value()
    try:
        column = pa.array(values, table.schema.field(at).type)
    except (pa.ArrowException, TypeError, ValueError, OverflowError):
        column = pa.array(values)
    return table.set_column(at, table.schema.field(at).name, column)


def _kind(table: pa.Table, steps: Steps) -> pa.Table:
    at, kind = steps.number(table.num_columns), KINDS[steps.number(len(KINDS))]
    column = table.column(at)
    return table.set_column(at, table.schema.field(at).name, column.cast(kind, safe=False))


def _lost(table: pa.Table, steps: Steps) -> pa.Table:
    return table.remove_column(steps.number(table.num_columns))


def _named(table: pa.Table, steps: Steps) -> pa.Table:
    """A column called otherwise, at times as another one is."""
    names, at = table.column_names, steps.number(table.num_columns)
    names[at] = steps.text() or names[steps.number(len(names))]
    return table.rename_columns(names)


def _more(table: pa.Table, steps: Steps) -> pa.Table:
    """One more column, of a name that is there or not, all of one value."""
    name = steps.text() or table.column_names[steps.number(table.num_columns)]
    return table.append_column(name, pa.array([steps.value()] * table.num_rows))


def _rows(table: pa.Table, steps: Steps) -> pa.Table:
    begin, many = steps.number(table.num_rows), steps.number(table.num_rows + 1)
    return table.slice(begin, many) if steps.take(1)[0] % 2 else pa.concat_tables([table, table.slice(begin, many)])


def _notes(table: pa.Table, steps: Steps) -> pa.Table:
    """A stretch of what pandas keeps in the schema replaced."""
    notes = dict(table.schema.metadata or {})
    text = notes.get(b"pandas", b"{}")
    at, many, new = steps.number(len(text)), steps.number(24), steps.text().encode()
    return table.replace_schema_metadata(notes | {b"pandas": text[:at] + new + text[at + many :]})


CHANGES: tuple[Callable[[pa.Table, Steps], pa.Table], ...] = (_cell, _kind, _lost, _named, _more, _rows, _notes)


def changed_table(content: bytes, steps: Steps) -> bytes:
    """The bytes of a table after these changes; those that it cannot take are left out."""
    table = pq.read_table(io.BytesIO(content), use_threads=False)
    for _ in range(MOST_CHANGES):
        kind = steps.take(1)[0] % (len(CHANGES) + 1)
        if not steps:
            break
        try:
            if kind == len(CHANGES):
                return _spliced(_written(table), steps)
            table = CHANGES[kind](table, steps)
        except (pa.ArrowException, TypeError, ValueError, LookupError, OverflowError):
            continue
    try:
        return _written(table)
    except (pa.ArrowException, TypeError, ValueError):  # Parquet has no such kind of column
        return content


def _spliced(content: bytes, steps: Steps) -> bytes:
    """The bytes of a file with some replaced, counted from its end, where what it holds is told."""
    at, new = len(content) - 1 - steps.number(len(content)), steps.take(1 + steps.take(1)[0] % 8)
    return content[:at] + new + content[at + len(new) :]


def _written(table: pa.Table) -> bytes:
    buffer = io.BytesIO()
    pq.write_table(table, buffer, compression="zstd", write_page_checksum=True)
    return buffer.getvalue()


class Folders:
    """Two sound results folders where they may be changed, and their files in a fixed order."""

    def __init__(self, place: Path) -> None:
        self._folders = [Path(shutil.copytree(folder, place / folder.name)) for folder in sound()]
        files = [sorted(path for path in folder.rglob("*") if path.is_file()) for folder in self._folders]
        self._sound = {path: path.read_bytes() for some in files for path in some}
        self._files = [path for path in self._sound if path.suffix in (".parquet", *TEXTS) or path.name == store.SUMS]
        for alike in ("part-*.parquet", "design-*.parquet"):
            many = [path for path in self._files if path.match(alike)]
            firsts = [next(path for path in many if path.is_relative_to(folder)) for folder in self._folders]
            self._files = [path for path in self._files if path not in many or path in firsts]
        assert len(self._files) <= 256, "the first byte chooses one of them"

    def seeds(self) -> list[bytes]:
        """What changes nothing, for every file, read as it is and ranked in turn."""
        rests = [b"" if path.suffix == ".parquet" else self._sound[path] for path in self._files]
        return [bytes([at, RANKED * (at % 2)]) + rest for at, rest in enumerate(rests)]

    def mutated(self, content: bytes, draws: random.Random) -> bytes:
        """Another change: of a text as other kinds of files are mutated, of a table by more bytes of any size."""
        head = bytes([content[0] if content else 0, draws.randrange(ENOUGH)])
        if self._files[head[0] % len(self._files)].suffix == ".parquet":
            return head + content[2:][: draws.randrange(64)] + draws.randbytes(draws.randint(4, 16))
        return head + as_bytes(mutated(content[2:].decode("utf-8", errors="replace"), draws))

    def try_one(self, content: bytes) -> str:
        """Change a folder so and read it: 'read', 'refused', or a finding. All is as it was afterwards."""
        at, act = content[:2].ljust(2, b"\0")
        path = self._files[at % len(self._files)]
        folder = next(folder for folder in self._folders if path.is_relative_to(folder))
        new = changed_table(self._sound[path], Steps(content[2:])) if path.suffix == ".parquet" else content[2:]
        path.write_bytes(new)
        sums = path.parent / store.SUMS
        if path.suffix == ".parquet" and sums.exists():
            old, now = (hashlib.sha256(each).hexdigest() for each in (self._sound[path], new))
            sums.write_text(sums.read_text(encoding="ascii").replace(old, now), encoding="ascii")
        begun = time.process_time()
        came = _came_of(folder, act)
        taken = time.process_time() - begun
        self._restore(folder)
        return f"took {taken:.0f} s: {path.name}" if taken > TOO_LONG else came

    def _restore(self, folder: Path) -> None:
        for path in folder.rglob("*"):
            if path.is_file() and path not in self._sound:
                path.unlink()
        for path, content in self._sound.items():
            if path.is_relative_to(folder) and (not path.exists() or path.read_bytes() != content):
                path.write_bytes(content)


def _came_of(folder: Path, act: int) -> str:
    """What comes of reading a folder: as it is, or ranked first, or drawn, to texts that a file takes."""
    act %= ENOUGH
    try:
        check_forms(folder)
        if RANKED <= act < DRAWN:
            rank_results(folder)
        results, missing = load_so_far(folder)
        logs = read_log_summary(folder)
        check_first(results)
        for name in results.flights:
            results.column(str(name))
        if act >= DRAWN:
            for page in render(results, logs, missing).values():
                page.encode()
    except (StoreError, CampaignError) as error:
        return "refused" if str(error).strip() else "a refusal without words"
    except Exception:
        return traceback.format_exc(limit=-4)
    return "read"
