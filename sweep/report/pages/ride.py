"""The recorded flights of a design over time: its panels, the boat that moves, the spectra, what went wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import significant
from sweep.flying.replay import draw_sea, sea_table
from sweep.insight.causes import name_causes
from sweep.insight.events import KINDS, list_events
from sweep.insight.ride_spectra import ride_spectra
from sweep.model.flight import GROWS_FOR
from sweep.report.charts.ride import MARKS, SIGNS, Panel, panels, ride, signals
from sweep.report.charts.ride_spectra import HEIGHTS, spectrum
from sweep.report.display import condition_names, event_table, every_so_many, ride_headings, ride_table
from sweep.report.drawing_marks import Replay, replay_paper
from sweep.report.embed import Files, as_csv, as_json, as_spec, data_script, specification, with_signals
from sweep.report.page import Chart, Material
from sweep.report.pages.causes import Stretch, Troubles, of_events, stretches
from sweep.report.pages.outing_replay import excerpts_of
from sweep.words.numbers import number

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results

MOST_IN_RIDE = 12_000  # rows of a history that a page takes: judgement
PART_STEP = 2  # of the rows of a stretch around a bad event, every so many-th: judgement
WINDOWS_S = (20, 10, 5, 2)  # judgement
FIRST_WINDOW_S = 10  # judgement
AFTER_SETTLING_S = 1.0  # where the moving boat stands at first: judgement
REPLAYED = ("x", "y", "heading", "keel_height", "surface", "ride_height", "pitch")
SPECTRA = (
    ("heights", HEIGHTS, "cm", "the surface and of the ride height"),
    ("pitch", {"pitch": "pitch"}, "deg", "the pitch"),
)


@dataclass(frozen=True)
class Ride:
    """A design's recorded flights over time; lengths in s.

    conditions: to choose from, by their number; parts: the same of seconds around what went wrong in other flights and in
    outings; lengths: of the stretch to show; moment: what the moving boat stands at first;
    recorded: which flights these are; signs: what each mark of a panel says; csv, spectra_csv: names of the downloads.
    """

    conditions: list[tuple[int, str]]
    parts: list[tuple[int, str]]
    panels: list[Chart]
    lengths: list[int]
    first_length: int
    whole: float
    settle: float
    grows: float
    settle_words: str
    moment: float
    replay: Replay
    recorded: str
    signs: str
    spectra: list[Chart]
    csv: str
    spectra_csv: str


class Recorded(NamedTuple):
    """A ride, the scripts that its charts take their data from, what went wrong in it, and its files; ride None: not kept."""

    ride: Ride | None
    data: list[str]
    troubles: Troubles | None
    files: Files


def recorded_of(material: Material, design: int, craft: Craft) -> Recorded:
    """The ride of a design over the seas of the material."""
    results = material.results
    recorded, flight = results.leaders[design], results.campaign.flight
    if recorded.empty:
        return Recorded(None, [], None, {})
    history, names, late = ride_table(recorded), condition_names(results), excerpts_of(results, design)
    speeds = dict(zip(results.conditions["condition"], results.conditions["speed"], strict=True))
    listed = list_events(recorded, craft, flight.settle, flight.length, results.campaign.water.depth)
    faults = {condition.index: condition.fault for condition in list_conditions(results.campaign)}
    told = name_causes(recorded, listed, craft, speeds, faults)
    spectra_files, spectra = _spectra(history, design, flight.settle)
    flown, around = set(history["condition"]), stretches(results, design)
    ridden = _joined(history, ride_table(late.history)) if late.named else history
    parts = [_part(part) for part in around]
    everything = pd.concat([ridden, *parts])
    shown, whole = panels(everything), float(history["time"].max())
    made = Ride(
        conditions=[(condition, name) for condition, name in names.items() if condition in flown],
        parts=[*((part.number, part.name) for part in around), *late.named],
        panels=[
            Chart(f"panel-{each.key}", f"{each.title}, {each.unit}", as_json(_panel(history, everything, each)))
            for each in shown
        ],
        lengths=[length for length in WINDOWS_S if length < whole],
        first_length=FIRST_WINDOW_S,
        whole=whole,
        settle=flight.settle,
        grows=GROWS_FOR * flight.settle,
        settle_words=number(flight.settle),
        moment=flight.settle + AFTER_SETTLING_S,
        replay=replay_paper(craft, recorded),
        recorded=which_flights(results),
        signs=", ".join(f"{SIGNS[shape]} {KINDS[kind]}" for kind, shape in MARKS.items()),
        spectra=spectra,
        csv=f"ride-{design}",
        spectra_csv=f"spectra-{design}",
    )
    data = [f"{part}-{design}" for part in ("ride", "sea", "events", *(["spectra"] if spectra else []))]
    drawn = dict.fromkeys([*(name for panel in shown for name in panel.lines), *(name for name in REPLAYED if name in history)])
    met = material.seas | late.seas | dict(_seas_around(results, around))
    shown_there = [_joined(recorded, late.history), *(part.rows.assign(condition=part.number) for part in around)]
    seas = sea_table(met, pd.concat(shown_there, ignore_index=True), flight.settle)
    files = {
        **data_script(made.csv, _replayed(ridden, parts, ["condition", "time", *drawn]), "ride", stepped=True),
        **data_script(f"sea-{design}", seas, "sea"),
        **data_script(f"events-{design}", _marked(_joined(told, late.events), around), "events"),
        **as_csv(made.csv, ridden, ride_headings(history)),
        **spectra_files,
    }
    return Recorded(made, data, of_events(results, told), files)


def _seas_around(results: Results, around: Sequence[Stretch]) -> Iterator[tuple[int, pd.DataFrame]]:
    """The sea of each stretch, by its number: of its own replicate, which no recorded flight met."""
    conditions = {condition.index: condition for condition in list_conditions(results.campaign)}
    for part in around:
        condition, replicate = (int(part.rows[name].iloc[0]) for name in ("condition", "replicate"))
        yield part.number, draw_sea(results.campaign, conditions[condition], replicate).assign(condition=part.number)


def _joined(table: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
    """A table of the campaign's flights, and that of seconds of outings below it."""
    return pd.concat([table, more], ignore_index=True) if len(more) else table


