"""The cause rules on a few planted flights, and on made-up records; `tests.benchmarks.causes` flies them all."""

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.faults import NamedFault
from sweep.insight.causes import RULES, SHALLOW_WATER, STOPPED_BOAT, UNCLEAR, name_cause, name_causes
from sweep.insight.events import list_events
from sweep.model.onboard.faults import LOST_LINK, WEED
from tests.benchmarks.causes import named
from tests.insight.plants import BOATS, CAUSES, LENGTH, SETTLE, Plant, craft_of_boat, fly_plant, plants

CHOSEN = {
    "a long blind range": (2, 0),
    "a rangefinder hung low": (2, 1),
    "short travel": (0, 0),
    "slow servos": (0, 0),
    "foils that draw air deep": (0, 0),
    "set high, foils shallow": (2, 0),
    "rangefinders fall silent": (0, 0),
    "most readings missing": (1, 1),
    "high waves": (2, 0),
    "too firm a height loop": (1, 0),
    "late rangefinders": (1, 0),
    "the drive is cut": (1, 0),
    "weed": (1, 0),
}
"""Kind -> which strength, in which block of waves."""


def test_nine_of_ten_planted_causes_are_named():
    kinds: dict[str, list[Plant]] = {}
    for plant in plants("courier"):
        kinds.setdefault(plant.kind, []).append(plant)
    found = {}
    for kind, (strength, block) in CHOSEN.items():
        plant = kinds[kind][strength]
        cause = named("courier", fly_plant("courier", plant, block))
        if cause is not None:
            found[kind] = (plant.cause, cause)
    assert len(found) >= 10
    assert {cause for cause, _ in found.values()} == set(CAUSES)
    assert np.mean([planted == cause for planted, cause in found.values()]) >= 0.9, found


def test_the_twin_without_a_plant_has_nothing_to_explain():
    flown = fly_plant("courier", Plant("nothing", UNCLEAR), 0)
    assert flown.clean
    events = list_events(flown.history, flown.craft, SETTLE, LENGTH)
    assert name_causes(flown.history, events, flown.craft, {0: 4.0}).empty


def record(**changes):
    """Six seconds of a steady ride, a fresh reading every row."""
    craft, time = craft_of_boat("courier"), np.arange(0.0, 6.0, 0.02)
    draws = np.random.default_rng(1)
    steady = dict.fromkeys(("roll", "pitch", "surface", "hull_load", "rudder"), 0.0)
    columns = {
        "condition": 0,
        "time": time,
        **steady,
        "ride_height": craft.control.ride_height,
        "keel_height": craft.control.ride_height,
        "sensed_height": craft.control.ride_height + 0.003 * draws.normal(size=len(time)),
        "speed": 4.0,
        "throttle": 0.5,
        "clearance": 0.09,
        "submergence": 0.1,
        "ventilated": 0.0,
        **{f"foil_{name}": 0.001 * draws.normal(size=len(time)) for name in craft.foils},
    }
    return pd.DataFrame({name: np.broadcast_to(value, len(time)) for name, value in (columns | changes).items()})


TIME = np.arange(0.0, 6.0, 0.02)
NOISE = 0.003 * np.random.default_rng(4).normal(size=len(TIME))


@pytest.mark.parametrize(
    ("changes", "cause"),
    [
        ({}, UNCLEAR),
        ({"ventilated": (TIME > 3.0).astype(float)}, "ventilation"),
        ({"ventilated": (TIME < 3.0).astype(float)}, UNCLEAR),
        ({"speed": np.linspace(4.0, 2.5, len(TIME))}, "thrust short"),
        ({"sensed_height": 0.095}, "drop-out"),
        ({"sensed_height": 0.02 + 0.003 * np.sin(90 * TIME)}, "drop-out"),
        ({"foil_port": np.full(len(TIME), 0.157)}, "servo limit"),
        ({"foil_port": 0.06 * np.sin(12 * TIME)}, "loop oscillation"),
        ({"foil_port": 0.06 * np.sin(12 * TIME), "surface": 0.03 * np.sin(12 * TIME + 1)}, UNCLEAR),
        ({"surface": 0.08 * np.sin(6 * TIME)}, "wave beyond the window"),
        ({"submergence": 0.005, "foil_aft": np.full(len(TIME), 0.12)}, "ventilation"),
        ({"ride_height": 0.01, "sensed_height": 0.02 + 0.003 * np.sin(90 * TIME)}, "blind range"),
    ],
    ids=lambda value: value if isinstance(value, str) else "+".join(value) or "nothing",
)
def test_each_rule_reads_what_it_says(changes, cause):
    found = name_cause(record(**changes), 5.9, craft_of_boat("courier"), BOATS["courier"].speed)
    assert found.name == cause, found.said


