"""One run at a time in a results folder."""

from __future__ import annotations

import errno
import os
import socket
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from sweep.results.held_folder import held
from sweep.results.plain_files import StoreError, check_plain, open_to_append, sweep_up

NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP)
"""What a disk of another computer may answer; the last two are one number on Linux and two on macOS."""


class UnwritableError(StoreError):
    """The folder cannot be written to."""


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Keep other runs out of the folder.

    The system holds the lock and lets it go with the process, so a lock of a dead run never stands in the way. Raises
    StoreError naming the host and process that hold it, or what in the folder no run leaves; UnwritableError if it takes no
    writing; MovedFolderError, as soon as something is written and at the end, if another folder has come into its place.
    """
    check_plain(folder)
    with ExitStack() as open_files:
        try:
            open_files.enter_context(held(folder))
            file = open_files.enter_context(open_to_append(folder / ".lock"))
        except OSError as error:
            raise UnwritableError(
                f"{folder}: cannot be written to ({error.strerror}). Let it be written to, or work on a copy of it elsewhere."
            ) from error
        try:
            _grab(file.fileno())
        except OSError as error:
            raise _not_locked(folder, file, error) from None
        sweep_up(folder)
        file.truncate(0)
        with suppress(OSError):  # a full disk is told where it costs more than the owner's name
            os.write(file.fileno(), f"process {os.getpid()} on {socket.gethostname()}\n".encode())
        yield
        file.truncate(0)


def _not_locked(folder: Path, file: BinaryIO, error: OSError) -> StoreError:
    if error.errno in NO_LOCKS:
        return StoreError(f"{folder}: its disk knows no locks ({error.strerror}); keep results on a disk of this computer.")
    file.seek(0)
    owner = file.read().decode(errors="replace").strip() or "another run"
    return StoreError(
        f"{folder}: in use by {owner}; wait until that has ended. A run may take another folder meanwhile, with --out."
    )


if sys.platform == "win32":
    import msvcrt

    def _grab(handle: int) -> None:
        os.lseek(handle, 1 << 20, os.SEEK_SET)  # beyond the text, which stays readable
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _grab(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
