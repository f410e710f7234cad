"""The scale drawing holds the craft's own numbers."""

from __future__ import annotations

from math import tan
from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft, ride_window
from sweep.model.pack.mass import mass_properties
from sweep.report.drawing import Shape, View, Wave, beside, draw, replay_frame, side
from tests.second.medley import medley
from tests.second.pilot import pilot
from tests.site_results import CRAFT, campaign

OTHER = """\
title: t
craft: {craft}
factors: {{struts.height: [30 cm, 32 cm]}}
conditions:
  seas: {{flat: {{kind: flat}}}}
  headings: head
  speeds: 4 m/s
"""


@pytest.fixture(scope="module")
def craft(tmp_path_factory: pytest.TempPathFactory) -> Craft:
    return campaign(tmp_path_factory.mktemp("campaign")).craft


def view(craft: Craft, key: str) -> View:
    return next(each for each in draw(craft) if each.key == key)


def size(shape: Shape) -> tuple[float, float]:
    across, down = zip(*shape.points, strict=True)
    return max(across) - min(across), max(down) - min(down)


def shapes(craft: Craft, key: str, kind: str) -> list[Shape]:
    return [shape for shape in view(craft, key).shapes if shape.kind == kind]


def test_hull_and_foils_have_their_sizes(craft: Craft) -> None:
    assert size(shapes(craft, "side", "hull")[0]) == pytest.approx((0.9, 0.12))
    assert size(shapes(craft, "front", "hull")[0]) == pytest.approx((0.16, 0.12))
    assert size(shapes(craft, "plan", "hull")[0]) == pytest.approx((0.9, 0.16))
    span, chord = 0.03**0.5, (0.005 / 6) ** 0.5
    for shape in shapes(craft, "plan", "foil"):
        assert size(shape) == pytest.approx((chord, span))
    assert size(shapes(craft, "front", "foil")[0])[0] == pytest.approx(span)
    assert size(shapes(craft, "side", "foil")[0]) == pytest.approx((chord, 0.12 * chord))


def test_foils_hang_from_the_keel_by_the_struts(craft: Craft) -> None:
    for strut in shapes(craft, "side", "strut"):
        assert {down for _, down in strut.points} == {0.0, craft.struts.height}
    for foil in shapes(craft, "side", "foil"):
        assert sum(down for _, down in foil.points) / len(foil.points) == pytest.approx(craft.struts.height)


def test_starboard_is_left_from_ahead_and_down_from_above(craft: Craft) -> None:
    front = {shape.name: shape for shape in shapes(craft, "front", "foil")}
    plan = {shape.name: shape for shape in shapes(craft, "plan", "foil")}
    assert max(across for across, _ in front["starboard"].points) < 0 < min(across for across, _ in front["port"].points)
    assert min(down for _, down in plan["starboard"].points) > 0 > max(down for _, down in plan["port"].points)


def test_views_share_a_scale_and_hold_every_solid(craft: Craft) -> None:
    views = draw(craft)
    assert len({round(each.frame[2], 9) for each in views}) == 1
    for each in views:
        left, top, width, height = each.frame
        for shape in each.shapes:
            for across, down in shape.points:
                assert left - 1e-9 <= across <= left + width + 1e-9
                assert top - 1e-9 <= down <= top + height + 1e-9


def test_water_lies_at_the_wanted_ride_height(craft: Craft) -> None:
    level = shapes(craft, "side", "level")[0]
    assert [down for _, down in level.points] == pytest.approx([craft.control.ride_height] * len(level.points))


def test_the_ride_window_keeps_keel_and_foils(craft: Craft) -> None:
    """A keel 1 cm clear, a foil one chord deep: craft-model.md, section 17."""
    least, largest = ride_window(craft)
    assert least == pytest.approx(0.01)
    assert largest == pytest.approx(craft.struts.height - (0.005 / 6) ** 0.5)
    tips_up = {name: foil.model_copy(update={"dihedral": 0.2}) for name, foil in craft.foils.items()}
    assert ride_window(craft.model_copy(update={"foils": tips_up}))[1] < largest


