"""First runs: the setting for a boat's first time on the water, flown in the model before it is printed.

The search is for the lowest speed, and there the least share of all gains, with which the boat comes off flat water and stays
up. Then the ways from there to the gains of its file and to the speeds of the campaign are flown. A setting that upsets the
boat, or makes it touch down or a foil come out, is not recommended. The number of flights and the room on every side are
judgement.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.conditions import Condition
from sweep.campaign.draws import water_of
from sweep.campaign.named_seas import FlatSea, NamedSea
from sweep.campaign.water import NamedHeading
from sweep.flying.flights import fly_crafts
from sweep.linear.craft import linearise
from sweep.linear.reach import reach, trimmed
from sweep.linear.shares import TOGETHER, Scaled, gain_groups
from sweep.model.compiled import LANES
from sweep.model.quantities import AGROUND, FLEW, STOPPED

if TYPE_CHECKING:
    import pandas as pd

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

SHARES = (0.4, 0.5, 0.6, 0.7, 0.85, 1.0)
"""Shares of all gains that are tried (judgement)."""
SPEED_STEP, FIRST_SPEED, MOST_SPEEDS = 1.1, 1.04, 8
"""Speeds tried (judgement): from a little over take-off, each so many times the one before."""
TRIES, CONFIRMATIONS, MOST_CONFIRMED = 5, 24, 4
"""Flights of each setting that is tried; of one to be recommended; and how many of these are tried (judgement)."""
RESTING, FLYING = 1.0, 12.0
"""s: afloat before take-off, and after it (judgement); in flights from trim the first of them is not scored."""
SPEED_STEPS, MOST_STEPS = (0.5, 1.0, 2.0), 4
"""m/s, of the way to the campaign's fastest: the smallest that takes no more steps (judgement)."""

LOOPS = ("height", "pitch", "roll", "heading")
FLAT = FlatSea(name="flat water")
AHEAD = NamedHeading(name="head", angle=math.pi)


class RunTally(NamedTuple):
    """What a number of flights did; take_off: mean time from opening the throttle, s, NaN from trim.

    Of the upset flights, aground: how many touched the ground; stopped: how many their own code stopped.
    """

    flights: int
    upset: int
    touched: int
    broached: int
    stayed_down: int
    take_off: float = math.nan
    aground: int = 0
    stopped: int = 0

    @property
    def safe(self) -> bool:
        """Whether all came off the water and stayed up, no foil out."""
        return not (self.upset or self.broached or self.stayed_down)

    @property
    def clean(self) -> bool:
        """Whether the hull kept off the water as well."""
        return self.safe and not self.touched


class Setting(NamedTuple):
    """A share of all gains at a speed (m/s); slower: the next lower speed tried (NaN if none), and its flights, if any."""

    share: float
    speed: float
    slower: tuple[float, RunTally | None]


class FirstRuns(NamedTuple):
    """The setting to begin with, and its flights.

    craft: with the gains of the first run; rest, trim: flights of this setting on flat water; sea, waves: the campaign's
    mildest sea, if it has waves, and flights of this setting in it, heads on; shares: on the way to the gains of the file, at
    this speed, each flown `TRIES` times from rest; faster: speeds (m/s) on the way to the campaign's fastest, each with its
    flights.
    """

    craft: Craft
    setting: Setting
    rest: RunTally
    trim: RunTally
    sea: NamedSea | None
    waves: RunTally | None
    shares: tuple[float, ...] = ()
    faster: tuple[tuple[float, RunTally], ...] = ()

    @property
    def sound(self) -> tuple[float, ...]:
        """The speeds (m/s) from the first on, as long as every step was clean."""
        up_to = next((at for at, (_, tally) in enumerate(self.faster) if not tally.clean), len(self.faster))
        return (self.setting.speed, *(speed for speed, _ in self.faster[:up_to]))


class NoRuns(NamedTuple):
    """No setting works: the speeds (m/s) tried, and the setting that came nearest, if any was worth a flight.

    stopped: how many of all flights off flat water the boat's own code stopped.
    """

    speeds: tuple[float, ...]
    nearest: tuple[Setting, RunTally] | None
    stopped: int = 0


