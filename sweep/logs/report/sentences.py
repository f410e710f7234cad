"""What the logs show, in sentences and columns: every number with its interval, and a plain word where they cannot decide."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sweep.campaign.water import HEADINGS
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.logs.compare.comparison import WORTH_KNOWING, Split
from sweep.logs.compare.next_pass import NextPass
from sweep.logs.fit.craft_fit import Result
from sweep.logs.fit.numbers import NUMBERS
from sweep.logs.report.day import Day, SetupComparison
from sweep.logs.sea.judge import LEAST_FOR_SEA, Judged, pooled_runs
from sweep.logs.sea.lag import Aligned
from sweep.logs.sea.measure import MEASURE
from sweep.logs.sea.passes import ADRIFT_SAID, Plan
from sweep.logs.sea.sea_state import BAD_FIT, Estimate, SeaEstimate
from sweep.logs.sea.surface import SETTLES
from sweep.logs.sea.trust import OnTrust, bearing_on_trust, speed_on_trust
from sweep.words.numbers import count, number, portion, pretty, with_unit

MADE_UP = "These logs are made up: a model made them, and nothing in them was measured on the water."
LOCAL = "Local rules and licensed practice come first; keep clear of people, and never fly for the sake of a log."


def interval(estimate: Estimate, scale: float = 1.0, unit: str = "") -> str:
    """'4.5 cm (4.2 to 4.9)': to the first digit of half the interval, or to its second where the first is a 1 or a 2."""
    value, low, high = (each * scale for each in estimate)
    low, high = sorted((low, high))
    if not math.isfinite(high):
        return f"{with_unit(value, unit, 2)} (at least {number(low, 2)})"
    half = 0.5 * (high - low)
    first = math.ceil(-math.log10(half)) if half > 0.0 else 2
    places = max(first + (half * 10.0**first < 3.0), 0)
    shown = f" {pretty(unit)}" if pretty(unit) else ""
    middle, least, most = (f"{round(each, places) + 0.0:.{places}f}" for each in (value, low, high))
    return f"{middle}{shown} ({least} to {most})"


def sea_sentences(sea: SeaEstimate | None) -> list[str]:
    """What the runs show of the sea."""
    if sea is None:
        return [
            "No run shows a sea: that needs the rangefinder, the accelerometer down (force_z) and the pitch, for "
            f"{with_unit(LEAST_FOR_SEA + 2.0 * SETTLES, 's')} or more."
        ]
    over = f"from {with_unit(sea.length / 60.0, 'min', 2)} of record"
    if sea.verdict == "calm":
        most = with_unit(100 * sea.height.high, "cm", 2)
        return [f"Calm, as far as the sensors show: waves under {most} significant height are lost in their noise ({over})."]
    if sea.verdict == "hidden":
        return [
            f"At least {with_unit(100.0 * sea.height.value, 'cm', 2)} of significant height showed ({over}). "
            "Most of this following sea moves along with the craft, and is met too slowly to be separated from drift: "
            f"its height and period are not known. Passes the other way, or {ADRIFT_SAID} adrift, would show them."
        ]
    said = [
        f"Significant height {interval(sea.height, 100.0, 'cm')}, peak period {interval(sea.period, 1.0, 's')}, {over}; "
        f"the intervals are {CONFIDENCE_SAID}, and longer records make them narrower."
    ]
    if sea.folds > 0.1:
        said.append(
            f"{number(100.0 * sea.folds, 2)} % of the energy is met faster than half the rangefinder's rate and is aliased: "
            "the height is still right, the shape of the spectrum is not."
        )
    if sea.misfit > BAD_FIT:
        said.append(
            "The spectrum is not that of one wind sea: two seas, or a boat's wake, may be mixed. Take the period with care."
        )
    if sea.others:
        said.append(f"A peak period of {' or '.join(with_unit(p, 's', 2) for p in sea.others[:3])} would fit about as well.")
    return said


def run_rows(runs: Sequence[Judged]) -> list[tuple[str, ...]]:
    """Log, set-up, begin, length, speed, waves, sea, ride height error, of every run."""
    return [
        (
            run.log,
            run.setup,
            with_unit(run.begin, "s"),
            with_unit(run.length, "s", 2),
            with_unit(run.speed, "m/s", 2) if run.kind == "flying" else "adrift",
            met_said(run.waves) if run.kind == "flying" else "",
            short_sea(run),
            interval(run.sure["sensed_error"], 100.0, "cm") if run.sure else "",
        )
        for run in runs
    ]


def met_said(waves: float) -> str:
    """How a run meets its waves: 'head, 180 deg'; the word is the nearest of those that campaigns have."""
    angle = abs(math.degrees(math.remainder(waves, 2 * math.pi)))
    word = min(HEADINGS, key=lambda name: abs(HEADINGS[name] - angle))
    return f"{word}, {angle:.0f} deg"


RUN_HEADINGS = ("log", "set-up", "from", "length", "speed", "waves", "sea", "height error, sensed")


def short_sea(run: Judged) -> str:
    """'4.5 cm (4.2 to 4.9), 1.1 s (1.0 to 1.2)'."""
    if run.sea is None:
        return run.why or "not known"
    if run.sea.verdict == "calm":
        return f"calm, under {with_unit(100 * run.sea.height.high, 'cm', 2)}"
    if run.sea.verdict == "hidden":
        return f"over {with_unit(100 * run.sea.height.value, 'cm', 2)}, rest hidden"
    return f"{interval(run.sea.height, 100.0, 'cm')}, {interval(run.sea.period, 1.0, 's')}"


def day_sentences(day: Day) -> list[str]:
    """The day, in a few sentences."""
    flying, adrift = len(day.flying), len(day.runs) - len(day.flying)
    minutes = sum(run.length for run in day.flying) / 60.0
    said = [MADE_UP] if day.mapping.made_up else []
    said.append(
        f"{count(flying, 'run', 'runs').capitalize()} foilborne, {with_unit(minutes, 'min', 2)} in all"
        + (f", and {count(adrift, 'time', 'times')} adrift." if adrift else ".")
    )
    left_out = sum(run.glitches for run in day.runs), sum(run.gaps for run in day.runs)
    said.append(
        f"{left_out[0]} rangefinder readings were far off their neighbours and are left out, {left_out[1]} are missing; "
        "none is filled in."
    )
    if day.aligned is not None:
        said.append(aligned_sentence(day.aligned))
    return said


def day_sea_sentences(day: Day) -> list[str]:
    """The sea of the day, and how it went from run to run."""
    if day.grave:
        return ["The sea is withheld: see what looks wrong."]
    heights = [run.sea.height for run in day.runs if run.sea is not None and run.sea.verdict == "measured"]
    said = sea_sentences(day.sea())
    if heights and max(each.low for each in heights) > min(each.high for each in heights):
        first, last = (interval(each, 100.0, "cm") for each in (heights[0], heights[-1]))
        said.append(f"It changed through the day, from {first} in the first run that shows it to {last} in the last.")
    return [*said, *trust_sentences(day)]


def trust_sentences(day: Day) -> list[str]:
    """What of bearing and speed the runs cannot tell, and the peak period that hangs on it."""
    sea, runs = day.sea(), pooled_runs(day.runs)
    if sea is None or sea.verdict != "measured":
        return []
    said = []
    if (turn := bearing_on_trust(runs, sea.chance)) is not None:
        said.append(
            f"{_bearing(turn, day.mapping.bearing)} as well, with a peak period of {_periods(turn)}. Sight it by compass."
        )
    if (times := speed_on_trust(runs, sea.chance)) is not None:
        of = f"{number(times.low, 2)} to {number(times.high, 2)} times the speed logged"
        said.append(
            f"The speed is taken on trust: these runs fit {of} as well, with a peak period of {_periods(times)}. "
            "Time a stretch of known length."
        )
    return [*said, "The height hangs on neither."] if said else []


def _bearing(turn: OnTrust, bearing: float | None) -> str:
    low, high = (round(math.degrees(each)) for each in (turn.low, turn.high))
    if bearing is None:
        return (
            f"How the runs met the waves is taken on trust: they fit waves {-low} deg to one side and {high} deg to the other"
        )
    said = round(math.degrees(bearing))
    return (
        f"The waves' bearing of {said % 360} deg is taken on trust: these runs fit "
        f"{(said + low) % 360} to {(said + high) % 360} deg"
    )


def _periods(found: OnTrust) -> str:
    return f"{number(found.shortest, 2)} to {with_unit(found.longest, 's', 2)}"


def aligned_sentence(found: Aligned) -> str:
    """How far the second clock is from the first."""
    ms = Estimate(*(1e3 * each for each in found.ahead))
    sure = "" if ms.high - ms.low <= 10.0 else " That is wider than 5 ms either way: longer passes in waves would narrow it."
    return f"The clock of the second log is {interval(ms, 1.0, 'ms')} ahead.{sure}"


def split_sentences(split: Split, name: str) -> list[str]:
    """The difference, its two parts, and what would decide."""
    measure = MEASURE[name]
    word = "better" if split.difference > 0.0 else "worse"
    difference = with_unit(abs(split.difference) * measure.scale, measure.unit, 2)
    sign = 1.0 if split.difference >= 0.0 else -1.0
    water, setup = (_turned(part, sign) for part in (split.water, split.setup))
    said = [
        f"{_capital(measure.title)}: {interval(split.means[0], measure.scale, measure.unit)} with {named(split.first)}, "
        f"{interval(split.means[1], measure.scale, measure.unit)} with {named(split.second)}.",
        f"With {named(split.second)} it was {difference} {word}: {interval(water, measure.scale, measure.unit)} of that is the "
        f"water, and {interval(setup, measure.scale, measure.unit)} is the set-up.",
    ]
    relative = Estimate(*(100.0 * each for each in split.relative))
    change = f"In the same sea it changes by {interval(relative, 1.0, '%')} with {named(split.second)}"
    if split.verdict == "not told apart":
        said += [f"{change}: these logs cannot tell the two set-ups apart.", further(split)]
    else:
        said.append(f"{change}: that is {split.verdict}.")
    if not split.even:
        said.append("Each set-up went one way only: heading and set-up cannot be separated. Fly both ways with both.")
    return said


def named(setup: str) -> str:
    """A set-up's name by its log, in quotes: it may be any words."""
    return f"“{setup}”"


