"""Where a label fits inside an area, and how large it can be."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import Floats, polygons

FONT = "DejaVu Sans"
"""Comes with matplotlib, so that text measures the same everywhere."""
SIZES = (8.5, 7.5, 6.5, 5.8, 5.2)
"""Font sizes for names, in points; smaller is not readable on paper."""
NUMBER_SIZES = (8.0, 7.0, 6.0, 5.0, 4.0, 3.2, 2.5, 1.8)
"""Font sizes for numbers that stand for a name; on the smallest parts they are read in the enlarged SVG."""
LINE_HEIGHT = 1.2
PADDING = 0.35
"""Free room around a label, as a share of its font size."""
SPOTS = (17, 11)
"""Places tried along and across the text: finer grids hardly find a larger label."""


@dataclass(frozen=True)
class Label:
    """A text with its middle at (x, y) mm, turned by ``angle`` degrees, ``size`` points high, inside ``box``."""

    text: str
    x: float
    y: float
    angle: float
    size: float
    box: Polygon


def fit(texts: Sequence[str], area: BaseGeometry, points_per_mm: float, sizes: Sequence[float] = SIZES) -> Label | None:
    """The largest label that lies wholly inside an area, level or along the area's long direction.

    Parameters
    ----------
    texts : sequence of str
        Ways to write it, the preferred first; may hold line breaks.
    area : Polygon or MultiPolygon, mm
    points_per_mm : float
        Scale of the picture: points (1/72 in) on paper for 1 mm of hide.
    sizes : sequence of float
        Font sizes in points, the largest first.

    Returns
    -------
    Label or None
        None when no text fits at the smallest size.
    """
    rooms = polygons(area)
    if not rooms:
        return None
    room = max(rooms, key=lambda room: room.area)
    circle = shapely.maximum_inscribed_circle(room, tolerance=max(0.02 * math.sqrt(room.area), 1e-6))
    middle, radius = np.array(circle.coords[0]), circle.length
    long_angle, reach = _long_direction(room)
    angles = (0.0,) if abs(long_angle) < 1 else (0.0, long_angle)
    shapely.prepare(room)
    spots = {angle: _spots(room, middle, angle) for angle in angles}
    for size in sizes:
        for text in texts:
            width, height = (side / points_per_mm for side in extent(text, size))
            # A box that fits holds a circle as wide as its shorter side.
            if min(width, height) > 2 * radius or max(width, height) > reach:
                continue
            for angle in angles:
                boxes = _boxes(spots[angle], width, height, angle)
                inside = np.flatnonzero(shapely.contains(room, boxes))
                if len(inside):
                    x, y = spots[angle][inside[0]]
                    return Label(text, float(x), float(y), angle, size, boxes[inside[0]])
    return None


def extent(text: str, size: float) -> tuple[float, float]:
    """Width and height in points that a text takes with its padding."""
    lines = text.split("\n")
    return size * (max(map(_width, lines)) + 2 * PADDING), size * (LINE_HEIGHT * len(lines) + PADDING)


def shortened(text: str, size: float, most_points: float) -> str:
    """A text cut in its middle with an ellipsis, so that it is at most so many points wide and its end still tells."""
    kept, short = len(text), text
    while size * _width(short) > most_points and kept:
        kept -= 1
        short = text[: kept - kept // 2].rstrip() + "…" + text[len(text) - kept // 2 :].lstrip()
    return short


@contextmanager
def quiet() -> Iterator[None]:
    """Without warnings of signs that the font lacks: they are drawn as boxes, which is no reason to alarm anyone."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*")
        yield


@lru_cache(maxsize=4096)
def _width(line: str) -> float:
    """Width of a line of text over its font size."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    with quiet():
        return (
            text_to_path.get_text_width_height_descent(line, FontProperties(family=FONT, size=100), ismath=False)[0]
            / 100
        )


def _long_direction(polygon: Polygon) -> tuple[float, float]:
    """Angle of the long side of the smallest rectangle around a polygon, -90 to 90 degrees, and its diagonal, mm."""
    corners = shapely.get_coordinates(polygon.minimum_rotated_rectangle)[:3]
    sides = np.diff(corners, axis=0)
    lengths = np.hypot(*sides.T)
    x, y = sides[int(np.argmax(lengths))]
    angle = math.degrees(math.atan2(y, x))
    angle -= 180 * round(angle / 180)
    # Upright text reads from below.
    return (90.0 if angle < -89 else angle), float(np.hypot(*lengths))


def _spots(polygon: Polygon, middle: Floats, angle: float) -> Floats:
    """Places to try, (n, 2): the centroid, the middle of the inscribed circle, a grid along the text's direction."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turn = np.array([[cos, sin], [-sin, cos]])
    local = shapely.get_coordinates(polygon.exterior) @ turn.T
    (u0, v0), (u1, v1) = local.min(axis=0), local.max(axis=0)
    us, vs = np.linspace(u0, u1, SPOTS[0] + 2)[1:-1], np.linspace(v0, v1, SPOTS[1] + 2)[1:-1]
    grid = np.stack(np.meshgrid(us, vs), axis=-1).reshape(-1, 2) @ turn
    centroid = np.array(polygon.centroid.coords[0])
    grid = grid[np.argsort(np.hypot(*(grid - centroid).T), kind="stable")]
    grid = grid[shapely.contains_xy(polygon, grid)]
    return np.vstack([centroid, middle, grid])


def _boxes(spots: Floats, width: float, height: float, angle: float) -> npt.NDArray[np.object_]:
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    along, across = np.array([cos, sin]) * width / 2, np.array([-sin, cos]) * height / 2
    corners = np.array([-along - across, along - across, along + across, -along + across])
    boxes: npt.NDArray[np.object_] = shapely.polygons(spots[:, None, :] + corners)
    return boxes
