"""That advice is followed by its words: every sentence is known, what is right holds, and what is wrong does not."""

import re

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.model.quantities import FLEW
from tests.benchmarks.advice import Truth, campaign_of
from tests.benchmarks.followed import case_of, results_of, sentences_of, truly
from tests.benchmarks.sentence_checks import CHECKS, follow_all, summary, table_of


def made_up(replicates: int = 16) -> Truth:
    """The smallest campaign with made-up scores: tall struts and small foils are better, the largest foils fall over."""
    campaign = campaign_of("quick")
    designs = with_costs(campaign, lay_out(campaign))
    area, height, gain = (designs[label].fillna(designs[label].median()).to_numpy() for label in campaign.factors)
    generator = np.random.default_rng(1)
    means = 1.0 + 200.0 * (area - 0.004) + 5.0 * (0.2 - height) + 0.2 * gain
    shape = (len(designs), 2, replicates)
    scores = means[:, None, None] + 0.2 * generator.standard_normal(shape[1:]) + 0.02 * generator.standard_normal(shape)
    falls = (generator.random(shape) < 0.4) & ((area > 0.006) & (height < 0.18))[:, None, None]
    scores, status = np.where(falls, 8.0, scores), np.where(falls, 1, FLEW)
    limits = {name: np.where(falls, 1.0, 0.0) if name == "upsets" else np.zeros(shape) for name in campaign.limits}
    return Truth(campaign, designs, scores, status, np.full(shape, 9.0), limits)


@pytest.fixture(scope="module")
def truth() -> Truth:
    return made_up()


def test_every_sentence_is_followed_and_the_whole_truth_keeps_its_own_promises(truth: Truth) -> None:
    table = pd.DataFrame(follow_all(case_of(truth, truth, truly(truth))))
    assert not table["kind"].str.startswith("not followed").any()
    rest = table[table["kind"] != "more replicates"]  # these are all there are
    assert (rest["held"].dropna() == 1.0).all()
    assert {"first place", "good enough", "matters most", "best level", "failing", "place"} <= set(table["kind"])


def test_small_campaigns_keep_most_promises(truth: Truth) -> None:
    table = table_of(truth, 3, 5)
    assert table["cut"].nunique() == 5
    assert table["held"].dropna().mean() > 0.93
    assert not table["kind"].str.startswith("not followed").any()
    assert any(line.startswith("first place: 5 printed, ") for line in summary(table))


def test_advice_that_is_wrong_does_not_hold(truth: Truth) -> None:
    """The same sentences, in a truth in which every good design is a bad one."""
    wrong = truth._replace(scores=truth.scores.max(axis=0, keepdims=True) - truth.scores)
    told = pd.DataFrame(follow_all(case_of(wrong, truth, truly(wrong)))).groupby("kind")[["held", "lost"]].mean()
    for kind in ("first place", "first within", "good enough", "may be the best", "place", "best level"):
        assert told.loc[kind, "held"] < 0.5, kind
    assert told.loc["first place", "lost"] > 1.0


def test_a_sentence_that_no_pattern_knows_is_no_other(truth: Truth) -> None:
    said = [said for _, said in sentences_of(results_of(truth))]
    assert all(any(re.match(pattern, each) for _, pattern, _ in CHECKS) for each in said)
    assert not any(re.match(pattern, "Paint it red.") for _, pattern, _ in CHECKS)
