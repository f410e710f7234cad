from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.problems import CampaignError
from tests.campaign.files import load


def test_tolerances_are_asked_for_in_one_word(tmp_path: Path) -> None:
    assert load(tmp_path).tolerances == "none"
    assert load(tmp_path, ("limits:", "tolerances: usual\nlimits:")).tolerances == "usual"


def test_another_word_is_told_what_there_is(tmp_path: Path) -> None:
    with pytest.raises(CampaignError) as error:
        load(tmp_path, ("limits:", "tolerances: all\nlimits:"))
    (problem,) = error.value.problems
    assert problem.line
    assert "'none' or 'usual'" in str(error.value) or ("none" in str(error.value) and "usual" in str(error.value))
