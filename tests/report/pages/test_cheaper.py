"""Whether a cheaper design would do, against the made-up results of the site's tests."""

import dataclasses

import numpy as np

from sweep.insight.ranking import ranked
from sweep.report.pages.cheaper import cheaper
from sweep.results.store import Results


def test_whether_a_cheaper_design_would_do(told: Results) -> None:
    """By the designs that are good enough, the share that is promised of them, and their prices."""
    first, second, third = ranked(told.standings)["design"].head(3).tolist()
    good = told.standings["design"].isin([first, second, third])

    def said(share: float, *prices: float) -> str:
        designs = told.designs.assign(price=900.0)
        designs.loc[[first, second, third], "price"] = prices
        near = told.standings.assign(good_enough=good, above_high=np.where(good, share, np.inf), failing_high=np.nan)
        return cheaper(dataclasses.replace(told, designs=designs, standings=near))

    assert said(0.2, 500.0, 450.0, 480.0).startswith(f"Design {second} would do, and costs 450: ")
    assert f"Design {first}, the first, costs 500." in said(0.2, 500.0, 450.0, 480.0)
    assert said(0.2, 440.0, 450.0, 480.0).endswith(f"the first is the cheapest: design {first} costs 440.")
    assert "not known: scores are not known well enough" in said(0.6, 500.0, 450.0, 480.0)
    assert "not known: none that costs less is surely good enough" in said(0.6, 440.0, 450.0, 480.0)
    same = dataclasses.replace(told, designs=told.designs.assign(price=500.0))
    assert cheaper(same) == ""
    refused = told.standings.assign(verdict="broken", place=np.nan)
    assert cheaper(dataclasses.replace(told, standings=refused)) == ""
