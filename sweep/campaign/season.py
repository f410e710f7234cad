"""How often each condition occurs, so that a score is a season's."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from sweep.campaign.craft import Craft
from sweep.campaign.faults import named_faults
from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import Problem
from sweep.campaign.water import Case, Conditions, SeasonFile
from sweep.words.phrases import listed

GROUPS = ("seas", "headings", "faults")


def season_of(file: SeasonFile | None, entries: Iterable[str], met: Sequence[Case]) -> tuple[float, ...]:
    """How much each condition counts, 1 on average; nothing where all count alike. entries: the seas as the file names them."""
    if file is None:
        return ()
    of = {sea.name: _entry(sea.name, entries) for sea, *_ in met}
    directed = {sea.name: sea.directed for sea, *_ in met}
    shares = _shares({name: file.seas.get(entry, 1.0) for name, entry in of.items()}, of if file.seas else {})
    headings = _shares(file.headings or dict.fromkeys((heading.name for _, heading, *_ in met), 1.0), {})
    faults = _shares(file.faults or dict.fromkeys((fault.name for _, _, _, fault, _ in met), 1.0), {})
    counts = [
        shares[sea.name] * (headings[heading.name] if directed[sea.name] else 1.0) * faults[fault.name]
        for sea, heading, _, fault, _ in met
    ]
    return tuple(len(counts) * each / sum(counts) for each in counts)


def season_misfits(conditions: Conditions, craft: Craft, document: Document) -> Iterator[Problem]:
    """Mistakes: names of a season's group that are not those of the conditions, or not all of them."""
    file, headings = conditions.season, [each.name for each in conditions.headings]
    faults = [fault.name for fault in named_faults(conditions.faults, craft)]
    names = {"seas": [*conditions.seas], "headings": headings, "faults": faults}
    for group in GROUPS if file is not None else ():
        known, told = names[group], getattr(file, group)
        place = ("conditions", "season", group)
        for name in told:
            if name not in known:
                yield document.problem(
                    (*place, name), f"one of {listed(known)}", f"{name!r}, which none of the {group} is called"
                )
        if lacking := [name for name in known if told and name not in told]:
            yield document.problem(place, f"every one of the {group}: {listed(known, 'and')}", f"no {lacking[0]}")


def _entry(name: str, entries: Iterable[str]) -> str:
    """The file's entry of which a sea comes: its own name, or the longest that its name begins with."""
    return max((entry for entry in entries if name == entry or name.startswith(f"{entry} ")), key=len)


def _shares(counts: Mapping[str, float], of: Mapping[str, str]) -> dict[str, float]:
    """Counts as shares of their sum; names of one entry, `of`, share its count."""
    several = {name: sum(entry == of[name] for entry in of.values()) if of else 1 for name in counts}
    whole = sum(count / several[name] for name, count in counts.items())
    return {name: count / several[name] / whole for name, count in counts.items()}
