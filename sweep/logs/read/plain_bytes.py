"""The bytes of a log as a plain file: unpacked, and as text in UTF-8 without a mark at its begin."""

from __future__ import annotations

import codecs
import gzip
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, BinaryIO, cast

from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.read.dialect import Dialect

PIECE = 1_000_000
"""Bytes that are unpacked at a time (judgement)."""
MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


def refusal(path: Path, found: str, wanted: str) -> CampaignError:
    """One problem of a whole file."""
    return CampaignError([Problem(str(path), 0, 0, "", found, wanted)])


@contextmanager
def plain_bytes(path: Path, dialect: Dialect, text: bool = True) -> Iterator[tuple[BinaryIO, float]]:
    """A stream of a log that can be wound back, and bytes of the file itself for each of its bytes.

    text: whether it is text, which is then in UTF-8. Memory does not grow with the log: what must be unpacked or encoded anew
    goes through a temporary file. Raises CampaignError if the file cannot be read so.
    """
    try:
        with path.open("rb") as stream, _unpacked(path, stream) as unpacked:
            first = unpacked.read(4)
            unpacked.seek(0)
            encoding = _encoding(first, dialect) if text else None
            if unpacked is stream and encoding is None:
                yield cast(BinaryIO, stream), 1.0
                return
            with TemporaryFile() as plain:
                size = _copy(unpacked, plain, encoding)
                plain.seek(0)
                yield cast(BinaryIO, plain), path.stat().st_size / max(size, 1)
    except OSError as error:
        raise refusal(path, f"a file that cannot be read ({error.strerror or error})", "a log") from error
    except (EOFError, zlib.error, zipfile.BadZipFile) as error:
        raise refusal(path, f"a packed file that is broken ({error})", "a whole .gz or .zip") from error
    except UnicodeError as error:
        wanted = "its encoding in the mapping: utf-8, utf-16 or latin-1"
        raise refusal(path, f"text that cannot be read ({str(error)[:80]})", wanted) from error


@contextmanager
def _unpacked(path: Path, stream: IO[bytes]) -> Iterator[IO[bytes]]:
    first = stream.read(4)
    stream.seek(0)
    if first.startswith(b"\x1f\x8b"):
        with gzip.GzipFile(fileobj=stream) as unpacked:
            yield unpacked  # type: ignore[misc]
    elif first == b"PK\x03\x04":
        with zipfile.ZipFile(stream) as archive:
            files = [each for each in archive.infolist() if not each.is_dir()]
            if len(files) != 1:
                raise refusal(path, f"{len(files)} files in it", "a .zip with one log in it")
            with archive.open(files[0]) as unpacked_file:
                yield unpacked_file
    else:
        yield stream


def _encoding(first: bytes, dialect: Dialect) -> str | None:
    """What to decode, or None where it is UTF-8 already."""
    marked = next((name for mark, name in MARKS.items() if first.startswith(mark)), None)
    if marked is not None:
        return marked
    return {"utf-16": "utf-16-le", "latin-1": "cp1252"}.get(dialect.encoding or "")


def _copy(source: IO[bytes], target: IO[bytes], encoding: str | None) -> int:
    errors = "replace" if encoding == "cp1252" else "strict"
    decoder = codecs.getincrementaldecoder(encoding)(errors) if encoding else None
    size = 0
    while piece := source.read(PIECE):
        size += target.write(decoder.decode(piece).encode() if decoder else piece)
    if decoder:
        size += target.write(decoder.decode(b"", final=True).encode())
    return size
