"""A problem turned into flat arrays for the kernels: outlines, probe points, clearance fields."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from .arrays import Bools, Fields, Floats, Grid, Ints
from .contact import Tables
from .fields import clearance_field, inscribed_circles
from .handed import Handed
from .limits import COMPILED, LIMITS, SearchLimits
from .plain import outer, plainer, tolerance_of
from .problem import Problem, Shape

Drawn = TypeVar("Drawn", bound=BaseGeometry)


@dataclass(frozen=True, eq=False)
class World(Handed):
    """Arrays the kernels read. Offsets ``*_off`` have one entry more than things, as in a compressed row matrix.

    Shapes are in their own frame, centred in the middle of their bounding circle. Probes are points with a radius:
    inscribed circles and border points of radius 0, the biggest circle first, the others by their reach. Grids hold
    clearance (see fields.py).
    """

    radius: Floats  # (shapes,) bounding circle, mm
    weight: Floats  # (shapes,) how much a millimetre of its overlap counts
    inner: Floats  # (shapes, 3) biggest inscribed circle
    area: Floats  # (shapes,) mm2
    support: Floats  # (shapes, directions) how far a shape reaches at most, from -pi counter-clockwise
    probe_off: Ints
    probes: Floats  # (n, 4) x, y, radius, reach from the centre
    circle_off: Ints
    circles: Floats  # (n, 3) the biggest of the inscribed circles
    edge_off: Ints
    edges: Floats  # (n, 4)
    hull_off: Ints
    hull: Floats  # (n, 2)
    angle_off: Ints
    angles: Floats  # (n, 2) radians from the container's axis
    part_off: Ints  # areas of each shape
    part_mask: Ints  # (areas,) which mask it must respect
    part_probe_off: Ints
    part_probes: Floats
    part_edge_off: Ints
    part_edges: Floats
    values: Fields  # float32, all grids one after another
    shape_meta: Ints  # (shapes, 3)
    shape_grid: Floats  # (shapes, 3)
    wall_meta: Ints  # (containers, masks, 3)
    wall_grid: Floats  # (containers, masks, 3)
    wall_edge_off: Ints  # (containers, masks, 2) first and last edge
    wall_edges: Floats
    wall_plane_off: Ints  # (containers, masks, 2) half-planes of convex walls; none where not convex
    wall_planes: Floats  # (n, 3) outward normal and its offset
    axis: Floats  # (containers,) radians
    away: Floats  # (containers, 2) unit vector pointing away from the packed end
    span: Floats  # (containers, 4) least and greatest coordinate along away, and along its left normal
    room: Floats  # (containers,) area, mm2
    site: Ints  # (containers,)
    table: npt.NDArray[np.int32]  # contact tables of shapes that keep to fixed angles, see contact.py
    table_meta: Ints
    table_grid: Floats
    table_values: Fields
    table_near: npt.NDArray[np.int32]
    table_edges: Floats
    table_reflex: Bools
    table_links: Ints
    item_shape: Ints
    item_group: Ints  # -1 for none
    item_open: Bools  # (items, containers) bool


def build_world(
    problem: Problem, slack: float = 0.0, limits: SearchLimits = LIMITS
) -> tuple[World, Floats, list[Polygon], Tables]:
    """Lay a problem out in arrays; contact tables let shapes overlap by ``slack`` times the smallest one's radius.

    Returns
    -------
    World
        Without contact tables so far.
    (shapes, 2) array
        Centre of each shape in its given coordinates; a pose of the engine puts this point at (x, y).
    list of Polygon
        Outline of each shape from its centre.
    Tables
        Contact tables to be made.
    """
    masks = masks_of(problem)
    shapes = [_shape_arrays(shape, problem.tolerance_mm, limits) for shape in problem.shapes]
    values: list[Fields] = []
    shape_meta = np.array([_append(values, shape["field"]) for shape in shapes], np.int64)
    walls = _walls(problem, masks, values, limits)
    copies = np.bincount([item.shape for item in problem.items], minlength=len(shapes)).tolist()
    smallest = min((shape["radius"] for shape in shapes), default=0.0)
    outlines, turns = [shape["outline"] for shape in shapes], [shape["angles"] for shape in shapes]
    tables = Tables(outlines, turns, copies, slack * smallest, limits)
    containers = problem.containers
    away = np.array(
        [[-math.cos(math.radians(c.towards_deg)), -math.sin(math.radians(c.towards_deg))] for c in containers]
    )
    away[np.abs(away) < 1e-12] = 0.0
    sites = {site: number for number, site in enumerate(dict.fromkeys(c.site for c in containers))}
    groups = {
        group: number
        for number, group in enumerate(dict.fromkeys(i.group for i in problem.items if i.group is not None))
    }
    every = set(range(len(containers)))
    item_open = np.zeros((len(problem.items), len(containers)), np.bool_)
    for number, item in enumerate(problem.items):
        item_open[number, sorted(every if item.containers is None else item.containers)] = True

    def column(key: str) -> Any:
        return np.array([shape[key] for shape in shapes])

    def stack(key: str, width: int) -> tuple[Ints, Floats]:
        parts = [shape[key] for shape in shapes]
        offsets = np.cumsum([0] + [len(part) for part in parts])
        return offsets.astype(np.int64), np.concatenate(parts).reshape(-1, width).astype(float)

    probe_off, probes = stack("probes", 4)
    circle_off, circles = stack("circles", 3)
    edge_off, edges = stack("edges", 4)
    hull_off, hull = stack("hull", 2)
    angle_off, angles = stack("angles", 2)
    parts = [part for shape in shapes for part in shape["parts"]]
    world = World(
        radius=column("radius"),
        inner=np.array([shape["probes"][0, :3] for shape in shapes]),
        weight=column("weight"),
        area=column("area"),
        support=np.array([_support(shape["hull"], limits.reach_directions) for shape in shapes]),
        probe_off=probe_off,
        probes=probes,
        circle_off=circle_off,
        circles=circles,
        edge_off=edge_off,
        edges=edges,
        hull_off=hull_off,
        hull=hull,
        angle_off=angle_off,
        angles=angles,
        part_off=np.cumsum([0] + [len(shape["parts"]) for shape in shapes]).astype(np.int64),
        part_mask=np.array([masks[avoids] for avoids, _, _ in parts], np.int64),
        part_probe_off=np.cumsum([0] + [len(probe) for _, probe, _ in parts]).astype(np.int64),
        part_probes=np.concatenate([probe for _, probe, _ in parts]),
        part_edge_off=np.cumsum([0] + [len(edge) for _, _, edge in parts]).astype(np.int64),
        part_edges=np.concatenate([edge for _, _, edge in parts]),
        values=np.concatenate(values).astype(np.float32),
        shape_meta=shape_meta,
        shape_grid=np.array([shape["grid"] for shape in shapes], float),
        axis=np.radians([c.axis_deg for c in containers]),
        away=away,
        span=np.array([_span(c.region, a) for c, a in zip(containers, away)]),
        room=np.array([c.region.area for c in containers]),
        site=np.array(
            [sites[c.site] if c.site is not None else len(sites) + n for n, c in enumerate(containers)], np.int64
        ),
        item_shape=np.array([item.shape for item in problem.items], np.int64),
        item_group=np.array([-1 if item.group is None else groups[item.group] for item in problem.items], np.int64),
        item_open=item_open,
        **walls,
        **tables.arrays,
    )
    return world, np.array([shape["centre"] for shape in shapes]), outlines, tables


def polygon_edges(geometry: BaseGeometry) -> Floats:
    """All ring segments of a polygon or multipolygon, (n, 4)."""
    rings = [ring for polygon in _polygons(geometry) for ring in (polygon.exterior, *polygon.interiors)]
    rows = []
    for ring in rings:
        xy = np.asarray(ring.coords)[:, :2]
        rows.append(np.hstack([xy[:-1], xy[1:]]))
    return np.concatenate(rows) if rows else np.zeros((0, 4))


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if geometry.is_empty:
        return []
    return [g for g in getattr(geometry, "geoms", [geometry]) if g.geom_type == "Polygon"]


def masks_of(problem: Problem) -> dict[frozenset[int], int]:
    """Every set of obstacle classes that some area avoids, numbered."""
    sets = [frozenset[int]()] + [area.avoids for shape in problem.shapes for area in shape.areas]
    return {avoids: number for number, avoids in enumerate(dict.fromkeys(sets))}


def _append(values: list[Fields], field: Fields) -> tuple[int, int, int]:
    """Put a field behind others; its meta row."""
    offset = sum(len(v) for v in values)
    values.append(field.ravel())
    return offset, field.shape[1], field.shape[0]


def field_of(geometry: BaseGeometry, cell: float) -> tuple[Fields, Grid]:
    """The clearance field of a geometry and its grid row."""
    x0, y0, x1, y1 = geometry.bounds
    x0, y0 = x0 - 2 * cell, y0 - 2 * cell
    nx, ny = int((x1 - x0) / cell) + 4, int((y1 - y0) / cell) + 4
    field, _ = clearance_field(polygon_edges(geometry), x0, y0, cell, nx, ny)
    return field, (x0, y0, 1.0 / cell)


def _probes(geometry: BaseGeometry, field: Fields, grid: Grid, share_of: float, limits: SearchLimits) -> Floats:
    """Inscribed circles and border points of a shape, by how far from the centre they reach: (n, 4)."""
    circles = inscribed_circles(
        field, grid[0], grid[1], 1.0 / grid[2], limits.inscribed_circles, limits.least_circle * math.sqrt(share_of)
    )
    points = []
    for polygon in _polygons(geometry):
        for ring in (polygon.exterior, *polygon.interiors):
            simple = ring.simplify(limits.border_detail * math.sqrt(share_of))
            spaced = simple.segmentize(max(ring.length / limits.border_points, limits.border_step_mm))
            points.append(np.asarray(spaced.coords)[:-1, :2])
    border = np.concatenate(points)
    probes = np.vstack([circles, np.column_stack([border, np.zeros(len(border))])])
    reach = np.hypot(probes[:, 0], probes[:, 1]) + probes[:, 2]
    order = np.argsort(-reach, kind="stable")
    # the biggest circle settles most deep overlaps at once, so it comes first, with a reach that is never passed over
    reach[0] = np.inf
    order = np.concatenate([[0], order[order != 0]])
    return np.column_stack([probes, reach])[order]


@lru_cache(maxsize=512)
def _shape_arrays(shape: Shape, tolerance_mm: float, limits: SearchLimits) -> dict[str, Any]:
    """What a world holds of a shape. Kept, since short searches ask for the same shapes again and again."""
    within = tolerance_of(shape.polygon, tolerance_mm, limits)
    outline = plainer(outer(shape.polygon), within, True, limits)
    assert isinstance(outline, Polygon)
    circle = shapely.minimum_bounding_circle(outline)
    centre = np.array(circle.centroid.coords[0])

    def centred(geometry: Drawn) -> Drawn:
        return shapely.transform(geometry, lambda p: p - centre)

    outline = centred(outline)
    field, grid = _shape_field(outline, limits)
    probes = _probes(outline, field, grid, outline.area, limits)
    areas: list[tuple[frozenset[int], BaseGeometry]] = [(frozenset(), outline)]
    for area in shape.areas:
        if area.avoids and not area.polygon.is_empty:
            whole = area.polygon.symmetric_difference(outer(shape.polygon)).area < 1e-6 * outline.area
            if whole:
                areas[0] = (area.avoids, outline)
            else:
                areas.append((area.avoids, centred(plainer(area.polygon, within, True, limits))))
    parts = []
    for avoids, geometry in areas:
        local = (
            probes if geometry is outline else _probes(geometry, *_shape_field(geometry, limits), geometry.area, limits)
        )
        parts.append((avoids, local, polygon_edges(geometry)))
    hull = outline.convex_hull
    assert isinstance(hull, Polygon)
    return {
        "centre": centre,
        "outline": outline,
        "radius": float(np.hypot(*np.asarray(outline.exterior.coords).T).max()),
        "area": shape.polygon.area,
        "weight": hull.area,
        "probes": probes,
        "circles": probes[np.argsort(-probes[:, 2], kind="stable")][: limits.survey_circles, :3],
        "edges": polygon_edges(outline),
        "hull": np.asarray(hull.exterior.coords)[:-1],
        "angles": np.radians(np.array(shape.angles, float)),
        "parts": parts,
        "field": field,
        "grid": grid,
    }


def _support(hull: Floats, directions: int) -> Floats:
    """Greatest reach of a shape within each of many equal ranges of direction, from -pi on."""
    ends = np.linspace(-np.pi, np.pi, directions + 1)
    reach = (hull @ np.array([np.cos(ends), np.sin(ends)])).max(axis=0)
    # between two directions no point reaches further than at the nearer one, over the cosine of half their angle
    widest: Floats = np.maximum(reach[:-1], reach[1:]) / math.cos(math.pi / directions)
    return widest


def _shape_field(geometry: BaseGeometry, limits: SearchLimits) -> tuple[Fields, Grid]:
    x0, y0, x1, y1 = geometry.bounds
    return field_of(geometry, max(x1 - x0, y1 - y0) / limits.shape_nodes)


def _walls(
    problem: Problem, masks: dict[frozenset[int], int], values: list[Fields], limits: SearchLimits
) -> dict[str, Any]:
    """Clearance fields and exact edges of what each mask leaves of each container; equal ones are shared."""
    count = len(problem.containers)
    meta = np.zeros((count, len(masks), 3), np.int64)
    grid = np.zeros((count, len(masks), 3))
    edge_off = np.zeros((count, len(masks), 2), np.int64)
    plane_off = np.zeros((count, len(masks), 2), np.int64)
    edges, planes, total, plane_count = [], [], 0, 0
    for c, container in enumerate(problem.containers):
        seen = {}
        for avoids, mask in masks.items():
            relevant = tuple(n for n, o in enumerate(container.obstacles) if o.kind in avoids)
            if relevant not in seen:
                obstacles = tuple(container.obstacles[n].polygon for n in relevant)
                rows, field, g, flat = _wall(container.region, obstacles, problem.tolerance_mm, limits)
                seen[relevant] = (
                    _append(values, field),
                    g,
                    (total, total + len(rows)),
                    (plane_count, plane_count + len(flat)),
                )
                edges.append(rows)
                planes.append(flat)
                total += len(rows)
                plane_count += len(flat)
            meta[c, mask], grid[c, mask], edge_off[c, mask], plane_off[c, mask] = seen[relevant]
    return {
        "wall_meta": meta,
        "wall_grid": grid,
        "wall_edge_off": edge_off,
        "wall_edges": np.concatenate(edges),
        "wall_plane_off": plane_off,
        "wall_planes": np.concatenate(planes),
    }


@lru_cache(maxsize=32)
def _wall(
    region: BaseGeometry, obstacles: tuple[BaseGeometry, ...], tolerance_mm: float, limits: SearchLimits
) -> tuple[Floats, Fields, Grid, Floats]:
    """Edges, clearance field, its grid row and half-planes of what obstacles leave of a region. Kept as those of
    shapes are."""
    x0, y0, x1, y1 = region.bounds
    longest = max(x1 - x0, y1 - y0)
    least, most = limits.wall_cells
    finest = max(longest / most, min(limits.wall_cell_mm, longest / least), 1e-6)
    cell = max(math.sqrt((x1 - x0) * (y1 - y0) / limits.wall_nodes), finest)
    left = region.difference(shapely.union_all(obstacles)) if obstacles else region
    left = plainer(left, tolerance_of(region, tolerance_mm, limits), False, limits)
    if len(polygon_edges(left)) == 0:
        left = Polygon([(x0, y0), (x0 + 1e-9, y0), (x0, y0 + 1e-9)])
    return polygon_edges(left), *field_of(left, cell), _half_planes(left)


def is_convex(geometry: BaseGeometry) -> bool:
    """Whether a region is convex and has few sides."""
    hull = geometry.convex_hull
    return (
        isinstance(hull, Polygon)
        and len(hull.exterior.coords) <= COMPILED.most_planes + 1
        and hull.area - geometry.area <= 1e-9 * hull.area
    )


def _half_planes(geometry: BaseGeometry) -> Floats:
    """Outward normals and offsets of a convex region of few sides; none for any other."""
    hull = geometry.convex_hull
    if not (is_convex(geometry) and isinstance(hull, Polygon)):
        return np.zeros((0, 3))
    xy = np.asarray(orient(hull).exterior.coords)
    step = np.diff(xy, axis=0)
    normal = np.column_stack([step[:, 1], -step[:, 0]]) / np.hypot(*step.T)[:, None]
    return np.column_stack([normal, (normal * xy[:-1]).sum(axis=1)])


def _span(region: BaseGeometry, away: Floats) -> tuple[float, float, float, float]:
    xy = shapely.get_coordinates(region)
    along, left = xy @ away, xy @ np.array([-away[1], away[0]])
    return along.min(), along.max(), left.min(), left.max()


def site_orders(world: World, limits: SearchLimits = LIMITS) -> list[Ints]:
    """Orders in which to fill the containers: as given, smallest sites first, biggest first, each site in front
    once."""
    containers = np.arange(len(world.site))
    sites = list(dict.fromkeys(world.site.tolist()))
    room = {site: world.room[world.site == site].sum() for site in sites}
    by_size = sorted(sites, key=room.__getitem__)
    fronts = [[site, *(s for s in by_size if s != site)] for site in sites]
    orders = dict.fromkeys(map(tuple, [sites, by_size, by_size[::-1], *fronts[: limits.most_fronts]]))
    return [np.concatenate([containers[world.site == site] for site in order]) for order in orders]


@lru_cache(maxsize=64)
def profile(region: BaseGeometry, away: tuple[float, float], steps: int) -> tuple[Floats, Floats]:
    """Area of a region up to each of so many distances along ``away``."""
    edges = polygon_edges(shapely.orient_polygons(region))
    (ux, uy), starts, ends = away, edges[:, :2], edges[:, 2:]
    first, last = starts @ (ux, uy), ends @ (ux, uy)
    low, run, rise = np.minimum(first, last), np.abs(last - first), (ends - starts) @ (-uy, ux)
    cuts = np.linspace(low.min(), max(first.max(), last.max()), steps + 1)

    def before(cut: float) -> float:
        # by Green's theorem: the integral of (x - cut) dy along the border before the cut
        beyond = np.maximum(cut - low, 0.0)
        within = np.minimum(beyond, run)
        share = np.divide(within, run, out=(beyond > 0).astype(float), where=run > 0)
        return float(np.sum(rise * share * (within / 2 - beyond)))

    return cuts, np.array([before(cut) for cut in cuts])
