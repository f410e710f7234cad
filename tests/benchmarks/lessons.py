"""The figures of the lessons for How sure.

    python -m tests.benchmarks.lessons

Flies the campaigns in configs/lessons with at least REPLICATES replicates (some minutes) and writes site/evidence/lessons.toml.
"""

from __future__ import annotations

from tests.benchmarks import evidence
from tests.lessons import flown
from tests.lessons.figures import figures

REPLICATES = 8
NOTE = (
    "Means over the replicates of the campaigns in configs/lessons, eight or more of each, with intervals of 95 %. What is "
    "asked was written down before the flights; common practice, no source. Where a lesson is not shown, its test says why; "
    "of k, the gains of 0.1 and 0.2 deg/cm ride outside the window in two replicates of eight, those of 0.4 and 0.8 in none."
)


def main() -> None:
    """Fly, print and write."""
    flown.LEAST_REPLICATES = REPLICATES
    rows = []
    for lesson, found in figures():
        unit = "" if lesson.unit == "x" else f" {lesson.unit}"
        interval = f"{found.low:.3g} to {found.high:.3g}{unit}"
        asked = f"{'at least' if lesson.sign == '>=' else 'at most'} {lesson.asked:g}{unit}"
        rows.append((f"{lesson.letter}: {lesson.says}", f"{found.value:.3g}{unit}", interval, asked, lesson.verdict(found)))
        print(*rows[-1], sep=" | ")
    table = {
        "caption": "Lessons of the trade, and what the model makes of them",
        "note": NOTE,
        "headings": ["lesson", "seen", "interval", "asked", "verdict"],
        "rows": rows,
    }
    evidence.write("lessons", "python -m tests.benchmarks.lessons", {"lessons": table})


if __name__ == "__main__":
    main()
