"""What a campaign would take, before it is flown; and whether its base craft can fly at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import joblib
import numpy as np

from sweep.conditions import list_conditions
from sweep.designs import lay_out
from sweep.flights import measure_pace, warm_up, water_of
from sweep.model import layout as at
from sweep.model.fleet import Fleet, build_fleets
from sweep.model.mass import mass_properties, price
from sweep.model.quantities import RESPONSE_NAMES
from sweep.progress import duration
from sweep.wording import number

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

GRAVITY = 9.81


def preview(campaign: Campaign) -> list[str]:
    """Sentences: designs, conditions, flights, expected time and disk, the base craft's trim, the campaign's own warnings."""
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    flights = len(designs) * len(conditions) * campaign.replicates
    simulated = flights * campaign.flight.length
    warm_up(campaign, designs, conditions)
    return [
        campaign.title,
        f"{_many(len(designs), 'design')} (0 is the base craft), {_many(len(conditions), 'condition')}, "
        f"{_many(campaign.replicates, 'replicate')}: {_many(flights, 'flight')} of {number(campaign.flight.length)} s, "
        f"{duration(simulated)} in all.",
        _expected(measure_pace(campaign, designs, conditions), simulated, flights),
        *_base_craft(campaign),
        *(f"Caution: {warning}." for warning in campaign.warnings),
    ]


def _many(count: int, noun: str) -> str:
    return f"{count:,} {noun}{'' if count == 1 else 's'}".replace(",", " ")


def _expected(pace: float, simulated: float, flights: int) -> str:
    """Time and disk: the time from a few short flights, the disk from the size of the numbers, which hardly compress."""
    disk = f"about {number(flights * len(RESPONSE_NAMES) * 8 / 1e6, 2)} MB of flights"
    workers = joblib.cpu_count()
    if not math.isfinite(pace):
        return f"How long it takes is not known, since none of the first designs has a trim; {disk}."
    taken = duration(max(simulated / (pace * workers), 1.0))
    return f"About {taken} on {_many(workers, 'processor')} ({pace:.0f} x real time each); {disk}."


def _base_craft(campaign: Campaign) -> list[str]:
    craft = campaign.craft
    mass = mass_properties(craft).mass
    loading = mass * GRAVITY / sum(foil.area for foil in craft.foils.values())
    cost = f", price {number(price(craft))}" if price(craft) else ""
    first = f"Base craft {craft.name}: {number(mass)} kg, {number(loading)} N/m^2 on its foils{cost}."
    return [first, *(_trim(campaign, speed) for speed in sorted(set(campaign.speeds)))]


def _trim(campaign: Campaign, speed: float) -> str:
    ((_, fleet),) = build_fleets([campaign.craft], water_of(campaign), speed)
    if not fleet.feasible[0]:
        return f"At {number(speed)} m/s it has no trim within foil travel and thrust."
    angles = zip(campaign.craft.foils, foil_angles(fleet), strict=True)
    foils = ", ".join(f"{name} {math.degrees(angle):.1f}" for name, angle in angles)
    return f"At {number(speed)} m/s it trims with its foils at {foils} deg and {100.0 * fleet.trim[0, 2]:.0f} % throttle."


def foil_angles(fleet: Fleet) -> Sequence[float]:
    """Trimmed angle of each foil of the first design, rad."""
    mixes = [at.FOIL + foil * at.FOIL_STRIDE + at.MIX for foil in range(fleet.structure.foils)]
    return [float(np.dot(fleet.parameters[0, mix : mix + 2], fleet.trim[0, :2])) for mix in mixes]
