"""The keys of many designs, made from one text with their numbers in it, are those of each craft."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.addresses import value_at
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import craft_of, lay_out
from sweep.campaign.factors import Factor
from sweep.model.pack.mass import mass_properties, price
from sweep.results import fingerprint
from sweep.results.digests import flight_digest
from sweep.results.fingerprint import digest, flight_keys

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted([*CONFIGS.glob("*.yaml"), *CONFIGS.glob("lessons/*.yaml")])


def few(campaign: Campaign) -> pd.DataFrame:
    designs = lay_out(campaign)
    return designs.iloc[:: max(len(designs) // 20, 1)]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_keys_and_costs_are_those_of_each_craft(path: Path) -> None:
    campaign = load_campaign(path)
    designs = few(campaign)
    crafts = [craft_of(campaign, row) for _, row in designs.iterrows()]
    assert flight_keys(campaign, designs, ()).designs == [digest(fingerprint._built(craft)) for craft in crafts]
    costs = with_costs(campaign, designs)
    assert costs["mass"].tolist() == [mass_properties(craft).mass for craft in crafts]
    assert costs.get("price", pd.Series(0.0, costs.index)).tolist() == [price(craft) for craft in crafts]


def addresses(description: dict, before: str = ""):
    for name, value in description.items():
        if isinstance(value, dict):
            yield from addresses(value, f"{before}{name}.")
        elif isinstance(value, float) and not before.startswith("polars"):
            yield f"{before}{name}"


def test_every_number_of_a_craft_is_in_its_key() -> None:
    """But for prices; a value of any size is written as it is for a craft alone."""
    campaign = load_campaign(CONFIGS / "courier-chop.yaml")
    known = [each for each in addresses(campaign.craft.model_dump()) if each != "battery.charge"]  # refused without a voltage
    assert len(known) > 60
    for address in known:
        value = value_at(campaign.craft, address)
        single = campaign.model_copy(update={"factors": {"one": Factor(label="one", addresses=(address,))}})
        way = -1.0 if value == 1.0 else 1.0  # a share, or a ratio that ends at 1
        table = pd.DataFrame({"one": [value, value * (1.0 + way * 1e-9), value * (1.0 + way * 1e-15)]})
        keys = flight_keys(single, table, ()).designs
        assert keys == [digest(fingerprint._built(craft_of(single, row))) for _, row in table.iterrows()]
        moved = value * (1.0 + 1e-9) != value and not address.endswith("price")
        assert (keys[0] != keys[1]) == moved, address


def test_a_key_is_of_json(monkeypatch: pytest.MonkeyPatch) -> None:
    assert digest({"a": [1.5]}) == fingerprint._digest(json.dumps({"a": [1.5]}))
    assert len(flight_digest()) == 32
