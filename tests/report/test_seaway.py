"""The boat in the day's waves: to scale, with the lengths of its own craft file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.report.drawing import Wave, draw
from sweep.report.seaway import measured, portrait, seaway
from tests.model.crafts import changed, courier
from tests.second.pilot import pilot


def numbers(text: str) -> list[float]:
    return [float(value) for value in text.replace(",", " ").split()]


def test_the_water_is_a_wave_of_that_height_about_the_ride_height() -> None:
    """Half a wave is in the frame, so crest and trough are both there."""
    craft, wave = courier(), Wave(0.06, 1.0)
    drawn = seaway(craft, craft, wave)
    down = numbers(drawn.water)[1::2][:-2]
    level = 1e3 * craft.control.ride_height
    assert max(down) == pytest.approx(level + 30.0, abs=0.2)
    assert min(down) == pytest.approx(level - 30.0, abs=0.2)
    assert "6 cm high, 1 m long" in drawn.said
    assert any(label.text == "wave 6 cm" for label in drawn.labels)


def test_calm_water_is_level_and_is_not_called_a_wave() -> None:
    craft = courier()
    drawn = seaway(craft, craft, None)
    assert numbers(drawn.water)[1::2][:-2] == pytest.approx([1e3 * craft.control.ride_height] * 97)
    assert "wave" not in drawn.said
    assert not any("wave" in label.text for label in drawn.labels)


def test_other_struts_than_those_of_the_boat_as_it_is_are_told_and_dashed() -> None:
    base = courier()
    craft = changed(base, {"struts.height": base.struts.height + 0.06})
    drawn, same = seaway(craft, base, None), seaway(base, base, None)
    assert drawn.before
    assert not same.before
    assert f"struts {100 * craft.struts.height:g} cm ({100 * base.struts.height:g} cm as it is, dashed)" in drawn.said
    assert "as it is" not in same.said


def test_foils_on_struts_of_their_own_are_dashed_where_they_were_and_no_others() -> None:
    base = pilot()
    craft = changed(base, {"struts.height": base.struts.height + 0.03})
    common = [foil for foil in base.foils.values() if base.strut_of(foil) is base.struts]
    drawn = seaway(craft, base, None).before
    assert 0 < len(common) < len(base.foils)
    depths = [float(part.split()[1]) for part in drawn.split("M ")[1:]]
    assert depths == pytest.approx([1e3 * base.struts.height] * len(depths), abs=0.06)
    for foil in base.foils.values():
        assert f"{100 * base.strut_of(foil).height:g} cm" in seaway(base, base, None).said


def test_everything_solid_is_within_the_frame() -> None:
    craft = courier()
    for frame, shapes in [(seaway(craft, craft, None).frame, seaway(craft, craft, None).shapes), portrait(craft)[:2]]:
        left, top, width, height = (float(value) for value in frame)
        for shape in shapes:
            values = numbers(shape.points)
            assert all(left <= x <= left + width for x in values[::2])
            assert all(top <= y <= top + height for y in values[1::2])


@pytest.mark.parametrize("height", [0.15, 0.26])
def test_the_side_view_has_its_lengths_at_their_ends(height: float) -> None:
    """Every dimension line is as long as its words say, and within the frame."""
    craft = changed(courier(), {"struts.height": height})
    view, lengths = measured(craft, draw(craft)[0])
    said = {label.text for label in lengths.labels}
    foils = [foil.x for foil in craft.foils.values()]
    hulls = [end for hull in craft.hulls.values() for end in (hull.x - hull.length / 2, hull.x + hull.length / 2)]
    wanted = {
        "hull": max(hulls) - min(hulls),
        "strut": height,
        "ride height": craft.control.ride_height,
        "foils": max(foils) - min(foils),
    }
    assert said == {f"{what} {100 * length:.4g} cm{' apart' if what == 'foils' else ''}" for what, length in wanted.items()}
    level = re.findall(r"M (\S+) (\S+) H (\S+)", lengths.rules)
    upright = re.findall(r"M (\S+) (\S+) V (\S+)", lengths.rules)
    drawn = [float(b) - float(a) for a, _, b in level] + [float(b) - float(a) for _, a, b in upright]
    assert sorted(drawn) == pytest.approx(sorted(1e3 * length for length in wanted.values()), abs=0.2)
    left, top, width, tall = view.frame
    for across, down, end in [(float(a), float(b), float(c)) for a, b, c in level]:
        assert 1e3 * left <= across < end <= 1e3 * (left + width)
        assert 1e3 * top <= down <= 1e3 * (top + tall)


LETTER = 0.55
"""Width of a letter of such words over their size, on average (judgement)."""


@pytest.mark.parametrize("name", ["courier-chop", "surveyor-harbour", "lookout-lake", "classroom-pond", "ranger-struts"])
def test_the_words_of_the_ride_height_cross_no_strut(name: str) -> None:
    """Whether one foil is ahead or two."""
    craft = load_campaign(Path(__file__).parents[2] / "configs" / f"{name}.yaml").craft
    drawn = seaway(craft, craft, None)
    label = next(label for label in drawn.labels if label.text.startswith("ride height"))
    end = float(label.across)
    begin = end - LETTER * len(label.text) * float(drawn.size)
    for foil in craft.foils.values():
        half = 0.5e3 * craft.strut_of(foil).chord
        assert not (begin < 1e3 * foil.x + half and end > 1e3 * foil.x - half), foil
