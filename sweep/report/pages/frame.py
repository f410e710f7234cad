"""What stands around every page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

# `file:` stands beside 'self' because a browser need not take a file's neighbours for its own.
POLICY = (
    "default-src 'none'; script-src 'self' file:; style-src 'self' file:; img-src 'self' file:; "
    "base-uri 'none'; form-action 'none'"
)


class Link(NamedTuple):
    """A page in the list of pages: its file and its name."""

    file: str
    title: str


@dataclass(frozen=True)
class Frame:
    """What stands around every page: whose it is, the other pages, what a stopped run has not told yet.

    here: the file of the page itself; footer: version and date.
    """

    title: str
    footer: list[str]
    pages: tuple[Link, ...] = ()
    missing: tuple[str, ...] = ()
    here: str = ""
    policy: str = POLICY


def footer(manifest: Mapping[str, Any]) -> list[str]:
    """Version and date for the foot of a page."""
    return [line for line in (_version(manifest), day(manifest)) if line]


def _version(manifest: Mapping[str, Any]) -> str:
    version = manifest.get("versions", {}).get("foilsweep")
    return f"Foilsweep {version}" if version else ""


def day(manifest: Mapping[str, Any]) -> str:
    """The day of the run: that of its end, or of its begin if it has not ended."""
    return str(manifest.get("finished") or manifest.get("started") or "")[:10]
