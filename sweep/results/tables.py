"""The columns of the tables that a results folder holds."""

from __future__ import annotations

CHANGES = (
    "group", "leader", "label", "was", "becomes", "predicted", "predicted_low", "predicted_high",
    "gain", "gain_low", "gain_high", "clean", "clean_before", "flights",
)  # fmt: skip
FLIGHT = ["design", "condition", "replicate"]
EVENT = [*FLIGHT, "kind", "begin", "end", "cause", "why"]
OUTING_EVENT = ["design", "outing", *EVENT[len(FLIGHT) :]]
