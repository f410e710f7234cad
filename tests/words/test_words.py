"""Values and results in words."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.report.headline import result
from sweep.results.store import Results
from sweep.words.numbers import count, grouped, interval, number, pretty, spelled, with_unit
from sweep.words.responses import response, response_title
from tests.site_results import results


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (1.0, "1"), (1.234, "1.23"), (0.012345, "0.0123"), (1234.0, "1230"), (9.999, "10"), (-0.5, "-0.5"),
        (1e-9, "0.000000001"), (math.nan, "not known"), (math.inf, "not known"), (100.4, "100"), (0.1 + 0.2, "0.3"),
    ],
)  # fmt: skip
def test_numbers_keep_three_digits(value: float, text: str) -> None:
    assert number(value) == text


def test_units_are_printed_as_print_has_them() -> None:
    assert with_unit(0.5, "m/s^2") == "0.5 m/s²"
    assert with_unit(2.0, "count") == "2"
    assert with_unit(math.nan, "cm") == "not known"
    assert pretty("deg*s/cm") == "deg·s/cm"


def test_responses_are_told_in_their_shown_unit() -> None:
    assert response("ride_height_error", 0.012) == "1.2 cm"
    assert response("touchdowns", 0.1) == "6 /min"
    assert response("pitch_rms", math.pi / 180) == "1 deg"
    assert response_title("clearance_p01") == "clearance (1st percentile)"


def test_counts_and_intervals() -> None:
    assert count(1, "other", "others") == "one other"
    assert count(0, "other", "others") == "no others"
    assert count(13, "other", "others") == "13 others"
    assert grouped(12345) == "12\u202f345"
    assert interval(1.0, 2.0) == " (1 to 2)"
    assert interval(math.nan, 2.0) == ""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), leaders=0)


def with_standings(told: Results, **columns: object) -> Results:
    return dataclasses.replace(told, standings=told.standings.assign(**columns))


def test_the_result_names_the_best_and_its_peers(told: Results) -> None:
    said = " ".join(result(told))
    standings = told.standings
    kept = standings[standings["verdict"] != "broken"]
    best, peers = kept.iloc[0], int(kept["level_with_best"].sum()) - 1
    assert peers > 0
    assert said.startswith(
        f"Design {best['design']} is level with {count(peers, 'other', 'others')} at the top of {len(kept)} designs"
    )
    score = f"its score is {number(best['score'])}{interval(best['score_low'], best['score_high'])}, and less is better."
    assert score in said
    assert f"{number(best['gain'])}{interval(best['gain_low'], best['gain_high'])} better than the base craft" in said
    assert "broke a limit" in said


def test_the_result_says_what_the_best_has_and_which_of_its_peers_costs_least(told: Results) -> None:
    standings = told.standings
    best, level = standings.iloc[0]["design"], standings.loc[standings["level_with_best"], "design"]
    has = result(told)[1]
    assert has.startswith("It has foil <b onmouseover=alert(2)>area</b> ")
    assert " cm², control.height.proportional " in has
    assert has.endswith(f" and rangefinders.layout {told.designs.loc[best, 'rangefinders.layout']}.")
    assert 0 not in level.tolist()
    heavier = told.designs.assign(mass=told.designs.index / 100 + 3, price=420.0)  # by its number, so the least number is it
    cheaper = heavier.assign(price=1000.0 - told.designs.index)
    near = alike(told)
    them = f"Of the {spelled(len(near))} of them that score within a tenth of the first, the"
    assert f"{them} lightest is design {min(near)} ({number(3 + min(near) / 100)} kg)." in result(having(told, heavier))
    assert f"{them} cheapest is design {max(near)} ({1000 - max(near)})." in result(having(told, cheaper))
    assert not any("of them that" in sentence for sentence in result(having(told, heavier.assign(mass=3.0))))


def alike(told: Results) -> list[int]:
    """The designs that are level with the first and score at most a tenth more."""
    level = told.standings[told.standings["level_with_best"] & told.standings["verdict"].ne("broken")]
    return level.loc[level["score"] <= 1.1 * level["score"].min(), "design"].tolist()


def test_what_costs_little_and_scores_badly_is_not_what_to_choose(told: Results) -> None:
    """Level is what chance cannot part: the lightest of such designs may be far worse, and no sentence sends one there."""
    far = alike(told)[-1]
    light = having(told, told.designs.assign(price=420.0, mass=np.where(told.designs.index == far, 1.0, 3.0)))
    assert f"the lightest is design {far} (1 kg)" in " ".join(result(light))
    worse = told.standings["score"].where(told.standings["design"] != far, 1.2 * told.standings["score"].min())
    said = " ".join(result(dataclasses.replace(light, standings=told.standings.assign(score=worse))))
    assert f"design {far}" not in said
    assert "choose by cost" not in said


def having(told: Results, designs: pd.DataFrame) -> Results:
    return dataclasses.replace(told, designs=designs)


def test_one_winner_is_called_the_best(told: Results) -> None:
    alone = with_standings(told, level_with_best=told.standings["place"] == 1, verdict="kept")
    best = alone.standings.iloc[0]["design"]
    assert result(alone)[0].startswith(f"Design {best} is the best of {len(alone.standings)} designs;")


def test_a_gain_that_may_be_luck_is_told_so(told: Results) -> None:
    level = with_standings(told, level_with_best=(told.standings["place"] <= 3) | (told.standings["design"] == 0))
    assert any("may be luck" in sentence for sentence in result(level))
    spanning = with_standings(told, gain_low=-0.1, level_with_best=told.standings["place"] <= 3)
    assert any("is not certain" in sentence for sentence in result(spanning))


def test_limits_that_are_not_settled_are_told(told: Results) -> None:
    open_limits = with_standings(told, verdict="not yet known", reason="Upsets: 3 more clean flights would tell.")
    assert any("not yet known: Upsets: 3 more clean flights would tell." in sentence for sentence in result(open_limits))


def test_nobody_is_recommended_when_all_broke_a_limit(told: Results) -> None:
    assert result(with_standings(told, verdict="broken"))[0] == "Each of the 61 designs broke a limit: none can be recommended."


def test_one_replicate_claims_no_certainty(tmp_path: Path) -> None:
    said = " ".join(result(results(tmp_path, leaders=0, replicates=1, areas=2)))
    assert "One replicate cannot tell how sure that is." in said
    assert "level with" not in said


def test_a_run_that_is_not_finished_says_so(told: Results) -> None:
    early = dataclasses.replace(told, flights=told.flights[told.flights["design"] < 50])
    assert result(early)[-1] == "The run is not finished: eleven designs have not flown."


def test_before_any_flight_there_is_no_score(told: Results) -> None:
    nothing = dataclasses.replace(told, standings=told.standings.head(0), flights=told.flights.head(0))
    assert result(nothing) == [
        "No design has been scored yet.",
        f"The run is not finished: {len(told.designs)} designs have not flown.",
    ]


def test_what_the_cheapest_costs_keeps_the_digits_that_decide(told: Results) -> None:
    """Of prices 1234.6 and 1235.2 the fourth digit decides and is told; a fifth is none of a builder's estimate."""
    near = alike(told)
    prices = pd.Series(1235.2, index=told.designs.index)
    prices[min(near)] = 1234.6
    said = result(having(told, told.designs.assign(mass=3.0, price=prices)))
    assert any(sentence.endswith(f"the cheapest is design {min(near)} (1235).") for sentence in said)


