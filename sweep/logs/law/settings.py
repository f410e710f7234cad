"""The settings of a control law that a log may tell: where the craft file and the kernels have each."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from sweep.campaign.addresses import value_at
from sweep.model import layout as at

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


class Setting(NamedTuple):
    """title: for people; address: in the craft file; slot: of the kernels; unit: to show it in; usual: its scale where the

    craft file has 0, SI (judgement); least: the smallest that the code takes.
    """

    title: str
    address: str
    slot: int
    unit: str
    usual: float
    least: float = -1e9

    @property
    def limits(self) -> bool:
        """Whether it only shows where a command reaches it."""
        return self.address.endswith((".limit", ".travel"))

    @property
    def gain(self) -> bool:
        """Whether commands are linear in it, away from limits."""
        return self.address.rsplit(".", 1)[-1] in ("proportional", "integral", "derivative")

    def declared(self, craft: Craft) -> float:
        """By the craft file, SI."""
        return float(value_at(craft, self.address))

    def scale(self, craft: Craft) -> float:
        """By which changes of it are measured."""
        return abs(self.declared(craft)) or self.usual


def _loop(name: str, first: int, units: tuple[str, str, str], usual: tuple[float, float, float]) -> tuple[Setting, ...]:
    kinds = zip(("proportional", "integral", "derivative"), units, usual, strict=True)
    gains = tuple(
        Setting(f"{name}, {kind}", f"control.{name}.{kind}", first + getattr(at.GAINS, kind), unit, scale)
        for kind, unit, scale in kinds
    )
    return *gains, Setting(f"{name}, limit", f"control.{name}.limit", first + at.GAINS.limit, "deg", 0.1, 1e-3)


HEIGHT = _loop("height", at.HEIGHT_GAINS.first, ("deg/cm", "deg/cm/s", "deg*s/cm"), (0.7, 0.17, 0.035))
PITCH = _loop("pitch", at.PITCH_GAINS.first, ("deg/deg", "deg/deg/s", "s"), (1.0, 0.5, 0.05))
ROLL = _loop("roll", at.ROLL_GAINS.first, ("deg/deg", "deg/deg/s", "s"), (1.0, 0.5, 0.05))
SMOOTHING = Setting("height, smoothing of its rate", "control.height.smoothing", at.HEIGHT_GAINS.smoothing, "ms", 0.08, 0.006)
CORNER = Setting("corner of the fused height", "control.corner", at.CORNER, "rad/s", 2.5, 0.1)
TRAVEL = Setting("travel of the servos", "servos.travel", at.SERVO.travel, "deg", 0.15, 1e-3)
DELAY = Setting("delay of the commands", "control.delay", at.DELAY, "ms", 0.01, 0.0)


def settings_of(craft: Craft) -> tuple[Setting, ...]:
    """Those that the law of a craft has, the delay last."""
    if not craft.control.traits.levels:
        return (HEIGHT[0], HEIGHT[3], TRAVEL, DELAY)
    filtered = CORNER if craft.control.traits.fuses else SMOOTHING
    return (*HEIGHT, filtered, *PITCH, *ROLL, TRAVEL, DELAY)
