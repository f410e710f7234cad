"""What pages say of numbers that were chosen so that a turned word, a swapped number or a lost sentence would show."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.campaign.draws import water_of
from sweep.insight.intervals import CONFIDENCE
from sweep.model.quantities import STATUS_NAMES
from sweep.preflight.first_runs import TRIES, FirstRuns, NoRuns, RunTally, Setting, trimmed
from sweep.report.display import design_table
from sweep.report.pages import (
    builds,
    changes,
    design,
    first_runs,
    former,
    logs,
    matters,
    race,
    robust,
    stability,
    standings,
    sure,
    tradeoffs,
)
from sweep.results.manifest import Deadline
from sweep.results.store import Results
from tests.model.crafts import courier
from tests.site_results import former_of


def first_build(told: Results, **columns: object) -> list[str]:
    """What is said of builds, the first of which has these values."""
    table = told.builds.copy()
    for name, value in columns.items():
        table.loc[table.index[0], name] = value
    return builds.sentences(dataclasses.replace(told, builds=table))


def test_the_first_build_is_told_in_whole_sentences(told: Results) -> None:
    first = told.builds.iloc[0]
    said = first_build(told, score=0.5, score_low=0.4, score_high=0.6, gain=0.2, gain_low=0.1, gain_high=0.3, good=3)
    assert said[0].endswith("its score is 0.5 (0.4 to 0.6), and less is better.")
    assert said[1] == "It gains 0.2 (0.1 to 0.3) over the base craft."
    assert said[2] == f"3 of its {first['settings']} settings are good: within a quarter of its best, and no limit broken."


def test_a_base_craft_that_scores_better_and_broke_a_limit_is_told_so(told: Results) -> None:
    """It has no place then, and the first of the others has a gain of less than nothing."""
    table = told.standings.copy()
    why = "Broaches: 9 /min against 6 /min allowed, at least 7 /min."
    table.loc[table["design"] == 0, ["verdict", "reason"]] = ["broken", why]
    said = first_build(dataclasses.replace(told, standings=table), gain=-0.2, gain_low=-0.3, gain_high=-0.1)
    broke = "broke a limit (broaches: 9 /min against 6 /min allowed, at least 7 /min)"
    assert said[1] == f"The base craft scores 0.2 (0.1 to 0.3) better, but {broke}."


def test_a_setting_that_is_not_surely_delicate_is_told_as_such(told: Results) -> None:
    """What one step off costs may be nothing: the interval reaches below zero."""
    unsure = dataclasses.replace(told, settings=told.settings.assign(cost=0.5, cost_low=-0.4, cost_high=1.4))
    gain = "height gain"
    assert (
        f"None of its settings is surely sensitive; the costliest is {gain}: one step off costs 0.5 (-0.4 to 1.4)."
    ) in builds.sentences(unsure)
    sure = dataclasses.replace(told, settings=told.settings.assign(cost=0.5, cost_low=0.4, cost_high=0.6))
    assert f"Its most sensitive setting is {gain}: one step off costs 0.5 (0.4 to 0.6) of score." in builds.sentences(sure)


def test_the_score_that_flatters_is_the_one_seen(told: Results) -> None:
    """Less is better: chosen and judged by the same flights a build looks better, 0.45, than on the others, 0.5."""
    assert first_build(told, score=0.5, score_seen=0.45)[-1] == (
        "On the same flights that chose its setting it scores 0.45, which is too good. The score above avoids that: for each "
        "replicate the setting was chosen on the other replicates."
    )
    assert not any("too good" in sentence for sentence in first_build(told, score=0.5, score_seen=0.5))


def test_builds_without_a_second_setting_cannot_be_judged_at_their_best(told: Results) -> None:
    single = dataclasses.replace(told, builds=pd.DataFrame(), settings=pd.DataFrame(), designs=told.designs.iloc[[0, 1, 5, 9]])
    assert builds.sentences(single) == [
        "The plan gives most builds only one setting, so they cannot be compared each at its own best. Use a full factorial, "
        "or a list in which each boat comes with several gains."
    ]


def test_a_build_leads_to_the_page_of_its_design(told: Results) -> None:
    table = builds.build_table(told)
    pages = dict(zip(table["design"], table["page"], strict=True))
    assert {design for design, page in pages.items() if page} == set(told.leaders) & set(pages)
    assert all(page == f"design-{design}.html" for design, page in pages.items() if page)


@pytest.mark.parametrize(("sign", "word"), [(1.0, "better"), (-1.0, "worse")])
def test_a_design_is_told_as_better_or_worse_than_the_base_craft(told: Results, sign: float, word: str) -> None:
    """A gain of score is better, since less is; what is told of a loss is its size."""
    ends = sorted((0.2 * sign, 0.3 * sign))
    table = told.standings.assign(gain=0.25 * sign, gain_low=ends[0], gain_high=ends[1])
    first = int(table.iloc[0]["design"])
    said = design.sentences(dataclasses.replace(told, standings=table), first)
    assert f"Its score is 0.25 (0.2 to 0.3) {word} than the base craft's." in said
    unsure = table.assign(gain_low=-0.5, gain_high=0.5)
    assert f"Its score is 0.25 {word} than the base craft's." in design.sentences(
        dataclasses.replace(told, standings=unsure), first
    )


def change(**columns: object) -> dict[str, object]:
    """A change that was foretold to gain 0.2 and gained 0.1 (0.05 to 0.15) when flown."""
    usual = {"label": "struts.height", "was": "18 cm", "becomes": "20 cm", "predicted": 0.2, "predicted_low": 0.1}
    flown = {"predicted_high": 0.3, "gain": 0.1, "gain_low": 0.05, "gain_high": 0.15, "clean": 0.9, "clean_before": 0.75}
    return usual | flown | columns


def test_changes_are_told_as_foretold_and_as_flown() -> None:
    both = change(
        label="struts.height and foils.aft.x", becomes="more", predicted=0.25, gain=0.3, gain_low=0.25, gain_high=0.35
    )
    said = list(changes._next_sentences(pd.DataFrame([change(), both])))
    assert said == [
        "Strut height from 18 cm to 20 cm: predicted 0.2 better, flown 0.1 ± 0.05 better.",
        "The best of all changes flown. Strut height and aft foil distance forward from 18 cm to more: 0.3 ± 0.05 better.",
    ]
    worse = change(gain=-0.1, gain_low=-0.15, gain_high=0.01)
    assert list(changes._next_sentences(pd.DataFrame([worse]))) == [
        "Strut height from 18 cm to 20 cm: predicted 0.2 better, flown 0.1 ± 0.08 worse, which may be chance.",
        "No change is surely better than the design as it is: no design near it is known to be better.",
    ]
    hopeless = list(changes._next_sentences(pd.DataFrame([change(predicted=-0.1)])))
    assert hopeless[0] == "From the designs near it, no small change of one factor is predicted to help."


def test_few_clean_flights_are_no_proof() -> None:
    """Clopper and Pearson's bound for none of 12 at 95 %: 1 - 0.05^(1/12)."""
    assert changes._caution(12) == (
        "So few flights do not show that a part is safe: behind twelve clean flights of twelve up to 22 % of all flights may "
        "be unclean."
    )


