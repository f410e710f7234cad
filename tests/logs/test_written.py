"""A craft file written back: the fitted values in it, the rest as it was, and where they come from."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import spearmanr
from scipy.stats import t as student

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.campaign.text.problems import CampaignError
from sweep.logs.fit.craft_fit import FLIGHTS, Fitted, Result
from sweep.logs.fit.posterior import ROWS
from sweep.logs.report.sentences import fit_rows, fit_sentences
from sweep.logs.report.written import write_fitted
from tests.campaign.files import CAMPAIGN, changed
from tests.logs.made import MAPPING, judged
from tests.model.crafts import courier


def result() -> Result:
    numbers = (
        Fitted("lift", 1.0, 0.9, 0.85, 0.95, True),
        Fitted("range_lag", 0.06, 0.085, 0.08, 0.09, True),
        Fitted("servo_bandwidth", 1.0, 1.4, 0.1, 3.9, False),
    )
    return Result(numbers, (("range_lag", "lift", 0.96),), 1.2, 60, courier())


def test_what_is_fitted_is_in_it_and_the_rest_stays(tmp_path: Path) -> None:
    day = judged(tmp_path, MAPPING + "made_up: true\n")
    write_fitted(tmp_path / "fitted.yaml", day, result(), "2020-01-02")
    text = (tmp_path / "fitted.yaml").read_text(encoding="utf-8")
    craft, before = Craft.model_validate(read_document(tmp_path / "fitted.yaml").plain()), courier()
    assert craft.foils["aft"].section.lift_slope == pytest.approx(0.9 * before.foils["aft"].section.lift_slope, rel=1e-3)
    assert craft.rangefinders.latency == pytest.approx(0.085)
    assert craft.servos == before.servos
    assert craft.control == before.control
    head = [line for line in text.splitlines() if line.startswith("#")]
    assert any("2020-01-02" in line and "pass.csv" in line and "craft.yaml" in line for line in head)
    assert any("made up" in line for line in head)
    assert any("60 ms -> 85 ms (80 ms to 90 ms), +42 %" in line for line in head)
    assert any("bandwidth" in line and "not shown" in line for line in head)


def doubtful() -> Result:
    """Lift and latency known to 3 % and 5 ms, standard deviation, and going together."""
    spread = np.array([0.03, 0.005, 1.0])
    together = np.array([[1.0, 0.8, 0.0], [0.8, 1.0, 0.0], [0.0, 0.0, 1.0]])
    return result()._replace(covariance=together * np.outer(spread, spread))


def test_a_campaign_takes_what_the_fit_leaves_open(tmp_path: Path) -> None:
    """Draws about the fitted values, as wide as Student's intervals of a fit, with their correlation."""
    beside = write_fitted(tmp_path / "fitted.yaml", judged(tmp_path), doubtful(), "2020-01-02")
    assert beside == tmp_path / "fitted.csv"
    arm = "  arm: {addresses: [foils.port.x, foils.starboard.x], levels: [20 cm, 22 cm]}\n"
    unknown = ("limits:", "unknowns: {file: fitted.csv}\nlimits:")
    text = changed(CAMPAIGN, (("tender.yaml", "fitted.yaml"), unknown, (arm, "")))
    (tmp_path / "campaign.yaml").write_text(text, encoding="utf-8")
    campaign = load_campaign(tmp_path / "campaign.yaml")
    assert campaign.unknowns is not None
    assert [each.label for each in campaign.unknowns.each] == ["foils.*.section.lift_slope", "rangefinders.latency"]
    lift, latency = (np.array(each.drawn) for each in campaign.unknowns.each)
    assert len(lift) == ROWS
    assert np.median(lift) == pytest.approx(1.0, abs=0.01)
    assert np.median(latency) == pytest.approx(0.085, abs=0.001)
    for numbers, spread, floor in ((0.9 * lift, 0.03, 0.03), (latency, 0.005, 0.0025)):
        half = np.diff(np.quantile(numbers, (0.025, 0.975)))[0] / 2.0
        assert half == pytest.approx(np.hypot(student.ppf(0.975, FLIGHTS - 1) * spread, floor), rel=0.15)
    assert spearmanr(lift, latency).statistic == pytest.approx(0.69, abs=0.1)  # of 0.8, what the floors of each alone leave


def test_where_the_logs_show_nothing_nothing_is_open(tmp_path: Path) -> None:
    nothing = doubtful()._replace(numbers=tuple(each._replace(identified=False) for each in doubtful().numbers))
    assert write_fitted(tmp_path / "fitted.yaml", judged(tmp_path), nothing, "2020-01-02") is None
    assert not (tmp_path / "fitted.csv").exists()


def test_draws_are_not_overwritten_either(tmp_path: Path) -> None:
    day = judged(tmp_path)
    (tmp_path / "fitted.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(CampaignError, match="there already"):
        write_fitted(tmp_path / "fitted.yaml", day, doubtful(), "2020-01-02")
    assert not (tmp_path / "fitted.yaml").exists()


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    day = judged(tmp_path)
    (tmp_path / "fitted.yaml").write_text("mine", encoding="utf-8")
    with pytest.raises(CampaignError, match="there already"):
        write_fitted(tmp_path / "fitted.yaml", day, result(), "2020-01-02")
    assert (tmp_path / "fitted.yaml").read_text(encoding="utf-8") == "mine"


def test_what_cannot_be_told_is_said() -> None:
    said = " ".join(fit_sentences(result()))
    assert "Latency of the rangefinder and lift slope of the foil sections can hardly be separated" in said
    assert "do not show: bandwidth of the servos" in said
    assert "intervals held the truth in 185 of 196" in said
    assert fit_rows(result())[2][2] == "not known"
