"""The race by itself, over made-up scores; then flown in a tiny campaign, stopped and gone on."""

import time
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import sweep
from sweep.campaign.budget import Budget
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.scoring import Limit
from sweep.flying import race_run
from sweep.flying.progress import Watcher
from sweep.flying.work import Work
from sweep.insight.failing import Failures
from sweep.insight.race import FINALISTS, Heat, Purse, Race, block_order
from sweep.insight.rank import rank_flights, wanted_columns
from sweep.insight.ranking import SKEW_OF_ONE, rank
from sweep.insight.uneven import behind, drop_words, rank_uneven, uneven_estimate, uneven_standings
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.journal import RACE, decision_shards, read_journal
from sweep.results.manifest import read_manifest
from sweep.workflow import fly_designs
from tests.flying.test_flights import campaign

CONFIGS = Path(__file__).parents[2] / "configs"
DESIGNS, CONDITIONS, REPLICATES = 64, 6, 5
NAMES = [f"condition {at}" for at in range(CONDITIONS)]


@cache
def judged():
    """A campaign whose score is the ride-height error in cm, no limits."""
    score = {"ride_height_error": campaign().score["ride_height_error"]}
    return campaign(replicates=REPLICATES, score=score, limits={})


def rows(heat, error, touchdowns=0.0):
    """The flights of a heat: error by (design, condition, replicate), cm."""
    places = [(design, *block) for design in heat.designs.tolist() for block in heat.blocks]
    table = pd.DataFrame(places, columns=["design", "condition", "replicate"])
    table = table.assign(status=0, **dict.fromkeys(RESPONSE_NAMES, 0.0)).assign(time_foilborne=3.0, touchdowns=touchdowns)
    table["ride_height_error"] = [error[place] / 100.0 for place in places]
    return table


def run_race(seed, error, seconds, batch=1, screened=None):
    length = judged().flight.length
    chosen = judged()
    chosen = chosen.model_copy(update={"flight": chosen.flight.model_copy(update={"seed": seed})})
    race = Race(chosen, len(error), NAMES, Purse(seconds * length, length, batch), screened)
    heats = []
    while heat := race.next_heat():
        heats.append(heat)
        race.add(heat, rows(heat, error))
    return race, heats


def truth(seed):
    """True means over the conditions, and errors about them: what a block does to all, a condition to each, and chance; cm."""
    draws = np.random.default_rng(seed)
    means = draws.permutation(np.linspace(1.0, 3.0, DESIGNS))
    shape = (DESIGNS, CONDITIONS, REPLICATES)
    own = means[:, None] + 0.1 * draws.normal(size=shape[:2])
    noise = 0.15 * draws.normal(size=shape) + 0.3 * draws.normal(size=shape[1:])
    return own.mean(axis=1), np.clip(own[:, :, None] + noise, 0.1, 9.0)


def test_a_third_of_the_flights_finds_one_of_the_best():
    everything = DESIGNS * CONDITIONS * REPLICATES
    for seed in range(10):
        means, error = truth(seed)
        race, heats = run_race(seed, error, everything / 3)
        winner = race.leader()[0]
        assert means[winner] <= np.sort(means[1:])[2]
        assert sum(len(heat.designs) * len(heat.blocks) for heat in heats) <= everything / 3
        assert race.spent <= everything / 3 * judged().flight.length + 1e-6


def test_the_same_budget_and_rows_give_the_same_heats():
    _, error = truth(3)
    first, second = (run_race(5, error, 600)[1] for _ in range(2))
    assert [(heat.designs.tolist(), heat.blocks) for heat in first] == [(heat.designs.tolist(), heat.blocks) for heat in second]
    other = run_race(6, error, 600)[1]
    assert [heat.blocks for heat in first] != [heat.blocks for heat in other]


def test_all_in_the_race_fly_the_same_blocks_and_the_base_craft_flies_all():
    _, error = truth(1)
    race, heats = run_race(1, error, 640)
    flown = [block for heat in heats for block in heat.blocks]
    assert (
        flown
        == block_order(judged().model_copy(update={"flight": judged().flight.model_copy(update={"seed": 1})}), 6)[: len(flown)]
    )
    assert all(0 in heat.designs for heat in heats)
    assert np.isfinite(race.scores[0]).sum() == len(flown)
    dropped = race.dropped().set_index("design")["blocks"]
    assert (np.isfinite(race.scores).sum(axis=(1, 2))[dropped.index] == dropped).all()


