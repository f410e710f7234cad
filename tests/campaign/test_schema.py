from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from sweep.campaign.schema import campaign_schema, craft_schema
from tests.campaign.files import CAMPAIGN, CRAFT, changed

CONFIGS = Path(__file__).parents[2] / "configs"
CHOP = "{kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}"
CAMPAIGNS = Draft202012Validator(campaign_schema())
CRAFTS = Draft202012Validator(craft_schema())


def plain(text: str) -> Any:
    return YAML(typ="safe", pure=True).load(text)


@pytest.mark.parametrize("validator", [CAMPAIGNS, CRAFTS])
def test_the_schema_is_one(validator: Draft202012Validator) -> None:
    Draft202012Validator.check_schema(validator.schema)


@pytest.mark.parametrize("path", sorted(CONFIGS.glob("*.yaml")), ids=lambda path: path.stem)
def test_shipped_campaigns_are_valid(path: Path) -> None:
    CAMPAIGNS.validate(plain(path.read_text()))


@pytest.mark.parametrize("path", sorted((CONFIGS / "craft").glob("*.yaml")), ids=lambda path: path.stem)
def test_shipped_craft_are_valid(path: Path) -> None:
    CRAFTS.validate(plain(path.read_text()))


def test_a_craft_inside_a_campaign_is_valid() -> None:
    CAMPAIGNS.validate(plain(CAMPAIGN) | {"craft": plain(CRAFT)})


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("plan: full-factorial", "plan: {kind: latin-hypercube, designs: 40}"),
        ("plan: full-factorial", "plan: {kind: sobol, designs: 64, seed: 3}"),
        ("plan: full-factorial", "plan: {kind: variance-based, base: 64}"),
        ("plan: full-factorial", "plan: {kind: listed, file: designs.csv}"),
        ("plan: full-factorial", "plan: {kind: search, designs: 1200, seed: 3}"),
        ("settle: 5 s", "settle: 5 s, start: rest"),
        (CHOP, "{kind: bretschneider, height: 4 cm, period: 1 s, spreading: 10, turned: 30 deg}"),
        (CHOP, "{kind: wind, speed: [3 m/s, 6 kn], fetch: 1 km}"),
        (CHOP, "{kind: code, state: 1, height: 4 cm, period: 1 s}"),
        (CHOP, "{kind: packet, height: 4 cm, period: 1 s, waves: 5, arrives: 12 s}"),
        (CHOP, "{kind: sum, of: [{kind: jonswap, height: 4 cm, period: 1 s}, {kind: regular, height: 4 cm, period: 2 s}]}"),
    ],
)
def test_every_plan_and_sea_is_valid(old: str, new: str) -> None:
    CAMPAIGNS.validate(plain(changed(CAMPAIGN, ((old, new),))))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("settle:", "setle:"),
        ("settle: 5 s", "settle: 5"),
        ("settle: 5 s", "settle: 5 m"),
        ("height: [4 cm, 8 cm]", "height: [4, 8]"),
        ("kind: jonswap", "kind: jonswop"),
        (", period: 1.2 s", ""),
        ("[head, 120 deg]", "[ahead]"),
        ("[head, 120 deg]", "[120 cm]"),
        ("replicates: 4", "replicates: 0"),
        ("replicates: 4", "replicates: four"),
        ("touchdowns:", "touchdown:"),
        ("pitch_rms:", "speed_mean:"),
        ("plan: full-factorial", "plan: sobol"),
        ("plan: full-factorial", "plan: {kind: sobol}"),
        ("plan: full-factorial", "plan: {kind: variance-based, designs: 64}"),
        ("plan: full-factorial", "plan: {kind: listed, designs: 64}"),
        ("plan: full-factorial", "plan: {kind: search, design: 400}"),
        ("settle: 5 s", "settle: 5 s, start: moored"),
        (CHOP, "{kind: wind, speed: 3 m/s}"),
        (CHOP, "{kind: wind, speed: 3, fetch: 1 km}"),
        (CHOP, "{kind: code, height: 4 cm, period: 1 s}"),
        (CHOP, "{kind: packet, height: 4 cm, period: 1 s, waves: 5}"),
        (CHOP, "{kind: sum, of: [{kind: flat}, {kind: flat}]}"),
        ("[14 cm, 18 cm, 22 cm]", "[14 cm]"),
        ("[14 cm, 18 cm, 22 cm]", "14 cm"),
        ("temperature: 18 degC", "temperature: 18"),
        ("title: Tender in a chop", "title: 7"),
        ("craft: tender.yaml", "craft: 7"),
        ("chop:", "'4 cm':"),
    ],
)
def test_wrong_campaigns_are_not(old: str, new: str) -> None:
    CAMPAIGNS.validate(plain(CAMPAIGN))
    assert not CAMPAIGNS.is_valid(plain(changed(CAMPAIGN, ((old, new),))))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("mass: 3 kg", "mass: 3"),
        ("mass: 3 kg", "mass: 3 cm"),
        ("mass: 3 kg", "mas: 3 kg"),
        ("mass: 3 kg, ", ""),
        ("count: 1", "count: 7"),
        ("count: 1", "count: one"),
        ("aspect_ratio: 6", "aspect_ratio: 6 cm"),
        ("{proportional: 0.4 deg/cm}", "{proportional: 0.4}"),
        ("{proportional: 0.4 deg/cm}", "0.4 deg/cm"),
    ],
)
def test_wrong_craft_are_not(old: str, new: str) -> None:
    CRAFTS.validate(plain(CRAFT))
    assert not CRAFTS.is_valid(plain(changed(CRAFT, ((old, new),))))


def test_defaults_are_written_as_a_file_has_them() -> None:
    definitions = craft_schema()["$defs"]
    assert definitions["Rangefinders"]["properties"]["latency"]["default"] == "0.06 s"
    assert definitions["Foil"]["properties"]["thickness_ratio"]["default"] == 0.12
