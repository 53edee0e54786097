"""An interface of a tracing in every column, with what is known of its truth."""

from dataclasses import dataclass
from math import hypot

import numpy as np

from tableside.imaging.edges import Edge
from tableside.imaging.types import Bools, Floats

FLOOR_CM = 0.008  # no edge is surer than this
FLOOR_ROWS = 0.25  # nor than this share of a row


@dataclass(frozen=True, slots=True, kw_only=True)
class Interface:
    """One interface in every column, in rows of the region.

    ``trailing`` is the far flank of its echo where a convention asks for it, else None.
    """

    leading: Floats
    sd_px: Floats
    contrast: Floats
    trusted: Bools
    trailing: Floats | None = None


@dataclass(frozen=True, slots=True)
class Judge:
    """Which columns of an interface may be trusted, and how sure they are."""

    filled: Bools
    top: int  # rows cut off above the skin
    cm_per_row: float

    def __call__(self, edge: Edge, leading: Floats, least_contrast: float) -> Interface:
        """Return the interface in rows of the whole region."""
        floor = hypot(FLOOR_CM / self.cm_per_row, FLOOR_ROWS)
        return Interface(
            leading=leading + self.top,
            sd_px=np.hypot(edge.sd_px, floor),
            contrast=edge.contrast,
            trusted=self.filled & (edge.contrast > least_contrast),
        )
