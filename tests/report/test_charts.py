"""Charts as specifications: made from tables, complete for readers, within the reach of a page without evaluation."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import pytest

from sweep.insight.events import KINDS
from sweep.report.charts import theme
from sweep.report.charts.builds import setting_curves
from sweep.report.charts.choices import choices
from sweep.report.charts.conditions import condition_scores
from sweep.report.charts.explore import explore
from sweep.report.charts.matters import effect_shares, level_means, together, tornado
from sweep.report.charts.ride import MARKS, panels, ride, signals
from sweep.report.charts.rides import DARK_UNDER, ride_map
from sweep.report.charts.stability import root_paths, wave_response
from sweep.report.charts.standings import GROUPS, score_intervals
from sweep.report.charts.tradeoffs import trade_off
from sweep.report.display import Column, design_table, ride_table, worth_exploring
from sweep.report.embed import with_signals
from sweep.report.pages import builds as of_builds
from sweep.report.pages import choosing as of_choosing
from sweep.report.pages import matters as of_matters
from sweep.report.pages import robust as of_robust
from sweep.report.pages import tradeoffs as of_tradeoffs
from sweep.report.pages.rides import ride_table as ride_table_of_map
from sweep.report.publishing import sources
from sweep.results.store import Results

LETTER_PIXELS = 7  # of a label of 12 px: judgement


def leaders(known: bool = True) -> pd.DataFrame:
    score = np.array([1.0, 1.2, 1.9])
    width = 0.1 if known else np.nan
    table = pd.DataFrame({"label": ["7", "12", "0"], "score": score, "group": GROUPS, "page": ""})
    return table.assign(score_low=score - width, score_high=score + width)


def spec(chart: alt.TopLevelMixin) -> dict[str, Any]:
    with alt.theme.enable("none"):
        made: dict[str, Any] = chart.to_dict()
    return made


def charts(told: Results) -> Iterator[dict[str, Any]]:
    columns, table = design_table(told)
    history = ride_table(told.leaders[0])
    yield spec(score_intervals(leaders()))
    yield spec(explore(table, worth_exploring(columns, table), columns[0], columns[3]))
    yield spec(condition_scores(pd.DataFrame({"name": ["a, b", "c"], "who": "design 1", "score": [1.0, 2.0]}), ("design 1",)))
    yield from (spec(ride(history, panel)) for panel in panels(history))
    modes = pd.DataFrame({"speed": [3.0, 4.0], "growth": [-1.0, 0.2], "frequency": [0.0, 2.0], "said": ["halves", "doubles"]})
    modes["motion"] = ["rolling", "up and down"]
    yield spec(root_paths(modes))
    waves = pd.DataFrame({"frequency": [0.5, 1.0], "heading": "head", "error": [0.2, 1.0]})
    seas = pd.DataFrame({"frequency": [0.5, 1.0], "sea": "chop", "share": [0.0, 1.0]})
    yield spec(wave_response(waves, "error", "error over wave height", ["head"], seas))
    boats = of_builds.build_table(told)
    yield spec(score_intervals(of_builds.chart_table(boats), "build"))
    factors, along = of_builds.setting_curves(told)
    yield from (spec(setting_curves(along, column, log)) for _, column in factors for log in (True, False))
    shares, levels = of_matters.share_table(told), of_matters.level_table(told)
    yield spec(effect_shares(shares, (of_matters.ALONE, of_matters.JOINTLY)))
    yield from (spec(level_means(levels, column)) for column in columns[:3])
    pair = of_matters.pair_table(told)
    assert pair is not None
    yield spec(together(pair[1], *pair[0]))
    robust = of_robust.robust_table(told)
    yield from (spec(tornado(robust, kind)) for kind in (of_robust.TOLERANCE, of_robust.CONDITION))
    quantities, traded = of_tradeoffs.quantities(told)
    yield spec(trade_off(traded, quantities, *of_tradeoffs.first_pair(quantities)))
    rides = ride_table_of_map(told)
    yield from (spec(ride_map(rides, heading)) for heading in rides["heading_name"].unique())


@pytest.fixture(scope="module")
def drawn(told: Results) -> list[dict[str, Any]]:
    return list(charts(told))


def encodings(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        if "encoding" in node:
            yield node["encoding"]
        for value in node.values():
            yield from encodings(value)
    elif isinstance(node, list):
        for value in node:
            yield from encodings(value)


def test_every_chart_has_a_text_alternative_and_titled_axes(drawn: list[dict[str, Any]]) -> None:
    for chart in drawn:
        assert len(chart["description"]) > 20
        for encoding in encodings({key: value for key, value in chart.items() if key != "usermeta"}):
            for channel in ("x", "y"):
                if "field" in encoding.get(channel, {}):
                    assert "title" in encoding[channel], encoding[channel]


def test_a_panel_marks_every_kind_of_event(told: Results) -> None:
    assert set(MARKS) == set(KINDS)
    history = ride_table(told.leaders[0])
    chart = spec(ride(history, panels(history)[0], "events-of-mine"))
    marked = [layer for layer in chart["layer"] if layer.get("data", {}).get("name") == "events-of-mine"]
    assert [layer["mark"]["type"] for layer in marked] == ["rule", "point"]
    assert all(layer["transform"] == [{"filter": "datum.condition == condition"}] for layer in marked)


def test_signals_of_a_panel_may_be_set_afterwards(told: Results) -> None:
    """So that the pages of all designs share one specification."""
    history = ride_table(told.leaders[0])
    panel, later = panels(history)[1], history[history["condition"] > 0]
    changed = with_signals(spec(ride(history, panel)), signals(later, panel))
    assert changed["params"] == spec(ride(later, panel))["params"]


def test_shares_darken_for_every_eye() -> None:
    """A sequential scale grows in luminance, so that it reads without hue; the key of the page shows the same colours."""
    steps = [luminance(colour) for colour in theme.SHARES]
    assert steps == sorted(steps)
    assert contrast(theme.SHARES[0], theme.SHARES[-1]) > 10.0
    sheet = (sources() / "parts" / "style.css").read_text(encoding="utf-8")
    assert f"linear-gradient(to right, {', '.join(theme.SHARES)})" in sheet


def between(share: float) -> str:
    """The colour of a share, interpolated as the chart does it."""
    place = share / 100.0 * (len(theme.SHARES) - 1)
    low = min(int(place), len(theme.SHARES) - 2)
    pair = [[int(colour[i : i + 2], 16) for i in (1, 3, 5)] for colour in theme.SHARES[low : low + 2]]
    return "#" + "".join(f"{round(a + (b - a) * (place - low)):02x}" for a, b in zip(*pair, strict=True))


@pytest.mark.parametrize("share", [0.0, 33.0, DARK_UNDER - 0.1, DARK_UNDER, 67.0, 100.0])
def test_words_in_a_cell_stand_out(share: float) -> None:
    """WCAG 2.2, 1.4.3: 4.5 for text."""
    assert contrast("#ffffff" if share < DARK_UNDER else "#000000", between(share)) > 4.5


def test_the_map_holds_every_height_and_the_speeds_that_have_a_trim(told: Results) -> None:
    """Speeds come from the rows that were flown: no column without a flight."""
    table = ride_table_of_map(told)
    chart = spec(ride_map(table, "it's \\ odd"))
    for layer in chart["layer"]:
        assert "domain" not in layer["encoding"]["x"]["scale"]
        assert layer["encoding"]["y"]["scale"]["domain"] == sorted(table["height"].unique(), reverse=True)
    assert "datum.share != null" in chart["transform"][0]["filter"]
    assert chart["transform"][0]["filter"].endswith("datum.heading_name == 'it\\'s \\\\ odd'")


def test_no_chart_reaches_outside_its_page(drawn: list[dict[str, Any]]) -> None:
    for chart in drawn:
        assert "url" not in str(chart["data"])
        assert chart["config"]["background"] == "transparent"


def test_colours_of_charts_are_colours_of_the_style_sheet() -> None:
    sheet = (sources() / "parts" / "style.css").read_text(encoding="utf-8")
    light, dark = sheet.split("prefers-color-scheme: dark")[:2]
    for name, value in theme.COLOURS.items():
        assert f"--{name}: " in light, name
        assert f"--{name}: " in dark, name
        if name in ("best", "base", *theme.LINES):
            assert f"--{name}: {value};" in light


def luminance(colour: str) -> float:
    """Relative luminance of sRGB: WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


