"""A craft and a campaign as files that a builder can read and change; nothing is ever overwritten."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from sweep.campaign.craft import Craft, Foil, Servo
from sweep.campaign.rangefinders import Rangefinder
from sweep.campaign.text.dimensions import quantity
from sweep.campaign.text.document import read_document
from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.campaign.text.resources import shipped
from sweep.model.physics.spectra import GRAVITY
from sweep.starter.measurements import Measurements
from sweep.words.phrases import listed

DIGITS = 3
"""Significant digits of a number in a file that is written (judgement)."""
NO_CAMPAIGNS = ("craft", "log", "measurements")  # folders of configs with other files: craft, mapping, answers


def craft_text(craft: Craft) -> str:
    """The craft file."""
    name, body, (hull,), struts, control = craft.name, craft.body, craft.hulls.values(), craft.struts, craft.control
    propulsor = craft.propulsor
    assert propulsor.static_thrust is not None
    assert propulsor.no_thrust_speed is not None
    foils = "\n".join(f"  {name}: {_foil(foil)}" for name, foil in craft.foils.items())
    height, pitch, roll, heading, speed = control.height, control.pitch, control.roll, control.heading, control.speed
    return f"""\
# {name}: written from measurements. Build axes: x forward of the middle of the hull, y to starboard, heights above the keel.
name: "{name}"
# The boat without its foils, struts and rangefinders: mass, balance and radii of gyration.
body:
  mass: {_short(body.mass, "kg")}
  x: {_short(body.x, "cm")}
  height: {_short(body.height, "cm")}
  roll_radius: {_short(body.roll_radius, "cm")}
  pitch_radius: {_short(body.pitch_radius, "cm")}
  yaw_radius: {_short(body.yaw_radius, "cm")}
hulls:
  main: {_flow(length=(hull.length, "cm"), beam=(hull.beam, "cm"), deadrise=(hull.deadrise, "deg"), depth=(hull.depth, "cm"))}
# incidence: with the foils rigged at this angle to the keel, the servos are near the middle of their travel at cruise.
foils:
{foils}
struts: {_flow(height=(struts.height, "cm"), chord=(struts.chord, "mm"), thickness=(struts.thickness, "mm"))}
# Of the foil, through the linkage: so many turns of the arm for one of the foil. Bandwidth and quantum are guesses.
servos: {_servo(craft.servos)}
rangefinders:
{_rangefinders(craft)}  rate: {_short(craft.rangefinders.rate, "Hz")}
  latency: {_short(craft.rangefinders.latency, "ms")}
  noise: {_short(craft.rangefinders.noise, "mm")}
  resolution: {_short(craft.rangefinders.resolution, "mm")}
  blind: {_short(craft.rangefinders.blind, "cm")}
  far: {_short(craft.rangefinders.far, "m")}
inertial: {_flow(x=(craft.inertial.x, "cm"), height=(craft.inertial.height, "cm"))}
# Guesses: the speed at which the propeller gives no more thrust, and the diameter or the thrust, whichever you did not give.
propulsor:
  x: {_short(propulsor.x, "cm")}
  height: {_short(propulsor.height, "cm")}
  diameter: {_short(propulsor.diameter, "cm")}
  static_thrust: {_short(propulsor.static_thrust, "N")}
  no_thrust_speed: {_short(propulsor.no_thrust_speed, "m/s")}
{_battery(craft)}steering: {{{_steered_by(craft)}, servo: {_servo(craft.steering.servo)}}}
# Gains: those of the courier among the demos, divided by what a degree of their command does to this boat at cruise (lift
# over mass, moment over inertia), and less where its sensor and servo are slower. The campaign varies the first of them.
control:
  law: {control.law}
  rate: {_short(control.rate, "Hz")}
  delay: {_short(control.delay, "ms")}
  ride_height: {_short(control.ride_height, "cm")}
  height: {
        _flow(
            proportional=(height.proportional, "deg/cm"),
            integral=(height.integral, "deg/cm/s"),
            derivative=(height.derivative, "deg*s/cm"),
        )
    }
  pitch: {_flow(proportional=(pitch.proportional, "deg/deg"), derivative=(pitch.derivative, "s"))}
  roll: {_flow(proportional=(roll.proportional, "deg/deg"), derivative=(roll.derivative, "s"))}
  heading: {_flow(proportional=(heading.proportional, "deg/deg"), derivative=(heading.derivative, "s"))}
  speed: {_flow(proportional=(speed.proportional, "%/(m/s)"), integral=(speed.integral, "%/(m/s)/s"))}
  scheduled_at: {_short(control.scheduled_at or 0.0, "m/s")}   # at other speeds the code multiplies angles by (this / speed)^2
