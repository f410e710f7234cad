"""What stands around every page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from sweep.report.pages.rules import RULES, Rules

if TYPE_CHECKING:
    from sweep.results.manifest import Manifest

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

    here: the file of the page itself; preview: the picture beside a link to it, if there is one; footer: version and date;
    rules: those that sentences of the templates name.
    """

    title: str
    footer: list[str]
    pages: tuple[Link, ...] = ()
    missing: tuple[str, ...] = ()
    here: str = ""
    preview: str = ""
    policy: str = POLICY
    rules: Rules = RULES


def footer(manifest: Manifest) -> list[str]:
    """Version and date for the foot of a page."""
    return [line for line in (_version(manifest), day(manifest)) if line]


def _version(manifest: Manifest) -> str:
    version = manifest.versions.get("foilsweep")
    return f"Foilsweep {version}" if version else ""


def day(manifest: Manifest) -> str:
    """The day of the run: that of its end, or of its begin if it has not ended."""
    return (manifest.finished or manifest.started)[:10]
