"""A craft file with the fitted values: the text as it is, the values in it, and where they come from."""

from __future__ import annotations

import io
from pathlib import Path

from ruamel.yaml import YAML

from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.fit.craft_fit import Result
from sweep.logs.fit.numbers import values_of
from sweep.logs.fit.posterior import draws
from sweep.logs.report.day import Day
from sweep.logs.report.sentences import MADE_UP, fit_rows
from sweep.words.numbers import number
from sweep.words.units import in_unit

UNITS = {
    "section.lift_slope": "",
    "section.drag_min": "",
    "delay": "ms",
    "bandwidth": "rad/s",
    "latency": "ms",
    "noise": "mm",
    "pitch_radius": "cm",
    "rangefinders.height": "cm",
}


def fitted_text(day: Day, result: Result, on: str) -> str:
    """The craft file with the fitted values, and a header of what was fitted, from which logs, and by how much it moved.

    on: the day, for the header.
    """
    identified = [each for each in result.numbers if each.identified]
    yaml = YAML()
    yaml.width = 4096
    yaml.preserve_quotes = True
    tree = yaml.load(day.mapping.craft_text)
    for address, value in values_of(day.mapping.craft, [e.name for e in identified], [e.value for e in identified]).items():
        *path, last = address.split(".")
        group = tree
        for step in path:
            if step not in group:
                group[step] = {}
            group = group[step]
        unit = next(unit for ending, unit in UNITS.items() if address.endswith(ending))
        shown = number(in_unit(value, unit) if unit else value, 4)
        group[last] = f"{shown} {unit}" if unit else float(shown)
    text = io.StringIO()
    yaml.dump(tree, text)
    return "".join(f"# {line}\n" for line in _header(day, result, on)) + text.getvalue()


def _header(day: Day, result: Result, on: str) -> list[str]:
    logs = ", ".join(dict.fromkeys(run.log for run in day.recorded))
    lines = [f"Fitted by `log fit` on {on} to {logs} of {day.mapping.path.name}, from {day.mapping.craft_path.name}."]
    lines += [MADE_UP] if day.mapping.made_up else []
    for title, before, value, interval, moved in fit_rows(result):
        moved_by = f": {before} -> {value} ({interval}), {moved}" if moved else f": {before}, not shown by these logs"
        lines.append(title + moved_by)
    return [line.replace("\n", " ").replace("\r", " ") for line in lines]


def write_fitted(path: Path, day: Day, result: Result, on: str) -> Path | None:
    """Write it to a new file, and beside it what the fit leaves open; returns where that is, or None if the logs show nothing.

    Raises CampaignError if a file exists.
    """
    open_numbers = draws(result)
    beside = path.with_suffix(".csv") if open_numbers else None
    for each in (path, beside):
        if each is not None and (each.exists() or each.is_symlink()):
            raise _there(each)
    _write_new(path, fitted_text(day, result, on))
    if beside is not None:
        rows = zip(*open_numbers.values(), strict=True)
        _write_new(beside, "\n".join([",".join(open_numbers), *(",".join(f"{each:.5g}" for each in row) for row in rows), ""]))
    return beside


def _write_new(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:  # not even through a link that leads nowhere
            file.write(text)
    except FileExistsError:
        raise _there(path) from None


def _there(path: Path) -> CampaignError:
    return CampaignError([Problem(str(path), 0, 0, "", "a file that is there already", "a new file")])
