"""How steady a design is, for its page: modes over speed, margins, what it makes of waves, and the ride that this foretells."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.draws import water_of
from sweep.linear.prediction import predict_rides, steady_craft
from sweep.linear.reach import Reach, reach
from sweep.linear.ride import transfer, waves_from
from sweep.linear.stability import (
    UNKNOWN_LAW,
    growth_words,
    headings,
    limit_words,
    row_words,
    share_headings,
    share_words,
    speed_words,
)
from sweep.linear.table import SWING_SHARE, mode_table, stability_table, stable_spans
from sweep.model.physics.spectra import Spectrum
from sweep.report.charts.stability import root_paths
from sweep.report.charts.stability import wave_response as response_chart
from sweep.report.embed import Files, as_csv, as_spec, data_script
from sweep.report.page import Chart
from sweep.words.numbers import number
from sweep.words.responses import response

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results

ROOT_SPEEDS, MOST_SPEEDS = 11, 4  # drawn, and listed: judgement
FASTEST_FADE = 15.0
"""1/s: what fades faster is out of the picture."""
MOST_HEADINGS, FREQUENCIES = 4, 90  # drawn: judgement


class WaveChart(NamedTuple):
    """A chart of what the boat makes of waves: a column of the wave table, and what is said of it."""

    column: str
    axis: str
    id: str
    title: str
    note: str


WAVE_CHARTS = (
    WaveChart(
        "error",
        "error over wave height",
        "wave-error",
        "Ride-height error per wave height",
        "0: it follows the surface; 1: it flies level through the wave. Shaded: the spectra of the campaign’s seas, each "
        "scaled to its own peak.",
    ),
    WaveChart("level", "rise over wave height", "wave-level", "Rise and fall of the boat per wave height", ""),
)


class WaveResponse(NamedTuple):
    """What the boat makes of waves at one speed, a set of rows a heading, and the shape of each sea's spectrum."""

    speed: str
    table: pd.DataFrame
    names: list[str]
    spectra: pd.DataFrame


class Cell(NamedTuple):
    """A cell of a table: what it says, and what that means."""

    said: str
    meaning: str


class Margins(NamedTuple):
    """What each loop has to spare at a speed."""

    speed: str
    cells: list[Cell]


class Foretold(NamedTuple):
    """The ride-height error of a condition, foretold for small motions and flown."""

    condition: str
    foretold: str
    flown: str
    off: str


class NotedChart(NamedTuple):
    """A chart with a note and a download under it."""

    chart: Chart
    note: str
    csv: str


@dataclass(frozen=True)
class Steadiness:
    """How steady a design is: its modes, what its loops have to spare, what it makes of waves; without margins: no trim.

    shares: how far its gains may go, a row a speed; rides: what small motions foretell of each condition.
    """

    sentences: list[str]
    modes: NotedChart | None
    margin_headings: list[str]
    margins: list[Margins]
    share_headings: list[str]
    shares: list[list[str]]
    waves: list[NotedChart]
    rides: list[Foretold]


class Steady(NamedTuple):
    """How steady a design is, the scripts that its charts take their data from, and its files."""

    steadiness: Steadiness
    data: list[str]
    files: Files


def steady_of(results: Results, design: int, craft: Craft) -> Steady:
    """How steady a design is."""
    campaign, water = results.campaign, water_of(results.campaign)
    found = reach(craft, water, campaign.speeds)
    if found is None:
        return Steady(Steadiness([], None, [], [], [], [], [], []), [], {})
    if craft.control.traits.own:
        return Steady(Steadiness([UNKNOWN_LAW], None, [], [], [], [], [], []), [], {})
    speeds = [speed for speed in sorted(set(campaign.speeds)) if found.low <= speed <= found.high][:MOST_SPEEDS]
    rows = stability_table(craft, water, speeds or [found.low])
    all_modes = mode_table(craft, water, np.linspace(found.low, found.high, ROOT_SPEEDS).tolist())
    modes, waves = shown_modes(all_modes, craft.control.rate), wave_response(campaign, craft)
    tables = {f"modes-{design}": modes} if len(modes) else {}
    tables |= {f"waves-{design}": waves.table} if waves else {}
    steadiness = Steadiness(
        sentences=_sentences(craft, campaign, found, all_modes),
        modes=_mode_chart(modes, f"modes-{design}") if len(modes) else None,
        margin_headings=headings(rows),
        margins=[Margins(speed_words(row.speed), [_cell(words) for words in row_words(row)]) for row in rows],
        share_headings=share_headings(rows),
        shares=[[speed_words(row.speed), *share_words(row)] for row in rows],
        waves=_wave_charts(waves, f"waves-{design}") if waves else [],
        rides=_rides(results, design, craft),
    )
    files: Files = {}
    for name, table in tables.items():
        files |= data_script(name, table) | as_csv(name, table)
    return Steady(steadiness, list(tables), files)


