"""Arrays by what they hold and how many axes they have: `Floats2[individual, state]`.

Without a number the axes are as many as the values need.  Checkers of types hold a function to
its dtype and axes; what a single cell is they are not told by NumPy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Floats1 = np.ndarray[tuple[int], np.dtype[np.float64]]
Floats2 = np.ndarray[tuple[int, int], np.dtype[np.float64]]
Floats3 = np.ndarray[tuple[int, int, int], np.dtype[np.float64]]

Ints = NDArray[np.int64]
Ints1 = np.ndarray[tuple[int], np.dtype[np.int64]]
Ints2 = np.ndarray[tuple[int, int], np.dtype[np.int64]]
Ints3 = np.ndarray[tuple[int, int, int], np.dtype[np.int64]]

Bools = NDArray[np.bool_]
Bools1 = np.ndarray[tuple[int], np.dtype[np.bool_]]
Bools2 = np.ndarray[tuple[int, int], np.dtype[np.bool_]]

Positions1 = np.ndarray[tuple[int], np.dtype[np.intp]]
"""What `flatnonzero` and other indexing gives."""
Codes1 = np.ndarray[tuple[int], np.dtype[np.int8]]
"""Sexes: 0 female, 1 male, 2 either."""
Marks1 = np.ndarray[tuple[int], np.dtype[np.uint8]]
Marks2 = np.ndarray[tuple[int, int], np.dtype[np.uint8]]
"""Cells that are 0 or 1, in loops that set them one by one."""
Offsets2 = np.ndarray[tuple[int, int], np.dtype[np.int32]]
Offsets1 = np.ndarray[tuple[int], np.dtype[np.int32]]
"""Where cells of a block lie in another table."""