def first_runs(campaign: Campaign, craft: Craft) -> FirstRuns | NoRuns:
    """The first runs of a craft in the campaign's water, up to its fastest speed.

    It is the first setting that is clean in the mildest sea too, or else the first that is clean on flat water.
    """
    search, told = _Search(campaign, craft), None
    for setting in islice(search.settings(), MOST_CONFIRMED):
        found = search.confirm(setting)
        calm = found is not None and (found.waves is None or found.waves.clean)
        told = found if told is None or calm else told
        if calm:
            break
    if told is None:
        return NoRuns(tuple(search.speeds), search.nearest(), sum(tally.stopped for tally in search.tried.values()))
    return told._replace(faster=tuple(search.faster(told.setting.speed)))


def with_share(craft: Craft, share: float) -> Craft:
    """A craft with a share of all its gains."""
    gains = [address for loop in LOOPS for address in craft.control.gains_of(loop)]
    return replace_values(craft, {address: share * value_at(craft, address) for address in gains})


def mildest(campaign: Campaign) -> NamedSea | None:
    """The lowest of the campaign's seas, passing wakes left out; None without one."""
    endless = [sea for sea in campaign.seas if sea.is_steady and sea.systems == (sea,)]
    return min(endless, key=lambda sea: sea.height, default=None)


def tried_speeds(campaign: Campaign, craft: Craft) -> list[float]:
    """Speeds (m/s), rounded as they are printed, from a little over take-off to one step past the campaign's fastest."""
    found, top = reach(craft, water_of(campaign), campaign.speeds), max(campaign.speeds)
    speeds = [math.ceil(10.0 * FIRST_SPEED * found.low) / 10.0] if found else []
    while found and len(speeds) < MOST_SPEEDS and speeds[-1] <= top:
        speeds.append(round(max(speeds[-1] * SPEED_STEP, speeds[-1] + 0.1), 1))
    return [speed for speed in speeds if found and speed <= found.high]


