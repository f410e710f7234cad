"""What the page of trade-offs says, against the made-up results of the site's tests."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from sweep.report.page import gather
from sweep.report.pages import tradeoffs
from sweep.results.store import Results


def test_quantities_are_those_in_which_designs_differ(told: Results) -> None:
    columns, table = tradeoffs.quantities(told)
    keys = {column.key for column in columns}
    assert {"score", "ride_height_error", "mass", "price", "energy_per_metre", "servo_travel"} <= keys
    assert "ride_height_bias" not in keys
    assert "rangefinders" not in keys, "their number is no factor here"
    means = told.flights.groupby("design")["servo_travel"].mean() * 57.29577951308232
    np.testing.assert_allclose(table.set_index("design")["servo_travel"], means.loc[table["design"]], rtol=1e-3)
    columns, _ = tradeoffs.quantities(told, ["ride_height_bias", "plunges"])
    assert "plunges" in {column.key for column in columns}


def test_refused_designs_stand_on_no_front(told: Results) -> None:
    columns, table = tradeoffs.quantities(told)
    broken = set(table.loc[table["verdict"] == "broken", "design"])
    assert broken
    for pair, found in tradeoffs.fronts(columns, table).items():
        assert pair.split(" ") == sorted(pair.split(" "))
        assert not broken & set(found.designs)
        assert found.designs
        assert found.knee is None or found.knee in found.designs


def small(**changes: list[float]) -> pd.DataFrame:
    table = {"design": [0, 1, 2, 3], "verdict": ["kept", "kept", "broken", "not yet known"]}
    return pd.DataFrame(table | {"mass": [1.0, 2.0, 0.5, 3.0], "score": [3.0, 1.0, 0.5, 0.9]} | changes)


def test_the_rule() -> None:
    assert tradeoffs.find_front(small(), "mass", "score").designs == [0, 1, 3]
    assert tradeoffs.find_front(small(score=[3.0, 3.0, 0.5, 0.9]), "mass", "score").designs == [0, 3]
    assert tradeoffs.find_front(small(mass=[1.0, np.nan, 0.5, 3.0]), "mass", "score").designs == [0, 3]
    assert tradeoffs.find_front(small(verdict=["broken"] * 4), "mass", "score") == (
        [],
        None,
        pytest.approx(np.nan, nan_ok=True),
    )
    for more in ("speed_mean", "battery_range", "cavitation_margin"):
        rows = small().rename(columns={"score": more})
        assert tradeoffs.find_front(rows, "mass", more).designs == [0], "more is better, and design 0 is the lightest"


def test_what_the_front_covers_is_the_share_of_the_field() -> None:
    found = tradeoffs.find_front(small(), "mass", "score")
    assert found.covered == pytest.approx((3.0 - 1.0) / (2.0 * 2.1))
    assert found.knee == 1


def test_fronts_are_told_in_words(told: Results) -> None:
    columns, table = tradeoffs.quantities(told)
    said = tradeoffs.front_sentences(columns, table, tradeoffs.fronts(columns, table))
    assert len(said) == len(columns) * (len(columns) - 1) / 2
    assert all(each.said.endswith(".") for each in said.values())
    alike = pd.DataFrame({"mass": [1.0, 1.0, 2.0, 2.0], "score": [1.0, 1.0, 2.0, 2.0]})
    named = [column for column in columns if column.key in ("mass", "score")]
    table = small(**alike.to_dict("list"))
    assert (
        "are equal, and the best in both"
        in tradeoffs.front_sentences(named, table, tradeoffs.fronts(named, table))["mass score"].said
    )
    table = small(mass=[0.1, 1.0, 1.0, 1.0], score=[0.1, 1.0, 1.0, 1.0])
    assert "nothing to trade" in tradeoffs.front_sentences(named, table, tradeoffs.fronts(named, table))["mass score"].said


def test_rangefinders_are_counted_where_their_number_is_a_factor(told: Results) -> None:
    layout = told.campaign.factors["rangefinders.layout"]
    count = layout.model_copy(update={"addresses": ("rangefinders.count",), "levels": (1, 2, 3)})
    designs = told.designs.assign(
        **{"rangefinders.layout": told.designs["rangefinders.layout"].map({"bow": 1, "across-bow": 2}).fillna(3)}
    )
    factors = told.campaign.factors | {"rangefinders.layout": count}
    counted = dataclasses.replace(told, designs=designs, campaign=told.campaign.model_copy(update={"factors": factors}))
    columns, table = tradeoffs.quantities(counted)
    assert "rangefinders" in {column.key for column in columns}
    assert table.set_index("design").loc[0, "rangefinders"] == told.campaign.craft.rangefinders.count


def test_a_design_without_a_page_is_linked_to_its_row() -> None:
    assert tradeoffs.page_of({"design": 7, "page": ""}) == "index.html#show=design=7"
    assert tradeoffs.page_of({"design": 7, "page": "design-7.html"}) == "design-7.html"


def test_where_designs_differ_in_price_alone_a_cheaper_one_is_told_all_the_same(
    told: Results, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tradeoffs, "quantities", lambda results: ([], pd.DataFrame()))
    monkeypatch.setattr(tradeoffs, "cheaper", lambda results: "Design 1 would do, and costs 400.")
    page = tradeoffs.make(gather(told)).value
    assert isinstance(page, tradeoffs.TradeoffsPage)
    assert page.trade is None
    assert page.cheaper == "Design 1 would do, and costs 400."
