"""Files that appear under their name only when they are complete and on the disk, and tables that notice damage."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from sweep.results.plain_files import StoreError as StoreError
from sweep.results.plain_files import reading
from sweep.results.plain_files import sync_folder as sync_folder
from sweep.results.plain_files import unwritten as unwritten
from sweep.results.plain_files import write_whole as write_whole

MADE_FROM = b"made from"
TORN = (
    *(pa.ArrowException, OSError, ValueError, TypeError, LookupError),
    *(AttributeError, ArithmeticError, AssertionError, NotImplementedError, RecursionError),
)
"""What comes of a torn footer, or of one that somebody has written: it says itself how its columns are to be made."""


def as_parquet(table: pd.DataFrame, made_from: str = "") -> bytes:
    """The table as the bytes of a Parquet file: the same rows give the same bytes.

    made_from: digest of what it was made from, which it then carries. Without threads: where memory is short, one that cannot
    be started takes the whole process with it.
    """
    buffer = io.BytesIO()
    rows = pa.Table.from_pandas(table, preserve_index=False, nthreads=1)
    if made_from:
        rows = rows.replace_schema_metadata({**rows.schema.metadata, MADE_FROM: made_from.encode()})
    pq.write_table(rows, buffer, compression="zstd", write_page_checksum=True)
    return buffer.getvalue()


def from_parquet(path: Path, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """A table, of which every page that is read matches its checksum; raises StoreError if one does not, or it is torn."""
    try:  # without threads: where memory is short, one that cannot be started is waited for without end
        with reading(path) as plain, pq.ParquetFile(plain, pre_buffer=False, page_checksum_verification=True) as file:
            table: pd.DataFrame = file.read(columns, use_threads=False).to_pandas(use_threads=False)
        if not table.columns.is_unique:
            raise ValueError(f"two columns are called {table.columns[table.columns.duplicated()][0]}")
    except (FileNotFoundError, MemoryError, StoreError):
        raise
    except TORN as error:
        if any(words in str(error) for words in ("allocat", "launch worker thread")):
            raise MemoryError(str(error)) from error
        why = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
        raise StoreError(
            f"{path}: cannot be read ({why}). If it is damaged, delete it, and `foilsweep run` makes it again."
        ) from error
    table.index = pd.RangeIndex(len(table))  # whatever the footer says of it
    return table


def write_table(folder: Path, name: str, table: pd.DataFrame, made_from: str = "") -> None:
    """Write a table as `name`.parquet; made_from: digest of what it was made from."""
    write_whole(folder / f"{name}.parquet", as_parquet(table, made_from))


def made_from(path: Path) -> str:
    """The digest of what a table was made from; '' if it carries none, or cannot be read, which is for its reader to say."""
    try:
        with reading(path) as file:
            found: bytes = (pq.read_schema(file).metadata or {}).get(MADE_FROM, b"")
    except TORN:
        return ""
    return found.decode("ascii", errors="replace")
