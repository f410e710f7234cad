"""The sea of a leader's recorded flights, drawn again, for a page that replays them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.conditions import Condition, list_conditions
from sweep.model.flight import GROWS_FOR
from sweep.model.kernels import sea as column

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results

COLUMNS = ("condition", "amplitude", "wave_x", "wave_y", "omega", "phase")
DIGITS = 7
"""Significant digits of a wave in a page (judgement)."""
APART = 0.3
"""Root mean square difference over the recorded surface's own, beyond which it is another sea (judgement)."""
LEAST_APART = 0.002  # m: a record in calm water differs from nothing by nothing (judgement)


def draw_seas(results: Results) -> dict[int, pd.DataFrame]:
    """The sea of the recorded replicate of each condition that some leader has a record of, or else of all; `COLUMNS`.

    In cm, 1/m, rad/s, rad.

    Elevation = sum of amplitude x cos(wave_x X + wave_y Y - omega t + phase), growing over half of the settling time.
    """
    from sweep.flying.recording import RECORDED_REPLICATE

    recorded = {int(index) for history in results.leaders.values() for index in history["condition"].unique()}
    conditions = [condition for condition in list_conditions(results.campaign) if condition.index in recorded or not recorded]
    return {condition.index: draw_sea(results.campaign, condition, RECORDED_REPLICATE) for condition in conditions}


def sea_table(seas: dict[int, pd.DataFrame], history: pd.DataFrame, settle: float) -> pd.DataFrame:
    """The seas of those conditions whose record shows them, below each other; settle: s, of a flight.

    A record of an older model may show another sea; calm water has no components.
    """
    flights = ((int(str(index)), flight) for index, flight in history.groupby("condition"))
    parts = [seas[index] for index, flight in flights if index in seas and shows(flight, seas[index], settle)]
    whole = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(COLUMNS))
    return whole.assign(**{name: whole[name].map(lambda value: float(f"{value:.{DIGITS}g}")) for name in COLUMNS[1:]})


def draw_sea(campaign: Campaign, condition: Condition, replicate: int) -> pd.DataFrame:
    """The sea of one replicate of a condition as its flights meet it, as `draw_seas` has it."""
    from sweep.campaign.draws import draw_block

    block = draw_block(campaign, condition, replicate)
    waves = block.components
    return pd.DataFrame(
        {
            "condition": condition.index,
            "amplitude": 100.0 * waves[:, column.AMPLITUDE],
            "wave_x": waves[:, column.WAVE_X],
            "wave_y": waves[:, column.WAVE_Y],
            "omega": block.omegas,
            "phase": block.phases,
        }
    )


def shows(flight: pd.DataFrame, sea: pd.DataFrame, settle: float) -> bool:
    """Whether the recorded surface is that of this sea where the craft was; settle: s, of the flight."""
    if not {"x", "y", "surface"} <= set(flight) or flight.empty:
        return False
    off = elevation(sea, flight["x"].to_numpy(), flight["y"].to_numpy(), flight["time"].to_numpy(), settle) - flight["surface"]
    allowed = max(APART * float(np.std(flight["surface"])), LEAST_APART)
    return bool(np.sqrt((off**2).mean()) < allowed)


def elevation(sea: pd.DataFrame, x: np.ndarray, y: np.ndarray, time: np.ndarray, settle: float) -> np.ndarray:
    """The surface at places (m) and times (s), m."""
    grown = np.minimum(time / (GROWS_FOR * settle), 1.0)
    waves = sea[list(COLUMNS[1:])].to_numpy(float)
    heights = np.zeros(len(x))
    for amplitude, wave_x, wave_y, omega, phase in waves:
        heights += 0.01 * amplitude * np.cos(wave_x * x + wave_y * y - omega * time + phase)
    return np.asarray(grown**2 * (3.0 - 2.0 * grown) * heights)
