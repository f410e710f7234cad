"""How steady a design is, for its page: modes over speed, margins, what it makes of waves, and the ride that this foretells."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.draws import water_of
from sweep.linear.prediction import predict_rides, steady_craft
from sweep.linear.reach import Reach, reach
from sweep.linear.ride import transfer, waves_from
from sweep.linear.stability import (
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
WAVE_CHARTS = {"error_chart": ("error", "error over wave height"), "level_chart": ("level", "rise over wave height")}
"""What a page calls the chart of a response: the column of the wave table and its title."""


def tables(results: Results, design: int, craft: Craft) -> dict[str, Any]:
    """What the page sets out: sentences, modes, margins, wave response with the spectra, predicted and flown rides."""
    campaign, water = results.campaign, water_of(results.campaign)
    found = reach(craft, water, campaign.speeds)
    if found is None:
        lists = ("sentences", "margin_headings", "margins", "share_headings", "shares", "rides")
        return {**{name: [] for name in lists}, "modes": pd.DataFrame(), "waves": None}
    speeds = [speed for speed in sorted(set(campaign.speeds)) if found.low <= speed <= found.high][:MOST_SPEEDS]
    rows = stability_table(craft, water, speeds or [found.low])
    modes = mode_table(craft, water, np.linspace(found.low, found.high, ROOT_SPEEDS).tolist())
    return {
        "sentences": _sentences(craft, campaign, found, modes),
        "margin_headings": headings(rows),
        "margins": [[speed_words(row.speed), *row_words(row)] for row in rows],
        "share_headings": share_headings(rows),
        "shares": [[speed_words(row.speed), *share_words(row)] for row in rows],
        "rides": _rides(results, design, craft),
        "modes": _shown(modes, craft.control.rate),
        "waves": _waves(campaign, craft),
    }


def _sentences(craft: Craft, campaign: Campaign, found: Reach, modes: pd.DataFrame) -> list[str]:
    growth = {float(str(speed)): float(rate) for speed, rate in modes.groupby("speed")["growth"].max().items()}
    return [limit_words(stable_spans(craft, water_of(campaign), sorted(growth), growth), found)]


def _shown(modes: pd.DataFrame, rate: float) -> pd.DataFrame:
    """Modes near enough to the line to matter, with what each does; rate of the control code, Hz."""
    near = modes[(modes["growth"] > -FASTEST_FADE) & (modes["frequency"] < 0.5 * SWING_SHARE * rate)]
    return near.assign(said=near["growth"].map(growth_words)).reset_index(drop=True)


def _waves(campaign: Campaign, craft: Craft) -> dict[str, Any] | None:
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
    return {"speed": speed_words(speed), "table": table, "names": list(named), "spectra": _spectra(spectra, hertz)}


def _spectra(spectra: dict[str, Spectrum], hertz: np.ndarray[Any, Any]) -> pd.DataFrame:
    """Shape of every sea's spectrum, its peak at 1."""
    parts = [pd.DataFrame({"frequency": hertz, "sea": name, "share": _shape(each, hertz)}) for name, each in spectra.items()]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["frequency", "sea", "share"])


def _shape(spectrum: Spectrum, hertz: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    density = spectrum.density(2.0 * math.pi * hertz)
    shape: np.ndarray[Any, Any] = np.round(density / density.max(), 4)
    return shape


def _rides(results: Results, design: int, craft: Craft) -> list[dict[str, str | bool]]:
    """Ride-height error of each condition, foretold and flown."""
    conditions = list_conditions(results.campaign)
    foretold = predict_rides(results.campaign, craft, conditions)["ride_height_error"]
    flown = results.flights_of(design).groupby("condition")["ride_height_error"].mean()
    return [
        {
            "condition": condition.name,
            "foretold": response("ride_height_error", float(foretold[condition.index])),
            "flown": response("ride_height_error", float(flown.get(condition.index, math.nan))),
            "off": _off(float(foretold[condition.index]), float(flown.get(condition.index, math.nan))),
        }
        for condition in conditions
        if math.isfinite(foretold[condition.index])
    ]


def _off(foretold: float, flown: float) -> str:
    if not (math.isfinite(flown) and flown > 0.0):
        return ""
    off = 100.0 * (foretold / flown - 1.0)
    return f"{'+' if off > 0.0 else ''}{number(off, 2)} %"
