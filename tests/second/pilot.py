"""Two more invented craft: every foil unlike the others, rudders that are no foil's strut, ballast, a battery that sags."""

from __future__ import annotations

from sweep.campaign.craft import Craft
from tests.second.courier import of_si, tender


def pilot() -> Craft:
    """Struts and servos of their own, taper and sweep, a fixed foil, four rudders on both sides of the centre, ballast, sag."""
    return of_si(
        {
            "name": "Pilot",
            "windage": {"area": 0.02, "x": 0.02, "height": 0.18},
            "body": {"mass": 4.1, "x": 0.0, "height": 0.09, "roll_radius": 0.16, "pitch_radius": 0.28, "yaw_radius": 0.31},
            "hulls": {"main": {"length": 1.05, "beam": 0.17, "deadrise": 0.3, "depth": 0.13, "stations": 5}},
            "foils": {"bow": {"x": 0.42, "area": 48e-4, "span": 0.19, "taper": 0.5, "sweep": 0.4,
                              "material": "glass-epoxy", "strut": {"height": 0.21, "material": "carbon-epoxy"},
                              "servo": {"travel": 0.25, "bandwidth": 70.0}, "strips": 6},
                      "port": {"x": 0.02, "y": -0.19, "area": 52e-4, "aspect_ratio": 6.5, "taper": 0.7, "dihedral": 0.12,
                               "material": "carbon-epoxy", "strut_offsets": [0.03]},
                      "starboard": {"x": 0.0, "y": 0.2, "area": 47e-4, "aspect_ratio": 5.5, "sweep": -0.2,
                               "material": "printed-pla",
                                    "strut": {"chord": 0.034, "thickness": 0.006, "density": 2700.0}},
                      "stern": {"x": -0.46, "area": 44e-4, "aspect_ratio": 4.5, "taper": 0.4, "sweep": 0.3, "incidence": 0.035,
                                "mounting": "fixed", "strut": {"height": 0.29, "chord": 0.04, "thickness": 0.005}}},
            "struts": {"height": 0.23, "chord": 0.03, "thickness": 0.005, "material": "glass-epoxy"},
            "ballast": {"lead": {"mass": 0.35, "x": 0.21, "y": 0.03, "height": 0.02},
                        "trim": {"mass": 0.1, "x": -0.3, "y": -0.05, "height": 0.1}},
            "rangefinders": {"count": 2, "layout": "across-bow", "x": 0.48, "height": 0.02, "spacing": 0.25},
            "propulsor": {"x": -0.44, "height": -0.22, "static_thrust": 55.0, "no_thrust_speed": 13.0, "lag": 0.12},
            "battery": {"voltage": 16.8, "empty_voltage": 13.2, "resistance": 0.04, "charge": 0.4},
            "steering": {"rudder": "stern", "second_rudder": "bow",
                         "rudders": {"port": {"x": -0.35, "y": -0.16, "top": -0.02, "length": 0.2, "chord": 0.028,
                                              "thickness": 0.004, "turns": 1.4, "material": "printed-pla"},
                                     "fore": {"x": 0.3, "y": 0.05, "top": 0.03, "length": 0.25, "chord": 0.022,
                                              "thickness": 0.003}}},
            "control": {
                "ride_height": 0.115,
                "height": {"proportional": 0.6},
                "pitch": {"proportional": 1.0},
                "roll": {"proportional": 0.8},
            },
        }
    )  # fmt: skip


def cutter() -> Craft:
    """The tender, whose propellers have curves, on a battery that sags, two of its foils swept with polars."""
    description = tender().model_dump() | {"name": "Cutter"}
    description["battery"] = {"voltage": 25.2, "empty_voltage": 19.8, "resistance": 0.03, "charge": 0.6}
    description["foils"]["bow"] |= {"sweep": 0.35, "taper": 0.6}
    description["foils"]["starboard"] |= {"flap": None, "sweep": 0.15}
    return Craft.model_validate(description, context={"si": True})
