"""Demo logs, made by the model: a hidden variant of the demo craft, with numbers unlike its craft file's and faulty sensors.

Nothing here comes from the water, and every page and listing made of it says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.campaign.text.resources import shipped
from sweep.logs.compare.simulated_log import SETTLE, fly_aboard
from sweep.logs.fit.numbers import changed
from sweep.logs.read.channels import Record, Series
from sweep.model.block import make_block
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.water import fresh_water
from sweep.model.physics.waves import draw_components, random_amplitudes
from sweep.results.plain_files import write_whole

HIDDEN = {"lift": 0.93, "drag": 1.2, "range_lag": 0.08, "range_noise": 0.004}
"""The numbers of the hidden craft that its craft file does not have (judgement); a fit should find them."""

# A made-up day: all of it judgement
FAULTS = {"rangefinders.dropout": 0.01, "rangefinders.spikes": 0.003}
SETUPS = {"as it stands": 1.0, "firm height": 1.9}  # times the gain of height
SPEED, DEPTH, BEARING = 4.0, 4.0, math.radians(240.0)  # m/s, m, of the waves by the compass
PASS = 70.0
"""s, of a pass (judgement)."""
ROUNDS = 2  # of passes with each set-up
CALMING = (0.060, 0.052, 0.047, 0.043)  # m: the chop dies down through the afternoon
PERIODS = (1.15, 1.12, 1.08, 1.05)  # s, with it
ROW_RATE = 100.0  # rows a second of the CSV


class _Leg(NamedTuple):
    """One pass: heading of the waves against the craft's way, rad, and its compass course."""

    waves: float
    course: float


LEGS = (_Leg(math.pi, BEARING), _Leg(0.0, BEARING - math.pi))


def write_demo(folder: Path, say: Callable[[str], None] = lambda text: None) -> Path:
    """Write craft file, mapping file and logs into a folder that does not hold them; returns the mapping's path.

    Raises CampaignError if one of them is there.
    """
    source = shipped("configs")
    texts = {
        "craft.yaml": (source / "craft" / "courier.yaml").read_text(encoding="utf-8"),
        "afternoon.yaml": (source / "log" / "afternoon.yaml").read_text(encoding="utf-8"),
    }
    names = [*texts, *(f"pass-{i + 1}.csv" for i in range(2 * ROUNDS))]
    there = [
        Problem(str(folder / name), 0, 0, "", "a file that is there already", "a folder without it")
        for name in names
        if (folder / name).exists()
    ]
    if there:
        raise CampaignError(there)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        write_whole(folder / name, text.encode())
    craft = Craft.model_validate(read_document(folder / "craft.yaml").plain())
    for number in range(2 * ROUNDS):
        setup = list(SETUPS)[number % 2]
        write_csv(folder / f"pass-{number + 1}.csv", outing(craft, number, SETUPS[setup]))
        say(f"{folder / f'pass-{number + 1}.csv'}: made by the model, {setup}")
    return folder / "afternoon.yaml"


def hidden_craft(craft: Craft, gain: float) -> Craft:
    """The craft that flies the demo: other numbers, faulty sensors and its own height gain; its code set up by its file."""
    other = changed(replace_values(craft, FAULTS), list(HIDDEN), list(HIDDEN.values()))
    return replace_values(other, {"control.height.proportional": craft.control.height.proportional * gain})


def outing(craft: Craft, number: int, gain: float) -> Record:
    """The log of a pass into the waves, a turn that is not logged, and a pass back."""
    water, other = fresh_water(291.15, DEPTH), hidden_craft(craft, gain)
    found: Record = {}
    for way, leg in enumerate(LEGS):
        sea = Spectrum(CALMING[number], PERIODS[number], 3.3)
        draws = generator(2026, "demo", 2 * number + way, "sea")
        drawn = random_amplitudes(draw_components(sea, leg.waves, DEPTH, draws, count=64), draws)
        block = make_block(drawn, 2026, "demo", 2 * number + way, PASS + SETTLE, SETTLE)
        (flown,) = fly_aboard([other], water, block, SPEED, [craft])
        begin = way * (PASS + 20.0)
        for name, series in flown.log.items():
            value = series.value + leg.course if name == "heading" else series.value
            before = found.get(name, Series(np.zeros(0), np.zeros(0)))
            joined = Series(np.concatenate([before.time, series.time + begin]), np.concatenate([before.value, value]))
            found[name] = joined
    return found


COLUMNS: dict[str, tuple[str, float, float, int]] = {
    "range": ("bow_mm", 1000.0, 0.0, 0),
    "pitch": ("nose_down_deg", -180.0 / math.pi, 0.0, 3),
    "roll": ("roll_deg", 180.0 / math.pi, 0.0, 3),
    "pitch_rate": ("q_rad_s", 1.0, 0.0, 4),
    "force_x": ("ax_g", 1.0 / 9.80665, 0.0, 5),
    "force_z": ("az_g", 1.0 / 9.80665, 0.0, 5),
    "heading": ("compass_deg", 180.0 / math.pi, 0.0, 1),
    "speed": ("gps_kn", 3600.0 / 1852.0, 0.0, 2),
    "throttle": ("throttle_pct", 100.0, 0.0, 1),
    "foil_port": ("foil_p_deg", 180.0 / math.pi, 0.0, 2),
    "foil_starboard": ("foil_s_deg", 180.0 / math.pi, 0.0, 2),
    "foil_aft": ("foil_a_deg", 180.0 / math.pi, 0.0, 2),
}
"""Channel -> heading of the demo's CSV, factor and offset from SI, decimals."""


def write_csv(path: Path, record: Record, columns: dict[str, tuple[str, float, float, int]] = COLUMNS) -> None:
    """A record as rows at ROW_RATE, the clock in ms; a cell is empty where its sensor has nothing new."""
    last = max(series.time[-1] for series in record.values() if len(series.time))
    rows = np.arange(0.0, last, 1.0 / ROW_RATE)
    flying = np.zeros(len(rows), dtype=bool)
    cells = {}
    for name, (_, factor, offset, decimals) in columns.items():
        if name not in record:
            continue
        series = record[name]
        row = np.ceil(series.time * ROW_RATE - 1e-6).astype(int)
        inside = row < len(rows)
        texts = np.full(len(rows), "", dtype=object)
        values = series.value[inside] * factor + offset
        texts[row[inside]] = [f"{value:.{decimals}f}" for value in values]
        flying[row[inside]] = True
        cells[columns[name][0]] = texts
    lines = [",".join(["t_ms", *cells])]
    for i in np.flatnonzero(flying):
        lines.append(",".join([f"{1000.0 * rows[i]:.0f}", *(texts[i] for texts in cells.values())]))
    write_whole(path, ("\n".join(lines) + "\n").encode())