"""


def campaign_text(craft: Craft, measured: Measurements, craft_path: str) -> str:
    """A campaign to start from: foil size, strut height and the height gain, in waves that the boat should just ride."""
    gain = craft.control.height.proportional
    chop = 0.4 * craft.control.ride_height
    period = max(math.sqrt(2 * math.pi * chop / (0.035 * GRAVITY)), 0.5)
    return f"""\
# A first campaign for {craft.name}. Change what you like: the comments in the demos explain every line
# (foilsweep new --demo courier-chop writes them out).
#   foilsweep check {craft_path.rpartition("/")[2]}
#   foilsweep run {craft_path.rpartition("/")[2]}
title: "{craft.name}, a first campaign"
craft: {craft_path}
water: {{kind: fresh, temperature: 15 degC, depth: 4 m}}

# What you may choose: a name of your own, and its addresses in the craft file; * is every foil.
factors:
{_areas(craft, measured)}
{_strut_heights(craft)}
{_second_rangefinder(craft)}  height-gain:
    addresses: [control.height.proportional]
    from: {_short(gain / 3, "deg/cm")}
    to: {_short(2 * gain, "deg/cm")}
    levels: 4
    spacing: log

# Put your own water here: packet is a boat's wake; {{kind: wind, speed: 4 m/s, fetch: 500 m}} makes them from the wind.
conditions:
  seas:
    calm: {{kind: flat}}
    chop: {{kind: jonswap, height: {_short(chop, "cm")}, period: {_short(period, "s")}}}
    wake: {{kind: packet, height: {_short(1.5 * chop, "cm")}, period: {_short(1.5 * period, "s")}, waves: 6, arrives: 14 s}}
  headings: [head, quartering, following]
  speeds: [{_short(measured.cruise, "m/s")}]
  # One flight goes straight. The other stops, takes off again and turns; not in the wake, which meets what goes straight.
  courses:
    straight: []
    start-and-turn: [{{stop: 4 s}}, {{time: 8 s}}, {{turn: 60 deg, time: 8 s}}]
  replicates: 2

flight: {{length: 25 s, settle: 5 s, seed: 1}}

# 22 flights a design are a first look, so the limits are wide.
limits: {{touchdowns: 6 /min, broaches: 6 /min, upsets: 25 %}}

