import moocore
import numpy as np
import pytest

from sweep.insight.tradeoffs import front, hypervolume, knee
from tests.references import reference


@pytest.mark.parametrize("quantities", [2, 3, 4])
@pytest.mark.parametrize("levels", [6, 10_000], ids=["many ties", "few ties"])
def test_fronts_and_volumes_are_those_of_another_library(quantities, levels):
    values = np.random.default_rng(quantities).integers(0, levels, (300 // 3 ** (quantities - 2), quantities)) / levels
    found = front(values)
    assert sorted(found) == np.flatnonzero(moocore.is_nondominated(values, keep_weakly=True)).tolist()
    assert (np.diff(values[found, 0]) >= 0.0).all()
    limit = np.ones(quantities)
    assert hypervolume(values, limit) == pytest.approx(moocore.hypervolume(values, ref=limit), rel=1e-12)
    assert hypervolume(values[found], limit) == pytest.approx(hypervolume(values, limit), rel=1e-12)


def test_volumes_of_known_fronts():
    for row in reference("statistics", "hypervolume").rows:
        assert hypervolume(np.array(row["points"]), np.array(row["reference"])) == pytest.approx(row["volume"], abs=1e-12)


def test_equals_stand_together_and_the_half_equal_behind():
    values = np.array([[1.0, 2.0], [1.0, 2.0], [1.0, 3.0], [2.0, 1.0], [2.0, 2.0]])
    assert front(values).tolist() == [0, 1, 3]
    assert front(np.column_stack([values, np.zeros(5)])).tolist() == [0, 1, 3]


def test_what_is_not_known_is_on_no_front():
    assert front(np.array([[np.nan, 0.0], [1.0, 1.0], [0.0, np.nan]])).tolist() == [1]
    assert front(np.full((3, 2), np.nan)).tolist() == []
    assert hypervolume(np.full((3, 2), np.nan), np.ones(2)) == 0.0


def test_the_knee_is_the_corner_of_an_angle():
    line = np.linspace(0.0, 1.0, 11)
    angle = np.column_stack([line, np.where(line < 0.3, 1.0 - 3.0 * line, 0.1 * (1.0 - line) / 0.7)])
    assert knee(angle) == 3
    assert knee(angle * [1e3, 1e-3]) == 3, "units do not matter"


def test_a_straight_or_bulging_front_has_no_knee():
    line = np.linspace(0.0, 1.0, 11)
    assert knee(np.column_stack([line, 1.0 - line])) is None
    assert knee(np.column_stack([line, np.sqrt(1.0 - line**2)])) is None
    assert knee(np.array([[0.0, 1.0], [1.0, 0.0]])) is None
    assert knee(np.array([[1.0, 1.0]] * 3)) is None


def test_volumes_at_the_reference_count_for_nothing():
    assert hypervolume(np.array([[1.0, 0.0], [2.0, -5.0]]), np.array([1.0, 1.0])) == 0.0
