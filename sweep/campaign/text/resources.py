"""The folders that are shipped with the program."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

HERE = Path(__file__).resolve().parents[2]
IN_A_CHECKOUT = {"site": "site", "configs": "configs", "references": "tests/references"}


def shipped(folder: Literal["site", "configs", "references"]) -> Path:
    """The folder of the site's sources, of the demos, or of outside values: in an installed package or in a checkout."""
    packaged = HERE / f"_{folder}"
    return packaged if packaged.is_dir() else HERE.parent / IN_A_CHECKOUT[folder]
