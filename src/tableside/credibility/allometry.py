"""How large each part of a healthy dog's heart is at a body weight, and how sizes go together.

One publication for all sizes, so that they can be judged together. Logs throughout; the
spread is that of the printed 95 % interval. How the logs of the sizes go together was not
printed: 0.8 for one structure in both phases, 0.5 between septum and free wall, -0.2 between
cavity and wall, 0.3 between aorta and cavity are design choices (docs/checks.md).

Sources: centre, 2.5 and 97.5 % limits and exponent [cornell2004], 494 dogs of 2.2 to 95 kg.
"""

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SAME, BOTH_WALLS, CAVITY_WALL, AORTA_CAVITY, AORTA_WALL = 0.8, 0.5, -0.2, 0.3, 0.2


@dataclass(frozen=True, slots=True)
class Size:
    """One row: cm at 1 kg (2.5 %, 97.5 %), the exponent, and which structure it is."""

    low: float
    high: float
    exponent: float
    structure: str

    def centre(self, weight_kg: float) -> float:
        """Return the log of the middle size at a weight."""
        return 0.5 * (log(self.low) + log(self.high)) + self.exponent * log(weight_kg)

    @property
    def spread(self) -> float:
        """Return the standard deviation of the log."""
        return log(self.high / self.low) / 3.92


SIZES = {
    "LVIDd": Size(1.27, 1.85, 0.294, "cavity"),
    "LVIDs": Size(0.71, 1.26, 0.315, "cavity"),
    "IVSd": Size(0.29, 0.59, 0.241, "septum"),
    "IVSs": Size(0.43, 0.79, 0.240, "septum"),
    "LVPWd": Size(0.29, 0.60, 0.232, "free wall"),
    "LVPWs": Size(0.48, 0.87, 0.222, "free wall"),
    "Ao": Size(0.63, 0.96, 0.341, "aorta"),
}


def covariance(names: tuple[str, ...]) -> Floats:
    """Return the covariance of the logs of several sizes in healthy dogs."""
    spread = np.array([SIZES[name].spread for name in names])
    together = np.array([[_together(one, other) for other in names] for one in names])
    return np.asarray(together * spread[:, None] * spread[None, :])


def log_density(off: Floats, spread: Floats) -> float:
    """Return the log of a multivariate normal density at ``off`` (constants included)."""
    factor = np.linalg.cholesky(spread)
    whitened = np.linalg.solve(factor, off)
    size = 2 * float(np.log(np.diag(factor)).sum()) + len(off) * log(2 * np.pi)
    return -0.5 * (float(whitened @ whitened) + size)


def _together(one: str, other: str) -> float:
    if one == other:
        return 1.0
    pair = {SIZES[one].structure, SIZES[other].structure}
    if len(pair) == 1:
        return SAME
    if "aorta" in pair:
        return AORTA_CAVITY if "cavity" in pair else AORTA_WALL
    return CAVITY_WALL if "cavity" in pair else BOTH_WALLS
