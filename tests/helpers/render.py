"""Make photos of a hide on a floor whose true outline is known: floor, light, camera, lens, blur, noise, JPEG."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import shapely
from floors import FLOORS, LEATHERS, floor_tile, leather_skin
from PIL import Image
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapes import distances_mm, hausdorff_mm, hide_outline, lay_upon, tattered, turned

from nesting.tracing.markers import SHEET_MM, dictionary, marker_place

__all__ = [
    "FLOORS",
    "LEATHERS",
    "Camera",
    "Scene",
    "camera",
    "distances_mm",
    "floor_tile",
    "hausdorff_mm",
    "hide_outline",
    "lay_upon",
    "ordinary",
    "render",
    "varied",
]
PAPERS_MM = {"markers": SHEET_MM, "a4": (210.0, 297.0), "letter": (215.9, 279.4), "card": (85.60, 53.98)}


@dataclass(frozen=True)
class Camera:
    """A pinhole with a lens: homography of floor mm to ideal pixels, then radial terms (unit radius at the corner)."""

    matrix: np.ndarray
    size: tuple[int, int]
    k1: float = 0.0
    k2: float = 0.0

    def to_pixels(self, mm) -> np.ndarray:
        moved = np.c_[np.atleast_2d(mm), np.ones(len(np.atleast_2d(mm)))] @ self.matrix.T
        middle, radius = self._lens()
        away = (moved[:, :2] / moved[:, 2:] - middle) / radius
        square = (away**2).sum(axis=1, keepdims=True)
        return middle + radius * away * (1 + self.k1 * square + self.k2 * square**2)

    def floor(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(h, w, 2) float32: the floor mm shown at columns ``x`` (w,) and rows ``y`` (h,)."""
        middle, radius = self._lens()
        x, y = (
            ((x - middle[0]) / radius).astype(np.float32)[None, :],
            ((y - middle[1]) / radius).astype(np.float32)[:, None],
        )
        # The radial terms are undone on a fine table of squared radii, then looked up.
        ideal = np.linspace(0, 1.4, 20_000)
        seen = ideal * (1 + self.k1 * ideal**2 + self.k2 * ideal**4)
        squares = np.linspace(0, 1.2, 65_536)
        table = np.interp(np.sqrt(squares), seen, ideal) / np.maximum(np.sqrt(squares), 1e-9)
        table[0] = 1
        ratio = table.astype(np.float32)[
            ((x * x + y * y) * np.float32(65_535 / 1.2) + np.float32(0.5)).astype(np.int32)
        ] * np.float32(radius)
        u, v = x * ratio + np.float32(middle[0]), y * ratio + np.float32(middle[1])
        back = np.linalg.inv(self.matrix)
        back = (back / back[2, 2]).astype(np.float32)
        depth = back[2, 0] * u + back[2, 1] * v + back[2, 2]
        return np.dstack([(row[0] * u + row[1] * v + row[2]) / depth for row in back[:2]])

    def _lens(self):
        middle = (np.array(self.size, dtype=float) - 1) / 2
        return middle, float(np.hypot(*middle))


@dataclass(frozen=True)
class Scene:
    """What was photographed. ``outline`` and ``marks`` in floor mm (y up)."""

    picture: np.ndarray
    outline: Polygon
    camera: Camera
    reference_mm: tuple[np.ndarray, ...]
    marks: tuple[Polygon, ...] = ()

    def to_pixels(self, mm) -> np.ndarray:
        return self.camera.to_pixels(mm)

    def save(self, path: Path, quality: int = 80, focal: float | None = None) -> Path:
        """``focal`` over the long side is noted as the 35 mm equivalent, by the diagonal (CIPA DCG-001)."""
        picture, exif = Image.fromarray(self.picture), Image.Exif()
        if focal is not None:
            diagonal = math.hypot(*picture.size) / max(picture.size)
            exif.get_ifd(0x8769)[0xA405] = round(43.27 * focal / diagonal)
        picture.save(path, quality=quality, exif=exif)
        return path


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


