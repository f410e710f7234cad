"""Where the folders are that travel with the program."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

HERE = Path(__file__).resolve().parent


def shipped(folder: Literal["site", "configs"]) -> Path:
    """The folder of the site's sources or of the demos: inside an installed package, or beside it in a checkout."""
    packaged = HERE / f"_{folder}"
    return packaged if packaged.is_dir() else HERE.parent / folder
