"""Exact penetration depth of shapes that keep to fixed angles, from tabled no-fit polygons.

The no-fit polygon of s and t is the Minkowski sum of s and the mirrored t: while the place of t relative to s lies in
it, they overlap, and the distance to its border is the shortest way to part them.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache

import numpy as np
import pyclipper
import shapely
from shapely.geometry import Polygon

from .compiled import FROM_PYTHON, kernel
from .fields import clearance_field
from .limits import LIMITS, SearchLimits

UNITS = 2**28
"""pyclipper counts in whole numbers, below 2**62 where they are multiplied: this many to the biggest length of a
pair."""


def no_fit_polygon(still: Polygon, moving: Polygon):
    """Places of ``moving`` (of its origin) at which it overlaps ``still``, as the closed region's shapely geometry.

    Parameters
    ----------
    still, moving : Polygon
        Outer rings count, holes do not.

    Returns
    -------
    Polygon or MultiPolygon
        The Minkowski sum of ``still`` and the mirrored ``moving``. Its holes are places where ``moving`` fits into a
        bay of ``still``.
    """
    a = np.asarray(still.exterior.coords)[:-1]
    b = -np.asarray(moving.exterior.coords)[:-1]
    scale = UNITS / max(np.ptp(a), np.ptp(b))

    def whole(xy):
        return np.rint(xy * scale).astype(np.int64).tolist()

    rings = pyclipper.MinkowskiSum(whole(b), whole(a), True)
    sides = {True: [], False: []}
    for ring in rings:
        sides[pyclipper.Orientation(ring)].append(shapely.make_valid(Polygon(np.array(ring) / scale)))
    # the sum of the borders, whose rings may touch themselves, so holes are looked for only now
    covered = shapely.union_all(sides[True]).difference(shapely.union_all(sides[False]))
    polygons = [g for g in getattr(covered, "geoms", [covered]) if g.geom_type == "Polygon"]
    holes = [Polygon(ring) for polygon in polygons for ring in polygon.interiors]
    filled = shapely.union_all([Polygon(polygon.exterior) for polygon in polygons])
    free = [hole for hole in holes if _is_free(hole, still, moving, 4 / scale)]
    return filled.difference(shapely.union_all(free)) if free else filled


def _is_free(hole: Polygon, still: Polygon, moving: Polygon, least_mm: float) -> bool:
    """Whether a hole in the sum of the borders is a free place, not one where one outline lies inside the other."""
    if hole.buffer(-least_mm).is_empty:
        return False
    spot = hole.representative_point()
    moved = shapely.transform(moving, lambda xy: xy + (spot.x, spot.y))
    return still.intersection(moved).area < 1e-6 * min(still.area, moving.area)


def contact_tables(
    outlines: list[Polygon],
    angles: list[np.ndarray],
    fixed: list[bool],
    slack_mm: float = 0.0,
    limits: SearchLimits = LIMITS,
) -> dict[str, np.ndarray]:
    """Tables for every pair of shapes whose angles are all fixed.

    Parameters
    ----------
    outlines : list of Polygon
        Shapes in their own frames.
    angles : list of (k, 2) arrays
        Allowed angles of each, radians.
    fixed : list of bool
        Whether a shape's angles are all fixed.
    slack_mm : float
        How deep two shapes may overlap and still count as clear of each other.
    limits : SearchLimits

    Returns
    -------
    dict
        Arrays by the names World gives them; ``table`` is indexed by two rows of the angle list and is -1 where
        there is none. A table looked up the other way round is read at the mirrored place.
    """
    if slack_mm > 0.0:
        outlines = [outline.buffer(-slack_mm / 2, join_style="mitre") for outline in outlines]
    starts = np.cumsum([0] + [len(a) for a in angles])
    table = np.full((starts[-1], starts[-1]), -1, np.int32)
    values, nears, edges, corners, links, meta, grid = [], [], [], [], [], [], []
    known: dict[tuple, int] = {}
    node_count = edge_count = 0
    tabled = [shape for shape in range(len(outlines)) if fixed[shape]]
    for s, t in itertools.combinations_with_replacement(tabled, 2):
        for i in range(len(angles[s])):
            for j in range(len(angles[t])):
                turn = (angles[t][j, 0] - angles[s][i, 0]) % (2 * math.pi)
                key = (s, t, round(math.degrees(turn), 6) % 360)
                if key not in known:
                    turned = _turned(outlines[t], turn)
                    rows, bends, ends, field, near, place = _table(outlines[s], turned, limits)
                    known[key] = len(meta)
                    meta.append((node_count, field.shape[1], field.shape[0], edge_count))
                    grid.append(place)
                    values.append(field.ravel())
                    nears.append(near.ravel())
                    edges.append(rows)
                    corners.append(bends)
                    links.append(ends)
                    node_count += field.size
                    edge_count += len(rows)
                table[starts[s] + i, starts[t] + j] = known[key]
    return {
        "table": table,
        "table_meta": np.array(meta, np.int64).reshape(-1, 4),
        "table_grid": np.array(grid, float).reshape(-1, 3),
        "table_values": np.concatenate(values) if values else np.zeros(0, np.float32),
        "table_near": np.concatenate(nears) if nears else np.zeros(0, np.int32),
        "table_edges": np.concatenate(edges) if edges else np.zeros((0, 4)),
        "table_reflex": np.concatenate(corners) if corners else np.zeros((0, 2), np.bool_),
        "table_links": np.concatenate(links) if links else np.zeros((0, 2), np.int64),
    }


@lru_cache(maxsize=1024)
def _table(still: Polygon, moving: Polygon, limits: SearchLimits) -> tuple:
    """Edges of a no-fit polygon with their corners and links, its clearance field, the nearest edges, and the grid row.

    Kept, since short searches ask for the same shapes again and again.
    """
    rows, bends, ends = _ring_edges(no_fit_polygon(still, moving).buffer(limits.table_apart_mm, join_style="mitre"))
    x0, y0 = rows[:, :2].min(axis=0)
    x1, y1 = rows[:, :2].max(axis=0)
    cell = max(x1 - x0, y1 - y0) / limits.table_nodes
    x0, y0 = x0 - 1.5 * cell, y0 - 1.5 * cell
    nx, ny = int((x1 - x0) / cell) + 3, int((y1 - y0) / cell) + 3
    return rows, bends, ends, *clearance_field(rows, x0, y0, cell, nx, ny), (x0, y0, 1 / cell)


def _turned(polygon: Polygon, angle: float) -> Polygon:
    cos, sin = exact_trig(angle)
    return shapely.transform(polygon, lambda p: p @ np.array([[cos, sin], [-sin, cos]]))


def exact_trig(angle: float) -> tuple[float, float]:
    """Cosine and sine, exact at right angles."""
    cos, sin = math.cos(angle), math.sin(angle)
    return (round(cos), round(sin)) if min(abs(cos), abs(sin)) < 1e-9 else (cos, sin)


def _ring_edges(geometry) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges with the inside on their left; for both ends of each, whether the corner is reflex and the edge beyond
    it."""
    rows, bends, links, count = [], [], [], 0
    for polygon in getattr(geometry, "geoms", [geometry]):
        for n, ring in enumerate((polygon.exterior, *polygon.interiors)):
            xy = np.asarray(ring.coords)[:-1]
            if ring.is_ccw == (n > 0):
                xy = xy[::-1]
            ahead = np.roll(xy, -1, axis=0)
            step = ahead - xy
            before = np.roll(step, 1, axis=0)
            reflex = before[:, 0] * step[:, 1] - before[:, 1] * step[:, 0] < 0
            rows.append(np.hstack([xy, ahead]))
            bends.append(np.column_stack([reflex, np.roll(reflex, -1)]))
            here = np.arange(len(xy))
            links.append(count + np.column_stack([np.roll(here, 1), np.roll(here, -1)]))
            count += len(xy)
    return np.concatenate(rows), np.concatenate(bends), np.concatenate(links)


