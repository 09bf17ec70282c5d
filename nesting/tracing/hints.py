"""What somebody showed in a photo, and whether that can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
from shapely.geometry import Polygon

from ..errors import FileError
from .arrays import Floats, Picture

Points: TypeAlias = Sequence[Sequence[float]] | Floats
"""(n, 2) pixels of the photo."""
_LEAST_ROUGH = 100
"""Square pixels that a polygon around leather encloses: fewer are a slip of the hand."""


@dataclass(frozen=True, eq=False)
class Hints:
    """What somebody showed in the photo, in its pixels.

    Attributes
    ----------
    inside, outside : sequence of (px, py)
        Known to be leather, or not.
    rough : sequence of (px, py), optional
        A polygon drawn roughly around the leather.
    slits : sequence of (px, py)
        On lines in the leather, from its edge or wholly within, that are slits, which are cut out.
    stains : sequence of (px, py)
        In what is traced as holes without this and is leather, only stained.
    correct : sequence of (px, py)
        As a refusal names them, around which somebody looked and found the outline right as it was traced: what ends
        within 40 pixels of one is in doubt no longer.
    floor : sequence of (px, py)
        Of doubts, that are no leather: they are taken off the outline.
    """

    inside: Points = ()
    outside: Points = ()
    rough: Points | None = None
    slits: Points = ()
    stains: Points = ()
    correct: Points = ()
    floor: Points = ()

    def checked(self, photo: Path, picture: Picture) -> Told:
        """The same as arrays.

        Raises
        ------
        FileError
            If a place lies outside the picture, or what was drawn around the leather encloses nothing.
        """
        inside, outside, slits, stains, correct, floor = (
            _places(photo, name, getattr(self, name), picture)
            for name in ("inside", "outside", "slits", "stains", "correct", "floor")
        )
        rough = None if self.rough is None else _polygon(photo, _places(photo, "rough", self.rough, picture))
        return Told(inside, outside, rough, slits, stains, correct, floor)


@dataclass(frozen=True, eq=False)
class Told:
    """:class:`Hints` that can be, (n, 2) pixels each."""

    inside: Floats
    outside: Floats
    rough: Floats | None
    slits: Floats
    stains: Floats
    correct: Floats
    floor: Floats

    @property
    def where(self) -> bool:
        """Whether they tell where the leather is."""
        return bool(len(self.inside) or len(self.outside) or self.rough is not None)


def pixel_text(place: Sequence[float] | Floats) -> str:
    """A pixel as commands take it."""
    return ",".join(f"{value:.0f}" for value in place)


def _places(photo: Path, name: str, given: Points, picture: Picture) -> Floats:
    try:
        pixels = np.array([tuple(point) for point in given], dtype=float).reshape(-1, 2)
    except (TypeError, ValueError):
        raise FileError(photo, name, given, "give points in pixels, each as x,y") from None
    height, width = picture.shape[:2]
    within = (np.isfinite(pixels) & (pixels >= -0.5) & (pixels <= (width - 0.5, height - 0.5))).all(axis=1)
    if not within.all():
        raise FileError(
            photo,
            name,
            f"{pixel_text(pixels[~within][0])} is outside the picture",
            f"give pixels from 0,0 to {width - 1},{height - 1}",
        )
    return pixels


def _polygon(photo: Path, pixels: Floats) -> Floats:
    if len(pixels) < 3 or not Polygon(pixels).is_valid or Polygon(pixels).area < _LEAST_ROUGH:
        raise FileError(photo, "rough", f"{len(pixels)} points", "give three points or more in turn around the leather")
    return pixels
