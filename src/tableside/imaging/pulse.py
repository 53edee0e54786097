"""How far the pulse smears an interface, judged from the grain of the picture itself."""

import numpy as np

from tableside.imaging.mmode_grey import Greys
from tableside.imaging.types import Floats

GRAIN_TO_PULSE = 1.55  # the log curve makes grain finer than the pulse; from phantom tuning
USUAL_CM = 0.0125  # pulse of two cycles at 5 MHz
NARROWEST_CM, WIDEST_CM = 0.007, 0.022
HALF_RISE = 2.05  # pulse widths between the half rise of grey and the interface


def pulse_sigma_cm(grey: Greys, top: Floats, bottom: Floats, cm_per_row: float) -> float:
    """Return the standard deviation of the pulse along the beam.

    Parameters
    ----------
    grey : (rows, columns)
    top, bottom : (columns,)
        Rows between which there is nothing but muscle.
    cm_per_row : float

    Notes
    -----
    The correlation of rows that follow each other gives the width of the grain
    (a Gaussian grain has ``exp(-d^2 / 4 s^2)`` at distance d); the share of the row itself,
    ``row^2 / 12``, is taken off. Rows coarser than the grain hold little of it: the answer
    then goes to that of a two-cycle pulse at 5 MHz.
    """
    rows = np.arange(grey.shape[0] - 1)[:, None]
    inside = (rows >= top) & (rows + 1 <= bottom)
    if inside.sum() < 200:
        return USUAL_CM
    one = grey[:-1][inside].astype(np.float64)
    next_ = grey[1:][inside].astype(np.float64)
    one, next_ = one - one.mean(), next_ - next_.mean()
    power = np.sqrt((one**2).mean() * (next_**2).mean())
    alike = float(np.clip((one * next_).mean() / max(power, 1e-9), 0.02, 0.97))
    grain = cm_per_row / (2 * np.sqrt(-np.log(alike)))
    seen = GRAIN_TO_PULSE * np.sqrt(max(grain**2 - cm_per_row**2 / 12, 0.0))
    trust = 1 / (1 + (cm_per_row / 0.03) ** 4)
    return float(np.clip(trust * seen + (1 - trust) * USUAL_CM, NARROWEST_CM, WIDEST_CM))


def half_rise_shift_cm(pulse_cm: float) -> float:
    """Return how far before an interface the grey has risen by half.

    Notes
    -----
    An echo T decibels below its peak begins ``s sqrt(0.23 T)`` before it. Grey has risen by
    half about 18 dB below the peak of a wall's surface against blood: 2.05 s.
    """
    return HALF_RISE * pulse_cm
