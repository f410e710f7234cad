"""Tables and charts as a page under file:// can take them in: scripts that assign data, CSV beside them, specifications."""

from __future__ import annotations

import functools
import hashlib
import json
import re
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from importlib import metadata
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from altair.utils import schemapi
from markupsafe import Markup

from sweep.flying.memory import OUT_OF_MEMORY
from sweep.model.compiled import cache_folder
from sweep.results.plain_files import StoreError, write_whole
from sweep.words.plain_text import TURNING, csv_text

Files = dict[str, str]
MOST_DECIMALS = 6  # of a number that is written as a step: judgement

_UNTURNED = str.maketrans(dict.fromkeys(TURNING, "\ufffd"))
_TURNING_IN_JSON = re.compile(r"(\\\\)|\\u(?:" + "|".join(f"{ord(sign):04x}" for sign in TURNING) + ")")


@functools.cache
def chart_library() -> str:
    """Vega, Vega-Lite and their embedder as one script; wrapped, since its many top-level names would meet the pages' own.

    It is kept beside the machine code: packing it takes seconds, and more memory than all the rest of a site. Raises
    MemoryError if there is too little.
    """
    folder, version = cache_folder(), alt.SCHEMA_VERSION.removeprefix("v").rpartition(".")[0]
    if folder is None:
        return _packed(version)
    place = Path(folder).with_name(f"charts-{version}-{metadata.version('vl-convert-python')}.js")
    with suppress(OSError, ValueError):
        sum_line, _, kept = place.read_bytes().decode().partition("\n")
        if sum_line == _checksum(kept):
            return kept
    script = _packed(version)
    with suppress(StoreError, OSError):
        write_whole(place, f"{_checksum(script)}\n{script}".encode())
    return script


def _checksum(script: str) -> str:
    return hashlib.sha256(script.encode()).hexdigest()


def _packed(version: str) -> str:
    """The engine that packs it runs in a process of its own, which it takes with it where memory is short."""
    code = "import sys, vl_convert; sys.stdout.buffer.write(vl_convert.javascript_bundle(vl_version=sys.argv[1]).encode())"
    made = subprocess.run([sys.executable, "-P", "-c", code, version], capture_output=True, check=False)
    if made.returncode:
        said = made.stderr.decode(errors="replace")
        if made.returncode < 0 or any(words in said for words in ("MemoryError", "out of memory", *OUT_OF_MEMORY)):
            raise MemoryError("packing the charts' library")
        raise RuntimeError(f"The charts' library cannot be packed: {said}")
    return f"(function () {{{made.stdout.decode()}}})();\n"


def straight(value: Any) -> Any:
    """A text whose direction nothing turns, so that no name of a campaign reorders the words beside it; others as they are."""
    return value.translate(_UNTURNED) if isinstance(value, str) else value


def as_json(value: Any) -> Markup:
    """JSON that may stand inside a script element: it holds no '<'; its texts are `straight`."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    return Markup(_TURNING_IN_JSON.sub(lambda found: found[1] or "\\ufffd", text))


def data_script(name: str, table: pd.DataFrame, called: str = "", stepped: bool = False) -> Files:
    """The table as a script that assigns its columns: a page under file:// may not read a JSON file.

    called: what the page's charts call the table, if not by the name of the file; stepped: columns of numbers as their steps,
    which take half the room where a row is near the one before.
    """
    columns = {str(key): _steps(table[key]) if stepped else [_plain(value) for value in table[key]] for key in table}
    text = as_json(columns)
    return {f"data/{name}.js": f"(window.foilsweep ??= {{ data: {{}} }}).data[{as_json(called or name)}] = {text};\n"}


def _steps(values: pd.Series) -> dict[str, Any]:
    """Numbers of at most `MOST_DECIMALS` decimals as whole steps from each known one to the next, 1 / `of` large."""
    numbers, known = values.to_numpy(float), values.notna().to_numpy()
    places = (at for at in range(MOST_DECIMALS) if np.array_equal(np.round(numbers[known], at), numbers[known]))
    of = 10 ** next(places, MOST_DECIMALS)
    steps = np.diff(np.round(numbers[known] * of).astype(int), prepend=0)
    written: list[int | None] = [None] * len(numbers)
    for at, step in zip(np.flatnonzero(known), steps.tolist(), strict=True):
        written[at] = step
    return {"of": of, "by": written}


def _plain(value: Any) -> Any:
    """A value for JSON: null for what is not known, whole numbers without a point."""
    if isinstance(value, float):
        if value != value:
            return None
        return int(value) if value.is_integer() else value
    return value


def as_csv(name: str, table: pd.DataFrame, headings: dict[str, str] | None = None) -> Files:
    """The table as CSV, of which no spreadsheet takes anything for a formula."""
    return {f"data/{name}.csv": csv_text(table.rename(columns=headings or {}))}


def specification(chart: alt.TopLevelMixin, data: str) -> dict[str, Any]:
    """A chart's specification with its data left to the script of that name; layers may name others of their own."""
    named: Any = chart
    given, named.data = named.data, alt.NamedData(data)  # not in a copy: Altair would copy all that stands within
    try:
        with alt.theme.enable("none"):
            made: dict[str, Any] = named.to_dict(validate=schemapi.DEBUG_MODE)  # as its parts are, or are not
    finally:
        named.data = given
    return made


def as_spec(chart: alt.TopLevelMixin, data: str) -> Markup:
    """The specification as JSON for a page."""
    return as_json(specification(chart, data))


def with_signals(spec: Mapping[str, Any], values: Mapping[str, Any]) -> dict[str, Any]:
    """The same specification, its signals at these values."""
    params = [{**param, "value": values[param["name"]]} if param["name"] in values else param for param in spec["params"]]
    return {**spec, "params": params}
