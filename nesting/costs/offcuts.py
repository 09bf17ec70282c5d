"""What remains of a hide after cutting: offcuts worth keeping, and scrap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.ops import split

from ..geometry import Floats, areal, polygons, wide_enough
from ..laser.load import stages_of
from ..laser.stages import cut_off_at
from ..leather.knife import cut_up
from ..model import Hide, Layout
from .limits import DEFAULT, CostLimits


@dataclass(frozen=True)
class Offcut:
    """Leather worth keeping, with the largest rectangle found inside it: ``width_mm`` is its longer side."""

    id: str
    polygon: Polygon
    rectangle: Polygon
    width_mm: float
    height_mm: float

    @property
    def area_mm2(self) -> float:
        """Leather in it."""
        return self.polygon.area


Remains = tuple[list[Offcut], Polygon | MultiPolygon]
"""Offcuts, the biggest first, and scrap."""


def offcuts(layout: Layout, hide_id: str, limits: CostLimits = DEFAULT) -> Remains:
    """Offcuts and scrap of a hide.

    What remains is the hide less the finished outlines grown by the kerf, cut along the knife lines, and where leather
    is cut off between the stages of what is fed through. What a disc of the
    smallest useful width can reach of it (morphological opening) is kept, each stretch of leather by itself, with the
    flaws in it, where a rectangle no narrower than that lies in it; the rest is scrap, and so are what falls out of
    cutouts, and parts lost. Parts less their cutouts, kerf around them, offcuts and scrap add up to the hide.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    limits : CostLimits, optional

    Returns
    -------
    list of Offcut
        Biggest first; none for a hide that nothing is cut from.
    Polygon or MultiPolygon
        Scrap; empty for a hide that nothing is cut from.

    Notes
    -----
    Opening: erosion, then dilation by the same disc. Serra, Image Analysis and Mathematical Morphology (1982).
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    lost = [part for part in layout.lost if part.hide == hide_id]
    placements = [*layout.on(hide_id), *lost]
    if not placements:
        return [], MultiPolygon()
    cut = shapely.union_all([placement.outline.buffer(layout.workshop.margins.kerf_mm) for placement in placements])
    left = areal(hide.outline.difference(cut))
    smallest = layout.workshop.smallest_offcut_mm
    bits = _cut_off(layout, hide, cut_up(hide, layout.cuts, out=layout.cut_out(hide_id)))
    wide = [area for apart in bits for area in wide_enough(left.intersection(apart), smallest)]
    wide.sort(key=lambda area: -area.area)
    # a round bit that only a disc can reach has no useful rectangle in it
    framed = [(area, *largest_rectangle(area, limits, smallest)) for area in wide]
    framed = [frame for frame in framed if frame[3] >= smallest]
    kept = [area for area, *_ in framed]
    found = [Offcut(f"{hide_id}-offcut-{number}", *frame) for number, frame in enumerate(framed, 1)]
    scrap = left.difference(shapely.union_all(kept))
    fallen = [cutout for placement in placements for cutout in placement.cutouts]
    fallen += [part.outline for part in lost]
    return found, areal(shapely.union_all([scrap, *fallen]) if fallen else scrap)


def _cut_off(layout: Layout, hide: Hide, bits: list[Polygon]) -> list[Polygon]:
    """Bits of leather, parted where they are cut off between stages."""
    machine = layout.workshop.machine
    for panel, made in stages_of(layout, hide).values() if hide.id in layout.settings else ():
        for stage, pose in made:
            line = cut_off_at(stage, pose, panel, machine)
            if line is not None:
                bits = [
                    part
                    for bit in bits
                    for part in (polygons(split(bit, line)) if 2 * bit.intersection(panel).area > bit.area else [bit])
                ]
    return bits


def largest_rectangle(
    polygon: Polygon, limits: CostLimits = DEFAULT, least_mm: float = 0.0
) -> tuple[Polygon, float, float]:
    """The largest rectangle found inside a polygon, of those along the axes, its smallest frame and every few degrees.

    At each angle the largest block of raster cells inside is looked for; the best are grown and moved until no small
    step of their sides makes them larger.

    Parameters
    ----------
    polygon : Polygon
    limits : CostLimits, optional
    least_mm : float, optional
        The shorter side is to be no less than this, where such a rectangle is found.

    Returns
    -------
    Polygon
        The rectangle, not outside the polygon anywhere.
    float, float
        Its longer and shorter side, mm.
    """
    best = _largest_rectangle(polygon, limits, 0.0)
    return _largest_rectangle(polygon, limits, least_mm) if best[2] < least_mm else best


