"""Rules between factors: what a design must be, beside its factors' levels; designs that break one are not flown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Annotated, Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sweep.campaign.addresses import Leaf, matches, near, value_at
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor
from sweep.campaign.rule_text import LONGEST, Dimension, Flags, Meaning, RuleError, Sentence, Values, check, holds, parsed
from sweep.campaign.text.dimensions import Kind
from sweep.campaign.text.document import Document
from sweep.campaign.text.explain import reason
from sweep.campaign.text.problems import Problem
from sweep.campaign.text.shapes import metadata
from sweep.model.pack.mass import price, total_mass
from sweep.words.phrases import listed
from sweep.words.units import unit

WHOLE: dict[str, tuple[Callable[[Craft], float], Dimension]] = {
    "mass": (total_mass, unit("kg").dimension),
    "price": (price, frozenset()),
}
"""What a rule may say of the whole craft: how it is found, and its dimension."""
MOST_RULES = 50
"""Rules of a campaign (judgement)."""

RuleName = Annotated[str, Field(min_length=1, max_length=120)]
RulesFile = dict[RuleName, Annotated[str, Field(min_length=1, max_length=LONGEST)]]


def whole(name: str, craft: Craft) -> float:
    """The `mass` (kg) or the `price` of a craft."""
    return WHOLE[name][0](craft)


def is_of_the_whole(name: str) -> bool:
    """Whether a name is that of a cost of the whole craft, and no address."""
    return name in WHOLE


class Rule(BaseModel):
    """A rule: its name, its text, and the addresses that its names stand for, or `mass` and `price`."""

    model_config = ConfigDict(frozen=True)

    name: str
    text: str
    addresses: dict[str, tuple[str, ...]]

    @property
    def of_the_whole(self) -> bool:
        """Whether it asks for mass or price, for which the crafts must be made."""
        return any(name in WHOLE for each in self.addresses.values() for name in each)


def read_rules(
    file: RulesFile, document: Document, known: Mapping[str, Leaf], factors: Mapping[str, Factor], craft: Craft
) -> tuple[tuple[Rule, ...], list[Problem]]:
    """The rules of a campaign, and everything that is wrong with them; known: the addresses of the craft."""
    rules, problems = [], []
    for name, text in file.items():
        try:
            rules.append(_read(name, text, known, factors, craft))
        except RuleError as error:
            problems.append(document.problem(("rules", name), error.wanted, error.found))
    return tuple(rules), problems


def broken_by(rules: Iterable[Rule], craft: Craft) -> list[str]:
    """The names of the rules that a craft breaks; one about a value that it does not have is not broken."""

    def value(address: str) -> Values:
        found = WHOLE[address][0](craft) if address in WHOLE else value_at(craft, address)
        return np.array([found], dtype=np.float64 if isinstance(found, int | float) else object)

    return [rule.name for rule in rules if not keeps(rule, value)[0]]


def excluded_by(rules: Iterable[Rule], values: Mapping[str, Any]) -> bool:
    """Whether no design has these values, by address: a rule that names no other address is broken by them."""
    of_these = [rule for rule in rules if {each for of in rule.addresses.values() for each in of} <= values.keys()]
    return any(not keeps(rule, lambda address: np.array([values[address]]))[0] for rule in of_these)


def keeps(rule: Rule, value: Callable[[str], Values]) -> Flags:
    """Which designs keep a rule, (designs,); value: of an address, (designs,), None where a design has none."""
    values = {name: [value(address) for address in each] for name, each in rule.addresses.items() if each}
    missing = [np.array([one is None for one in each]) for of in values.values() for each in of if each.dtype == object]
    if not any(each.any() for each in missing):
        return holds(parsed(rule.text), values)
    without = np.logical_or.reduce(missing)
    some = {name: [_numbers(each[~without]) for each in of] for name, of in values.items()}
    kept = np.ones(len(without), dtype=np.bool_)
    kept[~without] = holds(parsed(rule.text), some)
    return kept


def _numbers(values: Values) -> Values:
    """Values as numbers, if they are."""
    whole = all(isinstance(each, int | float) for each in values)
    return values.astype(np.float64) if whole else values


def _read(name: str, text: str, known: Mapping[str, Leaf], factors: Mapping[str, Factor], craft: Craft) -> Rule:
    sentence = parsed(text)
    addresses = {each: _addresses(each, known, factors) for each in sentence.names.values()}
    meanings = {each: _meaning(of, known) for each, of in addresses.items() if of}
    _refuse_strangers(sentence, addresses, known)
    check(sentence, meanings)
    chosen = {address for factor in factors.values() for address in factor.addresses}
    used = [address for of in addresses.values() for address in of]
    if not any(address in chosen or address in WHOLE for address in used):
        raise RuleError("a rule about what a factor chooses", f"{text!r}, which names no factor and no address of one")
    if "price" in used and price(craft) == 0.0:
        raise RuleError("a craft file with prices: body.price, foils.NAME.price and so on", "'price', while the craft has none")
    for address in used:
        if address not in WHOLE and address not in chosen and value_at(craft, address) is None:
            raise RuleError("an address that has a value in the craft", f"{address!r}, which has none of its own there")
    return Rule(name=name, text=text, addresses={each: of for each, of in addresses.items() if of})


def _addresses(name: str, known: Mapping[str, Leaf], factors: Mapping[str, Factor]) -> tuple[str, ...]:
    """What a name stands for: `mass`, `price`, addresses of the craft or of a factor; nothing for a word."""
    if name in WHOLE:
        return (name,)
    return tuple(matches(name, known)) or (factors[name].addresses if name in factors else ())


def _refuse_strangers(sentence: Sentence, addresses: Mapping[str, Sequence[str]], known: Mapping[str, Leaf]) -> None:
    """Raises RuleError for what looks like an address and is none."""
    for name in (each for each, of in addresses.items() if not of and "." in each):
        nearest = near(name, known)
        hint = f"; the nearest: {listed(nearest)}" if nearest else ""
        raise RuleError(f"an address in the craft{hint}", f"{name!r}, which addresses nothing")


def _meaning(addresses: Sequence[str], known: Mapping[str, Leaf]) -> Meaning:
    if addresses[0] in WHOLE:
        return Meaning(1, WHOLE[addresses[0]][1], lambda word: "")
    leaf = known[addresses[0]]
    if leaf.kind == "word":
        return Meaning(len(addresses), None, lambda word: _refusal(leaf, word))
    return Meaning(len(addresses), _dimension(leaf), lambda word: "")


def _dimension(leaf: Leaf) -> Dimension:
    kinds: Iterator[Any] = (note for note in metadata(leaf.annotation) if isinstance(note, Kind))
    kind = next(kinds, None)
    return unit(kind.units[0]).dimension if kind is not None and kind.units else frozenset[tuple[str, Fraction]]()


def _refusal(leaf: Leaf, word: str) -> str:
    """What would be right in place of a word; '' if it is."""
    try:
        leaf.adapter.validate_python(word)
    except ValidationError as error:
        return f"for {leaf.address} {reason(error)[1]}"
    return ""
