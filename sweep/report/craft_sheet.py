"""A design's numbers for its page: what it is made of, with units."""

from __future__ import annotations

from typing import NamedTuple

from sweep.campaign.craft import AttitudeGains, CascadeAxis, Craft, Foil, Propulsor, ride_window
from sweep.campaign.text.dimensions import in_unit
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.section import section_of
from sweep.words.numbers import number, with_unit

Rows = list[tuple[str, ...]]


class Table(NamedTuple):
    """Rows of name and cells, under headings if there is more than one cell."""

    title: str
    headings: list[str]
    rows: Rows


def sheet(craft: Craft) -> list[Table]:
    """Foils, boat, sensing, and control of a craft."""
    return [
        Table("Foils", list(craft.foils), _foils(craft)),
        Table("Boat", [], _boat(craft)),
        Table("Sensing and servos", [], _sensing(craft)),
        Table("Control", [], [("law", craft.control.law.replace("-", " ")), *gains(craft), *_timing(craft)]),
    ]


MIDDLE = 2  # of the Reynolds numbers that a section is known at: 1.6e5, of a chord of 4 cm at 4 m/s


def _foils(craft: Craft) -> Rows:
    """A row a property, a cell a foil."""
    foils = [_foil(craft, foil) for foil in craft.foils.values()]
    return [(name, *(foil[name] for foil in foils)) for name in foils[0]]


def _foil(craft: Craft, foil: Foil) -> dict[str, str]:
    strut = craft.strut_of(foil)
    depth = strut.height - craft.control.ride_height
    shaped = any(each.taper != 1.0 or each.sweep != 0.0 for each in craft.foils.values())
    own = any(craft.strut_of(each) != craft.struts for each in craft.foils.values())
    numbers = {
        "area, cm²": 1e4 * foil.area,
        "span, cm": 100.0 * foil.span_length,
        "chord, cm": 100.0 * foil.chord,
        "aspect ratio": foil.span_length / foil.chord,
        "thickness, % of chord": 100.0 * foil.thickness_ratio,
        "ahead of the datum, cm": 100.0 * foil.x,
        "to starboard, cm": 100.0 * foil.y,
        **(
            {"chord at the tips, of that in the middle": foil.taper, "sweep, deg": in_unit(foil.sweep, "deg")} if shaped else {}
        ),
        **({"struts, keel to foil, cm": 100.0 * strut.height, "struts, chord, mm": 1e3 * strut.chord} if own else {}),
        **({"struts, thickness, mm": 1e3 * strut.thickness} if own else {}),
        "rigging angle, deg": in_unit(foil.incidence, "deg"),
        "angle of no lift, deg": in_unit(section_of(craft, foil).zero_lift_angle[MIDDLE], "deg"),
        "depth at the wanted ride height, chords": depth / foil.chord,
    }
    return {name: number(value) for name, value in numbers.items()} | _words(craft, foil)


def _words(craft: Craft, foil: Foil) -> dict[str, str]:
    said = {"section": foil.section.polar or "by coefficients"}
    if any(each.material or craft.strut_of(each).material for each in craft.foils.values()):
        said["material"] = foil.material or "not said"
        said["material of its struts"] = craft.strut_of(foil).material or "not said"
    if any(each.wall or craft.strut_of(each).wall for each in craft.foils.values()):
        said["wall, and of its struts, mm"] = f"{_wall(foil.wall)}, {_wall(craft.strut_of(foil).wall)}"
    if any(not each.moves or craft.servo_of(each) != craft.servos for each in craft.foils.values()):
        servo = craft.servo_of(foil)
        travel, rate = number(in_unit(servo.travel, "deg")), number(in_unit(servo.rate, "deg/s"))
        said["servo travel and rate, deg and deg/s"] = f"±{travel}, {rate}" if foil.moves else "fixed"
    if (link := foil.linkage) is not None:
        said["servo travel and rate, deg and deg/s"] = "no servo"
        said["wand, gearing, travel in deg"] = f"{link.wand}, {link.gearing:g}, ±{number(in_unit(link.travel, 'deg'))}"
    return said


def _wall(wall: float | None) -> str:
    return "solid" if wall is None else number(1e3 * wall)


def _cm(length: float) -> str:
    return with_unit(100.0 * length, "cm")


