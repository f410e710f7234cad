"""What flew beside the craft file, in words and a table."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.logs.law.day import SetupLaw
from sweep.logs.law.flew import Flew, Law
from sweep.logs.read.mapping import Mapping
from sweep.words.numbers import number, portion
from sweep.words.phrases import listed
from sweep.words.units import in_unit

LAW_HEADINGS = ("setting", "in the craft file", "as it flew", f"interval, {CONFIDENCE_SAID}", "")
HOLDS = (
    "The code works its height out when a reading comes and holds it until the next. The craft file's law levels the last "
    "reading anew at every tick: the settings here are those of the code that holds, and the model flies the other."
)
WHAT_IS_LEFT = (
    "A gain that flew is told beside the mixer and the places of the craft file: if these are wrong, the gains are. Trims are "
    "not compared."
)


def law_rows(law: Law) -> list[tuple[str, ...]]:
    """Setting, declared, flown, interval, verdict."""
    return [_row(each) for each in law.settings]


def _row(each: Flew) -> tuple[str, ...]:
    unit = each.setting.unit
    before, value, low, high = (
        f"{number(in_unit(v, unit), 3)} {unit}" if math.isfinite(v) else ""
        for v in (each.declared, each.value, each.low, each.high)
    )
    if not math.isfinite(each.high):
        said = "differs" if each.differs else "not reached"
        return each.setting.title, before, "not told", f"{low} or more", said
    if not each.told and not each.differs:
        return each.setting.title, before, "not told", f"{low} to {high}", ""
    return each.setting.title, before, value, f"{low} to {high}", "differs" if each.differs else "as declared"


def law_sentences(found: SetupLaw, foils: Sequence[str]) -> list[str]:
    """Whether what flew is what the craft file says, and how that is known."""
    law = found.law
    if law is None:
        return [f"Which law flew is not told: {found.why}."]
    if law.why:
        return [
            f"Which settings flew is not told: with none of them does the craft file's law send these angles, "
            f"{portion(law.unexplained)} of their variance is left. {law.why[:1].upper()}{law.why[1:]}. Check columns, units, "
            "signs and the law first."
        ]
    what = "what the code commanded" if law.logged == "commands" else "what the servos reached"
    where = "the bench" if found.bench else "flight"
    said = [
        f"{number(law.length, 2)} s of {where}, replayed tick by tick; the logged angles are {what}; "
        f"{portion(law.unexplained)} of their variance is left unexplained."
    ]
    turned = [name for name, sign in zip(foils, law.signs, strict=True) if sign < 0]
    if turned:
        said.append(
            f"The sign of {listed(turned)} is turned, in the mapping file, at the servo or in the code: find out which."
        )
    if law.holds:
        said.append(HOLDS)
    if law.differing:
        names = listed([each.setting.address for each in law.differing])
        said.append(f"Not as in the craft file: {names}.")
    elif not turned and not law.holds:
        said.append("Nothing that the log tells differs from the craft file.")
    unlogged = [name for name, sign in zip(foils, law.signs, strict=True) if sign == 0]
    if unlogged:
        said.append(f"Not logged, and so not checked: {listed(unlogged)}.")
    return said


def settings_that_flew(found: SetupLaw | None, names: Sequence[str]) -> dict[str, float]:
    """Address -> SI value of what the log tells to be other than in the craft file, but for what is fitted by these names."""
    law = found.law if found is not None else None
    return {each.setting.address: each.flown for each in _not_fitted(law, names)} if law is not None else {}


def settings_sentence(found: SetupLaw, names: Sequence[str]) -> str:
    """What a fit took as it flew; or ""."""
    law = found.law
    taken = [_row(each) for each in _not_fitted(law, names)] if law is not None else []
    rows = [f"{row[0]} {row[2] if row[2] != 'not told' else row[3]} (in the file {row[1]})" for row in taken]
    return f"Fitted with the settings that flew, and the craft file keeps its own: {listed(rows)}." if rows else ""


def _not_fitted(law: Law, names: Sequence[str]) -> list[Flew]:
    """The settings that differ, but for a delay that is itself fitted."""
    return [each for each in law.differing if each.setting.address != "control.delay" or "servo_delay" not in names]


def why_not_fit(found: SetupLaw, names: Sequence[str], mapping: Mapping) -> str:
    """What keeps a fit from being right, of the law that flew; ''.

    names: the numbers that are fitted: a delay that is fitted may differ.
    """
    law = found.law
    if law is None or law.agrees:
        return ""
    if law.why:
        return " ".join(law_sentences(found, list(mapping.craft.foils)))
    turned = [f"the sign of {name}" for name, sign in zip(mapping.craft.foils, law.signs, strict=True) if sign < 0]
    wrong = [each for each in _not_fitted(law, names) if not each.exact]
    if not turned and not wrong and not law.holds:
        return ""
    holds = ["it holds its height between readings"] if law.holds else []
    rows = [f"{row[0]} {row[2] if row[2] != 'not told' else row[3]} (in the file {row[1]})" for row in map(_row, wrong)]
    return (
        f"the law that flew is not the craft file's: {listed([*turned, *holds, *rows])}. Put the craft file or the mapping "
        "right first: a fit would take it for lift, drag or lag (foilsweep log law says more)"
    )
