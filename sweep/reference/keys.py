"""Every key of the files that people write, and every response, as the models that read them know them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from pydantic import BaseModel

from sweep.campaign.campaign import CampaignFile
from sweep.campaign.craft import Craft
from sweep.campaign.text.dimensions import noun_of
from sweep.logs.read.mapping_file import MappingFile
from sweep.model.quantities import RESPONSES
from sweep.reference.written import ENDLESS, written
from sweep.starter.measurements import Measurements
from sweep.words.phrases import listed
from sweep.words.units import unit

Schema: TypeAlias = Mapping[str, Any]

FILES: dict[str, type[BaseModel]] = {
    "craft": Craft,
    "campaign": CampaignFile,
    "mapping": MappingFile,
    "answers": Measurements,
}
"""The files that people write, and the model that reads each."""
RESPONSE = "response"
ANY = "*"
"""Stands in an address for a name that the file gives: of a foil, a sea, a factor."""
BOUNDS = {
    **dict.fromkeys(("gt", "exclusiveMinimum"), "above"),
    **dict.fromkeys(("ge", "minimum"), "from"),
    **dict.fromkeys(("lt", "exclusiveMaximum"), "under"),
    **dict.fromkeys(("le", "maximum"), "at most"),
}


class Key(NamedTuple):
    """A key of a file, or a response.

    address: from the top of the file, `ANY` for names that the file gives; file: of `FILES`, or `RESPONSE`; meaning: a line,
    or '' where none is known; what: 'a length', 'one of', 'a group' ...; units: that it is written in; default: as a file
    writes it, '' if there is none; bounds: 'above 0 cm, at most 5 m', or ''; choices: words; below: names of the keys in it.
    """

    address: str
    file: str
    meaning: str
    what: str
    units: tuple[str, ...] = ()
    default: str = ""
    bounds: str = ""
    choices: tuple[str, ...] = ()
    below: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Its last word."""
        return self.address.rpartition(".")[2].removeprefix("kind: ")


@lru_cache(maxsize=1)
def list_keys() -> tuple[Key, ...]:
    """All keys of all files, in the files' order, then the responses. What a campaign has of the craft is told of the craft."""
    return (*(key for file in FILES for key in _of_file(file)), *map(_of_response, RESPONSES))


def _of_file(file: str) -> Iterator[Key]:
    whole = FILES[file].model_json_schema(by_alias=True)
    found: dict[str, Key] = {}
    for key in _walk(_Place(whole, whole.get("$defs", {}), file, FILES[file])):
        before = found.get(key.address)
        found[key.address] = key if before is None else _merged(before, key)
    yield from found.values()


class _Place(NamedTuple):
    """A schema at an address; definitions: of its file; model: whose key it is; passed: the definitions that it lies in, so
    that none is entered twice."""

    schema: Schema
    definitions: Schema
    file: str
    model: type[BaseModel]
    address: tuple[str, ...] = ()
    passed: tuple[str, ...] = ()

    def forms(self) -> Iterator[_Place]:
        """What may stand here, one form at a time, without null."""
        inner = [each for some in ("anyOf", "oneOf", "allOf") for each in self.schema.get(some, ())]
        if reference := self.schema.get("$ref"):
            name = reference.rpartition("/")[2]
            if name not in self.passed:
                inside = {"schema": self.definitions[name], "model": _models()[name], "passed": (*self.passed, name)}
                yield from self._replace(**inside).forms()
        elif inner:
            for each in inner:
                yield from self._replace(schema=each).forms()
        elif self.schema.get("type") == "array":
            items = self.schema.get("items") or {}
            for each in [items] if items else self.schema.get("prefixItems", []):
                yield from self._replace(schema=each).forms()
        elif self.schema.get("type") != "null":
            yield self

    def below(self) -> Iterator[tuple[str, _Place]]:
        """The keys of a group, of all its forms; `ANY` for names that the file gives."""
        for form in self.forms():
            named = [*form.schema.get("patternProperties", {}).values(), form.schema.get("additionalProperties")]
            for name, schema in [*form.schema.get("properties", {}).items(), *((ANY, each) for each in named)]:
                if isinstance(schema, Mapping):
                    bounded = {**schema, **_bounds_of(form.model, name)}
                    yield name, form._replace(schema=bounded, address=(*form.address, name))


