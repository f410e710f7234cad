"""What comes of following the advice literally, and how often what is said with confidence is true.

python -m tests.benchmarks.advice fly CAMPAIGN REPLICATES FOLDER [WORKERS [SEED]]
    flies all designs of a campaign, shipped or of `campaigns` beside this file, so many times, 64 or more for a truth, and
    keeps what ranking reads; in those of `campaigns` called steep the best designs fail now and then;
python -m tests.benchmarks.advice follow FOLDER [CUTS]
    cuts every truth of the folder into small campaigns, ranks each, does what it says, and looks up what comes of it;
python -m tests.benchmarks.advice sentences FOLDER [CUTS] [REPLICATES]
    reads every sentence of advice that the pages print of each small campaign, of as many replicates as the campaign has or as
    given, and follows it by its words;
python -m tests.benchmarks.advice choices FOLDER [CUTS] [REPLICATES]
    builds what each small campaign, of so many replicates (8), puts first, and calls the cheapest, the lightest and the
    sturdiest: its leading designs fly built a little off for that, as in a run. Half a minute a cut;
python -m tests.benchmarks.advice flown FOLDER/CAMPAIGN.npz CUTS
    flies what scores cannot tell: changes, poorer parts, tolerances, the highest waves, the lowest speeds. Minutes a cut.

Small campaigns cut from one truth share their boats, so they are one cluster: shares are told truth by truth. The truth has an
error of its own, which is small beside that of a cut only where it has many more replicates.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.flying.flights import fly_shards, warm_up
from sweep.flying.work import Work
from sweep.insight.failing import FailureCounts
from sweep.insight.good_enough import MOST_CHOSEN, promised
from sweep.insight.limits import LimitCounts, judge, verdicts
from sweep.insight.rank import within
from sweep.insight.ranking import standings
from sweep.insight.scores import Scoring
from sweep.model.quantities import FLEW
from sweep.results.shard_plan import plan_shards

Array = NDArray[np.float64]
CONFIGS = (Path(__file__).parents[2] / "configs", Path(__file__).parent / "campaigns")
REPLICATES = (2, 3, 4, 8)
ROUNDING = 1e-9


class Truth(NamedTuple):
    """Many flights of a campaign; all arrays (designs, conditions, replicates), limits by response, SI."""

    campaign: Campaign
    designs: pd.DataFrame
    scores: Array
    status: Array
    foilborne: Array
    limits: dict[str, Array]

    @property
    def clean(self) -> Array:
        """Mean scores of the flights that did not fail, inf where a condition has none, (designs,)."""
        flew = self.status == FLEW
        with np.errstate(invalid="ignore"):
            means = np.where(flew, self.scores, 0.0).sum(axis=2) / flew.sum(axis=2)
        return np.asarray(np.nan_to_num(means, nan=np.inf).mean(axis=1))

    def some(self, replicates: slice) -> Truth:
        """The same campaign with these replicates only."""
        limits = {name: values[:, :, replicates] for name, values in self.limits.items()}
        parts = (each[:, :, replicates] for each in (self.scores, self.status, self.foilborne))
        return Truth(self.campaign, self.designs, *parts, limits)


def campaign_of(name: str) -> Campaign:
    """A campaign by its name."""
    return load_campaign(next(path for folder in CONFIGS if (path := folder / f"{name}.yaml").exists()))


def fly(name: str, replicates: int, folder: Path, workers: int | None = None, seed: int | None = None) -> None:
    """Fly a truth and keep it; seed: of other waves than the campaign's own."""
    campaign = campaign_of(name).model_copy(update={"replicates": replicates, "budget": None})
    if seed is not None:
        campaign = campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"seed": seed})})
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    shape = (len(designs), len(conditions), replicates)
    kept = {key: np.full(shape, np.nan) for key in ("scores", "status", "time_foilborne", *campaign.limits)}
    warm_up(campaign, designs, conditions)
    scoring = Scoring.of(campaign)
    for _, rows in fly_shards(Work(campaign, designs, conditions, workers), plan_shards(*shape)):
        place = tuple(rows[key].to_numpy() for key in ("design", "condition", "replicate"))
        kept["scores"][place] = scoring.scores(rows)
        for key in list(kept)[1:]:
            kept[key][place] = rows[key]
    folder.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(folder / f"{name}.npz", **kept)  # type: ignore[arg-type]


def load(path: Path) -> Truth:
    """A truth that `fly` has kept."""
    campaign = campaign_of(path.stem)
    with np.load(path) as kept:
        limits = {name: kept[name] for name in campaign.limits}
        arrays = (kept[name] for name in ("scores", "status", "time_foilborne"))
        return Truth(campaign, with_costs(campaign, lay_out(campaign)), *arrays, limits)


