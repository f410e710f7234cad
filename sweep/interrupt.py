"""Ctrl-C, also where machine code is at work."""

from __future__ import annotations

import os
import signal
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

PATIENCE = 1.0
"""Seconds from Ctrl-C in which a command may end by itself (judgement)."""


@contextmanager
def stopped_soon(told: str, code: int) -> Iterator[None]:
    """Within two seconds of Ctrl-C the program ends, even where machine code is at work that no exception reaches.

    It may end anywhere: what a run has kept is whole on the disk at any moment. The watch outlives the command if Ctrl-C was
    given, since the end of the interpreter waits for such work too.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard, wake = socket.socketpair()
    wake.setblocking(False)
    asked, ended, said = threading.Event(), threading.Event(), threading.Event()

    def wait() -> None:
        while (signs := heard.recv(1)) and signs[0] != signal.SIGINT:
            pass
        if signs:
            asked.set()
            if not ended.wait(PATIENCE):
                with suppress(OSError):  # there may be nobody to tell
                    os.write(2, b"" if said.is_set() else f"{told}\n".encode())
                os._exit(code)

    before = signal.set_wakeup_fd(wake.fileno(), warn_on_full_buffer=False)
    watch = threading.Thread(target=wait, daemon=True)
    watch.start()
    try:
        yield
    except KeyboardInterrupt:
        said.set()
        raise
    finally:
        signal.set_wakeup_fd(before)
        if not asked.is_set():
            ended.set()
            wake.close()
            watch.join()
            heard.close()
