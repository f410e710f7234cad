"""Imported where processes are forked from, so that they begin with everything imported and the machine code loaded."""

from pathlib import Path

from sweep import cluster, pages
from sweep.campaign.campaign import load_campaign
from sweep.conditions import list_conditions
from sweep.designs import lay_out
from sweep.flights import warm_up

__all__ = ["cluster", "pages"]

_CAMPAIGN = load_campaign(Path(__file__).parents[2] / "configs" / "quick.yaml")
warm_up(_CAMPAIGN, lay_out(_CAMPAIGN), list_conditions(_CAMPAIGN))