@lru_cache(maxsize=1)
def _models() -> dict[str, type[BaseModel]]:
    """The models of files by their name."""
    found, left = {}, [BaseModel]
    while left:
        for each in left.pop().__subclasses__():
            left.append(each)
            found[each.__name__] = each
    return found


def _bounds_of(model: type[BaseModel], name: str) -> dict[str, float]:
    """What a field's number may be, SI: schemas of text with a unit do not tell it."""
    field = next((field for key, field in model.model_fields.items() if (field.alias or key) == name), None)
    rules = field.metadata if field else []
    return {bound: value for rule in rules for bound in BOUNDS if isinstance(value := getattr(rule, bound, None), int | float)}


def _walk(place: _Place) -> Iterator[Key]:
    for name, inner in place.below():
        if name != ANY:
            yield _key(inner)
        yield from _choices(inner)
        if not (inner.file == "campaign" and inner.address == ("craft",)):
            yield from _walk(inner)


def _choices(place: _Place) -> Iterator[Key]:
    """The kinds that a group may be of, each with its own keys."""
    for form in place.forms():
        kind = form.schema.get("properties", {}).get("kind", {}).get("const")
        if kind is not None:
            below = tuple(form.schema["properties"])
            address = ".".join((*form.address, f"kind: {kind}"))
            yield Key(address, form.file, _meaning(form, []), "a kind", below=below)


def _key(place: _Place) -> Key:
    forms = [form.schema for form in place.forms()]
    units = tuple(dict.fromkeys(each.removeprefix("10 ") for form in forms for each in _measured(form)))
    choices = tuple(dict.fromkeys(str(each) for form in forms for each in _words(form)))
    below = tuple(dict.fromkeys(name for name, _ in place.below()))
    return Key(
        ".".join(place.address),
        place.file,
        _meaning(place, forms),
        _what(forms, units, choices, below),
        units,
        _default(place.schema.get("default"), units),
        ", ".join(dict.fromkeys(_bounds([place.schema, *forms], units))),
        choices,
        below,
    )


def _measured(form: Schema) -> Iterable[str]:
    """Its examples, if it is a number with a unit."""
    examples: list[str] = form.get("examples", [])
    return examples if examples and all(str(each).startswith("10 ") for each in examples) else []


def _words(form: Schema) -> Iterable[Any]:
    words: list[Any] = form.get("enum", [form["const"]] if "const" in form else [])
    return words


def _meaning(place: _Place, forms: Iterable[Schema]) -> str:
    own = place.schema.get("description")
    told = own or next((form["description"] for form in forms if form.get("description")), "")
    return " ".join(str(told).split("\n\n")[0].split())


def _what(forms: list[Schema], units: tuple[str, ...], choices: tuple[str, ...], below: tuple[str, ...]) -> str:
    if units:
        return noun_of(unit(units[0]))
    if below:
        return "a group by name" if below == (ANY,) else "a group"
    if choices:
        return "one of"
    typed = [form.get("type") for form in forms if "const" not in form and "enum" not in form]
    kinds = {each for kind in typed for each in (kind if isinstance(kind, list) else [kind])}
    names = {"integer": "a whole number", "number": "a number", "boolean": "true or false", "string": "a text"}
    said = [name for kind, name in names.items() if kind in kinds and not (kind == "integer" and "number" in kinds)]
    return listed(said) if said else "a list"


def _default(value: Any, units: tuple[str, ...]) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float | int):
        return "" if abs(value) >= ENDLESS else written(value, units)
    return value if isinstance(value, str) else ""


def _bounds(forms: Iterable[Schema], units: tuple[str, ...]) -> Iterator[str]:
    for form in forms:
        for name, said in BOUNDS.items():
            if isinstance(value := form.get(name), int | float):
                yield f"{said} {written(value, units, 1 if said in ('above', 'from') else -1)}"


def _merged(one: Key, other: Key) -> Key:
    """A key that several forms of a group have, such as `kind`."""
    return one._replace(
        meaning=one.meaning or other.meaning,
        choices=tuple(dict.fromkeys((*one.choices, *other.choices))),
        below=tuple(dict.fromkeys((*one.below, *other.below))),
    )


def _of_response(response: Any) -> Key:
    better = {"smaller": "less is better", "larger": "more is better", "neither": "neither less nor more is better"}
    return Key(response.name, RESPONSE, f"{response.meaning}; {better[response.better]}", "a response", (response.unit,))
