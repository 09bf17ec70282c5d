"""A closed outline, point by point: evenly spaced, and how sharp it turns."""

from __future__ import annotations

import numpy as np

from .arrays import Floats
from .limits import METHOD

CURVE = METHOD.curve


def lengths_along(ring: Floats) -> Floats:
    """How far along a closed outline, (n, 2), each of its points lies, (n,)."""
    return np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])


def places_along(ring: Floats, lengths: Floats, at: Floats) -> Floats:
    """Places, (m, 2), on a closed outline whose points lie so far along it, (n,), at other lengths, (m,)."""
    return np.column_stack([np.interp(at, lengths, axis) for axis in ring.T])


def sharpness(ring: Floats, near: int, far: int) -> tuple[Floats, Floats, Floats, Floats]:
    """How sharp a closed outline, (n, 2), is along its length.

    Gives points a pixel apart, (m, 2); unit vectors along both sides of each, towards it, seen from ``far`` to ``near``
    pixels away, (m, 2) each; and the angle between them, degrees, (m,). There are none on an outline too short to tell.
    """
    lengths = lengths_along(ring)
    count = int(lengths[-1]) if lengths[-1] >= CURVE.shortest_pixels else 0
    even = places_along(ring, lengths, np.linspace(0, lengths[-1], count, endpoint=False))
    before, after = (unit(np.roll(even, sign * near, axis=0) - np.roll(even, sign * far, axis=0)) for sign in (1, -1))
    return even, before, after, np.degrees(np.arccos(np.clip((before * after).sum(axis=1), -1, 1)))


def unit(vectors: Floats) -> Floats:
    """Vectors, (2,) or (n, 2), made one long."""
    made: Floats = vectors / np.maximum(np.hypot(*vectors.T), 1e-9)[..., None]
    return made
