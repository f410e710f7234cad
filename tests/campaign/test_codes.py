"""Control code of the builder's own in a craft file: read, kept, a factor like any other, and never run unasked."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sweep import cli
from sweep.campaign.campaign import load_campaign
from sweep.campaign.designs import craft_of, row_of
from sweep.campaign.text.problems import CampaignError
from tests.own.bad import law

CRAFT = Path(__file__).resolve().parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = """\
title: Own against built-in
craft: boat.yaml
factors:
  control.law: [level-and-height, own-code]
  control.settings.kp: [0.4 deg/cm, 0.6 deg/cm]
conditions:
  seas: {calm: {kind: flat}}
  headings: [head]
  speeds: [4 m/s]
  replicates: 1
flight: {length: 4 s, settle: 1 s, seed: 3}
score:
  ride_height_error: {scale: 1 cm}
"""


def written(folder: Path, campaign: str = CAMPAIGN, control: str = "", code: str | None = None) -> Path:
    """A campaign with its craft and code."""
    given = control or "control:\n  code: my_control.c\n  settings: {kp: 0.5 deg/cm}\n"
    text, count = re.subn(r"^control:\n", given, CRAFT.read_text(), flags=re.M)
    assert count == 1
    (folder / "boat.yaml").write_text(text)
    if code != "":
        (folder / "my_control.c").write_text(code or law())
    (folder / "own.yaml").write_text(campaign)
    return folder / "own.yaml"


def test_code_and_settings_are_factors(tmp_path: Path) -> None:
    campaign = load_campaign(written(tmp_path))
    crafts = [craft_of(campaign, row_of(campaign, number)) for number in range(1, 5)]
    assert [craft.control.law for craft in crafts] == ["level-and-height"] * 2 + ["own-code"] * 2
    assert crafts[3].control.settings["kp"] == pytest.approx(1.0471976)  # 0.6 deg/cm in rad/m
    assert crafts[3].codes == {"my_control.c": law()}
    assert campaign.factors["control.settings.kp"].kind == "set"


@pytest.mark.parametrize(
    ("campaign", "control", "code", "said"),
    [
        (CAMPAIGN, "", "", "no such file"),
        (CAMPAIGN.replace("0.6 deg/cm]", "3 s]"), "", None, "every level in deg/cm"),
        (CAMPAIGN, "control:\n  settings: {kp: 0.5 deg/cm}\n", None, "code beside it: a C file"),
        (CAMPAIGN, "control:\n  code: ../my_control.c\n  settings: {kp: 0.5 deg/cm}\n", None, "no folders"),
        (CAMPAIGN, "control:\n  code: my_control.c\n  settings: {kp: 0.5 dog/cm}\n", None, "is no unit here"),
        (CAMPAIGN.replace("control.settings.kp", "control.settings.kd"), "", None, "control.settings.kp"),
    ],
)
def test_what_is_wrong_is_told(campaign: str, control: str, code: str | None, said: str, tmp_path: Path) -> None:
    with pytest.raises(CampaignError) as error:
        load_campaign(written(tmp_path, campaign, control, code))
    assert said in str(error.value)


def test_a_strangers_campaign_runs_nothing_without_the_word(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Code that would leave a trace if it were compiled (an include of a file that is none) or run; no command does either."""
    trace = law().replace('#include "control.h"', '#include "control.h"\n#error "compiled"')
    path = written(tmp_path, code=trace)
    assert cli.main(["check", str(path)]) == 0
    assert "Own code: my_control.c" in capsys.readouterr().out
    assert cli.main(["run", str(path), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "my_control.c: this campaign flies with code of its own" in said
    assert "--run-code" in said
    assert not (tmp_path / "out").exists()
    assert cli.main(["fly", str(path), "--design", "3", "--condition", "0", "--out", str(tmp_path / "one")]) == 2
    assert "--run-code" in capsys.readouterr().err
    assert cli.main(["run", str(path), "--run-code", "--out", str(tmp_path / "out")]) == 2
    assert "my_control.c:2:2: error: #error" in capsys.readouterr().err
