"""What a fit is worth to who follows it: gains chosen before the logs and after them, flown in the craft that was logged.

    python -m tests.benchmarks.log_followed [CRAFTS] [--first CRAFT]

The courier's file is wrong: each true craft has other numbers, drawn from RANGES. The second model flies a day of each,
through files, and `log fit` writes a craft file and its draws. The same small campaign then chooses gains three times: for the
described craft, for the fitted one, and for the fitted one with what the logs leave open as unknowns. Each choice is flown in
the true craft, with the control code set up for the craft that it was chosen for, beside the best gains of who knows the craft.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.addresses import value_at
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.craft import Craft
from sweep.campaign.designs import lay_out
from sweep.campaign.text.problems import ChoiceError
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.flying.flights import warm_up
from sweep.insight.scores import Scoring
from sweep.logs.fit.numbers import values_of
from sweep.logs.report import commands
from tests.benchmarks.log_fits import planted_craft, tables_by_second
from tests.benchmarks.unknowns import flights_of, spanned, told
from tests.logs.foreign import write_foreign
from tests.logs.second_day import COLUMNS
from tests.model.crafts import COURIER_FILE, courier

Array = NDArray[np.float64]
RANGES = {
    "lift": (0.8, 1.08),
    "drag": (0.8, 1.7),
    "range_lag": (0.03, 0.14),
    "range_noise": (0.002, 0.006),
    "servo_delay": (0.004, 0.04),
    "servo_bandwidth": (0.4, 1.3),
    "inertia": (0.88, 1.18),
}
"""What a described craft may be off by (judgement); lift, drag, bandwidth and inertia in times the file's."""
TEXT = """\
title: Gains for a craft that was logged
craft: {craft}
water: {{kind: fresh, depth: 5 m}}
factors:
  control.height.proportional: {{kind: built, levels: [0.1 deg/cm, 0.2 deg/cm, 0.4 deg/cm, 0.8 deg/cm, 1.4 deg/cm]}}
  control.height.derivative: {{kind: built, levels: [0.02 deg*s/cm, 0.06 deg*s/cm]}}
  control.pitch.proportional: {{kind: built, levels: [0.6 deg/deg, 1.2 deg/deg, 2.4 deg/deg]}}
plan: full-factorial
conditions:
  seas: {{day: {{kind: jonswap, height: 5 cm, period: 1.1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: {replicates}
flight: {{length: 18 s, settle: 3 s, seed: {seed}}}
fly_on: none
unknowns: {unknowns}
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score:
  ride_height_error: {{weight: 1.0, scale: 1 cm}}
  outside_window: {{weight: 1.0, scale: 5 %}}
  vertical_acceleration: {{weight: 0.5, scale: 1 m/s^2}}
"""
CHOOSE, JUDGE = 8, 16
"""Waves of each condition by which gains are chosen, and by which they are judged."""
BEFORE, FITTED, OPEN = "before", "fitted", "fitted, with unknowns"


def drawn(number: int) -> dict[str, float]:
    """The numbers of a true craft."""
    random = np.random.default_rng([23, number])
    return {name: float(random.uniform(*ends)) for name, ends in RANGES.items()}


def campaign(craft: Path, seed: int, replicates: int, unknowns: str = "none") -> Campaign:
    """The campaign for a craft file, in its folder."""
    path = craft.with_name("gains.yaml")
    path.write_text(TEXT.format(craft=craft.name, seed=seed, replicates=replicates, unknowns=unknowns), encoding="utf-8")
    return load_campaign(path)


def truly(craft: Path, planted: dict[str, float], seed: int) -> Array:
    """What each design truly scores, (designs,): flown by the planted craft, its code set up for the craft of the file."""
    for_file = campaign(craft, seed, JUDGE)
    true = values_of(courier(), list(planted), list(planted.values()))
    pinned = [_pinned(for_file.craft, address, value) for address, value in true.items()]
    known = for_file.model_copy(update={"unknowns": Unknowns(each=tuple(pinned))})
    return scores_of(known)


