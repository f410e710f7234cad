"""The numbers of a craft that a log may show, and the craft with other ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from sweep.campaign.addresses import replace_values, value_at

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

Changed = dict[str, float]
CLEAR = 0.9
"""Of the wanted ride height: if a rangefinder were so much higher than its file says, the keel was hardly out of the water
(judgement)."""


class Number(NamedTuple):
    """One number: a factor on values of the craft file, or a value itself (then `unit` says in which unit it is shown).

    step: a usual change, its scale in the fit; least, most: the limits of a fit to any craft; wanted: an interval under this
    either way is useful; floor: the smallest interval either way, because of the number's own steps and of what the model
    leaves out (judgement).
    """

    name: str
    title: str
    addresses: tuple[str, ...]
    factor: bool
    step: float
    least: float
    most: float
    wanted: float
    unit: str = ""
    floor: float = 0.0

    def start(self, craft: Craft) -> float:
        """The craft's value: 1 for a factor."""
        return 1.0 if self.factor else float(value_at(craft, _expanded(self.addresses, craft)[0]))

    def limits(self, craft: Craft) -> tuple[float, float]:
        """Least and largest value of a fit to the logs of a craft, whose own is among them."""
        start, most = self.start(craft), self.most
        if self.name == "height_offset":
            most = min(most, start + CLEAR * craft.control.ride_height)
        return min(self.least, start), max(most, start)


_NUMBERS = (
    Number(
        "lift",
        "lift slope of the foil sections",
        ("foils.*.section.lift_slope",),
        True,
        0.05,
        0.6,
        1.3,
        0.25,
        floor=0.03,  # twice what 49 days that another model flew came out too high in the mean, 1.5 % (standard error 0.6 %)
    ),
    Number("drag", "least drag of the foil sections", ("foils.*.section.drag_min",), True, 0.2, 0.3, 4.0, 0.8, floor=0.03),
    Number("servo_delay", "delay of the control code", ("control.delay",), False, 0.01, 0.0, 0.1, 0.03, "ms", floor=0.0025),
    Number("servo_bandwidth", "bandwidth of the servos", ("servos.bandwidth",), True, 0.2, 0.2, 4.0, 0.6, floor=0.05),
    Number(
        "range_lag", "latency of the rangefinder", ("rangefinders.latency",), False, 0.01, 0.0, 0.29, 0.04, "ms", floor=0.0025
    ),
    Number(
        "range_noise",
        "noise of the rangefinder",
        ("rangefinders.noise",),
        False,
        0.001,
        0.0001,
        0.03,
        0.002,
        "mm",
        floor=0.0001,
    ),
    Number(
        "height_offset",
        "mounting height of the rangefinder",
        ("rangefinders.height",),
        False,
        0.01,
        -0.5,
        0.5,
        0.02,
        "cm",
        floor=0.004,  # what biases of a hobby inertial unit, 0.7 deg, lift a rangefinder 35 cm ahead of the witness
    ),
    Number("inertia", "pitch radius of gyration", ("body.pitch_radius",), True, 0.05, 0.5, 2.0, 0.25, floor=0.02),
)
NUMBERS: dict[str, Number] = {number.name: number for number in _NUMBERS}


def _expanded(addresses: Sequence[str], craft: Craft) -> list[str]:
    group = "rangefinders."  # of them a log has the first
    said = [craft.rangefinders.address(each.removeprefix(group)) if each.startswith(group) else each for each in addresses]
    return [address.replace("*", foil) for address in said for foil in (craft.foils if "*" in address else ("",))]


def values_of(craft: Craft, names: Sequence[str], values: Sequence[float]) -> Changed:
    """Address -> SI value of these numbers."""
    found: Changed = {}
    for name, value in zip(names, values, strict=True):
        number = NUMBERS[name]
        for address in _expanded(number.addresses, craft):
            found[address] = float(value_at(craft, address)) * value if number.factor else float(value)
    return found


def changed(craft: Craft, names: Sequence[str], values: Sequence[float]) -> Craft:
    """The craft with these numbers. Raises pydantic's ValidationError if there is no such craft."""
    return replace_values(craft, values_of(craft, names, values))
