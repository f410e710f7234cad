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
    if law.differing:
        names = listed([each.setting.address for each in law.differing])
        said.append(f"Not as in the craft file: {names}.")
    elif not turned:
        said.append("Nothing that the log tells differs from the craft file.")
    unlogged = [name for name, sign in zip(foils, law.signs, strict=True) if sign == 0]
    if unlogged:
        said.append(f"Not logged, and so not checked: {listed(unlogged)}.")
    return said


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
    wrong = [each for each in law.differing if each.setting.address != "control.delay" or "servo_delay" not in names]
    if not turned and not wrong:
        return ""
    rows = [f"{row[0]} {row[2] if row[2] != 'not told' else row[3]} (in the file {row[1]})" for row in map(_row, wrong)]
    return (
        f"the law that flew is not the craft file's: {listed([*turned, *rows])}. Put the craft file or the mapping right "
        "first: a fit would take it for lift, drag or lag (foilsweep log law says more)"
    )
