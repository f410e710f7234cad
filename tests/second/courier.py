"""Invented craft in SI numbers: the courier of configs/craft, and two that have every kind of part between them."""

from __future__ import annotations

from math import radians

from sweep.campaign.craft import Craft
from sweep.campaign.polars import read_polar
from sweep.campaign.text.resources import shipped
from tests.second.sea import Water

FRESH = Water(density=999.1026, viscosity=1.1386e-6, vapour_pressure=1705.8, depth=5.0)  # 15 degC, ITTC 7.5-02-01-03


def of_si(numbers: dict[str, object]) -> Craft:
    """A craft from SI numbers."""
    return Craft.model_validate(numbers, context={"si": True})


def courier() -> Craft:
    """The courier: two foils ahead, one aft that steers."""
    foil = {"area": 50e-4, "aspect_ratio": 6.0, "zero_lift_angle": radians(-2.0)}
    return of_si(
        {
            "name": "Courier",
            "body": {"mass": 3.06, "x": 0.0, "height": 0.065, "roll_radius": 0.12, "pitch_radius": 0.25,
                     "yaw_radius": 0.27, "price": 420.0},
            "hulls": {"main": {"length": 0.90, "beam": 0.16, "deadrise": radians(14.0), "depth": 0.12, "stations": 6}},
            "foils": {"port": {"x": 0.22, "y": -0.17} | foil, "starboard": {"x": 0.22, "y": 0.17} | foil,
                      "aft": {"x": -0.40} | foil},
            "struts": {"height": 0.20, "chord": 0.03, "thickness": 0.0045},
            "servos": {"rate": radians(150.0), "travel": radians(9.0), "quantum": radians(0.15)},
            "rangefinders": {"count": 1, "layout": "bow", "x": 0.35},
            "inertial": {"height": 0.06},
            "propulsor": {"x": -0.40, "height": -0.18, "static_thrust": 30.0, "no_thrust_speed": 15.0},
            "steering": {"rudder": "aft", "servo": {"travel": radians(10.0)}},
            "control": {
                "ride_height": 0.095,
                "height": {"proportional": radians(40.0), "integral": radians(10.0), "derivative": radians(2.0)},
                "pitch": {"proportional": 1.2, "derivative": 0.06},
                "roll": {"proportional": 0.8, "derivative": 0.05},
            },
        }
    )  # fmt: skip


def ferry() -> Craft:
    """A craft with two hulls, dihedral, several struts on a foil, wakes of wakes, and its centre off the middle."""
    return of_si(
        {
            "name": "Ferry",
            "windage": {"area": 0.03, "x": 0.05, "height": 0.2},
            "body": {"mass": 6.0, "x": 0.05, "height": 0.10, "roll_radius": 0.22, "pitch_radius": 0.30,
                     "yaw_radius": 0.35},
            "hulls": {"port": {"length": 1.1, "beam": 0.10, "deadrise": 0.4, "depth": 0.13, "y": -0.22, "stations": 5},
                      "starboard": {"length": 1.0, "beam": 0.12, "deadrise": 0.3, "depth": 0.14, "x": 0.05, "y": 0.22,
                                    "stations": 7}},
            "foils": {"bow": {"x": 0.48, "y": 0.03, "area": 45e-4, "span": 0.20, "incidence": 0.02,
                              "section": {"lift_max": 0.9, "lift_slope": 5.8}},
                      "main": {"x": -0.05, "area": 110e-4, "aspect_ratio": 8.5, "dihedral": 0.15,
                               "strut_offsets": [-0.12, 0.12], "zero_lift_angle": -0.04, "density": 1600.0,
                               "material": "glass-epoxy"},
                      "stern": {"x": -0.50, "y": -0.05, "area": 40e-4, "aspect_ratio": 4.0, "dihedral": -0.1}},
            "struts": {"height": 0.24, "chord": 0.035, "thickness": 0.006, "material": "aluminium-6082-t6"},
            "rangefinders": {"count": 2, "layout": "across-bow", "x": 0.50, "height": 0.02, "spacing": 0.3},
            "propulsor": {"x": -0.45, "height": -0.20, "static_thrust": 60.0, "no_thrust_speed": 14.0, "lag": 0.15},
            "steering": {"rudder": "bow"},
            "control": {
                "ride_height": 0.12,
                "pitch_trim": 0.01,
                "height": {"proportional": 0.6},
                "pitch": {"proportional": 1.0},
                "roll": {"proportional": 0.8},
            },
        }
    )  # fmt: skip


def tender() -> Craft:
    """A craft without a rudder on two propellers with curves, with wind on it; foils of three sections, two by polars.

    All foils but the first have flaps, one of them with an open gap.
    """
    polars = {name: read_polar(shipped("configs") / "polars" / f"{name}.csv").section for name in ("naca-2412", "naca-63-412")}
    printed = {"flap": 0.3, "material": "printed-pla"}
    aft = {"x": -0.35, "area": 55e-4, "aspect_ratio": 6.0, "section": {"polar": "naca-2412"}} | printed
    return of_si(
        {
            "name": "Tender",
            "windage": {"area": 0.05, "x": -0.04, "height": 0.15},
            "body": {"mass": 4.6, "x": 0.01, "height": 0.08, "roll_radius": 0.15, "pitch_radius": 0.27, "yaw_radius": 0.30},
            "hulls": {"main": {"length": 1.0, "beam": 0.18, "deadrise": 0.3, "depth": 0.13, "stations": 6}},
            "foils": {"bow": {"x": 0.40, "area": 60e-4, "aspect_ratio": 4.0, "section": {"polar": "naca-63-412"}},
                      "port": {"y": -0.18} | aft, "starboard": {"y": 0.18} | aft,
                      "fin": {"x": -0.45, "area": 10e-4, "aspect_ratio": 3.0, "zero_lift_angle": 0.0,
                              "flap": 0.45, "flap_gap": "open", "dihedral": 0.2, "thickness_ratio": 0.09}},
            "struts": {"height": 0.22, "chord": 0.03, "thickness": 0.005},
            "rangefinders": {"x": 0.42, "height": 0.01},
            "propulsor": {"x": -0.37, "height": -0.20, "count": 2, "spacing": 0.3, "diameter": 0.045, "lag": 0.12,
                          "propeller": {"blades": 3, "pitch_ratio": 1.0, "area_ratio": 0.5, "top_speed": 1000.0,
                                        "shaft_power": 5000.0}},
            "steering": {"differential": 1.0},
            "control": {
                "ride_height": 0.11,
                "height": {"proportional": 0.6},
                "pitch": {"proportional": 1.0},
                "roll": {"proportional": 0.8},
            },
            "polars": polars,
        }
    )  # fmt: skip
