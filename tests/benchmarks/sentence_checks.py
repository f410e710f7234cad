"""What each kind of sentence promises, and whether it is so in the truth: `followed` takes the sentences, this reads them.

A pattern finds what a sentence names; a check does it in the truth. A sentence that no pattern knows is counted too, so that
none is passed over.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.good_enough import promised
from sweep.insight.limits import POOLED, share_bounds
from sweep.model.quantities import FLEW
from sweep.report.pages import levels
from tests.benchmarks.advice import Truth, counted
from tests.benchmarks.followed import Case, case_of, sentences_of, truly

DIGITS = 0.006
"""Share of a number that printing three digits of it may take."""


class Told(NamedTuple):
    """A sentence that was followed: what it is of, whether it held (NaN: it says that it does not know, or a fact of these
    flights), and what was lost by it as a share of the best score (NaN: nothing to build)."""

    kind: str
    held: float
    lost: float
    said: str


def between(low: str | float, value: float, high: str | float) -> float:
    """Whether a value lies in a printed interval, as far as its digits tell."""
    ends = float(low), float(high)
    room = DIGITS * max(map(abs, ends))
    return float(ends[0] - room <= value <= ends[1] + room)


def at_least(least: str | float, value: float) -> float:
    """Whether a value is no less than a printed one, as far as its digits tell."""
    return float(value >= float(least) * (1.0 - DIGITS) - 1e-12)


def share_said(words: str) -> float:
    """'a quarter', '15 %' as a number."""
    known = {"half": 0.5, "a third": 1 / 3, "a quarter": 0.25, "a tenth": 0.1}
    return known[words] if words in known else float(words.removesuffix(" %")) / 100.0


Match = re.Match[str]
Check = Callable[[Case, Match], tuple[float, float]]
FACT = np.nan, np.nan
"""Of a sentence that says what these flights were, or that something is not known: nothing to hold."""
PORTION = r"(?P<share>half|a third|a quarter|a tenth|[\d.]+ %)"
DESIGN = r"(?:[Dd]esign (?P<d>\d+)|[Tt]he base craft(?: \(design 0\))?)"
NUMBER = r"-?[\d.]+"


def span(of: str = "", more: str = "") -> str:
    """' (1.2 to 1.5)' and perhaps not; groups low and high."""
    return rf"(?: \((?P<low{of}>{NUMBER}) to (?P<high{of}>{NUMBER})\){more})?"


def which(match: Match) -> int:
    """The number of the named design; the base craft has none in its name."""
    return int(match["d"] or 0)


def held_by(match: Match, value: float, of: str = "") -> float:
    """Whether a printed interval holds a value; NaN where none is printed."""
    return between(match[f"low{of}"], value, match[f"high{of}"]) if match[f"low{of}"] else np.nan


def _fact(case: Case, match: Match) -> tuple[float, float]:
    return FACT


def _first(case: Case, match: Match) -> tuple[float, float]:
    first = which(match)
    held = held_by(match, case.true[first])
    if match["best"]:
        held = float(held and case.true[first] <= np.where(case.over, np.inf, case.true).min() + 1e-9)
    return held, case.lost(first)


def _over(case: Case, match: Match) -> tuple[float, float]:
    """The design that is named first truly keeps its limits."""
    return float(not case.over[which(match)]), np.nan


def _within(case: Case, match: Match) -> tuple[float, float]:
    """The first design is truly within that share of the best, of those that keep their limits."""
    lost = _promised_loss(case, _leader(case), "Unless it fails" in match.string)
    return float(lost <= share_said(match["share"]) + 1e-9), np.nan


def _promised_loss(case: Case, design: int, riding: bool) -> float:
    """What a design loses of what was promised: by its clean flights alone where that was of how it rides."""
    return float(case.truth.clean[design] / case.true[case.best] - 1.0) if riding else case.lost(design)


def _behind(case: Case, match: Match) -> tuple[float, float]:
    """The first design is truly no further behind the best of those that keep their limits."""
    gap = case.true[_leader(case)] - np.where(case.over, np.inf, case.true).min()
    return float(gap <= float(match["most"]) * (1.0 + DIGITS)), np.nan


def _leader(case: Case) -> int:
    return int(case.results.standings["design"].iloc[0])


def _unfailing(case: Case, match: Match) -> tuple[float, float]:
    """No more of the true flights fail, on average."""
    return float((case.truth.status != FLEW).mean() <= share_said(match["share"]) * (1.0 + DIGITS)), np.nan


def _group(case: Case, match: Match) -> tuple[float, float]:
    good = case.results.standings.loc[case.results.standings["good_enough"], "design"].to_numpy()
    worst = max(_promised_loss(case, int(each), "unless they fail" in match.string) for each in good)
    lost = max(case.lost(int(each)) for each in good)
    return float(worst <= share_said(match["share"]) + 1e-9 and not case.over[good].any()), lost


def _fails(case: Case, match: Match) -> tuple[float, float]:
    """Each of the good enough truly fails no more often."""
    good = case.results.standings.loc[case.results.standings["good_enough"], "design"].to_numpy()
    return float((case.truth.status[good] != FLEW).mean(axis=(1, 2)).max() <= share_said(match["share"])), np.nan


def _cost(case: Case, match: Match, column: str) -> tuple[float, float]:
    """The cheapest, the lightest: within the share that is promised, and no other of the group has less."""
    good = case.results.standings.loc[case.results.standings["good_enough"]]
    chosen, riding = which(match), bool(good["failing_high"].notna().any())
    least = case.results.designs.loc[good["design"], column].min()
    right = case.results.designs.loc[chosen, column] <= least + 1e-9
    return float(right and _promised_loss(case, chosen, riding) <= promised(good) + 1e-9), case.lost(chosen)


def _cheapest(case: Case, match: Match) -> tuple[float, float]:
    return _cost(case, match, "price")


def _lightest(case: Case, match: Match) -> tuple[float, float]:
    return _cost(case, match, "mass")


def _more(case: Case, match: Match) -> tuple[float, float]:
    """More replicates would show which are within a share: those of the truth do, or they show that none is."""
    share, table = share_said(match["share"]), case.whole[case.whole["verdict"] != "broken"]
    near = table["riding_high" if case.results.standings["failing_high"].notna().any() else "above_high"] <= share
    return float(near.sum() > 1 or bool((near | (table["above_low"] >= share)).all())), np.nan


def _sure_gain(case: Case, match: Match) -> tuple[float, float]:
    return at_least(match["least"], case.true[0] - case.true[which(match)]), np.nan


def _broken(case: Case, match: Match) -> tuple[float, float]:
    """Refused designs truly break a limit, all but those that 95 % confidence in each allows."""
    refused = case.results.standings.loc[case.results.standings["verdict"] == "broken", "design"]
    return float(case.over[refused].mean() >= 0.95), np.nan


def _may_be(case: Case, match: Match) -> tuple[float, float]:
    may = case.results.standings.loc[case.results.standings["may_be_best"], "design"].to_numpy()
    return float(case.best in may), np.nan


def _place(case: Case, match: Match) -> tuple[float, float]:
    """The true place among those that are ranked here, by score alone, as the places' intervals are."""
    chosen = int(match["of"])
    ranks = case.results.standings.loc[case.results.standings["verdict"] != "broken", "design"].to_numpy()
    place = 1 + int((case.true[ranks] < case.true[chosen] - 1e-9).sum())
    first, last = int(match["from"] or match["place"]), int(match["to"] or match["place"])
    return float(first <= place <= last and bool(np.nan_to_num(held_by(match, case.true[chosen]), nan=1.0))), np.nan


