"""Whether the builder's own code may run: only what was named on the command line, or in `run(...)`, does."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from sweep.campaign.designs import crafts_of, lay_out
from sweep.campaign.draws import water_of
from sweep.campaign.text.problems import ChoiceError
from sweep.model.compiled import LANES
from sweep.model.flight import start_lanes
from sweep.model.onboard.choices import LAWS
from sweep.model.onboard.own import Sizes
from sweep.model.pack.control import code_digest
from sweep.model.pack.fleet import fleets_at, pack_crafts
from sweep.own.compiling import OwnCodeError, library
from sweep.own.trial import try_out
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.model.pack.fleet import Fleet

WORD = "--run-code"
_ALLOWED: dict[str, tuple[str, str]] = {}
"""Name and text of code that may run in this process's children, by the digest of its text."""


def flies_own_code(campaign: Campaign) -> bool:
    """Whether any design of a campaign flies with code of its own."""
    laws = [level for factor in campaign.factors.values() if "control.law" in factor.addresses for level in factor.levels]
    return bool(campaign.craft.codes) and (campaign.craft.control.traits.own or any(LAWS[str(level)].own for level in laws))


def told(campaign: Campaign) -> list[str]:
    """A sentence for `check`: what would be compiled and run, and that it has not been."""
    if not flies_own_code(campaign):
        return []
    sizes = ", ".join(f"{name} ({len(text.splitlines())} lines)" for name, text in campaign.craft.codes.items())
    return [
        f"Own code: {sizes}. It is a program: 'foilsweep run' compiles and runs it only with {WORD}, and nothing of it was "
        "compiled or run now. Read it first if it is not yours."
    ]


def refuse_unasked(campaign: Campaign) -> None:
    """Raises ChoiceError if a campaign flies with code that was not asked to run."""
    unasked = [name for name, text in campaign.craft.codes.items() if code_digest(text) not in _ALLOWED]
    if flies_own_code(campaign) and unasked:
        raise ChoiceError(
            f"{listed(unasked, 'and')}: this campaign flies with code of its own, a program that would run on this computer. "
            f"Nothing of it was compiled or run. Read it; if you trust it, the same command with {WORD} runs it."
        )


def run_code(campaign: Campaign) -> None:
    """Let the code of a campaign run in this process's children: compile it, look it over and try it.

    Raises ChoiceError if it cannot fly, with the reasons.
    """
    if not flies_own_code(campaign):
        return
    allow(campaign.craft.codes)
    try:
        for fleet in _kinds(campaign):
            prepare(fleet)
    except OwnCodeError as error:
        raise ChoiceError(str(error)) from None


def allow(codes: Mapping[str, str]) -> None:
    """Allow the code of these files, by name and text, in this process."""
    _ALLOWED.update({code_digest(text): (name, text) for name, text in codes.items()})


def named(sizes: Sizes) -> tuple[str, str]:
    """Name and text of code that may run. Raises ChoiceError for any other."""
    if sizes.code not in _ALLOWED:
        raise ChoiceError(
            f"The law of this craft is code of its own, which was not asked to run: {WORD} does, on the command line."
        )
    return _ALLOWED[sizes.code]


def prepare(fleet: Fleet) -> None:
    """Compile, look over and try the code of a fleet, whose flights may then begin. Raises OwnCodeError, ChoiceError."""
    sizes = fleet.structure.own
    assert sizes is not None
    name, text = named(sizes)
    library(sizes, text, name)
    first = start_lanes(fleet.part(0, 1)).workspace.reshape(-1, LANES)[:, 0]
    try_out(sizes, text, name, np.ascontiguousarray(first).tobytes(), fleet.structure.period)


def _kinds(campaign: Campaign) -> list[Fleet]:
    """A fleet for each `Sizes` among the designs, at the first speed."""
    found: dict[Sizes, Fleet] = {}
    for craft in crafts_of(campaign, lay_out(campaign)):
        if craft.control.traits.own:
            from sweep.model.pack.control import own_sizes

            if own_sizes(craft) not in found:
                ((_, fleet),) = fleets_at(pack_crafts([craft], water_of(campaign)), campaign.speeds[0])
                found[own_sizes(craft)] = fleet
    return list(found.values())
