"""Every shipped campaign goes through all that `foilsweep check` does, the first flights of its designs included."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep import cli
from sweep.campaign.campaign import load_campaign
from sweep.flying.flights import Pace
from sweep.linear import reach
from sweep.preflight import doubts, forecast

CONFIGS = Path(__file__).parents[2] / "configs"
CAMPAIGNS = sorted([*CONFIGS.glob("*.yaml"), *(CONFIGS / "lessons").glob("*.yaml")])
FEW = 6
"""Designs that are trimmed and linearised, where `check` takes 64: enough for a structure and its neighbours to meet."""


def test_there_are_campaigns() -> None:
    assert len(CAMPAIGNS) > 20


@pytest.mark.parametrize("path", CAMPAIGNS, ids=lambda path: path.stem)
def test_a_shipped_campaign_is_checked_without_an_error(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(reach, "MOST_TRIMMED", FEW)
    monkeypatch.setattr(doubts, "MOST_LINEARISED", FEW)
    monkeypatch.setattr(forecast, "measure_pace", lambda *_: Pace(300.0, 1e4, 100.0))
    assert cli.main(["check", str(path)]) == cli.DONE
    said = capsys.readouterr()
    title, *rest = said.out.splitlines()
    assert (title, said.err) == (load_campaign(path).title, "")
    assert any(" designs" in line for line in rest)
    assert any(line.startswith("Base craft ") for line in rest)
    assert not any(word in said.out for word in ("nan", "None", "inf ", "Traceback"))