def test_the_share_of_clean_flights_comes_before_what_it_was() -> None:
    assert changes._clean(change()) == "90 %, was 75 %"


def test_a_part_may_be_as_poor_as_the_last_that_still_does() -> None:
    """A tenth of a score of 1 may be lost: 0.05 and 0.09 are, 0.3 is too much, and 0.01 after it does not count."""
    tried = [(0.05, "4 mm"), (0.09, "5 mm"), (0.3, "6 mm"), (0.01, "7 mm")]
    rows = [
        change(
            label="noise", was="3 mm", becomes=value, gain=-lost, gain_low=-lost, gain_high=-lost, clean=1.0, clean_before=1.0
        )
        for lost, value in tried
    ]
    (row,) = changes._poorer(pd.DataFrame(rows), 1.0)
    assert tuple(row) == ("noise", "3 mm", "5 mm", "6 mm: 0.3 ± 0 worse; clean 100 %, was 100 %")


def runs(**values: object) -> FirstRuns:
    clean = RunTally(TRIES, 0, 0, 0, 0, 1.2)
    base = FirstRuns(
        courier(), Setting(0.7, 2.9, (2.6, None)), clean, clean, None, None, (0.85, 1.0), ((3.4, clean), (3.9, clean))
    )
    return base._replace(**values)


