"""The photo of the demo: a hide on old floor boards with the marker sheets around it, as a telephone would see it."""

from __future__ import annotations

import math
import re
import tempfile
from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon

from nesting.tracing import write_marker_sheets

SIZE = (2400, 1800)
TILT_DEG, AROUND_DEG, ROLL_DEG = 17.0, 250.0, 2.5
FOCAL_SHARE = 0.74
"""Focal length over the width of the picture, about that of a telephone's main camera."""
SHEETS = ((-520, 262, 64), (512, 250, 106), (-472, -256, 184), (505, -262, 83))
"""Where the middle of each marker sheet lies, in mm from the middle of the hide, and how far it is turned."""
HIDE_TURN_DEG = 4.0
QUALITY = 80


def render_photo(hide: Polygon, path: Path) -> None:
    """Render the scene and save it as JPEG.

    Parameters
    ----------
    hide : Polygon
        True outline in mm, y up.
    path : Path
    """
    chance = np.random.default_rng(2026)
    x, y = hide.envelope.centroid.coords[0]
    hide = affinity.rotate(affinity.translate(hide, -x, -y), HIDE_TURN_DEG, origin=(0, 0))
    matrix = _camera(1430.0)
    column, row = np.meshgrid(np.arange(SIZE[0], dtype=float), np.arange(SIZE[1], dtype=float))
    seen = np.stack([column, row, np.ones_like(row)], axis=-1) @ np.linalg.inv(matrix).T
    mm = (seen[..., :2] / seen[..., 2:]).astype(np.float32)

    photo = _boards(chance, mm)
    sheets = [_placed(*sheet) for sheet in SHEETS]
    papers = [Polygon(corners) for corners in sheets]
    for paper in papers:
        photo *= 1 - 0.30 * _shadow(paper, matrix, lift=1.5, soft=2.5)[..., None]
    for drawing, corners in zip(_sheet_pictures(), sheets):
        _lay(photo, drawing, corners, matrix)
    photo *= 1 - 0.34 * _shadow(hide, matrix, lift=5.0, soft=6.0)[..., None]
    cover = _cover(hide, matrix)[..., None]
    photo = photo * (1 - cover) + _leather(chance, hide, mm, matrix) * cover

    u, v = column / SIZE[0] - 0.5, row / SIZE[1] - 0.5
    # Daylight from a window at the upper left, and the lens's own fall-off.
    light = 1.07 - 0.26 * u - 0.20 * v - 0.34 * (u * u + v * v)
    photo *= light[..., None]
    photo *= 1 + (u * 0.05)[..., None] * np.array([1, 0, -1])
    photo = cv2.GaussianBlur(photo.astype(np.float32), (0, 0), 0.75)
    coloured = cv2.GaussianBlur(chance.normal(0, 4.0, (SIZE[1], SIZE[0], 3)), (0, 0), 0.9)
    grain = coloured + chance.normal(0, 2.2, (SIZE[1], SIZE[0], 1))
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(np.clip(photo + grain + 0.5, 0, 255).astype(np.uint8)).save(path, quality=QUALITY, optimize=True)


def _camera(width_mm: float) -> np.ndarray:
    """Floor mm (y up) to photo pixels of a pinhole camera that sees about ``width_mm`` across its middle."""
    tilt, around, roll = map(math.radians, (TILT_DEG, AROUND_DEG, ROLL_DEG))
    back = np.array([math.sin(tilt) * math.cos(around), math.sin(tilt) * math.sin(around), math.cos(tilt)])
    right = np.cross([0, 1, 0], back)
    right /= np.linalg.norm(right)
    up = np.cross(back, right)
    right, up = right * math.cos(roll) + up * math.sin(roll), up * math.cos(roll) - right * math.sin(roll)
    focal = FOCAL_SHARE * SIZE[0]
    turn = np.array([right, -up, -back])
    eye = back * width_mm * FOCAL_SHARE
    lens = np.array([[focal, 0, (SIZE[0] - 1) / 2], [0, focal, (SIZE[1] - 1) / 2], [0, 0, 1]])
    matrix = lens @ np.c_[turn[:, :2], -turn @ eye]
    return matrix / matrix[2, 2]


def _to_pixels(mm, matrix) -> np.ndarray:
    moved = np.c_[np.asarray(mm, float), np.ones(len(mm))] @ matrix.T
    return moved[:, :2] / moved[:, 2:]


