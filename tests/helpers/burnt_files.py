"""Files to burn as an independent reader sees them, and what is burnt as plain lines."""

import types
from itertools import pairwise

import svgelements
from shapely.geometry import LineString

from nesting.laser.kerf import burn_paths
from nesting.model import OPERATIONS


def read(path):
    """(group, line in bed coordinates, y up, number of points) of every path of an SVG, read by svgelements."""
    document = svgelements.SVG.parse(str(path), ppi=25.4)
    high = float(document.viewbox.height)
    found = []
    for group in document:
        if isinstance(group, svgelements.Group) and group.id in OPERATIONS:
            for shape in group.select(lambda e: isinstance(e, svgelements.Shape)):
                points = [(p.real, high - p.imag) for p in along(svgelements.Path(shape))]
                found.append((group.id, LineString(points), _count(shape)))
    return found


def along(path):
    """Points of a path in fine chords: the longer a curve, the more."""
    points = []
    for segment in path:
        if isinstance(segment, svgelements.Move):
            points.append(complex(*segment.end))
            continue
        straight = isinstance(segment, (svgelements.Line, svgelements.Close))
        if straight and (segment.start is None or segment.end is None or segment.start == segment.end):
            continue
        chords = 1 if straight else 24 if abs(complex(*segment.end) - complex(*segment.start)) < 2 else 400
        points += [complex(*segment.point(n / chords)) for n in range(1, chords + 1)]
    return [points[0], *(after for before, after in pairwise(points) if abs(after - before) > 1e-12)]


def _count(shape):
    """Points that a program would hold for a shape: the ends of its stretches and the handles of its cubics."""
    if isinstance(shape, svgelements.Circle):
        return 1
    size = {svgelements.Move: 1, svgelements.Line: 1, svgelements.Arc: 1, svgelements.CubicBezier: 3}
    return sum(size.get(type(segment), 0) for segment in shape)


def burnt(placement, kerf, *limits):
    """What `burn_paths` gives, as polylines."""
    paths = burn_paths(placement, kerf, *limits)
    lines = {name: [curve.flattened(5e-4) for curve in getattr(paths, name)] for name in OPERATIONS}
    return types.SimpleNamespace(warnings=paths.warnings, **lines)