def counted(some: Truth) -> LimitCounts:
    """What the limits need of these flights."""
    designs, conditions, _ = some.scores.shape
    counts = LimitCounts(some.campaign.limits, designs, conditions)
    at = np.indices(some.scores.shape).reshape(3, -1)
    rows = pd.DataFrame({"design": at[0], "condition": at[1], "status": some.status.ravel()})
    rows = rows.assign(time_foilborne=some.foilborne.ravel(), **{name: each.ravel() for name, each in some.limits.items()})
    counts.add(rows)
    return counts


def judged(some: Truth) -> pd.DataFrame:
    """Verdicts on the limits, as ranking gives them."""
    designs, conditions, _ = some.scores.shape
    names = [str(condition) for condition in range(conditions)]
    found = judge(counted(some), some.campaign.flight.scored)
    return verdicts(found, some.campaign.limits, names, designs)


def ranked(some: Truth) -> pd.DataFrame:
    """The standings of these flights."""
    failed = some.status != FLEW
    counts = FailureCounts(*failed.shape[:2])
    counts.add(tuple(np.indices(failed.shape).reshape(3, -1)), failed.ravel(), some.scores.ravel())
    share = within(some.campaign, some.scores.mean(axis=(1, 2)))
    return standings(some.scores, judged(some), failed.mean(axis=(1, 2)), {}, counts.failures(), share)


def follow(truth: Truth, cut: Truth, over: NDArray[np.bool_]) -> dict[str, float]:
    """What one small campaign says, done in the truth; over: designs that truly break a limit."""
    true, table = truth.scores.mean(axis=(1, 2)), ranked(cut)
    sound = np.where(over, np.inf, true)
    best = int(sound.argmin()) if np.isfinite(sound).any() else int(true.argmin())
    by_design = table.set_index("design").sort_index()
    first = int(table["design"].iloc[0])
    good = by_design.index[by_design["good_enough"]].to_numpy()
    share = promised(by_design.loc[good]) if len(good) else np.nan
    riding = by_design.loc[good, "failing_high"].notna().any()
    near = truth.clean if riding else true
    gain, own, failing = true[0] - true, judged(cut), (truth.status != FLEW).mean(axis=(1, 2))
    rows = np.flatnonzero(own["verdict"].ne("broken"))
    sound_here = np.flatnonzero(~own["doubtful"]) if not own["doubtful"].all() else rows
    gaps = np.array([true[row] - true[sound_here[sound_here != row]].min(initial=np.inf) for row in rows])
    low, high = (by_design[f"behind_{end}"].to_numpy()[rows] for end in ("low", "high"))
    told = {
        "best held": float(by_design["may_be_best"].iloc[best]),
        "may be best": float(by_design["may_be_best"].sum()),
        "behind joint": float(((low <= gaps + ROUNDING) & (gaps <= high + ROUNDING)).all())
        if np.isfinite(low).all()
        else np.nan,
        "score interval": _held(by_design, "score", true),
        "gain interval": _held(by_design.iloc[1:], "gain", gain[1:]),
        "first regret": true[first] / true[best] - 1.0,
        "first over": float(over[first]),
        "good enough": float(len(good)),
        "share": share,
        "unless it fails": float(riding) if len(good) else np.nan,
        "promise kept": float((near[good] <= (1.0 + share) * true[best] + ROUNDING).all()) if len(good) else np.nan,
        "failures within": float((failing[good] <= by_design.loc[good, "failing_high"]).all()) if riding else np.nan,
        "found of within": float(len(good) and (true[good] <= 1.1 * true[best]).sum() / (true <= 1.1 * true[best]).sum()),
        "good over": float(over[good].mean()) if len(good) else np.nan,
        "base sure": float(by_design["gain_sure"].iloc[first] > 0.0),
        "base true": float(gain[first] >= by_design["gain_sure"].iloc[first] - ROUNDING) if first else np.nan,
    }
    usual = within(cut.campaign, cut.scores.mean(axis=(1, 2)))
    chosen = {"poorest": int(good[true[good].argmax()])} if _names(share, usual) and len(good) > 1 else {}
    for cost, word in (("price", "cheapest"), ("mass", "lightest")):
        if chosen and cost in truth.designs:
            chosen[word] = int(truth.designs.loc[good, cost].idxmin())
    for word in ("cheapest", "lightest", "poorest"):
        told[f"{word} regret"] = true[chosen[word]] / true[best] - 1.0 if word in chosen else np.nan
        told[f"{word} within"] = (
            float(near[chosen[word]] <= (1.0 + share) * true[best] + ROUNDING) if word in chosen else np.nan
        )
    return told


def _names(share: float, usual: float) -> bool:
    """Whether pages name the cheapest, the lightest and the sturdiest: none of them is worse than the poorest good enough."""
    return share <= max(MOST_CHOSEN, usual) + ROUNDING