def _largest_rectangle(polygon: Polygon, limits: CostLimits, least_mm: float) -> tuple[Polygon, float, float]:
    frame = shapely.get_coordinates(polygon.minimum_rotated_rectangle)
    tilt = math.degrees(math.atan2(*(frame[1] - frame[0])[::-1])) % 90
    starts = []
    for angle in (0.0, tilt, *np.arange(limits.turn_step_deg, 90.0, limits.turn_step_deg).tolist()):
        turned = affinity.rotate(polygon, -angle, origin=(0, 0))
        shapely.prepare(turned)
        sides, cell = _in_circle(turned) if least_mm else _largest_cells(turned, limits.raster_cells)
        starts.append((sides, cell, angle, turned))
    best, most = Polygon(), 0.0
    tried = starts if least_mm else sorted(starts, key=lambda start: -_area(start[0]))[: limits.most_grown]
    for sides, cell, angle, turned in tried:
        # from a square that is larger than a cell of a raster on, to steps as fine
        finest = limits.finest_step_share / (limits.raster_cells if least_mm else 1)
        grown = _grow(turned, sides, cell, finest, least_mm)
        if (worth := float(_worth(grown, least_mm))) > most:
            best, most = affinity.rotate(shapely.box(*grown), angle, origin=(0, 0)), worth
    shrink = 1e-12
    while not polygon.covers(best) and shrink < 1:
        # Turning it back may move a corner out by a rounding error.
        best, shrink = affinity.scale(best, 1 - shrink, 1 - shrink), 10 * shrink
    sides = np.hypot(*np.diff(shapely.get_coordinates(best)[:3], axis=0).T)
    return best, float(sides.max()), float(sides.min())


def _worth(sides: Floats, least_mm: float) -> Floats:
    """The area of rectangles; of those narrower than the least, far less by how much they are."""
    shorter = np.minimum(sides[..., 2] - sides[..., 0], sides[..., 3] - sides[..., 1])
    if not least_mm:
        return _area(sides)
    return np.where(shorter >= least_mm, 1 + _area(sides), np.maximum(shorter, 0.0) / least_mm)


def _area(sides: Floats) -> Floats:
    return (sides[..., 2] - sides[..., 0]) * (sides[..., 3] - sides[..., 1])


def _largest_cells(polygon: Polygon, count: int) -> tuple[Floats, Floats]:
    """Left, low, right and high side of the largest upright block of cells inside, and the size of a cell."""
    x0, y0, x1, y1 = polygon.bounds
    xs, ys = np.linspace(x0, x1, count + 1), np.linspace(y0, y1, count + 1)
    cells = shapely.box(xs[None, :-1], ys[:-1, None], xs[None, 1:], ys[1:, None])
    left, low, right, high = _largest_block(shapely.covers(polygon, cells))
    cell = np.array([xs[1] - x0, ys[1] - y0])
    if right > left:
        return np.array([xs[left], ys[low], xs[right], ys[high]]), cell
    # Not one cell is inside: the polygon is thin and slanting.
    return _in_circle(polygon)


def _in_circle(polygon: Polygon) -> tuple[Floats, Floats]:
    """A square in the largest circle inside, its half side 1/sqrt(2) of the radius or less, and that as a step."""
    x0, y0, x1, y1 = polygon.bounds
    circle = shapely.maximum_inscribed_circle(polygon, tolerance=min(x1 - x0, y1 - y0) / 2400)
    reach = 0.7 * circle.length
    return np.tile(circle.coords[0], 2) + reach * np.array([-1, -1, 1, 1]), np.array([reach, reach])


def _largest_block(inside: npt.NDArray[np.bool_]) -> tuple[int, int, int, int]:
    """First column, first row, end column and end row of the largest all-true block of a raster."""
    heights = np.zeros(inside.shape, int)
    for row, cells in enumerate(inside):
        heights[row] = np.where(cells, heights[row - 1] + 1, 0)
    most, block, lowest = 0, (0, 0, 0, 0), heights
    for width in range(1, inside.shape[1] + 1):
        # The lowest of as many neighbouring columns of true cells as the block is wide.
        lowest = heights if width == 1 else np.minimum(lowest[:, :-1], heights[:, width - 1 :])
        tall = int(lowest.max())
        if tall * width > most:
            row, column = (int(index) for index in np.unravel_index(np.argmax(lowest), lowest.shape))
            most, block = tall * width, (column, row - tall + 1, column + width, row + 1)
    return block


_STEPS = np.stack(np.meshgrid(*[(-1, 0, 1)] * 4), axis=-1).reshape(-1, 4)
"""Every way to move the four sides by a step or not."""


def _grow(polygon: Polygon, sides: Floats, cell: Floats, finest_share: float, least_mm: float) -> Floats:
    """Move the sides of a rectangle, ever more finely, as long as it grows and stays inside."""
    step = np.tile(cell, 2)
    while step[0] >= finest_share * cell[0]:
        tried = sides + _STEPS * step
        tried = tried[(tried[:, 2] > tried[:, 0]) & (tried[:, 3] > tried[:, 1])]
        tried = tried[_worth(tried, least_mm) > _worth(sides, least_mm) * (1 + 1e-9)]
        fits = tried[shapely.covers(polygon, shapely.box(*tried.T))]
        if len(fits):
            sides = fits[np.argmax(_worth(fits, least_mm))]
        else:
            step = step / 2
    return sides
