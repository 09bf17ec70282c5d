"""Make photos of a hide on a floor whose true outline is known: floor, light, camera, lens, blur, noise, JPEG."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import shapely
from PIL import Image
from shapely import affinity
from shapely.geometry import Point, Polygon

from nesting.trace.markers import SHEET_MM, dictionary, marker_place

LEATHERS = {
    "natural": (206, 164, 118), "cognac": (150, 84, 40), "brown": (88, 56, 36), "black": (38, 35, 34),
    "red": (138, 40, 36), "green": (52, 74, 52), "cream": (226, 210, 180),
}  # fmt: skip
FLOORS = ("concrete", "wood", "brick", "gravel", "grass", "plain")


@dataclass(frozen=True)
class Scene:
    """What was photographed. ``outline`` in floor mm (y up); ``to_pixels`` maps floor mm to the photo."""

    picture: np.ndarray
    outline: Polygon
    homography: np.ndarray
    reference_mm: tuple[np.ndarray, ...]

    def to_pixels(self, mm) -> np.ndarray:
        return _through(self.homography, np.atleast_2d(mm))

    def save(self, path: Path, quality: int = 80) -> Path:
        Image.fromarray(self.picture).save(path, quality=quality)
        return path


def hide_outline(seed: int, size_mm: float = 1200.0, holes: int = 3) -> Polygon:
    """A made-up hide: a wavy body with legs, bays, a few thin spikes and holes of 8 to 40 mm."""
    chance = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    radius = np.ones_like(angle)
    for wave in range(2, 9):
        radius += chance.normal(0, 0.10 / wave) * np.cos(wave * angle + chance.uniform(0, 6.3))
    for leg in (0.7, 2.4, 3.8, 5.5):
        radius += chance.uniform(0.15, 0.35) * np.exp(-(((angle - leg - chance.normal(0, 0.1)) / 0.16) ** 2))
    body = Polygon(np.c_[radius * np.cos(angle) * 1.25, radius * np.sin(angle)])
    body = affinity.scale(body, *(2 * [size_mm / (body.bounds[2] - body.bounds[0])]), origin=(0, 0))
    for _ in range(3):
        at = chance.uniform(0, 1)
        wide, deep = size_mm * chance.uniform(0.008, 0.015), size_mm * chance.uniform(0.03, 0.06)
        body = body.union(_wedge(body, at, wide, deep))
        body = body.difference(_wedge(body, (at + 0.17) % 1, wide, -deep))
        body = max(shapely.get_parts(body), key=lambda part: part.area)
    for _ in range(holes):
        r = chance.uniform(0, 0.28) * size_mm
        turn = chance.uniform(0, 6.3)
        hole = affinity.scale(
            Point(r * math.cos(turn), 0.7 * r * math.sin(turn)).buffer(chance.uniform(4, 20)), 1, chance.uniform(0.6, 1)
        )
        body = body.difference(hole)
    return Polygon(body.exterior, body.interiors)


def _wedge(body: Polygon, at: float, wide: float, deep: float) -> Polygon:
    """A thin triangle that points out of the body at a share of its edge, or into it if ``deep`` is negative."""
    place = np.array(body.exterior.interpolate(at, normalized=True).coords[0])
    out = place / np.hypot(*place)
    side, back = np.array([-out[1], out[0]]) * wide, out * wide * np.sign(deep)
    return Polygon([place + side - back, place - side - back, place + out * deep])


@lru_cache(maxsize=16)
def floor_tile(kind: str) -> np.ndarray:
    """A texture of 1 mm a texel that repeats."""
    chance = np.random.default_rng(7)
    if kind in ("brick", "gravel", "grass"):
        import skimage.data

        grey = getattr(skimage.data, kind)().astype(np.float32)
        grey = (grey - grey.mean()) * 0.6 + {"brick": 120, "gravel": 130, "grass": 110}[kind]
        tint = {"brick": (1.12, 0.9, 0.8), "gravel": (1.02, 1.0, 0.97), "grass": (0.8, 1.08, 0.6)}[kind]
        tile = grey[..., None] * np.array(tint)
    elif kind == "wood":
        board = np.repeat(chance.normal(0, 10, 8), 128)[:, None]
        grain = cv2.GaussianBlur(chance.normal(0, 60, (1024, 1024)), (0, 0), sigmaX=40, sigmaY=1.2)
        tile = (150 + board + grain)[..., None] + np.array([25, 0, -35])
        tile[::128] -= 60
        tile[1::128] -= 60
    else:
        clouds = cv2.GaussianBlur(chance.normal(0, 1, (1024, 1024)), (0, 0), 25)
        clouds *= (10 if kind == "concrete" else 2) / clouds.std()
        grit = cv2.GaussianBlur(chance.normal(0, 14 if kind == "concrete" else 2, (1024, 1024)), (0, 0), 1)
        tile = ((165 if kind == "concrete" else 205) + clouds + grit)[..., None] * np.array([1.0, 0.99, 0.96])
    return np.clip(tile, 0, 255).astype(np.uint8)


def camera(
    centre, extent_mm: float, size, tilt_deg: float, around_deg: float, roll_deg: float, focal: float = 0.85
) -> np.ndarray:
    """Homography of a pinhole camera that looks at ``centre`` from where ``extent_mm`` just fills the picture."""
    width, height = size
    f = focal * width
    tilt, around, roll = map(math.radians, (tilt_deg, around_deg, roll_deg))
    back = np.array([math.sin(tilt) * math.cos(around), math.sin(tilt) * math.sin(around), math.cos(tilt)])
    right = np.cross([0, 1, 0], back)
    right /= np.linalg.norm(right)
    up = np.cross(back, right)
    right, up = right * math.cos(roll) + up * math.sin(roll), up * math.cos(roll) - right * math.sin(roll)
    rotation = np.array([right, -up, -back])
    eye = np.array([*centre, 0]) + back * extent_mm * focal * (1 + 0.5 * math.sin(tilt))
    k = np.array([[f, 0, (width - 1) / 2], [0, f, (height - 1) / 2], [0, 0, 1]])
    matrix = k @ np.c_[rotation[:, :2], -rotation @ eye]
    return matrix / matrix[2, 2]


def render(
    *,
    seed: int = 0,
    size: tuple[int, int] = (2000, 1500),
    floor: str = "concrete",
    leather: str | tuple = "cognac",
    hide_mm: float = 1200.0,
    holes: int = 3,
    reference: str = "markers",
    reference_at: str = "beside",
    sheets: int = 4,
    tilt: float = 15.0,
    extent: float = 1.75,
    distortion: float = 0.0,
    noise: float = 4.0,
) -> Scene:
    """A photo with known truth; everything not given is drawn from ``seed``."""
    chance = np.random.default_rng(1000 + seed)
    outline = hide_outline(seed, hide_mm, holes)
    matrix = camera((0, 0), hide_mm * extent, size, tilt, chance.uniform(0, 360), chance.uniform(-8, 8))
    row, column = np.mgrid[: size[1], : size[0]]
    pixels = np.c_[column.ravel(), row.ravel(), np.ones(row.size)] @ np.linalg.inv(matrix).T
    mm = (pixels[:, :2] / pixels[:, 2:]).reshape(size[1], size[0], 2).astype(np.float32)

    tile = floor_tile(floor)
    step = float(np.median(np.abs(np.diff(mm[..., 0], axis=1)))) + 1e-6
    tile = cv2.GaussianBlur(tile, (0, 0), max(0.3, 0.5 * step))
    side = tile.shape[0]
    photo = cv2.remap(
        tile,
        np.mod(mm[..., 0] + 5000, side),
        np.mod(mm[..., 1] + 5000, side),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    ).astype(np.float32)

    colour = np.array(LEATHERS[leather] if isinstance(leather, str) else leather, np.float32)
    skin = chance.normal(0, 1, (400, 400)).astype(np.float32)
    skin = cv2.GaussianBlur(skin, (0, 0), 6) * 40 + cv2.GaussianBlur(skin[::-1].copy(), (0, 0), 0.8) * 5
    skin = cv2.remap(skin, np.mod(mm[..., 0] / 3 + 4000, 399), np.mod(mm[..., 1] / 3 + 4000, 399), cv2.INTER_LINEAR)
    hide = colour * (1 + 0.004 * skin[..., None] * np.sqrt(90 / max(colour.mean(), 30)))
    inner = outline.buffer(-30)
    for spot in range(6):
        # Brands and stains: much darker or lighter than the leather, but no floor.
        x, y = chance.uniform(-0.3, 0.3) * hide_mm, chance.uniform(-0.2, 0.2) * hide_mm
        at = inner.representative_point() if spot == 0 else Point(x, y)
        mark = at.buffer(chance.uniform(5, 25)).intersection(inner)
        if not mark.is_empty:
            soft = cv2.GaussianBlur(_cover(mark, matrix, size), (0, 0), 2)
            hide *= 1 - soft[..., None] * (0.55 if spot % 2 == 0 else -0.12)
    cover = _cover(outline, matrix, size)[..., None]
    photo = photo * (1 - cover) + hide * cover

    references = _references(chance, outline, reference, sheets, reference_at, matrix, size)
    for number, corners in enumerate(references):
        _lay(photo, _sheet_picture(reference, number), corners, matrix)

    u, v = (column / size[0] - 0.5)[..., None], (row / size[1] - 0.5)[..., None]
    photo *= 1 + chance.uniform(-0.25, 0.25) * u + chance.uniform(-0.25, 0.25) * v - 0.25 * (u * u + v * v)
    if distortion:
        photo = _through_lens(photo, distortion)
    photo = cv2.GaussianBlur(photo, (0, 0), 0.7)
    photo += chance.normal(0, noise, photo.shape).astype(np.float32)
    return Scene(np.clip(photo, 0, 255).astype(np.uint8), outline, matrix, tuple(references))


def _cover(polygon, matrix, size, fine: int = 4) -> np.ndarray:
    """Share of each pixel that a shape on the floor covers."""
    cover = np.zeros((size[1] * fine, size[0] * fine), np.uint8)
    for part in shapely.get_parts(polygon):
        for ring, value in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            points = np.asarray(shapely.segmentize(ring, 5.0).coords)
            places = (_through(matrix, points) + 0.5) * fine - 0.5
            # fillPoly also paints the pixels its edge touches: draw half a fine pixel less.
            shape = Polygon(places).buffer(-0.5)
            for piece in shapely.get_parts(shape):
                if not piece.is_empty:
                    cv2.fillPoly(
                        cover, [np.round(np.asarray(piece.exterior.coords) * 256).astype(np.int32)], value, shift=8
                    )
    return cv2.resize(cover * np.uint8(255), size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255


def _references(chance, outline, kind: str, sheets: int, at: str, matrix, size) -> list[np.ndarray]:
    """Corners (4, 2) in mm of each sheet: lower left, lower right, upper right, upper left of the page as printed."""
    if kind == "points":
        return []
    width, height = (85.60, 53.98) if kind == "card" else SHEET_MM
    count = sheets if kind == "markers" else 1
    placed: list[np.ndarray] = []
    start = chance.uniform(0, 6.3)
    for number in range(count):
        turn = chance.uniform(0, 6.3) if kind == "markers" else chance.uniform(-0.4, 0.4)
        page = np.array([(0, 0), (width, 0), (width, height), (0, height)]) - (width / 2, height / 2)
        page = _turned(page, turn)
        for nudge in np.linspace(0, 2 * math.pi, 25):
            way = start + 2 * math.pi * number / count + nudge
            lying = page + _away(page, np.array([math.cos(way), math.sin(way)]), outline, placed, at)
            pixels = _through(matrix, lying)
            if (pixels > 8).all() and (pixels < np.array(size) - 8).all():
                break
        placed.append(lying)
    return placed


def _away(page: np.ndarray, out: np.ndarray, outline: Polygon, placed: list[np.ndarray], at: str) -> np.ndarray:
    """How far to move a page outwards so that it lies beside the hide, or across its edge, or not at all."""
    for away in np.arange(0, 5000, 10.0):
        sheet = Polygon(page + out * away)
        if at == "middle" or (at == "edge" and sheet.intersection(outline).area < 0.5 * sheet.area):
            break
        clear = not sheet.buffer(15).intersects(outline)
        if at == "beside" and clear and not any(sheet.intersects(Polygon(other)) for other in placed):
            break
    return out * away


def _through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    moved = np.c_[points, np.ones(len(points))] @ matrix.T
    return moved[:, :2] / moved[:, 2:]


@lru_cache(maxsize=16)
def _sheet_picture(kind: str, number: int, dots_per_mm: int = 4) -> np.ndarray:
    """The sheet as printed, top row first."""
    if kind == "card":
        picture = np.full((216, 342, 3), (30, 70, 140), np.uint8)
        cv2.rectangle(picture, (30, 60), (70, 95), (190, 170, 90), -1)
        cv2.putText(picture, "1234 5678 9012", (30, 150), cv2.FONT_HERSHEY_SIMPLEX, 0.9, (230, 230, 235), 2)
        return picture
    width, height = (round(side * dots_per_mm) for side in SHEET_MM)
    picture = np.full((height, width, 3), 238, np.uint8)
    if kind == "markers":
        for marker in range(4 * number, 4 * number + 4):
            corners = marker_place(marker)[1]
            side = round((corners[1] - corners[0])[0] * dots_per_mm)
            x, y = round(corners[0][0] * dots_per_mm), round((SHEET_MM[1] - corners[0][1]) * dots_per_mm)
            cells = dictionary().generateImageMarker(marker, 7, np.empty((7, 7), np.uint8), 1)
            black = cv2.resize(cells, (side, side), interpolation=cv2.INTER_NEAREST)
            picture[y : y + side, x : x + side] = np.where(black[..., None] > 0, 238, 25)
    return picture


def _lay(photo: np.ndarray, sheet: np.ndarray, corners: np.ndarray, matrix: np.ndarray, fine: int = 4) -> None:
    pixels = _through(matrix, corners)
    low = np.maximum(np.floor(pixels.min(axis=0)) - 4, 0).astype(int)
    high = np.minimum(np.ceil(pixels.max(axis=0)) + 5, (photo.shape[1], photo.shape[0])).astype(int)
    if (high <= low).any():
        return
    height, width = sheet.shape[:2]
    source = np.array([(0, height), (width, height), (width, 0), (0, 0)], np.float32) - 0.5
    target = ((pixels - low + 0.5) * fine - 0.5).astype(np.float32)
    to_cut = cv2.getPerspectiveTransform(source, target)
    extent = tuple(int(side) for side in (high - low) * fine)
    cover = np.full((height, width), 255, np.uint8)
    if width == 342:
        radius = round(3.18 * 4)
        cover[:] = 0
        cv2.rectangle(cover, (radius, 0), (width - radius - 1, height), 255, -1)
        cv2.rectangle(cover, (0, radius), (width, height - radius - 1), 255, -1)
        for x in (radius, width - radius - 1):
            for y in (radius, height - radius - 1):
                cv2.circle(cover, (x, y), radius, 255, -1)
    shrink = max(0.3, 0.35 * width / np.hypot(*(target[1] - target[0])))
    paint = cv2.warpPerspective(
        cv2.GaussianBlur(sheet, (0, 0), shrink), to_cut, extent, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    share = cv2.warpPerspective(cover, to_cut, extent, flags=cv2.INTER_LINEAR)
    size = tuple(int(side) for side in high - low)
    paint = cv2.resize(paint, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    share = cv2.resize(share, size, interpolation=cv2.INTER_AREA).astype(np.float32)[..., None] / 255
    cut = photo[low[1] : high[1], low[0] : high[0]]
    cut[:] = cut * (1 - share) + paint * share


def _through_lens(photo: np.ndarray, k: float) -> np.ndarray:
    """Move each pixel outwards by the share ``k`` of its radius at the corner of the picture (times radius squared)."""
    height, width = photo.shape[:2]
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    y, x = np.mgrid[:height, :width]
    away = (np.stack([x, y], axis=-1) - middle) / np.hypot(*middle)
    ideal = away
    for _ in range(6):
        ideal = away / (1 + k * (ideal**2).sum(axis=-1, keepdims=True))
    source = (middle + ideal * np.hypot(*middle)).astype(np.float32)
    return cv2.remap(photo, source[..., 0], source[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


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

    def fit(moved, rounds):
        for step in range(rounds):
            if step < 12:
                near = target[tree.query(moved)[1]]
            else:
                shapes = shapely.points(moved)
                near = shapely.get_coordinates(
                    shapely.line_interpolate_point(ring, shapely.line_locate_point(ring, shapes))
                )
            a, b = moved - moved.mean(axis=0), near - near.mean(axis=0)
            turn = math.atan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
            moved = _turned(a, turn) + near.mean(axis=0)
        return moved, tree.query(moved)[0].mean()

    middle = target.mean(axis=0)
    trials = [fit(_turned(start - middle, turn) + middle, 8) for turn in np.linspace(0, 2 * np.pi, 24, endpoint=False)]
    moved, _ = fit(min(trials, key=lambda one: one[1])[0], 32)
    a, b = points - points.mean(axis=0), moved - moved.mean(axis=0)
    turn = math.atan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return shapely.transform(traced, lambda p: _turned(p - points.mean(axis=0), turn) + moved.mean(axis=0))


def _turned(points: np.ndarray, angle: float) -> np.ndarray:
    return points @ np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])


def hausdorff_mm(first: Polygon, second: Polygon) -> float:
    """Greatest distance between two outer edges."""
    a, b = shapely.segmentize(first.exterior, 3.0), shapely.segmentize(second.exterior, 3.0)
    return float(shapely.hausdorff_distance(a, b))
