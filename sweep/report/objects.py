"""What `check`, `run` and `rank` say, as values for a script: tables as in their CSV, SI."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.text.problems import CampaignError
from sweep.preflight.amounts import count_flights, first_look
from sweep.preflight.forecast import doubts
from sweep.report.headline import result

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results


def forecast_object(campaign: Campaign, sentences: list[str]) -> dict[str, Any]:
    """Of `check`: what is flown, what is said of it, and what is in doubt."""
    conditions = len(list_conditions(campaign))
    flights = count_flights(campaign, conditions)
    return {
        "title": campaign.title,
        "craft": campaign.craft.name,
        "designs": len(lay_out(first_look(campaign))),
        "conditions": conditions,
        "replicates": campaign.replicates,
        "flights": flights,
        "simulated": flights * campaign.flight.length,
        "sentences": sentences,
        "doubts": doubts(campaign),
    }


def results_object(results: Results, folder: Path, site: bool) -> dict[str, Any]:
    """Of `run` and `rank`: the answer and the tables that it rests on."""
    return {
        "title": results.campaign.title,
        "folder": folder,
        "site": folder / "site" / "index.html" if site else None,
        "answer": result(results),
        "standings": records(results.standings.join(results.designs, on="design")),
        "builds": records(results.builds.join(results.designs, on="design") if len(results.builds) else results.builds),
    }


def error_object(error: Exception, message: str) -> dict[str, Any]:
    """Of any command that failed: what it said, and each mistake of a file with its place."""
    problems: Iterable[Any] = error.problems if isinstance(error, CampaignError) else ()
    return {"message": message, "problems": list(problems)}


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table by their columns; what is missing is None."""
    rows = table.astype(object).where(table.notna(), None).to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]
