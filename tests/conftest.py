"""No test is judged by the clock: a first call compiles, and machines are shared."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