@kernel(**FROM_PYTHON)
def table_depth(world, k, x, y):
    """Depth of a relative place in the no-fit polygon of table ``k``, mm; 0 outside."""
    scale = world.table_grid[k, 2]
    return depth_at(world, k, (x - world.table_grid[k, 0]) * scale, (y - world.table_grid[k, 1]) * scale)


@kernel()
def depth_at(world, k, fx, fy):
    """The same at a place in cells of the table's grid."""
    nx, ny = world.table_meta[k, 1], world.table_meta[k, 2]
    if fx < 0.0 or fy < 0.0 or fx >= nx - 1 or fy >= ny - 1:
        return 0.0
    scale, offset = world.table_grid[k, 2], world.table_meta[k, 0]
    x, y = fx / scale + world.table_grid[k, 0], fy / scale + world.table_grid[k, 1]
    i, j = int(fx), int(fy)
    fx -= i
    fy -= j
    n = offset + j * nx + i
    values = world.table_values
    value = (values[n] * (1 - fx) + values[n + 1] * fx) * (1 - fy) + (
        values[n + nx] * (1 - fx) + values[n + nx + 1] * fx
    ) * fy
    if value * scale < -1.0:
        return 0.0
    if value * scale > 1.5:
        return value
    first = world.table_meta[k, 3]
    best, inside, best_edge, best_end = np.inf, False, -1, -1
    for corner in range(4):
        e = world.table_near[n + (corner & 1) + (nx if corner > 1 else 0)]
        if e >= 0 and e != best_edge:
            d, within, end = _edge_side(world.table_edges[first + e], world.table_reflex[first + e], x, y)
            if d < best:
                best, inside, best_edge, best_end = d, within, e, end
    # a short edge next to the nearest may be nearer than any that a node knows of
    for _ in range(4):
        if best_end < 0:
            break
        e = world.table_links[first + best_edge, best_end]
        d, within, end = _edge_side(world.table_edges[first + e], world.table_reflex[first + e], x, y)
        if d >= best:
            break
        best, inside, best_edge, best_end = d, within, e, end
    return best if inside else 0.0


@kernel()
def _edge_side(edge, reflex, x, y):
    """Distance to an edge, whether the inside of the ring is on this side of it, and which end is nearest (-1:
    neither)."""
    ax, ay, dx, dy = edge[0], edge[1], edge[2] - edge[0], edge[3] - edge[1]
    along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy + 1e-300)
    if along <= 0.0:
        return math.hypot(x - ax, y - ay), reflex[0], 0
    if along >= 1.0:
        return math.hypot(x - edge[2], y - edge[3]), reflex[1], 1
    cross = dx * (y - ay) - dy * (x - ax)
    return abs(cross) / math.sqrt(dx * dx + dy * dy), cross > 0.0, -1
