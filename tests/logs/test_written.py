"""A craft file written back: the fitted values in it, the rest as it was, and where they come from."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.campaign.text.problems import CampaignError
from sweep.logs.fit.craft_fit import Fitted, Result
from sweep.logs.report.sentences import fit_rows, fit_sentences
from sweep.logs.report.written import write_fitted
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
    assert fit_rows(result())[2][2] == "not known"