def test_a_limit_that_is_not_settled_may_have_no_reason(told: Results) -> None:
    first = result(with_standings(told, verdict="not yet known", reason=""))
    assert "Whether it keeps every limit is not yet known." in first


@pytest.mark.parametrize(("ends", "told_as"), [((-0.3, -0.1), " (0.1 to 0.3)"), ((math.nan, math.nan), "")])
def test_a_base_craft_that_scores_better_and_broke_a_limit_is_told_so(
    told: Results, ends: tuple[float, float], told_as: str
) -> None:
    """It has no place, so the best of the others comes first, though it is worse: no 'gain of -0.2', no '-0.2 better'."""
    names = {"gain": -0.2, "gain_low": ends[0], "gain_high": ends[1], "verdict": "kept", "level_with_best": False}
    table = told.standings.assign(**names)
    table.loc[table["design"] == 0, "verdict"] = "broken"
    said = result(dataclasses.replace(told, standings=table))
    assert f"The base craft scores 0.2{told_as} better, but broke a limit." in said
    assert not any("-0.2" in sentence or "beats the base craft" in sentence for sentence in said)


def test_where_the_best_rides_worst_is_told_last(told: Results) -> None:
    """1 cm in the first condition, 2 cm in the next, and so on."""
    best = int(told.standings.iloc[0]["design"])
    names = told.conditions["name"].tolist()
    rough = dataclasses.replace(told, flights=told.flights.assign(ride_height_error=0.01 * (told.flights["condition"] + 1)))
    assert (
        f"Design {best} follows its wanted height within 1 cm in {names[0]}, and within 4 cm in {names[3]}, its worst (root "
        "mean square)."
    ) in result(rough)
    one = dataclasses.replace(rough, flights=rough.flights[rough.flights["condition"] == 1])
    assert f"Design {best} follows its wanted height within 2 cm in {names[1]} (root mean square)." in result(one)


def test_a_gain_that_may_be_none_is_told_with_its_interval(told: Results) -> None:
    best = int(told.standings.iloc[0]["design"])
    alone = with_standings(told, gain=0.1, gain_low=-0.1, gain_high=0.3, level_with_best=told.standings["place"] == 1)
    assert f"That design {best} beats the base craft is not certain: the gain is 0.1 (-0.1 to 0.3)." in result(alone)


def test_the_only_design_that_broke_no_limit_is_no_best_of_one(told: Results) -> None:
    verdicts = ["kept"] + ["broken"] * (len(told.standings) - 1)
    first = result(with_standings(told, verdict=verdicts))[0]
    best = int(told.standings.iloc[0]["design"])
    assert first.startswith(
        f"Design {best} is the only one of {len(told.standings)} designs that broke no limit; its score is "
    )
    assert "of 1 design" not in first