LEAST_CONTRAST = {
    "ink": 7.0, "faint": 4.5, "link": 4.5, "best": 3.0, "kept": 3.0, "refused": 3.0, "base": 3.0, "alarm": 3.0,
    "water": 3.0, "line1": 3.0, "line2": 3.0, "line3": 3.0, "line4": 3.0,
}  # fmt: skip


@pytest.mark.parametrize("scheme", [0, 1])
def test_text_and_marks_stand_out_from_the_paper(scheme: int) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for marks that carry meaning (1.4.11); lines differ by their dashes as well."""
    sheet = (sources() / "parts" / "style.css").read_text(encoding="utf-8").split("prefers-color-scheme: dark")[scheme]
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", sheet))
    for name, least in LEAST_CONTRAST.items():
        assert contrast(colours[name], colours["paper"]) >= least, name


def test_intervals_that_are_not_known_leave_a_finite_axis() -> None:
    chart = spec(score_intervals(leaders(known=False)))
    assert chart["layer"][1]["encoding"]["x"]["scale"]["domain"] == [1.0, 1.9]
    assert spec(score_intervals(leaders().head(0)))["layer"][1]["encoding"]["x"]["scale"]["domain"] == [0.0, 1.0]


def test_every_column_of_the_linked_views_can_be_brushed(told: Results) -> None:
    columns, table = design_table(told)
    chosen = worth_exploring(columns, table)
    chart = spec(explore(table, chosen, chosen[0], chosen[3]))
    brushes = {param["name"] for param in chart["params"] if "select" in param}
    assert brushes == {"box", *(f"over_{column.key}" for column in chosen)}
    assert set(chart["usermeta"]["across"]) == set(chart["usermeta"]["up"]) == {column.key for column in chosen}
    scatter, histograms = chart["vconcat"]
    for marked in (scatter["layer"][1], *(histogram["layer"][1] for histogram in histograms["concat"])):
        (chosen_by,) = marked["transform"]
        assert set(re.findall(r"vlSelectionTest\('(\w+)_store', datum\)", chosen_by["filter"])) == brushes
    (counted,) = (param["expr"] for param in chart["params"] if param["name"] == "drawn")
    assert set(re.findall(r"length\(data\('(\w+)_store'\)\)", counted)) == brushes


def test_a_column_of_one_value_still_has_an_axis() -> None:
    table = pd.DataFrame({"design": [0], "label": "0", "group": "base craft", "page": "", "spread": 0.0, "score": 2.0})
    column = Column("score", "score", "", "standing")
    chart = spec(explore(table, [column], column, column))
    assert chart["usermeta"]["up"]["score"]["y"]["scale"]["domain"] == [1.5, 2.5]


def test_more_lines_than_colours_differ_in_their_dashes() -> None:
    names = [f"line {i}" for i in range(12)]
    colours, dashes = theme.line_scales(names)
    pairs = zip(colours.to_dict()["range"], dashes.to_dict()["range"], strict=True)
    looks = {(str(colour), str(dash)) for colour, dash in pairs}
    assert len(looks) == len(names)


def test_panels_follow_the_columns_that_there_are(told: Results) -> None:
    history = ride_table(told.leaders[0]).assign(hull_load=0.1)
    assert [panel.key for panel in panels(history)] == [
        "heights", "ride", "foils", "attitude", "speed", "throttle", "power", "load",
    ]  # fmt: skip
    assert "load" not in {panel.key for panel in panels(history.assign(hull_load=0.0))}, "nothing moves in it"
    assert next(panel for panel in panels(history) if panel.key == "foils").lines == {
        "foil_port": "port", "foil_starboard": "starboard", "foil_aft": "aft", "rudder": "rudder",
    }  # fmt: skip
    assert [panel.key for panel in panels(history[["condition", "time", "surface"]])] == ["heights"]


def test_a_panel_fits_each_condition_by_itself(told: Results) -> None:
    history = ride_table(told.leaders[0])
    chart = spec(ride(history, panels(history)[0]))
    spans = next(param["value"] for param in chart["params"] if param["name"] == "spans")
    for condition, rows in history.groupby("condition"):
        low, high = spans[str(condition)]
        assert low < rows["surface"].min() < rows["keel_height"].max() < high
    assert spans["0"] != spans["3"]


def test_a_load_that_is_not_there_in_a_condition_has_an_axis_from_zero(told: Results) -> None:
    history = ride_table(told.leaders[0])
    history["hull_load"] = (history["condition"] == 3).astype(float)
    chart = spec(ride(history, panels(history)[-1]))
    spans = next(param["value"] for param in chart["params"] if param["name"] == "spans")
    assert spans["0"] == [0.0, 0.5]


@pytest.mark.parametrize("other", [0.84634, 0.8463399, 0.8463351])
def test_the_axis_of_scores_has_a_length_where_all_are_drawn_alike(other: float) -> None:
    scored = pd.DataFrame({"design": [0, 1], "score": [0.84634, other]})
    assert of_choosing._clip(scored) > 1.01 * scored["score"].max()


def test_only_groups_that_there_are_have_a_sign() -> None:
    rows = pd.DataFrame(
        {"design": [0, 1], "label": ["0", "1"], "row": ["a", "b"], "at": 0.8, "score": 0.8, "group": ["base craft", "kept"]}
    )
    encoding = choices(rows, ["a", "b"], 0.8, 1.3).to_dict()["layer"][1]["encoding"]
    assert encoding["color"]["scale"]["domain"] == ["kept", "base craft"]


@pytest.mark.parametrize(
    ("name", "lines"),
    [("chop", 1), ("chop, head, 4 m/s", 3), ("chop, head, 4 m/s, start-and-turn, weed", 5), (f"{'m' * 40}, head, 4 m/s", 4)],
)
def test_a_row_of_a_condition_has_room_for_the_whole_lines_of_its_name(name: str, lines: int) -> None:
    rows = pd.DataFrame({"name": [f"{i}{name[1:]}" for i in range(5)], "who": "design 1", "score": 1.0})
    drawn = condition_scores(rows, ("design 1",)).to_dict()
    axis = drawn["encoding"]["y"]["axis"]
    wrapped = json.loads(axis["labelExpr"].removesuffix("[datum.label] || datum.label"))
    for each in rows["name"]:
        shown = wrapped.get(each, [each])
        assert len(shown) == lines
        assert "".join(shown) == each.replace(", ", "")
        assert max(map(len, shown)) * LETTER_PIXELS <= axis["labelLimit"]
    assert drawn["height"] / 5 >= lines * theme.LINE_PIXELS


@pytest.mark.parametrize("least", [1.292, 0.33333])
def test_the_designs_said_to_be_over_the_axis_are_over_the_number_that_is_said(least: float) -> None:
    """Scores just under and over three times the least: who filters the table by the printed number counts as many."""
    scores = least * np.array([1.0, 1.2, 2.9, 2.9975, 2.999, 3.0005, 3.001, 3.003, 3.3, 9.0])
    scored = pd.DataFrame({"design": range(10), "score": scores})
    clip = of_choosing._clip(scored)
    said = of_choosing._note(scored, scored.assign(group="kept"), clip, (), False)
    count, over = re.findall(r"(\d+) of 10 score over ([\d.]+),", said)[0]
    assert int(count) == (scores > float(over)).sum()