def test_every_condition_comes_once_before_any_comes_again():
    order = block_order(judged(), CONDITIONS)
    assert len(set(order)) == CONDITIONS * REPLICATES
    for first in range(0, len(order), CONDITIONS):
        assert {condition for condition, _ in order[first : first + CONDITIONS]} == set(range(CONDITIONS))


def test_a_condition_in_which_some_fail_gets_more_of_the_blocks():
    """Every third flight of condition 2 fails, and no other: its blocks are flown before the others', the same for all."""
    chosen, seen = judged(), []
    race = Race(chosen, DESIGNS, NAMES, Purse(DESIGNS * 14 * 4.0, 4.0))
    error = truth(11)[1]
    while heat := race.next_heat():
        flown = rows(heat, error)
        failed = (flown["condition"] == 2) & ((flown["design"] + flown["replicate"]) % 3 == 0)
        race.add(heat, flown.assign(status=np.where(failed, STATUS_NAMES.index("upset"), 0)))
        seen += heat.blocks
    counts = np.bincount([condition for condition, _ in seen], minlength=CONDITIONS)
    last = max(at for at, block in enumerate(seen) if block[0] == 2)
    before = np.bincount([condition for condition, _ in seen[: last + 1]], minlength=CONDITIONS)
    assert before[2] == REPLICATES > np.delete(before, 2).max()
    assert len(seen) == len(set(seen))
    for condition in range(CONDITIONS):
        assert [each for at, each in seen if at == condition] == list(range(counts[condition]))


def test_no_more_is_halved_than_leaves_the_finalists():
    _, error = truth(2)
    race, _ = run_race(2, error, 500)
    rounds = race.rounds()
    assert (rounds["halved"] <= (rounds["designs"] - 1) / 2).all()
    assert rounds.loc[rounds["designs"] - 1 <= FINALISTS, "halved"].sum() == 0
    assert (rounds["left"] == rounds["designs"] - rounds[["limit", "behind", "halved"]].sum(axis=1)).all()