def _cell(words: str) -> Cell:
    said, _, meaning = words.partition(", ")
    return Cell(said, meaning)


def _mode_chart(modes: pd.DataFrame, name: str) -> NotedChart:
    slow, fast = (speed_words(float(speed)) for speed in (modes["speed"].min(), modes["speed"].max()))
    note = (
        "Each sign is a mode: one way in which the boat swings or drifts by itself after a knock, named after the motion in "
        f"which it shows most, at one speed ({slow} the darkest, {fast} the brightest). The further left, the sooner it dies "
        "out; right of the line it grows."
    )
    return NotedChart(Chart("modes", "Modes at each speed", as_spec(root_paths(modes), name)), note, name)


def _wave_charts(waves: WaveResponse, name: str) -> list[NotedChart]:
    charts = []
    for column, axis, id_, title, note in WAVE_CHARTS:
        tall = waves.spectra.assign(share=waves.spectra["share"] * float(waves.table[column].max()))
        drawn = response_chart(waves.table, column, axis, waves.names, tall)
        charts.append(NotedChart(Chart(id_, f"{title}, at {waves.speed}", as_spec(drawn, name)), note, name))
    return charts


def _sentences(craft: Craft, campaign: Campaign, found: Reach, modes: pd.DataFrame) -> list[str]:
    growth = {float(str(speed)): float(rate) for speed, rate in modes.groupby("speed")["growth"].max().items()}
    return [limit_words(stable_spans(craft, water_of(campaign), sorted(growth), growth), found)]


def shown_modes(modes: pd.DataFrame, rate: float) -> pd.DataFrame:
    """Modes near enough to the line to matter, with what each does; rate of the control code, Hz."""
    near = modes[(modes["growth"] > -FASTEST_FADE) & (modes["frequency"] < 0.5 * SWING_SHARE * rate)]
    said = [f"{motion}: {growth_words(growth)}" for motion, growth in zip(near["motion"], near["growth"], strict=True)]
    return near.assign(said=said).reset_index(drop=True)


def wave_response(campaign: Campaign, craft: Craft) -> WaveResponse | None:
    """Transfer functions at the middle speed of the campaign, one set of rows a heading, and the spectra of its seas."""
    speeds = sorted(set(campaign.speeds))
    speed = speeds[len(speeds) // 2]
    linear = steady_craft(campaign, craft, speed)
    spectra = {sea.name: sea.spectrum for sea in campaign.seas if sea.spectrum is not None}
    if linear is None:
        return None
    top = max([1.5, *(2.5 / spectrum.peak_period for spectrum in spectra.values())])
    hertz = np.linspace(0.15, min(top, 3.0), FREQUENCIES)
    named = {heading.name: heading.angle for heading in campaign.headings[:MOST_HEADINGS]}
    parts = []
    for name, angle in named.items():
        made = transfer(linear, waves_from(2.0 * math.pi * hertz, angle, campaign.water.depth))
        amplitudes = {"error": np.abs(made.ride_height), "level": np.abs(made.level_height)}
        parts.append(pd.DataFrame({"frequency": hertz, "heading": name, **amplitudes}))
    table = pd.concat(parts, ignore_index=True).round(4)
    return WaveResponse(speed_words(speed), table, list(named), _spectra(spectra, hertz))


def _spectra(spectra: dict[str, Spectrum], hertz: np.ndarray[Any, Any]) -> pd.DataFrame:
    """Shape of every sea's spectrum, its peak at 1."""
    parts = [pd.DataFrame({"frequency": hertz, "sea": name, "share": _shape(each, hertz)}) for name, each in spectra.items()]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["frequency", "sea", "share"])


def _shape(spectrum: Spectrum, hertz: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    density = spectrum.density(2.0 * math.pi * hertz)
    shape: np.ndarray[Any, Any] = np.round(density / density.max(), 4)
    return shape


def _rides(results: Results, design: int, craft: Craft) -> list[Foretold]:
    """Ride-height error of each condition, foretold and flown."""
    conditions = list_conditions(results.campaign)
    foretold = predict_rides(results.campaign, craft, conditions)["ride_height_error"]
    flown = results.flights_of(design).groupby("condition")["ride_height_error"].mean()
    return [
        Foretold(
            condition.name,
            response("ride_height_error", float(foretold[condition.index])),
            response("ride_height_error", float(flown.get(condition.index, math.nan))),
            _off(float(foretold[condition.index]), float(flown.get(condition.index, math.nan))),
        )
        for condition in conditions
        if math.isfinite(foretold[condition.index])
    ]


def _off(foretold: float, flown: float) -> str:
    if not (math.isfinite(flown) and flown > 0.0):
        return ""
    off = 100.0 * (foretold / flown - 1.0)
    return f"{'+' if off > 0.0 else ''}{number(off, 2)} %"
