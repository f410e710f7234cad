"""The published propeller series: its terms, its curves, and the shaft speed that a motor's power leaves."""

from __future__ import annotations

from math import pi

import pytest

from sweep.model.physics.propeller_series import KQ_TERMS, KT_TERMS, series_curves
from sweep.model.physics.propulsion import Screw, cubic, limited_speed, shaft_power
from tests.references import reference


def curves_of(row: dict[str, float]) -> tuple[float, float, float]:
    """KT, KQ and the advance ratio of no thrust, of the propeller and at the advance ratio of a row."""
    curves = series_curves(int(row["blades"]), row["pitch ratio"], row["area ratio"])
    return cubic(row["J"], curves.thrust), cubic(row["J"], curves.torque), curves.no_thrust


@pytest.mark.parametrize(("curve", "terms"), [("thrust_terms", KT_TERMS), ("torque_terms", KQ_TERMS)])
def test_every_term_is_the_published_one(curve: str, terms: tuple[tuple[float, ...], ...]) -> None:
    rows = reference("propeller_series", curve).rows
    assert [(row["C"], row["s"], row["t"], row["u"], row["v"]) for row in rows] == list(terms)


def test_the_terms_are_all_there() -> None:
    """39 and 47 of them, by their sums: incomplete copies are about."""
    outside = reference("propeller_series", "sums")
    (sums,) = outside.rows
    assert (len(KT_TERMS), len(KQ_TERMS)) == (39, 47)
    assert sum(term[0] for term in KT_TERMS) == pytest.approx(sums["thrust"], rel=outside.tolerance)
    assert sum(term[0] for term in KQ_TERMS) == pytest.approx(sums["torque"], rel=outside.tolerance)


def test_thrust_and_torque_in_open_water() -> None:
    outside = reference("propeller_series", "open_water")
    assert len(outside.rows) == 20
    for row in outside.rows:
        thrust, torque, _ = curves_of(row)
        assert thrust == pytest.approx(row["KT"], abs=outside.tolerance), row
        assert 10.0 * torque == pytest.approx(row["10 KQ"], abs=outside.tolerance), row


def test_efficiency_and_where_the_thrust_ends() -> None:
    outside = reference("propeller_series", "efficiency")
    for row in outside.rows:
        thrust, torque, _ = curves_of(row)
        assert row["J"] * thrust / (2.0 * pi * torque) == pytest.approx(row["efficiency"], abs=outside.tolerance), row
    ends = reference("propeller_series", "no_thrust")
    for row in ends.rows:
        thrust, _, no_thrust = curves_of(row)
        assert no_thrust == pytest.approx(row["J"], abs=ends.tolerance), row
        assert thrust == pytest.approx(0.0, abs=ends.tolerance), row


@pytest.mark.parametrize("speed", [0.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("times", [1.01, 1.5, 4.0, 10.0])
def test_a_limited_shaft_solves_the_equation_of_power(times: float, speed: float) -> None:
    """From as much as `times` the limit: to 0.2 %; from under the limit it is left alone."""
    curves = series_curves(3, 1.0, 0.5)
    wanted, diameter, density = 150.0, 0.05, 999.1

    def power(turns: float) -> float:
        advance = min(speed / (turns * diameter), 1.3 * curves.no_thrust)
        return shaft_power(turns, diameter, density, cubic(advance, curves.torque))

    def limited(limit: float) -> float:
        return limited_speed(wanted, speed, density, Screw(diameter, 1.3 * curves.no_thrust, curves.torque), limit)

    if power(wanted) <= 0.0:
        assert limited(1.0) == wanted
        return
    turns = limited(power(wanted) / times)
    assert power(turns) == pytest.approx(power(wanted) / times, rel=2e-3)
    assert turns < wanted
    assert limited(power(wanted) * 1.001) == wanted
