"""The edge of dark card beside which its own shadow lies: inside of what the middle between card and ground tells."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from .arrays import Floats, Picture
from .colours import lab
from .curve import lengths_along, places_along, unit
from .limits import METHOD

SHADOWS = METHOD.shadows


def out_of_shadow(picture: Picture, ring: Floats, blur: float, hole: bool) -> Floats:
    """A closed line of pixels, (n, 2), around card on a brighter ground, or a hole in it, moved in to where the card
    ends: half of the light from the card to what lies right beside it, be that ground or ground in shadow.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    ring : (n, 2) array
        Pixels, the last equal to the first.
    blur : float
        Standard deviation of the blur across it, pixels.
    hole : bool
        Whether the card lies around it.
    """
    import cv2

    lengths = lengths_along(ring)
    even = places_along(ring, lengths, np.linspace(0, lengths[-1], max(int(lengths[-1]), 24), endpoint=False))
    steps = np.zeros_like(even)
    for shift in range(1, METHOD.cards.turn_pixels):
        steps += np.roll(even, -shift, axis=0) - np.roll(even, shift, axis=0)
    out = unit(steps)[:, ::-1] * (1, -1)
    if Polygon(even).exterior.is_ccw == hole:
        out = -out
    at = np.arange(-SHADOWS.deep_pixels, SHADOWS.beyond_pixels + 0.1, SHADOWS.step_pixels)
    places = (even[:, None] + at[:, None] * out[:, None]).astype(np.float32)
    bright = lab(cv2.remap(picture, places[..., 0], places[..., 1], cv2.INTER_LINEAR))[..., 0]
    reach = SHADOWS.along_pixels
    wrapped = np.concatenate([bright[-reach:], bright, bright[:reach]])
    bright = cv2.GaussianBlur(wrapped, (1, 0), sigmaX=1e-6, sigmaY=reach / 3)[reach:-reach]
    card, ground = np.median(bright[:, at < -SHADOWS.card_pixels], axis=1), np.median(bright[:, at > 4], axis=1)
    if np.median(ground - card) < SHADOWS.least_contrast:
        return ring
    begins = _passed(bright, card + SHADOWS.begun * (ground - card), at)
    first = begins + SHADOWS.blurs * blur
    beside = np.stack([_value(bright, first + more, at) for more in (0.0, 0.5, 1.0, 1.5)]).mean(axis=0)
    shaded = (beside - card < SHADOWS.lit * (ground - card)) & (beside - card > SHADOWS.begun * (ground - card))
    # half of the light, of CIE L*
    half = 116 * ((((card + 16) / 116) ** 3 + ((beside + 16) / 116) ** 3) / 2) ** (1 / 3) - 16
    moved = np.where(shaded, np.minimum(_passed(bright, half, at), 0), 0.0)
    near = np.stack([np.roll(moved, shift) for shift in range(-reach, reach + 1)])
    moved = np.median(near, axis=0)
    lying = even + moved[:, None] * out
    return np.vstack([lying, lying[:1]])


def _passed(bright: Floats, level: Floats, at: Floats) -> Floats:
    """Where each row first rises above a level, (n,); at its end where it never does."""
    above = bright > level[:, None]
    above[:, 0], above[:, -1] = False, True
    index = above.argmax(axis=1)
    rows = np.arange(len(bright))
    low, high = bright[rows, index - 1], bright[rows, index]
    share = np.clip((level - low) / np.maximum(high - low, 1e-6), 0, 1)
    passed: Floats = at[index - 1] + share * (at[index] - at[index - 1])
    return passed


def _value(bright: Floats, places: Floats, at: Floats) -> Floats:
    """Of each row at a place of its own, (n,)."""
    index = np.clip((places - at[0]) / (at[1] - at[0]), 0, len(at) - 1.001)
    low = index.astype(int)
    rows = np.arange(len(bright))
    value: Floats = bright[rows, low] + (index - low) * (bright[rows, low + 1] - bright[rows, low])
    return value
