"""A builder's own code for the boat's board: its text as it flew, the header, and every number of the design."""

from __future__ import annotations

from string import Template
from typing import TYPE_CHECKING

from sweep.campaign.draws import water_of
from sweep.campaign.text.problems import ChoiceError
from sweep.export.compose import PARTS
from sweep.export.settings import NoTrimError, Trim, c_number, law_of
from sweep.model.compiled import LANES
from sweep.model.flight import start_lanes
from sweep.model.pack.fleet import build_fleets
from sweep.own.source import C, fields, header, numbers, sizes_header

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


def board_files(campaign: Campaign, craft: Craft, name: str) -> dict[str, str]:
    """The text of every file, by its name; name: of the design. Nothing of the code is compiled or run.

    Raises ChoiceError for a design that does not fly.
    """
    try:
        trims = law_of(craft, water_of(campaign), campaign.speeds).trims
    except NoTrimError:
        raise ChoiceError(f"{name}: no code, for it flies level at none of the speeds of this campaign") from None
    ((_, fleet),) = build_fleets([craft], water_of(campaign), trims[0].speed)
    sizes = fleet.structure.own
    assert sizes is not None
    values = numbers(sizes, start_lanes(fleet).workspace.reshape(-1, LANES), fleet.structure.period)[0]
    file = craft.control.code or ""
    return {
        "README.md": _readme(name, craft, trims),
        "control.h": header(sizes),
        "sizes.h": sizes_header(sizes, len(trims)),
        "settings.c": _settings(dict(zip(fields(sizes), values.tolist(), strict=True)), trims),
        file: craft.codes[file],
    }


def _settings(values: dict[str, float], trims: list[Trim]) -> str:
    """The text of settings.c."""
    rows = [f"    .{name} = {c_number(value)}," for name, value in values.items()]
    each = [
        f"        {{.speed = {c_number(trim.speed)}, .height = {c_number(trim.height)}, .pitch = {c_number(trim.pitch)}, "
        f".throttle = {c_number(trim.throttle)}}},"
        for trim in trims
    ]
    head = "/* Every number that the code was flown with, in SI; what each is, control.h says. */"
    begin = [head, '#include "control.h"', "", "const struct control_settings SETTINGS = {"]
    return "\n".join([*begin, *rows, "    .trims = {", *each, "    },", "};", ""])


def _readme(name: str, craft: Craft, trims: list[Trim]) -> str:
    """The cautions are those of every design's code."""
    shipped = (PARTS / "README.md").read_text(encoding="utf-8")
    hurts = shipped[shipped.index("## What can hurt") : shipped.index("## The safe state")].strip()
    text = Template((C / "README.md").read_text(encoding="utf-8"))
    told = [f"`{setting}`" for setting in craft.control.settings]
    return text.substitute(
        name=name,
        file=craft.control.code,
        hurts=hurts,
        settings=f"numbers of its own ({', '.join(told)}) and " if told else "",
        speeds=", ".join(f"{trim.speed:g}" for trim in trims),
        rate=f"{craft.control.rate:g}",
        delay=f"{1000.0 * craft.control.delay:g}",
    )