def _boards(chance, mm) -> np.ndarray:
    """Grey-brown floor boards with grain, knots and dark gaps, looked up at each pixel's place on the floor."""
    wide, texel, side = 132.0, 0.5, 3600
    slant = math.radians(6.0)
    along = mm[..., 0] * math.cos(slant) + mm[..., 1] * math.sin(slant) + 950
    across = mm[..., 1] * math.cos(slant) - mm[..., 0] * math.sin(slant) + 900
    y, x = np.mgrid[:side, :side].astype(np.float32) * texel
    # The grain swerves around knots: the texture is read at a place pushed away from each of them.
    swerve = cv2.GaussianBlur(
        chance.normal(0, 1, (side // 8, side // 8)).astype(np.float32), (0, 0), sigmaX=30, sigmaY=6
    )
    bent = y + swerve.repeat(8, 0).repeat(8, 1) * 55
    knots = np.zeros((side, side), np.float32)
    for _ in range(17):
        kx, ky, size = chance.uniform(100, 1700), chance.uniform(100, 1700), chance.uniform(4, 9)
        away = ((x - kx) / 2.6) ** 2 + (y - ky) ** 2
        bent += np.sign(y - ky) * -size * 1.5 * np.exp(-away / (2 * (2.2 * size) ** 2))
        knots += np.exp(-away / (2 * (0.8 * size) ** 2)) * (1 + 0.35 * np.cos(np.sqrt(away) * 2.2))
    rings = chance.normal(0, 1, 9000).astype(np.float32)
    coarse, fine = (cv2.GaussianBlur(rings[None], (0, 0), sigmaX=s)[0] for s in (7.0, 1.2))
    lookup = np.clip(bent * 4 + 400, 0, 8999).astype(int)
    grain = 26 * coarse[lookup] * 2 + 7 * fine[lookup]
    fibres = cv2.GaussianBlur(chance.normal(0, 1, (side, side)).astype(np.float32), (0, 0), sigmaX=22, sigmaY=0.8)
    grain += fibres * (5.5 / fibres.std())
    board = np.floor(y / wide).astype(int)
    tones, warmth = chance.normal(0, 7.5, 30), chance.normal(0, 3, 30)
    shift = chance.integers(0, side, 30)
    for number in range(int(side * texel / wide) + 1):
        rows = board[:, 0] == number
        grain[rows] = np.roll(grain[rows], shift[number], axis=1)
    grey = 92 + grain + tones[board] - 30 * knots
    place = np.abs((y / wide) % 1 * wide - wide / 2)
    gap = np.clip((place - (wide / 2 - 1.3)) / 0.7, 0, 1)
    rim = np.clip((place - (wide / 2 - 5)) / 4, 0, 1) * (1 - gap)
    # A board ends where its shifted texture meets itself, and half way along.
    ends = ((x - shift[board] * texel) % (side * texel / 2)) < 1.8
    grey = (grey - 6 * rim) * (1 - 0.72 * np.maximum(gap, ends))
    tint = np.stack([1.13 + 0.004 * warmth[board], np.ones_like(y), 0.84 - 0.005 * warmth[board]], axis=-1)
    texture = cv2.GaussianBlur((grey[..., None] * tint).astype(np.float32), (0, 0), 0.7)
    return cv2.remap(texture, along / texel, across / texel, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def _leather(chance, hide: Polygon, mm, matrix) -> np.ndarray:
    """Light vegetable-tanned leather: clouds of colour, grain, wrinkles, a few old scratches, a paler cut edge."""
    texel, side = 0.5, 1800
    plane = [(mm[..., axis] + 450) / texel for axis in (0, 1)]

    def noise(sx, sy=None):
        field = cv2.GaussianBlur(
            chance.normal(0, 1, (side, side)).astype(np.float32), (0, 0), sigmaX=sx, sigmaY=sy or sx
        )
        return field / field.std()

    cells = noise(1.5)
    grain = np.minimum(cells, 0.4) * 2.4 + noise(0.8) * 1.3
    clouds = noise(110) * 4.2 + noise(35) * 2.0
    y, x = np.mgrid[:side, :side].astype(np.float32)
    swerve = noise(150) * 14
    wrinkles = np.zeros((side, side), np.float32)
    for bend, wide, deep in ((1305, 3.2, 9.0), (1340, 2.4, 6.0), (1388, 3.6, 8.0)):
        line = y - bend - swerve - 0.00032 * (x - 900) ** 2
        reach = np.exp(-(((x - 900) / 420) ** 2))
        wrinkles -= deep * reach * (np.exp(-((line / wide) ** 2)) - 0.5 * np.exp(-((line / wide - 2) ** 2)))
    marks = np.zeros((side, side), np.uint8)
    for ax, ay, bx, by in ((560, 700, 640, 780), (1160, 640, 1250, 660), (1010, 980, 1030, 1060)):
        cv2.line(marks, (ax, ay), (bx, by), 255, 2, cv2.LINE_AA)
    grey = grain + clouds + wrinkles + cv2.GaussianBlur(marks, (0, 0), 1.4).astype(np.float32) * 0.05
    tone = cv2.remap(
        grey, plane[0].astype(np.float32), plane[1].astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    colour = np.array([203, 166, 124], np.float32) + tone[..., None] * np.array([1.0, 1.02, 1.0])
    # Leather does not lie quite flat near its edge: it catches the light on one side and loses it on the other.
    inside = cv2.GaussianBlur(_cover(hide.buffer(-1), matrix), (0, 0), 22)
    slope = cv2.Sobel(inside, cv2.CV_32F, 1, 0, ksize=5) * 0.8 + cv2.Sobel(inside, cv2.CV_32F, 0, 1, ksize=5)
    colour *= 1 + np.clip(0.12 * slope, -0.045, 0.045)[..., None]
    edge = 1 - _cover(hide.buffer(-1.3), matrix)
    return colour * (1 + 0.07 * edge[..., None])


def _placed(x: float, y: float, turn_deg: float) -> np.ndarray:
    """Corners of an A4 sheet on the floor: lower left, lower right, upper right, upper left as printed."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    page = np.array([(-105, -148.5), (105, -148.5), (105, 148.5), (-105, 148.5)])
    return page @ np.array([[cos, sin], [-sin, cos]]) + (x, y)


def _sheet_pictures(dots_per_mm: int = 6) -> list[np.ndarray]:
    """The project's own marker sheets, as they come out of the printer."""
    with tempfile.TemporaryDirectory() as folder:
        files = sorted(
            Path(folder, file.name) for file in write_marker_sheets(folder, len(SHEETS)) if file.suffix == ".svg"
        )
        return [_draw(ElementTree.fromstring(file.read_text(encoding="utf-8")), dots_per_mm) for file in files]


def _draw(page, dots: int) -> np.ndarray:
    """Black on paper white, for the few elements a marker sheet is made of."""
    width, height = (round(float(page.get(side).removesuffix("mm")) * dots) for side in ("width", "height"))
    sheet = np.full((height, width), 255, np.uint8)
    for element in page:
        kind, value = element.tag.split("}")[1], lambda name, element=element: float(element.get(name)) * dots
        if kind == "path":
            rings = [
                np.array(re.findall(r"[-.\d]+", ring), float).reshape(-1, 2) for ring in element.get("d").split("M")[1:]
            ]
            cv2.fillPoly(sheet, [np.round(ring * dots).astype(np.int32) for ring in rings], 0)
        elif kind == "line":
            ends = [(round(value(f"x{end}")), round(value(f"y{end}"))) for end in (1, 2)]
            cv2.line(sheet, *ends, 0, max(1, round(value("stroke-width"))), cv2.LINE_AA)
        elif kind == "text":
            font, size = cv2.FONT_HERSHEY_SIMPLEX, value("font-size") / 30
            thick = max(1, round(2.2 * size))
            wide = cv2.getTextSize(element.text, font, size, thick)[0][0]
            left = value("x") - (wide / 2 if element.get("text-anchor") == "middle" else 0)
            cv2.putText(sheet, element.text, (round(left), round(value("y"))), font, size, 0, thick, cv2.LINE_AA)
    return (24 + sheet.astype(np.float32) * (214 / 255))[..., None] * np.array([1.0, 0.995, 0.975], np.float32)


def _lay(photo, sheet, corners, matrix, fine: int = 3) -> None:
    """Paint a sheet onto the photo where it lies, evened out over ``fine`` x ``fine`` samples a pixel."""
    pixels = _to_pixels(corners, matrix)
    low = np.maximum(np.floor(pixels.min(axis=0)) - 2, 0).astype(int)
    high = np.minimum(np.ceil(pixels.max(axis=0)) + 3, SIZE).astype(int)
    height, width = sheet.shape[:2]
    source = np.array([(0, height), (width, height), (width, 0), (0, 0)], np.float32) - 0.5
    target = ((pixels - low + 0.5) * fine - 0.5).astype(np.float32)
    matrix = cv2.getPerspectiveTransform(source, target)
    size = tuple(int(side) for side in high - low)
    large = tuple(side * fine for side in size)
    paint = cv2.warpPerspective(
        cv2.GaussianBlur(sheet, (0, 0), 0.9).astype(np.float32), matrix, large, borderMode=cv2.BORDER_REPLICATE
    )
    share = cv2.warpPerspective(np.ones((height, width), np.float32), matrix, large)
    paint, share = (cv2.resize(part, size, interpolation=cv2.INTER_AREA) for part in (paint, share))
    cut = photo[low[1] : high[1], low[0] : high[0]]
    cut[:] = cut * (1 - share[..., None]) + paint * share[..., None]


def _cover(shape, matrix, fine: int = 4) -> np.ndarray:
    """Share of each pixel that an area on the floor covers."""
    mask = np.zeros((SIZE[1] * fine, SIZE[0] * fine), np.uint8)
    for ring, value in ((shape.exterior, 255), *((hole, 0) for hole in shape.interiors)):
        places = _to_pixels(ring.segmentize(4.0).coords, matrix)
        # A filled polygon also paints the pixels its edge only touches: half a fine pixel less is true.
        inner = Polygon((places + 0.5) * fine - 0.5).buffer(-0.5)
        cv2.fillPoly(mask, [np.round(np.asarray(inner.exterior.coords) * 256).astype(np.int32)], value, shift=8)
    return cv2.resize(mask, SIZE, interpolation=cv2.INTER_AREA).astype(np.float32) / 255


def _shadow(shape, matrix, lift: float, soft: float) -> np.ndarray:
    """Soft shadow on the floor, thrown to the lower right by something ``lift`` mm high."""
    return cv2.GaussianBlur(
        _cover(affinity.translate(shape, 0.7 * lift, -0.6 * lift), matrix, fine=1), (0, 0), soft / 0.55
    )
