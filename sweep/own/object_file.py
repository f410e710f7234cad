"""What an object file holds: its sections and symbols, read by the ELF standard (64 bits, least byte first)."""

from __future__ import annotations

import struct
from typing import NamedTuple

ALLOCATED, WRITABLE = 0x2, 0x1  # flags of a section: SHF_ALLOC, SHF_WRITE
SYMBOLS = 2  # type of a section: SHT_SYMTAB
INDIRECT = 10  # type of a symbol: STT_GNU_IFUNC, whose code runs as it is loaded
GLOBAL, WEAK = 1, 2  # bindings


class Section(NamedTuple):
    """Name, type, flags, size in bytes; where it stands in the file; the other section that it belongs to."""

    name: str
    kind: int
    flags: int
    offset: int
    size: int
    link: int


class Symbol(NamedTuple):
    """Name, type, binding, the number of its section (0: it is imported)."""

    name: str
    kind: int
    binding: int
    section: int


class NotAnObjectError(ValueError):
    """The file is no object file of this kind."""


def sections_of(data: bytes) -> list[Section]:
    """Raises NotAnObjectError."""
    if data[:6] != b"\x7fELF\x02\x01":
        raise NotAnObjectError
    first, size, count, names = struct.unpack_from("<40xQ10xHHH", data)
    rows = [struct.unpack_from("<IIQQQQII", data, first + i * size) for i in range(count)]
    texts = rows[names][4]
    return [Section(_text(data, texts + row[0]), row[1], row[2], row[4], row[5], row[6]) for row in rows]


def symbols_of(data: bytes) -> list[Symbol]:
    """Raises NotAnObjectError."""
    found, sections = [], sections_of(data)
    for section in sections:
        if section.kind != SYMBOLS:
            continue
        texts = sections[section.link].offset
        for at in range(section.offset + 24, section.offset + section.size, 24):
            name, info, _, index = struct.unpack_from("<IBBH", data, at)
            found.append(Symbol(_text(data, texts + name), info & 15, info >> 4, index))
    return found


def _text(data: bytes, at: int) -> str:
    return data[at : data.index(b"\0", at)].decode("utf-8", "replace")
