"""Measured foils, hulls and boats beside the model, for How sure.

    python -m tests.benchmarks.tows

Tows and flies what `tests/tows` holds (some seconds) and writes site/evidence/tows.toml.
"""

from __future__ import annotations

from tests.benchmarks import evidence
from tests.tows.measured import REASONS, Measured, measured

NOTE = (
    "Towed by the kernels that fly boats, or flown as a campaign (tests/tows/dinghy.yaml). Nothing in the model was fitted to "
    "them. Ranges are the source’s, or judgement where it gives one value; all numbers are read from public transcriptions "
    "and summaries, not from the papers’ own pages (tests/references/tows.toml). Too high or low: past the range’s nearer end. "
    "Whole foils and the boat are met in part because our struts drag too much and our foils’ sections too little."
)
WITHOUT = [
    ["NACA TR 1232 (Wadlin, Shuford & McGehee 1955), TN 4168 (Wadlin & Christopher 1958)", "their figures could not be read"],
    ["NACA RM L52L11 (Carter & Butler 1952), the flow behind a foil", "its summary alone could be read: no numbers"],
    ["Owers & Probert 1985, a boat driven by a man: 287 W to take off at 3.6 m/s", "its summary gives no weight and no foils"],
    ["boats of under 30 kg, and the ride of any boat in waves", "no measurement was found whose numbers could be read"],
]


def _row(each: Measured) -> list[str]:
    ours = each.answer()
    off = each.off(ours)
    verdict = f"{100.0 * abs(off):.0f}\u00a0% too {'high' if off > 0.0 else 'low'}: {REASONS[each.topic]}" if off else "agrees"
    ends = f"{each.low:.3g} to {each.high:.3g}"
    if each.low == 0.0:
        ends = f"under {each.high:.3g}"
    if each.high > 5.0 * each.low > 0.0:
        ends = f"over {each.low:.3g}"
    unit = f" {each.unit}".rstrip()
    cells = [f"{each.topic}, {each.place}", f"{ends}{unit}", f"{ours:.3g}{unit}", verdict, each.source]
    return [cell.replace("'", "’") for cell in cells]


def main() -> None:
    """Tow, fly, print and write."""
    rows = [_row(each) for each in measured()]
    for row in rows:
        print(*row, sep=" | ")
    agree = sum(row[3] == "agrees" for row in rows)
    tows = {
        "caption": f"{agree} of {len(rows)} measured values are met",
        "note": NOTE,
        "agree": agree,
        "headings": ["what", "measured", "model", "verdict", "source"],
        "rows": rows,
    }
    without = {
        "caption": "What has no number here",
        "note": "These were looked for, but cannot be compared.",
        "headings": ["what", "why"],
        "rows": WITHOUT,
    }
    evidence.write("tows", "python -m tests.benchmarks.tows", {"tows": tows, "without": without})


if __name__ == "__main__":
    main()
