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
from sweep.words.numbers import count, grouped, interval, number, pretty, with_unit
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


def near_the_best(told: Results, some: int, share: float = 0.05, **columns: object) -> Results:
    """The first so many designs, the first but itself surely within the share of the best."""
    rows = np.arange(len(told.standings))
    high = np.where(rows < some, share, np.inf)
    return with_standings(told, good_enough=rows < some, above_high=high, **{"failing_high": np.nan} | columns)


def test_the_result_names_the_best_and_says_what_it_is_surely_better_by(told: Results) -> None:
    said = result(with_standings(told, gain=0.3, gain_sure=0.12))
    kept = told.standings[told.standings["verdict"] != "broken"]
    best = kept.iloc[0]
    score = f"its score is {number(best['score'])}{interval(best['score_low'], best['score_high'])}, and less is better."
    assert said[0] == f"Design {best['design']} comes first of {len(kept)} designs that broke no limit; {score}"
    least = f"Design {best['design']} is surely better than the base craft: by 0.3 in these flights, and by at least 0.12"
    assert (told.standings["failed"] > 0.0).any()
    assert f"{least}, what so few flights may hide of its failures counted in." in said
    clean = result(with_standings(told, gain=0.3, gain_sure=0.12, failed=0.0))
    assert f"{least}, unless it fails, which no flight has done yet." in clean
    assert "broke a limit" in " ".join(said)


def test_the_result_says_what_the_best_has(told: Results) -> None:
    has = result(told)[1]
    best = told.standings.iloc[0]["design"]
    assert has.startswith("It has foil <b onmouseover=alert(2)>area</b> ")
    assert " cm², height gain " in has
    assert has.endswith(f" and rangefinder layout {told.designs.loc[best, 'rangefinders.layout']}.")


def test_cheapest_and_lightest_are_of_those_that_are_good_enough(told: Results) -> None:
    near = near_the_best(told, 4)
    some = sorted(near.standings["design"].head(4))
    heavier = told.designs.assign(mass=told.designs.index / 100 + 3, price=1000.0 - 10.0 * told.designs.index)
    said = " ".join(result(having(near, heavier)))
    assert "Four designs are good enough: surely within" in said
    assert "whichever design that is, and no limit broken" in said
    assert f"the lightest is design {some[0]} ({number(3 + some[0] / 100)} kg)" in said
    assert f"Of these, the cheapest is design {some[-1]} ({1000 - 10 * some[-1]})" in said


def test_costs_that_are_alike_are_no_choice(told: Results) -> None:
    alike = told.designs.assign(mass=3.0, price=420.0)
    assert not any("Of these" in sentence for sentence in result(having(near_the_best(told, 4), alike)))


def test_what_may_be_the_best_is_nothing_to_choose_by_cost(told: Results) -> None:
    """What chance cannot part from the best may be far worse: nothing is recommended, and it is said what would tell."""
    none = near_the_best(told, 0, may_be_best=True)
    said = " ".join(result(none))
    assert "Which designs are good enough is not known: by these flights no two designs are surely within 100 %" in said
    assert "More replicates would tell." in said
    assert "lightest" not in said


def test_a_share_that_is_wider_than_asked_for_is_said(told: Results) -> None:
    said = " ".join(result(near_the_best(told, 2, share=0.2)))
    assert "surely within 20 % of the best score" in said
    assert "the smallest share that these flights show for two designs" in said
    assert "More replicates would show which are within" in said


def test_nothing_is_named_by_its_cost_where_the_share_is_wide(told: Results) -> None:
    """Of two boats one of which may be worse by half, the lighter is no choice; four times the flights halve the share."""
    heavier = told.designs.assign(mass=told.designs.index / 100 + 3)
    wide, narrow = (" ".join(result(having(near_the_best(told, 4, share, flights=48), heavier))) for share in (0.5, 0.25))
    assert "About 200 flights of each leading design, instead of 48, would show who is within a quarter." in wide
    assert "lightest" not in wide
    assert "the lightest is design" in narrow


def test_where_failures_make_the_share_wide_how_often_they_come_is_said_apart(told: Results) -> None:
    rows = np.arange(len(told.standings))
    columns = {
        "failing_high": np.where(rows < 4, 0.0561, np.nan),
        "riding_high": np.where(rows < 4, 0.1, np.inf),
        "flights": 93,
    }
    apart = having(near_the_best(told, 4, 0.75, failed=0.0, **columns), told.designs.assign(mass=told.designs.index / 100 + 3))
    said = " ".join(result(apart))
    assert "Unless it fails, it is surely within a tenth of the best score, whichever design has that." in said
    assert "Four designs are good enough unless they fail: surely within a tenth of the best score" in said
    assert "none failed in its 93 flights, so that each surely fails in less than 5.7 % of its flights." in said
    assert "the lightest is design" in said
    assert "75 %" not in said


def test_the_first_design_is_told_by_what_it_may_still_be_behind(told: Results) -> None:
    assert "It is surely within 5 % of the best score, whichever design has that." in result(near_the_best(told, 1))
    far = near_the_best(told, 0, behind_high=0.31)
    assert "It may still be behind another design, by up to 0.31." in result(far)
    assert "How far it may still be behind the best is not known." in result(near_the_best(told, 0, behind_high=np.nan))