def _better(case: Case, match: Match) -> tuple[float, float]:
    gain = case.true[0] - case.true[int(match["of"])]
    return held_by(match, gain if match["way"] == "better" else -gain), np.nan


def _bound(case: Case, match: Match) -> tuple[float, float]:
    """'Touchdowns: 2 /min against 6 /min allowed, but up to 7 /min is possible': the true rate is no more."""
    name, chosen = match["limit"].lower().replace(" ", "_"), int(match["of"])
    if name not in case.truth.campaign.limits:
        return FACT
    table = case.results.limits
    mine = (table["design"] == chosen) & (table["condition"] == POOLED) & (table["response"] == name)
    counts = counted(case.truth)
    events, exposure = counts.events[name][chosen].sum(), counts.exposure[name][chosen].sum()
    return float(events / exposure <= table.loc[mine, "high"].iloc[0]), np.nan


def _build(case: Case, match: Match) -> tuple[float, float]:
    return held_by(match, case.true[which(match)]), case.lost(which(match))


def _build_gain(case: Case, match: Match) -> tuple[float, float]:
    return held_by(match, case.true[0] - case.true[int(case.results.builds.iloc[0]["design"])]), np.nan


def _step(case: Case, match: Match) -> tuple[float, float]:
    """One step off along the named factor truly costs that: the mean of both sides; lost: what another would cost more."""
    chosen = int(case.results.builds.iloc[0]["design"])
    costs = {label: _off(case, label, chosen) for label, factor in case.truth.campaign.factors.items() if factor.kind == "set"}
    cost = costs[label_of(case, match["factor"])]
    return held_by(match, cost), (np.nanmax(list(costs.values())) - cost) / case.true[chosen]


