"""What remains of a hide after cutting: offcuts worth keeping, and scrap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from .model import Layout
from .regions import areal

RASTER_CELLS = 160
LEAST_AREA_MM2 = 1e-6


@dataclass(frozen=True)
class Offcut:
    """A piece worth keeping, with the largest rectangle found inside it."""

    id: str
    polygon: Polygon
    rectangle: Polygon
    width_mm: float
    height_mm: float

    @property
    def area_mm2(self) -> float:
        """Leather in it."""
        return self.polygon.area


def offcuts(layout: Layout, hide_id: str) -> tuple[list[Offcut], Polygon | MultiPolygon]:
    """Offcuts and scrap of a hide.

    What remains is the hide less the finished outlines grown by the kerf. The part of it that a disc of the smallest
    useful width can reach (morphological opening) is kept, piece by piece; the rest is scrap. Parts, kerf, offcuts and
    scrap add up to the hide; what falls out of cutouts counts as scrap.

    Parameters
    ----------
    layout : Layout
    hide_id : str

    Returns
    -------
    list of Offcut
        Biggest first; none for a hide that nothing is cut from.
    Polygon or MultiPolygon
        Scrap.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    outlines = [placement.outline for placement in layout.on(hide_id)]
    if not outlines:
        return [], MultiPolygon()
    # a little more than the kerf joins pieces that only a thread of leather would part
    taken = shapely.union_all([outline.buffer(layout.workshop.margins.kerf_mm) for outline in outlines])
    left = areal(hide.outline.difference(taken))
    radius = layout.workshop.smallest_offcut_mm / 2
    opened = areal(left.buffer(-radius).buffer(radius).intersection(left))
    pieces = sorted(_polygons(opened), key=lambda piece: -piece.area)
    found = []
    for number, piece in enumerate(pieces, 1):
        rectangle, width, height = largest_rectangle(piece)
        found.append(Offcut(f"{hide_id}-offcut-{number}", piece, rectangle, width, height))
    inside_cutouts = [cutout for placement in layout.on(hide_id) for cutout in placement.cutouts]
    scrap = shapely.union_all([left.difference(opened), *inside_cutouts])
    return found, areal(scrap)


def largest_rectangle(polygon: Polygon) -> tuple[Polygon, float, float]:
    """The largest rectangle found inside a polygon, along the axes or along its longest direction.

    Returns
    -------
    Polygon
        Wholly inside.
    float, float
        Its longer and shorter side, mm.
    """
    frame = np.asarray(polygon.minimum_rotated_rectangle.exterior.coords)
    tilt = math.degrees(math.atan2(*(frame[1] - frame[0])[::-1])) % 90
    best = None
    for angle in dict.fromkeys((0.0, round(tilt, 3))):
        turned = affinity.rotate(polygon, -angle, origin=(0, 0))
        rectangle = affinity.rotate(_upright_rectangle(turned), angle, origin=(0, 0))
        if best is None or rectangle.area > best.area:
            best = rectangle
    corners = np.asarray(best.exterior.coords)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return best, float(sides.max()), float(sides.min())


def _upright_rectangle(polygon: Polygon) -> Polygon:
    """Largest upright rectangle of cells that lie inside, each side then pushed out as far as the polygon lets it."""
    x0, y0, x1, y1 = polygon.bounds
    cell = max(x1 - x0, y1 - y0) / RASTER_CELLS
    xs, ys = np.arange(x0, x1, cell), np.arange(y0, y1, cell)
    shapely.prepare(polygon)
    cells = shapely.box(xs[None, :], ys[:, None], xs[None, :] + cell, ys[:, None] + cell)
    inside = shapely.contains(polygon, cells)
    i0, j0, i1, j1 = _largest_block(inside)
    if i1 <= i0 or j1 <= j0:
        spot = polygon.representative_point()
        return box(spot.x, spot.y, spot.x + 1e-6, spot.y + 1e-6)
    sides = [xs[i0], ys[j0], xs[i0] + (i1 - i0) * cell, ys[j0] + (j1 - j0) * cell]
    for step in (cell / 2, cell / 4, cell / 8, cell / 16):
        for side, sign in ((0, -1), (1, -1), (2, 1), (3, 1)):
            while True:
                tried = list(sides)
                tried[side] += sign * step
                if not polygon.contains(box(*tried)):
                    break
                sides = tried
    return box(*sides)


def _largest_block(inside: np.ndarray) -> tuple[int, int, int, int]:
    """Largest all-true block of a raster as (first column, first row, end column, end row), by heights row by row."""
    rows, columns = inside.shape
    height, best, block = np.zeros(columns, int), 0, (0, 0, 0, 0)
    for row in range(rows):
        height = np.where(inside[row], height + 1, 0)
        stack: list[tuple[int, int]] = []
        for column in range(columns + 1):
            now, start = (height[column] if column < columns else 0), column
            while stack and stack[-1][1] >= now:
                start, tall = stack.pop()
                if tall * (column - start) > best:
                    best, block = tall * (column - start), (start, row - tall + 1, column, row + 1)
            stack.append((start, int(now)))
    return block


def _polygons(geometry) -> list[Polygon]:
    return [g for g in getattr(geometry, "geoms", [geometry]) if not g.is_empty and g.area > LEAST_AREA_MM2]
