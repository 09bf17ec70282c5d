"""A second maker of photos of hides whose true outline is known, that shares nothing with the first (render.py).

The floor and what lies on it are painted as maps in linear light, which a camera then looks at ray by ray: hides
from splines through the landmarks of whole hides, sides, shoulders and bellies, some mm thick; floors of boards, tiles,
terrazzo, carpet or cloth; a lamp and a window; paper that is not cut or lying quite true; a lens whose axis is a little
off the middle; shot noise, the softness of a phone's colours and its sharpening.
"""

from __future__ import annotations

import math
from pathlib import Path

import cv2
import numpy as np
import shapely
from PIL import Image
from scipy.interpolate import CubicSpline
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from nesting.tracing.markers import SHEET_MM, dictionary, marker_place

SIZE = (4000, 3000)
FINE = 2
"""Rays a pixel, each way."""
STRIP = 250
"""Rows of the photo looked at together."""
KINDS = ("one", "two", "markers")
LANDMARKS = {
    # round the animal: neck, fore shanks, flanks, hind shanks, tail
    "whole": [(-1, 0.12), (-0.86, 0.16), (-0.74, 0.5), (-0.6, 0.62), (-0.52, 0.4), (-0.1, 0.36), (0.34, 0.42),
              (0.5, 0.66), (0.66, 0.6), (0.74, 0.34), (0.92, 0.16), (1, 0), (0.92, -0.16), (0.74, -0.34),
              (0.66, -0.6), (0.5, -0.66), (0.34, -0.42), (-0.1, -0.36), (-0.52, -0.4), (-0.6, -0.62), (-0.74, -0.5),
              (-0.86, -0.16), (-1, -0.12)],
    "side": [(-1, -0.2), (-0.6, -0.24), (0, -0.25), (0.6, -0.24), (0.98, -0.2), (0.9, 0), (0.7, 0.1), (0.68, 0.38),
             (0.52, 0.4), (0.4, 0.16), (0, 0.12), (-0.42, 0.16), (-0.54, 0.38), (-0.7, 0.34), (-0.76, 0.06),
             (-0.98, -0.02)],
    "shoulder": [(-1, -0.4), (-0.5, -0.52), (0, -0.5), (0.5, -0.53), (1, -0.42), (0.96, 0.1), (0.72, 0.46), (0.4, 0.5),
                 (0, 0.62), (-0.4, 0.5), (-0.72, 0.48), (-0.97, 0.08)],
    "belly": [(-1, -0.1), (-0.5, -0.16), (0, -0.14), (0.5, -0.17), (1, -0.1), (0.94, 0.12), (0.6, 0.2), (0.2, 0.15),
              (-0.2, 0.17), (-0.6, 0.22), (-0.95, 0.1)],
}  # fmt: skip
LEATHERS = [(190, 145, 98), (150, 92, 50), (96, 56, 34), (40, 34, 32), (112, 36, 36), (54, 68, 48), (206, 178, 142)]
FLOORS = {
    "boards": [(150, 112, 72), (196, 164, 120), (92, 66, 46), (170, 160, 148)],
    "tiles": [(196, 192, 184), (120, 118, 114), (168, 118, 92), (84, 86, 90)],
    "terrazzo": [(186, 182, 174), (110, 112, 112)],
    "carpet": [(122, 120, 116), (70, 78, 96), (158, 144, 122), (96, 104, 84)],
    "cloth": [(64, 86, 128), (150, 152, 150), (60, 96, 74), (44, 44, 48), (208, 206, 200)],
}


