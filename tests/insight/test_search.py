from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sweep.campaign.plan import CARRIED
from sweep.campaign.search_plan import Axis
from sweep.insight.search import End, Floats, Search, improving, tried_ends

RANGE = Axis(0, ordered=True)
RANGES = [RANGE] * 6


def searched(
    truth: Callable[[Floats], Floats], axes: list[Axis], seed: int, size: int = 100, noise: float = 0.0, rounds: int = 8
) -> Search:
    """A search of some rounds over a plain function, with noise of each design and waves of each round."""
    search, draws = Search(axes, seed), np.random.default_rng(seed)
    for _ in range(rounds):
        carried, points = search.best(CARRIED), search.next_points(size)
        values = truth(np.concatenate((search.points[carried], points)))
        search.add(points, carried, values + noise * draws.standard_normal(len(values)) + draws.standard_normal())
    return search


def winner(search: Search, truth: Callable[[Floats], Floats]) -> int:
    """The best of the sixteen finalists, by a final that has no noise."""
    some = search.best(16)
    return int(some[truth(search.points[some]).argmin()])


def hartmann(points: Floats) -> Floats:
    """Hartmann's function of six variables (Dixon & Szego, Towards Global Optimisation 2, 1978, 1-15; from memory)."""
    weights = np.array([1.0, 1.2, 3.0, 3.2])
    scales = np.array(
        [[10, 3, 17, 3.5, 1.7, 8], [0.05, 10, 17, 0.1, 8, 14], [3, 3.5, 1.7, 10, 17, 8], [17, 8, 0.05, 10, 0.1, 14]]
    )
    places = 1e-4 * np.array(
        [
            [1312, 1696, 5569, 124, 8283, 5886],
            [2329, 4135, 8307, 3736, 1004, 9991],
            [2348, 1451, 3522, 2883, 3047, 6650],
            [4047, 8828, 8732, 5743, 1091, 381],
        ]
    )
    return np.asarray(-(weights * np.exp(-(scales * (points[:, None] - places) ** 2).sum(axis=2))).sum(axis=1))


LEAST, PLACE = -3.32237, [0.20169, 0.150011, 0.476874, 0.275332, 0.311652, 0.6573]
"""The published least value of `hartmann`, and where it is (from memory). Its second-best hollow has -3.2031."""


def bowl(points: Floats) -> Floats:
    """A long valley, turned; the least value, 0, is at 0.3 of every factor."""
    far = points - 0.3
    return np.asarray((far**2).sum(axis=1) + 5.0 * (far[:, 0] + far[:, 1]) ** 2)


