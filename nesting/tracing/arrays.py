"""Kinds of arrays, so that it can be read off a function what it takes and gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.floating]
"""Coordinates, colours and judgements; the precision is that of what they were made of."""
Places: TypeAlias = npt.NDArray[np.float64]
"""(n, 2) coordinates in double precision, mm or pixels."""
Mask: TypeAlias = npt.NDArray[np.bool_]
"""(h, w): which pixels are something."""
Picture: TypeAlias = npt.NDArray[np.uint8]
"""(h, w, 3) RGB."""
Whole: TypeAlias = npt.NDArray[np.integer]
"""Rows, columns and labels."""
Unlike: TypeAlias = Callable[[Floats], Floats]
"""From (..., 2) places (column, row) to (...) how far their colours are from that of leather, about 0 to 1."""