def photograph(seed: int, path: Path, size: tuple[int, int] = SIZE) -> tuple[dict, Polygon]:
    """Take a photo by lot and save it as JPEG: one A4 or letter sheet beside a hide, two, or marker sheets in turn; its
    settings, and the true outline in mm."""
    chance = np.random.default_rng([77, seed])
    kind = KINDS[seed % 3]
    hide_mm = chance.uniform(500, 1600)
    outline = _outline(chance, hide_mm)
    paper = (215.9, 279.4) if kind != "markers" and chance.random() < 0.25 else (210.0, 297.0)
    many = {"one": 1, "two": 2, "markers": int(chance.integers(2, 5))}[kind]
    sheets = _sheets(chance, outline, SHEET_MM if kind == "markers" else paper, many, kind == "markers")
    phone = chance.random() < 0.7
    focal_35 = float(chance.choice([24, 26, 28]) if phone else chance.choice([35, 50]))
    eye = _Eye.placed(chance, size, focal_35, phone, [outline, *(Polygon(sheet) for sheet in sheets)])
    thick = chance.uniform(1.0, 2.4)
    floor, leather = _colours(chance)
    light = eye.look(_Scene(chance, outline, sheets, kind, paper, floor, leather, thick, eye))
    photo = _developed(chance, light)
    turned = chance.random() < 0.25
    exif = Image.Exif()
    if seed // 3 % 2:
        notes = exif.get_ifd(0x8769)
        notes[0xA405] = round(focal_35)
        notes[0x920A] = round(focal_35 * (0.21 if phone else 0.65), 2)
    if turned:
        # held upright: the camera notes which way round the picture is
        exif[0x0112] = 6
        photo = np.ascontiguousarray(np.rot90(photo))
    Image.fromarray(photo).save(path, quality=int(chance.integers(84, 94)), exif=exif)
    settings = {"hide_mm": hide_mm, "kind": kind, "paper": paper, "tilt": eye.tilt, "focal": focal_35, "phone": phone}
    return settings | {"floor": floor[0], "leather": leather, "thick": thick, "eye": eye, "sheets": sheets}, outline


def _outline(chance, hide_mm: float) -> Polygon:
    name = str(chance.choice(list(LANDMARKS)))
    marks = np.array(LANDMARKS[name]) * hide_mm / 2
    marks = marks + chance.normal(0, 0.018 * hide_mm, marks.shape)
    closed = np.vstack([marks, marks[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T) ** 0.5)])
    edge = CubicSpline(along, closed, bc_type="periodic")(np.linspace(0, along[-1], int(6 * hide_mm))[:-1])
    # tatters: noise of all lengths from 4 to 150 mm along the edge
    step = np.gradient(edge, axis=0)
    normal = np.c_[step[:, 1], -step[:, 0]] / np.hypot(*step.T)[:, None]
    spread, wide = np.zeros(len(edge)), len(edge) / np.hypot(*np.diff(edge, axis=0).T).sum()
    for mm in (4, 12, 40, 150):
        some = cv2.GaussianBlur(
            chance.normal(0, 1, (1, len(edge))), (0, 0), mm / 2.5 * wide, borderType=cv2.BORDER_REFLECT
        )[0]
        fade = np.minimum(1, np.minimum(np.arange(len(edge)), np.arange(len(edge))[::-1]) / (40 * wide))
        spread += fade * some / some.std() * chance.uniform(0.1, 0.35) * mm**0.35
    shape = max(
        shapely.get_parts(shapely.make_valid(Polygon(edge + normal * spread[:, None]))), key=lambda one: one.area
    )
    shape = Polygon(shape.exterior)
    for _ in range(int(chance.integers(0, 5))):  # nicks and slits
        at = shape.exterior.interpolate(chance.uniform(0, shape.length))
        way = math.atan2(-at.y, -at.x) + chance.uniform(-0.7, 0.7)
        slit = chance.random() < 0.4
        deep, half = (
            (chance.uniform(15, 70), chance.uniform(0.6, 2)) if slit else (chance.uniform(4, 16), chance.uniform(2, 8))
        )
        tip = (at.x + deep * math.cos(way), at.y + deep * math.sin(way))
        side = np.array([-math.sin(way), math.cos(way)]) * half
        back = np.array([at.x - 12 * math.cos(way), at.y - 12 * math.sin(way)])
        wedge = Polygon([tip, back + 1.6 * side, back - 1.6 * side])
        shape = max(shapely.get_parts(shape.difference(wedge)), key=lambda one: one.area)
    for _ in range(int(chance.integers(0, 4))):  # holes
        inner = shape.buffer(-45)
        if inner.is_empty:
            break
        x0, y0, x1, y1 = inner.bounds
        at = Point(chance.uniform(x0, x1), chance.uniform(y0, y1))
        hole = affinity.rotate(
            affinity.scale(at.buffer(1), chance.uniform(3, 22), chance.uniform(3, 14)), chance.uniform(0, 180)
        )
        if inner.contains(hole):
            shape = shape.difference(hole)
    return shapely.transform(affinity.rotate(shape, chance.uniform(-12, 12)), lambda at: np.round(at, 3))


