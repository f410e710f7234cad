"""Memory that runs out, in words: some libraries end the whole process if they get none."""

from __future__ import annotations

import mmap

OUT_OF_MEMORY = ("failed to map segment", "Cannot allocate memory", "can't start new thread", "Unable to allocate")
"""The words for it of the library loader, the thread maker and the array maker."""
THREAD = 48_000_000
"""Bytes of a thread's stack, of what linear algebra takes when it is first called there, and of a piece (measured: 30 MB)."""


def check_room(threads: int) -> None:
    """Raises MemoryError if so many more threads would not fit: linear algebra would end the program without a word."""
    needed = threads * THREAD
    try:
        mmap.mmap(-1, needed).close()
    except (OSError, ValueError) as error:
        raise MemoryError(f"{needed // 1_000_000} MB for {threads} workers") from error


def is_of_memory(error: BaseException) -> bool:
    """Whether memory has run out, if only in what led to an error."""
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, MemoryError) or any(words in str(seen) for words in OUT_OF_MEMORY):
            return True
        seen = seen.__cause__ or seen.__context__
    return False
