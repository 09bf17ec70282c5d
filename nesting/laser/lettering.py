"""Words as outlines, so that no file to burn holds text that another program might set otherwise."""

from __future__ import annotations

import warnings
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import MultiLineString

from ..geometry import Floats, place

FONT = "DejaVu Sans"
"""Comes with matplotlib, so that the same words give the same lines everywhere."""


def lettered(
    text: str, x: float, y: float, height_mm: float, angle_deg: float = 0.0, anchor: str = "middle"
) -> MultiLineString:
    """The outlines of words.

    Parameters
    ----------
    text : str
        One line.
    x, y : float
        Where it stands, mm: the middle of its height and, by ``anchor``, its start, middle or end.
    height_mm : float
        Of capitals.
    angle_deg : float
        Counter-clockwise.
    anchor : {"start", "middle", "end"}

    Returns
    -------
    MultiLineString
        Closed lines; empty for blank text. Filled by the even-odd rule they are the letters.
    """
    rings, width = _outlines(text)
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
    lines = MultiLineString([ring - (shift, 0.5) for ring in rings])
    return place(shapely.transform(lines, lambda points: points * height_mm), x, y, angle_deg)


def width_mm(text: str, height_mm: float) -> float:
    """How wide words are whose capitals have this height."""
    return _outlines(text)[1] * height_mm


def size_to_fit(text: str, width: float, most_mm: float) -> float:
    """The greatest height of capitals, at most ``most_mm``, at which words are no wider than ``width``."""
    return min(most_mm, width / max(_outlines(text)[1], 1e-9))


@lru_cache(maxsize=4096)
def _outlines(text: str) -> tuple[tuple[Floats, ...], float]:
    """Closed rings with capitals 1 high standing on 0, and the width of the whole."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.path import Path
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=FONT)

    def drawn(words: str) -> Path:
        with warnings.catch_warnings():
            # A letter that the font has not is drawn as an empty box.
            warnings.simplefilter("ignore")
            points, codes = text_to_path.get_text_path(font, words, ismath=False)
        return Path(np.asarray(points, float).reshape(-1, 2), codes)

    capital = np.asarray(drawn("H").vertices)[:, 1].max()
    path = drawn(text)
    drawn_rings = map(np.asarray, path.to_polygons(closed_only=True)) if text.strip() else ()
    rings = [ring / capital for ring in drawn_rings if len(ring) >= 4]
    return tuple(rings), max((float(ring[:, 0].max()) for ring in rings), default=0.0)