def named_after(changes, craft=None):
    """What the rules say of a made-up record, 5.9 s into it."""
    return name_cause(record(**changes), 5.9, craft or craft_of_boat("courier"), BOATS["courier"].speed)


def test_one_hull_in_two_looks_back_as_far_as_the_longer_one_asks():
    """What happened 3 s ago is within the 4 s of the courier's 0.9 m hull, and not within the 2.3 s of one of 0.3 m."""
    courier, stepped = craft_of_boat("courier"), {"surface": np.where(TIME < 2.9, 0.16, 0.0)}
    short = courier.hulls["main"].model_copy(update={"length": 0.3})
    two, one = (courier.model_copy(update={"hulls": hulls}) for hulls in ({**courier.hulls, "float": short}, {"main": short}))
    assert named_after(stepped, two).name == "wave beyond the window"
    assert named_after(stepped, one).name == UNCLEAR


@pytest.mark.parametrize(("since", "cause"), [(3.9, "blind range"), (5.1, UNCLEAR)])
def test_what_the_rangefinder_saw_early_and_late_counts_alike(since, cause):
    """Close for the last 2.0 of 4 s, and for the last 0.8 s only: half of the time is too much, a fifth is not."""
    late = np.greater(TIME, since)
    seen = np.where(late, 0.02, 0.095)
    close = {"ride_height": seen - 0.01 * late, "sensed_height": seen + 0.003 * np.sin(90 * TIME)}
    assert named_after(close).name == cause


@pytest.mark.parametrize(("share", "cause"), [(0.5, UNCLEAR), (0.7, "servo limit")])
def test_a_foil_may_stand_at_its_end_for_three_fifths_of_the_time(share, cause):
    """At the end of its travel every so often, by chance, so that it does not swing."""
    draws = np.random.default_rng(2)
    stopped = draws.random(len(TIME)) < share
    slow = craft_of_boat("courier")
    slow = slow.model_copy(update={"servos": slow.servos.model_copy(update={"rate": 100.0})})  # none of it is rushing
    assert named_after({"foil_port": np.where(stopped, 0.157, 0.1)}, slow).name == cause


def test_a_foil_that_moves_by_chance_does_not_swing():
    """As much as a swing does, but what is left does not come back: the autocorrelation of chance is 1 / sqrt(rows) or so."""
    assert named_after({"foil_port": 0.03 * np.random.default_rng(3).normal(size=len(TIME))}).name == UNCLEAR


def test_a_shallow_tip_is_told_by_its_share_of_the_time():
    """Shallow for 1 of the 4 s, with nothing on the foils."""
    found = named_after({"submergence": np.where((TIME > 3.0) & (TIME <= 4.001), 0.001, 0.1)})
    assert found.name == "ventilation"
    assert "for 25 % of the time" in found.said


EVENT = ["condition", "kind", "begin", "end"]


def test_each_event_is_judged_by_its_own_seconds():
    """The second is 1.5 s after the first, and the boat has its speed again."""
    flight = record(speed=np.where(TIME < 4.0, 2.0, 4.0))
    events = pd.DataFrame([(0, "touchdown", 3.0, 3.5), (0, "foil out", 5.0, 5.1)], columns=EVENT)
    told = name_causes(flight, events, craft_of_boat("courier"), {0: 4.0})
    assert told["cause"].tolist() == ["thrust short", UNCLEAR]


def test_what_follows_at_once_is_the_same_trouble_and_says_so():
    flight = record(speed=np.where(TIME < 4.0, 2.0, 4.0))
    kinds = [("foil out", 3.0, 3.5), ("ventilated", 3.4, 3.6), ("touchdown", 3.9, 4.0)]
    told = name_causes(flight, pd.DataFrame([(0, *kind) for kind in kinds], columns=EVENT), craft_of_boat("courier"), {0: 4.0})
    assert told["cause"].tolist() == ["thrust short"] * 3
    first, during, after = told["why"]
    assert during == f"while a foil's tip came under half a chord deep: {first}"
    assert after == f"0.3 s after a foil drew air: {first}"


