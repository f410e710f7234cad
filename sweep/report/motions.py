"""What a design's page shows of its motions: how steady it is, and its recorded flights; their data as files beside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.flying.replay import sea_table
from sweep.insight.causes import name_causes
from sweep.insight.events import list_events
from sweep.model.flight import GROWS_FOR
from sweep.report.chapters import spectra_of
from sweep.report.charts.ride import Panel, panels, ride, signals
from sweep.report.charts.stability import root_paths, wave_response
from sweep.report.display import event_table, every_so_many, ride_headings, ride_table
from sweep.report.drawing_marks import replay_paper
from sweep.report.embed import Files, as_csv, as_json, as_spec, data_script, specification, with_signals
from sweep.report.pages import causes as of_causes
from sweep.report.pages import stability as of_stability

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results

MOST_IN_RIDE = 12_000  # rows of a history that a page takes: judgement
WINDOWS_S = (20, 10, 5, 2)  # judgement
FIRST_WINDOW_S = 10  # judgement
REPLAYED = ("x", "y", "heading", "keel_height", "surface", "ride_height", "pitch")


def stability_of(results: Results, design: int, craft: Craft) -> tuple[Files, dict[str, Any]]:
    """The data of a design's small motions, and what `stability.html` shows of them."""
    told = of_stability.tables(results, design, craft)
    modes, waves = told["modes"], told["waves"]
    files: Files = {}
    shown: dict[str, Any] = {"steady": told, "steady_data": [], "modes_chart": ""}
    if len(modes):
        name = f"modes-{design}"
        files |= {**data_script(name, modes), **as_csv(name, modes)}
        shown |= {"modes_chart": as_spec(root_paths(modes), name), "steady_data": [name]}
    if waves:
        name, table = f"waves-{design}", waves["table"]
        files |= {**data_script(name, table), **as_csv(name, table)}
        shown["steady_data"] = [*shown["steady_data"], name]
        for key, (response, title) in of_stability.WAVE_CHARTS.items():
            tall = waves["spectra"].assign(share=waves["spectra"]["share"] * float(table[response].max()))
            shown[key] = as_spec(wave_response(table, response, title, waves["names"], tall), name)
    return files, shown


def ride_of(results: Results, design: int, craft: Craft, seas: dict[int, pd.DataFrame]) -> tuple[Files, dict[str, Any]]:
    """The data of a design's recorded flights, and what `ride.html` shows of them."""
    recorded, flight = results.leaders[design], results.campaign.flight
    if recorded.empty:
        return {}, {"panels": [], "spectra": []}
    history, moving = ride_table(recorded), f"ride-{design}"
    shown = panels(history)
    drawn = dict.fromkeys([*(name for panel in shown for name in panel.lines), *(name for name in REPLAYED if name in history)])
    speeds = dict(zip(results.conditions["condition"], results.conditions["speed"], strict=True))
    listed = list_events(recorded, craft, flight.settle, flight.length, results.campaign.water.depth)
    told = name_causes(recorded, listed, craft, speeds)
    events = event_table(told)
    whole = float(history["time"].max())
    spectra_files, spectra = spectra_of(history, design, flight.settle)
    files = {
        **data_script(moving, every_so_many(history[["condition", "time", *drawn]], MOST_IN_RIDE), "ride"),
        **data_script(f"sea-{design}", sea_table(seas, recorded, flight.settle), "sea"),
        **data_script(f"events-{design}", events, "events"),
        **as_csv(moving, history, ride_headings(history)),
        **spectra_files,
    }
    return files, {
        "spectra": spectra,
        "panels": [
            {"id": panel.key, "title": f"{panel.title}, {panel.unit}", "spec": as_json(_panel(history, panel))}
            for panel in shown
        ],
        "lengths": [length for length in WINDOWS_S if length < whole],
        "first_length": FIRST_WINDOW_S,
        "whole": whole,
        "replay": {**replay_paper(craft, recorded), "whole": whole, "grows": GROWS_FOR * flight.settle},
        "troubles": of_causes.tables(results, told),
        "recorded": _recorded(results),
    }


def _recorded(results: Results) -> str:
    """In which conditions the leaders' flights are recorded."""
    all_, tail = len(results.conditions), results.manifest.tail
    some = min(tail.recorded, all_) if tail else all_
    if some < all_:
        return (
            f"One flight in each of {some} of the {all_} conditions, spread evenly over them; the first replicate. "
            "foilsweep fly flies any other."
        )
    return "One flight in each condition, the first replicate."


_PANELS: dict[str, dict[str, Any]] = {}


def _panel(history: pd.DataFrame, panel: Panel) -> dict[str, Any]:
    """The specification of a panel; designs differ by its signals only, and building one takes longer than all else."""
    key = repr(panel)
    if key not in _PANELS:
        _PANELS[key] = specification(ride(history, panel), "ride")
    return with_signals(_PANELS[key], signals(history, panel))
