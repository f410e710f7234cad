"""No test is judged by the clock: a first call compiles, and machines are shared."""

from __future__ import annotations

import signal

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
# What a shell has started in the background is deaf to Ctrl-C, and so is what comes of it: tests of that would wait for ever.
signal.signal(signal.SIGINT, signal.default_int_handler)
