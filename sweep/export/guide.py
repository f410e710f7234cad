"""README.md of a design's code: what it is, what can hurt, how to call it, what was flown and what was not."""

from __future__ import annotations

from string import Template

from sweep.campaign.text.dimensions import quantity
from sweep.export.compose import PARTS
from sweep.export.settings import Law
from sweep.model.pack.control import range_patience


def readme(law: Law, name: str, about: str, ticks: int) -> str:
    """The text of README.md; name: of the design; about: the flight of the vectors, of so many ticks."""
    control = law.craft.control
    text = Template((PARTS / "README.md").read_text(encoding="utf-8"))
    return (
        text.substitute(
            name=name,
            law=control.law,
            speeds=", ".join(quantity(trim.speed, "m/s") for trim in law.trims),
            speed=law.trims[0].speed,
            age=quantity(range_patience(law.craft.rangefinders), "s"),
            rate=quantity(control.rate, "Hz"),
            delay=quantity(control.delay, "ms"),
            ticks=ticks,
            about=about,
            between="linear between them, the last one held beyond"
            + ("" if control.trim_speeds else "; each flight had its own"),
        ).rstrip("\n")
        + "\n"
    )
