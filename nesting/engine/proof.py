"""Whether a layout is sound, worked out with shapely alone and nothing of the search."""

from __future__ import annotations

import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .limits import TRUE_MM
from .problem import Pose, Problem, Solution


def overlaps(problem: Problem, solution: Solution, tolerance_mm: float = TRUE_MM) -> list[tuple[int, int]]:
    """Pairs of items that overlap by more than a tolerance, and (item, -1) for items that leave what their container
    allows them.

    Empty when the layout is sound.
    """
    found, placed = [], {}
    for number, pose in enumerate(solution.poses):
        if pose is None:
            continue
        shape, container = problem.shapes[problem.items[number].shape], problem.containers[pose.container]

        def lay(geometry: BaseGeometry, pose: Pose = pose) -> BaseGeometry:
            return translate(rotate(geometry, pose.angle_deg, origin=(0, 0)), pose.x, pose.y).buffer(
                -tolerance_mm, join_style="mitre"
            )

        placed[number] = pose.container, lay(Polygon(shape.polygon.exterior))
        areas = (
            [(shape.polygon, frozenset())] if not shape.areas else [(area.polygon, area.avoids) for area in shape.areas]
        )
        for polygon, avoids in areas:
            forbidden = shapely.union_all([o.polygon for o in container.obstacles if o.kind in avoids])
            if not container.region.difference(forbidden).covers(lay(polygon)):
                found.append((number, -1))
    numbers, polygons = list(placed), [polygon for _, polygon in placed.values()]
    for a, b in shapely.STRtree(polygons).query(polygons, predicate="intersects").T:
        if a < b and placed[numbers[a]][0] == placed[numbers[b]][0]:
            found.append((numbers[a], numbers[b]))
    return found