def _boat(craft: Craft) -> Rows:
    least, largest = ride_window(craft)
    whole = mass_properties(craft)
    rudders = craft.steering.rudders.items()
    hulls = [(f"hull {name}, length and beam", f"{_cm(hull.length)}, {_cm(hull.beam)}") for name, hull in craft.hulls.items()]
    return [
        *hulls,
        ("mass, all in", with_unit(whole.mass, "kg")),
        ("centre of gravity, ahead of the datum", _cm(float(whole.centre[0]))),
        ("centre of gravity, above the keel", _cm(float(whole.centre[2]))),
        ("struts, keel to foil", _cm(craft.struts.height)),
        ("struts, chord and thickness", f"{_cm(craft.struts.chord)}, {_cm(craft.struts.thickness)}"),
        *((f"rudder {name}, length and chord", f"{_cm(each.length)}, {_cm(each.chord)}") for name, each in rudders),
        *((f"rudder {name}, material", each.material) for name, each in rudders if each.material),
        *((f"rudder {name}, wall", with_unit(1e3 * each.wall, "mm")) for name, each in rudders if each.wall),
        *_rudder_servos(craft),
        *((f"ballast {name}", with_unit(each.mass, "kg")) for name, each in craft.ballast.items()),
        ("wanted ride height of the keel", _cm(craft.control.ride_height)),
        ("ride window on flat water", f"{_cm(least)} to {_cm(largest)}"),
        *_drive(craft.propulsor),
        *_battery(craft),
    ]


def _rudder_servos(craft: Craft) -> Rows:
    """What moves which rudder, where not one servo moves them all."""
    steering = craft.steering
    servos, which = steering.moved_by()
    names = [f"strut of foil {name}" for name in (steering.rudder, steering.second_rudder) if name]
    names += [f"rudder {name}" for name in steering.rudders]
    if len(servos) == 1:
        return []
    told = [(in_unit(each.travel, "deg"), in_unit(each.rate, "deg/s")) for each in servos]
    limits = [f"±{with_unit(travel, 'deg')}, {with_unit(rate, 'deg/s')}" for travel, rate in told]
    return [(f"servo of {name}, travel, rate", f"servo {at + 1}: {limits[at]}") for name, at in zip(names, which, strict=True)]


def _battery(craft: Craft) -> Rows:
    battery = craft.battery
    if battery.voltage is None:
        return []
    rest = f"{with_unit(battery.voltage_at_rest, 'V')} at {with_unit(100.0 * battery.charge, '%')} of its charge"
    return [("battery at rest", rest), ("battery, resistance", with_unit(1e3 * battery.resistance, "mohm"))]


def _drive(propulsor: Propulsor) -> Rows:
    pair = f" x {propulsor.count}, {_cm(propulsor.spacing)} apart" if propulsor.spacing is not None else ""
    together, each = (", both together", ", of each") if pair else ("", "")
    rows = [("propeller, diameter", _cm(propulsor.diameter) + pair)]
    if propulsor.propeller is None:
        return [*rows, (f"static thrust{together}", with_unit(propulsor.static_thrust or 0.0, "N"))]
    propeller = propulsor.propeller
    return [
        *rows,
        ("propeller, blades", str(propeller.blades)),
        ("propeller, pitch and blade area ratio", f"{propeller.pitch_ratio:g}, {propeller.area_ratio:g}"),
        (f"shaft power{each}", with_unit(propeller.shaft_power, "W")),
    ]


def _sensing(craft: Craft) -> Rows:
    finders, servos = craft.rangefinders, craft.servos
    together = [("combined by", craft.control.combine)] if finders.number > 1 and craft.control.traits.levels else []
    return [
        *(_alike(craft) if finders.each is None else _unlike(craft)),
        *_wands(craft),
        *together,
        *_filter(craft),
        ("foil servo travel", f"±{with_unit(in_unit(servos.travel, 'deg'), 'deg')}"),
        ("foil servo rate", with_unit(in_unit(servos.rate, "deg/s"), "deg/s")),
    ]


def _alike(craft: Craft) -> Rows:
    finders = craft.rangefinders
    return [
        ("rangefinders", f"{finders.count} ({finders.layout.replace('-', ' ')})"),
        ("their rate and latency", f"{with_unit(finders.rate, 'Hz')}, {with_unit(1e3 * finders.latency, 'ms')}"),
        ("their noise", with_unit(1e3 * finders.noise, "mm")),
        ("blind closer than", _cm(finders.blind)),
    ]