def scores_of(known: Campaign) -> Array:
    """The mean score of each design, (designs,)."""
    rows = flights_of(known)
    rows = rows.assign(score=Scoring.of(known).points(rows))
    return np.asarray(rows.groupby("design")["score"].mean())


def _pinned(craft: Craft, address: str, value: float) -> Unknown:
    described = (float(value_at(craft, address)),)
    return Unknown(label=address, addresses=(address,), way="to", low=value, high=value, described=described)


def first_of(chosen_by: Campaign) -> int:
    """The design that comes first."""
    return int(told(chosen_by)[0].standings["design"].iloc[0])


def followed(number: int, folder: Path, planted: dict[str, float], mapping: Path) -> dict[str, float]:
    """By choice: its regret in the true craft, the share by which it scores more than the best; only BEFORE without a fit."""
    described, fitted = folder / "craft.yaml", folder / "fitted.yaml"
    try:
        said = commands.fit(mapping, ",".join(RANGES), fitted, lambda text: None)
        print("\n".join(f"    {line}" for line in said if " % " in line or "not shown" in line), flush=True)
    except ChoiceError as error:
        print(f"    no fit: {error}", flush=True)
    picks = {BEFORE: (described, first_of(campaign(described, number, CHOOSE)))}
    if fitted.exists():
        picks[FITTED] = (fitted, first_of(campaign(fitted, number, CHOOSE)))
        draws = fitted.with_suffix(".csv")
        if draws.exists():
            picks[OPEN] = (fitted, first_of(campaign(fitted, number, CHOOSE, f"{{file: {draws.name}}}")))
    seed = 700_001 + number
    scores = {craft: truly(craft, planted, seed) for craft in dict.fromkeys(craft for craft, _ in picks.values())}
    least = min(best_known(folder, planted, seed), *(float(each.min()) for each in scores.values()))
    return {way: float(scores[craft][design] / least - 1.0) for way, (craft, design) in picks.items()}


def best_known(folder: Path, planted: dict[str, float], seed: int) -> float:
    """The score of the best gains where the craft file has the planted numbers, and the code is set up for them."""
    known = campaign(folder / "craft.yaml", seed, JUDGE)
    return float(scores_of(known.model_copy(update={"craft": planted_craft(planted)})).min())


def sum_up(regrets: list[dict[str, float]]) -> None:
    """Print the means, and how often a choice after the logs was better."""
    before = np.array([each[BEFORE] for each in regrets])
    print(f"\n{len(regrets)} true crafts, {sum(FITTED not in each for each in regrets)} of them without a fit")
    print(f"{BEFORE}: {spanned(before)}")
    for way in (FITTED, OPEN):
        after = np.array([each.get(way, each[BEFORE]) for each in regrets])
        better, worse = int((after < before).sum()), int((after > before).sum())
        print(f"{way}: {spanned(after)}; less by {spanned(before - after)}; better in {better}, worse in {worse}")


def main() -> None:
    """Log, fit, choose, follow and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("crafts", nargs="?", type=int, default=10)
    parser.add_argument("--first", type=int, default=1, metavar="CRAFT")
    asked = parser.parse_args()
    numbers = range(asked.first, asked.first + asked.crafts)
    plants = [drawn(number) for number in numbers]
    logs = tables_by_second(list(numbers), [planted_craft(planted) for planted in plants])
    regrets = []
    for number, planted, tables in zip(numbers, plants, logs, strict=True):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            mapping = write_foreign(folder, list(tables), mapping=COLUMNS)
            assert (folder / "craft.yaml").read_bytes() == COURIER_FILE.read_bytes()
            if not regrets:
                first = campaign(folder / "craft.yaml", number, CHOOSE)
                warm_up(first, lay_out(first), list_conditions(first))
            print(f"craft {number}: {', '.join(f'{key} {value:.4g}' for key, value in planted.items())}", flush=True)
            regrets.append(followed(number, folder, planted, mapping))
            print("    " + "; ".join(f"{way} {100.0 * lost:.1f} %" for way, lost in regrets[-1].items()), flush=True)
    sum_up(regrets)


if __name__ == "__main__":
    main()
