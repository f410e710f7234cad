"""What pages are made of, and what each of them is: a value that its template reads, and the files beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.flying.replay import draw_seas
from sweep.report.display import Column, design_table
from sweep.report.embed import Files
from sweep.report.log_summary import LogSummary

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results


@dataclass(frozen=True)
class Material:
    """What the pages of a site are made of.

    columns, table: of `design_table`; seas: of the leaders' recorded flights, by condition; logs: what was kept of the water;
    former: the results before a change.
    """

    results: Results
    columns: tuple[Column, ...]
    table: pd.DataFrame
    seas: dict[int, pd.DataFrame]
    logs: LogSummary | None = None
    former: Results | None = None


class Made(NamedTuple):
    """A page as a value for its template, and the files beside it by their path in the site."""

    value: object
    files: Files


class Chart(NamedTuple):
    """A chart on a page: the name of its element, its title, its specification as JSON."""

    id: str
    title: str
    spec: Markup


def gather(results: Results, logs: LogSummary | None = None, former: Results | None = None) -> Material:
    """What the pages of these results are made of."""
    columns, table = design_table(results)
    seas = draw_seas(results) if results.leaders else {}
    return Material(results, tuple(columns), table, seas, logs, former)