def _off(case: Case, label: str, chosen: int) -> float:
    """What one step off along a factor truly costs a design, the mean of both sides."""
    designs, factors = case.truth.designs, case.truth.campaign.factors
    others = [each for each in factors if each != label]
    line = designs.index[(designs[others] == designs.loc[chosen, others]).all(axis=1) & (designs.index > 0)]
    if not pd.api.types.is_numeric_dtype(designs[label]):
        return np.nan
    line = line[np.argsort(designs.loc[line, label].to_numpy(), kind="stable")]
    at = line.get_loc(chosen)
    beside = [line[place] for place in (at - 1, at + 1) if 0 <= place < len(line)]
    return float(case.true[beside].mean() - case.true[chosen]) if beside else np.nan


def _good_settings(case: Case, match: Match) -> tuple[float, float]:
    """So many settings are truly within that share of the build's best: as many as are said, within a quarter of all."""
    build = case.results.builds.iloc[0]
    built = [label for label, factor in case.truth.campaign.factors.items() if factor.kind == "built"]
    same = (case.truth.designs[built] == case.truth.designs.loc[build["design"], built]).all(axis=1)
    rows = case.truth.designs.index[same & (case.truth.designs.index > 0)]
    share = 1.0 + share_said(match["share"])
    good = int(((case.true[rows] <= share * case.true[rows].min()) & ~case.over[rows]).sum())
    return float(abs(good - int(match["good"])) <= max(1.0, 0.25 * int(match["all"]))), np.nan


def label_of(case: Case, name: str) -> str:
    """The label of the factor that a sentence calls so."""
    called = {factor.name.lower(): label for label, factor in case.truth.campaign.factors.items()}
    return called.get(name.lower(), name)


def _shares(case: Case) -> tuple[pd.DataFrame, str]:
    """The true shares of factors by themselves, by factor, and which of both shares orders them."""
    rows = case.effects[case.effects["beside"] == ""].set_index("factor")
    return rows, "total" if rows["total"].notna().all() else "share"


def _most(case: Case, match: Match) -> tuple[float, float]:
    """The factor truly accounts for most, and its shares, and that of the next, are in their intervals."""
    (rows, key), most = _shares(case), label_of(case, match["factor"])
    held = [rows[key].idxmax() == most, held_by(match, 100.0 * rows.loc[most, key])]
    held.append(held_by(match, 100.0 * rows.loc[most, "share"], "2"))
    if match["next"]:
        held.append(held_by(match, 100.0 * rows.loc[label_of(case, match["next"]), key], "3"))
    return float(np.nanmin(np.array(held, dtype=float))), np.nan


def _open_most(case: Case, match: Match) -> tuple[float, float]:
    rows, key = _shares(case)
    named = re.findall(r"(?:, | and |^)(.+?) with [\d.]+ % \((\d+) to (\d+)\)", match["named"])
    found = [(label_of(case, name), low, high) for name, low, high in named]
    held = rows[key].idxmax() in {label for label, _, _ in found} or "others" in match["named"]
    return float(held and all(between(low, 100.0 * rows.loc[label, key], high) for label, low, high in found)), np.nan


