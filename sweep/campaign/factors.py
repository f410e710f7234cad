"""Factors: what the builder may choose, from the campaign file's text to levels in SI."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import combinations, product
from typing import Annotated, Any, ClassVar, Literal, Self, TypeAlias

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    GetJsonSchemaHandler,
    Tag,
    TypeAdapter,
    ValidationError,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import CoreSchema

from sweep.campaign.addresses import Leaf, is_read_once, matches, near, replace_values, value_at
from sweep.campaign.craft import Craft
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count, Share, quantity, split
from sweep.campaign.text.document import Document
from sweep.campaign.text.explain import problems_of, reason
from sweep.campaign.text.problems import Problem, wrong
from sweep.model.quantities import RESPONSE_NAMES
from sweep.words.factors import factor_name
from sweep.words.phrases import listed

LevelValue: TypeAlias = float | int | str
MoreThanNothing = Annotated[Share, Field(gt=0, le=100)]
SHARES: TypeAdapter[float] = TypeAdapter(MoreThanNothing)
"""What a level of a factor that scales is."""

# Names that tables of designs and standings use for columns of their own.
_TAKEN = {
    "design", "mass", "price", "trim_speed_low", "trim_speed_high", "condition", "replicate", "status", "place", "score",
    "verdict", "reason", "flights", "failed", "gain", "may_be_best", "good_enough", *RESPONSE_NAMES,
}  # fmt: skip


def _level(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise wrong("one level, such as 18 cm, 3 or a word")
    return value


Level = Annotated[Any, BeforeValidator(_level), WithJsonSchema({"type": ["string", "number"]})]
LevelList = Annotated[tuple[Level, ...], Field(min_length=2, max_length=1000), Tag("list")]
LevelCount = Annotated[Count, Field(ge=2, le=1000), Tag("count")]


def _levels_kind(value: object) -> str:
    return "list" if isinstance(value, list) else "count"


class FactorFile(Part):
    """One factor as the file has it: a list of levels, or a range."""

    instead: ClassVar[dict[str, str]] = {
        **dict.fromkeys(("min", "minimum", "low", "lowest"), "from, the least of its range"),
        **dict.fromkeys(("max", "maximum", "high", "highest"), "to, the most of its range"),
        **dict.fromkeys(("steps", "count", "number"), "levels, how many steps of the range"),
        **dict.fromkeys(("values", "list", "options"), "levels: [one value, another]"),
    }

    addresses: tuple[str, ...] | None = Field(None, min_length=1, description="where its value goes in the craft")
    scale: tuple[str, ...] | None = Field(
        None, min_length=1, description="instead of addresses: whose values in the craft file its levels multiply, as 80 %"
    )
    levels: Annotated[LevelList | LevelCount, Discriminator(_levels_kind)] | None = Field(
        None, description="the levels themselves, or how many steps of the range"
    )
    low: Level = Field(None, alias="from", description="the least of its range")
    high: Level = Field(None, alias="to", description="the most of its range")
    spacing: Literal["linear", "log"] = Field(
        "linear", description="of the levels in the range: by equal steps or equal ratios"
    )
    kind: Literal["built", "set"] | None = Field(None, description="a new boat, or a change at the water")

    @model_validator(mode="before")
    @classmethod
    def _list_alone(cls, value: object) -> object:
        if isinstance(value, list):
            return {"levels": value}
        if not isinstance(value, dict):
            raise wrong("a list of levels [14 cm, 18 cm] or a range {from: 14 cm, to: 22 cm, levels: 3}")
        return value

    @model_validator(mode="after")
    def _list_or_range(self) -> Self:
        ends = self.model_fields_set & {"low", "high"}
        if isinstance(self.levels, tuple) == bool(ends) or len(ends) == 1:
            raise wrong("either levels: [...] or both from: and to:", "no such choice of levels")
        if self.scale is not None and self.addresses is not None:
            raise wrong("either addresses or scale", "both", at=("scale",))
        return self

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        shown = handler.resolve_ref_schema(handler(schema))
        levels = {"type": "array", "items": {"type": ["string", "number"]}, "minItems": 2}
        return {"anyOf": [levels, dict(shown)]}


class Factor(BaseModel):
    """What the builder may choose: values at addresses of the craft, SI; without levels, anything from low to high.

    scaled: what the craft file has at each address, SI, if the levels are shares of it; () if they are the values themselves.
    """

    model_config = ConfigDict(frozen=True)

    label: str
    addresses: tuple[str, ...]
    levels: tuple[LevelValue, ...] = ()
    low: float | None = None
    high: float | None = None
    unit: str = ""
    kind: Literal["built", "set"] = "built"
    spacing: Literal["linear", "log"] = "linear"
    scaled: tuple[float, ...] = Field((), exclude=True)

    def values(self, level: LevelValue) -> dict[str, LevelValue]:
        """What the craft has at each address with a level, SI."""
        if not self.scaled:
            return dict.fromkeys(self.addresses, level)
        return {address: float(level) * usual for address, usual in zip(self.addresses, self.scaled, strict=True)}

    @property
    def name(self) -> str:
        """What people call it: no address."""
        return factor_name(self.label)

    @property
    def continuous(self) -> bool:
        """Whether any value from low to high may be taken."""
        return not self.levels


def range_levels(low: float, high: float, count: int, spacing: str) -> tuple[float, ...]:
    """Levels from low to high, both included: evenly, or by equal ratios."""
    shares = [step / (count - 1) for step in range(1, count - 1)]
    if spacing == "log":
        return (low, *(low * (high / low) ** share for share in shares), high)
    return (low, *(low + (high - low) * share for share in shares), high)


class FactorReader:
    """Reads one factor after the other by the craft, and notes every mistake."""

    def __init__(self, document: Document, known: Mapping[str, Leaf], craft: Craft | None) -> None:
        self.document = document
        self.known = known
        self.craft = craft
        self.problems: list[Problem] = []

    def read(self, label: str, file: FactorFile) -> Factor | None:
        """The factor, or None if something is wrong with it."""
        before = len(self.problems)
        addresses = self._addresses(label, file)
        usual = self._usual(label, file, addresses)
        if label in _TAKEN:
            self._wrong(label, (), "another name: tables have a column of this name", repr(label))
        if not addresses or len(self.problems) > before:
            return None
        factor = self._listed(label, file, addresses) if isinstance(file.levels, tuple) else self._range(label, file, addresses)
        if factor is not None and usual:
            factor = factor.model_copy(update={"scaled": usual})
        return factor if len(self.problems) == before else None

    def _wrong(self, label: str, below: tuple[str | int, ...], wanted: str, found: str | None = None) -> None:
        self.problems.append(self.document.problem(("factors", label, *below), wanted, found))

    def _addresses(self, label: str, file: FactorFile) -> tuple[str, ...]:
        found: dict[str, None] = {}
        for place, pattern in enumerate(file.scale or file.addresses or (label,)):
            matched = matches(pattern, self.known)
            if not matched:
                nearest = near(pattern, self.known)
                hint = f"; the nearest: {listed(nearest)}" if nearest else f"; such as {listed(list(self.known)[:3])}"
                below = ("scale", place) if file.scale else ("addresses", place) if file.addresses else ()
                why = "which becomes other keys as it is read" if is_read_once(pattern) else "which addresses nothing"
                self._wrong(label, below, f"an address in the craft{hint}", f"{pattern!r}, {why}")
            found.update(dict.fromkeys(matched))
        return tuple(found)

    def _usual(self, label: str, file: FactorFile, addresses: tuple[str, ...]) -> tuple[float, ...]:
        """What the craft file has at the addresses that a factor scales, SI; () of one that does not."""
        if file.scale is None or self.craft is None:
            return ()
        found = [value_at(self.craft, address) for address in addresses]
        for address, value in zip(addresses, found, strict=True):
            if self.known[address].kind != "number" or value is None:
                self._wrong(label, ("scale",), "addresses of numbers that the craft file gives: a share is of these", address)
        return tuple(found)

    def _share(self, label: str, addresses: tuple[str, ...], raw: LevelValue, below: tuple[str | int, ...]) -> Any:
        """A level of a factor that scales, a share, or None; it must give a possible craft."""
        try:
            share = SHARES.validate_python(raw)
        except ValidationError as error:
            self.problems += problems_of(error, self.document, MoreThanNothing, ("factors", label, *below))
            return None
        usual = [value_at(self.craft, address) if self.craft else 0.0 for address in addresses]
        values = {address: share * value for address, value in zip(addresses, usual, strict=True)}
        return share if self._possible(label, values, below) else None

    def _value(self, label: str, addresses: tuple[str, ...], raw: LevelValue, below: tuple[str | int, ...]) -> Any:
        """One level in SI, or None; it must be valid at every address, and give a possible craft."""
        value: Any = None
        for address in addresses:
            leaf = self.known[address]
            try:
                value = leaf.adapter.validate_python(raw)
            except ValidationError as error:
                self.problems += problems_of(error, self.document, leaf.annotation, ("factors", label, *below))
                return None
        return value if self._possible(label, dict.fromkeys(addresses, value), below) else None

    def _possible(self, label: str, values: Mapping[str, LevelValue], below: tuple[str | int, ...]) -> bool:
        if self.craft is None:
            return True
        try:
            replace_values(self.craft, values)
        except ValidationError as error:
            where, wanted = reason(error)
            found = self.document.place(("factors", label, *below)).node.found()
            self._wrong(label, below, f"{wanted} (at {where} in the craft)", f"{found}, which makes an impossible craft")
            return False
        return True

    def _level(
        self, label: str, file: FactorFile, addresses: tuple[str, ...], raw: LevelValue, below: tuple[str | int, ...]
    ) -> Any:
        """One level in SI, or None."""
        return (self._share if file.scale else self._value)(label, addresses, raw, below)

    def _listed(self, label: str, file: FactorFile, addresses: tuple[str, ...]) -> Factor | None:
        assert isinstance(file.levels, tuple)
        in_list = isinstance(self.document.place(("factors", label)).node.value, tuple)
        levels: list[Any] = []
        for place, raw in enumerate(file.levels):
            below = (place,) if in_list else ("levels", place)
            value = self._level(label, file, addresses, raw, below)
            if value is not None and value in levels:
                self._wrong(label, below, "every level once")
            levels.append(value)
        if None in levels:
            return None
        return self._factor(label, file, addresses, file.levels[0], levels=tuple(levels))

    def _range(self, label: str, file: FactorFile, addresses: tuple[str, ...]) -> Factor | None:
        kind = "number" if file.scale else self.known[addresses[0]].kind
        if kind == "word":
            self._wrong(label, (), "a list of words, as [bow, across-bow]", "a range")
            return None
        low = self._level(label, file, addresses, file.low, ("from",))
        high = self._level(label, file, addresses, file.high, ("to",))
        if low is None or high is None:
            return None
        if low >= high:
            self._wrong(label, ("to",), "more than from")
        if file.spacing == "log" and low <= 0:
            self._wrong(label, ("from",), "more than 0 where spacing is log")
        return self._spaced(label, file, addresses, low, high)

    def _spaced(self, label: str, file: FactorFile, addresses: tuple[str, ...], low: float, high: float) -> Factor | None:
        if low >= high or (file.spacing == "log" and low <= 0):
            return None
        whole = not file.scale and self.known[addresses[0]].kind == "count"
        levels: tuple[LevelValue, ...] = ()
        if isinstance(file.levels, int):
            levels = range_levels(low, high, file.levels, file.spacing)
            if whole and any(level != round(level) for level in levels if not isinstance(level, str)):
                self._wrong(label, ("levels",), "a number of levels that steps by whole numbers")
        if whole:
            levels = tuple(int(level) for level in levels) or tuple(range(int(low), int(high) + 1))
        return self._factor(label, file, addresses, file.low, levels=levels, low=low, high=high)

    def _factor(self, label: str, file: FactorFile, addresses: tuple[str, ...], first: LevelValue, **values: Any) -> Factor:
        parts = split(first) if isinstance(first, str) else None
        kind = file.kind or ("set" if all(address.startswith("control.") for address in addresses) else "built")
        return Factor(
            label=label, addresses=addresses, unit=parts[1] if parts else "", kind=kind, spacing=file.spacing, **values
        )


def clashes(factors: Mapping[str, Factor], document: Document) -> Iterator[Problem]:
    """Mistakes: two factors with the same address, or which the pages would call the same."""
    owner: dict[str, str] = {}
    called: dict[str, str] = {}
    for label, factor in factors.items():
        other = called.setdefault(factor.name, label)
        if other != label:
            yield document.problem(("factors", label), f"another name: pages call {other!r} {factor.name!r} too", repr(label))
        for address in factor.addresses:
            other = owner.setdefault(address, label)
            if other != label:
                yield document.problem(("factors", label), "every address in one factor", f"{address}, which {other!r} has too")


def impossible_pairs(
    factors: Mapping[str, Factor], craft: Craft, document: Document, excluded: Callable[[Mapping[str, LevelValue]], bool]
) -> Iterator[Problem]:
    """Mistakes: two factors whose ends make an impossible craft together, though each alone does not.

    excluded: whether no design has these values, by address, as a rule says.
    """
    for one, two in combinations(factors.values(), 2):
        for first, second in product(ends(one), ends(two)):
            values = one.values(first) | two.values(second)
            if excluded(values):
                continue
            try:
                replace_values(craft, values)
            except ValidationError as error:
                pair = f"{one.label} {_shown(first, one)} with {two.label} {_shown(second, two)}"
                _, wanted = reason(error)
                yield document.problem(("factors", two.label), wanted, f"{pair}, together an impossible craft")
                break


def at_the_ends(craft: Craft, factors: Iterable[Factor]) -> Iterator[Craft]:
    """Crafts with each factor by itself at either end."""
    for factor in factors:
        for end in ends(factor):
            yield replace_values(craft, factor.values(end))


def ends(factor: Factor) -> list[LevelValue]:
    """The least and the largest value of a factor; all, if they are words."""
    numbers = [level for level in factor.levels if not isinstance(level, str)]
    if factor.low is not None and factor.high is not None:
        return [factor.low, factor.high]
    return [min(numbers), max(numbers)] if numbers else list(factor.levels)


def _shown(level: LevelValue, factor: Factor) -> str:
    return level if isinstance(level, str) else quantity(level, factor.unit)
