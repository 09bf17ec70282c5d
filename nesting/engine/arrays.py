"""Names of the arrays that the engine works on."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
State = npt.NDArray[np.float64]
"""Container (-1 for none), x, y, angle (radians) and row of the angle list of every item, (items, 5); see
``state_of``."""
Fields = npt.NDArray[np.float32]
"""Clearance on a grid, mm; see ``clearance_field``."""
Grid = tuple[float, float, float]
"""Place of such a grid: x and y of its first node, mm, and nodes a mm."""
