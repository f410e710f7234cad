import numpy as np
import pandas as pd
import pytest

from sweep.campaign.designs import lay_out
from sweep.insight import findings
from sweep.insight.findings import find, gathered, mean_responses, shared_responses
from sweep.insight.rank import judged as judged_by
from sweep.model.quantities import RESPONSE_NAMES
from tests.site_results import campaign, results


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    return campaign(tmp_path_factory.mktemp("campaign"))


def test_a_response_is_gathered_from_parts_in_any_order():
    rows = pd.MultiIndex.from_product([range(3), range(2), range(2)], names=["design", "condition", "replicate"])
    table = rows.to_frame(index=False).assign(y=np.arange(12.0)).sample(frac=1.0, random_state=1)
    found = gathered([table.iloc[:5], table.iloc[5:11]], "y", (3, 2, 2))
    missing = table.iloc[11]
    assert np.isnan(found[int(missing["design"]), int(missing["condition"]), int(missing["replicate"])])
    assert np.nansum(found) == 66.0 - missing["y"]
    assert found[0, 0, 1] == 1.0 or missing["y"] == 1.0


def test_means_are_those_of_pandas(tmp_path):
    flights = results(tmp_path, leaders=0, areas=2).flights
    found = mean_responses([flights.iloc[::2], flights.iloc[1::2]], 25)
    pd.testing.assert_frame_equal(found, flights.groupby("design")[list(RESPONSE_NAMES)].mean(), check_index_type=False)
    assert np.isnan(mean_responses([flights[flights["design"] < 5]], 6).loc[5, "ride_height_error"])


def test_a_distance_from_the_best_leads_no_mean_off_its_scale():
    """Design 1 flew one block of two, in which it was 0.2 less outside the window than the best, whose mean is 0.15."""
    rows = pd.DataFrame({"design": [0, 0, 1], "condition": [0, 0, 0], "replicate": [0, 1, 0]})
    rows = rows.assign(**dict.fromkeys(RESPONSE_NAMES, 0.5))
    rows["outside_window"] = [0.3, 0.0, 0.1]
    rows["power_mean"] = [3.0, 5.0, 4.0]
    found = shared_responses(lambda names: [rows], 0, (2, 1, 2))
    assert found["outside_window"].tolist() == pytest.approx([0.15, 0.0])  # 0.15 - 0.2 would be below it
    assert found["power_mean"].tolist() == pytest.approx([4.0, 5.0])


def test_means_of_many_designs_are_summed_some_responses_at_a_time(monkeypatch):
    draws = np.random.default_rng(2)
    rows = pd.DataFrame({"design": [0, 0, 1, 1, 2], "condition": [0, 1, 0, 1, 0], "replicate": 0})
    rows = rows.assign(**{name: draws.random(5) for name in RESPONSE_NAMES})
    read = []

    def parts(names):
        read.append(list(names))
        return [rows[["design", "condition", "replicate", *names]]]

    whole = shared_responses(parts, 0, (3, 2, 1))
    assert read == [list(RESPONSE_NAMES)] * 2
    read.clear()
    monkeypatch.setattr(findings, "MOST_SUMS", 4 * 3 * 2)
    pd.testing.assert_frame_equal(shared_responses(parts, 0, (3, 2, 1)), whole)
    assert max(map(len, read)) == 4


def test_what_was_not_flown_is_left_out_for_all_designs(judged):
    """A race leaves holes in all responses; a flight that gave no number leaves one in some, and counts."""

    def values(name):
        return np.zeros_like(lost) if name == "status" else lost

    designs = lay_out(judged)
    scores = np.arange(len(designs))[:, None, None] + np.random.default_rng(1).random((len(designs), 4, 3))
    lost = scores.copy()
    lost[7, 2, 1] = np.nan
    whole = find(judged, designs, scores, ["kept"] * len(designs), values)
    assert set(whole.effects["response"]) == {"score", *judged_by(judged)}
    assert whole.effects["share"].notna().all()
    raced = find(judged, designs, lost, ["kept"] * len(designs), values)
    rest = np.delete(scores, 1, axis=2)
    shared = find(
        judged, designs, rest, ["kept"] * len(designs), lambda name: np.zeros_like(rest) if name == "status" else rest
    )
    ours, wanted = (each.effects[each.effects["response"] == "score"] for each in (raced, shared))
    pd.testing.assert_frame_equal(ours, wanted)
    assert len(raced.builds)
    lost[:, :, :] = np.nan
    nothing = find(judged, designs, lost, ["kept"] * len(designs), values)
    assert nothing.effects.empty
    assert list(nothing.effects.columns) == list(whole.effects.columns)


def test_designs_that_fail_are_told_apart(judged):
    """Those of the largest area fall over: they are in no effect on the score, and the effects on failing name the area."""
    designs = lay_out(judged)
    area = designs.iloc[:, 0].to_numpy()
    falls = area == np.nanmax(area)
    falls[0] = False
    scores = np.random.default_rng(1).random((len(designs), 4, 3)) + np.where(falls, 8.0, 0.0)[:, None, None]
    status = np.where(falls, 1.0, 0.0)[:, None, None] * np.ones((1, 4, 3))
    found = find(judged, designs, scores, ["kept"] * len(designs), lambda name: status if name == "status" else scores)
    effects = found.effects.set_index(["response", "factor", "beside"])
    label = next(iter(judged.factors))
    assert effects.loc[("failing", label, ""), "share"] == pytest.approx(1.0)
    assert np.isnan(effects.loc[("score", label, ""), "share"]), "what is left is chance"
    rows = found.levels[
        (found.levels["response"] == "score") & (found.levels["factor"] == label) & (found.levels["beside"] == "")
    ]
    assert rows["failing"].tolist() == [0, 0, 0, 0, 12]
    assert rows["mean"].isna().tolist() == [False] * 4 + [True]