def _sheets(chance, outline: Polygon, size: tuple[float, float], many: int, anywhere: bool) -> list[np.ndarray]:
    """Corners of each sheet on the floor: upper left, upper right, lower right, lower left of what is printed."""
    longer = 1 + chance.normal(0, 0.0006, 2)
    half = np.array(size) / 2 * longer
    page = np.array([(-1, 1), (1, 1), (1, -1), (-1, -1)]) * half
    first, found = chance.uniform(0, 2 * math.pi), []
    for number in range(many):
        way = first + number * 2 * math.pi / many + chance.uniform(-0.3, 0.3)
        turn = (
            chance.uniform(0, 2 * math.pi) if anywhere else chance.choice([0, math.pi / 2]) + chance.uniform(-0.4, 0.4)
        )
        cos, sin = math.cos(turn), math.sin(turn)
        gap = chance.uniform(20, 70)
        for away in np.arange(0, 3000, 5.0):
            lying = page @ np.array([[cos, sin], [-sin, cos]]) + away * np.array([math.cos(way), math.sin(way)])
            others = [outline, *(Polygon(other) for other in found)]
            if all(Polygon(lying).distance(other) > gap for other in others):
                break
        # not quite flat, so that its corners seem to lie a little aside
        found.append(lying + chance.normal(0, 0.08, (4, 2)))
    return found


def _colours(chance) -> tuple[tuple[str, np.ndarray], np.ndarray]:
    """A floor and a leather that nobody would think alike."""
    while True:
        name = str(chance.choice(list(FLOORS)))
        floor = np.array(FLOORS[name][chance.integers(len(FLOORS[name]))]) * chance.uniform(0.85, 1.1)
        leather = np.array(LEATHERS[chance.integers(len(LEATHERS))]) * chance.uniform(0.85, 1.12)
        both = np.clip(np.array([[floor, leather]]), 5, 250).astype(np.uint8)
        lab = cv2.cvtColor(both, cv2.COLOR_RGB2LAB)[0].astype(float) * (100 / 255, 1, 1)
        if np.hypot(*(lab[0] - lab[1])[[0, 1]]) + abs(lab[0] - lab[1])[2] > 15:
            return (name, both[0, 0].astype(float)), both[0, 1].astype(float)