def _replayed(history: pd.DataFrame, parts: Sequence[pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    """The rows of the replay: of the recorded flights, and of the seconds around what went wrong in others."""
    return pd.concat([every_so_many(history[columns], MOST_IN_RIDE), *(part.reindex(columns=columns) for part in parts)])


def _part(part: Stretch) -> pd.DataFrame:
    return ride_table(part.rows.assign(condition=part.number)).iloc[::PART_STEP]


def _marked(told: pd.DataFrame, around: Sequence[Stretch]) -> pd.DataFrame:
    parts = [event_table(part.events.assign(condition=part.number)) for part in around if len(part.events)]
    return pd.concat([event_table(told), *parts])


def _spectra(history: pd.DataFrame, design: int, settle: float) -> tuple[Files, list[Chart]]:
    """The data and the charts of a ride's spectra; none where no flight lasted."""
    table, name = ride_spectra(history, settle), f"spectra-{design}"
    if table.empty:
        return {}, []
    charts = [
        Chart(f"spectrum-{key}", f"Spectrum of {said}", as_spec(spectrum(table, lines, unit), name))
        for key, lines, unit, said in SPECTRA
        if set(lines) <= set(table)
    ]
    rounded = table.assign(**{column: significant(table[column]) for column in table.columns[1:]})
    return {**data_script(name, rounded), **as_csv(name, rounded)}, charts


def which_flights(results: Results) -> str:
    """In which conditions the leaders' flights are recorded."""
    all_, tail = len(results.conditions), results.manifest.tail
    some = min(tail.recorded, all_) if tail else all_
    if some < all_:
        return (
            f"One flight in each of {some} of the {all_} conditions, spread evenly over them; the first replicate. "
            "Run foilsweep fly for any other."
        )
    return "One flight in each condition, the first replicate."


_PANELS: dict[str, Mapping[str, Any]] = {}


def _panel(history: pd.DataFrame, ridden: pd.DataFrame, panel: Panel) -> Mapping[str, Any]:
    """The specification of a panel; designs differ by its signals only, and building one takes longer than all else.

    ridden: the history with the seconds of outings, which have axes of their own too.
    """
    key = repr(panel)
    if key not in _PANELS:
        _PANELS[key] = specification(ride(history, panel), "ride")
    return with_signals(_PANELS[key], signals(history, panel, ridden))
