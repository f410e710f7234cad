"""The linear companion beside flights: small waves over headings, speeds and laws, and the demo's designs in the demo's chop.

    python -m tests.benchmarks.companion

The tables go where the page How sure finds them.
"""

from __future__ import annotations

import tempfile
from math import pi
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import spearmanr

import sweep
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of
from sweep.linear.prediction import predict_rides
from sweep.linear.ride import ride
from sweep.model.flight import fly
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components
from tests.benchmarks.evidence import write
from tests.benchmarks.kernel import DEMO
from tests.linear.crafts import courier, linear_of, shipped
from tests.model.crafts import block_of, fleet_of, response, silent

HEADINGS = {"head": pi, "beam": pi / 2, "following": 0.0}
CASES = {
    "level-and-height": (courier("level-and-height"), (3.0, 4.0, 6.0)),
    "fused-height": (courier("fused-height"), (3.0, 4.0, 6.0)),
    "each-foil": (shipped("classroom"), (3.0, 3.5, 4.0)),
}
PAIRS = (("ride_height_error", "ride_height_error"), ("level_height_deviation", "level_height_deviation"))
TOP = 20


def side_by_side() -> dict[str, object]:
    """Ride-height error and rise and fall in a sea of 1 cm, foretold and flown, without noise and quanta."""
    rows, worst = [], 0.0
    for law, (craft, speeds) in CASES.items():
        for speed in speeds:
            for heading, angle in HEADINGS.items():
                sea = draw_components(Spectrum(0.01, 1.0, 3.3), angle, 5.0, np.random.default_rng(3), count=16)
                flown = fly(fleet_of(craft, speed), silent(block_of(sea, 75.0, 15.0)))
                foretold = ride(linear_of(craft, speed), sea)
                row: list[object] = [f"{law.replace('-', ' ')}, {speed:g} m/s, {heading}"]
                for ours, name in PAIRS:
                    theirs = float(response(flown, name)[0])
                    row += [1000.0 * getattr(foretold, ours), 1000.0 * theirs, 100.0 * (getattr(foretold, ours) / theirs - 1.0)]
                worst = max(worst, abs(float(str(row[3]))))
                rows.append(row)
    return {
        "caption": "Small waves: predicted by the linear model, and flown",
        "note": "A sea of 1 cm and 1 s over a minute, without noise, quanta and resolution: the courier under two laws, the "
        f"classroom foiler under the third. The ride-height error is within {worst:.1f} % everywhere. The median of three "
        "readings, which the third takes, is not linear: it adds a part of its own to the rise and fall in head seas, which is "
        "under 1 mm.",
        "headings": [
            "case",
            "ride error predicted, mm",
            "flown, mm",
            "difference, %",
            "rise and fall predicted, mm",
            "flown, mm",
            "difference, %",
        ],
        "rows": rows,
        "worst_percent": worst,
    }


def designs_in_chop() -> dict[str, object]:
    """Rank correlation of foretold and flown ride-height error over the demo's designs, condition by condition.

    What starts from rest or turns is no steady motion, and is left out.
    """
    campaign = load_campaign(DEMO)
    conditions = [each for each in list_conditions(campaign) if not each.legs]
    with tempfile.TemporaryDirectory() as folder:
        results = sweep.run(campaign, Path(folder) / "demo")
        flown = results.flights.groupby(["design", "condition"])["ride_height_error"].mean().unstack()
        flown = flown[[each.index for each in conditions]]
    foretold = pd.DataFrame(
        {index: predict_rides(campaign, craft_of(campaign, row), conditions)["ride_height_error"] for index, row in
         results.designs.iterrows()}
    ).T  # fmt: skip
    rows = [[each.name, *_ranked(foretold[each.index], flown[each.index])] for each in conditions]
    steady = foretold.mean(axis=1, skipna=False)
    rows.append(["all conditions together", *_ranked(steady, flown.mean(axis=1, skipna=False))])
    return {
        "caption": "The demo's designs in the demo's seas, straight on: ranked by the linear model, and by flights",
        "note": f"Spearman's rank correlation of the ride-height errors of {len(foretold)} designs, noise and all limits on "
        f"in the flights, and how many of the best ten by flights are among the best {TOP} predicted.",
        "headings": ["condition", "designs", "rank correlation", f"of the best ten, among the predicted {TOP}"],
        "rows": rows,
        "steady_designs": int(steady.notna().sum()),
        "rank_correlation": float(rows[-1][2]),
    }


def _ranked(foretold: pd.Series, flown: pd.Series) -> list[object]:
    both = pd.DataFrame({"foretold": foretold, "flown": flown}).dropna()
    best, first = both["flown"].nsmallest(10).index, both["foretold"].nsmallest(TOP).index
    return [len(both), float(spearmanr(both["foretold"], both["flown"]).statistic), f"{len(best.intersection(first))}"]


def main() -> None:
    """Make both tables."""
    tables = {"small_waves": side_by_side(), "designs": designs_in_chop()}
    print(write("companion", "python -m tests.benchmarks.companion", tables).read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
