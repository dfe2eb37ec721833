"""Whole numbers of any size in columns: a row for each number, a limb of 32 bits in each column, the lowest first.

Numpy has no big integers, and Python's are slow by the ten thousand. Sums of limbs stay below 2^63 as long as what they are
multiplied by adds up to less than 2^31; carrying makes them limbs again. Nothing is rounded.
"""

import numpy as np
from numpy.typing import NDArray

Limbs = NDArray[np.int64]
BITS = 32
MOST_TIMES = 1 << 30  # that the factors of one sum may come to
MOST_WEIGHED = 1 << 20  # that the weights of one sum in floating point may come to
_LOW = (1 << BITS) - 1


def zeros(rows: int, width: int = 1) -> Limbs:
    return np.zeros((rows, width), np.int64)


def carried(sums: Limbs) -> Limbs:
    """Proper limbs of sums of limbs; as many columns as it takes. Changes ``sums``."""
    for column in range(sums.shape[1] - 1):
        sums[:, column + 1] += sums[:, column] >> BITS
        sums[:, column] &= _LOW
    over = sums[:, -1] >> BITS
    if over.any():
        sums[:, -1] &= _LOW
        return np.column_stack((sums, over))
    return sums


def summed(weights: NDArray[np.float64], limbs: Limbs) -> Limbs:
    """Sums of rows by weight: (sums, rows) with (rows, limbs). In floating point, which is exact as long as the weights of a sum
    come to less than 2^(53 - BITS)."""
    found: Limbs = (weights @ limbs.astype(np.float64)).astype(np.int64)
    return carried(found)


def wider(limbs: Limbs, width: int) -> Limbs:
    """The same numbers with at least so many columns."""
    missing = width - limbs.shape[1]
    return limbs if missing <= 0 else np.pad(limbs, ((0, 0), (0, missing)))


def whole(limbs: Limbs) -> list[int]:
    """The numbers themselves."""
    told = limbs.astype("<u4").tobytes()
    size = 4 * limbs.shape[1]
    return [int.from_bytes(told[start : start + size], "little") for start in range(0, len(told), size)]
