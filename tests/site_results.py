"""Made-up results for the tests of the site: small, deterministic, and hostile in every word that a campaign file may hold.

The flights are drawn from formulas, not flown; everything after them is made by the program's own functions.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.tolerances import usual
from sweep.flying.replay import draw_seas, elevation
from sweep.insight.findings import find, gathered, mean_responses
from sweep.insight.limits import share_bounds
from sweep.insight.rank import rank_flights
from sweep.model.quantities import OF_STRENGTH, RESPONSE_NAMES, STATUS_NAMES
from sweep.report.log_summary import LogSummary, summary_of
from sweep.results.manifest import Manifest
from sweep.results.store import Results

HOSTILE_TITLE = "Courier <script>alert(1)</script> & 'co' \"x\" </script>{{ 7 * 7 }}"
HOSTILE_LABEL = "foil <b onmouseover=alert(2)>area</b>"

CAMPAIGN = """\
title: {title}
craft: craft.yaml
factors:
  {label}: {{addresses: ["foils.*.area"], from: 36 cm^2, to: 66 cm^2, levels: {areas}}}
  control.height.proportional: {{from: 0.2 deg/cm, to: 0.9 deg/cm, levels: {gains}, spacing: log}}
  rangefinders.layout: [bow, across-bow, over-foils]