# The leaders then go out as you would, ten minutes from rest with turns and a stop: how many outings each.
outings: 24
"""


def _rangefinders(craft: Craft) -> str:
    """How many there are and where: in a layout, or each by itself."""
    sensors, x = craft.rangefinders, f"  x: {_short(craft.rangefinders.x, 'cm')}\n"
    x += f"  height: {_short(sensors.height, 'cm')}\n" if sensors.height else ""
    if sensors.each is not None and any(one.rate is not None for one in sensors.each.values()):
        named = "".join(f"    {name}: {_own_rangefinder(one)}\n" for name, one in sensors.each.items())
        return f"{x}  each:   # by name; what one does not say is as below\n{named}"
    if sensors.each is not None:
        each = (f"    {name}: {_flow(y=(one.y, 'cm'), ahead=(one.ahead, 'deg'))}\n" for name, one in sensors.each.items())
        return f"{x}  each:   # by name; the rate below is shared by turns\n{''.join(each)}"
    several = f"  layout: {sensors.layout}\n  spacing: {_short(sensors.spacing, 'cm')}\n" if sensors.count > 1 else ""
    return f"  count: {sensors.count}\n{several}{x}"


def _own_rangefinder(one: Rangefinder) -> str:
    """What one rangefinder has of its own."""
    units = {"x": "cm", "y": "cm", "height": "cm", "ahead": "deg", "rate": "Hz", "latency": "ms", "noise": "mm"}
    units |= {"resolution": "mm", "blind": "cm"}
    return _flow(**{name: (value, unit) for name, unit in units.items() if (value := getattr(one, name))})


def _steered_by(craft: Craft) -> str:
    """What turns, as a part of a line."""
    steering = craft.steering
    if not steering.rudders:
        return f"rudder: {steering.rudder}" + (f", second_rudder: {steering.second_rudder}" if steering.second_rudder else "")
    units = {"x": "cm", "top": "cm", "length": "cm", "chord": "mm", "thickness": "mm"}
    blades = (
        f"{name}: {_flow(**{key: (getattr(blade, key), unit) for key, unit in units.items()})}"
        for name, blade in steering.rudders.items()
    )
    return f"rudders: {{{', '.join(blades)}}}"


def _strut_heights(craft: Craft) -> str:
    """The factor of the struts' height, of all together."""
    own = [f"foils.{name}.strut.height" for name, foil in craft.foils.items() if foil.strut.height is not None]
    if own:
        scaled = f"    scale: [{', '.join(['struts.height', *own])}]\n    levels: [85 %, 100 %, 120 %]"
        return f"  strut-height:   # of those in the craft file\n{scaled}"
    levels = ", ".join(_short(share * craft.struts.height, "cm") for share in (0.85, 1.0, 1.2))
    return f"  strut-height:\n    addresses: [struts.height]\n    levels: [{levels}]"


def _second_rangefinder(craft: Craft) -> str:
    """Whether it is used, if there is one."""
    if "second" not in (craft.rangefinders.each or {}):
        return ""
    return (
        "  trust-in-second-rangefinder:   # 0: fitted, not used\n"
        "    addresses: [rangefinders.each.second.trust]\n    levels: [0, 1]\n"
    )


def _battery(craft: Craft) -> str:
    """The line of the battery; nothing if it is not known."""
    battery = craft.battery
    if battery.energy is None or battery.voltage is None or battery.empty_voltage is None:
        return ""
    full, empty = f"voltage: {battery.voltage:g} V", f"empty_voltage: {battery.empty_voltage:g} V"
    sags = f", resistance: {_short(battery.resistance, 'mohm')}" if battery.resistance else ""
    energy = f"energy: {_short(battery.energy, 'Wh')}"
    return f"# Voltages at rest. charge: 50 % beside them flies it half empty.\nbattery: {{{energy}, {full}, {empty}{sags}}}\n"


def _areas(craft: Craft, measured: Measurements) -> str:
    """The factor of the foils' area; of unlike foils, one of the pair, which an unlike pair has by shares, and of the other."""
    if measured.alike:
        return _area("foil-area", "foils.*.area", craft.foils["port"].area)
    both, others = "foils.port.area, foils.starboard.area", measured.foils.others
    if craft.foils["port"].area == craft.foils["starboard"].area:
        pair = _area("pair-area", both, craft.foils["port"].area)
    else:
        pair = f"  pair-size:   # of both areas in the craft file\n    scale: [{both}]\n    levels: [80 %, 100 %, 125 %]"
    addresses = ", ".join(f"foils.{name}.area" for name in others)
    return f"{pair}\n{_area('bow-area' if others == ('bow',) else 'aft-area', addresses, craft.foils[others[0]].area)}"


