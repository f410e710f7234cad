"""What is downloaded flies again: each craft file gives the very craft that flew, where the campaign looks for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.report.display import craft_of_design
from sweep.report.pages import again
from sweep.results.store import Results
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), title="Courier", label="foil-area")


def test_each_craft_file_is_the_craft_that_flew(told: Results, tmp_path: Path) -> None:
    """Read back by itself: the numbers differ by what the twelfth digit leaves."""
    files = again.files_of(told)
    assert len(told.leaders) == len([name for name in files if name.startswith("data/craft-")]) > 2
    (tmp_path / "campaign.yaml").write_text(files["data/campaign.yaml"], encoding="utf-8")
    for design in told.leaders:
        (tmp_path / "craft.yaml").write_text(files[f"data/craft-{design}.yaml"], encoding="utf-8")
        read = load_campaign(tmp_path / "campaign.yaml").craft.model_dump()
        assert flat(read) == pytest.approx(flat(craft_of_design(told, design).model_dump()), rel=1e-10)


def flat(value: object, name: str = "") -> dict[str, object]:
    if isinstance(value, dict):
        return {key: each for part, below in value.items() for key, each in flat(below, f"{name}.{part}").items()}
    return {name: value} if isinstance(value, float) else {f"{name} {value!r}": 1.0}


def test_the_campaign_and_its_craft_give_the_same_designs_and_conditions(told: Results, tmp_path: Path) -> None:
    files, how = again.files_of(told), again.again_of(told)
    (tmp_path / "campaign.yaml").write_text(files["data/campaign.yaml"], encoding="utf-8")
    (tmp_path / how.place).write_text(files["data/craft.yaml"], encoding="utf-8")
    read = load_campaign(tmp_path / "campaign.yaml")
    assert lay_out(read).equals(lay_out(told.campaign))
    condition = how.commands[1].rpartition("--condition ")[2].strip('"')
    assert condition in list(condition_table(list_conditions(read))["name"])