conditions:
  seas:
    ripple: {{kind: jonswap, height: 2 cm, period: 0.8 s}}
    chop: {{kind: jonswap, height: 5 cm, period: 1.0 s}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: {replicates}
flight: {{length: 20 s, settle: 4 s, seed: 7}}
limits: {{touchdowns: 6 /min, upsets: 40 %}}
tolerances: usual
score:
  ride_height_error: {{weight: 1.0, scale: 1 cm}}
  outside_window: {{weight: 1.0, scale: 10 %}}
  vertical_acceleration: {{weight: 0.5, scale: 1 m/s^2}}
"""

CRAFT = Path(__file__).parent.parent / "configs" / "craft" / "courier.yaml"


def campaign(
    folder: Path, title: str = HOSTILE_TITLE, label: str = HOSTILE_LABEL, areas: int = 5, replicates: int = 3, gains: int = 4
) -> Campaign:
    """A campaign of 3 x `areas` x `gains` designs and four conditions, read from files in `folder`."""
    text = CAMPAIGN.format(title=_quoted(title), label=_quoted(label), areas=areas, replicates=replicates, gains=gains)
    (folder / "hostile.yaml").write_text(text, encoding="utf-8")
    (folder / "craft.yaml").write_text(CRAFT.read_text(encoding="utf-8"), encoding="utf-8")
    return load_campaign(folder / "hostile.yaml")


def log_account(word: str = "firm gains") -> LogSummary:
    """Of a day of two set-ups, one of them called `word`, as is every name of the mapping."""
    runs = [("as it stands", 1.0), (word, 60.0), ("as it stands", 130.0), (word, 190.0)]
    numbers = {
        "measured_low": 0.9,
        "measured_high": 1.8,
        "height": 5.0,
        "height_low": 4.6,
        "height_high": 5.5,
        "period": 1.1,
        "predicted": 1.4,
        "low": 1.2,
        "high": 1.6,
    }
    note = {
        "title": f"Afternoon {word}",
        "result": [
            f"In the same sea “{word}” rides further off its height than “as it stands”: its sensed error is 14 % more."
        ],
        "made_up": True,
        "craft": f"Courier {word}",
        "sentences": ["These logs are made up.", "Four runs foilborne, 4 min in all."],
        "sea": ["Significant height 5 cm (4.6 to 5.5)."],
        "doubts": [f"{word}.csv: column {word} has a gap"],
        "splits": [
            {
                "title": f"{word} against as it stands",
                "sentences": ["Sensed is compared with sensed."],
                "parts": [[f"Pitch: 0.39 deg with as it stands, 0.35 deg with {word}."], [f"Roll is worse with {word}."]],
            }
        ],
        "why": "",
        "run_headings": ["log", "set-up", "from", "length", "speed", "waves", "sea", "height error, sensed"],
        "runs": [
            [f"{word}.csv", setup, f"{begin:.0f} s", "60 s", "4 m/s", "180 deg", "5 cm (4.6 to 5.5), 1.1 s", "1.2 cm"]
            for setup, begin in runs
        ],
        "table": [
            {
                "label": f"{at + 1}: {word}.csv",
                "setup": setup,
                "speed": 4.0,
                "waves": 180.0,
                "measured": 1.0 + 0.2 * at,
                **numbers,
            }
            for at, (setup, _) in enumerate(runs)
        ],
        "local": "Local rules come first.",
        "changes": [
            {"measure": "pitch", "setup": word, "way": way, "part": part, "share": 112.0, "low": 95.5, "high": 131.0}
            for way in ("all passes", "head, 180 deg")
            for part in ("the water", "the set-up")
        ],
    }
    return summary_of(note)


def plain(page: str) -> str:
    """A page whose words lead nowhere: sentences are then in one piece."""
    return re.sub(r'<a class="term" href="#[a-z-]+">(.*?)</a>', r"\1", page)


def former_of(told: Results) -> Results:
    """The same campaign before a change: a longer flight, every score a little worse, another title."""
    worse = {name: told.standings[name] + 0.1 for name in ("score", "score_low", "score_high")}
    flight = told.campaign.flight.model_copy(update={"length": 25.0})
    return replace(
        told,
        campaign=told.campaign.model_copy(update={"title": f"Before {told.campaign.title}", "flight": flight}),
        standings=told.standings.assign(**worse),
        manifest=replace(
            told.manifest, content={"flight": {"length": 25.0}, "factors": {next(iter(told.campaign.factors)): 1}}
        ),
    )


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def results(folder: Path, leaders: int = 3, **changes: object) -> Results:
    """Results of `campaign(folder, **changes)`, with the histories and the map of so many leaders and the base craft."""
    return results_of(campaign(folder, **changes), leaders)  # type: ignore[arg-type]


def results_of(judged: Campaign, leaders: int = 3) -> Results:
    """Results of any campaign of a craft with foils at port, starboard and aft, and two factors of numbers."""
    designs, conditions = lay_out(judged), list_conditions(judged)
    table = condition_table(conditions)
    flights = _flights(designs, len(conditions), judged.replicates)
    ranked = rank_flights(judged, [flights], list(table["name"]), len(designs))
    shape = (len(designs), len(conditions), judged.replicates)
    verdict = ranked.standings.set_index("design")["verdict"].sort_index().tolist()
    found = find(judged, designs, ranked.scores, verdict, lambda name: gathered([flights], name, shape))
    named = [*ranked.standings["design"].head(leaders).tolist(), 0] if leaders else []
    told = Results(
        campaign=judged,
        designs=designs.assign(mass=_mass(designs), price=600.0 + 40.0 * np.arange(len(designs)) % 7),
        conditions=table,
        flights=flights,
        standings=ranked.standings,
        limits=ranked.limits,
        leaders={},
        rides=_rides(judged, named),
        **found._asdict(),
        responses=mean_responses([flights], len(designs)).reset_index(),
        manifest=Manifest(
            name=judged.name,
            designs=len(designs),
            conditions=len(conditions),
            replicates=judged.replicates,
            runs=(),
            content={"flight": {"length": 20.0}},
            versions={"foilsweep": "0.0", "python": "3.0"},
            started="2020-01-02T03:04:05+00:00",
            finished=None,
        ),
    )
    seas = draw_seas(told)
    histories = {int(design): _history(int(design), seas, judged.flight.settle) for design in named}
    return replace(told, leaders=histories, tolerances=_tolerances(told, named))


def _tolerances(told: Results, named: list[int]) -> pd.DataFrame:
    """The flights of the leaders once more for each usual tolerance: worse by a tenth with each, better with more gain."""
    if not named:
        return pd.DataFrame()
    parts = []
    for place, off in enumerate(usual(told.campaign.craft)):
        rows = told.flights[told.flights["design"].isin(named)].copy()
        for name in RESPONSE_NAMES[:10]:
            rows[name] *= 0.9 if off.side == "20 % more" else 1.0 + 0.1 * place
        rows.insert(1, "off", off.name)
        rows.insert(2, "side", off.side)
        parts.append(rows)
    return pd.concat(parts, ignore_index=True)


def _rides(judged: Campaign, named: list[int]) -> pd.DataFrame:
    """A map on which every design rides the lower waves, fewer from astern; the base craft has no trim at the lowest speed."""
    assert judged.map is not None
    if not named:
        return pd.DataFrame()
    cells = judged.map.cells()
    slowest, lowest = min(judged.map.speeds), min(judged.map.heights)
    rows = pd.DataFrame(
        {
            "design": design,
            "speed": cell.speed,
            "height": cell.sea.height,
            "period": cell.sea.period,
            "heading": cell.heading.angle,
            "heading_name": cell.heading.name,
            "flights": 0 if design == 0 and cell.speed == slowest else judged.map.replicates,
            "steps": cell.sea.height / lowest - (2.0 if cell.heading.name == "following" else 4.0),
        }
        for cell in cells
        for design in named
    )
    spoilt = np.clip(np.ceil(rows.pop("steps")), 0.0, None)
    rows["clean"] = np.clip(rows["flights"] - spoilt, 0, None).astype(int)
    low, high = share_bounds(rows["clean"].to_numpy(float), rows["flights"].to_numpy(float), 0.975)
    unknown = np.where(rows["flights"] > 0, 0.0, np.nan)
    return rows.assign(share_low=low + unknown, share_high=high + unknown)


def _mass(designs: pd.DataFrame) -> np.ndarray:
    return 3.0 + 20.0 * _numbers(designs)[0]


def _numbers(designs: pd.DataFrame) -> list[np.ndarray]:
    """The values of the factors that are numbers; what the base craft has several of is their mean."""
    numeric = designs.select_dtypes("number")
    return [values.fillna(values.mean()).to_numpy(float) for _, values in numeric.items()]


def _flights(designs: pd.DataFrame, conditions: int, replicates: int) -> pd.DataFrame:
    """Rows whose ride worsens away from a middle gain and area, with the sea, and by chance; some upset, some do not start."""
    rows = pd.MultiIndex.from_product(
        [range(len(designs)), range(conditions), range(replicates)], names=["design", "condition", "replicate"]
    ).to_frame(index=False)
    chance = np.random.default_rng(5)
    block = chance.normal(size=(conditions, replicates))[rows["condition"], rows["replicate"]]
    area, gain = (values[rows["design"]] for values in _numbers(designs)[:2])
    off = np.abs(np.log(gain / gain.max()) + 0.3) + np.abs(area / np.median(area) - 0.9)
    size = 0.004 + 0.004 * rows["condition"] + 0.01 * off + 0.001 * block + 0.0003 * chance.normal(size=len(rows))
    for position, name in enumerate(RESPONSE_NAMES):
        rows[name] = size * (1.0 + 0.1 * position)
    rows["outside_window"] = np.clip(4.0 * size - 0.03, 0.0, 1.0)
    rows["vertical_acceleration"] = 40.0 * size
    rows["touchdowns"] = np.where(off > 0.9, np.rint(60.0 * size) / 16.0, 0.0)
    rows["time_foilborne"] = 16.0
    upset = (off > 1.0) & (rows["condition"] == 3) & (block > 0.0)
    no_trim = (off > 1.05) & (rows["condition"] == 0)
    rows["upsets"] = upset * 1.0
    rows.loc[upset, "time_foilborne"] = 5.0
    rows.loc[no_trim, list(RESPONSE_NAMES)] = np.nan
    rows[list(OF_STRENGTH)] = np.nan  # of a craft without a material
    status = np.select([no_trim, upset], [STATUS_NAMES.index("no-trim"), STATUS_NAMES.index("upset")], 0)
    rows.insert(3, "status", status.astype(np.int8))
    return rows


def _history(design: int, seas: dict[int, pd.DataFrame], settle: float) -> pd.DataFrame:
    """Smooth curves at 50 Hz over the campaign's own sea; the sensors tell nothing in the first condition.

    In the third one the hull touches at 10 s, a tip comes up at 12 s and a foil draws air at 14 s; the last flight ends early.
    """
    parts = []
    for condition, sea in seas.items():
        time = np.arange(0.01, 20.0 if condition < len(seas) - 1 else 9.0, 0.02)
        surface = elevation(sea, 4.0 * time, 0.0 * time, time, settle)
        wave = 0.02 * (condition + 1) * np.sin(5.0 * time)
        third = condition == 2
        parts.append(
            pd.DataFrame(
                {
                    "condition": condition,
                    "time": time,
                    "x": 4.0 * time,
                    "y": 0.0 * time,
                    "surface": surface,
                    "keel_height": 0.1 + 0.3 * wave + 0.001 * design,
                    "ride_height": 0.1 + 0.3 * wave + 0.001 * design - surface,
                    "sensed_height": np.nan if condition == 0 else 0.1 - 0.7 * np.roll(wave, 1),
                    "pitch": 0.3 * wave,
                    "roll": 0.1 * np.cos(3.0 * time),
                    "heading": 0.0 * time,
                    "speed": 4.0 + wave,
                    "throttle": 0.4 + wave,
                    "rudder": 0.2 * wave,
                    "hull_load": np.where(third & (time > 10.0) & (time < 10.4), 0.1, 0.0),
                    "power": 40.0 + 10.0 * wave,
                    "foil_port": 0.02 + wave,
                    "foil_starboard": 0.02 - wave,
                    "foil_aft": 0.03 + 0.5 * wave,
                    "clearance": np.where(third & (time > 10.0) & (time < 10.4), -0.01, 0.08),
                    "submergence": np.where(third & (time > 12.0) & (time < 12.2), 0.01, 0.09),
                    "ventilated": third & (time > 14.0) & (time < 14.3),
                }
            )
        )
    return pd.concat(parts, ignore_index=True)
