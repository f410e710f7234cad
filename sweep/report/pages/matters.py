"""The page of what matters: which factors the responses hang on, which of them together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import significant, unbuilt
from sweep.insight.findings import FAILING, SCORE
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.matters import FAILS, Method, failing, method_of
from sweep.insight.scores import CAP
from sweep.insight.shares import FEWEST_IN_A_CLASS
from sweep.model.quantities import RESPONSE, STOPPED
from sweep.report.charts.matters import effect_shares, level_means
from sweep.report.charts.matters import together as pair_lines
from sweep.report.display import Column, factor_columns
from sweep.report.embed import Files, as_csv, as_spec, data_script
from sweep.report.headline import all_together
from sweep.report.page import Chart, Made, Material
from sweep.report.pages.levels import anchor, level_sentences, level_text, most_failing, name_of, told_of
from sweep.report.pages.robust import Robustness, robustness
from sweep.words.numbers import count, number, portion, pretty, spelled
from sweep.words.phrases import listed, sentence, together
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results

ALONE, JOINTLY = "alone", "with its interactions"
MOST_PAIRS = 8  # rows: judgement
HOLES = (
    "A flight without a number for a quantity counts there as the worst that was seen in its condition; in the score it "
    f"counts as {spelled(round(CAP))} points."
)
SMALL = 0.01  # share of the spread, under which nothing is told of an interaction: judgement
MOST_RIVALS = 4  # factors that a sentence names: judgement
UNTOLD = 0.9  # width of an interval, as a share of the spread, that tells nothing of a factor: judgement
IDLE = 0.05  # share of the spread, surely under which a factor does next to nothing: judgement

HOW = {
    "factorial": (
        "Every level was flown with every other, so designs can be compared that are alike in all but one factor. What differs "
        "between them is what this factor does with its interactions; what differs in the same way whatever the other factors "
        "are is what it does alone. Intervals are over the waves of the replicates, and hold together for all factors with "
        f"{CONFIDENCE_SAID} confidence. All designs met the same waves, so their effect drops out."
    ),
    "sampled": (
        "The plan is variance-based: first and total shares (Sobol indices) from its two samples and their mixtures, with "
        "intervals over the designs drawn and the waves they met, which hold together for all factors with "
        f"{CONFIDENCE_SAID} confidence. The gap between the two marks of a factor is what it does only together with others."
    ),
    "classes": (
        "The plan spreads its designs over all factors at once. The means of classes of designs show what each factor does "
        "alone, but not what factors do together: for that take a full factorial or a variance-based plan. "
        "Intervals are over the designs drawn and the waves they met, and hold together for all factors with "
        f"{CONFIDENCE_SAID} confidence."
    ),
}
RULED = "Designs that break a rule of the campaign did not fly: what matters is told among those that it allows."
APART = "Where designs are left out, shares of factors overlap, and may add up to more than the whole."
SOME = "Not every design flew everything: these are effects in the waves that every design which flies met."

UNFLOWN = "not every design was flown through every condition"


class Quantity(NamedTuple):
    """A quantity whose effects are known: its key in the charts' tables, its name and its unit."""

    key: str
    title: str
    unit: str


class Pairs(NamedTuple):
    """Of one quantity, the pairs of factors that account for most of it beyond each alone, with their shares."""

    key: str
    title: str
    rows: list[tuple[str, str]]


@dataclass(frozen=True)
class Effects:
    """What the quantities hang on: the chart of shares, those along each factor, and factors together.

    how: by which method; levels: an anchor and a sentence a factor, of its level that does best; holes: what a flight
    without a number counts as; pair: None where no pair is known.
    """

    how: str
    levels: list[tuple[str, str]]
    holes: str
    responses: list[Quantity]
    shares: Markup
    means: list[Chart]
    pair: Chart | None
    pairs: list[Pairs]


@dataclass(frozen=True)
class MattersPage:
    """Which factors the quantities hang on, and what a leader bears; data: the scripts of its charts' tables."""

    sentences: list[str]
    data: list[str]
    effects: Effects | None
    robustness: Robustness | None


def make(material: Material) -> Made:
    """The page, and what its charts and its CSV files hold."""
    results = material.results
    effects, files = _effects(results)
    robust, more = robustness(results)
    files |= more
    data = [name.removeprefix("data/").removesuffix(".js") for name in files if name.endswith(".js")]
    return Made(MattersPage(sentences(results), data, effects, robust), files)