def _unlike(craft: Craft) -> Rows:
    finders = craft.rangefinders
    rows: Rows = []
    for i, name in enumerate(finders.names()):
        x, y, height, ahead, aside, late, noise = (
            finders.of_each(each)[i] for each in ("x", "y", "height", "ahead", "aside", "latency", "noise")
        )
        if (read := finders.of_each("wand")[i]) is not None:
            step = in_unit(finders.of_each("angle_step")[i], "deg")
            rows.append((f"rangefinder {name} reads", f"wand {read}, in steps of {with_unit(step, 'deg')}"))
        else:
            rows.append((f"rangefinder {name}: x, y, height", f"{_cm(x)}, {_cm(y)}, {_cm(height)}"))
        if finders.of_each("kind")[i] == "pressure":
            flow, tube = finders.of_each("pressure_coefficient")[i], finders.of_each("tube_lag")[i]
            rows.append((f"rangefinder {name} feels pressure", f"coefficient {flow:g}, tube {with_unit(1e3 * tube, 'ms')}"))
        if ahead or aside:
            tilt = [with_unit(in_unit(angle, "deg"), "deg") for angle in (ahead, aside)]
            rows.append((f"rangefinder {name} looks", f"{tilt[0]} ahead, {tilt[1]} to starboard"))
        told = [with_unit(finders.own_rates()[i], "Hz"), with_unit(1e3 * late, "ms"), with_unit(1e3 * noise, "mm")]
        rows.append((f"rangefinder {name}: rate, latency, noise", ", ".join(told)))
    return rows


def _wands(craft: Craft) -> Rows:
    rows: Rows = []
    for name, wand in craft.wands.items():
        rows.append((f"wand {name}: hinge at x, y, height", f"{_cm(wand.x)}, {_cm(wand.y)}, {_cm(wand.height)}"))
        pressed = with_unit(wand.press, "N")
        rows.append((f"wand {name}: arm, press at its tip, width", f"{_cm(wand.arm)}, {pressed}, {_cm(wand.width)}"))
    return rows


def _filter(craft: Craft) -> Rows:
    control = craft.control
    median = [("each reading is", f"the median of its last {control.median}")] if control.median > 1 else []
    gate = [("a reading is refused if it jumps by", f"over {_cm(control.gate)}")] if control.gate else []
    return [*median, *gate]


def gains(craft: Craft) -> Rows:
    """What is set in the control code, in a builder's units; only what the craft's law looks at."""
    control, height = craft.control, craft.control.height
    rows: Rows = [("height, proportional", _gain(height.proportional, "deg/cm"))]
    if control.traits.levels:
        rows += [
            ("height, integral", _gain(height.integral, "deg/cm/s")),
            ("height, derivative", _gain(height.derivative, "deg*s/cm", "deg/(cm/s)")),
        ]
    if control.traits.cascades and control.cascade is not None:
        rows += [*_cascade("pitch", control.cascade.pitch), *_cascade("roll", control.cascade.roll)]
    elif control.traits.levels:
        rows += [*_attitude("pitch", control.pitch), *_attitude("roll", control.roll)]
    if control.traits.fuses:
        rows.append(("corner frequency of the fused height", _gain(control.corner, "rad/s")))
    rows += [
        ("heading, proportional", _gain(control.heading.proportional, "deg/deg")),
        ("heading, derivative", _gain(control.heading.derivative, "s", "deg/(deg/s)")),
        (
            "gain schedule",
            "none: the same gains at every speed" if control.schedule_speed is None else _scheduled(control.schedule_speed),
        ),
    ]
    return rows


def _attitude(name: str, loop: AttitudeGains) -> Rows:
    integral = [(f"{name}, integral", _gain(loop.integral, "deg/deg/s"))] if loop.integral else []
    return [
        (f"{name}, proportional", _gain(loop.proportional, "deg/deg")),
        *integral,
        (f"{name}, derivative", _gain(loop.derivative, "s", "deg/(deg/s)")),
    ]


def _cascade(name: str, axis: CascadeAxis) -> Rows:
    angle, rate = axis.angle, axis.rate
    derivative = [(f"{name} rate, derivative", _gain(rate.derivative, "s^2", "deg/(deg/s²)"))] if rate.derivative else []
    return [
        (f"{name} angle, proportional", _gain(angle.proportional, "deg/deg/s", "deg/s per deg")),
        (f"{name} angle, largest rate asked", _gain(angle.limit, "deg/s")),
        (f"{name} angle, filter", _gain(angle.filter, "Hz")),
        (f"{name} rate, proportional", _gain(rate.proportional, "s", "deg/(deg/s)")),
        (f"{name} rate, integral", _gain(rate.integral, "deg/deg")),
        *derivative,
        (f"{name} rate, filter", _gain(rate.filter, "Hz")),
    ]


def _gain(value: float, unit: str, shown: str = "") -> str:
    return with_unit(in_unit(value, unit), shown or unit)


def _scheduled(speed: float) -> str:
    return f"for {with_unit(speed, 'm/s')}; at other speeds angles times ({number(speed)} / speed)², from 0.2 to 4"


def _timing(craft: Craft) -> Rows:
    control = craft.control
    return [("rate and delay", f"{with_unit(control.rate, 'Hz')}, {with_unit(1e3 * control.delay, 'ms')}")]
