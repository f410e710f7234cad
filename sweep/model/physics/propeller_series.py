"""Open-water curves of a published propeller series."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class OpenWater(NamedTuple):
    """Thrust and torque coefficients as cubics in the advance ratio J, lowest power first; and J of zero thrust."""

    thrust: tuple[float, float, float, float]
    torque: tuple[float, float, float, float]
    no_thrust: float


def series_curves(blades: int, pitch_ratio: float, area_ratio: float) -> OpenWater:
    """Open-water curves of a propeller of the Wageningen B-series at a Reynolds number of 2e6 (M9.5).

    Polynomials of Oosterveld & van Oossanen (1975): 2 to 7 blades, expanded area ratio 0.30 to 1.05, pitch ratio 0.5 to 1.4.
    A model propeller's Reynolds number is lower: its torque is a few per cent higher (not corrected).
    """
    thrust, torque = ([0.0] * 4, [0.0] * 4)
    for curve, terms in ((thrust, KT_TERMS), (torque, KQ_TERMS)):
        for coefficient, s, t, u, v in terms:
            curve[s] += coefficient * pitch_ratio**t * area_ratio**u * blades**v
    roots = np.roots(thrust[::-1])
    ahead = [float(root.real) for root in roots if abs(root.imag) < 1e-9 and root.real > 0.0]
    return OpenWater((thrust[0], thrust[1], thrust[2], thrust[3]), (torque[0], torque[1], torque[2], torque[3]), min(ahead))


# Oosterveld & van Oossanen 1975: coefficient; powers of J, pitch ratio, area ratio, blades
KT_TERMS = (
    (0.00880496, 0, 0, 0, 0),
    (-0.204554, 1, 0, 0, 0),
    (0.166351, 0, 1, 0, 0),
    (0.158114, 0, 2, 0, 0),
    (-0.147581, 2, 0, 1, 0),
    (-0.481497, 1, 1, 1, 0),
    (0.415437, 0, 2, 1, 0),
    (0.0144043, 0, 0, 0, 1),
    (-0.0530054, 2, 0, 0, 1),
    (0.0143481, 0, 1, 0, 1),
    (0.0606826, 1, 1, 0, 1),
    (-0.0125894, 0, 0, 1, 1),
    (0.0109689, 1, 0, 1, 1),
    (-0.133698, 0, 3, 0, 0),
    (0.00638407, 0, 6, 0, 0),
    (-0.00132718, 2, 6, 0, 0),
    (0.168496, 3, 0, 1, 0),
    (-0.0507214, 0, 0, 2, 0),
    (0.0854559, 2, 0, 2, 0),
    (-0.0504475, 3, 0, 2, 0),
    (0.010465, 1, 6, 2, 0),
    (-0.00648272, 2, 6, 2, 0),
    (-0.00841728, 0, 3, 0, 1),
    (0.0168424, 1, 3, 0, 1),
    (-0.00102296, 3, 3, 0, 1),
    (-0.0317791, 0, 3, 1, 1),
    (0.018604, 1, 0, 2, 1),
    (-0.00410798, 0, 2, 2, 1),
    (-0.000606848, 0, 0, 0, 2),
    (-0.0049819, 1, 0, 0, 2),
    (0.0025983, 2, 0, 0, 2),
    (-0.000560528, 3, 0, 0, 2),
    (-0.00163652, 1, 2, 0, 2),
    (-0.000328787, 1, 6, 0, 2),
    (0.000116502, 2, 6, 0, 2),
    (0.000690904, 0, 0, 1, 2),
    (0.00421749, 0, 3, 1, 2),
    (0.0000565229, 3, 6, 1, 2),
    (-0.00146564, 0, 3, 2, 2),
)
# The same for the torque
KQ_TERMS = (
    (0.00379368, 0, 0, 0, 0),
    (0.00886523, 2, 0, 0, 0),
    (-0.032241, 1, 1, 0, 0),
    (0.00344778, 0, 2, 0, 0),
    (-0.0408811, 0, 1, 1, 0),
    (-0.108009, 1, 1, 1, 0),
    (-0.0885381, 2, 1, 1, 0),
    (0.188561, 0, 2, 1, 0),
    (-0.00370871, 1, 0, 0, 1),
    (0.00513696, 0, 1, 0, 1),
    (0.0209449, 1, 1, 0, 1),
    (0.00474319, 2, 1, 0, 1),
    (-0.00723408, 2, 0, 1, 1),
    (0.00438388, 1, 1, 1, 1),
    (-0.0269403, 0, 2, 1, 1),
    (0.0558082, 3, 0, 1, 0),
    (0.0161886, 0, 3, 1, 0),
    (0.00318086, 1, 3, 1, 0),
    (0.015896, 0, 0, 2, 0),
    (0.0471729, 1, 0, 2, 0),
    (0.0196283, 3, 0, 2, 0),
    (-0.0502782, 0, 1, 2, 0),
    (-0.030055, 3, 1, 2, 0),
    (0.0417122, 2, 2, 2, 0),
    (-0.0397722, 0, 3, 2, 0),
    (-0.00350024, 0, 6, 2, 0),
    (-0.0106854, 3, 0, 0, 1),
    (0.00110903, 3, 3, 0, 1),
    (-0.000313912, 0, 6, 0, 1),
    (0.0035985, 3, 0, 1, 1),
    (-0.00142121, 0, 6, 1, 1),
    (-0.00383637, 1, 0, 2, 1),
    (0.0126803, 0, 2, 2, 1),
    (-0.00318278, 2, 3, 2, 1),
    (0.00334268, 0, 6, 2, 1),
    (-0.00183491, 1, 1, 0, 2),
    (0.000112451, 3, 2, 0, 2),
    (-0.0000297228, 3, 6, 0, 2),
    (0.000269551, 1, 0, 1, 2),
    (0.00083265, 2, 0, 1, 2),
    (0.00155334, 0, 2, 1, 2),
    (0.000302683, 0, 6, 1, 2),
    (-0.0001843, 0, 0, 2, 2),
    (-0.000425399, 0, 3, 2, 2),
    (0.0000869243, 3, 3, 2, 2),
    (-0.0004659, 0, 6, 2, 2),
    (0.0000554194, 1, 6, 2, 2),
)
