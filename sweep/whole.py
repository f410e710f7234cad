"""Files that appear under their name only when they are complete and on the disk, and tables that notice damage."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq


class StoreError(Exception):
    """The results folder cannot be used as it is; says why and what would help."""


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole and on the disk, or not there at all."""
    temporary = path.with_name(f".{path.name}.unfinished")
    try:
        with open(temporary, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException as error:
        with suppress(OSError):  # on a folder that has become read-only this fails too
            temporary.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise unwritten(path, error) from error
        raise
    sync_folder(path.parent)


def unwritten(path: Path, error: OSError) -> StoreError:
    """What a full or write-protected disk does not take."""
    return StoreError(
        f"{path}: could not be written ({error.strerror or error}). What has been flown is kept: make room, or let this folder "
        "be written to, and the same command goes on from there."
    )


def write_folder(folder: Path, texts: Mapping[str, str]) -> None:
    """Write a folder of texts, by their paths in it, so that it is there whole and on the disk, or as it was before."""
    fresh, stale = (folder.with_name(f".{folder.name}.{what}") for what in ("unfinished", "old"))
    for left_over in (fresh, stale):
        shutil.rmtree(left_over, ignore_errors=True)
    try:
        for name, text in texts.items():
            (fresh / name).parent.mkdir(parents=True, exist_ok=True)
            (fresh / name).write_text(text, encoding="utf-8", newline="\n")
        for name in texts:  # only now: all but the first then find little left to wait for
            with open(fresh / name, "rb+") as file:
                os.fsync(file.fileno())
        for inner in {(fresh / name).parent for name in texts}:
            sync_folder(inner)
        if folder.exists():
            os.replace(folder, stale)
        os.replace(fresh, folder)
    except OSError as error:
        shutil.rmtree(fresh, ignore_errors=True)
        raise unwritten(folder, error) from error
    sync_folder(folder.parent)
    shutil.rmtree(stale, ignore_errors=True)


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk."""
    if sys.platform == "win32":  # Windows has no handle for a folder, and no need of it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def as_parquet(table: pd.DataFrame) -> bytes:
    """The table as the bytes of a Parquet file: the same rows give the same bytes.

    Without threads: where memory is short, one that cannot be started takes the whole process with it.
    """
    buffer = io.BytesIO()
    rows = pa.Table.from_pandas(table, preserve_index=False, nthreads=1)
    pq.write_table(rows, buffer, compression="zstd", write_page_checksum=True)
    return buffer.getvalue()


def from_parquet(path: Path, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """A table, of which every page that is read matches its checksum; raises StoreError if one does not, or it is torn."""
    try:  # without threads: where memory is short, one that cannot be started is waited for without end
        with pq.ParquetFile(path, pre_buffer=False, page_checksum_verification=True) as file:
            table: pd.DataFrame = file.read(columns, use_threads=False).to_pandas(use_threads=False)
    except (FileNotFoundError, MemoryError):
        raise
    except (pa.ArrowException, OSError, ValueError, TypeError, LookupError) as error:  # what a torn footer is read as
        if any(words in str(error) for words in ("allocat", "launch worker thread")):
            raise MemoryError(str(error)) from error
        why = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
        raise StoreError(
            f"{path}: cannot be read ({why}). If it is damaged, delete it, and `foilsweep run` makes it again."
        ) from error
    return table


def write_table(folder: Path, name: str, table: pd.DataFrame) -> None:
    """Write a table as `name`.parquet."""
    write_whole(folder / f"{name}.parquet", as_parquet(table))
