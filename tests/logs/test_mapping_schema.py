"""The mapping file's schema: every key is described, and what it takes is what the reader takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from sweep.logs.read.schema import mapping_schema

MAPPINGS = Draft202012Validator(mapping_schema())
SHIPPED = Path(__file__).parents[2] / "configs" / "log" / "afternoon.yaml"
OURS = ("Clock", "ColumnFile", "OtherFile", "RowsFile", "LogFile", "WavesFile", "BesideFile", "Layout")


def plain(text: str) -> Any:
    return YAML(typ="safe", pure=True).load(text)


def test_it_is_a_schema_and_takes_the_shipped_mapping() -> None:
    Draft202012Validator.check_schema(mapping_schema())
    MAPPINGS.validate(plain(SHIPPED.read_text(encoding="utf-8")))


def test_every_key_is_described() -> None:
    schema = mapping_schema()
    groups = {"mapping": schema} | {name: schema["$defs"][name] for name in OURS}
    silent = [
        f"{name}.{key}"
        for name, group in groups.items()
        for key, said in group["properties"].items()
        if not said.get("description")
    ]
    assert not silent


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("unit: ms}", "unit: furlong second, wrong: 3}"),
        ("logs:", "log:"),
        ("sign: -1", "sign: down"),
    ],
)
def test_it_refuses_what_the_reader_refuses(old: str, new: str) -> None:
    text = SHIPPED.read_text(encoding="utf-8")
    assert old in text
    assert not MAPPINGS.is_valid(plain(text.replace(old, new)))
