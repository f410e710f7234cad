"""Kinds of wrong mapping: what is changed in a right one, and what the first doubt about it has to say."""

from __future__ import annotations

import tempfile
from functools import cache
from math import pi
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.logs.compare.simulated_log import fly_aboard
from sweep.logs.fit.numbers import changed
from sweep.logs.read.channels import Record, Series
from sweep.logs.report.demo import COLUMNS, FAULTS, HIDDEN, write_csv
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components
from tests.logs.made import DEPTH, MAPPING
from tests.model.crafts import COURIER_FILE, WATER, block_of

TEXT = MAPPING.replace("logs: {file: pass.csv}", "logs: [{file: out.csv}, {file: back.csv}]")
LENGTH = 45.0
"""s, of a leg."""


class Wrong(NamedTuple):
    """old, new: in the mapping or, of the craft, in its file; told: a pattern of the first doubt or refusal."""

    old: str
    new: str
    told: str
    of_craft: bool = False


KINDS: dict[str, Wrong] = {
    "range in cm that is mm": Wrong("bow_mm, unit: mm", "bow_mm, unit: cm", "range.*written in mm"),
    "range in m that is mm": Wrong("bow_mm, unit: mm", "bow_mm, unit: m", "range.*(written in mm|none can be)"),
    "range in inches that is mm": Wrong("bow_mm, unit: mm", "bow_mm, unit: in", "range.*(written in mm|none can be)"),
    "range upside down": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, sign: -1", "range.*sign"),
    "range half as much again": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, scale: 1.5", "range|rangefinder"),
    "range 10 cm off": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, zero: -100", "range|rangefinder"),
    "range late by 200 ms": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, late: 200 ms", "range.*(late|earlier)"),
    "range beyond the rows' rate": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, rate: 400 Hz", "range.*400 Hz"),
    "range thinned to 2 Hz": Wrong("bow_mm, unit: mm", "bow_mm, unit: mm, rate: 2 Hz", "range.*(rate|2 Hz)"),
    "range and roll swapped": Wrong("SWAP", "bow_mm|roll_deg", "range"),
    "pitch upside down": Wrong("nose_down_deg, unit: deg, sign: -1", "nose_down_deg, unit: deg", "pitch.*sign|sign.*pitch"),
    "pitch in rad that is deg": Wrong("nose_down_deg, unit: deg", "nose_down_deg, unit: rad", "pitch.*(rad|none can be)"),
    "pitch half as much": Wrong("nose_down_deg, unit: deg", "nose_down_deg, unit: deg, scale: 0.5", "pitch"),
    "pitch 6 deg off": Wrong("nose_down_deg, unit: deg", "nose_down_deg, unit: deg, zero: 6", "pitch"),
    "pitch and roll swapped": Wrong("SWAP", "nose_down_deg|roll_deg", "pitch"),
    "roll in rad that is deg": Wrong("roll_deg, unit: deg", "roll_deg, unit: rad", "roll"),
    "roll and heading swapped": Wrong("SWAP", "roll_deg|compass_deg", "roll|heading"),
    "roll 20 deg off": Wrong("roll_deg, unit: deg", "roll_deg, unit: deg, zero: 20", "roll"),
    "rate of pitch upside down": Wrong("q_rad_s, unit: rad/s", "q_rad_s, unit: rad/s, sign: -1", "pitch_rate"),
    "rate of pitch in deg/s that is rad/s": Wrong("q_rad_s, unit: rad/s", "q_rad_s, unit: deg/s", "pitch_rate"),
    "forward acceleration upside down": Wrong("ax_g, unit: g0", "ax_g, unit: g0, sign: -1", "force_x"),
    "forward acceleration in m/s^2 that is g0": Wrong("ax_g, unit: g0", "ax_g, unit: m/s^2", "force_x"),
    "forward and downward swapped": Wrong("SWAP", "ax_g|az_g", "force_[xz]"),
    "gravity upside down": Wrong("az_g, unit: g0", "az_g, unit: g0, sign: -1", "force_z.*sign"),
    "downward in m/s^2 that is g0": Wrong("az_g, unit: g0", "az_g, unit: m/s^2", "force_z.*g0"),
    "downward a fifth too much": Wrong("az_g, unit: g0", "az_g, unit: g0, scale: 1.2", "force_z"),
    "speed in m/s that is kn": Wrong("gps_kn, unit: kn", "gps_kn, unit: m/s", "speed"),
    "speed in km/h that is kn": Wrong("gps_kn, unit: kn", "gps_kn, unit: km/h", "speed"),
    "speed in mph that is kn": Wrong("gps_kn, unit: kn", "gps_kn, unit: mph", "speed"),
    "heading in rad that is deg": Wrong("compass_deg, unit: deg", "compass_deg, unit: rad", "heading"),
    "compass a quarter turned": Wrong("compass_deg, unit: deg", "compass_deg, unit: deg, zero: 90", "waves.*compass"),
    "where the waves go for where they come from": Wrong("bearing: 180 deg", "bearing: 0 deg", "waves.*where they go"),
    "waves a quarter turned": Wrong("bearing: 180 deg", "bearing: 270 deg", "waves"),
    "waves 40 deg off": Wrong("bearing: 180 deg", "bearing: 220 deg", "waves"),
    "all runs into the waves": Wrong("waves: {bearing: 180 deg}", "waves: {heading: head}", "waves"),
    "throttle in % that is a share": Wrong('throttle_pct, unit: "%"', 'throttle_pct, unit: ""', "throttle"),
    "all foils upside down": Wrong("FOILS", "sign: -1", "foil.*sign"),
    "port foil upside down": Wrong("foil_p_deg, unit: deg", "foil_p_deg, unit: deg, sign: -1", "foil_port.*sign"),
    "aft foil upside down": Wrong("foil_a_deg, unit: deg", "foil_a_deg, unit: deg, sign: -1", "foil_aft.*sign"),
    "port foil in rad that is deg": Wrong("foil_p_deg, unit: deg", "foil_p_deg, unit: rad", "foil_port"),
    "port foil 6 deg off": Wrong("foil_p_deg, unit: deg", "foil_p_deg, unit: deg, zero: 6", "foil_port"),
    "port and aft foil swapped": Wrong("SWAP", "foil_p_deg|foil_a_deg", "foil_(port|aft)"),
    "clock in s that is ms": Wrong("t_ms, unit: ms", "t_ms, unit: s", "clock"),
    "clock in us that is ms": Wrong("t_ms, unit: ms", "t_ms, unit: us", "clock"),
    "mass of 5 kg for 3": Wrong("mass: 3.06 kg", "mass: 5 kg", "mass", True),
    "mass of 2 kg for 3": Wrong("mass: 3.06 kg", "mass: 2 kg", "mass", True),
    "rangefinder 6 cm higher": Wrong("layout: bow, x: 35 cm", "layout: bow, x: 35 cm, height: 6 cm", "mounting height", True),
    "rangefinder at the stern": Wrong("layout: bow, x: 35 cm", "layout: bow, x: -35 cm", "rangefinder.*(place|x)", True),
    "inertial unit 30 cm forward": Wrong("inertial: {height: 6 cm}", "inertial: {x: 30 cm, height: 6 cm}", "inertial", True),
    "gains a third of what flew": Wrong("proportional: 0.4 deg/cm", "proportional: 0.13 deg/cm", "gain", True),
    "pitch gain a third of what flew": Wrong("proportional: 1.2 deg/deg", "proportional: 0.4 deg/deg", "gain", True),
    "ride height 4 cm less": Wrong("ride_height: 9.5 cm", "ride_height: 5.5 cm", "wanted height", True),
}  # fmt: skip


