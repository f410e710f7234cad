from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.campaign.campaign import count_designs
from sweep.campaign.factors import Factor, range_levels
from sweep.designs import craft_of, from_cube, lay_out, to_cube
from tests.campaign.files import load

HYPERCUBE = ("plan: full-factorial", "plan: {kind: latin-hypercube, designs: 40, seed: 3}")


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
