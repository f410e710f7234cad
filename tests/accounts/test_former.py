"""Before and after a change: the same designs are matched, and the words follow the numbers."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from sweep.accounts import former
from sweep.pages import render
from sweep.store import Results
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), leaders=0, areas=2)


def worse(told: Results, by: float) -> Results:
    """The same results under other numbers of the designs, with every score so much more."""
    last = len(told.designs) - 1
    numbers = {design: (design if design == 0 else last + 1 - design) for design in told.designs.index}
    columns = ["score", "score_low", "score_high"]
    standings = told.standings.assign(
        design=told.standings["design"].map(numbers), **{name: told.standings[name] + by for name in columns}
    )
    return dataclasses.replace(told, standings=standings, designs=told.designs.rename(index=numbers))


def test_designs_are_matched_by_what_was_chosen(told: Results) -> None:
    both = former.shared(told, worse(told, 0.25))
    assert len(both) == len(told.designs)
    np.testing.assert_allclose(both["change"], -0.25)
    assert (both.loc[both["design"] > 0, "design_former"] == len(told.designs) - both.loc[both["design"] > 0, "design"]).all()


def test_the_words_follow_the_numbers(told: Results) -> None:
    before = worse(told, 0.25)
    said = " ".join(former.sentences(told, before, former.shared(told, before)))
    assert f"{len(told.designs)} score better than before; in the middle the score fell by 0.25" in said
    said = " ".join(former.sentences(before, told, former.shared(before, told)))
    assert "0 score better than before; in the middle the score rose by 0.25" in said
    assert "same waves" not in said


def test_other_waves_and_other_scores_are_named(told: Results) -> None:
    waves = told.campaign.model_copy(update={"flight": told.campaign.flight.model_copy(update={"seed": 99})})
    other = dataclasses.replace(told, campaign=waves)
    assert "did not meet the same waves" in " ".join(former.sentences(told, other, former.shared(told, other)))
    scored = told.campaign.model_copy(update={"score": {}})
    other = dataclasses.replace(told, campaign=scored)
    assert "scored differently" in " ".join(former.sentences(told, other, former.shared(told, other)))


def test_the_page_says_what_changed(told: Results, tmp_path: Path) -> None:
    old = dataclasses.replace(told, manifest={**told.manifest, "content": {"craft": {"mass": 3.0}}})
    new = dataclasses.replace(told, manifest={**told.manifest, "content": {"craft": {"mass": 3.5}}})
    assert former.changes(new, old) == ["craft.mass: was 3.0, is 3.5"]
    files = render(new, former=old)
    assert "craft.mass: was 3.0, is 3.5" in files["former.html"]
    assert 'href="former.html"' in files["index.html"]
    assert "former.html" not in render(new)
