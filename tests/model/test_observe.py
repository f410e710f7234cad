"""What a flight counts: made-up histories in, every rule of MODEL.md's last section out."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, pi, radians, sin
from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.kernels.frame import turn
from sweep.model.quantities import RESPONSE_NAMES, SUM
from sweep.model.responses import Counted, responses
from sweep.model.stepping.observe import Moment, Tally, observe
from tests.model.crafts import GRAVITY, RIDE, Bench, changed, courier, rotation

STEP = 0.01
Story = Callable[[float], Any]

# What every story holds where it says nothing else: keel at the wanted height over calm water, foils ten centimetres deep
CALM: dict[str, float] = {
    "load": 0.0,  # hull lift over weight
    "keel": -RIDE,  # depth of every station's keel
    "lowest": -1.0,  # depth of one station's keel, if that is more
    "tip": 0.10,  # depth of the shallowest tip
    "air": 0.0,  # 1 if a foil is ventilated
    "roll": 0.0,
    "pitch": 0.0,
    "heading": 0.0,
    "rudder": 0.0,
    "height": RIDE,  # keel over the calm level
    "surface": 0.0,
    "power": 40.0,
    "servo": 0.0,  # angle of the first foil
    "servo_speed": 0.0,
    "speed": 4.0,
    "faults": 0.0,
    "blind": 0.0,
    "alive": 1.0,
}  # fmt: skip


class Watch:
    """Feeds a story, step by step, to the observer of a craft; all lanes alike unless a story gives (lanes,)."""

    def __init__(self, craft: Craft | None = None, settle: float = 0.0, **stories: Story | float) -> None:
        self.craft = craft or courier()
        self.bench = Bench(self.craft)
        self.settle = settle
        self.stories = {name: value if callable(value) else (lambda t, v=value: v) for name, value in (CALM | stories).items()}
        assert self.stories.keys() == CALM.keys()
        self.times: list[float] = []
        self.flying = LANES

    def run(self, length: float) -> Watch:
        first = len(self.times)
        for n in range(first, first + round(length / STEP)):
            self._set({name: story(n * STEP) for name, story in self.stories.items()})
            sums = self.bench.lanes.sums
            tally = Tally(sums.T.reshape(sums.size), self.bench.lanes.histograms)
            self.flying = observe(self.bench.flat, tally, self.bench.counts, Moment(n * STEP, STEP, n * STEP >= self.settle))
            self.times.append(n * STEP)
        return self

    def _set(self, now: dict[str, Any]) -> None:
        bench, keel = self.bench, self.bench.get(at.KEEL)
        lane = np.ones(LANES)
        bench.put(at.MID.phi, np.array([now["roll"] * lane, now["pitch"] * lane, now["heading"] * lane]))
        turn(bench.flat, at.MID.phi, at.ROTATION.first)
        bench.slots[at.MID.x] = now["speed"] * (len(self.times) + 0.5) * STEP
        bench.slots[at.MID.z] = -now["height"] - bench.slots[at.ROTATION.zz] * keel
        bench.slots[at.RATE.x], bench.slots[at.RATE.y] = now["speed"], 0.0
        bench.slots[at.REFERENCE_SEA] = now["surface"]
        for station in range(6):
            bench.slots[bench.station(station) + at.STATION.depth] = now["keel"]
        bench.slots[bench.station(0) + at.STATION.depth] = np.maximum(now["keel"], now["lowest"])
        bench.slots[at.HULL_LIFT] = now["load"] * bench.slots[at.MASS] * GRAVITY
        for foil in range(3):
            bench.slots[bench.foil(foil) + at.FOIL.tip_depth] = 0.15
            bench.slots[bench.foil(foil) + at.FOIL.servo.speed] = now["servo_speed"] * (-1) ** foil
        bench.slots[bench.foil(1) + at.FOIL.tip_depth] = now["tip"]
        bench.slots[bench.foil(1) + at.FOIL.ventilated] = now["air"]
        bench.slots[bench.foil(0) + at.FOIL.servo.angle] = now["servo"]
        bench.slots[at.RUDDER_MID] = now["rudder"]
        bench.slots[at.POWER] = now["power"]
        bench.slots[at.FAULT_READINGS], bench.slots[at.BLIND_READINGS] = now["faults"], now["blind"]
        bench.slots[at.ALIVE] *= now["alive"]

    def table(self) -> np.ndarray:
        """All responses of every lane."""
        lanes = self.bench.lanes
        readings = self.bench.slots[[at.FAULT_READINGS, at.BLIND_READINGS, at.REFUSED]].T
        parameters = np.repeat(self.bench.fleet.parameters, LANES, axis=0)
        counted = Counted(parameters, lanes.sums, lanes.histograms, readings)
        return responses(counted, STEP, self.settle, False)[1]

    def __getitem__(self, name: str) -> float:
        return float(self.table()[0, RESPONSE_NAMES.index(name)])

    def count(self, name: str) -> float:
        """How many of an event, from its rate over the foilborne time."""
        rate = self[name]
        return 0.0 if rate == 0.0 else rate * self["time_foilborne"]

    @property
    def status(self) -> float:
        """Status of lane 0."""
        return float(self.bench.lanes.sums[0, SUM.status])


def during(*spans: tuple[float, float], inside: float, outside: float) -> Story:
    """One value within some spans of time (s), another outside."""
    return lambda t: inside if any(start - 1e-9 <= t < stop - 1e-9 for start, stop in spans) else outside


# The hull


@pytest.mark.parametrize(
    ("spans", "touchdowns"),
    [
        ([(1.0, 1.2)], 1),
        ([(1.0, 1.2), (1.3, 1.4)], 1),  # dry for 0.1 s only: the same touch
        ([(1.0, 1.2), (1.48, 1.6)], 1),  # 0.28 s
        ([(1.0, 1.2), (1.53, 1.6)], 2),  # 0.33 s
        ([(1.0, 1.05), (2.0, 2.05), (3.0, 3.05)], 3),
        ([(1.0, 4.0)], 1),
    ],
)
def test_a_touch_is_one_until_the_hull_was_dry_for_a_while(spans: list[tuple[float, float]], touchdowns: int) -> None:
    watch = Watch(lowest=during(*spans, inside=0.001, outside=-0.05), load=during(*spans, inside=0.2, outside=0.0)).run(5.0)
    assert watch.count("touchdowns") == pytest.approx(touchdowns)
    assert watch["wet_share"] == pytest.approx(sum(stop - start for start, stop in spans) / 5.0)
    assert watch["hull_impulse"] == pytest.approx(0.2 * watch["wet_share"])
    assert watch["clearance_least"] == pytest.approx(-0.001)


@pytest.mark.parametrize(("length", "load", "licks"), [(0.08, 0.04, 1), (0.08, 0.06, 0), (0.115, 0.04, 0), (0.5, 0.3, 0)])
def test_a_lick_is_short_and_light(length: float, load: float, licks: int) -> None:
    span = (1.0, 1.0 + length)
    watch = Watch(lowest=during(span, inside=0.001, outside=-0.05), load=during(span, inside=load, outside=0.0)).run(4.0)
    assert watch.count("licks") == pytest.approx(licks)
    assert watch.count("touchdowns") == pytest.approx(1)


def test_flight_is_lost_when_the_hull_carries_half_the_weight_for_a_second_and_won_back_when_it_is_light_for_one() -> None:
    heavy = during((1.0, 1.9), (3.0, 4.5), inside=0.6, outside=0.0)
    watch = Watch(load=heavy, lowest=lambda t: 0.02 if heavy(t) else -0.05).run(8.0)
    assert watch["lost_flights"] == 1.0  # the 0.9 s of the first do not count
    assert watch["time_foilborne"] == pytest.approx(8.0 - 1.5, abs=0.03)  # lost at 4.0, back at 5.5
    assert watch["time_flown"] == pytest.approx(8.0)
    half = Watch(load=during((1.0, 4.0), inside=0.3, outside=0.0)).run(5.0)  # neither light nor heavy: as it was
    assert half["lost_flights"] == 0.0
    assert half["time_foilborne"] == pytest.approx(5.0)


@pytest.mark.parametrize(("heavy", "lost"), [(0.48, 0.0), (0.52, 1.0)])
@pytest.mark.parametrize(("light", "back"), [(0.047, 1.0), (0.053, 0.0)])
def test_heavy_is_over_half_of_the_weight_and_light_under_a_twentieth(
    heavy: float, lost: float, light: float, back: float
) -> None:
    """Lost after a second of the one, won back after a second of the other; 5 s in all."""
    watch = Watch(load=lambda t: heavy if 1.0 <= t < 2.5 else 0.0 if t < 1.0 else light, lowest=0.01).run(5.0)
    assert watch["lost_flights"] == lost
    foilborne = 5.0 if not lost else 2.0 + (1.5 if back else 0.0)
    assert watch["time_foilborne"] == pytest.approx(foilborne, abs=0.03)


def test_off_the_foils_a_wet_hull_is_no_touchdown_and_the_ride_is_not_judged() -> None:
    """Lost at 2 s; what happens to height and clearance from then on is no ride."""
    sunk = during((1.0, 9.0), inside=1.0, outside=0.0)
    wet = during((1.0, 4.0), (5.0, 9.0), inside=0.02, outside=-0.05)  # dry for a second: would be a new touch
    height = during((2.5, 9.0), inside=-0.03, outside=RIDE + 0.010)
    watch = Watch(load=sunk, lowest=wet, keel=lambda t: 0.01 if t < 4.0 and sunk(t) else -0.05, height=height).run(9.0)
    assert watch.count("touchdowns") == pytest.approx(1)
    assert watch.count("plunges") == pytest.approx(1)
    assert watch["ride_height_error"] == pytest.approx(0.010)
    assert watch["time_foilborne"] == pytest.approx(2.0, abs=0.02)
    assert watch["wet_share"] == pytest.approx(7.0 / 9.0, rel=1e-3)


@pytest.mark.parametrize(("length", "plunges"), [(0.06, 0), (0.09, 0), (0.115, 1), (0.8, 1)])
def test_a_plunge_is_the_mean_keel_under_water_for_a_tenth_of_a_second(length: float, plunges: int) -> None:
    span = (1.0, 1.0 + length)
    watch = Watch(keel=during(span, inside=0.01, outside=-0.05), load=during(span, inside=0.4, outside=0.0)).run(3.0)
    assert watch.count("plunges") == pytest.approx(plunges)
    bow_only = Watch(lowest=during((1.0, 2.0), inside=0.04, outside=-0.05)).run(3.0)
    assert bow_only.count("plunges") == 0.0


# The foils

HALF_CHORD = 0.5 * 0.0288675


@pytest.mark.parametrize(
    ("spans", "outs"),
    [
        ([(1.0, 1.03)], 0),
        ([(1.0, 1.08)], 1),
        ([(1.0, 1.03), (1.06, 1.09)], 0),  # never 50 ms on end
        ([(1.0, 1.1), (1.25, 1.35)], 1),  # deep for 0.15 s only: the same event
        ([(1.0, 1.1), (1.45, 1.55)], 2),
        ([(1.0, 3.0)], 1),
    ],
)
def test_foil_out_is_a_tip_under_half_a_chord_for_50_ms_and_ends_after_a_while_deeper(
    spans: list[tuple[float, float]], outs: int
) -> None:
    watch = Watch(tip=during(*spans, inside=HALF_CHORD - 1e-4, outside=HALF_CHORD + 1e-4)).run(4.0)
    assert watch.count("foil_outs") == pytest.approx(outs)
    assert watch.count("broaches") == pytest.approx(outs)
    assert watch["submergence_least"] == pytest.approx(HALF_CHORD - 1e-4)
    assert Watch(tip=HALF_CHORD + 1e-4).run(2.0).count("foil_outs") == 0.0


def test_a_broach_is_a_foil_out_or_ventilated_counted_once() -> None:
    out = during((1.0, 1.5), (5.0, 5.5), inside=0.0, outside=0.1)
    air = during((1.2, 3.0), (7.0, 7.1), inside=1.0, outside=0.0)
    watch = Watch(tip=out, air=air).run(9.0)
    assert watch.count("ventilations") == pytest.approx(2)
    assert watch.count("foil_outs") == pytest.approx(2)
    assert watch.count("broaches") == pytest.approx(3)


def test_time_outside_the_window() -> None:
    """Keel under a centimetre clear for 0.4 s, a tip under one chord for 0.6 s, both at once for 0.2 s of it."""
    low = during((1.0, 1.4), inside=-0.009, outside=-0.011)
    shallow = during((1.2, 1.8), inside=2 * HALF_CHORD - 1e-4, outside=2 * HALF_CHORD + 1e-4)
    assert Watch(keel=low, tip=shallow).run(4.0)["outside_window"] == pytest.approx(0.8 / 4.0)


def test_servos() -> None:
    travel = courier().servos.travel
    watch = Watch(
        servo=during((0.0, 1.0), inside=-travel, outside=0.9 * travel), servo_speed=lambda t: 0.3 * (-1) ** round(t)
    ).run(4.0)
    assert watch["servo_travel"] == pytest.approx(0.3)
    assert watch["servo_at_limit"] == pytest.approx(0.25)


# Attitude and course


@pytest.mark.parametrize(
    ("name", "angle", "status"),
    [("roll", 34.9, 0), ("roll", 35.1, 1), ("roll", -35.1, 1), ("pitch", 44.9, 0), ("pitch", 45.1, 1), ("pitch", -45.1, 1)],
)
def test_an_upset_ends_the_flight(name: str, angle: float, status: int) -> None:
    watch = Watch(**{name: during((1.0, 9.0), inside=radians(angle), outside=0.0)}).run(3.0)
    assert watch.status == status
    assert watch["upsets"] == float(status == 1)
    assert watch.flying == (0 if status else LANES)
    assert watch["time_flown"] == pytest.approx(1.01 if status else 3.0)


@pytest.mark.parametrize(("length", "status"), [(0.45, 0), (0.6, 2)])
def test_a_deck_under_water_for_half_a_second_ends_the_flight(length: float, status: int) -> None:
    watch = Watch(keel=during((1.0, 1.0 + length), inside=0.121, outside=0.0)).run(3.0)
    assert watch.status == status
    assert watch["upsets"] == float(status == 2)  # going under counts with the upsets
    assert Watch(keel=0.119).run(2.0).status == 0


def test_an_upset_before_the_scored_time_counts_and_gives_no_means() -> None:
    watch = Watch(settle=3.0, roll=during((1.0, 9.0), inside=1.0, outside=0.0)).run(5.0)
    assert watch["upsets"] == 1.0
    assert watch["time_flown"] == 0.0
    assert all(
        np.isnan(watch[name]) for name in ("ride_height_error", "speed_mean", "touchdowns", "roll_peak", "clearance_p01")
    )


@pytest.mark.parametrize(
    ("heading", "rudder", "lost"),
    [
        ([(1.0, 2.0)], [], 1),
        ([(1.0, 2.0), (3.0, 4.0)], [], 2),
        ([], [(1.0, 1.45)], 0),
        ([], [(1.0, 1.6)], 1),
        ([(1.0, 2.0)], [(1.5, 2.5)], 1),  # one loss, by both
    ],
)
def test_heading_is_lost_past_20_degrees_or_with_the_rudder_at_its_limit(
    heading: list[tuple[float, float]], rudder: list[tuple[float, float]], lost: int
) -> None:
    off = during(*heading, inside=radians(-20.1), outside=radians(19.9))
    watch = Watch(heading=off, rudder=during(*rudder, inside=-radians(10.0), outside=0.1)).run(5.0)
    assert watch.count("headings_lost") == pytest.approx(lost)


# Means, percentiles


def test_means_are_those_of_numpy() -> None:
    draws = np.random.default_rng(5)
    values = {name: draws.normal(0.0, 0.02, 400) for name in ("height", "surface", "roll", "pitch")}
    watch = Watch(
        height=lambda t: RIDE + 0.004 + values["height"][round(t / STEP)],
        surface=lambda t: values["surface"][round(t / STEP)],
        roll=lambda t: values["roll"][round(t / STEP)],
        pitch=lambda t: 0.05 + values["pitch"][round(t / STEP)],
        power=lambda t: 30.0 + t,
        speed=3.5,
        settle=1.0,
    ).run(4.0)
    height, surface, roll, pitch = (values[name][100:] for name in ("height", "surface", "roll", "pitch"))
    level = 0.004 + height
    error = level - surface
    wanted = {
        "ride_height_error": np.sqrt(np.mean(error**2)),
        "ride_height_bias": error.mean(),
        "ride_height_deviation": error.std(),
        "level_height_error": np.sqrt(np.mean(level**2)),
        "level_height_bias": level.mean(),
        "level_height_deviation": level.std(),
        "roll_rms": np.sqrt(np.mean(roll**2)),
        "roll_peak": np.abs(roll).max(),
        "pitch_rms": pitch.std(),
        "power_mean": np.mean(30.0 + np.arange(100, 400) * STEP),
        "power_peak": 30.0 + 3.99,
        "speed_mean": 3.5,
        "time_flown": 3.0,
        "encounters": float(np.sum((surface[:-1] < 0.0) & (surface[1:] >= 0.0))),
    }
    found = {name: watch[name] for name in wanted}
    if surface[0] >= 0.0 > values["surface"][99]:
        wanted["encounters"] += 1.0
    assert found == pytest.approx(wanted, rel=1e-9, abs=1e-9)
    energy = np.sum(30.0 + np.arange(100, 400) * STEP) * STEP / (300 * STEP * 3.5)
    assert watch["energy_per_metre"] == pytest.approx(energy, rel=1e-9)


def test_percentiles_are_those_of_numpy_within_a_bin() -> None:
    """Bins of half a millimetre."""
    draws = np.random.default_rng(6)
    n = 3000
    keel, tip = draws.normal(-0.06, 0.03, n), draws.normal(0.08, 0.03, n)
    height, surface = draws.normal(RIDE, 0.03, n), draws.normal(0.0, 0.02, n)
    watch = Watch(
        keel=lambda t: keel[round(t / STEP)],
        tip=lambda t: tip[round(t / STEP)],
        height=lambda t: height[round(t / STEP)],
        surface=lambda t: surface[round(t / STEP)],
    ).run(n * STEP)
    assert watch["time_foilborne"] == pytest.approx(n * STEP)
    wanted = {
        "clearance_p01": np.percentile(-keel, 1.0),
        "submergence_p01": np.percentile(np.minimum(tip, 0.15), 1.0),
        "ride_height_error_p99": np.percentile(np.abs(height - RIDE - surface), 99.0),
        "level_height_error_p99": np.percentile(np.abs(height - RIDE), 99.0),
    }
    for name, value in wanted.items():
        assert watch[name] == pytest.approx(value, abs=1e-3), name
    assert watch["clearance_least"] == pytest.approx(-keel.max(), abs=1e-12)
    assert watch["submergence_least"] == pytest.approx(tip.min(), abs=1e-12)


def test_vertical_acceleration_is_that_of_the_centre_of_gravity() -> None:
    """d/dt (R V) = R (V' + omega x V), its vertical part, root mean square."""
    watch = Watch(roll=0.3, pitch=-0.2, heading=0.5)
    velocity, omega, change = np.array([4.0, -0.5, 0.3]), np.array([0.5, -1.0, 2.0]), np.array([0.2, 1.0, -3.0])
    watch.bench.put(at.MID.u, [*velocity, *omega])
    watch.bench.put(at.RATE.u, [*change, 0.0, 0.0, 0.0])
    felt = (rotation(0.3, -0.2, 0.5) @ (change + np.cross(omega, velocity)))[2]
    assert watch.run(1.0)["vertical_acceleration"] == pytest.approx(abs(felt), rel=1e-8)


def test_encounters_of_a_wave_train() -> None:
    """1.7 waves a second for 10 s."""
    watch = Watch(surface=lambda t: 0.02 * sin(2 * pi * 1.7 * t - 1.0), settle=1.0).run(11.0)
    assert watch["encounters"] == pytest.approx(17.0, abs=1.0)


def test_readings_are_counted_from_the_scored_time_on() -> None:
    """Three a second in all, over 2 s of settling and 4 s scored; the blind ones from the first second alone."""
    watch = Watch(faults=lambda t: np.floor(3.0 * t), blind=lambda t: min(np.floor(5.0 * t), 5.0), settle=2.0).run(6.0)
    assert watch["rangefinder_faults"] == pytest.approx(3.0, abs=0.3)
    assert watch["blind_readings"] == 0.0


# Scales, lanes


def test_times_of_events_scale_with_the_root_of_the_length() -> None:
    """A hull four times as long: its touch lasts twice as long to be the same touch, and bins are four times as wide."""
    long = changed(courier(), {"hulls.main.length": 3.6})
    spans = [(1.0, 1.2), (1.6, 1.8)]  # dry for 0.4 s: two touches of the short hull, one of the long one
    for craft, touchdowns in ((courier(), 2), (long, 1)):
        watch = Watch(
            craft, lowest=during(*spans, inside=0.001, outside=-0.05), load=during(*spans, inside=0.1, outside=0.0)
        ).run(4.0)
        assert watch.count("touchdowns") == pytest.approx(touchdowns)
    lost = Watch(long, load=during((1.0, 2.5), inside=0.6, outside=0.0)).run(6.0)
    assert lost["lost_flights"] == 0.0
    out = Watch(long, tip=during((1.0, 1.08), inside=0.0, outside=0.1)).run(3.0)
    assert out.count("foil_outs") == 0.0
    high = Watch(long, keel=-0.25).run(1.0)  # past the last bin of the short hull
    assert high["clearance_p01"] == pytest.approx(0.25, abs=2e-3)


def test_a_p01_is_never_under_the_least_of_a_tall_craft() -> None:
    """Two feet of strut under a short hull: heights past the last bin must not pull the percentile down."""
    tall = Watch(keel=-0.30, tip=0.15).run(1.0)
    assert tall["clearance_p01"] >= tall["clearance_least"] - 1e-3


def test_only_the_lane_whose_numbers_ran_away_is_lost() -> None:
    """Not-a-number: a status, no responses, and neighbours that notice nothing."""
    alone = Watch().run(2.0).table()[0]
    sick = np.ones(LANES)
    sick[3] = 0.0
    watch = Watch(alive=during((0.0, 1.0), inside=1.0, outside=0.0))
    watch.stories["alive"] = lambda t: np.where(t >= 1.0, sick, 1.0)
    watch.run(1.0)
    watch.bench.slots[at.BROKEN, 3] = 1.0
    watch.run(1.0)
    table = watch.table()
    assert watch.bench.lanes.sums[3, SUM.status] == 4.0
    assert watch.flying == LANES - 1
    assert np.isnan(table[3]).all()
    for lane in (2, 4):
        assert watch.bench.lanes.sums[lane, SUM.status] == 0.0
        assert np.array_equal(table[lane], alone, equal_nan=True)


def test_nothing_is_infinite_when_the_flight_was_lost_before_it_was_scored() -> None:
    """Hullborne through all scored time, off its course: rates over no foilborne time are not numbers, never infinite."""
    watch = Watch(
        settle=2.0,
        load=1.0,
        keel=0.03,
        tip=during((3.0, 3.2), inside=0.0, outside=0.1),
        heading=lambda t: 0.5 if t > 3.0 else 0.0,
    )
    table = watch.run(5.0).table()
    assert watch["time_foilborne"] == 0.0
    assert not np.isinf(table).any(), [RESPONSE_NAMES[i] for i in np.flatnonzero(np.isinf(table[0]))]


def test_the_stories_are_what_the_observer_reads() -> None:
    """Of this file's own tools: at rest in the water level the means are what was told."""
    watch = Watch(height=lambda t: RIDE + 0.010, pitch=0.1).run(1.0)
    assert watch["level_height_bias"] == pytest.approx(0.010, abs=1e-9)
    assert watch["ride_height_bias"] == pytest.approx(0.010, abs=1e-9)
    assert cos(0.1) < 1.0
