"""Where the model should be believed: ranges, and the flights that leave them."""

from __future__ import annotations

import re
from math import inf, isnan, nan, sqrt
from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of
from sweep.campaign.draws import water_of
from sweep.insight.validity import RANGES, design_values, leaves
from sweep.report.pages.ranges import of_all, of_design, range_words
from sweep.results.store import Results
from tests.model.crafts import changed, courier
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"))


def flights(told: Results, **submergence: float) -> pd.DataFrame:
    """Two flights in each of four conditions; submergence_p01 (m) by condition, deep enough elsewhere."""
    depth = [submergence.get(f"in_{condition}", 0.05) for condition in range(4) for _ in range(2)]
    return pd.DataFrame({"condition": [condition for condition in range(4) for _ in range(2)], "submergence_p01": depth})


def left(told: Results, given: pd.DataFrame, **values: float) -> dict[str, list[tuple[int, int]]]:
    """Range -> (condition, flights) that leave it, of the courier with other values."""
    craft = changed(courier(), {name.replace("__", "."): value for name, value in values.items()})
    found = leaves(craft, water_of(told.campaign), list_conditions(told.campaign), given)
    return {key: [(each.condition, each.flights) for each in found if each.key == key] for key in {each.key for each in found}}


def test_the_courier_is_well_within(told: Results) -> None:
    assert left(told, flights(told)) == {}


def test_values_by_hand(told: Results) -> None:
    craft, water = courier(), water_of(told.campaign)
    chord = sqrt(50e-4 / 6.0)
    depth = craft.struts.height - craft.control.ride_height
    found = design_values(craft, water, 4.0)
    assert found["reynolds"] == pytest.approx(4.0 * chord / water.viscosity)
    assert found["froude"] == pytest.approx(4.0 / sqrt(9.81 * depth))
    assert found["depth"] == pytest.approx(depth / chord)
    assert found["aspect"] == pytest.approx(6.0)
    assert found["ground"] == pytest.approx((water.depth - depth) / sqrt(50e-4 * 6.0))


def test_foils_close_to_the_ground_are_told(told: Results) -> None:
    """Prandtl's biplane factor of a wing and its image, half a span up: (1 - 0.66 x) / (1.05 + 3.7 x) with x = 1 (from memory).

    Its upwash then takes under a tenth of the induced angle, which for an aspect ratio of 6 is a quarter of all.
    """
    assert (1.0 - 0.66) / (1.05 + 3.7) * 2.0 / (6.0 + 2.0) < 0.03
    craft = courier()
    span, depth = craft.foils["aft"].span_length, craft.struts.height - craft.control.ride_height
    for height, leaves_it in ((0.49, True), (0.51, False)):
        shallow = water_of(told.campaign)._replace(depth=depth + height * span)
        found = leaves(craft, shallow, list_conditions(told.campaign), flights(told))
        assert ("ground" in {each.key for each in found}) == leaves_it


def test_the_foil_that_is_furthest_out_counts(told: Results) -> None:
    water = water_of(told.campaign)
    slender = changed(courier(), {"foils.aft.aspect_ratio": 20.0})
    assert design_values(slender, water, 4.0)["aspect"] == pytest.approx(20.0)
    assert set(left(told, flights(told), foils__aft__aspect_ratio=20.0)) == {"aspect", "reynolds"} - (
        {"reynolds"} if RANGES["reynolds"].holds(design_values(slender, water, 4.0)["reynolds"]) else set()
    )


def test_shallow_tips_are_counted_flight_by_flight(told: Results) -> None:
    given = flights(told, in_2=-0.001)
    given.loc[given.index[given["condition"] == 2][0], "submergence_p01"] = 0.02
    assert left(told, given) == {"shallowest": [(2, 1)]}
    assert left(told, flights(told, in_2=nan)) == {}


