"""`foilsweep code`: a design's control law as a folder of C."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sweep.campaign.draws import water_of
from sweep.campaign.text.problems import CampaignError, ChoiceError, Problem
from sweep.export.bench import bench_sheet
from sweep.export.files import check_files, law_files
from sweep.export.flight import BEGIN, record
from sweep.export.guide import readme
from sweep.export.settings import NoTrimError, law_of
from sweep.model.onboard.choices import FINDERS, PRESSURE, WAND
from sweep.results.plain_files import check_plain, write_whole

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


def code_files(campaign: Campaign, craft: Craft, name: str) -> dict[str, str]:
    """The text of every file, by its name; name: of the design. Raises ChoiceError for a design that has no code."""
    if why := _untold(craft):
        raise ChoiceError(f"{name}: no code, for {why}")
    try:
        law = law_of(craft, water_of(campaign), campaign.speeds)
    except NoTrimError:
        raise ChoiceError(f"{name}: no code, for it flies level at none of the speeds of this campaign") from None
    recorded = record(campaign, law)
    if recorded is None:
        raise ChoiceError(
            f"{name}: no code, for it lasts through the first seconds of no condition that was tried without a fault, or its "
            "rangefinders fall silent there; 'foilsweep fly' shows how its flights end"
        )
    ticks, condition = recorded.ticks, recorded.condition
    told = f"{name} of campaign {campaign.name} in {condition.name}, first replicate, from {BEGIN:g} s after its start in trim"
    about = f"{told}; then the link is lost, and the boat is armed again." if recorded.stops else f"{told}."
    return {
        "README.md": readme(law, name, about, len(ticks)),
        "BENCH.md": bench_sheet(law),
        **law_files(law),
        **check_files(law, ticks, condition.speed, about),
    }


def _untold(craft: Craft) -> str:
    """Why a craft's law cannot be written; '' if it can."""
    if craft.control.traits.own:
        return f"its law is the builder's own file already: {craft.control.code}"
    for kind in craft.rangefinders.of_each("kind"):
        if FINDERS[kind] in (WAND, PRESSURE):
            return f"its law reads a rangefinder of kind {kind}, which the C does not know: it would not command what was flown"
    return ""


def write_files(files: Mapping[str, str], folder: Path) -> list[Path]:
    """Write texts by their names into a folder; gives the files. A file that differs is not replaced: raises CampaignError."""
    check_plain(folder)
    there = [folder / name for name, text in files.items() if _differs(folder / name, text)]
    if there:
        wanted = "a folder without it, so that nothing that you changed is lost: another --out"
        raise CampaignError([Problem(str(path), 0, 0, "", "a file with other content", wanted) for path in there])
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        write_whole(folder / name, text.encode())
    return [folder / name for name in files]


def as_zip(files: Mapping[str, str], folder: str) -> bytes:
    """The files in a folder of a zip, the same bytes for the same texts."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{folder}/{name}")
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, text.encode())
    return packed.getvalue()


def write_zip(files: Mapping[str, str], path: Path) -> Path:
    """The same as a file. One that differs is not replaced: raises CampaignError."""
    check_plain(path.parent)
    packed = as_zip(files, path.stem)
    if path.exists() and path.read_bytes() != packed:
        raise CampaignError([Problem(str(path), 0, 0, "", "a file with other content", "another --out: nothing is lost")])
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, packed)
    return path


def _differs(path: Path, text: str) -> bool:
    return path.exists() and path.read_bytes() != text.encode()
