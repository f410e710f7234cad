"""Faults, manoeuvres and tolerances of a campaign file, as conditions: what goes wrong, changes, or was built a little off."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, ClassVar, NamedTuple, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from sweep.campaign.addresses import leaves, matches, near, replace_values, value_at
from sweep.campaign.craft import Craft
from sweep.campaign.text.base import Part, ShortForm
from sweep.campaign.text.dimensions import Angle, Area, Duration, Length, Mass, Number, Share
from sweep.campaign.text.explain import reason
from sweep.campaign.text.problems import wrong
from sweep.model.onboard import faults as kinds
from sweep.words.phrases import listed

NONE = "none"
FOREVER = 1e9
"""s: when a fault that does not end would end; no flight is so long."""


class NamedFault(BaseModel):
    """One fault as flights meet it.

    rows: see `sweep.model.onboard.faults`; changes: new values of the craft by address, as factors.
    """

    model_config = ConfigDict(frozen=True)

    name: str = NONE
    rows: tuple[tuple[float, ...], ...] = ()
    times: tuple[tuple[str, float], ...] = ()

    def of(self, craft: Craft) -> Craft:
        """The craft as built."""
        return replace_values(craft, {address: share * value_at(craft, address) for address, share in self.times})


class Spell(Part):
    """The time of a fault: from when, and until when or for good."""

    instead: ClassVar[dict[str, str]] = {
        **dict.fromkeys(("start", "begin", "begins", "at"), "from, when it begins"),
        **dict.fromkeys(("end", "ends", "stop", "until"), "to, when it is over"),
        **dict.fromkeys(("foil", "servo", "rangefinder", "sensor"), "where, as foils.port or rangefinders.1"),
    }

    start: Duration = Field(alias="from", ge=0, description="when it begins")
    stop: Duration = Field(FOREVER, alias="to", gt=0, description="when it is over; never, if left out")

    @model_validator(mode="after")
    def _some_time(self) -> Self:
        if self.stop <= self.start:
            raise wrong("a time after the one that it begins at", at=("to",))
        return self

    def amounts(self) -> tuple[float, ...]:
        """Its row for the model, see `sweep.model.onboard.faults`."""
        return ()


class OnFoil(Spell):
    """A fault of one foil or of all."""

    where: str = Field(description="foils.NAME, or foils.* for all")


class OnRangefinder(Spell):
    """A fault of one rangefinder or of all."""

    where: str = Field(
        "rangefinders.*",
        pattern=r"^rangefinders\.(\*|[1-4]|[A-Za-z][A-Za-z0-9_-]*)$",
        description="rangefinders.2 or rangefinders.NAME, or rangefinders.*",
    )


class Weed(OnFoil):
    """Weed on a foil: more drag, less lift."""

    drag: Area = Field(ge=0, description="drag area of the weed")
    lift_lost: Share = Field(0.0, ge=0, le=1, description="share of the foil's lift that is lost")

    def amounts(self) -> tuple[float, ...]:
        """Drag area and lost share of the lift."""
        return (self.drag, self.lift_lost)


class Spikes(Spell):
    """Rangefinders give wrong readings."""

    share: Share = Field(gt=0, le=1, description="of the readings")
    size: Length = Field(gt=0, description="largest error, either way")

    def amounts(self) -> tuple[float, ...]:
        """Share and size."""
        return (self.share, self.size)


class NoThrust(Spell):
    """The thrust is cut."""

    lost: Share = Field(1.0, gt=0, le=1, description="share of the thrust")

    def amounts(self) -> tuple[float, ...]:
        """Lost share."""
        return (self.lost,)


class ShiftedLoad(Spell):
    """A load that was not there at the weighing."""

    mass: Mass = Field(description="negative for a load that is gone")
    x: Length = Field(description="forward of the datum")
    y: Length = Field(0.0, description="to starboard")

    def amounts(self) -> tuple[float, ...]:
        """Mass and place."""
        return (self.mass, self.x, self.y)


class Turn(Spell):
    """A change of course, for good."""

    by: Angle = Field(ge=-math.pi, le=math.pi, description="to starboard")

    def amounts(self) -> tuple[float, ...]:
        """The angle."""
        return (self.by,)


class LostLink(Spell):
    """No message of the person in charge comes. After half a second the control code stops the boat, until it is armed anew."""


class Disarmed(Spell):
    """The arming switch is off, and the boat stopped; on again, its control code begins anew."""


class FaultFile(Part):
    """What goes wrong together: one or more faults, or `tolerance`, a boat built a little off."""

    instead: ClassVar[dict[str, str]] = {
        **dict.fromkeys(("stuck", "jammed", "servo"), "stuck_servo: {where: foils.port, from: 10 s}"),
        **dict.fromkeys(("dropout", "lost", "dead", "rangefinder"), "silent: {where: rangefinders.1, from: 10 s}"),
        **dict.fromkeys(("link", "radio", "no_link", "link_lost"), "lost_link: {from: 10 s, to: 12 s}"),
        **dict.fromkeys(("disarm", "armed", "arm", "switch"), "disarmed: {from: 10 s, to: 12 s}"),
    }

    name: str | None = Field(None, min_length=1, max_length=60, description="what the pages call it")
    weed: Weed | None = None
    silent: OnRangefinder | None = Field(
        None, description="a rangefinder says nothing; after half a second or more the control code stops the boat"
    )
    frozen: OnRangefinder | None = Field(None, description="a rangefinder repeats its last reading")
    spikes: Spikes | None = None
    stuck_servo: OnFoil | None = Field(None, description="a foil's servo stays where it is")
    no_thrust: NoThrust | None = None
    shifted_load: ShiftedLoad | None = None
    turn: Turn | None = None
    lost_link: LostLink | None = None
    disarmed: Disarmed | None = None
    tolerance: dict[str, Annotated[Number, Field(gt=0, le=100)]] | None = Field(
        None,
        min_length=1,
        description="addresses of the craft, each with a factor on its value; its control code does not know",
    )

    @property
    def spells(self) -> dict[str, Spell]:
        """All its parts that have a time."""
        return {name: spell for name, spell in self if isinstance(spell, Spell)}

    def title(self) -> str:
        """Its name, or one made from its content."""
        parts = [f"{name.replace('_', ' ')}{_at(spell)}" for name, spell in self.spells.items()]
        off = [f"{address} x {share:g}" for address, share in (self.tolerance or {}).items()]
        return self.name or " and ".join([*parts, *off]) or NONE


KINDS = {
    "weed": kinds.WEED,
    "silent": kinds.SILENT,
    "frozen": kinds.FROZEN,
    "spikes": kinds.SPIKING,
    "stuck_servo": kinds.STUCK_SERVO,
    "no_thrust": kinds.NO_THRUST,
    "shifted_load": kinds.SHIFTED_LOAD,
    "turn": kinds.TURN,
    "lost_link": kinds.LOST_LINK,
    "disarmed": kinds.DISARMED,
}


def _at(spell: Spell) -> str:
    where = getattr(spell, "where", "")
    return f" on {where.removesuffix('.*')}" if where else ""


def _read(value: object) -> object:
    if value == NONE:
        return {}
    if isinstance(value, dict) and value:
        return value
    raise wrong(f"none, or a mapping of {listed([*KINDS, 'tolerance'])}")


Fault = Annotated[FaultFile, ShortForm(_read, {"const": NONE})]


class Misplaced(NamedTuple):
    """A place that the craft does not have: where in the list, and what would be right."""

    at: tuple[str | int, ...]
    wanted: str


def misplaced(faults: tuple[FaultFile, ...], crafts: Sequence[Craft]) -> Iterator[Misplaced]:
    """Faults and tolerances at places that no craft has; crafts: the base craft first, then those that a factor makes of it."""
    craft, known = crafts[0], leaves(crafts[0].model_dump())
    numbers = [str(number + 1) for number in range(max(each.rangefinders.number for each in crafts))]
    named = craft.rangefinders.names() if craft.rangefinders.each else numbers
    sensors = [f"rangefinders.{name}" for name in dict.fromkeys((*named, "*", *numbers))]
    foils = [*(f"foils.{name}" for name in craft.foils), "foils.*"]
    fixed = [f"foils.{name}" for name, foil in craft.foils.items() if not foil.moves]
    for index, fault in enumerate(faults):
        for name, spell in fault.spells.items():
            if isinstance(spell, OnRangefinder) and spell.where not in sensors:
                yield Misplaced((index, name, "where"), listed(sensors[: len(named) + 1]))
            places = foils if name != "stuck_servo" else [place for place in foils if place not in fixed]
            if isinstance(spell, OnFoil) and spell.where not in places:
                yield Misplaced((index, name, "where"), listed(places))
        for address in fault.tolerance or {}:
            found = matches(address, known)
            unsaid = [each for each in found if value_at(craft, each) is None]
            if not found or any(known[each].kind != "number" for each in found):
                nearest = [each for each in near(address, known) if each not in found] or ["body.mass"]
                yield Misplaced((index, "tolerance", address), f"the address of a number, such as {listed(nearest)}")
            elif unsaid:
                wanted = f"the address of a number that the craft file gives, as it gives no {unsaid[0]}"
                yield Misplaced((index, "tolerance", address), wanted)


def out_of_time(faults: tuple[FaultFile, ...], length: float) -> Iterator[Misplaced]:
    """Faults that begin when the flights, of this length (s), are over."""
    for index, fault in enumerate(faults):
        for name, spell in fault.spells.items():
            if spell.start >= length:
                yield Misplaced((index, name, "from"), f"a time within the flight, which ends at {length:g} s")


def unscored(faults: tuple[FaultFile, ...], settle: float) -> tuple[str, ...]:
    """A sentence for each fault that is over before scoring begins, at `settle` (s)."""
    return tuple(
        f"{fault.title()}: over at {spell.stop:g} s, before anything is scored (from {settle:g} s on): "
        "only what it leaves is judged"
        for fault in faults
        for spell in fault.spells.values()
        if spell.stop <= settle and not isinstance(spell, Turn)
    )


def impossible(faults: tuple[FaultFile, ...], crafts: Sequence[Craft]) -> Iterator[Misplaced]:
    """Tolerances that make one of these crafts impossible; all are at places that the crafts have."""
    for index, fault in enumerate(named_faults(faults, crafts[0])):
        for craft in crafts:
            try:
                fault.of(craft)
            except ValidationError as error:
                where, wanted = reason(error)
                yield Misplaced((index, "tolerance"), f"shares that leave a possible craft: {wanted} (at {where} in the craft)")
                break


def named_faults(faults: tuple[FaultFile, ...], craft: Craft) -> tuple[NamedFault, ...]:
    """The faults as flights meet them; craft: gives the names of foils and addresses."""
    known = leaves(craft.model_dump())
    named = []
    for fault in faults:
        rows = tuple(_row(KINDS[name], spell, craft) for name, spell in fault.spells.items())
        times = tuple((each, share) for address, share in (fault.tolerance or {}).items() for each in matches(address, known))
        named.append(NamedFault(name=fault.title(), rows=rows, times=times))
    return tuple(named)


def _row(kind: int, spell: Spell, craft: Craft) -> tuple[float, ...]:
    amounts = spell.amounts()
    return (float(kind), _which(spell, craft), spell.start, spell.stop, *amounts, *[0.0] * (3 - len(amounts)))


def _which(spell: Spell, craft: Craft) -> float:
    where = str(getattr(spell, "where", "*"))
    if where.endswith("*"):
        return -1.0
    name = where.split(".", 1)[1]
    if not where.startswith("rangefinders"):
        return float([*craft.foils].index(name))
    return float(name) - 1.0 if name.isdigit() else float(craft.rangefinders.names().index(name))


def repeated(faults: tuple[FaultFile, ...]) -> Mapping[int, str]:
    """Faults with the name of an earlier one, by their place in the list."""
    titles = [fault.title() for fault in faults]
    return {place: title for place, title in enumerate(titles) if title in titles[:place]}