@pytest.mark.parametrize(
    ("layout", "count", "places"),
    [
        ("bow", 1, [(0.35, 0.0)]),
        ("across-bow", 3, [(0.35, -0.1), (0.35, 0.0), (0.35, 0.1)]),
        ("over-foils", 4, [(0.22, -0.17), (0.22, 0.17), (-0.4, 0.0), (0.22, -0.17)]),
    ],
)
def test_rangefinders_sit_where_the_model_has_them(
    craft: Craft, layout: str, count: int, places: list[tuple[float, float]]
) -> None:
    """MODEL.md, "Sensors"."""
    fitted = craft.model_copy(update={"rangefinders": craft.rangefinders.model_copy(update={"layout": layout, "count": count})})
    seen = [shape.points for view in draw(fitted) if view.key == "plan" for shape in view.shapes if shape.kind == "sensor"]
    middles = [(sum(x for x, _ in points) / 4, sum(y for _, y in points) / 4) for points in seen]
    assert middles == [pytest.approx((x, y)) for x, y in places]


def test_the_mark_is_at_the_centre_of_gravity(craft: Craft) -> None:
    """In build axes, as the model adds it up from the parts."""
    x, y, height = mass_properties(craft).centre
    wanted = {"side": (x, -height), "front": (-y, -height), "plan": (x, -y)}
    for key, place in wanted.items():
        (ring,) = shapes(craft, key, "ring")
        across, down = zip(*ring.points[:-1], strict=True)
        assert (sum(across) / len(across), sum(down) / len(down)) == pytest.approx(place, abs=1e-9)
        assert len(shapes(craft, key, "centre")) == 2


def test_a_wave_is_drawn_to_scale(craft: Craft) -> None:
    """Crest and trough half its height from the calm level, half its length apart."""
    view = next(each for each in draw(craft, Wave(0.06, 0.4)) if each.key == "side")
    (wave,) = [shape for shape in view.shapes if shape.kind == "wave"]
    heights = [craft.control.ride_height - down for _, down in wave.points]
    assert max(heights) == pytest.approx(0.03, abs=2e-4)
    assert min(heights) == pytest.approx(-0.03, abs=2e-4)
    crest, trough = (wave.points[heights.index(end(heights))][0] for end in (max, min))
    assert abs(crest - trough) % 0.4 == pytest.approx(0.2, abs=0.03)
    assert not [shape for view in draw(craft) for shape in view.shapes if shape.kind == "wave"]


def test_arms_reach_the_struts_that_stand_beside_the_hull(craft: Craft) -> None:
    assert beside(craft) == [(0.22, -0.17), (0.22, 0.17)]
    assert sorted(shape.points[1] for shape in shapes(craft, "plan", "arm")) == [(0.22, -0.17), (0.22, 0.17)]
    hull = craft.hulls["main"].model_copy(update={"beam": 0.4})
    assert beside(craft.model_copy(update={"hulls": {"main": hull}})) == []


def test_a_foil_turns_about_its_pivot_unless_a_flap_moves(craft: Craft) -> None:
    port = next(shape for shape in shapes(craft, "side", "foil") if shape.name == "port")
    assert port.pivot == (0.22, craft.struts.height)
    flapped = {name: foil.model_copy(update={"flap": 0.25}) for name, foil in craft.foils.items()}
    assert {shape.pivot for shape in shapes(craft.model_copy(update={"foils": flapped}), "side", "foil")} == {None}


def test_a_replay_shows_the_whole_craft_all_the_way(craft: Craft) -> None:
    left, top, width, height = replay_frame(craft, 0.02, 0.2)
    for keel in (0.02, 0.2):
        for shape in side(craft):
            for across, down in shape.points:
                assert left < across < left + width
                assert top < down - keel < top + height
    assert replay_frame(craft, -40.0, 50.0)[3] < 2.0, "a boat that left the model is not chased"