def _idle(case: Case, match: Match) -> tuple[float, float]:
    rows, key = _shares(case)
    named = [label_of(case, each) for each in re.split(r", | and ", match["named"])]
    return float((rows.loc[named, key] < share_said(match["share"])).all()), np.nan


def _interaction(case: Case, match: Match) -> tuple[float, float]:
    rows = case.effects[case.effects["beside"] != ""].set_index(["factor", "beside"])["share"]
    return held_by(match, 100.0 * rows[label_of(case, match["one"]), label_of(case, match["two"])]), np.nan


def _levels(case: Case, label: str, beside: bool = False) -> pd.DataFrame:
    rows = case.levels[(case.levels["factor"] == label) & ((case.levels["beside"] != "") == beside)]
    return rows.assign(name=[levels._value(case.results, label, int(place)) for place in rows["level"]])


def _best_level(case: Case, match: Match) -> tuple[float, float]:
    rows = _levels(case, label_of(case, match["factor"]))
    held = at_least(match["least"], -float(rows.set_index("name")["behind"][match["level"]]))
    if "So it is at each" in match["rest"]:
        cells = _levels(case, label_of(case, match["factor"]), beside=True)
        held *= float((cells.loc[cells["name"] == match["level"], "behind"].dropna() < 0.0).all())
    return held * _changes(case, label_of(case, match["factor"]), match["rest"]), np.nan


def _open_level(case: Case, match: Match) -> tuple[float, float]:
    """The best is among those that may be it; those that are said to be worse are, by so much. Where levels are only counted,
    or nothing more is said, there is nothing to hold but that."""
    rows = _levels(case, label_of(case, match["factor"])).dropna(subset=["behind"]).set_index("name")["behind"]
    held = 1.0 if match["may"].isdigit() else float(rows.idxmin() in re.split(r", | or ", match["may"]))
    if worse := re.match(rf"; (.*?) (?:is|are) surely worse, by ({NUMBER}) or more", match["rest"]):
        named = [each for each in re.split(r", | and ", worse[1]) if each != "others"]
        held *= float(all(at_least(worse[2], rows[each]) for each in named))
    return held * _changes(case, label_of(case, match["factor"]), match["rest"]), np.nan


def _changes(case: Case, label: str, rest: str) -> float:
    """'It changes with b: surely the best is x with 1 and 2 (by 0.1 or more) and y with 3 (by 0.2 or more).'"""
    cells = _levels(case, label, beside=True)
    for other, said in re.findall(r"It changes with (.*?): surely the best is (.*?\))\.(?= |$)", rest):
        for part in re.split(r"(?<=or more\))(?:, | and )", said):
            level, places, least = re.fullmatch(rf"(.*?) with (.*) \(by ({NUMBER}) or more\)", part).groups()  # type: ignore[union-attr]
            other = label_of(case, other)
            mine = cells[(cells["beside"] == other) & (cells["name"] == level)]
            there = [
                levels._value(case.results, other, int(at)) in re.split(r", | and ", places) for at in mine["beside_level"]
            ]
            if not all(at_least(least, -behind) for behind in mine.loc[there, "behind"]):
                return 0.0
    return 1.0


def _fails_with(case: Case, match: Match) -> tuple[float, float]:
    """The level that failing goes with truly has more of it than the other levels."""
    if not match["with"]:
        return FACT
    factors = case.truth.campaign.factors
    found = next(label for label, factor in factors.items() if match["with"].startswith((f"{label} ", f"{factor.name} ")))
    said = match["with"].removeprefix(f"{found} ").removeprefix(f"{factors[found].name} ")
    level = next(each for at, each in enumerate(factors[found].levels) if levels._value(case.results, found, at) == said)
    fails, has = (case.truth.status != FLEW).mean(axis=(1, 2))[1:], (case.truth.designs[found] == level).to_numpy()[1:]
    return float(fails[has].mean() > fails[~has].mean()), np.nan