def _effects(results: Results) -> tuple[Effects | None, Files]:
    """What the quantities hang on, None where no effect is known; and the files of it."""
    responses = told(results)
    if not responses:
        return None, {}
    shares, levels, pair = share_table(results), level_table(results), pair_table(results)
    apart = APART if _failing(results) or ruled_out(results) else ""
    hows = [how for how in (ALONE, JOINTLY) if (shares["how"] == how).any()]
    files = data_script("effects", shares) | as_csv("effects", effect_csv(results))
    if len(levels):
        files |= data_script("levels", levels) | as_csv("levels", level_csv(results, levels))
    if pair is not None:
        rows = pair[1]
        files |= data_script("pair", rows) | as_csv(
            "pair", rows[["across", "beside", "score"]], {"across": pair[0][0].csv_heading, "beside": pair[0][1].csv_heading}
        )
    return Effects(
        how=" ".join(filter(None, [HOW.get(method(results).kind, ""), apart])),
        levels=[(anchor(results, label), said) for label, said in zip(told_of(results), level_sentences(results), strict=True)],
        holes=HOLES,
        responses=[Quantity(name, title(name), _unit(name)) for name in responses],
        shares=as_spec(effect_shares(shares, hows), "effects"),
        means=_means(results, levels) if len(levels) else [],
        pair=_pair_chart(pair) if pair else None,
        pairs=[pairs for name in responses if (pairs := _strongest(results, name)).rows],
    ), files


def _means(results: Results, levels: pd.DataFrame) -> list[Chart]:
    return [
        Chart(f"along-{column.key}", f"Along {column.title}", as_spec(level_means(levels, column), "levels"))
        for column in factor_columns(results.campaign, results.designs).values()
        if (levels["key"] == column.key).any()
    ]


def _pair_chart(pair: tuple[tuple[Column, Column], pd.DataFrame]) -> Chart:
    (across, beside), rows = pair
    title = f"The score along {across.title} at each {beside.title}"
    return Chart("pair", title, as_spec(pair_lines(rows, across, beside), "pair"))


def _strongest(results: Results, response: str) -> Pairs:
    rows = _pairs(results, response).head(MOST_PAIRS)
    return Pairs(
        response,
        title(response),
        [
            (f"{name_of(results, row['factor'])} and {name_of(results, row['beside'])}", _percent(row, "share"))
            for _, row in rows.iterrows()
        ],
    )


def method(results: Results) -> Method:
    """How the effects of these results were estimated; with the reason if they were not."""
    found = method_of(results.campaign, results.designs)
    if found.kind == "none" or len(_alone(results, SCORE)):
        return found
    flying = len(results.designs) - 1 - _failing(results)
    if flying < FEWEST_IN_A_CLASS:
        return Method("none", f"only {count(flying, 'design flies', 'designs fly')}, too few to tell")
    return Method("none", UNFLOWN)


def ruled_out(results: Results) -> int:
    """How many designs of the plan its rules left out."""
    return unbuilt(results.campaign).broken


def _failing(results: Results) -> int:
    """How many designs fail, but for the base craft."""
    rows = results.standings[results.standings["design"] != 0]
    return int(failing(rows["failed"].to_numpy()).sum())


def sentences(results: Results) -> list[str]:
    """Which factor matters most, which designs are left out of that for they fail, and how these shares come about."""
    found = method(results)
    if found.kind == "none":
        allows = method_of(results.campaign, results.designs).kind != "none"
        if allows:
            return [f"What matters is not known: {found.reason}.", *_failing_sentences(results)]
        return [f"This plan cannot show what matters: {found.reason}.", "A full factorial or a variance-based plan can."]
    said = [_most(results, found), *_failing_sentences(results), *([RULED] if ruled_out(results) else [])]
    pairs = _pairs(results, SCORE)
    if len(pairs) and pairs["share"].iloc[0] >= SMALL and not pairs["low"].iloc[0] < SMALL:
        first = pairs.iloc[0]
        said.append(
            f"The strongest interaction is that of {name_of(results, first['factor'])} and "
            f"{name_of(results, first['beside'])}: "
            f"{_percent(first, 'share')} of the spread."
        )
    if results.campaign.replicates < 2:
        said.append("With one replicate it is not known how sure these shares are, nor what chance adds to them.")
    if results.standings["flights"].nunique() > 1 and results.campaign.budget:
        said.append(SOME)
    return said


