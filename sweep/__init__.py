"""Foilsweep: sweep designs of small hydrofoil boats and rank them with honest confidence.

import sweep

campaign = sweep.load_campaign("configs/quick.yaml")
results = sweep.run(campaign, "results/quick")
results.standings
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweep.campaign.campaign import load_campaign as load_campaign
    from sweep.campaign.problems import CampaignError as CampaignError
    from sweep.designs import lay_out as lay_out
    from sweep.notebook import builds as builds
    from sweep.notebook import causes as causes
    from sweep.notebook import chart as chart
    from sweep.notebook import effects as effects
    from sweep.notebook import moment as moment
    from sweep.notebook import standings as standings
    from sweep.notebook import trade_offs as trade_offs
    from sweep.pages import publish as publish
    from sweep.pipeline import rank as rank
    from sweep.pipeline import run as run
    from sweep.store import load_results as load_results

__version__ = "0.1.0"

_HOMES = {
    "load_campaign": "sweep.campaign.campaign",
    "CampaignError": "sweep.campaign.problems",
    "lay_out": "sweep.designs",
    "run": "sweep.pipeline",
    "rank": "sweep.pipeline",
    "publish": "sweep.pages",
    "load_results": "sweep.store",
    **dict.fromkeys(("standings", "builds", "effects", "trade_offs", "causes", "moment", "chart"), "sweep.notebook"),
}
__all__ = [*_HOMES]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for: the whole stack takes over a second."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sweep' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
