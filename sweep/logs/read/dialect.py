"""How a log is written: format, encoding, separators, headings, and the layout of packed records."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.problems import wrong

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": r"\s+", "bar": "|"}
FORMATS = {
    "csv": "csv",
    "txt": "csv",
    "tsv": "csv",
    "log": "csv",
    "dat": "csv",
    "jsonl": "json-lines",
    "ndjson": "json-lines",
    "json": "json-lines",
    "parquet": "parquet",
    "arrow": "arrow",
    "feather": "arrow",
    "bin": "packed",
}
"""The format that a file's name ends on; any other is taken as csv."""
PACKED_TYPES = ("u1", "i1", "u2", "i2", "u4", "i4", "u8", "i8", "f4", "f8")


class Layout(Part):
    """How packed records are laid out: what numpy calls a structured type, without padding."""

    fields: Annotated[tuple[str, ...], Field(min_length=1, max_length=500)] = Field(
        description=f"name and type of each number in turn, as 'roll i2'; types: {', '.join(PACKED_TYPES)}"
    )
    order: Literal["little", "big"] = Field("little", description="which byte of a number comes first: its low or its high end")
    header: int = Field(0, ge=0, le=10_000_000, description="bytes before the first record")

    @model_validator(mode="after")
    def _readable(self) -> Self:
        names = []
        for number, text in enumerate(self.fields):
            words = text.split()
            if len(words) != 2 or words[1] not in PACKED_TYPES:
                raise wrong(f"a name and one of {', '.join(PACKED_TYPES)}, as 'roll i2'", repr(text), ("fields", number))
            names.append(words[0])
        if len(set(names)) < len(names):
            raise wrong("every name once", "a name twice", ("fields",))
        return self

    def record(self) -> np.dtype:
        """One record."""
        sign = "<" if self.order == "little" else ">"
        return np.dtype([(name, sign + kind) for name, kind in (text.split() for text in self.fields)])


class Dialect(Part):
    """How the rows of a file are written. A file that ends on .gz or .zip is unpacked on the way."""

    format: Literal["csv", "json-lines", "parquet", "arrow", "packed"] | None = Field(
        None, description="left out: by the file's name (.csv, .jsonl, .parquet, .arrow, .bin)"
    )
    encoding: Literal["utf-8", "utf-16", "latin-1"] | None = Field(
        None, description="of its text; left out: by the mark of order of bytes at its begin, or else utf-8"
    )
    delimiter: Literal["comma", "semicolon", "tab", "space", "bar"] = Field("comma", description="between the cells of a row")
    decimal: Literal["point", "comma"] = Field("point", description="before the decimals of a number")
    skip: int = Field(0, ge=0, le=1000, description="lines before the headings")
    headings: bool = Field(True, description="false where no line has the names of the columns: they are 1, 2, 3 ... then")
    under: int = Field(0, ge=0, le=1000, description="lines between headings and rows, as one with units")
    comments: str = Field("", max_length=4, description="what a line begins with that is no row, as #")
    layout: Layout | None = Field(None, description="of packed records")

    @model_validator(mode="after")
    def _laid_out(self) -> Self:
        if self.format == "packed" and self.layout is None:
            raise wrong("a layout beside packed records, as layout: {fields: [t u4, roll i2]}", "none", ("format",))
        return self

    @property
    def separator(self) -> str:
        """The delimiter, as pandas takes it."""
        return DELIMITERS[self.delimiter]

    @property
    def point(self) -> str:
        """The decimal mark."""
        return "." if self.decimal == "point" else ","

    @property
    def lines_before(self) -> int:
        """Lines before the first row."""
        return self.skip + self.headings + self.under

    def format_of(self, path: Path) -> str:
        """The format of a file."""
        endings = [ending.lstrip(".").lower() for ending in path.suffixes]
        last = next((ending for ending in reversed(endings) if ending not in ("gz", "zip")), "csv")
        return self.format or FORMATS.get(last, "csv")
