"""A manifest is read as it was written, and one that no run has written is told by what is wrong in it."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.results.claim import begin
from sweep.results.manifest import (
    DamagedManifestError,
    FollowUp,
    Manifest,
    RaceBudget,
    RunTime,
    finish,
    note_kept,
    note_run,
    read_manifest,
    write_manifest,
)
from tests.site_results import campaign

WRITTEN = {
    "versions": {"foilsweep": "0.1.0", "python": "3.11.2"},
    "machine": {"system": "Linux", "kind": "x86_64", "processors": 2},
    "name": "chop",
    "seeds": {"plan": 1, "flights": 2},
    "designs": 13,
    "conditions": 3,
    "replicates": 3,
    "started": "2026-11-29T20:06:00+00:00",
    "runs": [{"flights": 117, "seconds": 2.0}, {"flights": 3, "seconds": 0.5}],
    "kept": 4,
    "race": {"simulated_seconds": 300.0, "charged_together": 32},
    "map": {"speeds": [4.0], "flights": 9, "designs": [1, 0]},
    "tolerances": {"designs": [1], "crafts": [{"body.mass": None}], "replicates": 4},
    "changes": {"leader": 1, "broken": 0, "conditions": 3, "replicates": 4, "score": {"speed": {"weight": 1.0}}},
    "finished": None,
    "files": {"campaign.yaml": "title: chop\n"},
    "content": {"model": "ab", "designs": "cd", "factors": {"z": {"addresses": ["z"]}, "a": {"addresses": ["a"]}}},
    "keys": "ef",
    "tail": {"recorded": 3, "explained": 12},
}
"""All that a manifest of the first version holds, every key of it."""


def write(folder: Path, note: object) -> Path:
    (folder / "manifest.json").write_text(json.dumps(note), encoding="utf-8")
    return folder


def test_what_was_written_before_is_read_and_written_key_for_key(tmp_path: Path) -> None:
    manifest = read_manifest(write(tmp_path, WRITTEN))
    assert manifest.race == RaceBudget(300.0, 32)
    assert manifest.tail == FollowUp(recorded=3, explained=12)
    assert manifest.runs == (RunTime(117, 2.0), RunTime(3, 0.5))
    assert manifest.planned == 117
    assert {each.name for each in dataclasses.fields(Manifest)} == WRITTEN.keys() | {"clock", "outings", "unbuilt"}
    assert manifest.clock is None
    write_manifest(tmp_path, manifest)
    again = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert again == WRITTEN
    assert list(again["content"]["factors"]) == ["z", "a"]  # the order is part of what is digested


@pytest.mark.parametrize("key", ["versions", "machine", "seeds", "kept", "race", "files", "keys", "tail", "map", "changes"])
def test_what_is_not_there_is_not_written(tmp_path: Path, key: str) -> None:
    note = {name: value for name, value in WRITTEN.items() if name != key}
    write_manifest(tmp_path, read_manifest(write(tmp_path, note)))
    assert json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8")) == note


def test_other_keys_are_let_be(tmp_path: Path) -> None:
    """Of another version, or written there by hand: they say nothing here."""
    runs = [{"flights": 1, "seconds": 1.0, "by": "me"}]
    manifest = read_manifest(write(tmp_path, WRITTEN | {"remarks": ["x"], "runs": runs}))
    assert manifest.runs == (RunTime(1, 1.0),)


def test_a_fresh_folder_notes_what_it_runs_on(tmp_path: Path) -> None:
    chosen = campaign(tmp_path)
    folder = tmp_path / "results"
    folder.mkdir()
    begin(folder, chosen, lay_out(chosen), list_conditions(chosen))
    note = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert note.keys() == {
        *("versions", "machine", "name", "seeds", "designs", "conditions", "replicates", "started", "runs", "finished"),
        *("files", "content", "keys"),
    }
    assert note["finished"] is None
    assert note["designs"] == len(lay_out(chosen))
    assert note["files"]["campaign.yaml"] == chosen.campaign_text


def test_notes_add_up(tmp_path: Path) -> None:
    write(tmp_path, WRITTEN)
    note_run(tmp_path, 5, 1.26)
    note_run(tmp_path, 1, -3.0)  # a clock that went back
    note_kept(tmp_path, 6)
    finish(tmp_path)
    manifest = read_manifest(tmp_path)
    assert manifest.runs[2:] == (RunTime(5, 1.3), RunTime(1, 0.0))
    assert manifest.kept == 10
    assert manifest.finished is not None


def manifest(**changes: object) -> dict[str, object]:
    sound = {
        **{"content": {"model": "x", "designs": "x"}, "name": "small", "started": "2020", "finished": None},
        **{"designs": 5, "conditions": 2, "replicates": 2, "runs": [{"flights": 20, "seconds": 1.5}]},
        **{"versions": {"foilsweep": "0.1.0"}, "machine": {"kind": "x", "processors": 2}},
    }
    return {key: value for key, value in (sound | changes).items() if value is not ...}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": 5}, "name: found 5, wanted a text"),
        ({"designs": -1}, "designs: found -1, wanted a whole number from 0"),
        ({"designs": True}, "designs: found True"),
        ({"finished": ...}, "all: has no finished"),
        ({"content": {}}, "content: has no model"),
        ({"content": []}, "content: found [], wanted a mapping"),
        ({"runs": [{"flights": 1}]}, "runs[0]: has no seconds"),
        ({"runs": [{"flights": 1, "seconds": "x"}]}, "runs[0].seconds: found 'x', wanted a number from 0"),
        ({"versions": {"python": 3}}, "versions.python: found 3, wanted a text"),
        ({"tail": {"recorded": 1}}, "tail: has no explained"),
        ({"changes": {"conditions": "x"}}, "changes.conditions: found 'x', wanted a whole number from 0"),
        ({"machine": {"processors": "two"}}, "machine.processors: found 'two', wanted a whole number from 0 or nothing"),
        ({"finished": 5}, "finished: found 5, wanted a text or nothing"),
        ({"map": [1]}, "map: found [1], wanted a mapping"),
        ({"race": {"simulated_seconds": -1, "charged_together": 1}}, "race.simulated_seconds: found -1"),
        ({"files": [1]}, "files: found [1], wanted a mapping"),
        ({"kept": 10**400}, "kept: found 1000"),
        ({"runs": [{"flights": 1, "seconds": 10**400}]}, "runs[0].seconds: found 1000"),
        ({"machine": {"kind": "a\ud800"}}, "found half a character in 'a\\ud800', wanted a text"),
        ({"content": {"model": "x", "\udfff": 1}}, "found half a character in '\\udfff'"),
        ({"content": {"model": "x", "craft": json.loads("[" * 300 + "]" * 300)}}, "nested too deeply"),
    ],
)
def test_a_manifest_is_read_like_a_campaign(tmp_path: Path, changes: dict[str, object], told: str) -> None:
    (tmp_path / "manifest.json").write_text(json.dumps(manifest(**changes)))
    with pytest.raises(DamagedManifestError) as refusal:
        read_manifest(tmp_path)
    assert f"manifest.json: cannot be read ({told}" in str(refusal.value)
    assert "`foilsweep run` with its campaign writes it anew" in str(refusal.value)
