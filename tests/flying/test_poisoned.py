"""Designs that cannot fly, among others: they are rows with a status and a sentence, and change no score of the others."""

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.flying import flights
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.insight.rank import rank_flights
from sweep.model.quantities import STATUS_NAMES, STATUS_SENTENCES
from sweep.results.shard_plan import plan_shards
from tests.test_workflow import SMALL, campaign

FACTORS = {
    "foils.*.area": "[30 cm^2, 60 cm^2]",
    "body.mass": "[2 kg, 4 kg]",
    "body.pitch_radius": "[20 cm, 30 cm]",
    "control.height.proportional": "[0.2 deg/cm, 0.8 deg/cm]",
    "body.height": "[5 cm, 8 cm]",
    "control.roll.proportional": "[0.5, 2]",
}
SOUND = (0.005, 3.06, 0.25, 0.5, 0.065, 0.8)
POISONS = {
    "no foil to speak of": {"foils.*.area": 1e-6},
    "a boat of lead": {"body.mass": 1e6},
    "foils of a ship": {"foils.*.area": 1e3},
    "a gain beyond all bounds": {"control.height.proportional": 1e12},
    "top-heavy, and let go": {"body.height": 10.0, "control.roll.proportional": 0.0},
}
STATUSES = ["no-trim", "no-trim", "no-trim", "flew", "upset"]
EVERY = 20  # one in so many is poisoned


@pytest.fixture(scope="module")
def chosen(tmp_path_factory):
    text = SMALL[: SMALL.index("  foils.*")] + "".join(f"  {name}: {levels}\n" for name, levels in FACTORS.items())
    text += SMALL[SMALL.index("conditions:") :]
    return campaign(tmp_path_factory.mktemp("poisoned"), text.replace("upsets: 80 %", "upsets: 30 %"))


def designs_of(rows):
    table = pd.DataFrame(rows, columns=list(FACTORS), dtype=float)
    table.index.name = "design"
    return table


def flown(chosen, designs):
    """The flights of these designs, and their standings."""
    conditions = list_conditions(chosen)
    shards = plan_shards(len(designs), len(conditions), chosen.replicates)
    rows = pd.concat([part for _, part in fly_shards(Work(chosen, designs, conditions, 1), shards)], ignore_index=True)
    return rows, rank_flights(chosen, [rows], [each.name for each in conditions], len(designs)).standings


def test_one_poisoned_in_twenty_changes_no_score_of_the_others(chosen):
    draws, most = np.random.default_rng(1), EVERY * len(POISONS)
    sound = designs_of([SOUND, *(np.array(SOUND) * draws.uniform(0.9, 1.1, len(SOUND)) for _ in range(most - 1))])
    places = np.arange(EVERY // 2, most, EVERY)
    poisoned = sound.copy()
    for place, poison in zip(places, POISONS.values(), strict=True):
        for name, value in poison.items():
            poisoned.loc[place, name] = value
    others = sound.index.difference(places)
    rows, standings = flown(chosen, poisoned)
    without, expected = flown(chosen, sound.loc[others].reset_index(drop=True))
    same = rows[rows["design"].isin(others)].reset_index(drop=True)
    same["design"] = same["design"].map({old: new for new, old in enumerate(others)}).astype(np.int32)
    pd.testing.assert_frame_equal(same, without.astype({"design": np.int32}), check_exact=True)
    scores = standings.set_index("design").loc[others, ["score", "gain"]].reset_index(drop=True)
    pd.testing.assert_frame_equal(
        scores, expected.set_index("design").sort_index()[["score", "gain"]], check_exact=True, check_names=False
    )
    told = rows[rows["design"].isin(places)].groupby("design")["status"].max()
    assert [STATUS_NAMES[status] for status in told] == STATUSES
    assert all(STATUS_SENTENCES[status] for status in told)
    assert not (standings.set_index("design").loc[places, "place"] == 1).any()


def test_numbers_that_run_away_inside_a_flight_end_it_alone(chosen, monkeypatch):
    """No file leads there: so the packed numbers of one craft, all finite, are made so large that forces overflow in flight."""
    designs = designs_of([SOUND] * 3 + [tuple(1.1 * value for value in SOUND)] * 2)
    expected, _ = flown(chosen, designs)
    build, poisoned = flights.build_fleets, 2

    def with_poison(*asked, **named):
        for places, fleet in build(*asked, **named):
            factors = np.where(places == poisoned, 1e60, 1.0)
            yield places, fleet._replace(parameters=fleet.parameters * factors[:, None])

    monkeypatch.setattr(flights, "build_fleets", lambda *asked, **named: list(with_poison(*asked, **named)))
    rows, standings = flown(chosen, designs)
    mine = rows["design"] == poisoned
    assert {STATUS_NAMES[status] for status in rows.loc[mine, "status"]} == {"not-a-number"}
    assert "left the range of the model" in STATUS_SENTENCES[rows.loc[mine, "status"].iloc[0]]
    pd.testing.assert_frame_equal(rows[~mine], expected[~mine], check_exact=True)
    assert not np.isinf(rows.select_dtypes("number").to_numpy()).any()
    row = standings.set_index("design").loc[poisoned]
    assert row["verdict"] == "broken" or row["place"] == len(designs)
    assert np.isfinite(row["score"])
