"""Evenly spread points that are the same every time, as standard normals.

A Latin hypercube with fixed orders: every column by itself is evenly spaced, columns are in
unrelated order. A one-generator lattice was tried and left: in twenty columns its spreads
came out 5 % small.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@lru_cache(maxsize=64)
def uniform_points(count: int, dimensions: int, stream: int = 0) -> Floats:
    """Return (count, dimensions) points of (0, 1); another stream has other orders."""
    order = np.random.default_rng((count, stream))
    columns = [(order.permutation(count) + 0.5) / count for _ in range(dimensions)]
    return np.array(columns).T.reshape(count, dimensions)


@lru_cache(maxsize=64)
def normal_points(count: int, dimensions: int, stream: int = 0) -> Floats:
    """Return (count, dimensions) standard normals."""
    return normal_quantile(uniform_points(count, dimensions, stream))


def normal_quantile(share: Floats) -> Floats:
    """Return the standard normal below which a share lies (Acklam's approximation, 1e-9)."""
    tail = np.minimum(share, 1 - share)
    far = tail < 0.02425
    q = np.where(far, 0.0, share - 0.5)
    r = q * q
    a = (-39.69683028665376, 220.9460984245205, -275.9285104469687,
         138.3577518672690, -30.66479806614716, 2.506628277459239)  # fmt: skip
    b = (-54.47609879822406, 161.5858368580409, -155.6989798598866,
         66.80131188771972, -13.28068155288572, 1.0)  # fmt: skip
    middle = q * np.polyval(a, r) / np.polyval(b, r)
    c = (-0.007784894002430293, -0.3223964580411365, -2.400758277161838,
         -2.549732539343734, 4.374664141464968, 2.938163982698783)  # fmt: skip
    d = (0.007784695709041462, 0.3224671290700398, 2.445134137142996,
         3.754408661907416, 1.0)  # fmt: skip
    s = np.sqrt(-2 * np.log(tail))
    outer = np.polyval(c, s) / np.polyval(d, s)
    return np.asarray(np.where(far, np.where(share < 0.5, outer, -outer), middle))
