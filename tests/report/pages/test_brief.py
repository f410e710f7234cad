"""The head of the first page, followed literally: what it says to build is first, and surely better only where that is sure."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from sweep.insight.at_leader import neighbours
from sweep.insight.limits import POOLED
from sweep.insight.ranking import ranked
from sweep.report.display import Column, design_table
from sweep.report.pages import at_leader, candidates, choosing, deciding
from sweep.report.pages import brief as pages
from sweep.report.pages.brief import Brief, brief_of
from sweep.results.store import Results
from sweep.words.numbers import number


def changed(told: Results, **columns: object) -> Results:
    return dataclasses.replace(told, standings=told.standings.assign(**columns))


def words(brief: Brief) -> str:
    return "".join(part.text for part in brief.headline)


def test_only_a_sure_gain_says_build(told: Results) -> None:
    assert words(brief_of(changed(told, gain_sure=0.1, verdict="kept"))).startswith("Build ")
    for unsure in (0.0, -0.1, np.nan):
        assert words(brief_of(changed(told, gain_sure=unsure))).startswith(
            "First, but not surely better than the boat as it is: "
        )


def test_a_design_that_may_break_a_limit_is_not_to_be_built(told: Results) -> None:
    open_still = words(brief_of(changed(told, gain_sure=0.1, verdict="not yet known")))
    assert open_still.startswith("First, but not yet known to keep every limit: ")


def test_the_headline_has_the_first_designs_own_values(told: Results) -> None:
    brief, first = brief_of(told), int(ranked(told.standings).iloc[0]["design"])
    strong = [part.text for part in brief.headline if part.strong]
    possible = [f"design {first}", *(candidates.chosen_value(told, label, first) for label in told.campaign.factors)]
    assert strong
    assert all(value in possible for value in strong)
    assert brief.caption.startswith(f"Design {first} ")


def test_headline_and_next_sentence_together_name_every_choice(told: Results) -> None:
    """So that whoever builds what is said builds that design; also where nothing surely decides."""
    first = int(ranked(told.standings).iloc[0]["design"])
    nothing = told.effects.assign(total_low=0.0, total_high=1.0)
    for case in (told, dataclasses.replace(told, effects=nothing)):
        brief = brief_of(case)
        for label in told.campaign.factors:
            assert candidates.chosen_value(told, label, first) in words(brief) + brief.rest
    assert f"design {first}" in words(brief)


def test_the_base_craft_is_kept_where_it_comes_first(told: Results) -> None:
    standings = told.standings.copy()
    standings["place"] = np.where(standings["design"] == 0, 0, standings["place"])
    standings.loc[standings["design"] == 0, "verdict"] = "kept"
    brief = brief_of(dataclasses.replace(told, standings=standings.sort_values("place")))
    assert words(brief).startswith("Keep the boat as it is")
    assert brief.against is None
    assert [each.title for each in brief.candidates].count("As it is") == 0, "it is the first column already"


def test_nothing_is_named_where_every_design_is_refused(told: Results) -> None:
    brief = brief_of(changed(told, verdict="broken", place=np.nan))
    assert words(brief) == "None of these: every design broke a limit."
    assert brief.picture is None
    assert [each.name for each in brief.candidates] == ["base craft"]
    assert {asked.page for asked in brief.asked if asked.question == "Which others would do?"} == {""}


def test_the_interval_is_drawn_where_the_numbers_are(told: Results) -> None:
    first = ranked(told.standings).iloc[0]
    columns = {"gain": 0.3, "gain_low": -0.1, "gain_high": 0.5, "gain_sure": -0.1}
    against = brief_of(changed(told, **columns)).against
    assert first["design"] != 0
    assert against is not None
    assert against.figure == "0.3 better"
    assert "(-0.1 to 0.5)" in against.said
    low, zero, at, width = (float(value) for value in (against.low, against.zero, against.at, against.width))
    scale = width / 0.6
    assert (zero - low) / scale == pytest.approx(0.1, abs=1e-3)
    assert (at - low) / scale == pytest.approx(0.4, abs=1e-3)


def test_a_share_that_nothing_is_known_of_is_not_told_and_never_small(told: Results) -> None:
    effects = told.effects.copy()
    effects[["total", "total_low", "total_high"]] = [0.01, 0.0, 1.0]
    unsure = dataclasses.replace(told, effects=effects)
    rows = deciding.deciding(unsure, int(ranked(told.standings).iloc[0]["design"]))
    assert {row.share for row in rows} == {"not told"}
    assert deciding.surely_deciding(unsure) == []
    assert "less than" not in brief_of(unsure).rest


def test_other_factors_are_small_only_if_surely_so(told: Results) -> None:
    names = list(told.campaign.factors)
    rows = {"response": "score", "beside": "", "total_high": 0.9}
    effects = pd.DataFrame([{**rows, "factor": name, "total": 0.8, "total_low": 0.7} for name in names])
    effects.loc[1:, ["total", "total_low", "total_high"]] = [0.01, 0.0, 0.02]
    small = brief_of(dataclasses.replace(told, effects=effects)).rest
    effects.loc[1:, "total_high"] = 0.2
    open_still = brief_of(dataclasses.replace(told, effects=effects)).rest
    assert "less than 5 % of the differences" in small
    assert "less sure" in open_still


def test_dots_stand_by_the_means_of_their_levels(told: Results) -> None:
    found = [row for row in deciding.deciding(told, None) if len(row.dots) > 1]
    assert found
    for row in found:
        at = [float(dot.at) for dot in row.dots]
        means = [float(dot.said.rpartition(" ")[2]) for dot in row.dots]
        assert (np.diff(np.array(means)[np.argsort(at, kind="stable")]) >= 0.0).all()


def test_candidates_are_the_first_places_and_the_boat_as_it_is(told: Results) -> None:
    wide = changed(told, good_enough=False)
    order = ranked(wide.standings)
    picks = candidates.candidates(wide, order)
    assert [design for _, design in picks] == [*order["design"].head(3).tolist(), 0]
    assert [title for title, _ in picks] == ["First", "Place 2", "Place 3", "As it is"]


def test_the_lightest_is_named_only_within_a_narrow_share(told: Results) -> None:
    order = ranked(told.standings)
    designs = order["design"].head(5).tolist()
    assert 0 not in designs
    good = told.standings["design"].isin(designs)
    lightest = designs[-1]
    told = dataclasses.replace(told, designs=told.designs.assign(mass=np.where(told.designs.index == lightest, 2.0, 2.5)))
    for share, named in ((0.2, True), (0.6, False)):
        near = changed(told, good_enough=good, above_high=np.where(good, share, np.inf), failing_high=np.nan)
        picks = {design: title for title, design in candidates.candidates(near, ranked(near.standings))}
        assert ("ightest" in picks.get(lightest, "")) is named


def test_each_line_has_a_cell_for_every_candidate_with_its_own_number(told: Results) -> None:
    brief = brief_of(told)
    rows = told.standings.set_index("design")
    designs = [int(each.name.split()[1]) if each.name != "base craft" else 0 for each in brief.candidates]
    assert all(len(line.cells) == len(designs) for line in brief.lines)
    score = next(line for line in brief.lines if line.name == "score")
    for cell, design in zip(score.cells, designs, strict=True):
        assert float(cell.value) == pytest.approx(rows.loc[design, "score"], abs=0.006)
    for name in told.campaign.limits:
        line = next(line for line in brief.lines if line.name == name.replace("_", " "))
        assert all(cell.between.startswith("surely under") for cell in line.cells)


def test_a_question_without_an_answer_says_what_to_do(told: Results) -> None:
    unmapped = told.campaign.model_copy(update={"map": None})
    lacking = dataclasses.replace(told, campaign=unmapped, rides=pd.DataFrame())
    asked = {each.question: each for each in brief_of(lacking).asked}
    assert asked["How rough, how fast?"] == pages.Asked("How rough, how fast?", "", "give the campaign a map")
    assert len(asked) == 8
    assert all(bool(each.page) or bool(each.instead) for each in asked.values())


def test_every_design_stands_once_in_the_rows_of_each_factor(told: Results) -> None:
    columns, table = design_table(told)
    found, rows = choosing.choosing_of(columns, table)
    factors = [column for column in columns if column.role == "factor"]
    assert found is not None
    scored = int(np.isfinite(table["score"]).sum())
    assert rows.groupby("f")["design"].nunique().tolist() == [scored] * len(factors)
    for at, column in enumerate(factors):
        part = rows[rows["f"] == at].merge(table[["design", column.key]], on="design")
        texts = np.array([box.text for box in found.boxes[at].levels])
        if column.levels and not column.word:
            assert [number(float(value)) for value in part[column.key]] == texts[part["place"]].tolist()
    assert (rows["at"] <= rows["score"] + 1e-3).all()


def test_stretches_of_a_continuous_factor_hold_as_many_designs_each() -> None:
    values = pd.Series(np.random.default_rng(5).uniform(2.0, 9.0, 400))
    column = Column("x", "x", "", "factor")
    texts, place = choosing._places(column, values)
    assert place.value_counts().tolist() == pytest.approx([100] * 4, abs=1)
    low, high = (float(end) for end in texts[1].split(" to "))
    assert values[place == 1].between(low - 0.01, high + 0.01).all()
    assert choosing._places(column, pd.Series([3.0, 3.0]))[0] == ["3"]


def test_of_many_designs_the_leading_are_drawn_and_it_is_said(told: Results, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choosing, "MOST_DRAWN", 20)
    columns, table = design_table(told)
    found, rows = choosing.choosing_of(columns, table)
    assert found is not None
    drawn = set(rows["design"])
    assert set(table["design"].head(10)) <= drawn
    assert 0 in drawn
    assert len(drawn) < len(table)
    assert f"{len(drawn)} of {len(table)} designs are drawn" in found.note
    counted = choosing.everyone(columns, table)
    assert set(counted["design"]) == set(table.loc[np.isfinite(table["score"]), "design"])
    coded = counted.set_index("design")["places"].str.split(",", expand=True).astype(int)
    placed = rows.pivot_table(index="design", columns="f", values="place")
    assert (coded.loc[placed.index].to_numpy() == placed.to_numpy()).all()
    monkeypatch.setattr(choosing, "MOST_COUNTED", 30)
    assert choosing.everyone(columns, table).empty


def test_where_all_are_drawn_nothing_else_is_counted(told: Results) -> None:
    assert choosing.everyone(*design_table(told)).empty


def test_a_choice_at_an_end_of_what_was_tried_is_told(told: Results) -> None:
    """Of each choice that the headline names, for every design: the end is said where it lies there, and nowhere else."""
    labels = [label for label, _ in deciding.surely_deciding(told)][: pages.MOST_NAMED]
    assert labels
    for design, row in told.designs.drop(index=0).iterrows():
        said = pages.beyond_choice(told, int(str(design)))
        for end, at in (("highest", max), ("lowest", min)):
            there = [label for label in labels if row[label] == at(told.campaign.factors[label].levels)]
            assert said.count(f"is the {end} that was tried") == len(there)
    assert pages.beyond_choice(told, None) == ""


def test_what_one_choice_changed_costs_at_the_first_design_stands_beside_the_averages(told: Results) -> None:
    """From the standings, where all flew the same waves: the costliest of the designs that differ in that choice alone."""
    scores, labels = told.standings.set_index("design")["score"], list(told.campaign.factors)
    first = int(ranked(told.standings).iloc[0]["design"])
    beside = neighbours(told.designs, labels, first)
    most = {label: max(scores[design] - scores[first] for design in beside if beside[design] == label) for label in labels}
    found = {each.label: each for each in at_leader.changed(told, first)}
    assert set(found) == set(labels)
    note = brief_of(told).deciding_note
    assert "A share is an average over all designs." in note
    for label, each in found.items():
        assert each.more == pytest.approx(most[label], abs=1e-9)
        assert each.was == candidates.chosen_value(told, label, first)
    worst = max(found.values(), key=lambda each: each.more)
    assert worst.more > at_leader.DECIDES * scores[first]
    assert f"{told.campaign.factors[worst.label].name} {worst.becomes} instead of {worst.was} " in note


def test_what_no_design_shows_of_the_first_is_said_to_be_unflown(told: Results) -> None:
    first, labels = int(ranked(told.standings).iloc[0]["design"]), list(told.campaign.factors)
    alone = told.designs.drop(index=list(neighbours(told.designs, labels, first)))
    few = dataclasses.replace(told, designs=alone, changes=pd.DataFrame())
    assert at_leader.changed(few, first) == []
    said = at_leader.at_leader(few, first)
    assert "was not flown" in said
    assert "costs" not in said
    assert at_leader.at_leader(told, 0) == "", "the boat as it is was not chosen"


def test_small_changes_flown_at_the_first_tell_where_no_design_does(told: Results) -> None:
    first, labels = int(ranked(told.standings).iloc[0]["design"]), list(told.campaign.factors)
    score = float(told.standings.set_index("design")["score"][first])
    alone = told.designs.drop(index=list(neighbours(told.designs, labels, first)))
    row = {"group": "next", "leader": first, "label": labels[0], "was": "20 cm", "becomes": "18 cm"}
    gains = {"gain": -0.3 * score, "gain_low": -0.4 * score, "gain_high": -0.2 * score}
    changes = pd.DataFrame([row | gains])
    said = at_leader.at_leader(dataclasses.replace(told, designs=alone, changes=changes), first)
    assert "18 cm instead of 20 cm 30 %, surely 20 % or more" in said
    assert said.count("surely") == 1


def test_the_first_page_says_where_its_card_gives_no_first_run(told: Results) -> None:
    """A propeller of 5 N takes no boat of 3 kg off the water, so its card names no first run; the boat as it stands has one."""
    first = int(ranked(told.standings).iloc[0]["design"])
    recorded = dataclasses.replace(told, leaders={first: next(iter(told.leaders.values()))})
    assert brief_of(recorded).grounded == ""
    propulsor = told.campaign.craft.propulsor.model_copy(update={"static_thrust": 5.0})
    weak = told.campaign.craft.model_copy(update={"propulsor": propulsor})
    lame = dataclasses.replace(recorded, campaign=told.campaign.model_copy(update={"craft": weak}))
    assert brief_of(lame).grounded == f"card-{first}.html"
    assert brief_of(dataclasses.replace(lame, leaders={})).grounded == "", "without a card nothing is known of its first runs"


def test_where_all_are_refused_the_nearest_is_named_with_the_limit_that_it_is_furthest_over(told: Results) -> None:
    """Of 6 touchdowns a minute (0.1 /s) and 40 % the four are over by 9, 2.5, 3 and 5 times in what each is furthest over."""
    rows = [(0, "touchdowns", 0.9), (0, "upsets", 0.4), (1, "touchdowns", 0.1), (1, "upsets", 1.0)]
    rows += [(2, "touchdowns", 0.3), (2, "upsets", 0.8), (3, "touchdowns", 0.5), (3, "upsets", 0.0)]
    limits = pd.DataFrame(rows, columns=["design", "response", "value"])
    limits = limits.assign(condition=POOLED, verdict="broken", low=limits["value"], high=limits["value"])
    refused = dataclasses.replace(changed(told, verdict="broken", place=np.nan), limits=limits)
    said = pages.nearest(refused, ranked(refused.standings))
    assert said == "Design 1 comes nearest to its limits: upsets 100 %, where 40 % is allowed."
    assert said in brief_of(refused).rest
    assert pages.nearest(told, ranked(told.standings)) == "", "nothing where a design has a place"


def test_nobody_is_told_to_give_a_map_that_is_there(told: Results) -> None:
    unflown = dataclasses.replace(told, rides=pd.DataFrame())
    assert told.campaign.map is not None
    asked = {each.question: each for each in brief_of(unflown).asked}
    assert asked["How rough, how fast?"].instead == "its map was not flown; Where it rides says why"


def test_thirty_choices_are_a_number_of_which_none_is_other(told: Results) -> None:
    factors = {f"factor-{at}": next(iter(told.campaign.factors.values())) for at in range(30)}
    many = dataclasses.replace(told, campaign=told.campaign.model_copy(update={"factors": factors}), effects=pd.DataFrame())
    first = int(ranked(told.standings).iloc[0]["design"])
    assert pages.rest_of_choice(many, first) == f"Design {first} has 30 choices: they are on its page."
    assert pages.question(many).startswith(f"Which of {len(told.designs)} designs should the Courier be, at 4 m/s")


def test_an_interval_beside_a_gain_that_is_not_sure_says_what_it_leaves_out(told: Results) -> None:
    """Where the gain is unsure for failures that few flights may hide, and not by its own spread."""
    ends = {"gain": 0.3, "gain_high": 0.5}
    for low, least, left_out in ((0.1, -0.1, True), (-0.1, -0.2, False), (0.1, 0.05, False)):
        against = brief_of(changed(told, **ends, gain_low=low, gain_sure=least)).against
        assert against is not None
        assert ("without what so few flights may hide of failures" in against.said) is left_out
