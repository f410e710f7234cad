"""The legs of a recorded flight along a course: how long each took, how far it went, what it cost."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

COLUMNS = ("leg", "stopped", "begins", "lasts", "path", "energy", "energy_per_metre")


def legs_of(history: pd.DataFrame, shortest: float) -> pd.DataFrame:
    """One row a leg, from 1, in SI: when it begins, how long it lasts, its path over ground, battery energy, energy a metre.

    history: of one flight, rows at even times, with time, leg, stopped, speed and power; none along no course. shortest: path
    under which there is no energy a metre, m: in a stop the craft makes no way.
    """
    flown = history[history["leg"] > 0.0]
    step = float(np.median(np.diff(history["time"]))) if len(history) > 1 else math.nan
    rows = []
    for leg, part in flown.groupby("leg"):
        path, energy = step * float(part["speed"].sum()), step * float(part["power"].sum())
        each = energy / path if path >= shortest else math.nan
        begins, stopped = float(part["time"].iloc[0]), bool(part["stopped"].iloc[0])
        rows.append((int(float(str(leg))), stopped, begins, step * len(part), path, energy, each))
    return pd.DataFrame(rows, columns=list(COLUMNS))
