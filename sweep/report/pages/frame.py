"""What stands on every page, and the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from sweep.results.manifest import Manifest
    from sweep.results.store import Results


def footer(manifest: Manifest) -> list[str]:
    """Version and date for the foot of a page."""
    return [line for line in (_version(manifest), day(manifest)) if line]


def _version(manifest: Manifest) -> str:
    version = manifest.versions.get("foilsweep")
    return f"Foilsweep {version}" if version else ""


def day(manifest: Manifest) -> str:
    """The day of the run: that of its end, or of its begin if it has not ended."""
    return (manifest.finished or manifest.started)[:10]


def cautions(results: Results) -> dict[str, Any]:
    """What the cautions page takes from the results: the energy of the base craft at its fastest."""
    if "mass" not in results.designs or results.conditions.empty:
        return {"energy": ""}
    mass, speed = float(results.designs["mass"].loc[0]), float(results.conditions["speed"].max())
    joules = with_unit(0.5 * mass * speed**2, "J", 2)
    return {"energy": f"The base craft of this campaign at its fastest, {with_unit(speed, 'm/s')}, carries {joules}."}