def test_first_runs_say_throttle_and_foils_of_the_trim(told: Results) -> None:
    """Throttle in per cent of all there is, foils in degrees, at the speed of the first runs."""
    said = list(first_runs.evidence(told.campaign, courier(), runs()))
    fleet = trimmed(courier(), water_of(told.campaign), 2.9)
    assert 0.1 < fleet.trim[0, 2] < 1.0
    assert f", then flew with {fleet.trim[0, 2]:.0%} throttle and its foils at port ".replace("%", " %") in said[0]
    assert f"{TRIES} times from rest and {TRIES} from trim: all stayed up, none touched down, no foil came out." in said[0]
    assert said[1] == f"At 85 % and 100 % of the gains, from rest: {TRIES} of {TRIES} stayed up at each."
    assert said[2] == f"With the gains of this card at 3.4 and 3.9 m/s, from trim: {TRIES} of {TRIES} clean at each."
    one = list(first_runs.evidence(told.campaign, courier(), runs(shares=(1.0,), faster=runs().faster[:1])))
    assert one[1:] == [
        f"At 100 % of the gains, from rest: {TRIES} of {TRIES} stayed up.",
        f"With the gains of this card at 3.4 m/s, from trim: {TRIES} of {TRIES} clean.",
    ]


def test_the_knob_to_get_right_is_the_one_that_costs_most_and_the_surest_is_named_beside_it() -> None:
    """Less thrust may cost more, 0.9, or nothing: what is told of the gains must not deny it."""
    rows = pd.DataFrame(
        [
            ("mass", "5 % heavier", 0.2, 0.1, 0.3),
            ("height gains", "20 % less", 0.5, 0.4, 0.6),
            ("thrust", "15 % less", 0.9, -0.1, 1.9),
        ],
        columns=["what", "how", "cost", "low", "high"],
    )
    first = "The knob that you must get right on design 4: thrust. 15 % less costs 0.9 (-0.1 to 1.9) of score, the most of all"
    surest = "The largest sure cost is that of height gains: 20 % less costs 0.5 (0.4 to 0.6)."
    assert robust._knob(4, rows) == [f"{first} that was tried, though not surely. {surest}"]
    assert robust._knob(4, rows[rows["what"] != "thrust"])[0].startswith(
        "The knob that you must get right on design 4: height gains. 20 % less costs 0.5 (0.4 to 0.6) of score, the most of all"
    )
    unsure = robust._knob(4, rows.assign(low=-1.0))[0]
    assert unsure.endswith("though not surely; no tolerance surely costs any.")
    assert robust._knob(4, rows.assign(cost=-0.1, low=-0.3, high=0.1)) == [
        "Design 4 bears every tolerance that was tried: none costs it any score in these flights."
    ]


def test_the_condition_that_asks_most_is_told_with_its_doubt() -> None:
    rows = pd.DataFrame(
        [("sea", "ripple", -0.2, -0.3, -0.1), ("heading", "following", 0.4, -0.1, 0.9)],
        columns=["what", "how", "cost", "low", "high"],
    )
    asks = "The hardest heading for it is following: its score there is 0.4"
    assert robust._condition(rows) == [f"{asks} (-0.1 to 0.9) above its mean, which is not certain."]
    assert robust._condition(rows.assign(low=0.1, high=0.9)) == [f"{asks} (0.1 to 0.9) above its mean."]


def test_designs_that_are_good_enough_are_counted(told: Results) -> None:
    first = int(told.standings.iloc[0]["design"])
    for good, word in ((2, "two"), (3, "three")):
        table = told.standings.assign(good_enough=np.arange(len(told.standings)) < good, above_high=0.75, failing_high=np.nan)
        said = design.sentences(dataclasses.replace(told, standings=table), first)
        assert f"It is one of {word} designs that are good enough: within 75 % of the best." in said
    apart = told.standings.assign(good_enough=True, above_high=0.75, riding_high=0.1, failing_high=0.05)
    assert "within 10 % of the best unless it fails." in " ".join(
        design.sentences(dataclasses.replace(told, standings=apart), 0)
    )
    alone = told.standings.assign(good_enough=np.arange(len(told.standings)) < 1)
    said = design.sentences(dataclasses.replace(told, standings=alone), first)
    assert not any("good enough" in sentence for sentence in said)


def test_a_gain_of_a_build_that_may_be_none_is_told_so(told: Results) -> None:
    assert first_build(told, gain=0.2, gain_low=-0.1, gain_high=0.5)[1] == (
        "It gains 0.2 (-0.1 to 0.5) over the base craft. Whether it is a gain at all is not certain."
    )
    assert first_build(told, build=0)[1] == "No build beats the boat as it stands."


def test_a_score_seen_within_half_a_per_cent_does_not_flatter(told: Results) -> None:
    """Of a score of 1: 0.9945 is told, 0.9955 is the same."""
    assert "too good" in first_build(told, score=1.0, score_seen=0.9945)[-1]
    assert "too good" not in first_build(told, score=1.0, score_seen=0.9955)[-1]


