"""What a run says while it works."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable
from typing import TextIO

from sweep.words.plain_text import tell

TERMINAL_PAUSE = 0.2
PLAIN_PAUSE = 5.0
"""Seconds between two lines on a terminal that overwrites them, and elsewhere, where they stay (judgement)."""


class Watcher:
    """Hears what a run does, and prints nothing."""

    def begin(self, flights: int, done: int, seconds: float) -> None:
        """So many flights of so many simulated seconds each are to be flown; some are done already."""

    def flown(self, flights: int) -> None:
        """So many more flights are done."""

    def best(self, design: int, score: float) -> None:
        """The design that leads so far."""

    def say(self, sentence: str) -> None:
        """Something that a person should know."""

    def end(self) -> None:
        """All flights are done."""


class Progress(Watcher):
    """Prints for a person: one line that changes on a terminal, a line every few seconds elsewhere.

    A terminal that calls itself dumb, or whose user wants no escape codes (NO_COLOR), gets the lines.
    """

    def __init__(self, stream: TextIO, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream, self._clock = stream, clock
        self._terminal = stream.isatty() and os.environ.get("TERM") != "dumb" and not os.environ.get("NO_COLOR")
        self._flights = self._done = self._here = self._timed = 0
        self._seconds = self._begun = self._shown = 0.0
        self._best, self._ready, self._told = "", False, -1

    def begin(self, flights: int, done: int, seconds: float) -> None:
        """Start the clock. Until the first flights are done the model is compiled or loaded; the line says so."""
        self._flights, self._done, self._here, self._timed, self._seconds, self._best = flights, done, 0, 0, seconds, ""
        self._begun = self._shown = self._clock()
        self._told = -1
        if not self._ready and done < flights:
            self._show()

    def flown(self, flights: int) -> None:
        """Count, and show the line if it is time. Flights that came with the compiling do not count for the speed."""
        self._done += flights
        self._here += flights
        if self._ready:
            self._timed += flights
        else:
            self._begun, self._ready = self._clock(), True
        if self._clock() - self._shown >= (TERMINAL_PAUSE if self._terminal else PLAIN_PAUSE):
            self._show()

    def best(self, design: int, score: float) -> None:
        """Name the leader in the next line."""
        self._best = f", best so far: design {design} (score {score:.3g})"

    def say(self, sentence: str) -> None:
        """Print the sentence on a line of its own."""
        tell(sentence, self._stream, before=self._cleared())

    def end(self) -> None:
        """Show the line a last time, where it does not stand there already."""
        if not self._here and self._done < self._flights:  # nothing was flown after all
            return
        if self._flights and (self._terminal or self._told != self._done):
            self._show()
        if self._flights:
            tell("", self._stream, end="\n" if self._terminal else "")

    def _show(self) -> None:
        self._shown, self._told = self._clock(), self._done
        line = self.line()[: shutil.get_terminal_size().columns - 1] if self._terminal else self.line()
        tell(line, self._stream, before=self._cleared(), end="" if self._terminal else "\n")

    def _cleared(self) -> str:
        """What takes a terminal back to the start of an empty line; consoles of Windows may take escape codes for text."""
        if not self._terminal:
            return ""
        return f"\r{' ' * (shutil.get_terminal_size().columns - 1)}\r" if sys.platform == "win32" else "\r\x1b[K"

    def line(self) -> str:
        """How far it is, how fast, how long still, and who leads."""
        taken = self._clock() - self._begun
        share = f"{100 * self._done // max(self._flights, 1)} %"
        line = f"{self._done:,} of {self._flights:,} flights ({share})".replace(",", " ")
        if not self._ready:
            return f"{line}, making the model ready"
        if not self._timed or taken <= 0.0:
            return f"{line}{self._best}"
        rate = f"{self._timed * self._seconds / taken:,.0f} x real time".replace(",", " ")
        left = duration(taken * (self._flights - self._done) / self._timed)
        return f"{line}, {rate}, {left} left{self._best}"


def duration(seconds: float) -> str:
    """'45 s', '12 min', '3 h 20 min'."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60} h {minutes % 60} min"