def flown_changes(campaign: Campaign, crafts: Mapping[str, Craft], speeds: Sequence[float]) -> dict[str, RunTally]:
    """What changed crafts did on flat water, from trim, over some speeds (m/s) together, by name."""
    rows = _fly(campaign, list(crafts.values()), speeds, max(LANES // max(len(crafts), 1), 2), "flying")
    return {name: _tally(rows[rows["design"] == at]) for at, name in enumerate(crafts)}


class _Search:
    """The flights of a craft's first runs; tried: of shares at speeds (m/s), off flat water, without the unstable ones."""

    def __init__(self, campaign: Campaign, craft: Craft) -> None:
        self.campaign, self.craft = campaign, craft
        self.speeds = tried_speeds(campaign, craft)
        self.tried: dict[tuple[float, float], RunTally] = {}
        self.failed: list[tuple[Setting, RunTally]] = []

    def settings(self) -> Iterator[Setting]:
        """Settings that came off flat water and stayed up, with room around them: by speed, then by share, from the least on.

        This share and all larger ones are clean; the next smaller one, and this one at the next higher speed, are safe.
        Settings that are safe at the next lower speed too come first.
        """
        narrow = []
        for before, speed, after in zip([math.nan, *self.speeds], self.speeds, self.speeds[1:], strict=False):
            if math.isnan(before):
                self._try(speed)
            self._try(after)
            for smaller, share in pairwise(SHARES):
                larger = [self.tried.get((each, speed)) for each in SHARES if each >= share]
                room = [self.tried.get(each) for each in ((smaller, speed), (share, after))]
                if all(tally and tally.clean for tally in larger) and all(tally and tally.safe for tally in room):
                    slower = self.tried.get((share, before))
                    setting = Setting(share, speed, (before, slower))
                    if slower and slower.safe:
                        yield setting
                    else:
                        narrow.append(setting)
        yield from narrow

    def confirm(self, setting: Setting) -> FirstRuns | None:
        """A setting flown many times; None if not all flights on flat water are clean."""
        first, sea = with_share(self.craft, setting.share), mildest(self.campaign)
        flown: list[RunTally] = []
        for start in ("rest", "flying"):
            flown.append(self._fly(first, setting.speed, CONFIRMATIONS, start))
            if not flown[-1].clean:
                self.failed.append((setting, flown[-1]))
                return None
        shares, waves = tuple(each for each in SHARES if each > setting.share), None
        if sea is not None:
            waves = self._fly(first, setting.speed, CONFIRMATIONS, "flying", sea)
        return FirstRuns(first, setting, flown[0], flown[1], sea, waves, shares)

    def faster(self, first: float) -> Iterator[tuple[float, RunTally]]:
        """Flights with the gains of the file, speed by speed (m/s), up to the first at which the boat does not stay up."""
        way = max(self.campaign.speeds) - first
        step = next((each for each in SPEED_STEPS if way <= each * MOST_STEPS), way / MOST_STEPS)
        for at in range(math.ceil(way / step - 1e-6)):
            speed = min(round(first + (at + 1) * step, 1), max(self.campaign.speeds))
            tally = self._fly(self.craft, speed, LANES, "flying")
            yield speed, tally
            if not tally.clean:
                return

    def nearest(self) -> tuple[Setting, RunTally] | None:
        """The setting with the fewest flights upset, then broached or not off the water, then touched down."""

        def failures(each: tuple[Setting, RunTally]) -> tuple[int, int, int]:
            tally = each[1]
            return tally.upset, tally.broached + tally.stayed_down, tally.touched

        tried = [(Setting(share, speed, (math.nan, None)), tally) for (share, speed), tally in self.tried.items()]
        return min(self.failed or tried, key=failures, default=None)

    def _try(self, speed: float) -> None:
        """Fly every share at a speed (m/s), off flat water, if the craft is stable with all its gains."""
        (linear,) = linearise(trimmed(self.craft, water_of(self.campaign), speed))
        if linear is None:
            return
        stable = Scaled(linear, gain_groups(linear)[TOGETHER]).growth(np.array(SHARES)) < 0.0
        if stable[-1]:
            rows = _fly(self.campaign, [with_share(self.craft, share) for share in SHARES], [speed], TRIES, "rest")
            for at in np.flatnonzero(stable).tolist():
                self.tried[SHARES[at], speed] = _tally(rows[rows["design"] == at])

    def _fly(self, craft: Craft, speed: float, replicates: int, start: str, sea: NamedSea = FLAT) -> RunTally:
        return _tally(_fly(self.campaign, [craft], [speed], replicates, start, sea))


def _fly(
    campaign: Campaign, crafts: Sequence[Craft], speeds: Sequence[float], replicates: int, start: str, sea: NamedSea = FLAT
) -> pd.DataFrame:
    """Flights with the noise of every sensor, replicates that the campaign did not fly: rows as of `fly_crafts`."""
    times = {"start": start, "length": RESTING + FLYING, "settle": RESTING}
    short = campaign.model_copy(update={"flight": campaign.flight.model_copy(update=times)})
    conditions = [Condition(at, f"{speed:g}", sea, AHEAD, speed) for at, speed in enumerate(speeds)]
    fresh = range(campaign.replicates, campaign.replicates + replicates)
    return fly_crafts(short, crafts, conditions, fresh).assign(rests=start == "rest")


def _tally(rows: pd.DataFrame) -> RunTally:
    ended = rows["status"] != FLEW
    return RunTally(
        flights=len(rows),
        upset=int(ended.sum()),
        touched=int((rows["touchdowns"] > 0.0).sum()),
        broached=int((rows["broaches"] > 0.0).sum()),
        stayed_down=int((rows["rests"] & rows["take_off_time"].isna() & ~ended).sum()),
        take_off=float(rows["take_off_time"].mean()),
        aground=int((rows["status"] == AGROUND).sum()),
        stopped=int(rows["status"].isin(STOPPED).sum()),
    )
