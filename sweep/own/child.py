"""What a child process runs: it loads the code that it is told to, and answers until its parent is gone."""

from __future__ import annotations

import os
import pickle
import sys
from pathlib import Path
from typing import Any, BinaryIO

from sweep.own.contained import HEAD
from sweep.own.library import load


def _receive(stream: BinaryIO) -> Any:
    head = stream.read(HEAD.size)
    if len(head) < HEAD.size:
        raise EOFError
    return pickle.loads(stream.read(HEAD.unpack(head)[0]))


def main() -> None:
    """Answer with (value, what is told of failed lanes), or with what was raised."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever prints does not break an answer
    try:
        sizes, place = _receive(sys.stdin.buffer)
        loaded = load(sizes, Path(place))
        while True:
            function, arguments = _receive(sys.stdin.buffer)
            answer: Any
            try:
                answer = (function(*arguments), loaded.told())
            except Exception as error:  # the parent raises it
                answer = error
            data = pickle.dumps(answer)
            answers.write(HEAD.pack(len(data)) + data)
            answers.flush()
    except (EOFError, BrokenPipeError):
        os._exit(0)


if __name__ == "__main__":
    main()
