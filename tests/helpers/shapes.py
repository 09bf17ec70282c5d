"""Made-up hides, and how far a traced outline lies from the true one."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon


def hide_outline(seed: int, size_mm: float = 1200.0, holes: int = 3) -> Polygon:
    """A made-up hide: a wavy body with legs, bays, a few thin spikes, pointed or blunt, and holes of 8 to 40 mm."""
    chance, blunt = np.random.default_rng(seed), np.random.default_rng([seed, 1])
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    radius = np.ones_like(angle)
    for wave in range(2, 9):
        radius += chance.normal(0, 0.12 / wave) * np.cos(wave * angle + chance.uniform(0, 6.3))
    for leg in (0.7, 2.4, 3.8, 5.5):
        radius += chance.uniform(0.15, 0.35) * np.exp(-(((angle - leg - chance.normal(0, 0.1)) / 0.16) ** 2))
    body = Polygon(np.c_[radius * np.cos(angle) * 1.25, radius * np.sin(angle)])
    body = affinity.scale(body, *(2 * [size_mm / (body.bounds[2] - body.bounds[0])]), origin=(0, 0))
    start = chance.uniform(0, 1)
    for number in range(3):
        # Apart from one another: a bay across the root of a spike would leave a crumb of leather.
        at = start + number / 3 + chance.uniform(-0.05, 0.05)
        wide, deep = size_mm * chance.uniform(0.008, 0.015), size_mm * chance.uniform(0.03, 0.06)
        for place, depth in ((at % 1, deep), ((at + 0.17) % 1, -deep)):
            wedge = _wedge(body, place, wide, depth, blunt.choice([0.0, blunt.uniform(1, 8)]))
            changed = body.union(wedge) if depth > 0 else body.difference(wedge)
            # Nothing may hang by a thread.
            if isinstance(changed, Polygon) and isinstance(changed.buffer(-3), Polygon):
                body = changed
    for _ in range(holes):
        r = chance.uniform(0, 0.28) * size_mm
        turn = chance.uniform(0, 6.3)
        hole = affinity.scale(
            Point(r * math.cos(turn), 0.7 * r * math.sin(turn)).buffer(chance.uniform(4, 20)), 1, chance.uniform(0.6, 1)
        )
        body = body.difference(hole)
    body = max(shapely.get_parts(body), key=lambda part: part.area)
    return Polygon(body.exterior, body.interiors)


def tattered(outline: Polygon, seed: int, rough_mm: float, slits: int) -> Polygon:
    """The outline with an edge torn by so much (standard deviation) and with slits 15 to 70 mm deep that narrow to a
    point."""
    chance = np.random.default_rng([seed, 2])
    ring = shapely.segmentize(outline.exterior, 2.0)
    points = np.asarray(ring.coords)[:-1]
    along = np.fft.rfftfreq(len(points), 2.0)
    # tears of some 8 mm and waves of some 40 mm, half of each
    size = np.exp(-((along * 8) ** 2)) * 8**0.5 + np.exp(-((along * 40) ** 2)) * 40**0.5
    noise = np.fft.irfft(np.fft.rfft(chance.standard_normal(len(points))) * size, len(points))
    way = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    out = np.c_[way[:, 1], -way[:, 0]] / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    torn = Polygon(points + out * (rough_mm * noise / max(noise.std(), 1e-9))[:, None], outline.interiors).buffer(0)
    body = max(shapely.get_parts(torn), key=lambda part: part.area)
    for _ in range(slits):
        slit = _wedge(body, chance.uniform(0, 1), chance.uniform(1.2, 3), -chance.uniform(15, 70), 0.0)
        cut = body.difference(slit)
        if isinstance(cut, Polygon) and isinstance(cut.buffer(-3), Polygon):
            body = cut
    return Polygon(body.exterior, [ring for ring in body.interiors if Polygon(ring).area > 12])


def _wedge(body: Polygon, at: float, wide: float, deep: float, blunt: float) -> Polygon:
    """A thin wedge that points out of the body at a share of its edge, or into it if ``deep`` is negative, and ends
    ``blunt`` mm wide."""
    place = np.array(body.exterior.interpolate(at, normalized=True).coords[0])
    out = place / np.hypot(*place)
    side, back = np.array([-out[1], out[0]]), out * wide * np.sign(deep)
    end = place + out * deep
    corners = [place + side * wide - back, place - side * wide - back, end - side * blunt / 2, end + side * blunt / 2]
    return Polygon(corners if blunt else corners[:3])


def lay_upon(traced: Polygon, truth: Polygon) -> Polygon:
    """The traced outline turned and moved onto the truth as well as it fits (iterated closest points, no scaling)."""
    points = np.asarray(shapely.segmentize(traced.exterior, truth.length / 600).coords)[:-1]
    ring = truth.exterior
    target = np.array(
        [point.coords[0] for point in shapely.line_interpolate_point(ring, np.linspace(0, 1, 900), normalized=True)]
    )
    from scipy.spatial import cKDTree

    tree = cKDTree(target)
    start = points - points.mean(axis=0) + target.mean(axis=0)
    corners = shapely.get_coordinates(ring)
    sides = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))

    def nearest(moved):
        """The places of the true edge that are nearest to some points."""
        side = sides.nearest(shapely.points(moved))
        begin, way = corners[side], np.diff(corners, axis=0)[side]
        share = np.clip(((moved - begin) * way).sum(axis=1) / (way**2).sum(axis=1), 0, 1)
        return begin + share[:, None] * way

    def fit(moved, rounds):
        for step in range(rounds):
            near = target[tree.query(moved)[1]] if step < 12 else nearest(moved)
            a, b = moved - moved.mean(axis=0), near - near.mean(axis=0)
            turn = math.atan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
            moved = turned(a, turn) + near.mean(axis=0)
        return moved, tree.query(moved)[0].mean()

    middle = target.mean(axis=0)
    trials = [fit(turned(start - middle, turn) + middle, 8) for turn in np.linspace(0, 2 * np.pi, 24, endpoint=False)]
    moved, _ = fit(min(trials, key=lambda one: one[1])[0], 32)
    a, b = points - points.mean(axis=0), moved - moved.mean(axis=0)
    turn = math.atan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return shapely.transform(traced, lambda p: turned(p - points.mean(axis=0), turn) + moved.mean(axis=0))


def distances_mm(first: Polygon, second: Polygon) -> np.ndarray:
    """Distances of two outer edges, every 2 mm along the first to the second and back."""
    rings = [shapely.segmentize(shape.exterior, 2.0) for shape in (first, second)]
    there = shapely.distance(shapely.points(shapely.get_coordinates(rings[0])), rings[1])
    back = shapely.distance(shapely.points(shapely.get_coordinates(rings[1])), rings[0])
    return np.concatenate([there, back])


def hausdorff_mm(first: Polygon, second: Polygon) -> float:
    """Greatest distance between two outer edges."""
    return float(distances_mm(first, second).max())


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    """(n, 2) points turned about the origin, radians."""
    return points @ np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
