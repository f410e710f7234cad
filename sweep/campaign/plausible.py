"""Sizes and steps that no small boat has: allowed, but with a caution, for units are easily mistaken."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor, at_the_ends, ends
from sweep.campaign.named_seas import NamedSea
from sweep.model.onboard.safety import MOST_RANGE_AGE
from sweep.words.units import quantity

WIDEST, LONGEST = 2.0, 1.5
"""Span of a foil, and height of a strut, in lengths of the hull: boats of this kind stay well under one (common practice)."""

FAR = 100.0
"""Factor on the base craft's value, up or down: a range that goes so far is a slip (judgement)."""


def out_of_proportion(base: Craft, factors: Mapping[str, Factor]) -> tuple[str, ...]:
    """A sentence for everything of the base craft and at the ends of the factors that is far from what such boats have."""
    crafts = [("", base)]
    for label, factor in factors.items():
        crafts += [(f"{label}: ", craft) for craft in at_the_ends(base, [factor])]
    sizes = dict.fromkeys(f"{label}{said}" for label, craft in crafts for said in _sizes(craft))
    told = [*sizes, *(f"{label}: {said}" for label, factor in factors.items() for said in _steps(base, factor))]
    return tuple(f"{said}; see that its unit is right" for said in told)


def unfelt_wind(base: Craft, factors: Mapping[str, Factor], seas: tuple[NamedSea, ...]) -> tuple[str, ...]:
    """A sentence if a wind blows over calm water that no craft of the campaign feels."""
    windy = next((sea.name for sea in seas if not sea.has_waves and sea.wind > 0.0), None)
    crafts = [base, *at_the_ends(base, factors.values())]
    if windy is None or any(craft.windage.area > 0.0 for craft in crafts):
        return ()
    return (
        f"{windy}: the craft has no windage and feels nothing of this wind; windage: {{area: 200 cm^2}} says how much it has",
    )


def stale_readings(base: Craft, factors: Mapping[str, Factor]) -> tuple[str, ...]:
    """A sentence if a rangefinder in use is so slow that the control code stops the boat between its readings (M15.21)."""
    crafts = [("", base)] + [(f"{label}: ", craft) for label, one in factors.items() for craft in at_the_ends(base, [one])]
    apart = [(label, 1 / _slowest(craft)) for label, craft in crafts]
    return tuple(
        dict.fromkeys(
            f"{label}readings of a rangefinder come {quantity(time, 's')} apart; the control code stops the boat after "
            f"{MOST_RANGE_AGE:g} s without one"
            for label, time in apart
            if time > MOST_RANGE_AGE
        )
    )


def _slowest(craft: Craft) -> float:
    """Readings a second of the slowest rangefinder in use."""
    finders = craft.rangefinders
    return min(rate for rate, trust in zip(finders.own_rates(), finders.of_each("trust"), strict=True) if trust > 0.0)


def _sizes(craft: Craft) -> Iterator[str]:
    hull = max(each.length for each in craft.hulls.values())
    beside = f"on a hull of {quantity(hull, 'cm')}"
    wide = [(name, foil.span_length) for name, foil in craft.foils.items() if foil.span_length > WIDEST * hull]
    if wide:
        yield f"foil {wide[0][0]} has a span of {wide[0][1]:.3g} m {beside}"
    high = max(craft.strut_of(foil).height for foil in craft.foils.values())
    if high > LONGEST * hull:
        yield f"the struts are {high:.3g} m high {beside}"


def _steps(base: Craft, factor: Factor) -> Iterator[str]:
    has = 1.0 if factor.scaled else value_at(base, factor.addresses[0])
    if isinstance(has, bool) or not isinstance(has, int | float) or not has:
        return
    for end in ends(factor):
        if isinstance(end, float) and end and not 1 / FAR <= abs(end / has) <= FAR:
            times = abs(end / has)
            rounded = f"{float(f'{max(times, 1 / times):.2g}'):,.0f}".replace(",", " ")
            much = f"{rounded} times" if times > 1 else f"1/{rounded} of"
            yield f"{quantity(end, factor.unit)} is {much} what the base craft has, {quantity(has, factor.unit)}"
