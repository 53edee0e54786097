"""The array types of the phantom."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex64]
Pixels = NDArray[np.uint8]  # (rows, columns) grey or (rows, columns, 3) RGB
