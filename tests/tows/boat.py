"""The dinghy on T-foils as a campaign: flown in calm water by the functions that a run uses."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.draws import water_of
from sweep.flying.flights import fly_crafts
from sweep.linear.reach import reach

CLEAR = 0.05  # m under the keel as it takes off


@cache
def campaign() -> Campaign:
    """The campaign's file."""
    return load_campaign(Path(__file__).with_name("dinghy.yaml"))


def drag() -> float:
    """N, flown level: what pulls the boat has no losses, so it is the energy of a metre.

    Without wakes: the measured drag is that of its T-foils towed one by one, of which none feels another.
    """
    apart = replace_values(campaign().craft, {"wake.strength": 0.0})
    rows = fly_crafts(campaign(), [apart], list_conditions(campaign()), [0], workers=1)
    return float(rows["energy_per_metre"].iloc[0])


def take_off_speed() -> float:
    """The lowest speed (m/s) at which it trims with its keel just clear of the water."""
    low = replace_values(campaign().craft, {"control.ride_height": CLEAR})
    found = reach(low, water_of(campaign()), [condition.speed for condition in list_conditions(campaign())])
    assert found is not None
    return found.low