def _area(name: str, addresses: str, area: float) -> str:
    levels = ", ".join(_short(share * area, "cm^2") for share in (0.8, 1.0, 1.25))
    return f"  {name}:\n    addresses: [{addresses}]\n    levels: [{levels}]"


def _foil(foil: Foil) -> str:
    assert foil.aspect_ratio is not None
    place = _flow(x=(foil.x, "cm"), y=(foil.y, "cm"), area=(foil.area, "cm^2")).removesuffix("}")
    polar, strut = foil.section.polar, foil.strut.model_dump(exclude_none=True)
    own = _flow(**{key: (value, "cm" if key == "height" else "mm") for key, value in strut.items()})
    said = [
        f"aspect_ratio: {foil.aspect_ratio:.3g}",
        f"section: {{polar: {polar}}}" if polar else f"zero_lift_angle: {_short(foil.zero_lift_angle, 'deg')}",
        f"incidence: {_short(foil.incidence, 'deg')}",
        *([] if foil.moves else ["mounting: fixed"]),
        *([f"strut: {own}"] if strut else []),
    ]
    return f"{place}, {', '.join(said)}}}"


def _servo(servo: Servo) -> str:
    return _flow(
        bandwidth=(servo.bandwidth, "rad/s"),
        rate=(servo.rate, "deg/s"),
        travel=(servo.travel, "deg"),
        quantum=(servo.quantum, "deg"),
        **({"backlash": (servo.backlash, "deg")} if servo.backlash else {}),
    ).replace("{", f"{{linkage: {servo.linkage:.{DIGITS}g}, ", 1)


def _flow(**values: tuple[float, str]) -> str:
    return "{" + ", ".join(f"{name}: {_short(value, unit)}" for name, (value, unit) in values.items()) + "}"


def _short(value: float, unit: str) -> str:
    """A number to three digits, as a builder measures."""
    number, _, unit = quantity(value, unit).partition(" ")
    return f"{float(number):.{DIGITS}g} {unit}"


def write_new(folder: Path, texts: Mapping[str, str]) -> list[Path]:
    """Write files by their path below a folder, all of them or none. Raises CampaignError if one is there already."""
    paths = [folder / name for name in texts]
    taken = [
        Problem(str(path), 0, 0, "", "a file of this name", "another folder: nothing is overwritten")
        for path in paths
        if path.exists()
    ]
    if taken:
        raise CampaignError(taken)
    for path, text in zip(paths, texts.values(), strict=True):
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    return paths


GUIDE = "from-sweep-to-lake.md"


def demo_texts(name: str) -> dict[str, str]:
    """The files of a demo by their path: campaign, craft, list of designs, code. Raises CampaignError for an unknown name."""
    configs = shipped("configs")
    campaigns = (path for path in sorted(configs.rglob("*.yaml")) if path.parent.name not in NO_CAMPAIGNS)
    demos = {path.relative_to(configs).with_suffix("").as_posix(): path for path in campaigns}
    if name not in demos:
        near = nearest(name, demos)
        wanted = f"a demo, perhaps {listed(near)}" if near else f"one of {', '.join(demos)}"
        raise CampaignError([Problem("--demo", 0, 0, "", repr(name), wanted)])
    campaign = read_document(demos[name]).plain()
    craft, plan = campaign["craft"], campaign.get("plan")
    beside = [
        *([craft] if isinstance(craft, str) else []),
        *([plan["file"]] if isinstance(plan, dict) and "file" in plan else []),
    ]
    paths = [demos[name], *((demos[name].parent / path).resolve() for path in beside)]
    built = craft if isinstance(craft, dict) else read_document(paths[1]).plain()
    if (code := built["control"].get("code")) is not None:
        paths += [paths[0 if isinstance(craft, dict) else 1].parent / code, configs / GUIDE]
    return {path.relative_to(configs).as_posix(): path.read_text(encoding="utf-8") for path in paths}
