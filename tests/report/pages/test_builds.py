"""What the page of builds says, against the made-up results of the site's tests."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd

from sweep.report.display import OTHERS, UNKNOWN, build_group, factor_columns
from sweep.report.page import gather
from sweep.report.pages import builds
from sweep.report.terminal import builds_text
from sweep.results.store import Results
from tests.site_results import results


def test_a_build_for_every_choice_of_what_is_built(told: Results) -> None:
    """Five areas and three layouts are boats, four gains are settings."""
    assert sorted(told.builds["build"]) == list(range(5 * 3 + 1))
    assert set(told.builds.loc[told.builds["build"] > 0, "settings"]) == {4}
    for row in told.builds.to_dict("records"):
        alike = told.designs.drop(columns=["control.height.proportional", "mass", "price"]).iloc[1:]
        same = alike.index[(alike == alike.loc[max(row["design"], 1)]).all(axis=1)]
        if row["build"]:
            kept = told.standings[told.standings["design"].isin(same) & (told.standings["verdict"] != "broken")]
            assert row["design"] == kept.sort_values("score")["design"].iloc[0] or kept.empty


def test_the_first_sentence_names_the_first_build_and_its_score(told: Results) -> None:
    first = told.builds.iloc[0]
    sentence = builds.sentences(told)[0]
    assert f"Build {first['build']}, best as design {first['design']}," in sentence
    assert f"{first['score']:.3g}" in sentence
    assert ("comes first" in sentence) == (told.builds["may_be_best"].sum() > 1)


def test_doubt_is_told(told: Results) -> None:
    unsure = told.builds.assign(gain=0.1, gain_low=-0.1, gain_high=0.3)
    assert "not certain" in builds.sentences(dataclasses.replace(told, builds=unsure))[1]
    flattered = told.builds.assign(score_seen=told.builds["score"] * 0.9)
    assert "too good" in builds.sentences(dataclasses.replace(told, builds=flattered))[-1]
    costly = told.settings.assign(cost=0.5, cost_low=0.4, cost_high=0.6)
    assert "most sensitive" in " ".join(builds.sentences(dataclasses.replace(told, settings=costly)))
    open_cost = told.settings.assign(cost=0.5, cost_low=-0.4, cost_high=1.4)
    assert "None of its settings is surely sensitive" in " ".join(
        builds.sentences(dataclasses.replace(told, settings=open_cost))
    )


def test_campaigns_without_settings_or_with_one_each_say_so(told: Results) -> None:
    none = dataclasses.replace(told, builds=pd.DataFrame(), settings=pd.DataFrame())
    assert "Too little was flown" in builds.sentences(none)[0]
    single = dataclasses.replace(none, designs=told.designs.iloc[[0, 1, 5, 9]])
    assert "most builds only one setting" in builds.sentences(single)[0]
    built = {label: factor.model_copy(update={"kind": "built"}) for label, factor in told.campaign.factors.items()}
    none = dataclasses.replace(none, campaign=told.campaign.model_copy(update={"factors": built}))
    assert "each design is a build" in builds.sentences(none)[0]
    broken = dataclasses.replace(told, builds=told.builds.assign(place=pd.NA))
    assert "none can be recommended" in builds.sentences(broken)[0]


def test_curves_hold_the_scores_of_the_designs(told: Results) -> None:
    factors, table = builds.setting_curves(told)
    ((label, column),) = factors
    assert label == "control.height.proportional"
    assert len(table) == 4 * builds.MOST_CURVES
    scores = told.standings.set_index("design")["score"]
    np.testing.assert_allclose(table["score"], scores.loc[table["design"]], rtol=1e-3)
    for _, rows in table.groupby("build"):
        assert rows["value"].is_monotonic_increasing
        assert told.designs.loc[rows["design"]].drop(columns=[label, "mass", "price"]).drop_duplicates().shape[0] == 1
    assert column == factor_columns(told.campaign, told.designs)[label]


def test_settings_as_csv_are_in_the_file_s_units(told: Results) -> None:
    table = builds.setting_csv(told)
    assert set(table["unit"]) == {"deg/cm"}
    assert table["best"].between(0.199, 0.901).all()
    assert (table["good_from"] <= table["best"]).all()
    assert (table["best"] <= table["good_to"]).all()


def test_the_terminal_shows_the_same_builds(told: Results) -> None:
    lines = builds_text(told).splitlines()
    assert lines[2].split()[:2] == ["place", "build"]
    assert f"build {told.builds['build'].iloc[0]} " in lines[3]
    assert f"design {told.builds['design'].iloc[0]} " in lines[3]
    assert lines[-1] == f"... and {len(told.builds) - 10} more"
    assert builds_text(dataclasses.replace(told, builds=told.builds.head(0))) == ""


def test_one_replicate_says_that_it_flatters(tmp_path: Path) -> None:
    told = results(tmp_path, replicates=1, areas=2, leaders=0)
    assert "One replicate cannot tell" in builds.sentences(told)[0]
    page = builds.make(gather(told)).value
    assert isinstance(page, builds.BuildsPage)
    assert page.table is not None
    assert "too good" in page.table.note


def test_one_replicate_calls_no_build_behind(tmp_path: Path) -> None:
    """The first of the list was 'behind', and so was every other."""
    one = results(tmp_path, leaders=0, replicates=1, areas=2)
    words = build_group(one.builds, one.standings)
    assert OTHERS not in set(words)
    assert set(words[one.builds["place"].notna() & (one.builds["build"] > 0)]) == {UNKNOWN}
    assert set(builds.chart_table(builds.build_table(one))["group"]) <= {"good enough", "others", "base craft"}


def test_a_build_is_good_enough_where_its_design_is_so_in_the_standings(told: Results) -> None:
    """Leading designs flew more than the flights that builds are compared by."""
    first = told.builds[told.builds["build"] > 0].iloc[0]
    table = told.standings.assign(good_enough=told.standings["design"] == first["design"])
    none = told.builds.assign(good_enough=False)
    words = build_group(none, table)
    assert words[none["build"] == first["build"]].tolist() == ["good enough"]
    assert (words == "good enough").sum() == 1
    both = dataclasses.replace(told, builds=none, standings=table)
    assert builds_text(both).splitlines()[3].endswith("good enough")
    flown_on = dataclasses.replace(both, standings=table.assign(flights=table["flights"] + 24 * table["good_enough"]))
    notes = [builds.make(gather(each)).value.table.note for each in (both, flown_on)]
    assert ["by all its flights" in note for note in notes] == [False, True]


def test_two_replicates_have_one_other(tmp_path: Path) -> None:
    page = builds.make(gather(results(tmp_path, replicates=2, areas=2, leaders=0))).value
    assert "on the other replicate, " in page.table.note
