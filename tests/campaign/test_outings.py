"""Which outings a campaign has, what they cost, and when in one something happened."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from sweep.campaign.outings import LENGTH, LIES, OUTING, STARTS, as_outings, conditions_of, list_outings, phase, simulated
from sweep.campaign.text.problems import CampaignError
from sweep.model.compiled import LANES
from tests.campaign.files import load

OUTINGS = ("flight: {", "outings: 20\nflight: {")


def test_an_outing_is_ten_minutes_with_two_turns_a_stop_and_two_starts() -> None:
    assert LENGTH == 600.0
    assert sum(bool(leg.turn) for leg in OUTING.legs) == 2
    assert sum(leg.stop is not None for leg in OUTING.legs) + 1 == STARTS
    assert LIES + sum(leg.time or leg.stop or 0.0 for leg in OUTING.legs) == LENGTH


def test_outings_are_spread_over_seas_headings_and_speeds(tmp_path: Path) -> None:
    campaign = load(tmp_path, OUTINGS)
    conditions, outings = conditions_of(campaign), list_outings(campaign)
    assert len(conditions) == 18
    assert len(outings) == len(set(outings)) == 20
    speeds = [conditions[out.condition].speed for out in outings]
    assert speeds == sorted(speeds)
    for kind in ("sea", "heading", "speed"):
        often = Counter(getattr(conditions[out.condition], kind) for out in outings)
        assert max(often.values()) <= 2.5 * min(often.values()), kind
    assert all(condition.course == OUTING for condition in conditions)
    few = list_outings(load(tmp_path, (OUTINGS[0], "outings: 4\nflight: {")))
    assert len({conditions[out.condition].speed for out in few}) == 2


def test_flights_of_outings_begin_afloat_and_are_sound(tmp_path: Path) -> None:
    faults = ("  replicates: 4", "  faults: [none, {no_thrust: {from: 10 s}}]\n  replicates: 4")
    out = as_outings(load(tmp_path, OUTINGS, faults))
    assert (out.flight.start, out.flight.length, out.flight.seed) == ("rest", LENGTH, 7)
    assert [fault.name for fault in out.faults] == ["none"]


def test_none_through_a_packet_and_none_unasked(tmp_path: Path) -> None:
    wake = "wake: {kind: packet, height: 10 cm, period: 1.5 s, waves: 4, arrives: 20 s}"
    campaign = load(tmp_path, OUTINGS, ("    calm: {kind: flat}", f"    {wake}"))
    assert "wake" not in {condition.sea.name for condition in conditions_of(campaign)}
    assert list_outings(load(tmp_path)) == []
    assert simulated(load(tmp_path), 4) == 0.0
    only = load_only(wake)
    with pytest.raises(CampaignError, match="no outing goes through a packet of waves"):
        load(tmp_path, OUTINGS, *only)


def load_only(wake: str) -> tuple[tuple[str, str], ...]:
    """No sea but this one."""
    return (
        ("    calm: {kind: flat}\n", f"    {wake}\n"),
        ("    chop: {kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}\n", ""),
        ("    swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}\n", ""),
    )


def test_what_they_cost_is_that_of_full_lanes(tmp_path: Path) -> None:
    """Ten outings of each speed, four designs: 40 flights, in two batches of 32 lanes a speed, and half of one for causes."""
    campaign = load(tmp_path, OUTINGS)
    assert simulated(campaign, 4) == pytest.approx(5 * LANES * LENGTH * 1.35)


@pytest.mark.parametrize(
    ("time", "said"),
    [(3.0, " in a start"), (100.0, ""), (163.0, " in a turn"), (176.0, ""), (281.0, " in a turn"), (405.0, " in the stop"),
     (431.0, " in a start"), (460.0, "")],
)  # fmt: skip
def test_when_it_happened(time: float, said: str) -> None:
    assert phase(time) == said