class _Eye:
    """A camera: where it is, which way it looks, its lens."""

    def __init__(self, at, axes, size, focal, middle, bends, tilt):
        self.at, self.axes, self.size, self.focal, self.middle = at, axes, size, focal, middle
        self.bends, self.tilt = bends, tilt

    @classmethod
    def placed(cls, chance, size, focal_35: float, phone: bool, things: list[Polygon]) -> _Eye:
        """As near as all things still fit into the picture, tilted by lot, the picture's long side along the hide."""
        focal = focal_35 / 43.27 * math.hypot(*size)
        tilt, about = math.radians(chance.uniform(0, 35)), chance.uniform(0, 2 * math.pi)
        roll = math.radians(chance.uniform(-6, 6))
        spread = (0.004, 0.003) if phone else (0.009, 0.004)
        bends = (*chance.normal(0, spread), *chance.normal(0, 1e-4, 2))
        middle = (np.array(size) - 1) / 2 + chance.normal(0, 0.003, 2) * max(size)
        places = np.vstack([shapely.get_coordinates(thing) for thing in things])
        centre = (places.min(axis=0) + places.max(axis=0)) / 2
        back = np.array([math.sin(tilt) * math.cos(about), math.sin(tilt) * math.sin(about), math.cos(tilt)])
        right = np.cross([0, 1, 0], back)
        right /= np.linalg.norm(right)
        down = -np.cross(back, right)
        right, down = right * math.cos(roll) + down * math.sin(roll), down * math.cos(roll) - right * math.sin(roll)
        margin = chance.uniform(0.03, 0.08) * size[0]
        for away in np.geomspace(300, 9000, 400):
            eye = cls(
                np.array([*centre, 0]) + away * back,
                np.array([right, down, -back]),
                size,
                focal,
                middle,
                bends,
                math.degrees(tilt),
            )
            seen = eye.pixels(np.c_[places, np.zeros(len(places))])
            if (seen > margin).all() and (seen < np.array(size) - margin).all():
                break
        return eye

    def pixels(self, places: np.ndarray) -> np.ndarray:
        """(n, 3) mm to (n, 2) pixels."""
        ahead = (places - self.at) @ self.axes.T
        return self.middle + self.focal * self._bent(ahead[:, :2] / np.maximum(ahead[:, 2:], 1e-6))

    def _bent(self, ray: np.ndarray) -> np.ndarray:
        radius = math.hypot(*self.size) / 2 / self.focal
        x, y = (ray / radius).T
        square = x * x + y * y
        k1, k2, p1, p2 = self.bends
        times = 1 + k1 * square + k2 * square**2
        return (
            radius
            * np.c_[
                x * times + 2 * p1 * x * y + p2 * (square + 2 * x * x),
                y * times + p1 * (square + 2 * y * y) + 2 * p2 * x * y,
            ]
        )

    def ground(self, x: np.ndarray, y: np.ndarray, high: float) -> np.ndarray:
        """Where the rays through pixels meet a plane so high above the floor: (rows, columns, 2) mm."""
        seen = (np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2) - self.middle) / self.focal
        ray = seen.copy()
        for _ in range(12):
            ray += seen - self._bent(ray)
        way = np.c_[ray, np.ones(len(ray))] @ self.axes
        far = (high - self.at[2]) / np.minimum(way[:, 2], -1e-6)
        return (self.at[:2] + way[:, :2] * far[:, None]).reshape(len(y), len(x), 2)

    def look(self, scene: _Scene) -> np.ndarray:
        """The picture, linear light."""
        width, height = self.size
        picture = np.empty((height, width, 3), np.float32)
        step = 8
        for top in range(0, height, STRIP):
            rows = min(STRIP, height - top)
            # rays are worked out at some places, the rest lie evenly between
            x, y = np.arange(-step, width + 2 * step, step), np.arange(top - step, top + rows + 2 * step, step)
            column = ((np.arange(width * FINE) + 0.5) / FINE - 0.5 + step) / step
            row = ((np.arange(rows * FINE) + 0.5) / FINE - 0.5 + step) / step
            across, down = (grid.astype(np.float32) for grid in np.meshgrid(column, row))
            fine = [
                cv2.remap(self.ground(x, y, high).astype(np.float32), across, down, cv2.INTER_LINEAR)
                for high in (0.0, scene.thick)
            ]
            light = scene.light(*fine)
            picture[top : top + rows] = cv2.resize(light, (width, rows), interpolation=cv2.INTER_AREA)
        return picture


