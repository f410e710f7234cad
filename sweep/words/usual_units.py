"""What the usual units are in SI, so that reading a file of them needs no library of units, which takes a sixth of a second.

Each is what pint makes of `units.DEFINITIONS` (tests/words/test_units.py).
"""

from __future__ import annotations

from typing import TypeAlias

Powers: TypeAlias = tuple[tuple[str, int], ...]

DEGREE = "0.01745329251994329576923690768488612713"
DEGREE_A_CENTIMETRE = "1.745329251994329576923690768488612713"

FACTORS: dict[Powers, dict[str, str]] = {
    (): {"": "1", "%": "1/100", "deg/deg": "1"},
    (("angle", 1),): {"rad": "1", "deg": DEGREE},
    (("angle", -1),): {"/rad": "1", "%/deg": "1000000000000000000000000000000000000/1745329251994329576923690768488612713"},
    (("angle", 1), ("length", -1)): {"rad/m": "1", "deg/cm": DEGREE_A_CENTIMETRE, "deg/m": DEGREE},
    (("angle", 1), ("length", -1), ("time", -1)): {"rad/m/s": "1", "deg/cm/s": DEGREE_A_CENTIMETRE, "deg/m/s": DEGREE},
    (("angle", 1), ("length", -1), ("time", 1)): {
        **dict.fromkeys(("deg*s/cm", "deg/(cm/s)"), DEGREE_A_CENTIMETRE),
        "deg*s/m": DEGREE,
    },
    (("angle", 1), ("time", -1)): {"rad/s": "1", "deg/s": DEGREE, "rpm": "0.10471975511965977461542144610931676278"},
    (("length", 1),): {"m": "1", "cm": "1/100", "mm": "1/1000", "km": "1000", "in": "0.0254"},
    (("length", -1),): {"/m": "1", "/cm": "100", "%/cm": "1", "%/(m/s)/s": "1/100"},
    (("length", -2),): {"/m^2": "1", "/cm^2": "10000"},
    (("length", 2),): {"m^2": "1", "cm^2": "0.0001", "mm^2": "0.000001", "in^2": "0.00064516"},
    (("length", 1), ("time", -1)): {"m/s": "1", "km/h": "5/18", "kn": "463/900", "mph": "0.44704"},
    (("length", 1), ("time", -2)): {"m/s^2": "1", "g0": "9.80665"},
    (("length", -1), ("time", 1)): {"s/m": "1", "%/(m/s)": "1/100"},
    (("length", -3), ("mass", 1)): {"kg/m^3": "1", "g/cm^3": "1000"},
    (("length", 1), ("mass", 1), ("time", -2)): {"N": "1", "J/m": "1", "kgf": "9.80665", "lbf": "4.4482216152605"},
    (("length", -1), ("mass", 1), ("time", -2)): {"Pa": "1", "MPa": "1000000", "GPa": "1000000000"},
    (("length", 2), ("mass", 1), ("time", -2)): {
        "kJ": "1000",
        "Wh": "3600",
        "N*m": "1",
        "N*cm": "1/100",
        "kgf*cm": "0.0980665",
    },
    (("length", 2), ("mass", 1), ("time", -3)): {"W": "1", "kW": "1000"},
    (("mass", 1),): {"kg": "1", "g": "1/1000", "lb": "0.45359237", "oz": "0.028349523125"},
    (("temperature", 1),): {"K": "1", "degC": "1", "degF": "5/9"},
    (("current", -1), ("length", 2), ("mass", 1), ("time", -3)): {"V": "1", "mV": "1/1000"},
    (("current", -2), ("length", 2), ("mass", 1), ("time", -3)): {"ohm": "1", "mohm": "1/1000"},
    (("current", 1), ("time", 1)): {"Ah": "3600", "mAh": "3.6"},
    (("time", 2),): {"s^2": "1", "deg/(deg/s^2)": "1"},
    (("time", 1),): {"s": "1", "ms": "1/1000", "min": "60"},
    (("time", -1),): {"/s": "1", "Hz": "1", "/min": "1/60", "deg/deg/s": "1", "deg/s/deg": "1"},
}
OFFSETS = {"degC": "273.15", "degF": "45967/180"}
"""SI value of a written 0, where it is not 0."""
