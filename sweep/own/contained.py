"""Child processes in which a builder's own code flies, so that it can harm nothing but itself."""

from __future__ import annotations

import atexit
import os
import pickle
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from sweep.campaign.text.problems import ChoiceError
from sweep.model.onboard.own import Sizes
from sweep.own.compiling import OwnCodeError, library
from sweep.own.permit import named

HEAD = struct.Struct("<Q")


class ChildDiedError(Exception):
    """A child ended before it answered: the code broke more than its guard could hold."""


class Answer(NamedTuple):
    """What a function returned in a child, and a clause for each of its flights whose code failed."""

    value: Any
    told: list[str]


class _Child:
    """One process, with the code of one `Sizes` loaded."""

    def __init__(self, sizes: Sizes, place: Path) -> None:
        plain = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
        command = [sys.executable, "-m", "sweep.own.child"]
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=plain,
            start_new_session=True,  # Ctrl-C is for the parent
        )
        self._send((sizes, str(place)))

    def ask(self, function: Callable[..., Any], *arguments: Any) -> Answer:
        """Raises ChildDiedError, and what the function raises there."""
        self._send((function, arguments))
        found = self._receive()
        if isinstance(found, BaseException):
            raise found
        return Answer(*found)

    def _send(self, message: Any) -> None:
        data = pickle.dumps(message)
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(HEAD.pack(len(data)) + data)
            self._process.stdin.flush()
        except OSError:
            raise ChildDiedError from None

    def _receive(self) -> Any:
        assert self._process.stdout is not None
        head = self._process.stdout.read(HEAD.size)
        data = self._process.stdout.read(HEAD.unpack(head)[0]) if len(head) == HEAD.size else b""
        if len(head) < HEAD.size or len(data) < HEAD.unpack(head)[0]:
            raise ChildDiedError
        return pickle.loads(data)

    def end(self) -> None:
        """End it, whatever it does."""
        self._process.kill()
        with suppress(OSError):
            self._process.communicate()


MOST_IDLE = 2 * (os.cpu_count() or 1)
"""Children that are kept for the next flights (judgement); each is a process with the kernels loaded."""
_idle: list[tuple[Sizes, _Child]] = []
_lock = threading.Lock()


def in_child(sizes: Sizes, function: Callable[..., Any], *arguments: Any) -> Answer:
    """Call a function in a child that has the code loaded. Raises ChildDiedError, ChoiceError, and what the function raises.

    function: one that can be pickled; what it is given and returns too.
    """
    child = _taken(sizes)
    try:
        answer = child.ask(function, *arguments)
    except BaseException:
        child.end()
        raise
    with _lock:
        _idle.append((sizes, child))
        old = _idle[:-MOST_IDLE]
        del _idle[:-MOST_IDLE]
    for _, each in old:
        each.end()
    return answer


def _taken(sizes: Sizes) -> _Child:
    """An idle child, or a new one."""
    name, text = named(sizes)
    with _lock:
        at = next((i for i, (loaded, _) in enumerate(_idle) if loaded == sizes), None)
        if at is not None:
            return _idle.pop(at)[1]
    try:
        return _Child(sizes, library(sizes, text, name))
    except OwnCodeError as error:
        raise ChoiceError(str(error)) from None


@atexit.register
def let_go() -> None:
    """End the idle children."""
    with _lock:
        gone = list(_idle)
        _idle.clear()
    for _, child in gone:
        child.end()
