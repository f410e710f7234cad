"""Imported where processes are forked from, so that they begin with everything imported and the machine code loaded."""

from pathlib import Path

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying import cluster
from sweep.flying.flights import warm_up
from sweep.report import publishing

__all__ = ["cluster", "publishing"]

_CAMPAIGN = load_campaign(Path(__file__).parents[2] / "configs" / "quick.yaml")
warm_up(_CAMPAIGN, lay_out(_CAMPAIGN), list_conditions(_CAMPAIGN))
