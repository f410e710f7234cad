"""What the tests of the linear companion share: shipped craft without noise or quanta, linear about their trim."""

from __future__ import annotations

from functools import cache
from typing import Any

from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.linear.craft import LinearCraft, linearise
from tests.model.crafts import CASCADED, COURIER_FILE, changed, fleet_of, quiet

LAWS = ("level-and-height", "fused-height", "cascaded")


@cache
def shipped(name: str) -> Craft:
    """A craft of configs/craft, without noise, bias, lost readings or smallest steps."""
    craft = Craft.model_validate(read_document(COURIER_FILE.parent / f"{name}.yaml").plain())
    return quiet(changed(craft, {"rangefinders.dropout": 0.0, "rangefinders.spikes": 0.0}))


def courier(law: str = "level-and-height", **values: Any) -> Craft:
    """The courier under a law; other values by address, dots as double underscores."""
    others = {address.replace("__", "."): value for address, value in values.items()}
    base = changed(shipped("courier"), CASCADED) if law == "cascaded" else shipped("courier")
    return changed(base, {"control.law": law} | others)


def linear_of(craft: Craft, speed: float) -> LinearCraft:
    """A craft that trims, linear at a speed (m/s)."""
    (found,) = linearise(fleet_of(craft, speed))
    assert found is not None
    return found


@cache
def linear(law: str, speed: float) -> LinearCraft:
    """The courier under a law, linear at a speed (m/s)."""
    return linear_of(courier(law), speed)
