"""Declared records of slots: a class names the fields in order, and the slot of each is computed.

    class Vector(Record):
        x: int
        y: int
        z: int

    class Gauge(Record):
        place: Vector
        readings: Annotated[int, 5]

`Gauge(40).place.y` is 41, `Gauge(40).readings` 43, `Gauge(40).width` 8.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING, Annotated, TypeVar, get_args, get_origin, get_type_hints

# Numba takes the numbers in a module for constants; of a tuple it copies all for each one that is read, and takes longer to
# compile. To the type checker it is no module, so that it knows a record's names and no others.
if TYPE_CHECKING:
    Namespace = object
else:
    Namespace = ModuleType

Kind = TypeVar("Kind", bound="Record")


class Record(Namespace):
    """Consecutive named slots. Each field is a number, a record, or several of either, as its annotation says.

    Of several alike, the field gives the first; the next is one slot, or the record's width, further on. first: first slot of
    the record; width: its number of slots.
    """

    first: int
    width: int

    def __init__(self, first: int = 0) -> None:
        """first: slot; 0 for the places within any record of the kind."""
        if not TYPE_CHECKING:
            super().__init__(type(self).__name__)
        slot = first
        for name, (kind, count) in fields_of(type(self)).items():  # type: ignore[arg-type]  # mypy asks the class itself for a hash
            field = kind(slot)
            setattr(self, name, field)
            slot += count * width_of(field)
        self.first, self.width = first, slot - first

    def __iter__(self) -> Iterator[int]:
        return iter(range(self.first, self.first + self.width))

    def slots(self, further: int = 0) -> slice:
        """Its slots, or those of another of its kind so many slots further on."""
        return slice(self.first + further, self.first + self.width + further)


def width_of(field: int | Record) -> int:
    """The number of slots of a field, or of one of several alike."""
    return field.width if isinstance(field, Record) else 1


@cache
def fields_of(record: type[Record]) -> dict[str, tuple[type[int] | type[Record], int]]:
    """Kind and number of every field, a base's before its heirs'."""
    hints = get_type_hints(record, include_extras=True)
    own = {name: hint for name, hint in hints.items() if name not in Record.__annotations__}
    return {name: get_args(hint)[:2] if get_origin(hint) is Annotated else (hint, 1) for name, hint in own.items()}


class Deal:
    """Allocates slots in order; next: the next free slot."""

    def __init__(self, first: int = 0) -> None:
        self.next = first

    def one(self) -> int:
        """Allocate one slot."""
        return self.many(1)

    def many(self, count: int) -> int:
        """Allocate `count` slots; return the first."""
        self.next += count
        return self.next - count

    def record(self, kind: type[Kind], count: int = 1) -> Kind:
        """Allocate `count` records; return the first."""
        dealt = kind(self.next)
        self.next += count * dealt.width
        return dealt
