from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from sweep.campaign.text import dimensions
from sweep.campaign.text.dimensions import KINDS, Count, Kind, Number, Share, in_unit
from sweep.words.units import UNIT_NAMES, UnitError, from_unit, quantity, split, unit
from tests.references import reference

LENGTH = Kind("a length", ("cm", "mm", "m", "in"))
TEMPERATURE = Kind("a temperature", ("degC",))

finite = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False).filter(lambda value: value == 0 or abs(value) > 1e-6)


@pytest.mark.parametrize("table", ["factors", "products"])
def test_factors_are_the_published_ones(table: str) -> None:
    published = reference("units", table)
    for row in published.rows:
        assert from_unit("1", row["unit"]) == pytest.approx(row["si"], rel=published.tolerance), row["unit"]


def test_temperatures_are_offset() -> None:
    published = reference("units", "temperatures")
    for row in published.rows:
        for scale, name in (("celsius", "degC"), ("fahrenheit", "degF"), ("kelvin", "K")):
            assert from_unit(str(row[scale]), name) == pytest.approx(row["kelvin"], rel=published.tolerance)


@given(finite, st.sampled_from(UNIT_NAMES))
def test_there_and_back(value: float, name: str) -> None:
    # An offset unit loses what is small beside its offset.
    assert in_unit(from_unit(repr(value), name), name) == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(finite, st.sampled_from([(kind, text) for kind in KINDS for text in kind.units]))
def test_every_kind_reads_its_own_units(value: float, pair: tuple[Kind, str]) -> None:
    kind, text = pair
    assert kind.read(f"{value!r} {text}") == from_unit(repr(value), text)


@given(st.integers(-10_000, 10_000))
def test_a_decimal_is_rounded_once(hundredths: int) -> None:
    assert LENGTH.read(f"{hundredths} cm") == hundredths / 100


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.noun)
def test_the_units_of_a_kind_measure_the_same(kind: Kind) -> None:
    assert len({unit(text).dimension for text in kind.units}) == 1


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("3 cm", 0.03),
        ("3cm", 0.03),
        (" 3  cm ", 0.03),
        ("+.5 m", 0.5),
        ("5. m", 5.0),
        ("1e2 mm", 0.1),
        ("2 in", 0.0508),
        ("3 m^1", 3.0),
    ],
)
def test_ways_of_writing(text: str, metres: float) -> None:
    assert LENGTH.read(text) == metres


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("cm^2", "cm²"), ("cm^2", "cm**2"), ("deg", "°"), ("degC", "°C"), ("1/min", "/min"), ("deg/(cm/s)", "deg*s/cm"),
        ("deg/cm/s", "deg/(cm*s)"), ("N*m", "N m"), ("km/h", "kph"), ("%", "percent"), ("us", "µs"), ("m", "metres"),
    ],
)  # fmt: skip
def test_spellings_of_one_unit(one: str, other: str) -> None:
    assert unit(one) == unit(other)


def test_angle_is_a_dimension_of_its_own() -> None:
    with pytest.raises(ValueError, match=r"an angle per length, such as 0\.4 deg/cm"):
        Kind("an angle per length", ("deg/cm", "rad/m")).read("0.4 /cm")


def test_symbols_that_could_be_taken_for_others() -> None:
    assert from_unit("1", "g") == 0.001  # the gram, not the acceleration
    assert from_unit("1", "min") == 60  # not a milli-inch
    assert from_unit("1", "ms") == 0.001  # not metres
    assert from_unit("1", "in") == 0.0254
    assert unit("kn").dimension != unit("kN").dimension


