from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy.stats import qmc

from sweep.campaign.addresses import replace_values, with_numbers
from sweep.campaign.campaign import Campaign
from sweep.campaign.craft import Control
from sweep.campaign.designs import (
    VarianceBlocks,
    craft_of,
    from_cube,
    lay_out,
    significant,
    sobol_points,
    variance_blocks,
)
from sweep.campaign.factors import Factor, range_levels
from sweep.campaign.plan import count_designs
from tests.campaign.files import load
from tests.references import reference

HYPERCUBE = ("plan: full-factorial", "plan: {kind: latin-hypercube, designs: 40, seed: 3}")


def to_cube(factor: Factor, values: list[Any]) -> np.ndarray:
    """The shares that values of a factor come from, (values,); of a level, the middle of its part."""
    if factor.levels:
        return np.array([(factor.levels.index(value) + 0.5) / len(factor.levels) for value in values])
    array, low, high = np.asarray(values, dtype=float), factor.low, factor.high
    return np.log(array / low) / math.log(high / low) if factor.spacing == "log" else (array - low) / (high - low)


def test_the_base_craft_is_design_0_and_every_level_meets_every_other(tmp_path: Path) -> None:
    campaign = load(tmp_path)
    designs = lay_out(campaign)
    assert designs.index.name == "design"
    assert list(designs.columns) == list(campaign.factors)
    assert len(designs) == 1 + count_designs(campaign.plan, campaign.factors) == 1 + 4 * 3 * 3 * 2 * 3 * 2
    assert craft_of(campaign, designs.loc[0]) == campaign.craft
    assert not designs.iloc[1:].duplicated().any()
    assert designs.iloc[1:]["arm"].tolist()[:3] == [0.20, 0.22, 0.20]  # the last factor changes fastest
    assert designs.iloc[1:].groupby(["foils.*.area", "rangefinders.layout"]).size().unique().tolist() == [54]


def test_no_setting_of_the_control_code_has_a_mass_or_a_price() -> None:
    """So that designs which differ in these alone weigh and cost the same."""
    without = Control.model_json_schema()["$defs"].values()
    named = {name for group in [Control.model_json_schema(), *without] for name in group.get("properties", {})}
    assert "proportional" in named
    assert not [name for name in named if "mass" in name or "price" in name]


def test_what_cannot_be_is_refused_where_it_is_checked_and_made_where_it_is_not(tmp_path: Path) -> None:
    craft = load(tmp_path).craft
    assert with_numbers(craft, {"foils.aft.area": 0.004, "struts.height": 0.3}) == replace_values(
        craft, {"foils.aft.area": 0.004, "struts.height": 0.3}
    )
    with pytest.raises(ValidationError):
        replace_values(craft, {"foils.aft.area": -1.0})
    assert with_numbers(craft, {"foils.aft.area": -1.0}).foils["aft"].area == -1.0
    assert craft.foils["aft"].area == 0.005


def test_a_row_makes_its_craft(tmp_path: Path) -> None:
    campaign = load(tmp_path)
    row = lay_out(campaign).iloc[-1]
    craft = craft_of(campaign, row)
    assert [foil.area for foil in craft.foils.values()] == [0.0072] * 3
    assert (craft.struts.height, craft.rangefinders.count, craft.rangefinders.layout) == (0.22, 3, "over-foils")
    assert (craft.foils["port"].x, craft.foils["starboard"].x, craft.foils["aft"].x) == (0.22, 0.22, -0.4)
    assert craft.body == campaign.craft.body


def test_a_table_that_was_stored_makes_the_same_craft(tmp_path: Path) -> None:
    campaign = load(tmp_path, ("[1, 2, 3]", "[2, 3]"))
    designs = lay_out(campaign)
    designs.reset_index().to_parquet(tmp_path / "designs.parquet")
    stored = pd.read_parquet(tmp_path / "designs.parquet").set_index("design")
    for design in (0, 1, len(designs) - 1):
        assert craft_of(campaign, stored.loc[design]) == craft_of(campaign, designs.loc[design])


