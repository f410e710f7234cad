"""What the reference tells can be written down as it stands: the files' own models read its examples, defaults and bounds."""

from __future__ import annotations

from typing import Any, get_origin

import pytest
import yaml
from pydantic import TypeAdapter, ValidationError

from sweep.campaign.plan import Plan
from sweep.campaign.seas import Sea
from sweep.campaign.text.shapes import bare, step_into
from sweep.reference.examples import example
from sweep.reference.keys import ANY, FILES, RESPONSE, Key, list_keys
from sweep.reference.written import written

KEYS = [key for key in list_keys() if key.file != RESPONSE]
UNIONS = ("plan", "conditions.seas")
"""Groups of several kinds, whose keys hang on the kind: their kinds are read whole."""


def annotation(key: Key) -> Any:
    """The type at a key's address; of a list, that of its entries."""
    found: Any = FILES[key.file]
    for name in key.address.split("."):
        step = "name" if name == ANY else name
        if step_into(found, step) is None and get_origin(bare(found)) in (list, tuple):
            found = step_into(found, 0)
        found = step_into(found, step)
        assert found is not None, key
    return found


def read(key: Key, text: str) -> Any:
    return TypeAdapter(annotation(key)).validate_python(yaml.safe_load(f"is: {text}")["is"])


def is_of_a_kind(key: Key) -> bool:
    return key.file == "campaign" and key.address.startswith(UNIONS) and key.address not in UNIONS


def test_every_key_that_holds_a_value_has_an_example() -> None:
    bare_keys = [key for key in KEYS if not example(key)]
    assert {key.what for key in bare_keys} <= {"a group", "a group by name"}
    told = {(key.file, key.address) for key in KEYS}
    for key in bare_keys:
        assert any(file == key.file and address.startswith(f"{key.address}.") for file, address in told), key.address


@pytest.mark.parametrize("key", [key for key in KEYS if not is_of_a_kind(key)], ids=lambda key: f"{key.file} {key.address}")
def test_examples_defaults_and_bounds_hold(key: Key) -> None:
    if shown := example(key):
        read(key, shown)
    if key.default and key.units:
        read(key, key.default)
    for bound in filter(None, key.bounds.split(", ")):
        said = bound.removeprefix("from ").removeprefix("at most ")
        if said == bound:
            with pytest.raises(ValidationError):  # 'above' and 'under' leave the number itself out
                read(key, too_far(bound))
        elif get_origin(bare(annotation(key))) not in (list, tuple):
            read(key, said)


def too_far(bound: str) -> str:
    """A number a little beyond one that is left out."""
    _, _, said = bound.partition(" ")
    number, _, unit = said.partition(" ")
    step = -1 if bound.startswith("above") else 1
    return f"{float(number) + step * 0.01 * max(abs(float(number)), 1e-3)!r} {unit}".strip()


@pytest.mark.parametrize("key", [key for key in KEYS if key.what == "a kind"], ids=lambda key: key.address)
def test_an_example_of_a_kind_is_one(key: Key) -> None:
    value = yaml.safe_load(example(key))
    assert value["kind"] == key.name
    TypeAdapter(Plan if key.address.startswith("plan") else Sea).validate_python(value)


def test_numbers_are_short_and_bounds_round_to_the_safe_side() -> None:
    """NIST SP 811 (2008), B.8: a degree is 1.745 329 E-02 rad."""
    assert written(1.0, ("deg", "rad"), -1) == "57.29 deg"
    assert written(1.0, ("deg", "rad"), 1) == "57.3 deg"
    assert written(10.0, ("cm", "mm", "m")) == "10 m"
    assert written(273.15, ("degC", "degF")) == "0 degC"
    assert written(2**63) == "9223372036854775808"
    assert written(160000.0) == "160000"