def test_weights_are_moved_in_millimetres() -> None:
    """From 1 cm by 0.5 and 1 cm either way: forward both still do, aft the first does and the second costs too much."""
    rows = pd.DataFrame(
        [
            change(was="1 cm", becomes=f"{1.0 + moved} cm", gain_low=-lost, clean=1.0, clean_before=1.0)
            for moved, lost in ((-1.0, 0.5), (-0.5, 0.05), (0.5, 0.01), (1.0, 0.02))
        ]
    )
    assert changes._balance(rows, 1.0) == (
        "By the same rule the centre of gravity of its body may move aft by 5 mm, and forward by 10 mm; tried up to "
        "10 mm either way."
    )
    assert "aft by none of the steps tried" in changes._balance(rows.assign(gain_low=-0.5), 1.0)
    assert changes.plus_minus(0.25, 0.2, 0.3) == "0.25 ± 0.05"
    assert changes.plus_minus(0.25, np.nan, 0.3) == "0.25"


def test_a_boat_whose_motions_grow_at_every_speed_is_not_launched() -> None:
    assert first_runs.no_recipe(NoRuns((2.0, 3.2), None))[-1] == (
        "At every one of these speeds it is unstable with the gains of this card. Do not launch with them."
    )


def test_flights_without_a_number_are_warned_of(told: Results) -> None:
    """They count as the worst (`flight_scores`); where there are many, the model has left what it can follow."""
    statuses = pd.Series([STATUS_NAMES.index("not-a-number")] * 3 + [0] * 9)
    assert (
        "Three flights ended as “not-a-number”. The motion left what the model can follow. Such flights count as the worst; if "
        "they are many, do not trust their neighbours either."
    ) in list(sure._warnings(told, statuses))


def test_a_status_that_never_came_is_counted_as_none(told: Results) -> None:
    rows = dict(sure._flights(told, pd.Series([0] * 12)))
    assert (rows["designs"], rows["conditions"], rows["flights"]) == ("61", "4", "12")
    assert rows["length of each, of which not scored"] == "20 s, 4 s"
    assert list(rows.values())[4:] == ["12", *["0"] * (len(rows) - 5)]


def test_the_base_craft_is_on_the_chart_of_scores_wherever_it_stands(told: Results) -> None:
    _, table = design_table(told)
    first = [*told.standings["design"].head(standings.MOST_LEADERS)]
    assert 0 not in first
    assert standings.leading(told, table)["design"].tolist() == [*first, 0]


def test_logs_are_told_with_95_per_cent() -> None:
    assert pytest.approx(stats.norm.ppf(0.975), abs=5e-3) == logs.REACH


def test_modes_of_the_ticks_are_not_drawn() -> None:
    """A control code of 100 Hz can show a swing of 50 Hz at most; over half of that it goes from tick to tick."""
    modes = pd.DataFrame({"frequency": [24.9, 25.1, 1.0, 1.0], "growth": [-1.0, -1.0, -16.0, 0.5], "motion": "rolling"})
    assert stability.shown_modes(modes, 100.0)["frequency"].tolist() == [24.9, 1.0]


def test_two_different_quantities_are_traded_first(told: Results) -> None:
    columns, table = tradeoffs.quantities(told)
    one, two = tradeoffs.first_pair(columns)
    assert one != two
    assert {one, two} <= {column.key for column in columns}
    keyed = {column.key: column for column in columns}
    for keys, pair in (
        (("ride_height_error", "score", "mass"), ("ride_height_error", "mass")),  # the ride against what it costs
        (("mass", "price"), ("mass", "price")),
        (("score", "touchdowns"), ("score", "touchdowns")),
    ):
        assert tradeoffs.first_pair([keyed[key] for key in keys]) == pair
    front = tradeoffs.front_csv(columns, table, tradeoffs.fronts(columns, table))
    knees = front.groupby(["of", "against"])["knee"].sum()
    assert knees.max() == 1
    assert (knees <= 1).all()


def test_designs_of_both_campaigns_lead_to_their_pages(told: Results) -> None:
    before = former_of(told)
    pages = {row.name: row.page for row in former.former_page(told, before, former.shared(told, before)).rows}
    assert len(pages) > len(told.leaders)
    assert {name: page for name, page in pages.items() if page} == {
        str(design): f"design-{design}.html" for design in told.leaders if str(design) in pages
    }
    assert any(pages.values())


def test_designs_that_may_be_the_best_are_named_while_they_are_few(told: Results) -> None:
    some = told.standings["design"].astype(str).tolist()
    table = told.standings.assign(may_be_best=np.arange(len(told.standings)) < 2, verdict="kept")
    first = f"May be the best, by these flights: designs {some[0]} or {some[1]}; the best is one of them, 95 % sure."
    assert sure._best(dataclasses.replace(told, standings=table))[0] == first