class Outing(NamedTuple):
    """A day: what its boat's file has that the courier's has not, the numbers that flew instead, the sea (m, s), a seed."""

    changes: tuple[tuple[str, str], ...]
    flew: dict[str, float]
    sea: tuple[float, float]
    seed: int


OUTINGS = {
    "the rules' own": Outing((), HIDDEN, (0.05, 1.1), 9),
    "another": Outing(
        (
            ("port:      {x: 22 cm, y: -17 cm, area: 50 cm^2", "port:      {x: 27 cm, y: -20 cm, area: 56 cm^2"),
            ("starboard: {x: 22 cm, y: 17 cm, area: 50 cm^2", "starboard: {x: 27 cm, y: 20 cm, area: 56 cm^2"),
            ("aft:       {x: -40 cm, area: 50 cm^2", "aft:       {x: -46 cm, area: 60 cm^2"),
            ("length: 90 cm, beam: 16 cm", "length: 104 cm, beam: 18 cm"),
            ("pitch_radius: 25 cm", "pitch_radius: 29 cm"),
            ("bandwidth: 50 rad/s", "bandwidth: 40 rad/s"),
        ),
        {"lift": 0.97, "drag": 1.3, "range_lag": 0.05, "range_noise": 0.0025},
        (0.042, 0.95),
        77,
    ),
    "a third": Outing(
        (
            ("port:      {x: 22 cm, y: -17 cm, area: 50 cm^2", "port:      {x: 24 cm, y: -18 cm, area: 47 cm^2"),
            ("starboard: {x: 22 cm, y: 17 cm, area: 50 cm^2", "starboard: {x: 24 cm, y: 18 cm, area: 47 cm^2"),
            ("pitch_radius: 25 cm", "pitch_radius: 23 cm"),
        ),
        {"lift": 0.98, "drag": 1.1, "range_lag": 0.07, "range_noise": 0.003},
        (0.055, 1.2),
        123,
    ),
}
"""Days of mistakes: two that rules of doubt were made with, and a third that none was."""


