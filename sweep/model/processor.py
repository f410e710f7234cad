"""The features of this machine's processor, as the compiler gets them."""

from __future__ import annotations

from llvmlite.binding import get_host_cpu_features


def features() -> str:
    """Numba's list, but with the widest vectors: for some processors numba would use 256 bits instead of 512."""
    found = get_host_cpu_features()
    told: str = found.flatten()
    return f"{told},-prefer-256-bit" if found.get("avx512f") else told
