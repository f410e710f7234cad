"""What it takes to fly a campaign again elsewhere: its files, the craft file of each leading design, and the commands."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from sweep.campaign.plan import Search
from sweep.words.units import in_unit

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.factors import Factor
    from sweep.report.embed import Files
    from sweep.results.store import Results

DIGITS = 12
"""Of a number in a craft file that is written: so many that the craft is the one that flew."""


class CampaignFile(NamedTuple):
    """A file that the campaign was read from."""

    id: str
    title: str
    summary: str
    text: str


class Again(NamedTuple):
    """How to fly it again.

    place: where the craft file belongs, as the campaign names it, '' where the craft stands in the campaign; commands: to be
    typed; note: what else is needed.
    """

    place: str
    commands: list[str]
    note: str


def again_of(results: Results) -> Again:
    """The commands that fly the campaign, and its first recorded design by itself."""
    campaign = results.campaign
    name = f"{campaign.name}.yaml"
    design = next((number for number in results.leaders if number), 0)
    of = "the results folder" if isinstance(campaign.plan, Search) else name
    commands = [f"foilsweep run {_quoted(name)}"]
    if len(results.conditions):
        condition = _quoted(str(results.conditions["name"].iloc[0]))
        commands.append(f"foilsweep fly {_quoted(of)} --design {design} --condition {condition}")
    others = [*campaign.polar_texts, *campaign.drawn_texts, *(["the list of designs"] if campaign.listed_text else [])]
    needs = f" It also needs {', '.join(others)}, shown below, under the names that it gives them." if others else ""
    search = " A search numbers its designs as it goes: the second command takes the folder that the first one wrote."
    note = f"The same version gives the same flights.{needs}{search if isinstance(campaign.plan, Search) else ''}"
    return Again(_craft_place(campaign), commands, note)


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text


def _craft_place(campaign: Campaign) -> str:
    """Where the campaign says that its craft file is, in relation to it."""
    if not campaign.craft_text:
        return ""
    written = YAML(typ="safe", pure=True).load(campaign.campaign_text)
    craft = written.get("craft") if isinstance(written, dict) else None
    return craft if isinstance(craft, str) else ""


def texts_of(campaign: Campaign) -> list[CampaignFile]:
    """The files that the campaign was read from."""
    files = {
        "The campaign file": campaign.campaign_text,
        "The craft file": campaign.craft_text,
        "The list of designs": campaign.listed_text,
        **{f"The polar {name}": text for name, text in campaign.polar_texts.items()},
    }
    return [
        CampaignFile(f"file-{at}", title, f"Its {len(text.splitlines())} lines, as flown", text)
        for at, (title, text) in enumerate(((title, text) for title, text in files.items() if text), 1)
    ]


def files_of(results: Results) -> Files:
    """The campaign, its craft file, and one of each leading design, by their path in the site."""
    campaign = results.campaign
    files = {"data/campaign.yaml": campaign.campaign_text, "data/craft.yaml": campaign.craft_text}
    crafts = {f"data/craft-{design}.yaml": craft_file(results, design) for design in results.leaders}
    return {name: text for name, text in {**files, **crafts}.items() if text}


def craft_file(results: Results, design: int) -> str:
    """The campaign's craft file with what a design has of each factor; '' where the craft stands in the campaign file.

    Comments stay. Raises nothing: an address that the file leaves out is added, and '' is told of a text that cannot be read.
    """
    campaign = results.campaign
    if not campaign.craft_text:
        return ""
    yaml = YAML()
    yaml.width = 4096
    yaml.preserve_quotes = True
    try:
        tree = yaml.load(campaign.craft_text)
    except YAMLError:
        return ""
    for label, factor in campaign.factors.items() if design else ():
        value = results.designs.loc[design, label]
        for address in factor.addresses:
            *path, last = address.split(".")
            group = tree
            for step in path:
                if not isinstance(group.get(step), dict):
                    group[step] = {}
                group = group[step]
            group[last] = _written(factor, value)
    text = io.StringIO()
    yaml.dump(tree, text)
    head = f"# Design {design} of {campaign.name}." if design else f"# The base craft of {campaign.name}, design 0."
    return f"{head}\n{text.getvalue()}"


def _written(factor: Factor, value: object) -> str | int | float:
    if isinstance(value, str):
        return value
    number = float(value) if isinstance(value, int | float | np.number) else float("nan")
    if factor.unit:
        return f"{in_unit(number, factor.unit):.{DIGITS}g} {factor.unit}"
    return int(number) if number.is_integer() else float(f"{number:.{DIGITS}g}")