def test_hartmann_is_written_as_published() -> None:
    assert hartmann(np.array([PLACE]))[0] == pytest.approx(LEAST, abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_it_finds_the_published_least_value(seed: int) -> None:
    search = searched(hartmann, RANGES, seed)
    assert hartmann(search.points)[winner(search, hartmann)] < LEAST + 0.25  # nearer than the second-best hollow's rim


@pytest.mark.parametrize("seed", range(5))
def test_with_noise_it_comes_nearer_than_samples_of_everything(seed: int) -> None:
    axes, noise = [RANGE] * 9, 0.05
    search = searched(bowl, axes, seed, noise=noise)
    everywhere = np.random.default_rng(seed).random((800, 9))
    assert bowl(search.points)[winner(search, bowl)] < 0.3 * bowl(everywhere).min()  # which has no noise to mislead it


def test_easy_waves_make_no_round_look_good() -> None:
    calm, rough = (Search(RANGES, 1) for _ in range(2))
    for at in range(4):
        for search, waves in ((calm, 0.0), (rough, -3.0 * at)):
            carried, points = search.best(CARRIED), search.next_points(60)
            search.add(points, carried, bowl(np.concatenate((search.points[carried], points))) + waves)
    np.testing.assert_allclose(calm.points, rough.points, atol=2e-4)


def test_the_same_seed_gives_the_same_points_and_another_one_others() -> None:
    first, again, other = (searched(bowl, RANGES, seed, noise=0.1, rounds=3) for seed in (1, 1, 2))
    assert np.array_equal(first.points, again.points)
    assert not np.array_equal(first.points, other.points)


def test_points_lie_in_their_ranges_and_on_their_levels() -> None:
    axes = [RANGE, Axis(4, ordered=True), Axis(3, ordered=False), Axis(7, ordered=True)]
    search = searched(lambda points: points.sum(axis=1), axes, 3)
    assert search.points.min() >= 0.0
    assert search.points.max() <= 1.0
    for at, levels in ((1, 4), (2, 3), (3, 7)):
        allowed = (np.arange(levels) + 0.5) / levels
        assert np.isin(search.points[:, at].round(6), allowed.round(6)).all()


@pytest.mark.parametrize("seed", range(5))
def test_a_word_in_the_middle_of_its_list_is_found(seed: int) -> None:
    axes = [Axis(5, ordered=False), *RANGES]

    def truth(points: Floats) -> Floats:
        return bowl(points[:, 1:]) + 0.2 * (points[:, 0].round(3) != 0.3)

    search = searched(truth, axes, seed, noise=0.02)
    assert search.points[search.best(1)[0], 0] == pytest.approx(0.3)


def tilted(points: Floats) -> Floats:
    """Best at the upper end of the first factor and the lower end of the second, at 0.4 of the third; the others are inert."""
    return np.asarray(-0.5 * points[:, 0] + 0.5 * points[:, 1] + (points[:, 2] - 0.4) ** 2)


def told(truth: Callable[[Floats], Floats], search: Search, seed: int, noise: float) -> dict[End, bool]:
    """The ends at which the winner lies, and whether that is sure after 48 noisy flights of each of its probes."""
    best = winner(search, truth)
    ends = search.ends(best)
    probes = search.probes(best, ends)
    assert tried_ends(probes, search.points[best]) == ends
    values = truth(np.concatenate((search.points[[best]], probes)))[:, None, None]
    draws = np.random.default_rng(seed)
    scores = values + noise * draws.standard_normal((len(values), 6, 8)) + draws.standard_normal((6, 8))
    return dict(zip(ends, improving(scores).tolist(), strict=True))


def test_an_optimum_at_an_end_is_told_and_no_other_is() -> None:
    found = [told(tilted, searched(tilted, RANGES, seed, noise=0.05), seed, 0.05) for seed in range(20)]
    ends = End(0, True), End(1, False)
    assert all(set(ends) <= set(each) for each in found)
    assert all(2 not in {end.factor for end in each} for each in found)
    assert sum(each[end] for each in found for end in ends) >= 38  # of 40
    assert sum(sure and end not in ends for each in found for end, sure in each.items()) <= 3  # one search in twenty may err


@pytest.mark.parametrize("place", [0.5, 0.9, 0.94])
def test_an_optimum_inside_is_not_surely_at_an_end(place: float) -> None:
    def truth(points: Floats) -> Floats:
        return (points[:, 0] - place) ** 2 + 0.1 * ((points[:, 1:] - 0.5) ** 2).sum(axis=1)

    searches = [searched(truth, RANGES, seed, noise=0.01) for seed in range(10)]
    assert not any(sure for seed, search in enumerate(searches) for sure in told(truth, search, seed, 0.01).values())


def test_the_last_level_of_an_ordered_list_is_an_end_and_a_word_is_none() -> None:
    axes = [Axis(4, ordered=True), Axis(3, ordered=False), RANGE]

    def truth(points: Floats) -> Floats:
        return np.asarray(-points[:, 0] - points[:, 1] + (points[:, 2] - 0.5) ** 2)

    search = searched(truth, axes, 5, noise=0.02)
    best = winner(search, truth)
    assert search.ends(best) == [End(0, True)]
    probes = search.probes(best, search.ends(best))
    assert probes[:, 0].tolist() == [0.625]
    assert np.array_equal(probes[:, 1:], search.points[[best], 1:])
