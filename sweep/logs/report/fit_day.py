"""The runs of a day that were kept, fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from sweep.campaign.addresses import replace_values
from sweep.logs.fit.craft_fit import Result, fit
from sweep.logs.fit.features import Fitting
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.runs import Run
from sweep.logs.report.day import Day
from sweep.logs.sea.judge import noise_of
from sweep.logs.sea.sea_state import estimate_sea, slowest_for
from sweep.logs.sea.spectrum import encounter_of
from sweep.logs.sea.surface import SLOWEST, measured_surface
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.spectra import Spectrum
from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


def fit_day(
    day: Day,
    names: Sequence[str],
    progress: Callable[[int], None] = lambda flights: None,
    settings: dict[str, float] | None = None,
) -> Result:
    """Fit numbers of the craft to the runs that were kept. Raises ValueError if none has a sea.

    settings: by address, SI, of the control code as it flew, where other than in the craft file.
    """
    mapping = day.mapping

    def seas(late: float) -> list[Spectrum]:
        return _seas_of(day.recorded, mapping, late if mapping.late_said is None else mapping.late_said)

    if day.grave:
        raise ValueError(day.grave)
    if not day.recorded:
        least = with_unit(mapping.least_run, "s")
        raise ValueError(f"no run has range, pitch and force_z over {least}: there is nothing to fit to")
    craft: Craft = replace_values(mapping.craft, settings or {})
    looks = mapping.beside.x - float(mass_properties(craft).centre[0]) if mapping.beside is not None else 0.0
    runs = [
        Fitting(run.record, sea, round(run.speed, 2), run.waves, mapping.water.depth, run.length, looks, mapping.late_said)
        for run, sea in zip(day.recorded, seas(mapping.late()), strict=True)
    ]
    return fit(craft, mapping.water.for_model(), runs, names, seas=seas if "range_lag" in names else None, progress=progress)


def _seas_of(runs: Sequence[Run], mapping: Mapping, late: float) -> list[Spectrum]:
    """The sea of each run with another lag (s) of the rangefinder; the other runs' sea if it has none of its own."""
    met = []
    for run in runs:
        surface, slowest = measured_surface(run.record, mapping.craft, late, SLOWEST), slowest_for(run.waves, SLOWEST)
        noise = noise_of(mapping.craft, run.record)
        met.append(encounter_of(surface, run.speed, run.waves, mapping.water.depth, noise, slowest))
    own = [estimate_sea([each]) for each in met]
    measured = [each for each, sea in zip(met, own, strict=True) if sea.verdict == "measured"]
    pooled = estimate_sea(measured or met).spectrum
    return [sea.spectrum if sea.verdict == "measured" else pooled for sea in own]
