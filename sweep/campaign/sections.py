"""The sections of a campaign's foils: which polars it names, what they overrule, and whether their data reach."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from sweep.campaign.addresses import leaves, matches
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor, at_the_ends
from sweep.campaign.faults import FaultFile
from sweep.campaign.polars import Named, Polar, read_polars
from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import Problem
from sweep.model.physics.section_nodes import SectionNodes
from sweep.words.phrases import listed

POLAR = ".section.polar"


def read_sections(
    craft: Craft, factors: Mapping[str, Factor], document: Document, craft_document: Document, folder: Path
) -> tuple[dict[str, Polar], list[Problem]]:
    """The polars that a craft and the factors name, the builder's own from the folder; and what is wrong with them."""
    return read_polars([*_of_the_craft(craft, craft_document), *_of_factors(factors, document)], folder)


def _of_the_craft(craft: Craft, document: Document) -> Iterator[Named]:
    for name, foil in craft.foils.items():
        if foil.section.polar is not None:
            yield Named(foil.section.polar, document.problem(("foils", name, "section", "polar"), ""))


def _of_factors(factors: Mapping[str, Factor], document: Document) -> Iterator[Named]:
    for label, factor in factors.items():
        if any(address.endswith(POLAR) for address in factor.addresses):
            below = () if isinstance(document.place(("factors", label)).node.value, tuple) else ("levels",)
            for place, level in enumerate(factor.levels):
                yield Named(str(level), document.problem(("factors", label, *below, place), ""))


def overruled(
    craft: Craft, factors: Mapping[str, Factor], faults: Sequence[FaultFile], document: Document
) -> Iterator[Problem]:
    """Mistakes: numbers of a section, or changes of them, that a polar overrules."""
    known = leaves(craft.model_dump())
    set_by = {address: label for label, factor in factors.items() for address in factor.addresses}
    for name, foil in craft.foils.items():
        factor = set_by.get(f"foils.{name}{POLAR}")
        if factor is not None and (numbers := _numbers(craft, name)):
            found = f"foils.{name}{POLAR}, while the craft file gives {listed(numbers, 'and')}"
            yield document.problem(("factors", factor), "a craft file without them: the polar decides them", found)
        if factor is None and foil.section.polar is None:
            continue
        wanted = "none of the numbers of a section with a polar, which decides them"
        for address, label in set_by.items():
            if _decided(address, name):
                yield document.problem(("factors", label), wanted, address)
        for place, fault in enumerate(faults):
            for pattern in fault.tolerance or {}:
                if any(_decided(address, name) for address in matches(pattern, known)):
                    yield document.problem(("conditions", "faults", place, "tolerance", pattern), wanted, repr(pattern))


def _numbers(craft: Craft, foil: str) -> list[str]:
    """The numbers of a foil's section in a craft file."""
    given = craft.foils[foil]
    return [*sorted(given.section.model_fields_set - {"polar"}), *({"zero_lift_angle"} & given.model_fields_set)]


def _decided(address: str, foil: str) -> bool:
    section = address.startswith(f"foils.{foil}.section.") and not address.endswith(POLAR)
    return section or address == f"foils.{foil}.zero_lift_angle"


def beyond(craft: Craft, factors: Mapping[str, Factor], speeds: Iterable[float], viscosity: float) -> tuple[str, ...]:
    """A sentence for every polar that some foil leaves at one of the speeds (m/s), whatever the factors; viscosity m2/s."""
    of_foils = [each for each in factors.values() if any(address.startswith("foils.") for address in each.addresses)]
    crafts = [craft, *at_the_ends(craft, of_foils)]
    slow, fast = min(speeds := tuple(speeds)), max(speeds)
    left: dict[str, list[tuple[str, float, float]]] = {}
    for name in craft.foils:
        foils = [each.foils[name] for each in crafts]
        low, high = (slow * min(foil.chord for foil in foils) / viscosity, fast * max(foil.chord for foil in foils) / viscosity)
        for polar in dict.fromkeys(foil.section.polar for foil in foils if foil.section.polar is not None):
            section = craft.polars[polar]
            if low < section.reynolds_low or high > section.reynolds_high:
                left.setdefault(polar, []).append((name, low, high))
    return tuple(_left(polar, craft.polars[polar], out) for polar, out in left.items())


def _left(polar: str, section: SectionNodes, out: Sequence[tuple[str, float, float]]) -> str:
    foils = listed((name for name, _, _ in out), "and")
    low, high = min(low for _, low, _ in out), max(high for _, _, high in out)
    covered, flown = _span(section.reynolds_low, section.reynolds_high), _span(low, high)
    return (
        f"the polar {polar} covers Reynolds numbers of {covered}; "
        f"foil{'s' * (len(out) > 1)} {foils} may fly at {flown}, and beyond its ends it stays as it is there"
    )


def _span(low: float, high: float) -> str:
    return f"{float(f'{low:.2g}'):,.0f} to {float(f'{high:.2g}'):,.0f}"
