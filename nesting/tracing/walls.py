"""Where the edge of a thing lies that stands up from the ground: its wall shows on the side of the camera."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from .arrays import Floats, Places
from .curve import lengths_along, places_along, unit
from .limits import METHOD
from .scale import Scale


def on_ground(ring: Floats, scale: Scale, raised: Scale, hole: bool) -> Places:
    """A closed line of pixels, (n, 2), around a thing that is so thick, or a hole in it, in mm on the ground, (m, 2).

    What is seen is its top on the far side and the foot of its wall on the near one, whichever lies further
    out: where the line, seen as the top's, lies further out than seen as the ground's, it is the ground's.
    """
    lengths = lengths_along(ring)
    even = places_along(ring, lengths, np.linspace(0, lengths[-1], max(int(lengths[-1]), 16), endpoint=False))
    low, high = scale.to_mm(even), raised.to_mm(even)
    steps = np.zeros_like(high)
    for shift in range(1, METHOD.cards.turn_pixels):
        steps += np.roll(high, -shift, axis=0) - np.roll(high, shift, axis=0)
    out = unit(steps)[:, ::-1] * (1, -1)
    if (Polygon(high).exterior.is_ccw) == hole:
        out = -out
    beyond = np.maximum(((high - low) * out).sum(axis=1, keepdims=True), 0)
    lying: Places = high - beyond * out
    return np.vstack([lying, lying[:1]])