def further(split: Split) -> str:
    """How many more passes would decide."""
    if split.further is not None:
        more = _capital(count(split.further, "more pass", "more passes"))
        return f"{more} with each would show a change as large as this, or of {portion(WORTH_KNOWING)}."
    return f"More passes alone would not decide: {split.why}." if split.why else ""


def _turned(part: Estimate, sign: float) -> Estimate:
    return part if sign > 0.0 else Estimate(-part.value, -part.high, -part.low)


def comparison_sentences(comparison: SetupComparison) -> list[str]:
    """What the comparison is based on."""
    flatters = comparison.flatters
    said = [
        f"In the model the true ride height error is {number(100.0 * flatters, 2)} % of the error that the rangefinder shows. "
        "So the sensed error is compared with the model's sensed error, never with its true one."
    ]
    if comparison.borrowed:
        said.append(
            f"{_capital(count(comparison.borrowed, 'pass', 'passes'))} showed no sea of their own and use that of the others."
        )
    if comparison.left_out:
        said.append(
            f"{_capital(count(comparison.left_out, 'pass', 'passes'))} were left out: no run of the day shows their sea."
        )
    if lost := [group for group in comparison.groups if group.expected.lost > 0.0]:
        share = max(group.expected.lost for group in lost)
        said.append(f"{number(100.0 * share, 2)} % of the model's flights in these seas ended early, and are left out.")
    return [*said, *next_sentences(comparison)]


