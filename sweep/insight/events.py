"""What went wrong in a recorded flight, and when: the events of MODEL.md read off its time history."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.craft import Craft
from sweep.model.events import (
    DEEP_TIME,
    DRY_TIME,
    HEAVY_LOAD,
    HEAVY_TIME,
    LIGHT_LOAD,
    LIGHT_TIME,
    OUT_DEPTH,
    OUT_TIME,
    REFERENCE_LENGTH,
    in_words,
)
from sweep.model.pack.ground import lowest_part

Flags = NDArray[np.bool_]

KINDS = {
    "touchdown": "the hull touched the water",
    "foil out": f"a foil's tip came under {in_words(OUT_DEPTH)} a chord deep",
    "ventilated": "a foil drew air",
    "stopped": "the code kept the boat still",
    "aground": "the craft touched the ground",
    "ended": "the flight ended here",
}
GROUND = 2e-3  # m: how near the ground the last row tells a touch (judgement)


class Event(NamedTuple):
    """One event: its kind (of KINDS), when it began and ended, s."""

    kind: str
    begin: float
    end: float


def list_events(history: pd.DataFrame, craft: Craft, settle: float, length: float, depth: float = math.inf) -> pd.DataFrame:
    """Every event of a design's recorded flights, with the columns condition, kind, begin and end (s), in order of time.

    history: columns condition, time (s), hull_load (share of the weight), clearance and submergence (m), as far as there are
    any; a column that begins with `ventilated` says with anything over 0 that a foil is; `stopped_by`, what the control code
    keeps the boat still for. settle, length: of a flight, s; what happens before `settle` is not scored and not listed.
    depth: of the water, m, for which it takes keel_height, pitch, roll.
    """
    found = [
        {"condition": int(str(condition)), **event._asdict()}
        for condition, flight in history.groupby("condition")
        for event in sorted(_of_flight(flight, craft, settle, length, depth), key=lambda event: event.begin)
    ]
    return pd.DataFrame(found, columns=["condition", *Event._fields])


def _of_flight(flight: pd.DataFrame, craft: Craft, settle: float, length: float, depth: float) -> Iterator[Event]:
    time = flight["time"].to_numpy(float)
    scale = math.sqrt(max(hull.length for hull in craft.hulls.values()) / REFERENCE_LENGTH)
    flying = foilborne(time, _column(flight, "hull_load"), scale, _column(flight, "stopped") > 0.0)
    scored = time >= settle
    always, aloft = np.ones_like(flying), flying & scored
    yield from _spans("touchdown", time, _under(flight, "clearance", 0.0), flying, scored, DRY_TIME * scale)
    # The record keeps the depth of the shallowest tip, not whose it is: with the smallest chord no event is made up.
    deep = OUT_DEPTH * min(foil.chord for foil in craft.foils.values())
    shallow = _under(flight, "submergence", deep)
    yield from _spans("foil out", time, shallow, _lasting(time, shallow, OUT_TIME * scale), aloft, DEEP_TIME * scale)
    air = [name for name in map(str, flight) if name.startswith("ventilated")]
    if air:
        drawn = np.asarray((flight[air] > 0.0).any(axis=1), dtype=np.bool_)
        yield from _spans("ventilated", time, drawn, always, aloft, 0.0)
    yield from _spans("stopped", time, np.asarray(_column(flight, "stopped_by") > 0.0, dtype=np.bool_), always, scored, 0.0)
    step = float(np.median(np.diff(time))) if len(time) > 1 else 0.0
    if len(time) and time[-1] < length - 2.0 * step:
        yield Event("aground" if _touched(flight, craft, depth) else "ended", float(time[-1]), float(time[-1]))


def _touched(flight: pd.DataFrame, craft: Craft, depth: float) -> bool:
    """Whether the craft's lowest part would be at the ground one row after the last."""
    if not math.isfinite(depth):
        return False
    ends = flight.tail(2)
    lowest = lowest_part(craft, *(ends[name].to_numpy(float) for name in ("keel_height", "pitch", "roll")))
    return bool(lowest[-1] + max(lowest[-1] - lowest[0], 0.0) > depth - GROUND)


def _under(flight: pd.DataFrame, name: str, limit: float) -> Flags:
    return np.asarray(_column(flight, name) < limit, dtype=np.bool_)


def _column(flight: pd.DataFrame, name: str) -> NDArray[np.float64]:
    """A column, or what never makes an event."""
    if name in flight:
        return flight[name].to_numpy(float)
    return np.full(len(flight), np.nan)


def foilborne(time: NDArray[np.float64], load: NDArray[np.float64], scale: float, stopped: Flags) -> Flags:
    """Whether the foils carry the craft: from `LIGHT_TIME` under `LIGHT_LOAD` on until `HEAVY_TIME` over `HEAVY_LOAD`.

    Never while it is told to lie afloat.
    """
    flying, state = np.ones(len(time), dtype=np.bool_), True
    light = heavy = -math.inf
    for at, (now, share, down) in enumerate(zip(time, load, stopped, strict=True)):
        light = light if share < LIGHT_LOAD and not down else now
        heavy = heavy if share > HEAVY_LOAD else now
        if down or (state and now - heavy >= HEAVY_TIME * scale and heavy > -math.inf):
            state = False
        elif not state and now - light >= LIGHT_TIME * scale:
            state = True
        flying[at] = state
    return flying


def _lasting(time: NDArray[np.float64], bad: Flags, least: float) -> Flags:
    """Where `bad` has held for `least` s on end."""
    since = np.maximum.accumulate(np.where(bad, -np.inf, time))  # the last time that was not bad
    first = np.searchsorted(time, since, side="right")
    return np.asarray(bad & (time - time[np.minimum(first, len(time) - 1)] >= least), dtype=np.bool_)


def _spans(kind: str, time: NDArray[np.float64], bad: Flags, starts: Flags, counts: Flags, quiet: float) -> Iterator[Event]:
    """The stretches of `bad`, those less than `quiet` s apart taken together, that count where they begin.

    One begins where `starts` holds.
    """
    begin, last = math.nan, -math.inf
    counted = False
    for now, is_bad, may_start, counts_now in zip(time.tolist(), bad, starts, counts, strict=True):
        if is_bad:
            last = now
            if math.isnan(begin) and may_start:
                begin, counted = now, bool(counts_now)
        elif not math.isnan(begin) and now - last >= quiet:
            if counted:
                yield Event(kind, begin, last)
            begin = math.nan
    if counted and not math.isnan(begin):
        yield Event(kind, begin, last)