def _knee(case: Case, match: Match) -> tuple[float, float]:
    """By the knee a reader loses what another design that costs no more truly scores less: within a tenth it holds."""
    if "score" not in match["both"] or not match["d"]:
        return FACT
    chosen = which(match)
    costs = case.truth.designs["price" if "price" in match["both"] else "mass"].to_numpy()
    within = (costs <= costs[chosen] + 1e-9) & ~case.over
    lost = float(case.true[chosen] / case.true[within].min(initial=case.true[chosen]) - 1.0)
    return float(lost <= 0.1), lost


GAIN = rf"(?P<gain>{NUMBER}){span()}"
SCORE = rf"its score is {NUMBER}{span()}"
PERCENT = rf"{NUMBER} %"
ANYWHERE = r"(?: \(anywhere from (?P<from>\d+) to (?P<to>\d+)\))?"
CHECKS: tuple[tuple[str, str, Check], ...] = (
    ("first place", rf"{DESIGN} (?:comes first|(?P<best>is the best)) of .*?; {SCORE}, and less is", _first),
    ("first keeps its limits", rf"{DESIGN} (?:comes first|is the best) of .*?; its score is", _over),
    ("only one left", rf"{DESIGN} is the only one of", _over),
    (
        "surely better than the base",
        rf"{DESIGN} is surely better than the base craft: .* at least (?P<least>{NUMBER}), (?:unless|what so few)",
        _sure_gain,
    ),
    ("better, not surely", rf"{DESIGN} is {NUMBER} better than the base craft in these flights, (?:but not|and one)", _fact),
    ("base craft first", r"The base craft (?:itself comes first|scores)", _fact),
    ("good enough", rf".* good enough(?: unless they fail)?: surely within {PORTION} of the best score", _group),
    ("failing at most", rf"How often they fail is known less well.* surely fails in less than {PORTION} of", _fails),
    ("first within", rf"(?:It|Unless it fails, it) is surely within {PORTION} of the best score", _within),
    ("first behind", r"It may still be behind another design, by up to (?P<most>\d+(?:\.\d+)?)\.", _behind),
    ("first behind, not known", r"How far it may still be behind the best is not known", _fact),
    ("did not fly on", rf"{DESIGN} (?:scores {NUMBER} better in the flights that both|has flown \d+ flights, others)", _fact),
    ("too wide to choose", r"That is too wide to choose by cost or strength", _fact),
    ("no flight failed", rf"None of the .* On average fewer than {PORTION} of flights fail", _unfailing),
    ("good enough not known", r"Which designs are good enough is not known", _fact),
    ("more replicates", rf"More replicates would show which are within {PORTION}\.", _more),
    ("cheapest", rf".*the cheapest is {DESIGN}", _cheapest),
    ("lightest", rf".*the lightest is {DESIGN}", _lightest),
    ("has", r"It has ", _fact),
    ("limits not yet known", r"Whether it keeps every limit is not yet known", _fact),
    ("refused", r".* broke a limit and ha(?:s|ve) no place", _broken),
    ("refused", r"Each of the .* designs broke a limit", _broken),
    (
        "may be the best",
        r"(?:May be the best, by these flights|\w+ designs may be the best|.* is the best of (?:all|the final) in the waves)",
        _may_be,
    ),
    ("place", rf"Design (?P<of>\d+): Place (?P<place>\d+){ANYWHERE}; {SCORE}\.", _place),
    ("gain on its page", rf"Design (?P<of>\d+): Its score is {NUMBER}{span()} (?P<way>better|worse) than the base", _better),
    ("one of the good", r"Design \d+: It is one of", _fact),
    ("limit's bound", r"Design (?P<of>\d+): (?P<limit>[\w ]+?): .* but up to", _bound),
    ("mass", r"Design \d+: It has a ", _fact),
    ("no bound yet", r"Design \d+: .*(?:there is no bound yet|Refused)", _fact),
    (
        "build",
        rf"(?:Build \d+, best as {DESIGN},|The base craft as it stands) (?:comes first|is the best) of .*?; {SCORE}",
        _build,
    ),
    ("build's gain", rf"It gains {GAIN} over the base craft", _build_gain),
    ("no build beats", r"No build beats|The base craft scores|Every build broke", _fact),
    ("good settings", rf"(?P<good>\d+) of its (?P<all>\d+) settings are good: within {PORTION}", _good_settings),
    (
        "a step off",
        r"(?:Its most sensitive setting is|None of its settings is surely sensitive; the costliest is) "
        rf"(?P<factor>[^:]+?): one step off costs {GAIN}",
        _step,
    ),
    ("flatters", r"On the same flights that chose", _fact),
    (
        "failing",
        r"\d+ of .* designs fails?: .*?(?:most clearly with (?P<with>.*?): .*? of \d+ designs that have it)?\. What matters",
        _fails_with,
    ),
    (
        "matters most",
        rf"The score depends most on (?P<factor>[^:]+?): {PERCENT}{span()} of the spread of the designs is due to it "
        rf"(?:with its interactions, {PERCENT}{span('2')} to it )?alone(?:; next is (?P<next>\S+), {PERCENT}{span('3')})?",
        _most,
    ),
    ("matters most, open", r"The score depends most on (?P<named>.*) of the spread: which", _open_most),
    ("does next to nothing", rf".*\. (?P<named>.*?) do(?:es)? next to nothing, surely under {PORTION}\.", _idle),
    ("interaction", rf"The strongest interaction is that of (?P<one>\S+) and (?P<two>\S+): {PERCENT}{span()}", _interaction),
    (
        "nothing is told",
        r"(?:No factor can be|Scores of designs differ|What matters is not|This plan|A full factorial|With one replicate|"
        r"Not every design flew)",
        _fact,
    ),
    (
        "best level",
        rf"(?P<factor>[^:]+?): (?P<level>.*?) is the best of .*?, surely by (?P<least>{NUMBER}) or more\.(?P<rest>.*)",
        _best_level,
    ),
    (
        "open level",
        r"(?P<factor>[^:]+?): which of its levels does best on average cannot be told: (?P<may>.*?) may be it(?P<rest>.*)",
        _open_level,
    ),
    ("knee", rf".* on the front of (?P<both>.*?): from .*?(?:Its knee is {DESIGN} |It has no knee)", _knee),
    ("nothing to trade", r".*there is nothing to trade|No design kept its limits", _fact),
)
"""Kind, pattern at the start of a sentence, check. A sentence may have more than one kind."""


