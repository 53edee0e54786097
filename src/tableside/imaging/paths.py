"""The cheapest line from left to right through an image of costs, and how sure it is.

A line has one row a column. `best_path` finds the cheapest one by dynamic programming;
`path_posterior` weighs all lines by their cost and gives the mean row and its spread.

Source: forward-backward algorithm of a hidden Markov chain; rows are the states.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.errors import OutOfRange, require
from tableside.imaging.types import Floats, Ints

SMALL = 160  # rows up to which a matrix is faster than a convolution
FAR = 1e6  # cost of a row outside the image; larger than any sum of costs that matters


def best_path(cost: Floats, *, smooth: float, reach: int) -> Floats:
    """Find the line of least cost, to a fraction of a row.

    Parameters
    ----------
    cost : (rows, columns)
        Low where the line should run. Infinite where it must not.
    smooth : float
        Cost of a step of one row from a column to the next; it grows with the square.
    reach : int
        Largest step, rows a column.

    Returns
    -------
    (columns,)
        Row of the line in each column.

    Raises
    ------
    OutOfRange
        When ``cost`` is empty or ``reach`` is below 1.

    Notes
    -----
    The fraction comes from a parabola through the cost at the row and its two neighbours.
    """
    _check(cost, reach)
    limited = np.minimum(np.nan_to_num(cost, nan=FAR), FAR)
    rows = _backtrack(*_forward_costs(limited, smooth, reach), reach)
    return rows + _parabola_offset(limited, rows)


def path_marginals(cost: Floats, *, smooth: float, reach: int, temperature: float) -> Floats:
    """Return the probability of each row in each column, over all lines.

    Parameters
    ----------
    cost, smooth, reach
        As for `best_path`.
    temperature : float
        How much cost makes a line e times less likely.

    Returns
    -------
    (rows, columns)
        Each column sums to 1.
    """
    lanes = lane_marginals(cost[None], smooth=smooth, reach=reach, temperature=temperature)
    return np.asarray(lanes[0])


def lane_marginals(cost: Floats, *, smooth: float, reach: int, temperature: float) -> Floats:
    """Return `path_marginals` of several images of one size at once; faster than one by one.

    Parameters
    ----------
    cost : (lanes, rows, columns)
    smooth, reach, temperature
        As for `path_marginals`.

    Returns
    -------
    (lanes, rows, columns)
    """
    for lane in cost:
        _check(lane, reach)
    require("temperature", temperature, 1e-9, FAR, "Give the cost that matters.")
    limited = np.minimum(np.nan_to_num(cost, nan=FAR), FAR)
    weights = np.exp(-(limited - limited.min(axis=1, keepdims=True)) / temperature) + 1e-30
    likelihood = np.ascontiguousarray(weights.transpose(2, 0, 1))  # columns, lanes, rows
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-smooth * steps**2 / temperature)
    count = cost.shape[0]
    both = _pass(np.concatenate([likelihood, likelihood[::-1]], axis=1), kernel)
    product = both[:, :count] * both[::-1, count:] / likelihood
    product /= product.sum(axis=2, keepdims=True)
    return np.ascontiguousarray(product.transpose(1, 2, 0))


def path_posterior(
    cost: Floats, *, smooth: float, reach: int, temperature: float
) -> tuple[Floats, Floats]:
    """Return the mean row of all lines in each column, and its standard deviation.

    Parameters
    ----------
    cost, smooth, reach, temperature
        As for `path_marginals`.

    Returns
    -------
    mean, sd : (columns,)
        In rows. ``sd`` is as good as ``temperature``: it must be calibrated against truth.
    """
    weights = path_marginals(cost, smooth=smooth, reach=reach, temperature=temperature)
    rows = np.arange(cost.shape[0], dtype=np.float64)
    mean = rows @ weights
    variance = rows**2 @ weights - mean**2
    return mean, np.sqrt(np.maximum(variance, 1.0 / 12.0))


def _check(cost: Floats, reach: int) -> None:
    if cost.ndim != 2 or 0 in cost.shape:
        raise OutOfRange(f"cost has shape {cost.shape}; give rows and columns, none empty")
    require("reach", reach, 1, 1000, "Give the largest step in rows.")


def _forward_costs(cost: Floats, smooth: float, reach: int) -> tuple[Floats, Ints]:
    """Return the least cost of a line that ends in each row, and the step that led there."""
    height, width = cost.shape
    penalty = smooth * np.arange(-reach, reach + 1, dtype=np.float64) ** 2
    columns = np.ascontiguousarray(cost.T)
    padded = np.full(height + 2 * reach, FAR * 2)
    windows = sliding_window_view(padded, 2 * reach + 1)
    steps = np.zeros((width, height), dtype=np.int64)
    every = np.arange(height)
    total = columns[0]
    for column in range(1, width):
        padded[reach:-reach] = total
        candidates = windows + penalty
        steps[column] = candidates.argmin(axis=1)
        total = candidates[every, steps[column]] + columns[column]
        total = total - total.min()
    return total, steps


def _backtrack(total: Floats, steps: Ints, reach: int) -> Ints:
    width = steps.shape[0]
    rows = np.empty(width, dtype=np.int64)
    rows[-1] = total.argmin()
    for column in range(width - 1, 0, -1):
        rows[column - 1] = rows[column] + steps[column, rows[column]] - reach
    return rows


def _parabola_offset(cost: Floats, rows: Ints) -> Floats:
    """Return where between the neighbouring rows the cost is least, within half a row."""
    columns = np.arange(cost.shape[1])
    above = cost[np.maximum(rows - 1, 0), columns]
    here = cost[rows, columns]
    below = cost[np.minimum(rows + 1, cost.shape[0] - 1), columns]
    bend = above - 2 * here + below
    offset = np.divide(above - below, 2 * bend, out=np.zeros_like(bend), where=bend > 1e-9)
    return np.asarray(np.clip(offset, -0.5, 0.5))


def _pass(likelihood: Floats, kernel: Floats) -> Floats:
    """Return the scaled forward messages; ``likelihood`` is (columns, lanes, rows)."""
    width, lanes, height = likelihood.shape
    half = len(kernel) // 2
    messages = np.empty_like(likelihood)
    messages[0] = likelihood[0] / likelihood[0].sum(axis=1, keepdims=True)
    if height <= SMALL:
        rows = np.arange(height)
        away = rows[:, None] - rows + half
        band = np.where((away >= 0) & (away <= 2 * half), kernel[np.clip(away, 0, 2 * half)], 0)
    for column in range(1, width):
        message = messages[column]
        if height <= SMALL:
            np.matmul(messages[column - 1], band, out=message)
        else:
            for lane in range(lanes):
                wide = np.convolve(messages[column - 1, lane], kernel)
                message[lane] = wide[half : half + height]
        message *= likelihood[column]
        message /= message.sum(axis=1, keepdims=True)
    return messages