def test_two_propellers_are_two_circles(craft: Craft) -> None:
    assert len(shapes(craft, "front", "propulsor")) == 1
    pair = craft.model_copy(update={"propulsor": craft.propulsor.model_copy(update={"count": 2, "spacing": 0.3})})
    middles = sorted(sum(across for across, _ in shape.points[:-1]) / 24 for shape in shapes(pair, "front", "propulsor"))
    assert middles == pytest.approx([-0.15, 0.15])


@pytest.mark.parametrize("name", ["surveyor", "classroom", "lookout"])
def test_other_crafts_are_drawn_whole(name: str, tmp_path: Path) -> None:
    """One foil ahead and two behind; three rangefinders over the foils."""
    path = tmp_path / "c.yaml"
    path.write_text(OTHER.format(craft=CRAFT.with_name(f"{name}.yaml")), encoding="utf-8")
    other = load_campaign(path).craft
    views = {each.key: each for each in draw(other)}
    assert {shape.name for shape in views["plan"].shapes if shape.kind == "foil"} == set(other.foils)
    assert len([shape for shape in views["plan"].shapes if shape.kind == "sensor"]) == other.rangefinders.count
    for each in views.values():
        left, top, width, height = each.frame
        assert all(left <= x <= left + width and top <= y <= top + height for shape in each.shapes for x, y in shape.points)


def enclosed(points: tuple[tuple[float, float], ...]) -> float:
    """Area of a polygon, m2."""
    pairs = zip(points, (*points[1:], points[0]), strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2.0


def test_unlike_foils_struts_and_rudders_are_drawn_as_they_are() -> None:
    """The plan of every foil has its area and reaches aft with its sweep; every strut its own height; every rudder stands."""
    craft = pilot()
    for shape in shapes(craft, "plan", "foil"):
        foil = craft.foils[shape.name]
        assert enclosed(shape.points) == pytest.approx(foil.area, rel=1e-9)
        tips = [x for x, y in shape.points if abs(y - foil.y) > 0.99 * foil.span_length / 2]
        assert min(tips) + 0.75 * (max(tips) - min(tips)) == pytest.approx(foil.x - foil.span_length / 2 * tan(foil.sweep))
    struts = shapes(craft, "side", "strut")
    depths = [max(down for _, down in shape.points) for shape in struts if not shape.name]
    assert depths == pytest.approx([craft.strut_of(foil).height for foil in craft.foils.values()])
    rudders = {shape.name: size(shape)[1] for shape in struts if shape.name}
    assert rudders == {f"rudder {name}": pytest.approx(rudder.length) for name, rudder in craft.steering.rudders.items()}
    fixed = next(shape for shape in shapes(craft, "side", "foil") if shape.name == "stern")
    assert fixed.pivot is None


def test_wands_linkages_and_brackets_are_drawn_where_they_are() -> None:
    """A linkage goes from the hinge of its wand to the foil; in the plan what is to starboard is down, brackets too."""
    craft = medley(1)
    wand, foil = craft.wands["feeler"], craft.foils["bow"]
    first, last = shapes(craft, "side", "linkage")
    assert first.points[0] == (wand.x, -wand.height)
    assert last.points[1] == (foil.x, craft.strut_of(foil).height)
    assert shapes(craft, "front", "linkage")[-1].points[1] == (-foil.y, craft.strut_of(foil).height)
    (rod,) = shapes(craft, "plan", "linkage")
    (arm,) = shapes(craft, "plan", "wand")
    assert (rod.points[0], rod.points[1]) == ((wand.x, wand.y), (foil.x, foil.y))
    assert arm.points[0] == (wand.x, wand.y)
    (starboard,) = [shape for shape in shapes(craft, "plan", "foil") if shape.name == "starboard"]
    assert min(y for _, y in starboard.points) > 0.0
    brackets = {shape.points[1] for shape in shapes(craft, "plan", "arm")}
    assert (0.2, craft.foils["starboard"].y) in brackets
