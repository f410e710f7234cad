"""Rudders on servos of their own: as a shared one where they are alike, and each by its own constants where they are not."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy.integrate import solve_ivp

from sweep.campaign.contradictions import clashes
from sweep.campaign.craft import Craft
from sweep.campaign.text.explain import reason
from sweep.linear.craft import linearise
from sweep.linear.ticks import eigenvalues
from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.onboard.control import steer, steer_others
from sweep.model.pack.mass import mass_properties, price, total_mass
from sweep.model.stepping.integrate import Span, servos_half
from sweep.model.stepping.observe import rudder_stopped
from sweep.preflight.doubts import idle_torques
from tests.model.crafts import WATER, Bench, block_of, changed, courier, fleet_of, history, jonswap, quiet

BLADE = {"length": 0.17, "chord": 0.028, "thickness": 0.004}


def steered(steering: dict[str, Any], rudders: dict[str, dict[str, Any]] | None = None) -> Craft:
    """The courier with other steering, SI; rudders of one shape, by what is special of each."""
    blades = {name: {"x": -0.35, "y": 0.0} | BLADE | own for name, own in (rudders or {}).items()}
    description = courier().model_dump()
    description["steering"] = {"servo": description["steering"]["servo"], "rudders": blades} | steering
    return Craft.model_validate(description, context={"si": True})


PAIR = {"port": {"y": -0.12}, "starboard": {"y": 0.12, "turns": 1.3}}


def alone(rudders: dict[str, dict[str, Any]], *names: str, **servo: Any) -> dict[str, dict[str, Any]]:
    """The same with a servo of their own at these."""
    return {name: own | ({"servo": servo} if name in names else {}) for name, own in rudders.items()}


@pytest.mark.parametrize(
    ("shared", "apart"),
    [
        (steered({}, PAIR), steered({}, alone(PAIR, "port"))),
        (steered({}, PAIR), steered({}, alone(PAIR, "starboard"))),
        (steered({}, PAIR), steered({}, alone(PAIR, "port", "starboard"))),
        (steered({"rudder": "aft"}, PAIR), steered({"rudder": "aft"}, alone(PAIR, "port", "starboard"))),
        (
            steered({"rudder": "aft", "second_rudder": "port"}),
            steered({"rudder": "aft", "second_rudder": "port", "second_servo": {}}),
        ),
        (
            steered({"rudder": "aft", "servo": {"backlash": 0.02}}, PAIR),
            steered({"rudder": "aft", "servo": {"backlash": 0.02}}, alone(PAIR, "port", "starboard")),
        ),
    ],
    ids=["first", "second", "both", "beside a strut", "two struts", "with slack"],
)
def test_like_servos_fly_as_one_that_is_shared(shared: Craft, apart: Craft) -> None:
    """To the bit; and the closed loop has the same modes, but for those of more servos."""
    assert fleet_of(apart).structure.rudder_servos > fleet_of(shared).structure.rudder_servos
    block = block_of(jonswap(2.0, height=0.05), 8.0, settle=2.0)
    one, other = fly(fleet_of(shared), block), fly(fleet_of(apart), block)
    assert one.responses.tobytes() == other.responses.tobytes()
    modes = [eigenvalues(each) for each in (*linearise(fleet_of(quiet(shared))), *linearise(fleet_of(quiet(apart)))) if each]
    for mode in modes[0]:
        assert np.abs(modes[1] - mode).min() < 1e-4 * max(1.0, abs(mode)), mode


def test_each_turns_by_its_own_equation() -> None:
    """Under a step of the command: the second-order equation of M13.2, solved by a library, for three unlike servos."""
    servos = {"port": {"bandwidth": 30.0, "damping": 0.5}, "starboard": {"bandwidth": 90.0, "damping": 1.2}}
    rudders = {name: own | {"servo": servos[name] | {"rate": 50.0}} for name, own in PAIR.items()}
    bench = Bench(steered({"rudder": "aft", "servo": {"bandwidth": 50.0, "damping": 0.8, "rate": 50.0}}, rudders))
    bench.lanes.commands[3:] = 0.05
    for n in range(40):
        servos_half(bench.flat, bench.lanes.commands, bench.counts, Span(n / 4.0, 0.25, 0.0025), WATER.density)
    width = at.OWN_SERVO.width
    found = [bench.get(slot) for slot in (at.RUDDER.angle, at.OWN_SERVO.angle, at.OWN_SERVO.angle + width)]
    wanted = []
    for bandwidth, damping in ((50.0, 0.8), (30.0, 0.5), (90.0, 1.2)):

        def rates(_: float, y: np.ndarray, w: float = bandwidth, z: float = damping) -> list[float]:
            return [y[1], w * w * (0.05 - y[0]) - 2.0 * z * w * y[1]]

        wanted.append(solve_ivp(rates, (0.0, 0.1), [0.0, 0.0], rtol=1e-10, atol=1e-12).y[0, -1])
    assert found == pytest.approx(wanted, rel=3e-7)


def fundamental(turned: np.ndarray) -> complex:
    """Of one period."""
    return complex(2.0 / len(turned) * np.sum(turned * np.exp(-2j * np.pi * np.arange(len(turned)) / len(turned))))


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_slack_shrinks_and_delays_a_slow_swing_as_published(share: float) -> None:
    """The describing function of backlash (Gelb and Vander Velde 1968, from memory); share: half the slack over the swing.

    For the first rudder and for one on a servo of its own; the tick of the command is 400 of a period.
    """
    swing = 0.1
    half = share * swing
    servo = {"bandwidth": 50.0, "rate": 50.0, "travel": 0.3, "backlash": 2.0 * half, "quantum": 0.0}
    bench = Bench(steered({"rudder": "aft", "servo": servo}, alone({"fin": {}}, "fin")))
    slots = [at.RUDDER.angle, at.RUDDER_LINK, at.OWN_SERVO.angle, at.OWN_SERVO.link]
    found = []
    for n in range(1200):
        bench.lanes.commands[3:] = swing * np.sin(2.0 * np.pi * n / 400.0)
        servos_half(bench.flat, bench.lanes.commands, bench.counts, Span(n / 4.0, 0.25, 0.005), WATER.density)
        found.append([bench.get(slot) for slot in slots])
    servos, rudders = ([fundamental(np.array(found)[-400:, i]) for i in (first, first + 2)] for first in (0, 1))
    level = 2.0 * half / abs(servos[0]) - 1.0
    in_phase = (0.5 * np.pi - np.arcsin(level) - level * np.sqrt(1.0 - level * level)) / np.pi
    behind = 4.0 * half / (np.pi * abs(servos[0])) * (half / abs(servos[0]) - 1.0)
    for turned, moved in zip(servos, rudders, strict=True):
        assert moved / turned == pytest.approx(complex(in_phase, behind), abs=0.01)


def test_slack_of_the_rudder_lets_the_course_wander() -> None:
    """Three degrees of it: the heading swings more than with a tight linkage, and the rudder is seen to lag its servo."""
    block = block_of(jonswap(0.8, height=0.06, period=1.2), 15.0, settle=3.0)
    crafts = [changed(courier(), {"steering.servo.backlash": np.radians(slack)}) for slack in (0.0, 3.0)]
    off = [np.std(history(fleet_of(craft), block)["heading"][0, 300:]) for craft in crafts]
    assert off[1] > 1.3 * off[0]


def test_a_rudder_is_at_its_limit_with_its_slack_taken_up() -> None:
    """Half the slack short of the limit, where its servo stands at it."""
    for slack, counts in ((0.0, False), (0.04, True)):
        bench = Bench(changed(courier(), {"steering.servo.backlash": slack, "steering.servo.travel": 0.1}))
        bench.put(at.RUDDER_MID, 0.08)
        assert rudder_stopped(bench.flat, 0) == counts


def test_each_rounds_and_limits_the_command_by_itself() -> None:
    """Steps of 2 degrees and a travel of 5 degrees on one, none and 10 degrees on the first."""
    rudders = alone(PAIR, "starboard", quantum=np.radians(2.0), travel=np.radians(5.0))
    craft = steered({"servo": {"quantum": 0.0, "travel": np.radians(10.0)}}, rudders)
    flown = fleet_of(craft)
    bench = Bench(craft)
    seen = set()
    for heading in np.radians(np.linspace(-12.0, 12.0, 49)):
        bench.put(at.HEADING_READING, heading)
        bench.put(at.GYRO_READING.z, 0.0)
        bench.put(at.ANGLE_SHARE, 1.0)
        steer(bench.flat, at.GYRO_READING.z, bench.lanes.commands[3, 0])
        steer_others(bench.flat, bench.counts, bench.lanes.commands, 0)
        first, other = np.degrees(bench.lanes.commands[3:, 0, 0])
        assert other == pytest.approx(np.clip(2.0 * np.round(first / 2.0), -5.0, 5.0), abs=1e-9)
        seen.add(round(other, 6))
    assert seen == {-5.0, -4.0, -2.0, 0.0, 2.0, 4.0, 5.0}
    assert flown.structure.rudder_servos == 1


def test_a_slow_servo_on_the_only_rudder_holds_the_course_worse() -> None:
    """It is the rudder's own that counts, not the steering's, which moves nothing."""
    block = block_of(jonswap(0.8, height=0.06, period=1.2), 15.0, settle=3.0)
    crafts = [
        steered({}, {"fin": {"servo": {"bandwidth": bandwidth, "rate": rate}}}) for bandwidth, rate in ((60.0, 3.0), (3.0, 0.1))
    ]
    off = [np.std(history(fleet_of(craft), block)["heading"][0, 300:]) for craft in crafts]
    assert off[1] > 1.3 * off[0]


def test_servos_have_their_mass_and_price_once() -> None:
    """A shared one at the body; one alone over its rudder; the steering's only where it moves something."""
    servo = {"mass": 0.05, "price": 20.0}
    shared, both = steered({"servo": servo}, PAIR), steered({"servo": servo}, alone(PAIR, "port", "starboard"))
    mixed = steered({"servo": servo}, alone(PAIR, "port", mass=0.02, price=7.0))
    plain = steered({}, PAIR)
    base_mass, base_price = total_mass(plain), price(plain) - plain.steering.servo.price
    assert [total_mass(each) - base_mass for each in (shared, both, mixed)] == pytest.approx([0.05, 0.1, 0.07])
    assert [price(each) - base_price for each in (shared, both, mixed)] == pytest.approx([20.0, 40.0, 27.0])
    moved = mass_properties(both).centre[0] - mass_properties(plain).centre[0]
    assert moved == pytest.approx(0.1 * (-0.35 - mass_properties(plain).centre[0]) / total_mass(both), rel=1e-9)


def test_what_is_wrong_is_told() -> None:
    with pytest.raises(ValidationError) as error:
        steered({"rudder": "aft", "second_servo": {}})
    assert reason(error.value)[0] == "steering.second_servo"
    coarse = steered({}, alone(PAIR, "port", quantum=1.0))
    assert [clash.at for clash in clashes(coarse, WATER, False)] == [("steering", "rudders", "port", "servo", "quantum")]


def test_a_torque_that_no_flight_knows_of_is_doubted() -> None:
    """Of the steering's servo and of one of its own, each at its place; files that have one fly as before."""
    shared = steered({"servo": {"torque": 0.2}}, PAIR)
    (said,) = idle_torques(shared)
    assert said.startswith("steering.servo.torque: ")
    assert "0.2 N*m" in said
    (own,) = idle_torques(steered({}, alone(PAIR, "port", torque=0.2)))
    assert own.startswith("steering.rudders.port.servo.torque: ")
    assert [*clashes(shared, WATER, False)] == []
    assert [*idle_torques(steered({}, PAIR))] == []