@pytest.mark.parametrize(
    ("value", "mend"),
    [
        (36, "36 cm, 36 mm, 36 m or 36 in"),
        ("36", "36 cm, 36 mm, 36 m or 36 in"),
        ("36 kg", "a length, such as 36 cm"),
        ("3 cmm", "the nearest: mm or cm"),
        ("1,5 cm", "with a point, not a comma"),
        ("\N{ARABIC-INDIC DIGIT THREE} cm", "in the plain digits 0 to 9"),
        ("\N{FULLWIDTH DIGIT THREE} cm", "in the plain digits 0 to 9"),
        ("\N{MINUS SIGN}3 cm", "in the plain digits 0 to 9"),
        ("1e400 cm", "a length that is finite"),
        ("1e300 cm", "a length under 1e+15 in SI units"),
        (-(10**15), "a length under 1e+15 in SI units"),
        ("1" * 79 + "cm", "a length, such as"),
        (10**400, "a length that is finite"),
        (math.inf, "a length that is finite"),
        (math.nan, "a length that is finite"),
        ("nan cm", "a length, such as 10 cm"),
        (True, "a length, such as 10 cm"),
        (None, "a length, such as 10 cm"),
        (["1 cm", "2 cm"], "a length, such as 10 cm"),
        ("1/2 cm", "a length, such as 1 cm"),
        ("2 3 cm", "a length, such as 2 cm"),
        ("3 m^(9^9^9)", "a length, such as 3 cm"),
        ("3 m**999999", "a length, such as 3 cm"),
        ("3 m^1e14", "a length, such as 3 cm"),
        ("3 ((((((m^9)^9)^9)^9)^9)^9)^9", "a length, such as 3 cm"),
        ("3 __import__('os')", "a length, such as 3 cm"),
        ("3 " + "a" * 70, "a length, such as 3 cm"),
        ("3 m\N{ZERO WIDTH SPACE}", "a length, such as 3 cm"),
    ],
)
def test_what_is_no_length(value: object, mend: str) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011 (the message is compared below)
        LENGTH.read(value)
    assert mend in str(caught.value)


def test_gravity_is_not_the_gram() -> None:
    with pytest.raises(ValueError, match="the acceleration of gravity is written g0"):
        Kind("an acceleration", ("m/s^2", "g0")).read("0.5 g")


def test_negative_zero_is_zero() -> None:
    assert math.copysign(1, LENGTH.read("-0 cm")) == 1
    assert math.copysign(1, LENGTH.read(-0.0, si=True)) == 1


def test_plain_numbers_are_si_only_where_asked() -> None:
    adapter = TypeAdapter(dimensions.Length)
    assert adapter.validate_python(0.36, context={"si": True}) == 0.36
    with pytest.raises(ValidationError):
        adapter.validate_python(0.36)


@pytest.mark.parametrize(("value", "share"), [("2 %", 0.02), (0.02, 0.02), ("0.02", 0.02), (0, 0)])
def test_a_share_may_be_plain(value: object, share: float) -> None:
    assert TypeAdapter(Share).validate_python(value) == share


@pytest.mark.parametrize("value", ["1.5", True, "1 cm", None, [1], math.nan])
def test_what_is_no_plain_number(value: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(Number).validate_python(value)


@pytest.mark.parametrize("value", ["3", True, 2.5, None, math.nan, math.inf, [3]])
def test_what_is_no_whole_number(value: object) -> None:
    with pytest.raises(ValidationError, match="a whole number"):
        TypeAdapter(Count).validate_python(value)


def test_shown_to_people() -> None:
    assert quantity(0.0036, "cm^2") == "36 cm^2"
    assert quantity(291.15, "degC") == "18 degC"
    assert quantity(3.0, "") == "3"
    assert math.isnan(in_unit(math.nan, "cm"))


def test_number_and_unit_come_apart() -> None:
    assert split("36 cm^2") == ("36", "cm^2")
    assert split("bow") is None


def test_an_unknown_unit_says_so() -> None:
    with pytest.raises(UnitError):
        unit("furlong")


def test_units_cost_nothing_until_a_file_is_read() -> None:
    code = "import sys, sweep.campaign.campaign; print('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "False"


def test_a_kind_is_written_in_any_of_its_units_and_in_no_other() -> None:
    """Also one that has a single unit, as a share in per cent."""
    assert any(len(kind.units) == 1 for kind in KINDS)
    for kind in KINDS:
        assert all(kind.suits(text) for text in kind.units), kind.noun
        assert not kind.suits("kg^5"), kind.noun
        assert not kind.suits("no unit"), kind.noun