def _failing_sentences(results: Results) -> list[str]:
    """How many designs fail, and what goes with that; nothing if none does."""
    some, all_ = _failing(results), len(results.designs) - 1
    if not some:
        return []
    fail = "fails" if some == 1 else "fail"
    stopped = ", were stopped by the boat's own code" if results.column("status").isin(STOPPED).any() else ""
    said = f"{some} of {count(all_, 'design', 'designs')} {fail}: {portion(FAILS)} or more of the flights ended early{stopped}"
    return [f"{said} or did not start{most_failing(results)}. What matters is told among the others."]


def _most(results: Results, found: Method) -> str:
    """Which factors matter most, as far as that is sure, and which hardly do."""
    rows = _alone(results, SCORE)
    rows = rows.assign(factor=[name_of(results, label) for label in rows["factor"]])
    known = rows.dropna(subset=["share"])
    if known.empty:
        return f"Scores of designs differ by no more than chance: no factor can be seen to matter.{all_together(results)}"
    total = found.kind != "classes" and known["total"].notna().all()
    key, low, high = ("total", "total_low", "total_high") if total else ("share", "low", "high")
    rows = known.sort_values(key, ascending=False, kind="stable")
    first, others = rows.iloc[0], rows.iloc[1:]
    untold = others[others[high] - others[low] > UNTOLD]
    rivals = others[(others[high] >= first[low]) & ~others["factor"].isin(untold["factor"])]
    idle = rows.loc[(rows[high] < IDLE) & (rows["factor"] != first["factor"]), "factor"].astype(str).tolist()
    rest = (
        f" {sentence(together(idle))} {'does' if len(idle) == 1 else 'do'} next to nothing, surely under {portion(IDLE)}."
        if idle
        else ""
    )
    if len(untold):
        rest += (
            f" How much {together(untold['factor'].astype(str).tolist())} {'does' if len(untold) == 1 else 'do'} is not known."
        )
    if not first[low] > 0.0 and math.isfinite(first[low]):
        none = f"No factor can be seen to matter in these flights: what {first['factor']} does may be chance."
        return f"{none}{rest}{all_together(results)}"
    if len(rivals):
        named = [
            f"{row['factor']} with {_percent(row, key)}"
            for _, row in pd.concat([first.to_frame().T, rivals]).head(MOST_RIVALS).iterrows()
        ]
        named += ["others"] if len(rivals) >= MOST_RIVALS else []
        return f"The score depends most on {listed(named)} of the spread: which of them most cannot be told.{rest}"
    apart = total and first["total"] - first["share"] >= SMALL
    said = f"The score depends most on {first['factor']}: {_percent(first, key)} of the spread of the designs is due to it"
    said += f" with its interactions, {_percent(first, 'share')} to it alone" if apart else " alone"
    told = others[~others["factor"].isin(untold["factor"])]
    if len(told):
        said += f"; next is {told.iloc[0]['factor']}, {_percent(told.iloc[0], key)}"
    return f"{said}.{rest}"


def _percent(row: pd.Series, key: str) -> str:
    """'80 % (76 to 85)': the interval in whole percents, rounded outward."""
    low, high = row["low" if key == "share" else "total_low"], row["high" if key == "share" else "total_high"]
    known = math.isfinite(low) and math.isfinite(high)
    between = f" ({math.floor(100.0 * low + 1e-9)} to {math.ceil(100.0 * high - 1e-9)})" if known else ""
    return f"{number(100.0 * row[key], 2)} %{between}"


def _alone(results: Results, response: str) -> pd.DataFrame:
    rows = results.effects
    return rows[(rows["response"] == response) & (rows["beside"] == "")] if len(rows) else rows


def _pairs(results: Results, response: str) -> pd.DataFrame:
    """Pairs of factors, the strongest first."""
    rows = results.effects
    pairs = rows[(rows["response"] == response) & (rows["beside"] != "")].dropna(subset=["share"])
    return pairs.sort_values("share", ascending=False, kind="stable")


def told(results: Results) -> list[str]:
    """The score and the responses whose effects are known, in order; those that never differ are left out."""
    known = results.effects.dropna(subset=["share"]) if len(results.effects) else results.effects
    return list(dict.fromkeys(known["response"])) if len(known) else []


def title(response: str) -> str:
    """What a response is called on the page."""
    return {SCORE: "score", FAILING: "share of flights that fail, of all designs"}.get(response) or response_title(response)


def _unit(response: str) -> str:
    return pretty(RESPONSE[response].unit) if response in RESPONSE else ""


