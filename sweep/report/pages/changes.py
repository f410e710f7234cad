"""What to try next on the leading design, and how much worse its parts may be, for its page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.flying.variants import BALANCE, NEXT, POORER
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.limits import share_bounds
from sweep.words.factors import factor_name
from sweep.words.numbers import count, number, spelled
from sweep.words.phrases import sentence

if TYPE_CHECKING:
    from sweep.results.store import Results

COSTS = 0.1
"""Share of the leader's score that a poorer part may cost and still do."""
SPOILT = 0.05
"""Share of flights more that may have a bad event, and it still does."""


class Step(NamedTuple):
    """A small change of one factor or two: what was foretold of it, what was flown, and its share of clean flights."""

    factor: str
    change: str
    predicted: str
    flown: str
    clean: str


class Poorer(NamedTuple):
    """A property of a part: what the leader has, the poorest that still does, and the next one tried."""

    property: str
    has: str
    does: str
    beyond: str


@dataclass(frozen=True)
class Changes:
    """What to try next on the leading design, and how much worse its parts may be.

    caution: what so few flights cannot show of a poorer part; balance: how far its weight may be moved, '' if that was not
    flown; behind: what was flown for all this.
    """

    sentences: list[str]
    steps: list[Step]
    poorer: list[Poorer]
    caution: str
    balance: str
    behind: str


def changes_of(results: Results, design: int) -> Changes | None:
    """The small changes and the poorer parts of a design; None for one whose changes were not flown."""
    changes = results.changes
    if changes.empty or int(changes["leader"].iloc[0]) != design:
        return None
    score = float(results.standings.loc[results.standings["design"] == design, "score"].iloc[0])
    groups = {str(name): rows for name, rows in changes.groupby("group", sort=False)}
    steps = groups.get(NEXT, changes.head(0))
    return Changes(
        sentences=list(_next_sentences(steps)) if len(steps) else [],
        steps=_steps(steps),
        poorer=_poorer(groups.get(POORER, changes.head(0)), score),
        caution=_caution(int(changes["flights"].iloc[0])),
        balance=_balance(groups.get(BALANCE, changes.head(0)), score),
        behind=_behind(changes, (results.manifest.changes or {}).get("conditions"), len(results.conditions)),
    )


def _behind(changes: pd.DataFrame, some: int | None, all_: int) -> str:
    """How the variants were flown; some: in so many of all conditions, None for all."""
    flights = int(changes["flights"].iloc[0])
    where, over = "", ""
    if some is not None and some < all_:
        where = f"in {some} of the {all_} conditions, spread evenly over them, and "
        over = " In the other conditions a change may gain more or less."
    return (
        f"Each variant was flown {count(flights, 'time', 'times')}, {where}in the same waves as the leader. The standings did "
        f"not use these waves. The intervals of flown gains hold together, for all rows of a table, with {CONFIDENCE_SAID} "
        f"confidence.{over}"
    )


def _caution(flights: int) -> str:
    """How many flights may fail behind so many clean ones."""
    most = float(share_bounds(np.zeros(1), np.array([float(flights)]))[1][0])
    return (
        f"So few flights do not show that a part is safe: behind {count(flights, 'clean flight', 'clean flights')} of "
        f"{spelled(flights)} up to {number(100.0 * most, 2)} % of all flights may be unclean."
    )


def plus_minus(centre: float, low: float, high: float) -> str:
    """'0.1 ± 0.05', the second number without a sign of its own."""
    half = (high - low) / 2.0
    return number(centre, 2) + (f" ± {number(half, 2)}" if np.isfinite(half) else "")


def _steps(rows: pd.DataFrame) -> list[Step]:
    """The changes that were foretold to help, or not, with what was flown."""
    return [
        Step(
            _named(row["label"]),
            f"{row['was']} → {row['becomes']}",
            number(row["predicted"], 2),
            plus_minus(row["gain"], row["gain_low"], row["gain_high"]),
            _clean(row),
        )
        for row in rows.to_dict("records")
    ]


