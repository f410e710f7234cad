"""What the page of what matters says, against the made-up results of the site's tests and against plans that tell less."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.designs import lay_out, variance_blocks
from sweep.campaign.plan import LatinHypercube, Listed, VarianceBased
from sweep.insight.matters import method_of, what_matters, without_holes
from sweep.insight.scores import flight_scores
from sweep.report.page import gather
from sweep.report.pages import levels, matters, robust
from sweep.results.store import Results
from tests.site_results import HOSTILE_LABEL, campaign


def test_the_first_sentence_names_the_strongest_factor(told: Results) -> None:
    """The made-up flights hang on area and gain, and not on the layout."""
    rows = told.effects[(told.effects["response"] == "score") & (told.effects["beside"] == "")]
    first = rows.sort_values("total", ascending=False).iloc[0]
    said, fails = matters.sentences(told)[:2]
    assert fails.startswith(
        "18 of 60 designs fail: a quarter or more of the flights ended early or did not start, most clearly"
    )
    assert said.startswith(f"The score depends most on {told.campaign.factors[first['factor']].name}")
    assert f"{100 * first['total']:.2g} % (" in said
    assert said.endswith("Rangefinder layout does next to nothing, surely under 5 %.")


def test_levels_are_means_of_the_flights(told: Results) -> None:
    table = matters.level_table(told)
    failed = told.standings.set_index("design")["failed"]
    flights = told.flights[(told.flights["design"] > 0) & (failed.loc[told.flights["design"]] < 0.25).to_numpy()]
    scores = flight_scores(flights, told.campaign.score, 16.0)
    layout = told.designs["rangefinders.layout"].str.replace("-", " ").loc[flights["design"]].to_numpy()
    wanted = pd.Series(scores).groupby(layout).mean()
    rows = table[(table["response"] == "score") & (table["key"] == "f_rangefinder_layout")].set_index("level")
    np.testing.assert_allclose(rows["mean"], wanted.loc[rows.index], rtol=1e-3)
    gains = table[(table["response"] == "outside_window") & (table["key"] == "f_height_gain")]
    assert gains["level"].tolist() == ["0.33", "0.545", "0.9"], "none flies with the least"
    assert gains["mean"].between(0.0, 100.0).all(), "in %"


def test_shares_are_percents_with_and_without_the_rest(told: Results) -> None:
    table = matters.share_table(told)
    assert set(table["how"]) == {matters.ALONE, matters.JOINTLY}
    assert table["share"].between(0.0, 100.0).all()
    wide = table[table["response"] == "score"].pivot_table(index="factor", columns="how", values="share")
    assert (wide[matters.JOINTLY] >= wide[matters.ALONE] - 1e-6).all()
    assert HOSTILE_LABEL in wide.index


def test_the_strongest_pair_is_laid_out_whole(told: Results) -> None:
    found = matters.pair_table(told)
    assert found is not None
    (across, beside), rows = found
    assert {across.key, beside.key} == {"f_foil_b_onmouseover_alert_2_area_b", "f_height_gain"}
    failed = told.standings.set_index("design")["failed"].sort_index().iloc[1:]
    flies = told.designs.iloc[1:][failed.to_numpy() < 0.25]
    assert len(rows) == len(flies.groupby([HOSTILE_LABEL, "control.height.proportional"])) < 5 * 4
    assert not rows.duplicated(["across", "beside"]).any()
    assert rows["across"].nunique() >= rows["beside"].nunique()


def scored(told: Results) -> np.ndarray:
    scores = flight_scores(told.flights, told.campaign.score, 16.0)
    return scores.reshape(len(told.designs), -1, told.campaign.replicates)


def test_a_sampled_plan_gives_first_shares_and_a_listed_one_none(tmp_path: Path) -> None:
    chosen = campaign(tmp_path)
    spread = chosen.model_copy(update={"plan": LatinHypercube(kind="latin-hypercube", designs=200)})
    designs = lay_out(spread)
    assert method_of(spread, designs).kind == "classes"
    values = np.repeat(designs["control.height.proportional"].fillna(0.0).to_numpy()[:, None, None], 2, axis=1)
    found = what_matters(spread, designs, values).table.set_index("factor")
    assert found.loc["control.height.proportional", "share"] > 0.99
    assert found.loc["rangefinders.layout", "share"] < 0.1
    assert found["total"].isna().all()
    few = designs.iloc[:9]
    listed = spread.model_copy(update={"plan": Listed(kind="listed", file="x.csv")})
    assert method_of(listed, few).kind == "none"
    assert what_matters(listed, few, values[:9]).table.empty
    holes = values.copy()
    holes[3] = np.nan
    assert what_matters(spread, designs, holes).table.empty


def test_a_variance_based_plan_gives_both_shares(tmp_path: Path) -> None:
    chosen = campaign(tmp_path).model_copy(update={"plan": VarianceBased(kind="variance-based", base=256)})
    designs = lay_out(chosen)
    gain = designs["control.height.proportional"].fillna(0.5).to_numpy()
    area = 1e4 * designs[HOSTILE_LABEL].fillna(0.005).to_numpy()
    values = (gain * (area - 50.0))[:, None, None]
    found = what_matters(chosen, designs, values).table.set_index("factor")
    assert found["total"].idxmax() == HOSTILE_LABEL
    assert found.loc["control.height.proportional", "total"] - found.loc["control.height.proportional", "share"] > 0.05
    assert found.loc["rangefinders.layout", "total"] == pytest.approx(0.0, abs=1e-12)
    assert len(variance_blocks(chosen, designs).mixed) == 3


def test_what_cannot_be_told_is_said(told: Results) -> None:
    unknown = dataclasses.replace(told, effects=told.effects.head(0), levels=told.levels.head(0))
    assert "not every design was flown" in matters.sentences(unknown)[0]
    page = matters.make(gather(unknown)).value
    assert isinstance(page, matters.MattersPage)
    assert page.effects is None
    assert page.data == ["robust"]
    same = dataclasses.replace(told, effects=told.effects.assign(share=np.nan, total=np.nan))
    assert "no factor can be seen to matter" in matters.sentences(same)[0]


def test_holes_count_as_the_worst_of_their_condition() -> None:
    values = np.array([[[1.0, np.nan], [5.0, 6.0]], [[3.0, 2.0], [np.nan, np.nan]], [[0.0, 0.0], [1.0, 1.0]]])
    filled = without_holes(values)
    assert filled[0, 0].tolist() == [1.0, 3.0]
    assert filled[1, 1].tolist() == [6.0, 6.0]
    assert without_holes(np.full((2, 1, 1), np.nan)).tolist() == [[[0.0]], [[0.0]]]


def test_every_leader_has_its_tolerances_and_conditions(told: Results) -> None:
    table = robust.robust_table(told)
    for design in told.leaders:
        own = table[table["design"] == design]
        off = own[own["kind"] == robust.TOLERANCE]
        assert len(off) == 19
        assert set(own.loc[own["kind"] == robust.CONDITION, "what"]) == {"sea", "heading"}
    first = robust.leaders(told)[0]
    own = table[(table["design"] == first) & (table["kind"] == robust.TOLERANCE)]
    assert (own.loc[own["how"] == "20 % more", "cost"] < 0.0).all()
    assert own["what"].iloc[0] == robust.WAKE, "the last is the worst of the made-up ones"


def test_the_knob_is_named(told: Results) -> None:
    table = robust.robust_table(told)
    first = robust.leaders(told)[0]
    knob, wake, condition = robust.sentences(told, table)
    assert robust.WAKE in wake
    assert knob.startswith(f"The knob that you must get right on design {first}: {robust.WAKE}. 25 % stronger costs ")
    assert condition.startswith(("The hardest heading for it is following", "The hardest sea for it is chop"))
    bears = robust.sentences(told, table.assign(low=-1.0))
    assert "though not surely; no tolerance surely costs any" in bears[0]
    assert bears[-1].endswith("which is not certain.")
    assert robust.sentences(told, table.assign(low=0.1))[-1].endswith("above its mean.")


def test_tolerances_that_were_not_flown_are_offered(told: Results) -> None:
    without = dataclasses.replace(told, tolerances=pd.DataFrame())
    table = robust.robust_table(without)
    assert set(table["kind"]) == {robust.CONDITION}
    found, _ = robust.robustness(without)
    assert found is not None
    assert "tolerances: usual" in found.ask
    assert found.off == ""
    alone = dataclasses.replace(without, leaders={})
    assert robust.robust_table(alone).empty
    assert robust.robustness(alone) == (None, {})


def test_the_level_that_does_best_is_named_where_that_is_sure(told: Results) -> None:
    """The made-up flights are best at a middling area and gain, and do not hang on the layout."""
    layout, area, gain = levels.level_sentences(told)
    assert layout == (
        "Rangefinder layout: which of its levels does best on average cannot be told: bow, across bow or over foils may be it."
    )
    assert area.startswith(
        f"F{HOSTILE_LABEL[1:]}: 43.5 cm² is the best of five levels (3 of its 12 designs fail), on average over"
    )
    assert gain.startswith("Height gain: 0.545 deg/cm is the best of three levels that fly, on average over")
    assert gain.endswith("or more. So it is at each level of every other factor, surely.")


def test_what_is_best_with_one_level_and_not_with_another_is_said(told: Results) -> None:
    """Two layouts, each the best with half of the gains."""
    rows = told.levels[(told.levels["response"] == "score") & (told.levels["factor"] == "rangefinders.layout")].copy()
    beside = rows["beside"] == "control.height.proportional"
    first = rows["level"] == 0
    better = beside & (first == (rows["beside_level"] < 3))
    rows.loc[beside, ["behind_low", "behind_high"]] = np.nan
    rows.loc[better & (rows["level"] < 2), ["behind_low", "behind_high"]] = -0.5, -0.123
    rows.loc[~beside, ["behind_low", "behind_high"]] = -0.1, 0.1
    (said,) = levels.level_sentences(dataclasses.replace(told, levels=rows))
    assert said.endswith(
        "It changes with height gain: surely the best is bow with 0.2 deg/cm, 0.33 deg/cm and 0.545 deg/cm (by "
        "0.1 or more) and across bow with 0.9 deg/cm (by 0.1 or more)."
    )


@pytest.mark.parametrize(("value", "said"), [(0.19, "0.1"), (0.2, "0.2"), (3.99, "3"), (0.00071, "0.0007"), (0.6, "0.6")])
def test_what_is_surely_so_is_rounded_down(value: float, said: str) -> None:
    assert levels.at_least(value) == said
