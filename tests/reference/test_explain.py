"""Every key is told, by the words that shipped files and pages use, and fits the terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from sweep import cli
from sweep.campaign.text.problems import ChoiceError
from sweep.model.quantities import RESPONSE_NAMES
from sweep.reference.explain import contents, explain, find
from sweep.reference.keys import FILES, list_keys

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = {
    **dict.fromkeys(CONFIGS.glob("*.yaml"), "campaign"),
    **dict.fromkeys(CONFIGS.glob("craft/*.yaml"), "craft"),
    **dict.fromkeys(CONFIGS.glob("log/*.yaml"), "mapping"),
    **dict.fromkeys(CONFIGS.glob("measurements/*.yaml"), "answers"),
}


def test_no_key_is_without_a_meaning() -> None:
    assert [(key.file, key.address) for key in list_keys() if not key.meaning] == []
    assert {key.file for key in list_keys()} == {*FILES, "response"}
    assert {key.address for key in list_keys() if key.file == "response"} == set(RESPONSE_NAMES)


def addresses(value: Any, above: tuple[str, ...] = ()) -> Iterator[str]:
    """The address of every key of a file that holds no group, as it is written."""
    if isinstance(value, list):
        for each in value:
            yield from addresses(each, above)
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from addresses(inner, (*above, str(name)))
    elif above:
        yield ".".join(above)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_every_key_of_a_shipped_file_is_told(path: Path) -> None:
    written = yaml.safe_load(path.read_text(encoding="utf-8"))
    factors = written.pop("factors", {}) if SHIPPED[path] == "campaign" else {}
    for address in addresses({name: value for name, value in written.items() if name != "rules"}):
        file = "craft" if address.startswith("craft.") else SHIPPED[path]
        assert file in {key.file for key in find(address)}, address
    for label, factor in factors.items():
        for address in (factor.get("addresses") or [label]) if isinstance(factor, dict) else [label]:
            assert "craft" in {key.file for key in find(address)}, address


def test_a_key_is_told_with_its_unit_default_and_range() -> None:
    assert explain("rangefinders.latency") == [
        "rangefinders.latency (craft file)",
        "  Age of a reading when the code has it.",
        "  A time, in s, ms or min; 0.06 s by default; from 0 s, at most 0.3 s.",
        "  In a campaign it may be a factor: rangefinders.latency: [one value, another].",
        "  For example: latency: 30 ms",
    ]
    assert explain("foils.bow.area")[0] == "foils.*.area (craft file)"
    assert any("JONSWAP" in line for line in explain("jonswap"))
    assert explain("ride-height-error")[2] == "  A response, in cm."
    assert explain("kn") == ["kn is a unit of speed."]
    assert explain("fused-height")[0] == "control.law (craft file)"


def test_groups_of_one_name_are_told_with_the_keys_in_them() -> None:
    said = explain("servo")
    at = said.index("In them:")
    named = {line.split()[0] for line in said[1:at] if not line.startswith("      ")}
    assert {"servos", "foils.*.servo", "steering.servo"} - {"servos"} <= named
    inner = {line.split()[0] for line in said[at + 1 :] if not line.startswith("      ")}
    assert {"bandwidth", "rate", "travel"} <= inner
    assert "In them:" not in explain("x")


@pytest.mark.parametrize("fault", ["silent", "frozen", "stuck_servo", "weed"])
def test_a_fault_is_told_with_where_and_when(fault: str) -> None:
    said = " ".join(explain(fault))
    for key in ("where", "from", "to"):
        assert f"faults.{fault}.{key} " in said


def test_a_misspelt_word_is_told_the_nearest() -> None:
    with pytest.raises(ChoiceError, match="the nearest: latency"):
        explain("latncy")


@pytest.mark.parametrize("width", [60, 80, 200])
def test_lines_fit_the_terminal(width: int) -> None:
    words = sorted({key.address for key in list_keys()} | {key.name for key in list_keys()})[:: 1 if width == 60 else 7]
    longest = max(len(key.address) for key in list_keys())
    for lines in (contents(width), *(explain(word, width) for word in words)):
        assert all(len(line) <= max(width, longest + 20) for line in lines)


@pytest.mark.parametrize("file", FILES)
def test_schemas_are_written(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["explain", "--schema", file]) == 0
    Draft202012Validator.check_schema(yaml.safe_load(capsys.readouterr().out))


def test_the_command_tells_a_word(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["explain", "broaches"]) == 0
    assert "limits.broaches" in capsys.readouterr().out
    assert cli.main(["explain"]) == 0
    assert "Craft file:" in capsys.readouterr().out
    assert cli.main(["explain", "brooches"]) == cli.WRONG_INPUT
    assert "the nearest: broaches" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["servos.as_sold.sixty", "battery.capacity", "propulsor.power"])
def test_a_key_that_becomes_others_is_told_to_be_no_factor(address: str) -> None:
    said = " ".join(explain(address))
    assert "It becomes other keys as the file is read" in said
    assert "may be a factor" not in said
    assert "may be a factor" in " ".join(explain("servos.rate"))


@pytest.mark.parametrize("group", ["foils", "rangefinders.each", "steering.rudders", "wands"])
def test_a_group_by_name_tells_what_each_in_it_has(group: str) -> None:
    told = [line.split()[0] for line in explain(group) if line.startswith(f"    {group}.*.")]
    assert told == [key.address for key in list_keys() if re.fullmatch(rf"{re.escape(group)}\.\*\.\w+", key.address)]
    assert f"{group}.*.x" in told