def share_table(results: Results) -> pd.DataFrame:
    """Shares in % as the chart takes them: response, factor, how (alone or jointly), share, low, high."""
    rows = results.effects[(results.effects["beside"] == "") & results.effects["response"].isin(told(results))]
    parts = []
    for how, names in ((ALONE, ("share", "low", "high")), (JOINTLY, ("total", "total_low", "total_high"))):
        values = {name: (100.0 * rows[each]).astype(float) for name, each in zip(("share", "low", "high"), names, strict=True)}
        parts.append(rows[["response"]].assign(factor=[name_of(results, each) for each in rows["factor"]], how=how, **values))
    table = pd.concat(parts).dropna(subset=["share"])
    for name in ("share", "low", "high"):
        table[name] = significant(table[name], 3)
    return table.sort_values(["response", "share"], ascending=[True, False], kind="stable").reset_index(drop=True)


def level_table(results: Results) -> pd.DataFrame:
    """Means at each level in shown units: response, key (of the factor's column), level (as text), place, mean, low, high."""
    rows = results.levels
    if rows.empty:
        return pd.DataFrame(columns=["response", "key", "level", "place", "mean", "low", "high"])
    columns = factor_columns(results.campaign, results.designs)
    alone = rows[(rows["beside"] == "") & rows["response"].isin(told(results)) & rows["mean"].notna()]
    table = pd.DataFrame({"response": alone["response"], "key": [columns[label].key for label in alone["factor"]]})
    table["level"] = [level_text(results, label, place) for label, place in zip(alone["factor"], alone["level"], strict=True)]
    table["place"] = alone["level"]
    return _scaled(table, alone).reset_index(drop=True)


def _scaled(table: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    scale = np.array([RESPONSE[name].scale if name in RESPONSE else 1.0 for name in rows["response"]])
    return table.assign(**{name: significant(rows[name].astype(float) * scale) for name in ("mean", "low", "high")})


def pair_table(results: Results) -> tuple[tuple[Column, Column], pd.DataFrame] | None:
    """The score over the levels of the pair that hangs together most, or None.

    Returns both columns, and rows across, beside (levels as text), order, line (their places), score.
    """
    pairs = _pairs(results, SCORE) if len(results.effects) else results.effects
    if pairs.empty or results.levels.empty:
        return None
    one, two = pairs.iloc[0]["factor"], pairs.iloc[0]["beside"]
    if len(results.campaign.factors[two].levels) > len(results.campaign.factors[one].levels):
        across, beside, keys = two, one, ("beside_level", "level")
    else:
        across, beside, keys = one, two, ("level", "beside_level")
    rows = results.levels
    rows = rows[(rows["response"] == SCORE) & (rows["factor"] == one) & (rows["beside"] == two) & rows["mean"].notna()]
    words = [
        {place: level_text(results, label, place) for place in rows[key].unique()}
        for label, key in zip((across, beside), keys, strict=True)
    ]
    table = pd.DataFrame(
        {
            "across": rows[keys[0]].map(words[0]).to_numpy(),
            "beside": rows[keys[1]].map(words[1]).to_numpy(),
            "order": rows[keys[0]].to_numpy(),
            "line": rows[keys[1]].to_numpy(),
            "score": significant(rows["mean"].astype(float)).to_numpy(),
        }
    )
    columns = factor_columns(results.campaign, results.designs)
    return (columns[across], columns[beside]), table.sort_values(["line", "order"]).reset_index(drop=True)


def level_csv(results: Results, table: pd.DataFrame) -> pd.DataFrame:
    """The table of levels for CSV: factors by their labels, responses with their units."""
    labels = {column.key: label for label, column in factor_columns(results.campaign, results.designs).items()}
    units = {name: _unit(name) for name in table["response"].unique()}
    told = table.assign(factor=table["key"].map(labels), unit=table["response"].map(units))
    return told[["response", "unit", "factor", "level", "mean", "low", "high"]]


def effect_csv(results: Results) -> pd.DataFrame:
    """All effects for CSV: shares in %, size in the response's unit."""
    rows = results.effects
    if rows.empty:
        return rows
    unit = [_unit(name) for name in rows["response"]]
    scale = np.array([RESPONSE[name].scale if name in RESPONSE else 1.0 for name in rows["response"]])
    table = rows[["response", "factor", "beside"]].copy()
    for name in ("share", "low", "high", "total", "total_low", "total_high"):
        table[f"{name}, %"] = significant(100.0 * rows[name].astype(float))
    table["size"], table["unit of size"] = significant(rows["size"].astype(float) * scale), unit
    table["F"], table["degrees of freedom"], table["of chance"], table["p"] = (
        significant(rows[name].astype(float)) for name in ("f", "freedom", "rest", "p")
    )
    return table