def _clean(row: dict[Any, Any]) -> str:
    return f"{100 * row['clean']:.0f} %, was {100 * row['clean_before']:.0f} %"


def _next_sentences(rows: pd.DataFrame) -> Iterator[str]:
    alone = rows[~rows["label"].str.contains(" and ")]
    first: Any = alone.iloc[int(alone["predicted"].argmax())]
    best: Any = rows.iloc[int(rows["gain"].argmax())]
    if first["predicted"] <= 0.0:
        yield "From the designs near it, no small change of one factor is predicted to help."
    else:
        yield f"{_change(first)}: predicted {number(first['predicted'], 2)} better, flown {_flown(first)}."
    if best.name != first.name:
        yield f"The best of all changes flown. {_change(best)}: {_flown(best)}."
    if not (rows["gain_low"] > 0.0).any():
        yield "No change is surely better than the design as it is: no design near it is known to be better."


def _named(labels: str) -> str:
    """What one factor or property is called, or two, which the table joins by 'and'."""
    return " and ".join(factor_name(label) for label in labels.split(" and "))


def _change(row: Any) -> str:
    return f"{sentence(_named(row['label']))} from {row['was']} to {row['becomes']}"


def _how(gain: float, half: float) -> str:
    """'0.1 ± 0.05 better'."""
    interval = f" ± {number(half, 2)}" if np.isfinite(half) else ""
    return f"{number(abs(gain), 2)}{interval} {'better' if gain >= 0.0 else 'worse'}"


def _flown(row: Any) -> str:
    sure = "" if row["gain_low"] > 0.0 or row["gain_high"] < 0.0 else ", which may be chance"
    return f"{_how(row['gain'], (row['gain_high'] - row['gain_low']) / 2.0)}{sure}"


def still_does(rows: pd.DataFrame, score: float) -> Any:
    """Whether each row surely costs less than `COSTS` of the score, and spoils at most `SPOILT` of the flights more."""
    return (rows["gain_low"] >= -COSTS * score) & (rows["clean"] >= rows["clean_before"] - SPOILT)


def _poorer(rows: pd.DataFrame, score: float) -> list[Poorer]:
    """By property: what the leader has, the poorest that was tried and still does, what the next one costs."""
    found: list[Poorer] = []
    for label, group in rows.groupby("label", sort=False):
        does = still_does(group, score).to_numpy()
        steps = int(np.argmin(does)) if not does.all() else len(does)
        least = group["becomes"].iloc[steps - 1] if steps else "no poorer than it has"
        if steps == len(does):
            beyond = "none poorer was tried"
        else:
            row = group.iloc[steps]
            beyond = f"{row['becomes']}: {_flown(row)}; clean {_clean(row.to_dict())}"
        found.append(Poorer(_named(str(label)), str(group["was"].iloc[0]), str(least), beyond))
    return found


def _balance(rows: pd.DataFrame, score: float) -> str:
    """How far the weight may be moved, in words."""
    if rows.empty:
        return ""
    moved = _centimetres(rows["becomes"]) - _centimetres(rows["was"])
    does = still_does(rows, score).to_numpy()
    aft, fore = _reach(-moved, does), _reach(moved, does)
    return (
        f"By the same rule the centre of gravity of its body may move aft by {aft}, and forward by {fore}; tried up "
        f"to {number(10 * float(np.abs(moved).max()), 2)} mm either way."
    )


def _centimetres(texts: pd.Series) -> np.ndarray:
    return texts.str.removesuffix(" cm").astype(float).to_numpy()


def _reach(moved: np.ndarray, does: np.ndarray) -> str:
    """The farthest of one side before the first that does not."""
    order = [at for at in np.argsort(moved) if moved[at] > 0.0]
    far = 0.0
    for at in order:
        if not does[at]:
            break
        far = float(moved[at])
    return f"{number(10 * far, 2)} mm" if far else "none of the steps tried"
