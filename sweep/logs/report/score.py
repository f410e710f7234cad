"""Foretold beside measured: the settings that the replay found, flown by the model in the seas of the passes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sweep.campaign.addresses import replace_values
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.logs.compare.expect import Expected, expect
from sweep.logs.compare.foretold import Kept, Met, foretold, read_score, score_text, with_score
from sweep.logs.law.day import SetupLaw
from sweep.logs.report.day import COMPARED, Day, SetupComparison, group_of, passes_of
from sweep.logs.report.sentences import interval, named
from sweep.logs.sea.measure import MEASURE
from sweep.logs.sea.sea_state import Estimate
from sweep.results.plain_files import write_whole
from sweep.words.numbers import count

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

FORETOLD = tuple(name for name in COMPARED if name != "witness_error")


def foretold_day(
    day: Day, compared: dict[str, SetupComparison], laws: Sequence[SetupLaw], on: str, progress: Callable[[int], None]
) -> tuple[list[Kept], list[str]]:
    """The comparisons of a day, foretold and measured, and why others are not foretold. on: the day, for the score."""
    flew = {law.setup: law for law in laws}
    kept: list[Kept] = []
    untold: list[str] = []
    known: dict[str, list[Expected]] = {}
    for second, comparison in compared.items():
        why = _why_not(flew, day.setups[0], second)
        if why:
            untold.append(f"What the model foretells of {named(second)} is not known: {why}.")
            continue
        met = _met(day, comparison)
        for setup in (day.setups[0], second):
            if setup not in known:
                craft = as_flown(day.mapping.craft, flew[setup])
                known[setup] = _expected(day, comparison, craft, progress)
        for name in FORETOLD:
            if (split := comparison.splits.get(name)) is not None:
                model = foretold(known[day.setups[0]], known[second], met, name)
                kept.append(
                    Kept(on, day.mapping.title, day.mapping.craft.name, day.setups[0], second, name, model, split.relative)
                )
    return kept, untold


def _why_not(flew: dict[str, SetupLaw], first: str, second: str) -> str:
    laws = [flew[setup].law for setup in (first, second)]
    if any(law is None or law.why for law in laws):
        return "the logs do not tell which settings flew (log law says why)"
    if any(min(law.signs) < 0 for law in laws if law is not None):
        return "a foil's sign is turned (log law says which)"
    if not any(law.differing for law in laws if law is not None):
        return "the same settings flew with both, as far as the logs tell; what else was changed is not in them"
    return ""


def as_flown(craft: Craft, found: SetupLaw) -> Craft:
    """The craft with the settings that surely flew in place of the craft file's."""
    differing = found.law.differing if found.law is not None else ()
    return replace_values(craft, {each.setting.address: max(each.value, each.setting.least) for each in differing})


def _met(day: Day, comparison: SetupComparison) -> list[Met]:
    return [Met(sea.height.value, sea.period.value, group_of(run, comparison.groups)) for run, sea in passes_of(day)[0]]


def _expected(day: Day, comparison: SetupComparison, craft: Craft, progress: Callable[[int], None]) -> list[Expected]:
    """Of every group of passes; of the craft file's own craft they are known."""
    if craft == day.mapping.craft:
        return [group.expected for group in comparison.groups]
    water = day.mapping.water.for_model()
    seas = [
        [sea.spectrum for run, sea in passes_of(day)[0] if group_of(run, comparison.groups) == number]
        for number in range(len(comparison.groups))
    ]
    return [
        expect(craft, water, group.case, some, progress=progress) for group, some in zip(comparison.groups, seas, strict=True)
    ]


def foretold_sentences(kept: Sequence[Kept]) -> list[str]:
    """'The model foretold +30 % (25 to 35), the water showed +40 % (20 to 60)', a line each."""
    said = []
    for each in kept:
        model, water = (interval(_percent(change), 1.0, "%") for change in (each.foretold, each.measured))
        verdict = "chance may part them" if each.agrees else "that is more than chance: the model lacks something here"
        said.append(
            f"{MEASURE[each.measure].title}, {named(each.second)} against {named(each.first)}: the model foretold {model}, the "
            f"water showed {water}; {verdict}."
        )
    return said


def _percent(change: Estimate) -> Estimate:
    return Estimate(*(100.0 * value for value in change))


def keep_score(path: Path, new: Sequence[Kept], craft: str) -> list[str]:
    """Write a day's comparisons into a score, and say how the model has done so far with this craft.

    Raises CampaignError if the file is no score.
    """
    whole = with_score(read_score(path), new)
    write_whole(path, score_text(whole).encode())
    ours = [each for each in whole if each.craft == craft]
    if not ours:
        return [f"{path} has no comparison of {craft} yet."]
    days = len({(each.day, each.title) for each in ours})
    met = sum(each.agrees for each in ours)
    said = [
        f"{path}: over {count(days, 'day', 'days')}, {met} of {count(len(ours), 'comparison', 'comparisons')} agree with what "
        f"the model foretold, by intervals of {CONFIDENCE_SAID}."
    ]
    others = sorted({each.craft for each in whole} - {craft})
    return said + ([f"It also has other crafts, which are not counted: {', '.join(others)}."] if others else [])