def varied(seed: int, size: tuple[int, int] = (4000, 3000)) -> dict:
    """Settings of :func:`render` in which everything is drawn by lot.

    One photo in four shows leather nearly of the floor's own colour, which often nobody could trace. Paper lies beside
    smaller hides, half of the time before a lens as good as a telephone's.
    """
    chance = np.random.default_rng(5000 + seed)
    floor = dict(
        floor=str(chance.choice(FLOORS)),
        floor_seed=int(chance.integers(1000)),
        floor_contrast=round(chance.uniform(0.4, 1.0), 3),
        floor_tinted=bool(chance.random() < 0.6),
    )
    bright = chance.uniform(0.6, 1.2)
    colour = np.array(list(LEATHERS.values())[chance.integers(len(LEATHERS))]) * chance.uniform(0.8, 1.2)
    if chance.random() < 0.25:
        mean = floor_tile(floor["floor"], floor["floor_seed"], floor["floor_contrast"], floor["floor_tinted"]).mean(
            axis=(0, 1)
        )
        colour = mean * bright + chance.normal(0, 12, 3) + chance.normal(0, 20)
    reference = str(chance.choice(["markers"] * 5 + ["a4", "letter"]))
    paper = reference != "markers"
    bend = 0.1 if paper and chance.random() < 0.5 else 1.0
    return dict(
        seed=seed,
        size=size,
        **floor,
        floor_bright=bright,
        leather=tuple(np.clip(colour + chance.normal(0, 6, 3), 12, 245)),
        hide_mm=chance.uniform(400, 1000) if paper else chance.uniform(1000, 1400),
        holes=int(chance.integers(0, 6)),
        reference=reference,
        sheets=int(chance.integers(2, 7)),
        tilt=chance.uniform(0, 35),
        extent=chance.uniform(1.6, 1.95),
        distortion=bend * chance.uniform(-0.03, 0.03),
        distortion2=bend * chance.uniform(-0.01, 0.01),
        noise=chance.uniform(1.5, 7),
        blur=chance.uniform(0.6, 1.5),
        gradient=chance.uniform(0, 0.6),
        shadow=chance.choice([0.0, chance.uniform(0.1, 0.5)]),
        contact=chance.choice([0.0, chance.uniform(0.1, 0.5)]),
        glare=chance.choice([0.0, 0.0, chance.uniform(30, 140)]),
        specks=int(chance.choice([0, 40])),
        focal=chance.uniform(0.65, 1.1),
    )


def ordinary(seed: int, size: tuple[int, int] = (4000, 3000)) -> dict:
    """Settings of :func:`render` for what most people take at the first try: one A4 sheet, two, or marker sheets in
    turn, any tilt to 35 degrees, a tattered hide of 0.5 to 1.6 m, and one of three lenses."""
    chance = np.random.default_rng(9000 + seed)
    kind = ("a4", "a4", "markers")[seed % 3]
    # a straightened telephone, a wide telephone with what straightening leaves, a camera's zoom
    focal, bend, bend2 = ((0.74, 0.0, 0.0), (0.68, -0.005, 0.003), (1.0, 0.012, -0.004))[int(chance.integers(3))]
    hide_mm = chance.uniform(500, 1600)
    return dict(
        seed=seed,
        size=size,
        floor=str(chance.choice(FLOORS)),
        floor_seed=int(chance.integers(1000)),
        floor_contrast=round(chance.uniform(0.4, 1.0), 3),
        floor_tinted=bool(chance.random() < 0.6),
        floor_bright=chance.uniform(0.7, 1.1),
        leather=tuple(
            np.clip(np.array(list(LEATHERS.values())[chance.integers(len(LEATHERS))]) + chance.normal(0, 8, 3), 12, 245)
        ),
        hide_mm=hide_mm,
        holes=int(chance.integers(0, 6)),
        rough_mm=chance.uniform(0.2, 1.2),
        slits=int(chance.integers(0, 4)),
        reference=kind,
        sheets=int(chance.integers(2, 5)),
        papers=1 + seed % 3 % 2,
        tilt=chance.uniform(0, 35),
        extent=max(chance.uniform(1.5, 1.8), 1.25 + (420 if seed % 3 == 0 else 760) / hide_mm),
        distortion=bend,
        distortion2=bend2,
        noise=chance.uniform(1.5, 5),
        blur=chance.uniform(0.6, 1.3),
        gradient=chance.uniform(0, 0.5),
        shadow=chance.choice([0.0, chance.uniform(0.1, 0.4)]),
        contact=chance.choice([0.0, chance.uniform(0.1, 0.4)]),
        glare=chance.choice([0.0, 0.0, chance.uniform(30, 100)]),
        specks=int(chance.choice([0, 40])),
        focal=focal,
    )


