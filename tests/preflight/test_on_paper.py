"""What is written down before launch: against trims by hand, and boats whose numbers are off."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.draws import water_of
from sweep.linear.reach import foil_angles, reach, trimmed
from sweep.preflight.on_paper import EVEN, NORMAL, READ, on_paper, suspects, trims_shown
from sweep.report.pages.on_paper import paper_of

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def courier() -> Campaign:
    return load_campaign(CONFIGS / "courier-chop.yaml")


def test_its_values_are_those_of_the_trim(courier: Campaign) -> None:
    found = on_paper(courier, courier.craft)
    assert found is not None
    fleet = trimmed(courier.craft, water_of(courier), found.speed)
    angles = dict(zip(courier.craft.foils, foil_angles(fleet), strict=True))
    slowest = reach(courier.craft, water_of(courier), courier.speeds)
    assert slowest is not None
    take_off, throttle, mean, apart = found.shown
    assert take_off.value == pytest.approx(slowest.low, rel=0.02)
    assert throttle.value == pytest.approx(100.0 * fleet.trim[0, 2], rel=1e-6)
    port, aft = (math.degrees(angles[name]) for name in ("port", "aft"))
    assert mean.value == pytest.approx(0.5 * (port + aft), abs=1e-6)
    assert apart.value == pytest.approx(port - aft, abs=1e-6)
    assert apart.name == "foil port less foil aft"


def test_no_take_off_speed_is_told_where_nothing_holds_the_height() -> None:
    """The classroom craft has no integral of height: it sinks below its ride height long before its foils are at their ends."""
    pond = load_campaign(CONFIGS / "classroom-pond.yaml")
    found = on_paper(pond, pond.craft)
    assert found is not None
    assert [each.unit for each in found.shown] == ["%", "deg", "deg"]
    assert all(len(side.adds) == 3 for pair in found.wrong for side in pair)


def test_an_interval_adds_up_what_each_number_may_add(courier: Campaign) -> None:
    found = on_paper(courier, courier.craft)
    assert found is not None
    adds = np.array([more.adds for _, more in found.wrong])
    for at, shown in enumerate(found.shown):
        assert shown.half == pytest.approx(NORMAL * math.hypot(READ[shown.unit], math.sqrt((adds[:, at] ** 2).sum()) / EVEN))


def test_signs_are_those_of_physics(courier: Campaign) -> None:
    """More lift takes off sooner at less angle; drag and thrust are in the throttle; weight forward loads those in front."""
    found = on_paper(courier, courier.craft)
    assert found is not None
    adds = {more.name: dict(zip([each.name for each in found.shown], more.adds, strict=True)) for _, more in found.wrong}
    lift, drag, thrust, balance = (
        adds[name] for name in ("lift slope of the foils", "least drag of the foils", "thrust", "centre of gravity")
    )
    mean, apart = "foils port and aft, mean", "foil port less foil aft"
    assert max(lift["take-off speed"], lift[mean]) < 0.0
    assert drag["throttle"] > 1.0 > abs(drag[mean])
    assert thrust["throttle"] < -1.0
    assert balance[apart] > 0.2 > abs(balance[mean])
    assert adds["incidence of the foils"][mean] == pytest.approx(-1.0, abs=0.01)
    assert found.explain(3, True)[0].name == "centre of gravity"
    assert [each.name for each in found.explain(1, True)][:2] == ["least drag of the foils", "thrust"]
    assert found.explain(1, True)[0].off == "40 % more"
    assert found.explain(1, True)[1].off == "15 % less"


def test_boats_within_the_ranges_are_inside_the_intervals(courier: Campaign) -> None:
    """Drawn evenly within all ranges at once: 95 % of each, less what people misread."""
    found, draws = on_paper(courier, courier.craft), np.random.default_rng(2)
    assert found is not None
    crafts = []
    for _ in range(96):
        values: dict[str, float] = {}
        for suspect in suspects(courier, courier.craft):
            (_, low), (_, high) = suspect.ends
            share = draws.random()
            values |= {address: low[address] + share * (high[address] - low[address]) for address in low}
        crafts.append(replace_values(courier.craft, values))
    _, shown = trims_shown(crafts, courier, found.speed)
    read = shown + draws.standard_normal(shown.shape) * [READ[each.unit] for each in found.shown]
    inside = np.abs(read - [each.value for each in found.shown]) <= [each.half for each in found.shown]
    assert inside.mean() >= 0.92
    assert inside.mean() <= 0.99


def test_what_the_campaign_says_is_not_known_is_taken_from_it(tmp_path: Path) -> None:
    text = (CONFIGS / "quick.yaml").read_text().replace("craft/courier.yaml", str(CONFIGS / "craft" / "courier.yaml"))
    text = text.replace("replicates: 3", "replicates: 4", 1)
    (tmp_path / "u.yaml").write_text(text + "\nunknowns: {foils.*.section.drag_min: +- 60 %, body.x: +- 3 cm}\n")
    unknown = load_campaign(tmp_path / "u.yaml")
    ends = {each.name: each.ends for each in suspects(unknown, unknown.craft)}
    assert ends["centre of gravity"][1][1] == {"body.x": pytest.approx(unknown.craft.body.x + 0.03)}
    drag = unknown.craft.foils["aft"].section.drag_min
    assert ends["least drag of the foils"][0][1]["foils.aft.section.drag_min"] == pytest.approx(0.4 * drag)
    assert on_paper(unknown, unknown.craft) is not None


def test_the_card_says_what_to_expect_and_what_explains_the_rest(courier: Campaign) -> None:
    told = paper_of(on_paper(courier, courier.craft))
    assert told is not None
    lines = {line.name: line for line in told.lines}
    assert lines["throttle"].high == "check least drag of the foils (more), then thrust (less)"
    assert lines["take-off speed"].expect.endswith("m/s")
    assert len(told.headings) == len(told.lines)
    assert all(len(cells) == len(told.headings) for _, cells in told.adds)
    assert paper_of(None) is None
