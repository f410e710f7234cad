"""Before and after a change: the same designs are matched, and the words follow the numbers."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.addresses import value_at
from sweep.report.pages import former
from sweep.report.publishing import render
from sweep.results.store import Results
from tests.site_results import HOSTILE_LABEL, plain, results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), leaders=0, areas=2)


def worse(told: Results, by: float) -> Results:
    """The same results under other numbers of the designs, with every score so much more."""
    last = len(told.designs) - 1
    numbers = {design: (design if design == 0 else last + 1 - design) for design in told.designs.index}
    columns = ["score", "score_low", "score_high"]
    standings = told.standings.assign(
        design=told.standings["design"].map(numbers), **{name: told.standings[name] + by for name in columns}
    )
    return dataclasses.replace(told, standings=standings, designs=told.designs.rename(index=numbers))


def test_designs_are_matched_by_what_was_chosen(told: Results) -> None:
    both = former.shared(told, worse(told, 0.25))
    assert len(both) == len(told.designs)
    np.testing.assert_allclose(both["change"], -0.25)
    assert (both.loc[both["design"] > 0, "design_former"] == len(told.designs) - both.loc[both["design"] > 0, "design"]).all()


def test_the_words_follow_the_numbers(told: Results) -> None:
    before = worse(told, 0.25)
    said = " ".join(former.sentences(told, before, former.shared(told, before)))
    assert f"{len(told.designs)} score better than before. In the median the score fell by 0.25" in said
    said = " ".join(former.sentences(before, told, former.shared(before, told)))
    assert "0 score better than before. In the median the score rose by 0.25" in said
    assert "same waves" not in said


def test_other_waves_and_other_scores_are_named(told: Results) -> None:
    waves = told.campaign.model_copy(update={"flight": told.campaign.flight.model_copy(update={"seed": 99})})
    other = dataclasses.replace(told, campaign=waves)
    assert "did not fly in the same waves" in " ".join(former.sentences(told, other, former.shared(told, other)))
    scored = told.campaign.model_copy(update={"score": {}})
    other = dataclasses.replace(told, campaign=scored)
    assert "scored differently" in " ".join(former.sentences(told, other, former.shared(told, other)))


def test_what_one_campaign_alone_chooses_the_other_has_as_its_craft(told: Results) -> None:
    """The former chose no layout: of today's designs those stand beside it that have its craft's own."""
    layout, area = "rangefinders.layout", HOSTILE_LABEL
    mine = value_at(told.campaign.craft, layout)
    fewer = {label: factor for label, factor in told.campaign.factors.items() if label != layout}
    kept = told.designs[(told.designs[layout] == mine) | (told.designs.index == 0)]
    before = dataclasses.replace(
        told,
        campaign=told.campaign.model_copy(update={"factors": fewer}),
        designs=kept.drop(columns=layout),
        standings=told.standings[told.standings["design"].isin(kept.index)],
    )
    for now, then in ((told, before), (before, told)):
        both = former.shared(now, then)
        assert set(both["design"]) == set(kept.index)
        assert (both["design"] == both["design_former"]).all()
    assert "choice of rangefinder layout: added, bow, across bow, over foils" in former.changes(told, before)
    several = told.campaign.craft.model_copy(
        update={
            "foils": {**told.campaign.craft.foils, "aft": told.campaign.craft.foils["aft"].model_copy(update={"area": 0.003})}
        }
    )
    fewer = {label: factor for label, factor in told.campaign.factors.items() if label != area}
    uneven = dataclasses.replace(told, campaign=told.campaign.model_copy(update={"factors": fewer, "craft": several}))
    assert former.shared(told, uneven)["design"].tolist() == [0], "its foils differ: no one area stands for them"


def test_other_conditions_are_not_compared(told: Results) -> None:
    other = dataclasses.replace(told, conditions=told.conditions.assign(speed=[4.0, 4.0, 5.0, 5.0]))
    both = former.shared(told, other)
    assert both["change"].isna().all()
    said = " ".join(former.sentences(told, other, both))
    assert "two conditions of 4 now and 4 before" in said
    assert "score better than before" not in said
    assert {row.cells[-1] for row in former.former_page(told, other, both).rows} == {"–"}


def test_another_wind_makes_another_condition(told: Results) -> None:
    """The same waves at the same headings, with 6 m/s over them."""
    seas = tuple(sea.model_copy(update={"wind": 6.0}) for sea in told.campaign.seas)
    windy = dataclasses.replace(told, campaign=told.campaign.model_copy(update={"seas": seas}))
    assert former.incomparable(told, told) == ""
    assert "(in common: none)" in former.incomparable(windy, told)


def test_the_page_says_what_changed(told: Results, tmp_path: Path) -> None:
    campaign = told.campaign
    heavier = campaign.craft.model_copy(
        update={"body": campaign.craft.body.model_copy(update={"mass": campaign.craft.body.mass + 1})}
    )
    changed = campaign.model_copy(
        update={
            "craft": heavier,
            "replicates": 9,
            "flight": campaign.flight.model_copy(update={"length": 60.0}),
            "seas": tuple(sea.model_copy(update={"height": 2.0 * sea.height}) for sea in campaign.seas),
            "limits": {},
        }
    )
    new = dataclasses.replace(told, campaign=changed, limits=told.limits.head(0))
    assert former.changes(told, told) == []
    said = former.changes(new, told)
    mass = campaign.craft.body.mass
    assert said == [
        "sea ripple: was JONSWAP sea of 2 cm and 0.8 s, is JONSWAP sea of 4 cm and 0.8 s",
        "sea chop: was JONSWAP sea of 5 cm and 1 s, is JONSWAP sea of 10 cm and 1 s",
        "replicates: was 3, is 9",
        "length of a flight: was 20 s, is 60 s",
        "limit on touchdowns: removed, was 6 /min",
        "limit on upsets: removed, was 40 % of flights",
        f"craft.body.mass: was {mass:g} kg, is {mass + 1:g} kg",
    ]
    files = render(new, before=told)
    assert "replicates: was 3, is 9" in plain(files["former.html"])
    assert 'href="former.html"' in files["index.html"]
    assert "former.html" not in render(new)