def render(
    *,
    seed: int = 0,
    size: tuple[int, int] = (2000, 1500),
    floor: str = "concrete",
    floor_seed: int = 7,
    floor_contrast: float = 0.6,
    floor_tinted: bool = True,
    floor_bright: float = 1.0,
    leather: str | tuple = "cognac",
    hide_mm: float = 1200.0,
    holes: int = 3,
    rough_mm: float = 0.0,
    slits: int = 0,
    reference: str = "markers",
    reference_at: str = "beside",
    sheets: int = 4,
    papers: int = 1,
    tilt: float = 15.0,
    extent: float = 1.75,
    focal: float = 0.85,
    distortion: float = 0.0,
    distortion2: float = 0.0,
    noise: float = 4.0,
    blur: float = 0.7,
    gradient: float = 0.25,
    shadow: float = 0.0,
    contact: float = 0.0,
    glare: float = 0.0,
    specks: int = 0,
) -> Scene:
    """A photo with known truth; everything not given is drawn from ``seed``.

    ``sheets`` of markers, or ``papers`` of another reference, are laid around the hide. ``shadow`` and ``contact`` are
    the light taken away by a soft cast shadow and by the hide's own along its edge, ``gradient`` how much the light
    changes across the picture, ``glare`` grey levels added at a gleam.
    """
    chance = np.random.default_rng(1000 + seed)
    outline = hide_outline(seed, hide_mm, holes)
    if rough_mm or slits:
        outline = tattered(outline, seed, rough_mm, slits)
    matrix = camera((0, 0), hide_mm * extent, size, tilt, chance.uniform(0, 360), chance.uniform(-8, 8), focal)
    seeing = Camera(matrix, size, distortion, distortion2)
    mm = seeing.floor(np.arange(size[0]), np.arange(size[1]))
    photo = _floor(mm, floor_tile(floor, floor_seed, floor_contrast, floor_tinted), chance) * np.float32(floor_bright)
    references = _references(
        chance, outline, reference, sheets if reference == "markers" else papers, reference_at, seeing
    )

    cover = _cover(outline, seeing)[..., None]
    if contact:
        # The leather is 2 mm thick and the light comes from one side.
        way = chance.uniform(0, 6.3)
        lifted = affinity.translate(outline, *(chance.uniform(1.5, 4) * np.array([math.cos(way), math.sin(way)])))
        photo *= 1 - contact * cv2.GaussianBlur(_cover(lifted, seeing), (0, 0), size[0] / 1200)[..., None]
    hide, marks = _leather(mm, leather, outline, seeing, chance)
    if specks:
        _strew(photo, chance, specks)
        _strew(hide, chance, specks // 3)
    # What covers half of a pixel gives half of its light, and a lens blurs light, not grey levels.
    photo = _light_of(photo)
    photo *= 1 - cover
    photo += _light_of(hide) * cover
    del hide
    for number, corners in enumerate(references):
        _lay(photo, _light_of(_sheet_picture(reference, number)), corners, seeing)
    photo = _grey_of(photo)
    _light(photo, cover[..., 0], chance, gradient, shadow, glare)
    photo = _grey_of(cv2.GaussianBlur(_light_of(photo), (0, 0), blur))
    photo += np.float32(noise) * chance.standard_normal(photo.shape, dtype=np.float32)
    return Scene(np.clip(photo, 0, 255).astype(np.uint8), outline, seeing, tuple(references), marks)


def _light_of(grey: np.ndarray) -> np.ndarray:
    """Linear light, 0 to 1, of grey levels from 0 to 255 (sRGB, IEC 61966-2-1)."""
    level = np.arange(256 * 16, dtype=np.float32) / (255 * 16)
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return light[np.clip(grey * np.float32(16), 0, len(light) - 1).astype(np.uint16)]


def _grey_of(light: np.ndarray) -> np.ndarray:
    """Grey levels from 0 to 255 of linear light."""
    level = np.arange(65536, dtype=np.float32) / 65535
    grey = np.where(level <= 0.0031308, 12.92 * level, 1.055 * level ** (1 / 2.4) - 0.055).astype(np.float32) * 255
    return grey[np.clip(light * np.float32(65535), 0, 65535).astype(np.uint16)]


def _floor(mm: np.ndarray, tile: np.ndarray, chance) -> np.ndarray:
    step = float(np.median(np.abs(np.diff(mm[::8, ::8, 0], axis=1)))) / 8 + 1e-6
    tile = cv2.GaussianBlur(tile, (0, 0), max(0.3, 0.5 * step))
    side, turn = tile.shape[0], chance.uniform(0, 6.3)
    x = (
        mm[..., 0] * np.float32(math.cos(turn))
        - mm[..., 1] * np.float32(math.sin(turn))
        + np.float32(chance.uniform(4000, 6000))
    )
    y = (
        mm[..., 0] * np.float32(math.sin(turn))
        + mm[..., 1] * np.float32(math.cos(turn))
        + np.float32(chance.uniform(4000, 6000))
    )
    return cv2.remap(tile, np.mod(x, side), np.mod(y, side), cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP).astype(
        np.float32
    )


def _leather(mm, leather, outline: Polygon, seeing: Camera, chance):
    """The picture all over leather with brands, stains and scars, none of them floor; and the outlines of these."""
    colour = np.array(LEATHERS[leather] if isinstance(leather, str) else leather, np.float32)
    skin = leather_skin(chance)
    skin = cv2.remap(
        skin,
        np.mod(mm[..., 0] + 4000, 1024),
        np.mod(mm[..., 1] + 4000, 1024),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )
    hide = skin[..., None] * colour
    inner, marks = outline.buffer(-30), []
    size_mm = outline.bounds[2] - outline.bounds[0]
    for spot in range(6):
        x, y = chance.uniform(-0.3, 0.3) * size_mm, chance.uniform(-0.2, 0.2) * size_mm
        at = inner.representative_point() if spot == 0 else Point(x, y)
        mark = affinity.rotate(
            affinity.scale(at.buffer(chance.uniform(5, 25)), 1, chance.choice([1, 1, 0.2])), chance.uniform(0, 180)
        )
        mark = mark.intersection(inner)
        if mark.is_empty or not isinstance(mark, Polygon):
            continue
        share, low, high = _crop_cover(mark.buffer(1), seeing, margin=8)
        soft = cv2.GaussianBlur(share, (0, 0), 2)
        hide[low[1] : high[1], low[0] : high[0]] *= 1 - soft[..., None] * np.float32(0.55 if spot % 2 == 0 else -0.12)
        marks.append(mark)
    return hide, tuple(marks)


def _light(photo: np.ndarray, leather: np.ndarray, chance, gradient: float, shadow: float, glare: float) -> None:
    """Uneven light, a soft cast shadow and a gleam, in place."""
    height, width = photo.shape[:2]
    u, v = (np.linspace(-0.5, 0.5, side, dtype=np.float32) for side in (width, height))
    u, v = u[None, :], v[:, None]
    way = chance.uniform(0, 6.3)
    light = 1 + np.float32(gradient) * (math.cos(way) * u + math.sin(way) * v) - np.float32(0.25) * (u * u + v * v)
    if shadow:
        small = np.zeros((height // 8, width // 8), np.float32)
        middle = chance.uniform(0.1, 0.9, 2) * (width / 8, height / 8)
        corners = [
            middle + chance.uniform(0.15, 0.5) * width / 8 * np.array([math.cos(a), math.sin(a)])
            for a in np.sort(chance.uniform(0, 6.3, 6))
        ]
        cv2.fillPoly(small, [np.round(corners).astype(np.int32)], 1.0)
        small = cv2.GaussianBlur(small, (0, 0), chance.uniform(0.004, 0.04) * width / 8)
        light = light * (1 - np.float32(shadow) * cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC))
    photo *= light[..., None]
    if glare:
        x, y = chance.uniform(-0.2, 0.2, 2)
        gleam = np.exp(-(((u - x) / chance.uniform(0.05, 0.2)) ** 2) - ((v - y) / chance.uniform(0.05, 0.2)) ** 2)
        photo += (np.float32(glare) * gleam * (0.25 + 0.75 * leather))[..., None]
    photo *= np.float32(chance.uniform(0.94, 1.06, 3))


def _strew(picture: np.ndarray, chance, count: int) -> None:
    """Specks of dirt, in place."""
    height, width = picture.shape[:2]
    for _ in range(count):
        place = int(chance.uniform(0, width)), int(chance.uniform(0, height))
        axes = tuple(int(max(1, side)) for side in chance.uniform(0.0005, 0.002, 2) * width)
        shade = chance.uniform(20, 200)
        cv2.ellipse(
            picture, place, axes, chance.uniform(0, 180), 0, 360, (shade, shade * 0.9, shade * 0.75), -1, cv2.LINE_AA
        )


def _cover(polygon, seeing: Camera) -> np.ndarray:
    """Share of each pixel that a shape on the floor covers."""
    share, low, high = _crop_cover(polygon, seeing)
    whole = np.zeros(seeing.size[::-1], np.float32)
    whole[low[1] : high[1], low[0] : high[0]] = share
    return whole


def _crop_cover(polygon, seeing: Camera, margin: int = 2, fine: int = 4):
    """The same for the pixels from ``low`` to ``high`` (column, row), outside of which there is nothing."""
    size = np.array(seeing.size)
    places = seeing.to_pixels(shapely.get_coordinates(shapely.segmentize(polygon, 4.0)))
    low = np.clip(np.floor(places.min(axis=0)) - margin, 0, size - 1).astype(int)
    high = np.clip(np.ceil(places.max(axis=0)) + margin + 1, low + 1, size).astype(int)
    cover = np.zeros(tuple((high - low)[::-1] * fine), np.uint8)
    for part in shapely.get_parts(polygon):
        for ring, value in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            points = np.asarray(shapely.segmentize(ring, 4.0).coords)
            # fillPoly also paints the pixels its edge touches: draw half a fine pixel less.
            shape = Polygon((seeing.to_pixels(points) - low + 0.5) * fine - 0.5).buffer(-0.5)
            for piece in shapely.get_parts(shape):
                if not piece.is_empty:
                    cv2.fillPoly(
                        cover, [np.round(np.asarray(piece.exterior.coords) * 256).astype(np.int32)], value, shift=8
                    )
    share = cv2.resize(cover * np.uint8(255), tuple(int(side) for side in high - low), interpolation=cv2.INTER_AREA)
    return share.astype(np.float32) / 255, low, high


def _references(chance, outline, kind: str, sheets: int, at: str, seeing: Camera) -> list[np.ndarray]:
    """Corners (4, 2) in mm of each sheet: lower left, lower right, upper right, upper left of the page as printed."""
    if kind == "points":
        return []
    width, height = PAPERS_MM[kind]
    placed: list[np.ndarray] = []
    start = chance.uniform(0, 6.3)
    for number in range(sheets):
        turn = chance.uniform(0, 6.3) if kind == "markers" else chance.uniform(-0.4, 0.4)
        page = np.array([(0, 0), (width, 0), (width, height), (0, height)]) - (width / 2, height / 2)
        page = turned(page, turn)
        for nudge in np.linspace(0, 2 * math.pi, 25):
            way = start + 2 * math.pi * number / sheets + nudge
            lying = page + _away(page, np.array([math.cos(way), math.sin(way)]), outline, placed, at)
            pixels = seeing.to_pixels(lying)
            if (pixels > 8).all() and (pixels < np.array(seeing.size) - 8).all():
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


@lru_cache(maxsize=16)
def _sheet_picture(kind: str, number: int, dots_per_mm: int = 4) -> np.ndarray:
    """The sheet as printed, top row first."""
    if kind == "card":
        picture = np.full((216, 342, 3), (30, 70, 140), np.uint8)
        cv2.rectangle(picture, (30, 60), (70, 95), (190, 170, 90), -1)
        cv2.putText(picture, "1234 5678 9012", (30, 150), cv2.FONT_HERSHEY_SIMPLEX, 0.9, (230, 230, 235), 2)
        return picture
    width, height = (round(side * dots_per_mm) for side in PAPERS_MM[kind])
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


def _lay(photo: np.ndarray, sheet: np.ndarray, corners: np.ndarray, seeing: Camera, fine: int = 3) -> None:
    """Paint a sheet on the floor, in place: each fine pixel is looked up on the sheet."""
    edge = seeing.to_pixels(np.vstack([np.linspace(corners[at - 1], corners[at], 20) for at in range(4)]))
    low = np.maximum(np.floor(edge.min(axis=0)) - 4, 0).astype(int)
    high = np.minimum(np.ceil(edge.max(axis=0)) + 5, (photo.shape[1], photo.shape[0])).astype(int)
    if (high <= low).any():
        return
    height, width = sheet.shape[:2]
    x, y = (np.arange((end - start) * fine) / fine + start - 0.5 + 0.5 / fine for start, end in zip(low, high))
    places = seeing.floor(x, y) - corners[0].astype(np.float32)
    across, up = corners[1] - corners[0], corners[3] - corners[0]
    u, v = (places @ (side / (side @ side)).astype(np.float32) for side in (across, up))
    u, v = u * width - np.float32(0.5), (1 - v) * height - np.float32(0.5)
    dots = width / np.hypot(*across) * np.hypot(*across) / max(np.hypot(*(edge[19] - edge[0])), 1)
    cover = np.full((height, width), 255, np.uint8)
    if width == 342:
        radius = round(3.18 * 4)
        cover[:] = 0
        cv2.rectangle(cover, (radius, 0), (width - radius - 1, height), 255, -1)
        cv2.rectangle(cover, (0, radius), (width, height - radius - 1), 255, -1)
        for x in (radius, width - radius - 1):
            for y in (radius, height - radius - 1):
                cv2.circle(cover, (x, y), radius, 255, -1)
    # Pixels of the sheet closer than the fine ones would be skipped over.
    soft = cv2.GaussianBlur(sheet, (0, 0), max(0.3, 0.35 * dots / fine))
    paint = cv2.remap(soft, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    share = cv2.remap(cover, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    size = tuple(int(side) for side in high - low)
    paint = cv2.resize(paint, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    share = cv2.resize(share, size, interpolation=cv2.INTER_AREA).astype(np.float32)[..., None] / 255
    cut = photo[low[1] : high[1], low[0] : high[0]]
    cut[:] = cut * (1 - share) + paint * share
