"""Crafts of all new kinds of parts at once: wand, linkage, tap, unlike struts and servos, walls, rudders, lead, sag."""

from __future__ import annotations

from typing import Any

import numpy as np

from sweep.campaign.craft import Craft
from tests.second.courier import of_si


def medley(seed: int = 0) -> Craft:
    """A boat of five foils, one of which a wand moves and one of which is fixed, that no other boat has; by a seed."""
    draw = np.random.default_rng([seed, 61])

    def about(value: float, share: float = 0.1) -> float:
        return float(value * draw.uniform(1.0 - share, 1.0 + share))

    def one_of(*values: Any) -> Any:
        return values[int(draw.integers(len(values)))]

    return of_si(
        {
            "name": "Medley",
            "windage": {"area": 0.02, "x": 0.02, "height": 0.18},
            "body": {"mass": about(3.9), "x": 0.02, "height": 0.08, "roll_radius": 0.15, "pitch_radius": 0.27,
                     "yaw_radius": 0.3},
            "hulls": {"main": {"length": 1.05, "beam": 0.17, "deadrise": 0.3, "depth": 0.13, "stations": 5}},
            "foils": {
                "bow": {"x": about(0.43), "area": about(22e-4), "aspect_ratio": 6.0, "zero_lift_angle": -0.03,
                        "flap": one_of(None, 0.3), "material": "glass-epoxy",
                        "linkage": {"wand": "feeler", "gearing": about(0.25, 0.5), "travel": 0.35,
                                    "play": one_of(0.0, 0.01)}},
                "port": {"x": 0.2, "y": about(-0.18), "area": about(48e-4), "aspect_ratio": about(6.0), "taper": about(0.6),
                         "sweep": about(0.15, 1.0), "material": "aluminium-6082-t6", "wall": about(0.0008)},
                "starboard": {"x": 0.2, "y": about(0.18), "area": about(48e-4), "aspect_ratio": about(6.0),
                              "dihedral": about(0.1, 1.0), "strips": 4, "material": "printed-pla",
                              "strut": {"height": about(0.21), "chord": 0.034, "thickness": 0.006, "wall": about(0.0012)},
                              "servo": {"bandwidth": about(60.0), "mass": 0.01}},
                "stern": {"x": about(-0.42), "area": about(45e-4), "aspect_ratio": 5.0, "incidence": about(0.01, 1.0),
                          "material": "glass-epoxy", "strut": {"height": about(0.23), "material": "aluminium-6082-t6"}},
                "fin": {"x": -0.3, "y": one_of(-0.05, 0.05), "area": about(10e-4), "aspect_ratio": 4.0, "mounting": "fixed",
                        "incidence": 0.01, "flap": one_of(None, 0.25), "strut_offsets": [-0.01, 0.02],
                        "material": "glass-epoxy", "wall": about(0.0005)},
            },
            "struts": {"height": about(0.2), "chord": 0.03, "thickness": 0.005, "material": "carbon-epoxy",
                       "wall": about(0.001, 0.3)},
            "servos": {"mass": 0.02},
            "wands": {"feeler": {"x": about(0.5), "y": one_of(0.0, 0.06), "arm": about(0.3), "mass": about(0.004),
                                 "press": about(0.45), "width": about(0.008)}},
            "rangefinders": {"x": 0.4, "height": 0.02, "each": {
                "eye": {"y": 0.05, "ahead": about(0.1), "rate": 40.0, "mass": 0.01},
                "arm": {"kind": "wand", "wand": "feeler", "rate": 50.0, "trust": about(0.7)},
                "tap": {"kind": "pressure", "x": about(0.2), "height": -0.16, "y": -0.18, "rate": 50.0, "tube_lag": about(0.01),
                        "pressure_coefficient": about(0.03), "trust": about(0.5)}}},
            "ballast": {"lead": {"mass": about(0.3), "x": about(0.05, 2.0), "y": about(0.01, 2.0), "height": 0.02}},
            "propulsor": {"x": -0.44, "height": -0.2, "static_thrust": 60.0, "no_thrust_speed": 14.0, "lag": 0.12},
            "battery": {"voltage": 16.8, "empty_voltage": 13.2, "resistance": about(0.03), "charge": about(0.6, 0.4)},
            "steering": {"rudder": "stern", "second_rudder": "bow", "second_servo": {"bandwidth": about(35.0), "mass": 0.03},
                         "servo": {"mass": 0.02},
                         "rudders": {"aft": {"x": -0.5, "y": one_of(0.0, 0.1), "length": about(0.2), "chord": 0.028,
                                             "thickness": 0.004, "turns": about(1.3), "material": "glass-epoxy",
                                             "wall": about(0.0007), "servo": {"rate": about(2.0), "quantum": 0.004}},
                                     "keel": {"x": 0.1, "y": -0.06, "top": 0.01, "length": about(0.22), "chord": 0.025,
                                              "thickness": 0.004}}},
            "control": {
                "ride_height": 0.1,
                "height": {"proportional": 0.6},
                "pitch": {"proportional": 1.0},
                "roll": {"proportional": 0.8},
            },
        }
    )  # fmt: skip