def test_addresses_that_differ_in_the_base_craft_stay_as_they_are(tmp_path: Path) -> None:
    campaign = load(tmp_path, craft=(("  aft:       {x: -40 cm, area: 50 cm^2", "  aft:       {x: -40 cm, area: 60 cm^2"),))
    designs = lay_out(campaign)
    assert math.isnan(designs.loc[0, "foils.*.area"])
    assert craft_of(campaign, designs.loc[0]) == campaign.craft


def test_what_the_base_craft_does_not_have_is_none_there(tmp_path: Path) -> None:
    campaign = load(
        tmp_path,
        ("rangefinders.layout: [bow, over-foils]", "steering.rudder: [port, aft]"),
        craft=(("steering: {rudder: aft}\n", ""),),
    )
    designs = lay_out(campaign)
    assert pd.isna(designs.loc[0, "steering.rudder"])
    assert craft_of(campaign, designs.loc[0]).steering.rudder is None
    assert craft_of(campaign, designs.loc[1]).steering.rudder == "port"


def test_a_latin_hypercube_takes_every_part_of_every_range_once(tmp_path: Path) -> None:
    campaign = load(tmp_path, HYPERCUBE, ("cm^2, levels: 4", "cm^2"), ("levels: 3, spacing: log", "spacing: log"))
    designs = lay_out(campaign).iloc[1:]
    assert len(designs) == 40
    for label in ("foils.*.area", "control.height.proportional"):
        shares = to_cube(campaign.factors[label], designs[label].tolist())
        assert sorted(np.floor(shares * 40).astype(int)) == list(range(40))
    assert designs["arm"].value_counts().to_dict() == {0.20: 20, 0.22: 20}  # levels have equal parts
    assert designs["rangefinders.count"].value_counts().between(13, 14).all()
    assert designs["rangefinders.count"].dtype.kind == "i"


def sobol(designs: int) -> tuple[str, str]:
    return ("plan: full-factorial", f"plan: {{kind: sobol, designs: {designs}, seed: 3}}")