def test_where_the_clock_counts_lanes_are_kept_full():
    """A batch of 32 costs as much as one flight: the race never halves below it, and charges whole batches."""
    _, error = truth(4)
    race, heats = run_race(4, error, 1200, batch=32)
    assert race.rounds()["halved"].sum() == 0 or race.rounds().loc[race.rounds()["halved"] > 0, "left"].min() >= 32
    assert race.spent == sum(len(heat.blocks) * -(-len(heat.designs) // 32) * 32 for heat in heats) * judged().flight.length


def test_who_surely_breaks_a_limit_drops_out_and_says_so():
    _, error = truth(6)
    chosen = judged().model_copy(update={"limits": {"touchdowns": Limit(value=0.05, kind="rate")}})
    race = Race(chosen, DESIGNS, NAMES, Purse(1e9, 4.0), {9: "Could not be flown: no trim at 4 m/s."})
    heat = race.next_heat()
    touching = np.where(np.repeat(heat.designs, len(heat.blocks)) % 2 == 1, 2.0, 0.0)
    race.add(heat, rows(heat, error, touching))
    dropped = race.dropped()
    assert set(dropped.loc[dropped["why"] == "limit", "design"]) == set(range(1, DESIGNS, 2)) - {9}
    assert dropped.loc[dropped["why"] == "screened", "design"].tolist() == [9]
    assert 9 not in heat.designs


def test_a_design_surely_behind_is_seldom_the_best():
    """Over many races without halving the true best is dropped as surely behind in far fewer than one of twenty."""
    lost = 0
    for seed in range(60):
        draws = np.random.default_rng(1000 + seed)
        means = np.array([1.4, *np.linspace(1.0, 1.4, 8)])
        noise = 0.2 * draws.standard_t(4, size=(9, CONDITIONS, REPLICATES))
        race, _ = run_race(seed, np.clip(means[:, None, None] + noise, 0.05, 9.0), 9 * CONDITIONS * REPLICATES)
        dropped = race.dropped()
        lost += int(1 in dropped.loc[dropped["why"] == "behind", "design"].tolist())
    assert lost <= 3


def test_uneven_estimates_are_those_of_each_condition_s_own_count():
    values = np.random.default_rng(0).normal(size=(1, 3, 4))
    values[0, 1, 3] = np.nan
    parts = [values[0, condition][np.isfinite(values[0, condition])] for condition in range(3)]
    found = uneven_estimate(values)
    assert found.mean[0] == pytest.approx(np.mean([part.mean() for part in parts]))
    assert found.error[0] == pytest.approx(np.sqrt(sum(part.var(ddof=1) / len(part) for part in parts)) / 3)


def test_two_conditions_of_unlike_spread_and_number_are_welch_s_interval():
    """Half of a mean and a mean is half of the difference from the other's negative, whose interval Welch's test gives."""
    first, second = np.array([1.0, 2.0, 4.5, 3.0, 7.0]), np.array([0.2, 0.5, 0.1])
    values = np.full((1, 2, 5), np.nan)
    values[0, 0], values[0, 1, :3] = first, second
    found, welch = uneven_estimate(values), stats.ttest_ind(first, -second, equal_var=False)
    low, high = welch.confidence_interval(0.95)
    assert found.mean[0] == pytest.approx((low + high) / 4)
    assert found.freedom[0] == pytest.approx(welch.df)
    assert found.half_width(0.025)[0] == pytest.approx((high - low) / 4)


def test_blocks_of_too_few_conditions_are_a_plain_sample():
    values = np.full((2, 4, 3), np.nan)
    values[0, [0, 1, 3], 0] = 1.0, 2.0, 4.5
    values[1, 2, 1] = 3.0
    found = uneven_estimate(values)
    sample = np.array([1.0, 2.0, 4.5])
    low, high = stats.t.interval(0.95, 2, sample.mean(), stats.sem(sample))
    assert found.mean[0] == pytest.approx(sample.mean())
    assert found.half_width(0.025)[0] == pytest.approx((high - low) / 2)
    assert (found.mean[1], np.isnan(found.error[1])) == (3.0, True)


def test_without_a_race_the_places_are_those_of_the_standings():
    """Everybody has flown everything: scores, gains and their intervals are those of `rank` to the last digit."""
    _, error = truth(8)
    none = np.zeros(DESIGNS, dtype=bool)
    even, uneven = rank(error, none), rank_uneven(error, none, none)
    columns = ["design", "place", "score", "score_low", "score_high", "gain", "gain_low", "gain_high"]
    pd.testing.assert_frame_equal(even[columns], uneven[columns])


def test_without_a_race_few_designs_are_compared_as_in_the_standings():
    """Under ten designs no spreads are shared: places, distances from the best and who is level are those of `rank` too."""
    for seed in (8, 9, 10):
        error = truth(seed)[1][:8]
        broken = np.arange(8) == seed - 6
        one, two = rank(error, broken), rank_uneven(error, broken, np.zeros(8, dtype=bool))
        alike = [name for name in one if not name.startswith("behind")]
        pd.testing.assert_frame_equal(one[alike], two[alike])


def test_a_design_that_did_not_fly_on_comes_first_only_where_it_is_surely_better():
    """All but one flew on; that one is surely better in the blocks of all, or only may be. Easy later blocks make the others no
    better: the one without them is told by the best of these and its distance from it."""
    draws = np.random.default_rng(4)
    wave, own = draws.normal(size=(1, 4, 12)), 0.1 * draws.normal(size=(4, 4, 12))
    wave[:, :, 3:] -= 1.0
    none = np.zeros(4, dtype=bool)
    for third, first in ((4.0, 3), (4.98, 1)):
        scores = np.array([6.0, 5.0, 5.2, third])[:, None, None] + wave + own
        scores[3, :, 3:] = np.nan
        table = rank_uneven(scores, none, none).set_index("design")
        assert table.index[0] == first
        assert table["place"].iloc[0] == table["place_low"].iloc[0] == 1
        apart = uneven_estimate(scores[3:] - scores[1]).mean[0]
        assert table.loc[3, "score"] - table.loc[1, "score"] == pytest.approx(apart)
        assert table.loc[3, "may_be_best"]
        assert table.loc[1, "may_be_best"] == (first == 1)


def test_two_blocks_in_every_condition_are_strata():
    """Welch's interval again, where one of the two conditions has just two blocks."""
    first, second = np.array([1.0, 2.0, 4.5]), np.array([0.2, 0.5])
    values = np.full((1, 2, 3), np.nan)
    values[0, 0], values[0, 1, :2] = first, second
    found, welch = uneven_estimate(values), stats.ttest_ind(first, -second, equal_var=False)
    low, high = welch.confidence_interval(0.95)
    assert found.freedom[0] == pytest.approx(welch.df)
    assert found.half_width(0.025)[0] == pytest.approx((high - low) / 4)


def test_a_dropped_design_is_told_by_the_best_s_interval_and_its_distance_s():
    """Two intervals of 97.5 % each, whose widths add up: of the best, and of the difference over the blocks of both."""
    draws = np.random.default_rng(3)
    scores = np.array([4.0, 4.5])[:, None, None] + draws.normal(size=(2, 2, 5))
    scores[1, 1] = np.nan  # half of the conditions
    apart = scores[1, 0] - scores[0, 0]
    best = uneven_estimate(scores[:1])
    width = stats.t.ppf(0.9875, best.freedom[0]) * best.error[0] + stats.t.ppf(0.9875, 4) * stats.sem(apart)
    row = rank_uneven(scores, np.zeros(2, dtype=bool), np.array([False, True])).set_index("design").loc[1]
    assert row["score"] == pytest.approx(scores[0].mean() + apart.mean())
    assert (row["score"] - row["score_low"], row["score_high"] - row["score"]) == pytest.approx((width, SKEW_OF_ONE * width))


def test_every_design_and_every_look_has_its_share_of_the_risk():
    """64 designs, halved from 63 to the last 8 in three rounds before the finals, which fly every condition once in each of at
    most five looks: 5 % / (63 designs x 9 looks) of Student's interval of the differences, as scipy has it."""
    _, error = truth(2)
    race, heats = run_race(2, error, 500)
    first = race.dropped()
    first = first[(first["round"] == 1) & np.isfinite(first["low"])]
    flown = tuple(np.array(heats[0].blocks).T)
    assert len(first) > 10
    assert len(set(flown[0])) == len(flown[0]), "no condition twice: a plain sample"
    for row in first.to_dict("records"):
        own = error[row["design"]][flown]
        rivals = [own - error[best][flown] for best in range(DESIGNS)]
        apart = min(rivals, key=lambda each: abs(each.mean() - row["behind"]))
        reach = stats.t.ppf(1.0 - 0.05 / (63 * 9), len(own) - 1) * stats.sem(apart)
        assert (row["high"] - row["low"]) / 2 == pytest.approx(reach, rel=1e-6)


def test_intervals_of_a_dropped_design_hold_the_truth():
    """A design that met half of the conditions: its interval about the best's score holds its true mean in 95 % or more."""
    held, trials = 0, 300
    for seed in range(trials):
        draws = np.random.default_rng(seed)
        hard = draws.normal(size=CONDITIONS)
        own = 0.1 * draws.normal(size=(2, CONDITIONS))
        scores = np.array([1.0, 1.5])[:, None, None] + hard[:, None] + own[:, :, None]
        scores = scores + 0.2 * draws.normal(size=(2, CONDITIONS, REPLICATES))
        true = float((1.5 + hard + own[1]).mean())
        scores[1, draws.permutation(CONDITIONS)[:3]] = np.nan
        scores[1, :, 1:] = np.nan
        row = rank_uneven(scores, np.zeros(2, dtype=bool), np.array([False, True])).set_index("design").loc[1]
        held += int(row["score_low"] <= true <= row["score_high"])
    assert held / trials >= 0.93


def test_a_design_that_dropped_out_for_sure_is_never_level():
    _, error = truth(9)
    race, _ = run_race(9, error, 500)
    gone = np.zeros(DESIGNS, dtype=bool)
    gone[race.dropped()["design"]] = True
    table = rank_uneven(race.scores, np.zeros(DESIGNS, dtype=bool), gone)
    assert not table.set_index("design").loc[np.flatnonzero(gone), "may_be_best"].any()
    assert table["may_be_best"].any()
    order = table["design"].tolist()
    assert not gone[order[0]]
    worse = table["score"].to_numpy() + np.where(gone[order], behind(race.scores, order[0]).error[order], 0.0)
    assert (np.diff(worse[1:]) >= 0.0).all(), "a design that stayed by chance stands behind those that surely score better"
    assert np.flatnonzero(~gone[order]).max() > np.flatnonzero(gone[order]).min(), "such as the base craft, which always stays"
    told = behind(race.scores, order[0])
    assert (told.mean[gone] > 0.0).mean() > 0.9


def test_standings_after_a_race_keep_the_broken_the_screened_and_the_dropped_apart():
    """The best of those that stayed, and the others by their scores, the dropped one with its reason; no place for what broke a
    limit or cannot fly."""
    scores = np.array([3.0, 1.0, 0.5, 2.0, np.nan])[:, None, None] + 0.01 * np.random.default_rng(5).normal(size=(5, 2, 3))
    scores[3, :, 1:] = np.nan
    judged = ["kept", "kept", "broken", "kept", "not yet known"]
    verdicts = pd.DataFrame({"verdict": judged, "reason": ["", "", "a limit", "", ""], "doubtful": False, "probable": True})
    dropped = pd.DataFrame(
        [
            {"design": 3, "why": "behind", "round": 1, "blocks": 2, "behind": 1.0, "low": 0.8, "high": 1.2, "reason": ""},
            {"design": 4, "why": "screened", "round": 0, "blocks": 0, "behind": np.nan, "reason": "no trim"},
        ]
    )
    table = uneven_standings(scores, verdicts, dropped, Failures(np.zeros(5), np.full(5, 6.0), np.nan), {}).set_index("design")
    assert table.index.tolist() == [1, 3, 0, 2, 4]
    assert table["place"].to_list() == [1, 2, 3, pd.NA, pd.NA]
    assert table["verdict"].tolist() == ["kept", "kept", "kept", "broken", "broken"]
    assert table.loc[[2, 4], "reason"].tolist() == ["a limit", "no trim"]
    assert table.loc[3, "reason"].startswith("Dropped out in round 1 after 2 flights, surely behind: 1 (0.8 to 1.2)")
    assert table["flights"].tolist() == [6, 2, 6, 6, 0]


def test_a_dropped_design_says_when_and_why():
    row = pd.Series({"round": 2, "blocks": 5, "why": "halved", "behind": 0.312, "low": -0.1, "high": 0.71})
    said = "in the worse half, which is no proof: 0.31 (-0.1 to 0.71) behind the best then."
    assert drop_words(row) == f"Dropped out in round 2 after 5 flights, {said}"


def test_a_heat_s_shards_hold_every_flight_once(monkeypatch):
    monkeypatch.setattr("sweep.results.journal.DESIGNS_A_SHARD", 4)
    heat = Heat(2, np.array([0, 3, 5, 6, 8, 11]), ((1, 0), (0, 2)))
    shards = decision_shards(heat.designs, heat.blocks, 7)
    held = {(heat.designs[at], shard.condition, shard.replicate) for shard in shards for at in range(shard.first, shard.last)}
    assert held == {(design, *block) for design in heat.designs for block in heat.blocks}
    assert [shard.number for shard in shards] == [7, 8, 9, 10]


class StoppedError(Exception):
    pass


class StopAfter(Watcher):
    """A watcher that stops the run after so many flights."""

    def __init__(self, flights):
        self.left = flights

    def flown(self, flights):
        self.left -= flights
        if self.left < 0:
            raise StoppedError


class Counter(Watcher):
    """A watcher that keeps what it is told."""

    def __init__(self):
        self.said = []

    def say(self, sentence):
        self.said.append(sentence)


def raced(folder, budget, workers=None, watcher=None):
    chosen = campaign(replicates=4, budget=budget)
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    folder.mkdir(exist_ok=True)
    begin(folder, chosen, designs, conditions)
    fly_designs(Work(chosen, designs, conditions, workers, watcher or Watcher()), folder, time.monotonic())
    parts, dropped = store.read_shards(folder, wanted_columns(chosen)), store.read_table(folder, "dropped")
    names = [condition.name for condition in conditions]
    return rank_flights(chosen, parts, names, len(designs), dropped).standings, store.read_flights(folder)


def test_workers_and_interruptions_change_nothing(tmp_path):
    budget = Budget(simulated="280 s")
    standings, flights = raced(tmp_path / "whole", budget)
    assert len(flights) * 4.0 <= 280.0
    assert flights.groupby("design").size().nunique() > 1
    assert not flights.duplicated(["design", "condition", "replicate"]).any()
    with pytest.raises(StoppedError):
        raced(tmp_path / "stopped", budget, workers=1, watcher=StopAfter(40))
    again, same = raced(tmp_path / "stopped", budget, workers=2)
    pd.testing.assert_frame_equal(flights, same, check_exact=True)
    pd.testing.assert_frame_equal(standings, again, check_exact=True)
    for name in ("dropped.parquet", "rounds.parquet", "flights/SHA256SUMS"):
        assert (tmp_path / "whole" / name).read_bytes() == (tmp_path / "stopped" / name).read_bytes()


@pytest.mark.parametrize(("length", "screened"), [(4.0, {}), (25.0, {2: "no trim"})])
def test_short_flights_show_by_themselves_who_cannot_fly(monkeypatch, length, screened):
    """To look at a design's linear companion takes longer than its first few flights of some seconds."""
    monkeypatch.setattr(race_run, "screen", lambda campaign, designs, workers: {2: "no trim"})
    chosen = campaign(budget=Budget(simulated="280 s"))
    chosen = chosen.model_copy(update={"flight": chosen.flight.model_copy(update={"length": length})})
    work = Work(chosen, lay_out(chosen), list_conditions(chosen), 1)
    assert race_run._screened(work) == screened


def test_past_its_time_a_race_flies_each_design_once_and_no_more(tmp_path):
    budget = Budget(clock="0.5 s")
    _, first = raced(tmp_path / "run", budget)
    noted, journal = read_manifest(tmp_path / "run").clock, read_journal(tmp_path / "run")
    assert (noted.seconds, noted.ends) == (0.5, "")
    assert len(first) == 13
    assert [len(each.blocks) for each in journal.of(RACE)] == [1]
    _, again = raced(tmp_path / "run", budget)
    pd.testing.assert_frame_equal(first, again)
    assert read_manifest(tmp_path / "run").clock == noted
    assert read_journal(tmp_path / "run") == journal


@pytest.mark.usefixtures("without_design_pages")
def test_a_race_ends_in_standings_and_pages(tmp_path):
    """The whole way, from a file: the budget is kept, and the pages tell of the rounds and of each design that dropped out."""
    text = (CONFIGS / "quick.yaml").read_text()
    text = text.replace("craft/courier.yaml", str(CONFIGS / "craft" / "courier.yaml")).replace("replicates: 3", "replicates: 8")
    text = text.replace("length: 12 s, settle: 3 s", "length: 4 s, settle: 1 s").replace(
        "heights: [3 cm, 6 cm, 9 cm]", "heights: 3 cm"
    )
    (tmp_path / "race.yaml").write_text(text + "\nbudget: {simulated: 300 s}\n")
    results = sweep.run(sweep.load_campaign(tmp_path / "race.yaml"), tmp_path / "results")
    assert len(results.flights) * 4.0 <= 300.0
    assert results.rounds["flights"].sum() < len(results.flights), "what a race leaves, the leading designs fly on for"
    assert len(results.flights) * 4.0 > 0.8 * 300.0
    assert results.standings["flights"].sum() == len(results.flights)
    page = (tmp_path / "results" / "site" / "index.html").read_text()
    assert "How the flights were spent" in page
    gone = results.standings[results.standings["reason"].str.startswith("Dropped out")]
    assert len(gone) == results.rounds[["behind", "halved"]].sum().sum() > 0
    assert "Dropped out in round 1" in (tmp_path / "results" / "site" / "data" / "designs.csv").read_text()
    again = sweep.rank(tmp_path / "results")
    pd.testing.assert_frame_equal(again, results.standings)


def test_another_score_is_another_race(tmp_path):
    """The flights of a race follow from how they are judged: with another score it is raced anew, out of what was flown."""
    budget = Budget(simulated="120 s")
    _, before = raced(tmp_path / "run", budget)
    chosen = campaign(replicates=4, budget=budget)
    heavier = {name: weight.model_copy(update={"weight": 2.0 + at}) for at, (name, weight) in enumerate(chosen.score.items())}
    other = chosen.model_copy(update={"score": heavier})
    for folder, counter in ((tmp_path / "run", Counter()), (tmp_path / "anew", Counter())):
        folder.mkdir(exist_ok=True)
        said = begin(folder, other, lay_out(other), list_conditions(other))
        fly_designs(Work(other, lay_out(other), list_conditions(other), watcher=counter), folder, time.monotonic())
        assert bool(said) == (folder.name == "run")
        assert any("kept" in sentence for sentence in counter.said) == bool(said)
    assert read_manifest(tmp_path / "run").kept >= len(before) / 2
    for name in ("dropped.parquet", "rounds.parquet", "flights/SHA256SUMS"):
        assert (tmp_path / "run" / name).read_bytes() == (tmp_path / "anew" / name).read_bytes()
