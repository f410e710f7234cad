"""What each choice does at the leading design itself: the designs that differ from it in that choice alone.

Shares of factors are averages over all designs. A choice that does little on average may do much at the one that is built.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from sweep.insight.intervals import CONFIDENCE, Array
from sweep.insight.race import BASE
from sweep.insight.ranking import SKEW
from sweep.insight.uneven import behind


def neighbours(designs: pd.DataFrame, labels: Sequence[str], leader: int) -> dict[int, str]:
    """The designs that differ from the leader in one factor alone, with the label of that; the base craft is none of them.

    designs: values of factors by label, a row a design.
    """
    other = designs[list(labels)].to_numpy() != designs.loc[leader, list(labels)].to_numpy()
    numbers = designs.index.to_numpy(dtype=np.int64)
    rows = np.flatnonzero((other.sum(axis=1) == 1) & (numbers != BASE)).tolist()
    return {int(numbers[row]): labels[int(other[row].argmax())] for row in rows}


def beside_leader(scores: Array, designs: int) -> pd.DataFrame:
    """By how much its neighbours score more than the leader; one row a neighbour: more, least (NaN where not known).

    scores: of the leader first and of its neighbours, (designs, conditions, replicates), NaN where nothing was flown; designs:
    of the campaign. Paired in the blocks that both have flown. Which design leads was picked by these flights: so `least` holds
    for every design and all of its neighbours at once (Bonferroni), with the room for `SKEW` that other joint gains have.
    """
    found = behind(scores, 0, share_spreads=True)
    pairs = designs * max(len(scores) - 1, 1) / 2.0
    least = found.mean - SKEW * found.half_width((1.0 - CONFIDENCE) / (2.0 * max(pairs, 1.0)))
    return pd.DataFrame({"more": found.mean, "least": least}).iloc[1:].reset_index(drop=True)
