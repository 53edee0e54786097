"""The inside of the aortic root on an M-mode, made straight: there the cusps open and close."""

import cv2
import numpy as np

from tableside.imaging.aorta import RootTrace
from tableside.imaging.mmode_grey import MmodeGrey, mmode_grey
from tableside.imaging.types import Floats, Pixels

STEPS = 64  # rows from the anterior to the posterior wall


def root_inside(mmode: Pixels | MmodeGrey, root: RootTrace) -> Floats:
    """Return the grey between the leading edges of both walls, each column stretched alike.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3), or MmodeGrey
        The region that ``root`` was traced on.
    root : RootTrace

    Returns
    -------
    (64, columns)
        0 to 255.
    """
    grey = mmode_grey(mmode).grey
    share = np.linspace(0.0, 1.0, STEPS)[:, None]
    front, back = root.anterior.leading, root.posterior.leading
    rows = (front + share * (back - front)).astype(np.float32)
    columns = np.broadcast_to(np.arange(grey.shape[1], dtype=np.float32), rows.shape)
    flat = cv2.remap(grey, np.ascontiguousarray(columns), rows, cv2.INTER_LINEAR)
    return np.asarray(flat, dtype=np.float64)