def test_a_race_says_how_likely_halving_lost_the_best(told: Results) -> None:
    """Two rounds that each may have lost it in 10 %: 19 % together; the third halved nobody."""
    assert race.lost_words(told) == []
    rounds = pd.DataFrame({"halved": [20, 10, 0], "lost": [0.1, 0.1, 0.0]})
    raced = dataclasses.replace(told, rounds=rounds)
    assert race.lost_words(raced)[0].startswith("The chance that halving lost the best design is no more than 19 %, by how far")
    assert any("not halved away. The chance that halving" in sentence for sentence in sure._best(raced))
    unknown = dataclasses.replace(told, rounds=rounds.assign(lost=[0.1, np.nan, 0.0]))
    assert race.lost_words(unknown) == ["How likely halving lost the best design is not known: too few flights tell."]
    safe = dataclasses.replace(told, rounds=rounds.assign(lost=0.001))
    assert "no more than 1 %" in race.lost_words(safe)[0]


def test_a_single_factor_makes_no_pair(told: Results) -> None:
    """Its levels are known, and nothing stands beside it; of a plan that allows no effects neither is."""
    alone = dataclasses.replace(told, effects=told.effects[told.effects["beside"] == ""])
    assert matters.pair_table(alone) is None
    assert matters.pair_table(dataclasses.replace(told, levels=told.levels.head(0))) is None
    assert matters.pair_table(told) is not None


def test_changes_flown_in_some_conditions_are_known_for_those_only() -> None:
    flown = pd.DataFrame({"flights": [4]})
    assert changes._behind(flown, 2, 8) == (
        "Each variant was flown four times, in 2 of the 8 conditions, spread evenly over them, and in the same waves as the "
        "leader. The standings did not use these waves. The intervals of flown gains hold together, for all rows of a table, "
        "with 95 % confidence. In the other conditions a change may gain more or less."
    )
    assert changes._behind(flown, 8, 8).endswith("for all rows of a table, with 95 % confidence.")


def test_a_boat_that_goes_aground_needs_more_water(told: Results) -> None:
    """Deeper water or shorter struts: both raise its lowest part over the ground."""
    statuses = pd.Series([STATUS_NAMES.index("aground")] * 2 + [0] * 10)
    assert (
        "Two flights ended as “aground”. There the water is no deeper than the boat reaches down: it needs more water, or "
        "shorter struts. Such flights count with the upsets."
    ) in list(sure._warnings(told, statuses))


def test_the_method_says_the_confidence_that_is_reckoned_with() -> None:
    assert sure.METHOD.endswith(f"All hold with {100.0 * CONFIDENCE:.0f} % confidence.")


def test_a_score_is_the_mean_over_the_flights_that_were_flown(told: Results) -> None:
    """Three replicates in four conditions; five where a race went no further; all that are planned before any."""
    start = "The score is the mean over four conditions"
    assert standings.score_sentence(told).startswith(f"{start} (twelve flights of each design)")
    fewer = dataclasses.replace(told, standings=told.standings.assign(flights=5))
    assert standings.score_sentence(fewer).startswith(f"{start} (five flights of each design)")
    more = dataclasses.replace(told, standings=told.standings.assign(flights=[*[40] * 3, *[12] * (len(told.standings) - 3)]))
    assert standings.score_sentence(more).startswith(f"{start} (up to 40 flights of each design)")
    none = dataclasses.replace(told, standings=told.standings.head(0))
    assert standings.score_sentence(none).startswith(f"{start} (twelve flights of each design)")


def test_half_of_the_gains_leaves_out_the_base_craft_s_own(told: Results) -> None:
    """Its gain over itself is surely nothing. Of the others' 0.1 and 0.2 either way the middle is 0.15."""
    table = told.standings[told.standings["design"].isin([0, 1, 2])]
    half = table["design"].map({0: 0.0, 1: 0.1, 2: 0.2})
    rows = dict(sure._statistics(dataclasses.replace(told, standings=table.assign(gain_low=-half, gain_high=half))))
    assert rows["half of the gains over the base craft, in the same waves, within"] == "±0.15"


def test_a_run_that_ended_early_says_so(told: Results) -> None:
    said = "About 40 s of the 5 min that the run may take are left. Nothing more was telling."
    clock = Deadline(300.0, early=said)
    early = dataclasses.replace(told, manifest=dataclasses.replace(told.manifest, clock=clock))
    section = race.race_of(early)
    assert section is not None
    assert section.sentences[-1] == said