def test_a_steep_sea_counts_for_all_flights_of_its_conditions(told: Results) -> None:
    """The ripple of 2 cm and 0.8 s is 0.02 steep, the chop of 5 cm and 1 s 0.032: neither leaves; 0.065 does."""
    campaign = told.campaign
    steep = campaign.model_copy(update={"seas": tuple(sea.model_copy(update={"height": 0.1}) for sea in campaign.seas)})
    found = leaves(courier(), water_of(campaign), list_conditions(steep), flights(told))
    assert {each.condition for each in found if each.key == "steepness"} == {0, 1, 2, 3}
    assert {each.flights for each in found} == {2}


def test_ranges_in_words() -> None:
    assert range_words("reynolds") == "50\u202f000 to 1\u202f000\u202f000"
    assert range_words("depth") == "0.5 or more"
    assert range_words("steepness") == "at most 0.05"
    assert all(limits.rests_on and limits.beyond and limits.low < limits.high for limits in RANGES.values())
    assert RANGES["depth"].high == inf


def test_pages_flag_the_designs_that_leave(told: Results, tmp_path: Path) -> None:
    """On a design's page and on How sure; a design whose flights stay within has no row."""
    rows = {row.title: row for row in of_all(told)}
    assert set(rows) == {limits.title for limits in RANGES.values()}
    for design in told.leaders:
        craft = craft_of(told.campaign, told.designs.loc[design])
        flagged = {row.title for row in of_design(told, design, craft)}
        assert flagged == {title for title, row in rows.items() if str(design) in row.left_by.split(", ")}
    shallow = craft_of(told.campaign, told.designs.loc[0])
    (row,) = of_design(told, 0, changed(shallow, {"control.ride_height": shallow.struts.height - 0.01}))[-1:]
    assert row.flights.endswith("flights there")


def test_the_share_of_a_flap_counts_where_there_is_one(told: Results) -> None:
    """Charts go from 0.1 to 0.5 of the chord."""
    water = water_of(told.campaign)
    assert isnan(design_values(courier(), water, 4.0)["flap"])
    assert design_values(changed(courier(), {"foils.aft.flap": 0.3}), water, 4.0)["flap"] == 0.3
    assert "flap" in left(told, flights(told), foils__aft__flap=0.55)
    assert "flap" not in left(told, flights(told), foils__aft__flap=0.3)


def test_what_a_range_rests_on_names_the_numbers_of_the_range() -> None:
    """A reader who compares the limits with the words beside them finds the same numbers: 5e4 to 1e6, 2, 0.1 to 0.5, a half."""
    for key in ("reynolds", "froude", "flap"):
        limits = RANGES[key]
        told = [float(text) for text in re.findall(r"\d[\d.]*(?:e\d+)?", limits.rests_on)]
        assert limits.low in told, key
        assert limits.high in told or limits.high == inf, key
    for key in ("depth", "ground"):
        assert RANGES[key].low == 0.5, "half a chord down, half a span up"
        assert "half a" in RANGES[key].rests_on


def test_the_ground_adds_the_lift_that_is_told() -> None:
    """Lifting line with Prandtl's factor of the image (as above, x = 1): the lift slope rises from a / (1 + 2 / A) to
    a / (1 + 2 (1 - sigma) / A), of aspect ratios 3 to 5."""
    sigma = (1.0 - 0.66) / (1.05 + 3.7)
    more = [100.0 * ((1.0 + 2.0 / aspect) / (1.0 + 2.0 * (1.0 - sigma) / aspect) - 1.0) for aspect in (3.0, 4.0, 5.0)]
    low, high = (int(text) for text in re.findall(r"(\d) or (\d) % of lift", RANGES["ground"].rests_on)[0])
    assert {round(each) for each in more} == {low, high}


def test_what_the_model_leaves_out_of_shallow_water_is_told() -> None:
    """MODEL.md: the image of a foil in the ground, which adds lift, and the wave drag of shallow water are left out."""
    assert RANGES["ground"].beyond == (
        "the ground carries part of the lift, and shallow water has a drag of its own: both are left out"
    )
