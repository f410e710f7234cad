"""JSON Schema (Draft 2020-12) of the campaign and craft files, from the models that read them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from sweep.campaign.campaign import CampaignFile
from sweep.campaign.craft import Craft
from sweep.campaign.text.dimensions import quantity

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def campaign_schema() -> dict[str, Any]:
    """The schema by which an editor completes and checks a campaign file."""
    return schema_of(CampaignFile)


def craft_schema() -> dict[str, Any]:
    """The schema by which an editor completes and checks a craft file."""
    return schema_of(Craft)


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """The schema of a file that a model reads."""
    tidied: dict[str, Any] = _tidy(model.model_json_schema(by_alias=True))
    return {"$schema": DIALECT, **tidied}


def _tidy(schema: Any) -> Any:
    """Defaults as a file writes them; no bounds in SI beside text with units; no titles that repeat the key."""
    if isinstance(schema, list):
        return [_tidy(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    dropped = {"gt", "ge", "lt", "le"} | ({"title"} if isinstance(schema.get("title"), str) else set())
    tidied = {key: _tidy(value) for key, value in schema.items() if key not in dropped}
    if "patternProperties" in tidied:
        tidied["additionalProperties"] = False
    default = tidied.get("default", ...)
    if default is None or isinstance(default, dict | list):
        del tidied["default"]
    elif isinstance(default, float) and tidied.get("type") == "string":
        unit = tidied["examples"][0].removeprefix("10 ")
        tidied["default"] = quantity(default, unit)
    return tidied
