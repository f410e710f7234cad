"""The time history of a flight: the columns of a row."""

from __future__ import annotations

from typing import Annotated, NamedTuple, get_type_hints

RECORD_RATE = 50.0
"""Rows per second of a recorded flight, Hz (judgement)."""


class HistoryRow(NamedTuple):
    """One row of a flight's time history, SI. Each column declares the unit that people read it in and its meaning.

    Counts of readings run from the start of the flight.
    """

    time: Annotated[float, "s", "from the start of the flight"]
    x: Annotated[float, "m", "along the course at the start"]
    y: Annotated[float, "m", "to starboard of it"]
    keel_height: Annotated[float, "cm", "keel above the calm level"]
    surface: Annotated[float, "cm", "water above the calm level, under the reference point"]
    ride_height: Annotated[float, "cm", "keel above the local water"]
    sensed_height: Annotated[float, "cm", "ride height as the control code takes it to be"]
    pitch: Annotated[float, "deg", "bow up"]
    roll: Annotated[float, "deg", "starboard down"]
    heading: Annotated[float, "deg", "to starboard of that course"]
    speed: Annotated[float, "m/s", "over ground"]
    throttle: Annotated[float, "%", "share of full throttle"]
    rudder: Annotated[float, "deg", "angle of the rudder"]
    hull_load: Annotated[float, "%", "lift of the hull, share of the weight"]
    power: Annotated[float, "W", "from the battery"]
    clearance: Annotated[float, "cm", "lowest hull station above the water"]
    submergence: Annotated[float, "cm", "depth of the shallowest foil tip"]
    ventilated: Annotated[float, "", "1 while a foil is ventilated"]
    faulty_readings: Annotated[float, "", "readings that did not come or were wrong"]
    blind_readings: Annotated[float, "", "readings closer than the blind range"]
    side_throttle: Annotated[float, "%", "added to the port throttle, taken from the starboard one"]
    wanted_heading: Annotated[float, "deg", "heading that the control code steers"]
    leg: Annotated[float, "", "leg of the course, from 1; 0 before the first, or without a course"]
    stopped: Annotated[float, "", "1 while it is told to lie afloat"]
    stopped_by: Annotated[float, "", "what its code keeps it still for: 1 switch off, 2 link, 3 rangefinder, 4 lean; else 0"]


RECORDED: tuple[str, ...] = HistoryRow._fields
"""Columns of a record; the foils' angles follow in their order."""
RECORD_UNITS: dict[str, str] = {
    name: hint.__metadata__[0] for name, hint in get_type_hints(HistoryRow, include_extras=True).items()
}
FOIL_UNIT = "deg"
