"""An example of every key and kind: of a shipped file where one has it, or else of what it may be."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from ruamel.yaml import YAML

from sweep.campaign.text.resources import shipped
from sweep.reference.keys import ANY, RESPONSE, Key, list_keys

SHIPPED = {
    "craft/*.yaml": "craft",
    "*.yaml": "campaign",
    "lessons/*.yaml": "campaign",
    "log/*.yaml": "mapping",
    "measurements/*.yaml": "answers",
}
"""Files beneath `configs`, and what each is."""
PLAIN = re.compile(r"[\w.+-][\w .*/^%()+'-]*", re.ASCII)
WORDS = ("true", "false", "null", "yes", "no", "on", "off", "~")

GIVEN = {
    "campaign.craft": "craft/courier.yaml",
    "campaign.rules": '{foil area: "sum(foils.*.area) <= 200 cm^2"}',
    "campaign.conditions.faults": "[none, {weed: {where: foils.port, drag: 12 cm^2, from: 10 s}}]",
    "as_sold.sixty": "0.12 s",
    "as_sold.turn": "60 deg",
    "as_sold.backlash": "1 deg",
    "as_sold.arm": "12 mm",
    "as_sold.horn": "30 mm",
    "servo.torque": "20 N*cm",
    "servos.torque": "20 N*cm",
    "second_servo.torque": "20 N*cm",
    "foils.*.span": "20 cm",
    "foils.*.strips": "8",
    "linkage": "3",
    "damping": "0.8",
    "servo.backlash": "0.5 deg",
    "second_servo.backlash": "0.5 deg",
    "quantum": "0.2 deg",
    "wall": "1.2 mm",
    "propulsor.power": "150 W",
    "battery.capacity": "2200 mAh",
    "steering.second_rudder": "bow",
    "control.trim_speeds": "[3 m/s, 4 m/s, 5 m/s]",
    "wake.rolled_up": "50 %",
    "angle.proportional": "8 deg/deg/s",
    "rate.proportional": "70 ms",
    "control.code": "firm-below.c",
    "control.settings": "{firm_below: 1.5}",
    "factors.*.scale": "[foils.*.area]",
    "factors.*.kind": "set",
    "plan.kind: full-factorial": "{kind: full-factorial}",
    "plan.kind: latin-hypercube": "{kind: latin-hypercube, designs: 200}",
    "plan.kind: variance-based": "{kind: variance-based, base: 64}",
    "plan.base": "64",
    "budget.clock": "20 min",
    "budget.until": '"07:00"',
    "seas.*.kind: regular": "{kind: regular, height: 5 cm, period: 1.2 s}",
    "of.kind: regular": "{kind: regular, height: 5 cm, period: 1.2 s}",
    "of.speed": "6 m/s",
    "of.fetch": "800 m",
    "of.state": "2",
    "conditions.faults.tolerance": "{foils.*.area: 1.05}",
    "silent.where": "rangefinders.1",
    "frozen.where": "rangefinders.1",
    "stuck_servo.where": "foils.*",
    "from": "10 s",
    "to": "20 s",
    "courses.*.distance": "50 m",
    "courses.*.stop": "10 s",
    "courses.*.heading": "following",
    "courses.*.rate": "20 deg/s",
    "courses.*.radius": "12 m",
    "courses.*.speed": "3.5 m/s",
    "season.headings": "{head: 3, following: 1}",
    "season.faults": "{none: 9, weed: 1}",
    "limits.foil_outs": "6 /min",
    "limits.ventilations": "6 /min",
    "limits.plunges": "6 /min",
    "limits.headings_lost": "1 /min",
    "limits.licks": "10 /min",
    "limits.rangefinder_faults": "60 /min",
    "limits.blind_readings": "60 /min",
    "limits.refused_readings": "60 /min",
    "limits.strut_ventilations": "2 /min",
    "limits.lost_flights": "5 %",
    "limits.mass": "3.6 kg",
    "servo_travel.scale": "50 deg/s",
    "strut_stress.scale": "50 MPa",
    "foil_stress.scale": "50 MPa",
    "strut_bend.scale": "2 mm",
    "foil_bend.scale": "2 mm",
    "score.mass.scale": "1 kg",
    "decide.within": "5 %",
    "unknowns": "{wake.strength: +- 25 %}",
    "comments": '"#"',
    "layout.fields": "[time u4, roll i2, pitch i2]",
    "column": "roll_deg",
    "columns.*.unit": "deg",
    "clock.date": "date",
    "columns.*.missing": "[-1]",
    "columns.*.rate": "20 Hz",
    "columns.*.late": "60 ms",
    "rows.are": "[flying]",
    "setups": "setup",
    "logs.begin": "20 s",
    "logs.end": "80 s",
    "also.file": "range.csv",
    "beside.file": "marks.csv",
    "beside.unit": "cm",
    "other_chord": "2.5 cm",
    "other_thickness": "3 mm",
    "starboard_out": "12 cm",
    "mapping.speed": "4 m/s",
}
"""Of keys that no shipped file has, by the end of their address; of others by their file and whole address (judgement)."""


def example(key: Key) -> str:
    """What may stand after the key, as YAML on a line; of a kind a whole group; '' of a group that is told by its keys."""
    return _examples().get((key.file, key.address), "")


@lru_cache(maxsize=1)
def _examples() -> Mapping[tuple[str, str], str]:
    found = {at: _flow(value) for at, value in _shipped().items()}
    usual = {_kind(key): key.default for key in list_keys() if key.default}
    alike = usual | {_kind(key): found[at] for key in list_keys() if (at := (key.file, key.address)) in found}
    made = {}
    for key in list_keys():
        at = key.file, key.address
        known = GIVEN.get(".".join(at)) or found.get(at) or _given(key)
        if _is_told_by_its_keys(key):
            known = GIVEN.get(".".join(at), "")
        elif key.file != RESPONSE:
            known = known or alike.get(_kind(key)) or key.default or next(iter(key.choices), "")
        if known:
            made[at] = known
    return made


def _kind(key: Key) -> tuple[str, str, str, tuple[str, ...]]:
    """What is the same of keys that may have the same value."""
    return key.file, key.name, key.what, key.units[:1]


def _is_told_by_its_keys(key: Key) -> bool:
    """Whether a group has keys with addresses of their own, and no word stands for it."""
    inner = any(each.file == key.file and each.address.startswith(f"{key.address}.") for each in list_keys())
    return key.file == RESPONSE or (key.what == "a group" and not key.choices) or (key.what == "a group by name" and inner)


def _given(key: Key) -> str:
    fits = [end for end in GIVEN if f".{key.file}.{key.address}".endswith(f".{end}")]
    return GIVEN[max(fits, key=len)] if fits else ""


@lru_cache(maxsize=1)
def _shipped() -> Mapping[tuple[str, str], Any]:
    """The value of every key and kind that a shipped file has, of the first that has it."""
    known = {key.file: {each.address for each in list_keys() if each.file == key.file} for key in list_keys()}
    found: dict[tuple[str, str], Any] = {}
    reader = YAML(typ="safe")
    for pattern, file in SHIPPED.items():
        for path in sorted(shipped("configs").glob(pattern)):
            written = reader.load(path.read_text(encoding="utf-8"))
            for address, value in _walk(written, known[file]):
                found.setdefault((file, address), value)
    return found


def _walk(value: Any, known: set[str], at: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Each value by the address of its key; a list of groups a group at a time."""
    address = ".".join(at)
    if isinstance(value, list) and any(isinstance(each, dict) for each in value):
        for each in value:
            yield from _walk(each, known, at)
        return
    if address in known:
        yield address, value
    if isinstance(value, dict):
        if (kind := f"{address}.kind: {value.get('kind')}") in known:
            yield kind, value
        for name, inner in value.items():
            below = ".".join((*at, str(name)))
            here = any(each == below or each.startswith(f"{below}.") for each in known)
            yield from _walk(inner, known, (*at, str(name) if here else ANY))


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_flow(name)}: {_flow(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if isinstance(value, bool) or value is None:
        return json.dumps(value)
    text = str(value)
    return text if PLAIN.fullmatch(text) and text.lower() not in WORDS else json.dumps(text, ensure_ascii=False)