def file_of(outing: Outing) -> str:
    """The text of its boat's craft file, without a mistake."""
    text = COURIER_FILE.read_text(encoding="utf-8")
    for old, new in outing.changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


@cache
def legs(name: str) -> tuple[Record, Record]:
    """A leg into the waves, on a course of 180 degrees, and one back, of a craft with other numbers than its file's."""
    found, outing = [], OUTINGS[name]
    with tempfile.TemporaryDirectory() as folder:
        (path := Path(folder) / "craft.yaml").write_text(file_of(outing), encoding="utf-8")
        craft = Craft.model_validate(read_document(path).plain())
    flew = changed(replace_values(craft, FAULTS), list(outing.flew), list(outing.flew.values()))
    for heading in (pi, 0.0):
        draws = np.random.default_rng([outing.seed, round(heading)])
        sea = draw_components(Spectrum(*outing.sea, 3.3), heading, DEPTH, draws)
        log = fly_aboard([flew], WATER, block_of(sea, LENGTH + 5.0, 5.0), 4.0, [craft])[0].log
        found.append(log | {"heading": Series(log["heading"].time, log["heading"].value + heading)})
    return found[0], found[1]


def write_kind(folder: Path, kind: Wrong | None, outing: str = "the rules' own") -> Path:
    """The folder of a day with this mistake, or none; the mapping's path."""
    craft, text = file_of(OUTINGS[outing]), TEXT
    if kind is not None and kind.old == "SWAP":
        a, b = kind.new.split("|")
        text = text.replace(f"{{column: {a}", "{column: @").replace(f"{{column: {b}", f"{{column: {a}").replace("@", b)
    elif kind is not None and kind.old == "FOILS":
        for name in ("p", "s", "a"):
            text = text.replace(f"foil_{name}_deg, unit: deg", f"foil_{name}_deg, unit: deg, {kind.new}")
    elif kind is not None:
        assert kind.old in (craft if kind.of_craft else text), kind
        craft, text = (craft.replace(kind.old, kind.new), text) if kind.of_craft else (craft, text.replace(kind.old, kind.new))
    (folder / "craft.yaml").write_text(craft, encoding="utf-8")
    for name, record in zip(("out.csv", "back.csv"), legs(outing), strict=True):
        if not (folder / name).exists():
            write_csv(folder / name, record, COLUMNS)
    (folder / "day.yaml").write_text(text, encoding="utf-8")
    return folder / "day.yaml"
