"""Thresholds of the events of a flight, used by the kernel, by the marks of a recorded ride and by the sentences.

All are judgement. Times (s) are for a hull of `REFERENCE_LENGTH`; they grow with the square root of the hull's length (Froude
scaling). The rules are M17.1 to M17.8.
"""

from __future__ import annotations

import math

REFERENCE_LENGTH = 0.9  # m: length of the hull for which the times below hold

LIGHT_LOAD = 0.05  # of the weight on the hull: with less for LIGHT_TIME the foils carry the craft
LIGHT_TIME = 1.0  # so long with a light hull: the foils carry the craft
HEAVY_LOAD = 0.5  # of the weight on the hull: with more for HEAVY_TIME flight is lost
HEAVY_TIME = 1.0  # so long with a heavy hull: flight is lost

DRY_TIME = 0.3  # dry for so long: the hull's next touch is a new one
LICK_LOAD = 0.05  # of the weight: a touch that stays under it and ends within LICK_TIME is a lick
LICK_TIME = 0.1  # a lick is over within it
PLUNGE_TIME = 0.1  # with the mean keel under the water for so long: a plunge

OUT_DEPTH = 0.5  # chords: with a tip less deep for OUT_TIME a foil is out
OUT_TIME = 0.05  # so long with a tip that shallow: the foil is out
DEEP_TIME = 0.3  # deeper for so long: the foil is in again

LOST_HEADING = math.radians(20.0)  # off the course: the heading is lost
RUDDER_LIMIT = 0.98  # of the rudder's limit: from here on the rudder is at it
RUDDER_TIME = 0.5  # so long at its limit: the heading is lost

FAR_BENT = 0.02  # of its length: a part that bends by more no longer works as the rigid one that is flown
FAR_TWISTED = math.radians(1.0)  # the same of its tip's twist

UPSET_ROLL = math.radians(35.0)  # beyond it either way the flight ends
UPSET_PITCH = math.radians(45.0)  # the same
UNDER_TIME = 0.5  # so long with the deck under the water: the flight ends

_WORDS = {0.5: "half"}


def in_words(share: float) -> str:
    """A share as a word, such as 'half'; raises KeyError for a share without a word."""
    return _WORDS[share]
