"""Exact penetration depth of shapes that keep to fixed angles, from tabled no-fit polygons.

The no-fit polygon of s and t is the Minkowski sum of s and the mirrored t: while the place of t relative to s lies in
it, they overlap, and the distance to its border is the shortest way to part them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from .arrays import Floats
from .compiled import kernel
from .fields import clearance_field
from .limits import COMPILED, LIMITS, SearchLimits

GRID_MM = 2.0**-20
"""Sums of borders are put together on a grid so fine, about a millionth of a mm, or lines that all but coincide would
leave gaps; rounding is that of no coordinate below 1 km."""


EDGES_A_CELL = COMPILED.edges_a_cell


def no_fit_polygon(still: Polygon, moving: Polygon):
    """Places of ``moving`` (of its origin) at which it overlaps ``still``, as the closed region's shapely geometry.

    The border of a Minkowski sum lies in the reduced convolution: every edge of one outline at the convex corners of
    the other in whose range its direction lies (E. Behar and J.-M. Lien, Fast and robust 2D Minkowski sum using reduced
    convolution, 2011). For outlines that turn little, those are about as many as both have corners.

    Parameters
    ----------
    still, moving : Polygon
        Outer rings count, holes do not.

    Returns
    -------
    Polygon or MultiPolygon
        The Minkowski sum of ``still`` and the mirrored ``moving``, to ``GRID_MM``. Its holes are places where
        ``moving`` fits into a bay of ``still``.
    """
    a, b = _corners(still), -_corners(moving)
    lines = shapely.linestrings(np.concatenate([_convolved(a, b), _convolved(b, a)]))
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines, grid_size=GRID_MM)]))
    whole = shapely.coverage_union_all(faces)
    filled = shapely.union_all([Polygon(g.exterior) for g in shapely.get_parts(whole)])
    # no line of the convolution enters a free place, so each is a face by itself
    wide = faces[~shapely.is_empty(shapely.buffer(faces, -4 * GRID_MM))]
    free = [face for face in wide if _is_free(face, still, moving)]
    return filled.difference(shapely.union_all(free)) if free else filled


def _corners(polygon: Polygon) -> Floats:
    """Corners of the outer ring, counter-clockwise, none twice in a row."""
    ring = np.asarray(orient(polygon).exterior.coords)[:-1, :2]
    return ring[(ring != np.roll(ring, 1, axis=0)).any(axis=1)]


def _convolved(corners: Floats, other: Floats) -> Floats:
    """Edges of the other ring at the convex corners of a ring in whose range of directions they lie: (n, 2, 2)."""
    ahead = np.roll(corners, -1, axis=0) - corners
    behind = np.roll(ahead, 1, axis=0)
    convex = _cross(behind, ahead) > 0
    edges = np.roll(other, -1, axis=0) - other
    into, out = behind[convex, None], ahead[convex, None]
    corner, edge = np.nonzero((_cross(into, edges) >= 0) & (_cross(edges, out) >= 0))
    starts = corners[convex][corner] + other[edge]
    return np.stack([starts, starts + edges[edge]], axis=1)


def _cross(a: Floats, b: Floats) -> Floats:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _is_free(face: Polygon, still: Polygon, moving: Polygon) -> bool:
    """Whether a face between the lines of a convolution is a free place, not one where the shapes overlap, however
    little: spikes overlap by next to nothing."""
    spot = face.representative_point()
    moved = shapely.transform(moving, lambda xy: xy + (spot.x, spot.y))
    return bool(still.disjoint(moved))


class Tables:
    """Tables for every pair of shapes whose angles are all fixed, made a few at a time, the most useful first.

    Where there would be too many, or they would take too long, there are none.

    Parameters
    ----------
    outlines : list of Polygon
        Shapes in their own frames.
    angles : list of (k, 2) arrays
        Allowed angles of each, radians.
    copies : sequence of int
        How many items have each shape.
    slack_mm : float
        How deep two shapes may overlap and still count as clear of each other.
    limits : SearchLimits

    Attributes
    ----------
    arrays : dict
        By the names World gives them; ``table`` is indexed by two rows of the angle list and is -1 where there is none
        (yet). A table looked up the other way round is read at the mirrored place.
    """

    def __init__(
        self,
        outlines: Sequence[Polygon],
        angles: Sequence[Floats],
        copies: Sequence[int],
        slack_mm: float = 0.0,
        limits: SearchLimits = LIMITS,
    ) -> None:
        self._outlines = [o.buffer(-slack_mm / 2, join_style="mitre") for o in outlines] if slack_mm > 0 else outlines
        self._limits = limits
        self._wanted = _wanted(self._outlines, angles, copies, limits)
        self._angles = np.concatenate([rows[:, 0] for rows in angles]) if angles else np.zeros(0)
        rows = len(self._angles)
        self.arrays: dict[str, np.ndarray] = {
            "table": np.full((rows, rows), -1, np.int32),
            "table_meta": np.zeros((0, 5), np.int64),
            "table_grid": np.zeros((0, 3)),
            "table_values": np.zeros(0, np.float32),
            "table_near": np.zeros(0, np.int32),
            "table_edges": np.zeros((0, 4)),
            "table_reflex": np.zeros((0, 2), np.bool_),
            "table_links": np.zeros((0, 2), np.int64),
        }

    @property
    def done(self) -> bool:
        """Whether all are made."""
        return not self._wanted

    def make(self, over: Callable[[], bool] = lambda: False) -> None:
        """Make the next few tables, none when ``over`` says that the search is to end."""
        made: dict[str, list] = {name: [array] for name, array in self.arrays.items() if name != "table"}
        nodes, edges, count = (len(self.arrays[f"table_{name}"]) for name in ("values", "edges", "meta"))
        table, enough = self.arrays["table"].copy(), count + self._limits.tables_a_step
        while self._wanted and count < enough and not over():
            pair = self._wanted.pop()
            for places in pair.turns:
                turn = self._angles[places[0][1]] - self._angles[places[0][0]]
                moving = _turned(self._outlines[pair.moving], turn % (2 * math.pi))
                rows, bends, ends, field, near, place = _table(self._outlines[pair.still], moving, self._limits)
                made["table_meta"].append(np.array([[nodes, field.shape[1], field.shape[0], edges, len(rows)]]))
                made["table_grid"].append(np.array([place]))
                for name, array in zip(
                    ("values", "near", "edges", "reflex", "links"), (field.ravel(), near.ravel(), rows, bends, ends)
                ):
                    made[f"table_{name}"].append(array)
                for i, j in places:
                    table[i, j] = count
                nodes, edges, count = nodes + field.size, edges + len(rows), count + 1
        self.arrays = {"table": table} | {name: np.concatenate(parts) for name, parts in made.items()}


class _Pair(NamedTuple):
    """Two shapes, and where in ``table`` each turn between them goes. All tables of a pair are made, or none."""

    still: int
    moving: int
    turns: list[list[tuple[int, int]]]


def _wanted(
    outlines: Sequence[Polygon], angles: Sequence[Floats], copies: Sequence[int], limits: SearchLimits
) -> list[_Pair]:
    """The pairs of shapes that are to have tables, the most useful last."""
    starts = np.cumsum([0] + [len(rows) for rows in angles])
    fixed = [s for s, rows in enumerate(angles) if copies[s] and (rows[:, 0] == rows[:, 1]).all()]
    corners = [len(outline.exterior.coords) for outline in outlines]
    found: list[tuple[int, _Pair]] = []
    count = work = 0
    for s, t in itertools.combinations_with_replacement(fixed, 2):
        pairs = copies[s] * copies[t] if s != t else copies[s] * (copies[s] - 1) // 2
        if not pairs:
            continue
        turns: dict[float, list[tuple[int, int]]] = {}
        for (i, one), (j, other) in itertools.product(enumerate(angles[s][:, 0]), enumerate(angles[t][:, 0])):
            turn = round(math.degrees((other - one) % (2 * math.pi)), 6) % 360
            turns.setdefault(turn, []).append((starts[s] + i, starts[t] + j))
        count, work = count + len(turns), work + len(turns) * corners[s] * corners[t]
        if count > limits.most_tables or work > limits.most_table_corners:
            return []
        found.append((pairs, _Pair(s, t, list(turns.values()))))
    return [pair for _, pair in sorted(found, key=lambda row: row[0])]


@lru_cache(maxsize=LIMITS.most_tables)
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


@kernel()
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
    first, count = world.table_meta[k, 3], world.table_meta[k, 4]
    best, inside, best_edge, best_end = np.inf, False, -1, -1
    if count > EDGES_A_CELL * (nx + ny):
        # where nodes are farther apart than corners, none of them may know of the nearest edge
        for e in range(first, first + count):
            d, within, _ = _edge_side(world.table_edges[e], world.table_reflex[e], x, y)
            if d < best:
                best, inside = d, within
        return best if inside else 0.0
    for corner in range(4):
        e = world.table_near[n + (corner & 1) + (nx if corner > 1 else 0)]
        if e >= 0 and e != best_edge:
            d, within, end = _edge_side(world.table_edges[first + e], world.table_reflex[first + e], x, y)
            if d < best:
                best, inside, best_edge, best_end = d, within, e, end
    # a short edge next to the nearest may be nearer than any that a node knows of
    while best_end >= 0:
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
