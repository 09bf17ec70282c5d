"""Photos of flat things with thickness whose truth is known: card patterns on a plain ground, a panel on a laser's bed.

A thing is seen from the side as well as from above: its wall is what lies between its outline on the ground and the
same outline as high as it is thick.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import render as made
import shapely
from render import Camera, Scene
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

LEVELS = 5
"""Heights at which a thing is looked at between the ground and its top."""


def looking(centre, extent_mm: float, size, tilt_deg: float, around_deg: float, roll_deg: float, focal: float):
    """From a height above the ground to the homography of that plane, of the camera of ``render.camera``."""
    width, height = size
    tilt, around, roll = map(math.radians, (tilt_deg, around_deg, roll_deg))
    back = np.array([math.sin(tilt) * math.cos(around), math.sin(tilt) * math.sin(around), math.cos(tilt)])
    right = np.cross([0, 1, 0], back)
    right /= np.linalg.norm(right)
    up = np.cross(back, right)
    right, up = right * math.cos(roll) + up * math.sin(roll), up * math.cos(roll) - right * math.sin(roll)
    rotation = np.array([right, -up, -back])
    eye = np.array([*centre, 0]) + back * extent_mm * focal * (1 + 0.5 * math.sin(tilt))
    k = np.array([[focal * width, 0, (width - 1) / 2], [0, focal * width, (height - 1) / 2], [0, 0, 1]])

    def plane(high: float) -> np.ndarray:
        matrix = k @ np.c_[rotation[:, :2], rotation @ (np.array([0, 0, high]) - eye)]
        return matrix / matrix[2, 2]

    return plane


def photograph(
    things,
    *,
    seed: int,
    size: tuple[int, int],
    thick_mm: float,
    colour,
    ground: str = "plain",
    ground_colour=None,
    ground_contrast: float = 0.3,
    reference: str = "a4",
    sheets: int = 1,
    lying=None,
    centre=(0.0, 0.0),
    extent_mm: float = 600.0,
    tilt: float = 10.0,
    focal: float = 0.8,
    distortion: float = 0.0,
    noise: float = 2.5,
    blur: float = 0.8,
    gradient: float = 0.2,
    shadow: float = 0.0,
    contact: float = 0.3,
    wall: float = 0.8,
    painted=None,
    skin: float = 0.0,
) -> Scene:
    """Take a photo of things (polygons with holes, mm) that lie on the ground.

    ``lying`` are corners of sheets, as ``render`` has them, where they are not to be laid beside the things. ``wall``
    is how bright the side of a thing is to its top, ``contact`` how much light it takes from the ground beside it.
    ``painted`` takes the places (h, w, 2) mm and the ground's picture, and paints on it in place. ``skin`` is how much
    of the unevenness of leather the things have.
    """
    chance = np.random.default_rng([31, seed])
    plane = looking(centre, extent_mm, size, tilt, chance.uniform(0, 360), chance.uniform(-6, 6), focal)
    seeing = [Camera(plane(thick_mm * at / (LEVELS - 1)), size, distortion) for at in range(LEVELS)]
    floor = seeing[0]
    mm = floor.floor(np.arange(size[0]), np.arange(size[1]))
    tile = made.floor_tile(ground, int(chance.integers(1000)), ground_contrast)
    if ground_colour is not None:
        tile = tile.astype(np.float32) - tile.mean(axis=(0, 1))
        tile = np.clip(tile * ground_contrast + np.array(ground_colour), 3, 250).astype(np.uint8)
    photo = made._floor(mm, tile, chance)
    if painted is not None:
        painted(mm, photo)
    whole = shapely.union_all(list(things))
    if lying is None:
        around = whole.convex_hull.buffer(5)
        lying = made._references(chance, around, reference, sheets, "beside", floor)
    covers = [made._cover(whole, camera) for camera in seeing]
    solid = np.maximum.reduce(covers)[..., None]
    top = np.minimum(covers[-1][..., None], solid)
    if contact:
        way = chance.uniform(0, 6.3)
        shift = thick_mm * chance.uniform(0.4, 1.6) * np.array([math.cos(way), math.sin(way)])
        dark = cv2.GaussianBlur(made._cover(affinity.translate(whole, *shift), floor), (0, 0), size[0] / 1600)
        photo *= 1 - np.float32(contact) * dark[..., None]
    face = np.full((*size[::-1], 1), 1, np.float32)
    if skin:
        grain = made.leather_skin(chance)
        x, y = (np.mod(mm[..., at] + 4000, 1024) for at in (0, 1))
        face = cv2.remap(grain, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)[..., None]
        face = 1 + np.float32(skin) * (face - 1)
    face = face * np.array(colour, np.float32)
    light = made._light_of(photo) * (1 - solid) + made._light_of(face * np.float32(wall)) * (solid - top)
    light += made._light_of(face) * top
    for number, corners in enumerate(lying):
        made._lay(light, made._light_of(made._sheet_picture(reference, number)), corners, floor)
    photo = made._grey_of(light)
    made._light(photo, top[..., 0], chance, gradient, shadow, 0.0)
    photo = made._grey_of(cv2.GaussianBlur(made._light_of(photo), (0, 0), blur))
    photo += np.float32(noise) * chance.standard_normal(photo.shape, dtype=np.float32)
    return Scene(np.clip(photo, 0, 255).astype(np.uint8), whole, floor, tuple(lying))


def pattern(kind: str, chance) -> Polygon:
    """A pattern as a maker draws it, about the origin, by lot: see `PATTERNS`."""
    shape = globals()[f"_{kind}"](chance)
    x0, y0, x1, y1 = shape.bounds
    return affinity.rotate(affinity.translate(shape, -(x0 + x1) / 2, -(y0 + y1) / 2), chance.uniform(0, 360), (0, 0))


PATTERNS = ("panel", "holder", "strap", "fob", "belt", "curve", "sleeve", "round")


def rounded(wide: float, high: float, radius: float) -> Polygon:
    """A rectangle with round corners, its lower left at the origin."""
    return box(0, 0, wide, high).buffer(-radius).buffer(radius, quad_segs=64) if radius else box(0, 0, wide, high)


def _holes(shape: Polygon, places, radius: float) -> Polygon:
    return shape.difference(shapely.union_all([Point(place).buffer(radius, quad_segs=32) for place in places]))


def _panel(chance) -> Polygon:
    return rounded(chance.uniform(80, 300), chance.uniform(60, 200), chance.choice([0.0, 3.0, 6.0, 15.0]))


def _holder(chance) -> Polygon:
    wide, high = chance.uniform(95, 110), chance.uniform(65, 80)
    shape = rounded(wide, high, chance.uniform(3, 8))
    shape = shape.difference(Point(wide / 2, high).buffer(chance.uniform(9, 13), quad_segs=64))
    pitch, in_mm = chance.uniform(3.5, 5.0), 4.0
    along = np.arange(12, high - 12, pitch)
    return _holes(shape, [(x, y) for x in (in_mm, wide - in_mm) for y in along], chance.uniform(0.5, 0.8))


def _strap(chance) -> Polygon:
    long, wide = chance.uniform(90, 130), chance.uniform(16, 24)
    shape = Polygon([(0, 0), (long, 0), (long + wide * 0.7, wide / 2), (long, wide), (0, wide)])
    return _holes(shape, [(long - 8 - 7 * at, wide / 2) for at in range(6)], 1.0)


def _fob(chance) -> Polygon:
    radius, wide, long = chance.uniform(14, 22), chance.uniform(12, 18), chance.uniform(50, 80)
    shape = Point(0, 0).buffer(radius, quad_segs=64).union(box(-wide / 2, 0, wide / 2, long))
    return _holes(shape, [(0, 0), (0, long - wide / 2)], chance.uniform(2.5, 5))


def _belt(chance) -> Polygon:
    wide, long = chance.uniform(28, 40), chance.uniform(180, 280)
    end = affinity.scale(Point(long, wide / 2).buffer(1, quad_segs=64), wide * chance.uniform(0.5, 0.9), wide / 2)
    shape = box(0, 0, long, wide).union(end)
    slot = LineString([(30, wide / 2), (55, wide / 2)]).buffer(2, quad_segs=32)
    return _holes(shape, [(long - 25 * at, wide / 2) for at in range(1, 6)], 2.25).difference(slot)


def _curve(chance) -> Polygon:
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    size = chance.uniform(40, 110)
    away = size * (1 + sum(chance.normal(0, 0.14 / k) * np.cos(k * turn + chance.uniform(0, 6.3)) for k in range(2, 5)))
    return Polygon(np.c_[away * np.cos(turn) * 1.2, away * np.sin(turn)])


def _sleeve(chance) -> Polygon:
    wide, high = chance.uniform(120, 220), chance.uniform(90, 160)
    shape = rounded(wide, high, 5)
    window = affinity.translate(rounded(wide * 0.5, high * 0.4, 4), wide * 0.25, high * 0.3)
    return shape.difference(window)


def _round(chance) -> Polygon:
    return Point(0, 0).buffer(chance.uniform(30, 60), quad_segs=180)


def honeycomb(bed_mm: tuple[float, float], chance):
    """Paints a bed of honeycomb between its rails: dark cells, bright walls of aluminium, rails beyond."""
    cell, dark, bright = chance.uniform(6, 10), chance.uniform(22, 50), chance.uniform(80, 130)
    rail = chance.uniform(90, 190)

    def paint(mm: np.ndarray, photo: np.ndarray) -> None:
        x, y = mm[..., 0] / np.float32(cell), mm[..., 1] / np.float32(cell)
        # the nearest of two grids of middles, shifted by half a cell, is that of the cell
        best, second = np.full(x.shape, 9, np.float32), np.full(x.shape, 9, np.float32)
        high = np.float32(math.sqrt(3))
        for shift in (0.0, 0.5):
            u = x - np.round(x - np.float32(shift)) - np.float32(shift)
            v = y - high * (np.round(y / high - np.float32(shift)) + np.float32(shift))
            away = np.hypot(u, v)
            second = np.minimum(np.maximum(best, away), second)
            best = np.minimum(best, away)
        walls = np.clip(1 - (second - best) * np.float32(5), 0, 1)[..., None]
        inside = ((mm > 0) & (mm < np.array(bed_mm, np.float32))).all(axis=-1)[..., None]
        comb = np.float32(dark) + walls * np.float32(bright - dark)
        around = ((mm > -40) & (mm < np.array(bed_mm, np.float32) + 40)).all(axis=-1)[..., None]
        photo[:] = np.where(inside, comb, np.where(around, np.float32(rail), photo * np.float32(0.5)))

    return paint
