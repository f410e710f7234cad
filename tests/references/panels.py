"""Potential flow past a foil section by straight panels of linearly varying vorticity (Kuethe & Chow), for comparisons."""

from __future__ import annotations

import math

import numpy as np


def four_digit_outline(designation: str, panels: int = 240) -> tuple[np.ndarray, np.ndarray]:
    """Outline x, y in chords of a NACA four-digit section with a sharp tail: from the tail along the lower side and back.

    Abbott & von Doenhoff, Theory of Wing Sections (1959), section 6.4, with -0.1036 in place of -0.1015.
    """
    camber, place, thickness = int(designation[0]) / 100, int(designation[1]) / 10, int(designation[2:]) / 100
    x = 0.5 - 0.5 * np.cos(np.linspace(0.0, math.pi, panels // 2 + 1))
    half = 5.0 * thickness * (0.2969 * np.sqrt(x) + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1036 * x))))
    line, slope = np.zeros_like(x), np.zeros_like(x)
    if camber:
        ahead = x < place
        scale = np.where(ahead, camber / place**2, camber / (1 - place) ** 2)
        line = scale * np.where(ahead, 2 * place * x - x * x, 1 - 2 * place + 2 * place * x - x * x)
        slope = scale * 2 * (place - x)
    turn = np.arctan(slope)
    upper = np.stack([x - half * np.sin(turn), line + half * np.cos(turn)])
    lower = np.stack([x + half * np.sin(turn), line - half * np.cos(turn)])
    outline = np.concatenate([lower[:, ::-1], upper[:, 1:]], axis=1)
    return outline[0], outline[1]


class Flow:
    """Speeds on a section's outline, at any angle: the flow is the sum of those along and across the chord."""

    def __init__(self, x: np.ndarray, y: np.ndarray) -> None:
        """x, y: outline in chords, from the tail along the lower side to the nose and back along the upper side."""
        self.along = np.arctan2(np.diff(y), np.diff(x))
        self.length = np.hypot(np.diff(x), np.diff(y))
        self.middle = np.stack([0.5 * (x[1:] + x[:-1]), 0.5 * (y[1:] + y[:-1])])
        normal, tangential = self._influence(x, y)
        count = len(self.along)
        system = np.zeros((count + 1, count + 1))
        system[:count] = normal
        system[count, [0, count]] = 1.0  # no vorticity sheds at the tail
        onset = np.zeros((count + 1, 2))
        onset[:count] = np.stack([np.sin(self.along), -np.cos(self.along)], axis=1)
        self.speeds = np.stack([np.cos(self.along), np.sin(self.along)], axis=1) + tangential @ np.linalg.solve(system, onset)

    def _influence(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Normal and tangential speed at the middle of each panel of unit strength 2 pi V at each corner."""
        dx, dy = self.middle[0][:, None] - x[:-1], self.middle[1][:, None] - y[:-1]
        length, turn = self.length, self.along[:, None] - self.along
        a = -dx * np.cos(self.along) - dy * np.sin(self.along)
        b = dx**2 + dy**2
        c, d = np.sin(turn), np.cos(turn)
        e = dx * np.sin(self.along) - dy * np.cos(self.along)
        f = np.log(1.0 + length * (length + 2.0 * a) / b)
        g = np.arctan2(e * length, b + a * length)
        twist = self.along[:, None] - 2.0 * self.along
        p = dx * np.sin(twist) + dy * np.cos(twist)
        q = dx * np.cos(twist) - dy * np.sin(twist)
        second = d + 0.5 * q * f / length - (a * c + d * e) * g / length
        first = 0.5 * d * f + c * g - second
        second_along = c + 0.5 * p * f / length + (a * d - c * e) * g / length
        first_along = 0.5 * c * f - d * g - second_along
        itself = np.eye(len(length), dtype=bool)
        first[itself], second[itself] = -1.0, 1.0
        first_along[itself] = second_along[itself] = 0.5 * math.pi
        return _to_corners(first, second), _to_corners(first_along, second_along)

    def speed(self, angle: float) -> np.ndarray:
        """Speed over that of the stream at the middle of each panel, forward of the stagnation point positive; angle rad."""
        return np.asarray(self.speeds @ [math.cos(angle), math.sin(angle)])

    def lift(self, angle: float) -> float:
        """Lift coefficient from the circulation."""
        return float(2.0 * np.sum(self.speed(angle) * self.length))

    def angle_of(self, lift: float) -> float:
        """Angle (rad) of a lift coefficient."""
        across, along = self.lift(math.pi / 2), self.lift(0.0)
        return math.asin(lift / math.hypot(across, along)) - math.atan2(along, across)

    def moment(self, angle: float) -> float:
        """Moment coefficient about the quarter chord, nose up."""
        pressure = (1.0 - self.speed(angle) ** 2) * self.length
        x, y = self.middle[0] - 0.25, self.middle[1]
        return float(np.sum(pressure * (x * np.cos(self.along) + y * np.sin(self.along))))

    def suction(self, lift: float) -> float:
        """Minus the least pressure coefficient at a lift coefficient."""
        return float(np.max(self.speed(self.angle_of(lift)) ** 2) - 1.0)


def _to_corners(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    corners = np.zeros((len(first), len(first) + 1))
    corners[:, :-1] += first
    corners[:, 1:] += second
    return corners