@pytest.mark.parametrize(
    ("start", "stop", "cause"), [(2.8, 9.0, "as planned"), (2.8, 2.9, UNCLEAR), (3.1, 9.0, UNCLEAR), (-2.0, 9.0, UNCLEAR)]
)
def test_what_the_campaign_plans_is_told_first(start, stop, cause):
    """A fault that acts, and has begun within the seconds that are looked at."""
    weed = NamedFault(name="weed on the aft foil", rows=((float(WEED), 2.0, start, stop, 1e-4, 0.5, 0.0),))
    event = pd.DataFrame([(0, "touchdown", 3.0, 3.5)], columns=EVENT)
    told = name_causes(record(), event, craft_of_boat("courier"), {0: 4.0}, {0: weed})
    assert told["cause"].tolist() == [cause]
    if cause == "as planned":
        assert told["why"].item() == "weed on the aft foil, which the campaign plans, began 0.2 s before"


STOPS = {
    2.0: (
        LOST_LINK,
        "as planned",
        "the code stopped the boat: its link was lost; no link, which the campaign plans, began 0.5 s before",
    ),
    3.0: (None, "drop-out", "the code stopped the boat: a rangefinder gave no reading"),
    4.0: (None, STOPPED_BOAT, "the code stopped the boat: it seemed to lean past 60 deg"),
}


@pytest.mark.parametrize("by", STOPS)
def test_a_boat_that_its_code_stops_is_told_why(by):
    """So is what follows, when it comes down."""
    planned, cause, why = STOPS[by]
    fault = NamedFault(name="no link", rows=((float(planned), -1.0, 2.5, 9.0, 0.0, 0.0, 0.0),)) if planned else NamedFault()
    flight = record(stopped_by=np.where(TIME >= 3.0, by, 0.0), clearance=np.where(TIME >= 3.6, -0.01, 0.09))
    events = list_events(flight, craft_of_boat("courier"), 1.0, 6.0)
    told = name_causes(flight, events, craft_of_boat("courier"), {0: 4.0}, {0: fault})
    assert told["kind"].tolist() == ["stopped", "touchdown"]
    assert told["cause"].tolist() == [cause] * 2
    assert told["why"].tolist() == [why, f"while the code kept the boat still: {why.split(': ', 1)[1]}"]


SWELL = 0.02 * np.sin(3.0 * TIME)


@pytest.mark.parametrize(
    ("share", "late", "cause", "said"),
    [
        (1.5, 0.3, "waves followed late", "1.5 times as far as the water, 0.3 s after it"),
        (1.0, 0.4, "waves followed late", "1.0 times as far as the water, 0.4 s after it"),
        (0.4, 0.1, "waves not followed", "0.4 times as far as the water did"),
        (1.0, 0.0, UNCLEAR, ""),
    ],
)
def test_how_a_boat_follows_the_waves_is_told(share, late, cause, said):
    """Beside a rise and fall of its own that the waves do not explain: a boat that follows well has no other error."""
    own = 0.004 * np.sin(7.3 * TIME)
    keel = 0.095 + share * 0.02 * np.sin(3.0 * (TIME - late)) + own
    ride = keel - SWELL
    found = named_after({"surface": SWELL, "keel_height": keel, "ride_height": ride, "sensed_height": ride + NOISE})
    assert found.name == cause, found.said
    assert said in found.said


def test_a_heel_that_lifts_a_tip_is_told():
    found = named_after({"roll": np.where(TIME > 5.0, 0.3, 0.0), "submergence": np.where(TIME > 5.0, 0.02, 0.1)})
    assert (found.name, found.said[:22]) == ("heel", "the boat heeled 17 deg")


def test_a_craft_that_touches_ground_out_of_a_sound_flight_has_too_little_water():
    """After another trouble it is that trouble's end, as any other event."""
    alone = pd.DataFrame([(0, "aground", 5.0, 5.0)], columns=EVENT)
    assert name_causes(record(), alone, craft_of_boat("courier"), {0: 4.0})["cause"].tolist() == [SHALLOW_WATER]
    after = pd.DataFrame([(0, "touchdown", 3.0, 4.5), (0, "aground", 5.0, 5.0)], columns=EVENT)
    told = name_causes(record(speed=np.where(TIME < 4.0, 2.0, 4.0)), after, craft_of_boat("courier"), {0: 4.0})
    assert told["cause"].tolist() == ["thrust short", "thrust short"]


def test_every_rule_says_what_it_does():
    assert all(rule.__doc__ for rule in RULES)