def next_sentences(comparison: SetupComparison) -> list[str]:
    """The pass that would narrow the least certain effect most."""
    best = comparison.following
    if best is None:
        return []
    before, after = (number(100.0 * math.expm1(reach), 2) for reach in (best.before, best.after))
    narrows = (
        f"from about {before} % either way to {after} %" if before != after else f"hardly: it stays about {before} % either way"
    )
    met = met_said(comparison.groups[best.group].case.waves)
    return [
        f"The least certain change is that of {MEASURE[best.measure].title}. What would narrow it most is one more pass with "
        f"{named(best.setup)}, {met}, in a sea as of {_short_sea(best)}: {narrows}."
    ]


def _short_sea(best: NextPass) -> str:
    return f"{with_unit(100.0 * best.height, 'cm', 2)} and {with_unit(best.period, 's', 2)}"


FIT_HEADINGS = ("number", "in the craft file", "fitted", f"interval, {CONFIDENCE_SAID}", "change")


def fit_rows(result: Result) -> list[tuple[str, ...]]:
    """Rows of the fit: number, before, fitted, interval, moved."""
    rows: list[tuple[str, ...]] = []
    for each in result.numbers:
        about = NUMBERS[each.name]
        scale = {"ms": 1e3, "mm": 1e3, "cm": 1e2}.get(about.unit, 1.0)
        unit = about.unit or "x"
        before, value, low, high = (f"{number(v * scale)} {unit}" for v in (each.before, each.value, each.low, each.high))
        moved = f"{100 * (each.value / each.before - 1):+.0f} %" if each.before else f"by {value}"
        if each.identified:
            rows.append((about.title, before, value, f"{low} to {high}", moved))
        else:
            rows.append((about.title, before, "not known", f"{low} to {high}" if math.isfinite(each.high) else "anything", ""))
    return rows