def ranges_only(*more: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """The changes that leave three factors, each a range."""
    dropped = (
        "  rangefinders.count: [1, 2, 3]\n",
        "  rangefinders.layout: [bow, over-foils]\n",
        "  arm: {addresses: [foils.port.x, foils.starboard.x], levels: [20 cm, 22 cm]}\n",
    )
    kept = (("cm^2, levels: 4", "cm^2"), ("levels: 3, spacing: log", "spacing: log"))
    return (*((text, "") for text in dropped), *kept, ("[14 cm, 18 cm, 22 cm]", "{from: 14 cm, to: 22 cm}"), *more)


def cube(campaign: Campaign) -> np.ndarray:
    """The designs without the base craft as points of the unit cube."""
    designs = lay_out(campaign).iloc[1:]
    return np.column_stack([to_cube(factor, designs[label].tolist()) for label, factor in campaign.factors.items()])


def test_the_first_sobol_points_are_the_published_ones() -> None:
    outside = reference("statistics", "sobol_points")
    assert sobol_points(8, 4, None).tolist() == [list(row.values()) for row in outside.rows]


def test_a_sobol_plan_is_one_scrambled_sequence(tmp_path: Path) -> None:
    """Scrambling keeps what a (t, m, s)-net is: each half, quarter ... of each range holds its equal share of 64 designs."""
    points = cube(load(tmp_path, *ranges_only(sobol(64))))
    for place in range(points.shape[1]):
        assert sorted(np.floor(points[:, place] * 64).astype(int)) == list(range(64))
    first = sobol_points(64, 3, np.random.default_rng(3))
    assert points == pytest.approx(first)
    assert not np.allclose(first, sobol_points(64, 3, None))


def test_a_sobol_plan_lies_evenlier_than_chance(tmp_path: Path) -> None:
    """Centred L2 discrepancy (Hickernell 1998): far under that of 20 random samples and under any hypercube of that size."""
    points = cube(load(tmp_path, *ranges_only(sobol(128))))
    found = qmc.discrepancy(points)
    draws = np.random.default_rng(1)
    assert found < 0.2 * min(qmc.discrepancy(draws.random((128, 3))) for _ in range(20))
    assert found < min(qmc.discrepancy(qmc.LatinHypercube(3, rng=draws).random(128)) for _ in range(20))


def test_the_discrepancy_is_the_published_one() -> None:
    """Fang's 6 x 2 examples: what the test above measures by."""
    for row in reference("statistics", "discrepancy").rows:
        points = (np.array(row["points"]) - 0.5) / 6
        assert qmc.discrepancy(points) == pytest.approx(row["centred"], abs=1e-10)


def test_a_part_of_a_sobol_sequence_is_cautioned_and_is_the_beginning_of_the_whole(tmp_path: Path) -> None:
    whole, part = load(tmp_path, *ranges_only(sobol(64))), load(tmp_path, *ranges_only(sobol(40)))
    assert whole.warnings == ()
    assert part.warnings == ("40 is no power of two: 32 or 64 points of a Sobol sequence are spread more evenly",)
    pd.testing.assert_frame_equal(lay_out(part), lay_out(whole).iloc[:41])


def variance_based(base: int) -> tuple[str, str]:
    return ("plan: full-factorial", f"plan: {{kind: variance-based, base: {base}, seed: 5}}")


def test_a_variance_based_plan_is_two_samples_and_their_mixtures(tmp_path: Path) -> None:
    campaign = load(tmp_path, *ranges_only(variance_based(16)))
    designs = lay_out(campaign)
    assert len(designs) == 1 + count_designs(campaign.plan, campaign.factors) == 1 + 16 * (3 + 2)
    a, b, mixed = variance_blocks(campaign, designs)
    assert sorted([*a, *b, *np.concatenate(list(mixed.values()))]) == list(range(1, len(designs)))
    for label, block in mixed.items():
        others = [other for other in campaign.factors if other != label]
        assert designs.loc[block, label].tolist() == designs.loc[b, label].tolist()
        assert designs.loc[block, others].to_numpy().tolist() == designs.loc[a, others].to_numpy().tolist()
        assert designs.loc[a, label].tolist() != designs.loc[b, label].tolist()


def test_a_variance_based_plan_takes_levels_and_words(tmp_path: Path) -> None:
    campaign = load(tmp_path, variance_based(32))
    designs = lay_out(campaign)
    a, b, mixed = variance_blocks(campaign, designs)
    for sample in (a, b):
        assert designs.loc[sample, "rangefinders.layout"].value_counts().to_dict() == {"bow": 16, "over-foils": 16}
    layouts = designs["rangefinders.layout"]
    assert layouts[mixed["rangefinders.layout"]].tolist() == layouts[b].tolist()


def test_blocks_of_another_plan_are_refused(tmp_path: Path) -> None:
    campaign = load(tmp_path)
    with pytest.raises(ValueError, match="wanted all designs of a variance-based plan"):
        variance_blocks(campaign, lay_out(campaign))
    based = load(tmp_path, *ranges_only(variance_based(16)))
    with pytest.raises(ValueError, match="40 designs"):
        variance_blocks(based, lay_out(based).iloc[:40])


def shares_of_variance(y: np.ndarray, blocks: VarianceBlocks) -> tuple[list[float], list[float]]:
    """First-order and total indices as the docstring of VarianceBlocks has them."""
    a, b, mixed = (y - y.mean())[blocks.a], (y - y.mean())[blocks.b], [(y - y.mean())[m] for m in blocks.mixed.values()]
    variance = np.concatenate((a, b)).var()
    first = [float(np.mean(b * (m - a)) / variance) for m in mixed]
    return first, [float(np.mean((a - m) ** 2) / (2 * variance)) for m in mixed]


def test_the_indices_of_ishigami_come_back(tmp_path: Path) -> None:
    """Ishigami & Homma 1990 over three ranges of a craft, one of them logarithmic; within what 4096 points are good for."""
    outside = reference("statistics", "ishigami").rows[0]
    campaign = load(tmp_path, *ranges_only(variance_based(4096)))
    x = np.pi * (2 * np.vstack(([0.5] * 3, cube(campaign))) - 1)
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    first, total = shares_of_variance(y, variance_blocks(campaign, lay_out(campaign)))
    assert first == pytest.approx([outside["S1"], outside["S2"], outside["S3"]], abs=0.01)
    assert total == pytest.approx([outside["T1"], outside["T2"], outside["T3"]], abs=0.01)


def test_the_indices_of_the_g_function_come_back(tmp_path: Path) -> None:
    """Sobol's G with a = 0, 0, 0: all three factors alike, half of it interaction."""
    outside = reference("statistics", "sobol_g_equal").rows[0]
    campaign = load(tmp_path, *ranges_only(variance_based(4096)))
    y = np.prod(np.abs(4 * np.vstack(([0.5] * 3, cube(campaign))) - 2), axis=1)
    first, total = shares_of_variance(y, variance_blocks(campaign, lay_out(campaign)))
    assert first == pytest.approx([outside["first"]] * 3, abs=0.015)
    assert total == pytest.approx([outside["total"]] * 3, abs=0.015)


def test_seeds_make_plans(tmp_path: Path) -> None:
    first = lay_out(load(tmp_path, HYPERCUBE))
    assert lay_out(load(tmp_path, HYPERCUBE)).equals(first)
    assert not lay_out(load(tmp_path, (HYPERCUBE[0], HYPERCUBE[1].replace("seed: 3", "seed: 0")))).equals(first)


def test_a_range_of_whole_numbers_takes_them_all(tmp_path: Path) -> None:
    campaign = load(tmp_path, ("[1, 2, 3]", "{from: 1, to: 4}"))
    assert campaign.factors["rangefinders.count"].levels == (1, 2, 3, 4)


SPANS = st.tuples(st.floats(1e-3, 1e3), st.floats(1.01, 100)).map(lambda pair: (pair[0], pair[0] * pair[1]))
UNIT_SHARES = st.floats(0, 1, exclude_max=True)


@given(SPANS, st.sampled_from(["linear", "log"]), st.lists(UNIT_SHARES, min_size=1, max_size=5))
def test_scaling_goes_back(span: tuple[float, float], spacing: str, shares: list[float]) -> None:
    factor = Factor(label="x", addresses=("x",), low=span[0], high=span[1], spacing=spacing)  # type: ignore[arg-type]
    values = from_cube(factor, np.array(shares))
    assert all(span[0] <= value <= span[1] * (1 + 1e-12) for value in values)
    assert to_cube(factor, values) == pytest.approx(np.array(shares), abs=1e-9)


@given(st.integers(2, 12), UNIT_SHARES)
def test_levels_go_back_to_their_part(count: int, share: float) -> None:
    factor = Factor(label="x", addresses=("x",), levels=tuple(range(count)))
    (value,) = from_cube(factor, np.array([share]))
    assert abs(to_cube(factor, [value])[0] - share) <= 0.5 / count + 1e-12


@given(SPANS, st.integers(2, 20))
def test_levels_of_a_range_keep_their_ends_and_spacing(span: tuple[float, float], count: int) -> None:
    linear, log = (np.array(range_levels(*span, count, spacing)) for spacing in ("linear", "log"))
    assert (linear[0], linear[-1]) == (log[0], log[-1]) == span
    assert linear == pytest.approx(np.linspace(*span, count))
    assert log == pytest.approx(np.geomspace(*span, count))


@given(st.lists(st.floats(-1e15, 1e15).filter(lambda value: abs(value) > 1e-15 or value == 0.0)), st.integers(2, 6))
def test_significant_digits_are_those_of_the_printed_number(numbers: list[float], digits: int) -> None:
    values = pd.Series([*numbers, math.nan, math.inf, 9.99996])
    shown = significant(values, digits)
    for value, found in zip(values, shown, strict=True):
        wanted = float(f"{value:.{digits}g}")
        assert found == wanted or math.isnan(value) or abs(found - value) <= abs(wanted - value) * (1 + 1e-9), (
            "halves go either way"
        )
