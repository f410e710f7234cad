"""Every kind of sea that a campaign file may have, as what flights meet."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from sweep.campaign.campaign import Campaign
from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import draw_block
from sweep.campaign.named_seas import JonswapSea, NamedSea, PacketSea, RegularSea, wave_length
from sweep.campaign.text.problems import CampaignError
from sweep.flying.recording import record_flights
from sweep.flying.work import Work
from tests.campaign.files import load
from tests.references import reference

CHOP = "{kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}"


def with_sea(folder: Path, text: str, *more: tuple[str, str]) -> Campaign:
    """The campaign with this for its chop."""
    return load(folder, (CHOP, text), *more)


def seas(folder: Path, text: str, *more: tuple[str, str]) -> tuple[NamedSea, ...]:
    """What this entry stands for."""
    return tuple(sea for sea in with_sea(folder, text, *more).seas if sea.name.startswith("chop"))


def test_a_fully_grown_sea(tmp_path: Path) -> None:
    (sea,) = seas(tmp_path, "{kind: bretschneider, height: 6 cm, period: 1.2 s, spreading: 25, turned: -30 deg}")
    assert (sea.name, sea.kind, sea.height, sea.period, sea.spreading) == ("chop", "bretschneider", 0.06, 1.2, 25)
    assert sea.turned == pytest.approx(-math.pi / 6)


def test_a_wind_over_the_campaigns_depth(tmp_path: Path) -> None:
    """Young & Verhagen 1996, held by JONSWAP 1973: the lower of both rows of each table (U 5 m/s, F 300 m and 1 km)."""
    windy = seas(tmp_path, "{kind: wind, speed: 5 m/s, fetch: [300 m, 1 km]}", ("depth: 4 m", "depth: 5 m"))
    assert [(sea.name, sea.kind, sea.gamma) for sea in windy] == [
        ("chop 300 m", "jonswap", 3.3),
        ("chop 1000 m", "jonswap", 3.3),
    ]
    limits = [reference("growth", table).rows for table in ("young_verhagen_small", "jonswap_small")]
    shallow, deep = ({row["fetch m"]: row for row in rows if row["wind m/s"] == 5.0} for rows in limits)
    for sea, fetch in zip(windy, (300.0, 1000.0), strict=True):
        assert sea.height == pytest.approx(min(shallow[fetch]["Hm0 m"], deep[fetch]["Hm0 m"]), rel=3e-3)
        assert sea.period == pytest.approx(min(shallow[fetch]["Tp s"], deep[fetch]["Tp s"]), rel=3e-3)
    (flats,) = seas(tmp_path, "{kind: wind, speed: 5 m/s, fetch: 1 km}", ("depth: 4 m", "depth: 20 cm"))
    assert flats.height < windy[1].height
    assert flats.period < windy[1].period


def test_a_code_of_table_3700_needs_a_height_of_its_band(tmp_path: Path) -> None:
    for row in reference("sea_state", "code").rows[1:3]:
        inside = f"{100 * row['largest m']} cm"
        (sea,) = seas(tmp_path, f"{{kind: code, state: {row['code']}, height: {inside}, period: 2.8 s}}")
        assert (sea.kind, sea.height) == ("bretschneider", row["largest m"])
        with pytest.raises(CampaignError, match=f"a height of state {row['code'] + 1}: over {inside[:2]}"):
            seas(tmp_path, f"{{kind: code, state: {row['code'] + 1}, height: {inside}, period: 2.8 s}}")


def test_a_wake_and_its_place_among_the_conditions(tmp_path: Path) -> None:
    wake = "{kind: packet, height: [4 cm, 8 cm], period: 1.2 s, waves: 5, arrives: 10 s}"
    campaign = with_sea(tmp_path, wake)
    wakes = [sea for sea in campaign.seas if isinstance(sea, PacketSea)]
    assert [(sea.name, sea.waves, sea.arrives) for sea in wakes] == [("chop 4 cm", 5, 10), ("chop 8 cm", 5, 10)]
    table = condition_table(list_conditions(campaign)).set_index("name")
    assert table.loc["chop 8 cm, head, 3.5 m/s", ["sea_height", "sea_period"]].tolist() == [0.08, 1.2]


def test_a_sum_of_seas(tmp_path: Path) -> None:
    parts = (
        "{kind: sum, of: [{kind: jonswap, height: [3 cm, 4 cm], period: 0.9 s},"
        " {kind: regular, height: 3 cm, period: 2 s, turned: 90 deg}]}"
    )
    low, high = seas(tmp_path, parts)
    assert (low.name, high.name) == ("chop 3 cm", "chop 4 cm")
    assert high.height == pytest.approx(0.05)  # variances add
    assert (high.period, high.kind) == (0.9, "sum")
    assert [part.kind for part in high.systems] == ["jonswap", "regular"]
    assert high.systems[1].turned == pytest.approx(math.pi / 2)
    campaign = with_sea(tmp_path, parts)
    condition = next(condition for condition in list_conditions(campaign) if condition.sea == high)
    assert len(draw_block(campaign, condition, 0).omegas) == 32 + 1


def test_draws_follow_the_water_and_not_the_words(tmp_path: Path) -> None:
    """The same sea by another kind or name is the same block; anything that the water would show makes another."""

    def block(text: str, replicate: int = 0) -> list[float]:
        campaign = with_sea(tmp_path, text)
        condition = next(condition for condition in list_conditions(campaign) if condition.sea.name.startswith("chop"))
        return list(draw_block(campaign, condition, replicate).phases)

    first = block("{kind: bretschneider, height: 15 cm, period: 2 s}")
    assert block("{kind: code, state: 2, height: 15 cm, period: 2 s}") == first
    assert block("{kind: bretschneider, height: 15 cm, period: 2 s, spreading: 10}") != first
    assert block("{kind: bretschneider, height: 15 cm, period: 2 s, turned: 10 deg}") != first
    assert block("{kind: bretschneider, height: 15 cm, period: 2 s}", 1) != first


@pytest.mark.parametrize("heading", ["head", "following", "beam"])
def test_a_flight_meets_the_wake_when_it_is_said_to(tmp_path: Path, heading: str) -> None:
    wake = "{kind: packet, height: 6 cm, period: 1.2 s, waves: 4, arrives: 12 s}"
    more = (("[head, 120 deg]", heading), ("[3.5 m/s, 9 km/h]", "4 m/s"), ("length: 40 s", "length: 20 s"))
    campaign = with_sea(tmp_path, wake, *more)
    history = record_flights(Work(campaign, lay_out(campaign), list_conditions(campaign)), [0])[0]
    met = history[history["condition"] == 1].set_index("time")["surface"].abs()
    assert met.idxmax() == pytest.approx(12.0, abs=1.0)  # a boat does not hold its speed to the millimetre
    assert met.max() == pytest.approx(0.03, rel=0.1)
    assert met[:5.0].max() < 0.05 * 0.03


def test_wave_lengths_are_the_published_ones() -> None:
    period = math.sqrt(2 * math.pi / 9.81)  # deep wavelength 1 m
    table = reference("dispersion", "table_c1")
    for row in table.rows:
        assert row["d/L0"] / wave_length(period, row["d/L0"]) == pytest.approx(row["d/L"], abs=table.tolerance)


def test_breaking_limits_are_the_published_ones() -> None:
    for row in reference("dispersion", "breaking").rows:
        period = 2 * math.pi / math.sqrt(9.81 * math.tanh(row["kd"]))  # of a wave with k = 1 / m
        regular, irregular = RegularSea(period=period), JonswapSea(period=period)
        assert regular.steepest(row["kd"]) == pytest.approx(row["height over length"], rel=0.01)
        assert irregular.steepest(row["kd"]) == pytest.approx(min(0.07, row["height over length"] / 2), rel=0.01)