def fit_sentences(result: Result) -> list[str]:
    """How well it fits, and what cannot be separated."""
    said = [
        f"Fitted to {result.features} numbers from the runs; the error that is left is {number(math.sqrt(result.misfit), 2)} "
        "times what chance alone would leave."
    ]
    said.append(
        "All other numbers are those of the craft file. If one of them is wrong, the fitted ones may be off by more than their "
        "intervals. In a trial with an inertia 8 % off, not fitted, the lift came out 20 % too high."
    )
    if result.misfit > 4.0:
        said.append(
            "That is far more than chance: the model lacks something that this craft has, and the intervals are wider for it."
        )
    if any(each.identified for each in result.numbers):
        said.append(
            "In 25 made-up days that another model flew, two passes each, all numbers fitted, intervals held the truth in "
            "185 of 196: the least often those of the latency and of the noise, in 22 of 25 each."
        )
    for first, second, correlation in result.alike:
        said.append(
            f"{_capital(NUMBERS[first].title)} and {NUMBERS[second].title} can hardly be separated by these runs "
            f"(correlation {number(correlation, 2)}): fit one, and measure the other."
        )
    if any(
        each.name == "height_offset" and each.identified and not each.low <= each.before <= each.high for each in result.numbers
    ):
        said.append(
            "Set the mounting height in the control code, too: until then the craft rides at another height than you set."
        )
    silent = [NUMBERS[each.name].title for each in result.numbers if not each.identified]
    if silent:
        said.append(f"These runs do not show: {', '.join(silent)}. The craft file keeps its values.")
    if any(each.name == "height_offset" and not each.identified for each in result.numbers):
        said.append(
            "To find the mounting height, log a witness: a second rangefinder that does not steer, or strut marks in a video."
        )
    return said


def plan_lines(plan: Plan) -> list[str]:
    """The next hour."""
    lines = [f"{i}. {step}" for i, step in enumerate(plan.steps, 1)]
    lines.append(f"About {number(plan.minutes, 2)} min. {LOCAL}")
    if plan.hidden:
        lines.append("With the sea from astern most of it is hidden: the passes back use the sea of the passes out.")
    return lines


def aligned_columns(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table as text."""
    table = [list(headings), *map(list, rows)]
    widths = [max(len(row[i]) for row in table) for i in range(len(headings))]
    return "\n".join("  ".join(f"{cell:{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in table)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
