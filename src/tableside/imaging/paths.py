"""The cheapest line from left to right through an image of costs, and how sure it is.

A line has one row a column. `best_path` finds the cheapest one by dynamic programming;
`path_posterior` weighs all lines by their cost and gives the mean row and its spread.

Source: forward-backward algorithm of a hidden Markov chain; rows are the states.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.errors import OutOfRange, require
from tableside.imaging.types import Floats, Ints

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
    _check(cost, reach)
    require("temperature", temperature, 1e-9, FAR, "Give the cost that matters.")
    limited = np.minimum(np.nan_to_num(cost, nan=FAR), FAR)
    likelihood = np.exp(-(limited - limited.min(axis=0)) / temperature).T + 1e-30
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-smooth * steps**2 / temperature)
    forward = _pass(likelihood, kernel)
    backward = _pass(likelihood[::-1], kernel)[::-1]
    product = forward * backward / likelihood
    return np.ascontiguousarray((product / product.sum(axis=1, keepdims=True)).T)


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
    """Return the scaled forward messages; ``likelihood`` is (columns, rows)."""
    half = len(kernel) // 2
    messages = np.empty_like(likelihood)
    message = likelihood[0] / likelihood[0].sum()
    messages[0] = message
    for column in range(1, likelihood.shape[0]):
        spread = np.convolve(message, kernel)[half : half + likelihood.shape[1]]
        message = spread * likelihood[column]
        message /= message.sum()
        messages[column] = message
    return messages
