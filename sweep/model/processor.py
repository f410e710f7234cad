"""What the compiler is told of this machine's processor."""

from __future__ import annotations

from llvmlite.binding import get_host_cpu_features


def features() -> str:
    """As numba would tell it, and to use vectors as wide as there are: for some it holds half of 512 bits to be quicker."""
    found = get_host_cpu_features()
    told: str = found.flatten()
    return f"{told},-prefer-256-bit" if found.get("avx512f") else told
