"""Foilsweep: sweep designs of small hydrofoil boats and rank them with honest confidence.

import sweep

results = sweep.run("quick.yaml")     a campaign file, flown and ranked, into results/quick
sweep.standings(results)              a table: pandas, SI; table.attrs["units"] has the units
sweep.chart(results, "effects")       a chart, by Altair

load_campaign     reads a campaign file; raises CampaignError, whose problems say what is wrong, where
lay_out           the designs of a campaign, one a row
run               flies, ranks and publishes a campaign, or goes on with it
load_results      what a results folder holds
rank, publish     ranks a results folder again by its campaign.yaml; writes its site again
standings, builds, effects, trade_offs, causes    tables of results
moment            the seconds around an event of causes
chart             standings, builds, effects, tolerances, conditions or trade-offs, drawn
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from sweep.version import __version__ as __version__

if TYPE_CHECKING:
    from sweep.campaign.campaign import load_campaign as load_campaign
    from sweep.campaign.designs import lay_out as lay_out
    from sweep.campaign.text.problems import CampaignError as CampaignError
    from sweep.report.notebook import builds as builds
    from sweep.report.notebook import causes as causes
    from sweep.report.notebook import chart as chart
    from sweep.report.notebook import effects as effects
    from sweep.report.notebook import moment as moment
    from sweep.report.notebook import standings as standings
    from sweep.report.notebook import trade_offs as trade_offs
    from sweep.report.publishing import publish as publish
    from sweep.results.rank_folder import rank as rank
    from sweep.results.store import load_results as load_results
    from sweep.workflow import run as run

_HOMES = {
    "load_campaign": "sweep.campaign.campaign",
    "CampaignError": "sweep.campaign.text.problems",
    "lay_out": "sweep.campaign.designs",
    "run": "sweep.workflow",
    "rank": "sweep.results.rank_folder",
    "publish": "sweep.report.publishing",
    "load_results": "sweep.results.store",
    **dict.fromkeys(("standings", "builds", "effects", "trade_offs", "causes", "moment", "chart"), "sweep.report.notebook"),
}
__all__ = sorted(_HOMES)


def __dir__() -> list[str]:
    """What a notebook completes: the names that are promised."""
    return __all__


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for: the whole stack takes over a second."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sweep' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