class _Scene:
    """What lies in the studio, as maps in linear light."""

    def __init__(self, chance, outline, sheets, kind, paper, floor, leather, thick, eye):
        self.thick = thick
        one = eye.ground(
            np.array([eye.size[0] / 2, eye.size[0] / 2 + 1]), np.array([eye.size[1] / 2, eye.size[1] / 2 + 1]), 0
        )
        self.mm = 0.6 * float(np.hypot(*(one[0, 1] - one[0, 0])))
        around = shapely.box(*shapely.MultiPolygon([outline, *map(Polygon, sheets)]).bounds).buffer(
            0.18 * (outline.bounds[2] - outline.bounds[0])
        )
        x0, y0, x1, y1 = around.bounds
        self.corner = np.array([x0, y1])
        shape = int((y1 - y0) / self.mm), int((x1 - x0) / self.mm)
        self.floor = _floor(chance, floor, shape, self.mm)
        # the leather keeps light from the floor beside it, more where it stands up a little
        way = chance.uniform(0, 2 * math.pi)
        shift = thick * chance.uniform(0.3, 1.6) * np.array([math.cos(way), math.sin(way)])
        dark = self._mask(affinity.translate(outline, *shift), shape)
        dark = cv2.GaussianBlur(dark, (0, 0), max(0.6, thick * 0.7 / self.mm))
        # of the floor's light so much is kept, and so much comes from paper that lies on it
        self.kept = 1 - np.float32(chance.uniform(0.1, 0.6)) * dark
        self.paper = np.zeros(shape, np.float32)
        for number, sheet in enumerate(sheets):
            self._lay(chance, number, sheet, kind, paper)
        self.cover = self._mask(outline, shape)
        self.leather = _leather(chance, leather, shape, self.mm)
        self._stained(chance, outline, shape)
        self.lamp = np.array([*chance.uniform(-1800, 1800, 2), chance.uniform(1500, 2600)])
        self.window = chance.uniform(0, 0.25) * np.array([math.cos(way), math.sin(way)]) / 1000
        self.share = chance.uniform(0.2, 0.7)
        self.gloss = chance.choice([0.0, chance.uniform(0.02, 0.12)])
        self.eye = eye
        self.shade = (
            *chance.uniform(-900, 900, 2),
            chance.uniform(150, 500),
            chance.choice([0.0, chance.uniform(0.1, 0.35)]),
        )
        self.tint = chance.uniform(0.93, 1.07, 3).astype(np.float32)

    def _at(self, mm: np.ndarray) -> np.ndarray:
        return (np.asarray(mm) - self.corner) * (1, -1) / self.mm - 0.5

    def _mask(self, shape, size: tuple[int, int]) -> np.ndarray:
        """Share of each texel that a shape covers: near the edge by how far it is."""
        mask, rim = np.zeros(size, np.uint8), np.zeros(size, np.uint8)
        for part in shapely.get_parts(shape):
            rings = [np.round(self._at(ring.coords) * 64).astype(np.int32) for ring in (part.exterior, *part.interiors)]
            cv2.fillPoly(mask, rings, 255, shift=6)
            cv2.polylines(rim, rings, True, 255, 4, shift=6)
        share = mask.astype(np.float32) / 255
        rows, columns = np.nonzero(rim)
        x, y = self.corner[0] + (columns + 0.5) * self.mm, self.corner[1] - (rows + 0.5) * self.mm
        shapely.prepare(shape)
        edge = shapely.boundary(shape)
        shapely.prepare(edge)
        away = shapely.distance(shapely.points(x, y), edge) / self.mm
        share[rows, columns] = np.clip(0.5 + np.where(shapely.contains_xy(shape, x, y), away, -away), 0, 1)
        return share

    def _lay(self, chance, number: int, sheet: np.ndarray, kind: str, paper: tuple[float, float]) -> None:
        wide, high = SHEET_MM if kind == "markers" else paper
        dots = 6
        page = np.full((round(high * dots), round(wide * dots)), np.float32(chance.uniform(0.8, 0.88)))
        if kind == "markers":
            for marker in range(4 * number, 4 * number + 4):
                corners = marker_place(marker)[1]
                side = round(float(corners[1][0] - corners[0][0]) * dots)
                bits = dictionary().generateImageMarker(marker, 7, np.empty((7, 7), np.uint8), 1)
                left, top = round(float(corners[0][0]) * dots), round((high - float(corners[0][1])) * dots)
                black = cv2.resize(bits, (side, side), interpolation=cv2.INTER_NEAREST) == 0
                page[top : top + side, left : left + side][black] = 0.035
        right, low = page.shape[1] - 0.5, page.shape[0] - 0.5
        printed = np.array([(-0.5, -0.5), (right, -0.5), (right, low), (-0.5, low)], np.float32)
        onto = cv2.getPerspectiveTransform(printed, self._at(sheet).astype(np.float32))
        soft = cv2.GaussianBlur(page, (0, 0), max(0.3, 0.4 * self.mm * dots))
        size = self.kept.shape[1::-1]
        low = np.maximum(np.floor(self._at(sheet).min(axis=0)).astype(int) - 3, 0)
        high_at = np.minimum(np.ceil(self._at(sheet).max(axis=0)).astype(int) + 4, size)
        shift = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]], float)
        crop = tuple(int(side) for side in high_at - low)
        paint = cv2.warpPerspective(soft, shift @ onto, crop, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        share = self._mask(Polygon(sheet), size[::-1])[low[1] : high_at[1], low[0] : high_at[0]]
        here = slice(low[1], high_at[1]), slice(low[0], high_at[0])
        self.kept[here] *= 1 - share
        self.paper[here] += paint * share

    def _stained(self, chance, outline: Polygon, shape: tuple[int, int]) -> None:
        inner = outline.buffer(-25)
        for _ in range(int(chance.integers(2, 9))):
            x0, y0, x1, y1 = outline.bounds
            at = np.array([chance.uniform(x0, x1), chance.uniform(y0, y1)])
            if chance.random() < 0.5:  # a wrinkle or a scar
                bend = np.cumsum(chance.normal(0, 0.25, 12)) + chance.uniform(0, 6.3)
                line = LineString(at + np.cumsum(chance.uniform(4, 14) * np.c_[np.cos(bend), np.sin(bend)], axis=0))
                mark, strong, soft = line.buffer(chance.uniform(0.4, 1.2)), chance.choice([-0.12, 0.2, 0.3]), 0.7
            else:
                mark, strong, soft = Point(at).buffer(chance.uniform(4, 30)), chance.choice([-0.1, 0.15, 0.35]), 4.0
            mark = mark.intersection(inner)
            if mark.is_empty:
                continue
            dark = cv2.GaussianBlur(self._mask(mark, shape), (0, 0), soft / self.mm)
            self.leather *= 1 - np.float32(strong) * dark[..., None]

    def light(self, floor_mm: np.ndarray, top_mm: np.ndarray) -> np.ndarray:
        """What rays see that meet the floor, and the top of leather, at places (h, w, 2) mm."""
        on_floor, on_top = (
            (mm - self.corner.astype(np.float32)) * np.float32([1, -1]) / np.float32(self.mm) - np.float32(0.5)
            for mm in (floor_mm, top_mm)
        )
        below = cv2.remap(
            self.floor, on_floor[..., 0], on_floor[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101
        )
        kept = cv2.remap(
            self.kept,
            on_floor[..., 0],
            on_floor[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=1,
        )
        paper = cv2.remap(
            self.paper,
            on_floor[..., 0],
            on_floor[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=0,
        )
        below = below * kept[..., None] + paper[..., None] * np.float32([0.99, 1.0, 1.01])
        cover = cv2.remap(
            self.cover, on_top[..., 0], on_top[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0
        )
        hide = cv2.remap(
            self.leather, on_top[..., 0], on_top[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101
        )
        x, y = top_mm[..., 0], top_mm[..., 1]
        away = np.sqrt((x - self.lamp[0]) ** 2 + (y - self.lamp[1]) ** 2 + self.lamp[2] ** 2)
        shone = (1 - self.share) + self.share * (self.lamp[2] / away) ** 3 + x * self.window[0] + y * self.window[1]
        sx, sy, wide, deep = self.shade
        shone = np.maximum(shone, 0.15) * (1 - deep / (1 + np.exp((np.hypot(x - sx, y - sy) - wide) / 40)))
        mirror = self.lamp[:2] + (self.eye.at[:2] - self.lamp[:2]) * self.lamp[2] / (self.lamp[2] + self.eye.at[2])
        gleam = self.gloss * np.exp(-((x - mirror[0]) ** 2 + (y - mirror[1]) ** 2) / (2 * 260.0**2))
        hide = hide + gleam[..., None].astype(np.float32)
        seen = below + (hide - below) * cover[..., None]
        return seen * shone[..., None].astype(np.float32) * self.tint


def _cloud(chance, shape: tuple[int, int], texel: tuple[float, float]) -> np.ndarray:
    """Smooth noise of spread 1 that changes over so many texels down and across."""
    small = tuple(max(4, int(side / max(size, 1)) + 3) for side, size in zip(shape, texel))
    noise = chance.standard_normal(small, dtype=np.float32)
    return cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC if min(texel) > 1.5 else cv2.INTER_LINEAR)


def _floor(chance, floor: tuple[str, np.ndarray], shape: tuple[int, int], mm: float) -> np.ndarray:
    name, colour = floor
    rows, columns = shape
    y, x = (np.arange(side, dtype=np.float32) * np.float32(mm) for side in shape)
    level = 1 + 0.03 * _cloud(chance, shape, (300 / mm, 300 / mm))
    if name == "boards":
        wide = chance.uniform(80, 190)
        board = (y / wide + chance.uniform(0, 1)).astype(int)
        tone = chance.normal(1, 0.09, board.max() + 2).astype(np.float32)
        level *= tone[board][:, None] * (
            1 + 0.06 * _cloud(chance, shape, (2.5 / mm, 160 / mm)) + 0.03 * _cloud(chance, shape, (1.2 / mm, 30 / mm))
        )
        seam = np.abs((y / wide + 0.5) % 1 - 0.5) * wide < 0.7
        level[seam] *= 0.5
    elif name == "tiles":
        wide, joint = chance.uniform(250, 450), chance.uniform(2, 4)
        u, v = x + chance.uniform(0, wide), y + chance.uniform(0, wide)
        tone = chance.normal(1, 0.04, (int(v.max() / wide) + 2, int(u.max() / wide) + 2)).astype(np.float32)
        level *= tone[np.ix_((v / wide).astype(int), (u / wide).astype(int))]
        level *= 1 + 0.05 * _cloud(chance, shape, (40 / mm, 60 / mm)) + 0.02 * _cloud(chance, shape, (2 / mm, 2 / mm))
        for some, axis in ((v % wide < joint, 0), (u % wide < joint, 1)):
            if axis:
                level[:, some] = 0.7
            else:
                level[some] = 0.7
    elif name == "terrazzo":
        level *= 1 + 0.02 * _cloud(chance, shape, (3 / mm, 3 / mm))
        for _ in range(int(rows * columns * mm * mm / 900)):
            at = int(chance.uniform(0, columns)), int(chance.uniform(0, rows))
            axes = tuple(int(max(1, side / mm)) for side in chance.uniform(1, 7, 2))
            cv2.ellipse(
                level, at, axes, chance.uniform(0, 180), 0, 360, float(chance.uniform(0.6, 1.25)), -1, cv2.LINE_AA
            )
    elif name == "carpet":
        level *= 1 + 0.16 * _cloud(chance, shape, (1.6 / mm, 1.6 / mm)) + 0.08 * _cloud(chance, shape, (5 / mm, 5 / mm))
    else:
        level *= (
            1 + 0.05 * _cloud(chance, shape, (120 / mm, 500 / mm)) + 0.03 * _cloud(chance, shape, (0.9 / mm, 0.9 / mm))
        )
    tinted = np.stack(
        [1 + chance.uniform(0, 0.02) * _cloud(chance, shape, (90 / mm, 90 / mm)) for _ in range(3)], axis=-1
    )
    return np.clip(level, 0.2, 1.6)[..., None] * tinted * _of_grey(colour)


def _leather(chance, colour: np.ndarray, shape: tuple[int, int], mm: float) -> np.ndarray:
    level = 1 + 0.05 * _cloud(chance, shape, (180 / mm, 180 / mm)) + 0.03 * _cloud(chance, shape, (25 / mm, 25 / mm))
    level += chance.uniform(0.02, 0.05) * _cloud(chance, shape, (1.3 / mm, 1.3 / mm))
    return np.clip(level, 0.4, 1.6)[..., None] * _of_grey(colour)


def _of_grey(grey: np.ndarray) -> np.ndarray:
    """Linear light of grey levels (IEC 61966-2-1)."""
    share = np.asarray(grey, float) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _developed(chance, light: np.ndarray) -> np.ndarray:
    """What a camera makes of light: exposed for the brightest, blurred, noisy, its colours softened, sharpened."""
    light = light * np.float32(chance.uniform(0.8, 0.98) / np.quantile(light[::16, ::16], 0.998))
    height, width = light.shape[:2]
    y, x = np.ogrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    light *= (1 - chance.uniform(0, 0.15) * (x * x + y * y)).astype(np.float32)[..., None]
    light = np.maximum(cv2.GaussianBlur(light, (0, 0), chance.uniform(0.6, 1.1)), 0)
    electrons = chance.uniform(1500, 8000)
    spread = np.sqrt(light / np.float32(electrons) + np.float32((3.0 / electrons) ** 2))
    light += spread * chance.standard_normal(light.shape, dtype=np.float32)
    light = np.clip(light, 0, 1)
    grey = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** np.float32(1 / 2.4) - 0.055) * np.float32(255)
    luma = cv2.cvtColor(grey, cv2.COLOR_RGB2YCrCb)
    for plane in (1, 2):
        luma[..., plane] = cv2.GaussianBlur(luma[..., plane], (0, 0), 1.5)
    soft = cv2.GaussianBlur(luma[..., 0], (0, 0), 1.2)
    luma[..., 0] += np.float32(chance.uniform(0.1, 0.6)) * (luma[..., 0] - soft)
    return np.clip(cv2.cvtColor(luma, cv2.COLOR_YCrCb2RGB) + 0.5, 0, 255).astype(np.uint8)