def follow_all(case: Case) -> Iterator[Told]:
    """Every check of every sentence; a sentence that none knows counts as not followed."""
    for page, said in sentences_of(case.results):
        known = False
        for kind, pattern, check in CHECKS:
            if match := re.match(pattern, said):
                known = True
                yield Told(kind, *check(case, match), said)
        if not known:
            yield Told(f"not followed, {page}", np.nan, np.nan, said)


def table_of(truth: Truth, replicates: int, most: int) -> pd.DataFrame:
    """Every sentence of the small campaigns that a truth is cut into: kind, held, lost, said, cut."""
    known, rows = truly(truth), []
    for at in range(min(truth.scores.shape[2] // replicates, most)):
        cut = truth.some(slice(at * replicates, (at + 1) * replicates))
        rows += [{**each._asdict(), "cut": at} for each in follow_all(case_of(truth, cut, known))]
    return pd.DataFrame(rows)


def summary(table: pd.DataFrame) -> Iterator[str]:
    """A line a kind of sentence: how many were printed, how many held with the 95 % binomial interval, what was lost."""
    for kind, rows in table.groupby("kind", sort=False):
        held, lost = rows["held"].dropna(), rows["lost"].dropna()
        said = f"{kind}: {len(rows)} printed"
        if len(held):
            low, high = share_bounds(np.array([held.sum()]), np.array([float(len(held))]), 0.975)
            said += f", {int(held.sum())} of {len(held)} held ({100 * low[0]:.0f} to {100 * high[0]:.0f} %)"
        if len(lost):
            said += f", lost {100 * lost.mean():.1f} % on average, {100 * lost.max():.1f} % at most"
        yield said
        if kind.startswith("not followed"):
            yield f"    such as: {rows['said'].iloc[0]}"
        elif len(held) and held.mean() < 0.95:
            yield f"    did not hold: {rows.loc[rows['held'] < 1.0, 'said'].iloc[0]}"