def test_a_better_design_that_did_not_fly_on_is_named(told: Results) -> None:
    """After a limit is dropped, whom it had refused has few flights: it is named, first or not."""
    flown = near_the_best(told, 0, may_be_best=True, reason="", verdict="kept", behind_high=0.31, flights=96)
    assert not any("fly on" in sentence for sentence in result(flown))
    rows, at = flown.standings, np.arange(len(flown.standings))
    first, other = int(rows["design"].iloc[0]), int(rows["design"].iloc[2])
    few = with_standings(flown, flights=np.where(at == 2, 12, 96), score=np.where(at == 2, 0.5, 0.7))
    said = f"Design {other} scores 0.2 better in the flights that both have, but these are too few to tell"
    assert said in " ".join(result(few))
    assert said not in " ".join(result(with_standings(few, reason="Dropped out in round 1 after 2 flights")))
    ahead = " ".join(result(with_standings(flown, flights=np.where(at == 0, 12, 96))))
    assert f"Design {first} has flown 12 flights, others up to 96" in ahead


def test_where_no_flight_failed_no_promise_covers_failures(told: Results) -> None:
    """None of 1000: fewer than 3 in 1000, the rule of three (Hanley & Lippman-Hand, JAMA 249, 1983, 1743-1745)."""
    flights = np.where(np.arange(len(told.standings)) == 0, 1000, 0)
    said = " ".join(result(near_the_best(told, 4, failed=0.0, flights=flights)))
    assert "None of the 1\u202f000 flights ended early, and no figure here has that in it (" in said
    assert "fewer than 0.3 % of flights end early, 95 % sure" in said
    assert "no figure here" not in " ".join(result(near_the_best(told, 4)))


def having(told: Results, designs: pd.DataFrame) -> Results:
    return dataclasses.replace(told, designs=designs)


def test_one_winner_is_called_the_best(told: Results) -> None:
    alone = with_standings(told, may_be_best=told.standings["place"] == 1, verdict="kept")
    best = alone.standings.iloc[0]["design"]
    assert result(alone)[0].startswith(f"Design {best} is the best of {len(alone.standings)} designs;")


def test_a_gain_that_may_be_luck_is_told_so(told: Results) -> None:
    assert any(
        "but not surely: it may be chance." in sentence for sentence in result(with_standings(told, gain=0.1, gain_sure=-0.1))
    )


def test_limits_that_are_not_settled_are_told(told: Results) -> None:
    open_limits = with_standings(told, verdict="not yet known", reason="Upsets: 3 more clean flights would tell.")
    assert any("not yet known: Upsets: 3 more clean flights would tell." in sentence for sentence in result(open_limits))


def test_nobody_is_recommended_when_all_broke_a_limit(told: Results) -> None:
    assert result(with_standings(told, verdict="broken"))[0] == "Each of the 61 designs broke a limit: none can be recommended."


def test_one_replicate_claims_no_certainty(tmp_path: Path) -> None:
    said = " ".join(result(results(tmp_path, leaders=0, replicates=1, areas=2)))
    assert "One replicate cannot tell how sure that is." in said
    assert "good enough" not in said


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
    """Of a price of 1234.6 four digits are told; a fifth is none of a builder's estimate."""
    near = near_the_best(told, 3)
    prices = pd.Series(1535.2, index=told.designs.index)
    prices[near.standings["design"].iloc[1]] = 1234.6
    said = " ".join(result(having(near, told.designs.assign(mass=3.0, price=prices))))
    assert f"the cheapest is design {near.standings['design'].iloc[1]} (1235)." in said


def test_a_limit_that_is_not_settled_may_have_no_reason(told: Results) -> None:
    first = result(with_standings(told, verdict="not yet known", reason=""))
    assert "Whether it keeps every limit is not yet known." in first


def test_a_base_craft_that_scores_better_and_broke_a_limit_is_told_so(told: Results) -> None:
    """It has no place, so the best of the others comes first, though it is worse: no 'gain of -0.2', no '-0.2 better'."""
    table = told.standings.assign(gain=-0.2, gain_low=-0.3, gain_high=-0.1, gain_sure=-0.3, verdict="kept")
    table.loc[table["design"] == 0, ["verdict", "reason"]] = ["broken", "Upsets: 30 % against 25 % allowed, at least 26 %."]
    said = result(dataclasses.replace(told, standings=table))
    broke = "broke a limit (upsets: 30 % against 25 % allowed, at least 26 %)"
    assert f"The base craft scores 0.2 better in these flights, but it {broke}." in said
    assert not any("-0.2" in sentence for sentence in said)
    why = "Upsets: 26 % against 25 % allowed, but up to 40 %."
    table.loc[table["design"] == 0, ["verdict", "reason"]] = ["not yet known", why]
    said = result(dataclasses.replace(told, standings=table))
    doubt = "breaks a limit by its own flights, though not surely (upsets: 26 % against 25 % allowed, but up to 40 %)"
    assert f"The base craft scores 0.2 better in these flights, but it {doubt}." in said
    table.loc[table["design"] == 0, ["verdict", "reason"]] = ["broken", "It breaks the rule “short struts”."]
    said = result(dataclasses.replace(told, standings=table))
    assert "The base craft scores 0.2 better in these flights, but it breaks the rule “short struts”." in said


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


def test_the_only_design_that_broke_no_limit_is_no_best_of_one(told: Results) -> None:
    verdicts = ["kept"] + ["broken"] * (len(told.standings) - 1)
    first = result(with_standings(told, verdict=verdicts))[0]
    best = int(told.standings.iloc[0]["design"])
    assert first.startswith(
        f"Design {best} is the only one of {len(told.standings)} designs that broke no limit; its score is "
    )
    assert "of 1 design" not in first
