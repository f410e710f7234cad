"""Makes the shipped polars anew: python -m tests.references.make_polars

It needs neuralfoil 0.3.3 and aerosandbox 4.2.10, which are no dependency of the program or of its tests. Lift, drag and
moment are neuralfoil's; suction is our own.
"""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import numpy as np

from tests.references.panels import Flow, four_digit_outline

FOLDER = Path(__file__).parents[2] / "configs" / "polars"
SECTIONS = {
    "0009": "naca0009",
    "0012": "naca0012",
    "0015": "naca0015",
    "2412": "naca2412",
    "4412": "naca4412",
    "63-412": "n63412",
}
REYNOLDS = (3e4, 5e4, 7e4, 1e5, 1.6e5, 2.5e5, 4e5, 1e6)
DEGREES = np.arange(-8.0, 17.0)
THICK = 5e4  # at 3e4 the network has the lift of NACA 0015 fall with the angle near zero
SETTINGS = {"model_size": "xlarge", "n_crit": 9.0, "xtr_upper": 1.0, "xtr_lower": 1.0}
HEADER = """\
# NACA {name}: lift, drag and quarter-chord moment of the smooth section, two-dimensional, far from the surface.
# Lift, drag, moment: neuralfoil 0.3.3 (model xlarge, n_crit 9, free transition), a network fitted to a panel and
# boundary-layer method. It was made offline by tests/references/make_polars.py and is not part of the program.
# Suction: minus the least pressure coefficient of potential flow at the row's lift, by vortex panels
# (tests/references/panels.py, 480 panels; 1 to 3 % low at high lift); past the stall it means little.
# Confidence that the network gives itself: at least {attached:.2f} from -4 to 8 deg; past the stall down to {all:.2f}, a guess.
# Uncertain below a Reynolds number of about 2e5: laminar bubbles come and go with the turbulence of the water and the
# finish of the foil, and published sources differ by a third and more in lift, and by half in the largest lift, of which
# this table has the more (tests/references/sections.toml). Sweep sections, trust none.
reynolds,angle_deg,lift,drag,moment,suction
"""


def write(name: str) -> None:
    """One file."""
    asb, network = importlib.import_module("aerosandbox"), importlib.import_module("neuralfoil")
    foil = asb.Airfoil(SECTIONS[name])
    shape = four_digit_outline(name, 480) if name.isdigit() else tuple(foil.repanel(240).coordinates[::-1].T)
    flow = Flow(*shape)
    rows: list[str] = []
    confidence: list[np.ndarray] = []
    for reynolds in (each for each in REYNOLDS if name != "0015" or each >= THICK):
        found: dict[str, Any] = network.get_aero_from_coordinates(foil.coordinates, alpha=DEGREES, Re=reynolds, **SETTINGS)
        confidence.append(found["analysis_confidence"])
        for angle, lift, drag, moment in zip(DEGREES, found["CL"], found["CD"], found["CM"], strict=True):
            numbers = f"{lift + 0.0:.4f},{drag:.5f},{moment:.4f},{flow.suction(lift):.3f}".replace("-0.0000", "0.0000")
            rows.append(f"{reynolds:.0f},{angle:.0f},{numbers}\n")
    sure = np.array(confidence)
    inside = (DEGREES >= -4.0) & (DEGREES <= 8.0)
    header = HEADER.format(name=name, attached=sure[:, inside].min(), all=sure.min())
    (FOLDER / f"naca-{name}.csv").write_text(header + "".join(rows), encoding="utf-8")


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for each in SECTIONS:
        write(each)