def _held(table: pd.DataFrame, name: str, true: Array) -> float:
    """Share of designs whose interval holds the truth."""
    low, high = table[f"{name}_low"].to_numpy(), table[f"{name}_high"].to_numpy()
    return float(((low <= true + ROUNDING) & (true <= high + ROUNDING)).mean())


def main(folder: Path, most: int) -> None:
    """A line for every truth and number of replicates: means over its cuts."""
    for path in sorted(folder.glob("*.npz")):
        truth = load(path)
        over = (judged(truth)["doubtful"]).to_numpy()
        true = truth.scores.mean(axis=(1, 2))
        near = [int((true <= (1.0 + share) * true.min()).sum()) for share in (0.1, 0.25)]
        print(f"{path.stem}, {truth.scores.shape[2]} replicates: {near[0]} of {len(over)} within 10 %, {near[1]} within 25 %")
        print(f"  {int(over.sum())} over a limit")
        for replicates in REPLICATES:
            cuts = range(min(truth.scores.shape[2] // replicates, most))
            rows = [follow(truth, truth.some(slice(at * replicates, (at + 1) * replicates)), over) for at in cuts]
            table = pd.DataFrame(rows)
            told = ", ".join(f"{name} {table[name].mean():.3g}" for name in table if table[name].notna().any())
            worst = ", ".join(
                f"{name} {table[name].max():.3g}" for name in table if "regret" in name and table[name].notna().any()
            )
            print(f"  {replicates} replicates, {len(rows)} cuts: {told}; at most: {worst}", flush=True)


def sentences(folder: Path, most: int, replicates: int | None) -> None:
    """A line for every truth and kind of sentence."""
    from tests.benchmarks.sentence_checks import summary, table_of

    for path in sorted(folder.glob("*.npz")):
        truth = load(path)
        table = table_of(truth, replicates or truth.campaign.replicates, most)
        print(f"{path.stem}, {table['cut'].nunique()} campaigns of {replicates or truth.campaign.replicates} replicates")
        print(*(f"  {line}" for line in summary(table)), sep="\n", flush=True)


def choices(folder: Path, most: int, replicates: int) -> None:
    """A line for every truth and kind of choice, and one for all: how often it was told and held, and what it lost."""
    from tests.benchmarks.flown_advice import followed_choices

    whole = []
    for path in sorted(folder.glob("*.npz")):
        truth = load(path)
        over, cuts = judged(truth)["doubtful"].to_numpy(), min(truth.scores.shape[2] // replicates, most)
        rows = pd.DataFrame([row for at in range(cuts) for row in followed_choices(truth, replicates, at, over)])
        print(f"{path.stem}, {cuts} campaigns of {replicates} replicates", flush=True)
        print(*(f"  {line}" for line in _of_choices(rows)), sep="\n", flush=True)
        whole.append(rows)
    print(*_of_choices(pd.concat(whole, ignore_index=True)), sep="\n")


def _of_choices(rows: pd.DataFrame) -> Iterator[str]:
    for word, some in rows.groupby("word", sort=False):
        told = f"{word}: {len(some)} told, regret mean {some['regret'].mean():.2%}, worst {some['regret'].max():.2%}"
        if "held" in some and some["held"].notna().any():
            told += f", within the printed share {int(some['held'].sum())}, share mean {some['share'].mean():.2g}"
        yield f"{told}, over a limit {int(some['over'].sum())}"


def flown(path: Path, cuts: int) -> None:
    """A line for every kind of sentence that is flown."""
    from tests.benchmarks.flown_advice import flown_table
    from tests.benchmarks.sentence_checks import summary

    truth = load(path)
    print(f"{path.stem}, {cuts} campaigns of {truth.campaign.replicates} replicates")
    print(*(f"  {line}" for line in summary(flown_table(truth, truth.campaign.replicates, range(cuts)))), sep="\n", flush=True)


if __name__ == "__main__":
    numbers = [int(each) for each in sys.argv[3:] if each.isdigit()]
    if sys.argv[1] == "fly":
        fly(sys.argv[2], numbers[0], Path(sys.argv[4]), *numbers[1:3])
    elif sys.argv[1] == "sentences":
        sentences(Path(sys.argv[2]), numbers[0] if numbers else 16, numbers[1] if len(numbers) > 1 else None)
    elif sys.argv[1] == "choices":
        choices(Path(sys.argv[2]), numbers[0] if numbers else 4, numbers[1] if len(numbers) > 1 else 8)
    elif sys.argv[1] == "flown":
        flown(Path(sys.argv[2]), numbers[0] if numbers else 2)
    else:
        main(Path(sys.argv[2]), numbers[0] if numbers else 16)
