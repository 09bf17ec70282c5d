"""Place the edge of the leather, and of the holes in it, to a fraction of a pixel of the photo."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from .colours import disc, half_light, lab
from .needles import LONGEST, followed
from .slits import find_slits, without_slits
from .tips import sharpened

WINDOW, STEP, MERGED = 26.0, 4, 2
"""Standard deviation, in pixels, of the window in which leather and floor are learnt; one pixel in so many each way is
looked at, and so many of these each way become one before the window is laid over them, which changes little and is fast."""
FAINTEST = 1e-6
"""Share of the window that all that is known of a side counts for, where little of it is near."""
SMOOTHING = 5.0
LEAST_BLUR, MOST_BLUR = 0.7, 5.0
"""The judgement of a pixel is smoothed by SMOOTHING / contrast pixels, within limits: enough that noise cannot flip it."""
TOWARDS_LIGHT, MIDDLES = 0.5, (0.43, 0.75)
"""How far from the middle of two colours to the colour of half the light of each the edge is sought, and within which shares of the
way from floor to leather: further towards the floor, shadows and seams would pass for dark leather (measured)."""
THIN, WIDEST, SOLID, ONWARD, TURNS, LINE = 4.0, 8.0, 0.75, (14.0, 24.0, 1.0), np.radians([-12, -6, 0, 6, 12]), 0.3
"""Pixels: what is as long as this and no wider than that may be a line on the floor, unless it looks as much like leather as this;
from where to where beyond its end, in steps of what, and turned by how much, it is looked for; and how much like leather it is
there."""
ODD, ODD_SPREADS = 0.4, 8.0
"""A colour beyond that of leather or floor by more than this share of the way between them, and by so many standard deviations,
is that of something else."""
SPECK, SPECK_RIM, ALL_ROUND = 30, 3, 0.65
"""Pixels that something else may be long to count as a speck, and by which its rim is blurred; the share of what lies around it
that must be leather, or floor, for it to lie on that."""
SHADED, STRIP, CELL, DIFFER = 0.1, 4.0, 4, 0.15
"""Standard deviation, as a share, of what light and shadow do to the colour of a floor; that in pixels of a window, of cells of so many
each way, in which it is seen whether they do; and how far there the judgements with and without them must lie apart: light is told
from leather by hue alone then, which JPEG stores at half the sharpness (measured on rendered photos)."""
NOISE, MOST_NOISE, DRAWS, TILE = 3.5, 5.0, 4, 509
"""Standard deviation, in grey levels of 255, of the noise that an outline is tried with, in pixels of a mm (the larger a pixel, the
less noise a photo has), and at most; how often; and the side in pixels of the square of it that is repeated. An end that little
noise moves far is not known (measured on rendered photos)."""
SHADE, LEAST_BRIGHT = 0.5, 25.0
"""Share of the L* of leather by which a shadow in it is as unlike leather as floor is; leather darker than this L* shows it less."""
AROUND = 40.0
"""Pixels around a place that somebody found to be traced correctly within which nothing is in doubt."""
ALONG = 6.0
"""Standard deviation in pixels of the smoothing along an outline by which its raggedness is measured."""


@dataclass(frozen=True)
class Edge:
    """The outline in pixels (column, row; pixel centres at whole numbers), with points along it; how ragged it is: two
    thirds of it lie nearer than so many pixels to the same outline smoothed; what draws it again with noise in grey levels
    from a square that is repeated over the photo; and lines that run into the leather from it."""

    outline: Polygon
    places: np.ndarray
    ragged: float
    again: Callable[[np.ndarray], Polygon | None]
    lines: list[LineString]


def trace_edge(
    picture: np.ndarray, leather: np.ndarray, holes: np.ndarray, usable: np.ndarray, reach: float, smallest_hole: float
) -> Edge | None:
    """Outline of a region with its holes.

    Along the rough outline each pixel is judged by Fisher's linear discriminant (1936) between the leather and the
    floor near by; the outline is where the smoothed judgement passes the middle. What covers half of a pixel gives half of
    its light (sRGB, IEC 61966-2-1), so between dark and bright the middle lies nearer to the bright colour.

    Parameters
    ----------
    picture : (h, w, 3) uint8 RGB
    leather : (h, w) bool
        The hide less its holes, known to within ``reach`` pixels.
    holes : (h, w) bool
        What may be a hole.
    usable : (h, w) bool
        Where floor and leather may be learnt: on the floor, not on a reference.
    reach : float
        Pixels.
    smallest_hole : float
        Diameter in pixels of the smallest hole that is kept.

    Returns
    -------
    Edge or None
        None if no region is left.
    """
    whole = leather
    for deep, within in ((0.6 * reach, 1.3 * reach), (2.0, reach)):
        band = Band(picture, whole, usable, within, Sides(picture, whole, usable, deep))
        whole = band.smoothed(band.cover(), within) > 0
    # A faded tip may lie further out than the outline was in doubt, and a line on the floor must be seen to go on.
    sides = Sides(picture, whole, usable, 2.0)
    band = Band(picture, whole, usable, 1.25 * LONGEST, sides)
    blur = float(np.median(band.blur)) if len(band.blur) else LEAST_BLUR

    def drawn(noise: np.ndarray | None = None) -> tuple[Polygon | None, float, list[LineString]]:
        """The outline, how ragged it was before its tips were put right, and lines that run into it."""
        cover = band.cover(noise)
        outline = _largest(band.smoothed(cover, 0.7 * reach), holes, smallest_hole)
        if outline is None:
            return None, 0.0, []
        ragged = _ragged(np.asarray(outline.exterior.coords))
        # Leather lies clear of paper, so what leads up to it is a line on the floor.
        outline = _without_lines(outline, np.where(usable, cover, np.float32(1)))
        outline = _with_tips(followed(outline, cover), cover, blur)
        slits, lines = find_slits(outline, lambda places: sides.unlike(picture, places))
        return without_slits(outline, slits), ragged, lines

    outline, ragged, lines = drawn()
    if outline is None:
        return None
    places = shapely.get_coordinates(shapely.segmentize(outline.boundary, 12.0))
    places = places[usable[tuple(np.clip(np.round(places).astype(int), 0, np.array(usable.shape[::-1]) - 1).T[::-1])]]
    return Edge(outline, places, ragged, lambda tile: drawn(band.noise(picture, tile))[0], lines)


def unsteady(edge: Edge, pixel_mm: float, enough_mm: float = np.inf, correct=()) -> tuple[float, tuple[float, float]]:
    """By how many mm some end of an outline moves, on average, when its photo is given a little more noise; where, in pixels.

    No further noise is tried once the average will be more than enough. Ends near pixels that are known to be traced correctly,
    (n, 2), do not count.
    """
    noise = min(MOST_NOISE, NOISE / pixel_mm)
    tiles = noise * np.random.default_rng(0).standard_normal((DRAWS, TILE, TILE), np.float32)
    # an outline that noise can wipe out moves by its own size
    gone, moves = (edge.outline.length, edge.outline.exterior.coords[0]), []
    passed = shapely.buffer(shapely.multipoints(np.reshape(correct, (-1, 2))), AROUND)

    def move(tile: np.ndarray) -> tuple[float, tuple[float, float]]:
        other = edge.again(tile)
        return gone if other is None else _apart(edge.outline, other, passed)

    with ThreadPoolExecutor(2) as pool:
        while len(moves) < DRAWS and sum(moved for moved, _ in moves) * pixel_mm <= DRAWS * enough_mm:
            moves += pool.map(move, tiles[len(moves) : len(moves) + 2])
    return float(np.mean([moved for moved, _ in moves])) * pixel_mm, max(moves)[1]


def _apart(one: Polygon, other: Polygon, passed) -> tuple[float, tuple[float, float]]:
    """How far two outlines lie apart at most outside of what is passed over, without their holes, and where."""
    furthest, where = 0.0, (np.nan, np.nan)
    one, other = (shape.simplify(0.2) for shape in (one, other))
    for ring, points in ((one.exterior, other.exterior), (other.exterior, one.exterior)):
        shapely.prepare(ring)
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(points, 2.0)))
        points = points[~shapely.dwithin(ring, points, max(furthest, 1.0)) & ~shapely.intersects(passed, points)]
        if len(points):
            away = shapely.distance(ring, points)
            furthest, where = float(away.max()), points[int(np.argmax(away))].coords[0]
    return furthest, where


def _ragged(ring: np.ndarray) -> float:
    import cv2

    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    reach = int(4 * ALONG)
    at = np.arange(-reach, int(along[-1]) + reach) % along[-1]
    even = np.column_stack([np.interp(at, along, axis) for axis in ring.T]).astype(np.float32)
    away = (even - cv2.GaussianBlur(even, (1, 0), sigmaX=1e-6, sigmaY=ALONG))[reach : len(even) - reach]
    return float(np.quantile(np.hypot(*away.T), 0.68)) if len(away) else 0.0


class Sides:
    """Colours of leather and floor near each place, learnt from one pixel in ``step`` each way, and how to tell them apart.

    For every ``MERGED`` of these pixels each way ``ways`` holds the weights of L*, a* and b* and the offset that give the share of
    the way from floor to leather, ``steady`` the same where light and shadow shall count for little, ``facts`` the contrast, that
    share for a pixel half covered, and L* of the leather.
    """

    def __init__(
        self, picture: np.ndarray, leather: np.ndarray, usable: np.ndarray, deep: float, window: float = WINDOW, step: int = STEP
    ):
        import cv2

        self.step = step
        few = tuple(slice(None, side // (MERGED * step) * MERGED * step, step) for side in leather.shape)
        colours = lab(np.ascontiguousarray(picture[few]))
        inner, open_ground = leather[few].astype(np.uint8), usable[few]
        means, spreads, weights = [], [], []
        for side in (inner, 1 - inner):
            depth = cv2.distanceTransform(side, cv2.DIST_L2, 3)
            sure = (depth > deep / step + 0.5) & (depth < 4 * window / step) & open_ground
            mean, spread, weight = _local(colours, sure, window / step)
            means.append(mean), spreads.append(spread), weights.append(weight)
        pooled = (spreads[0] + spreads[1]) / 2
        usual = pooled[(weights[0] > 0.1) & (weights[1] > 0.1)]
        usual = usual.mean(axis=0) if len(usual) else np.eye(3, dtype=np.float32)
        spread = 0.8 * pooled + 0.2 * usual + 0.5 * np.eye(3, dtype=np.float32)
        # L* is 16 short of being in proportion to the cube root of the light, as a* and b* are
        ray = SHADED * (means[1] + np.float32([16, 0, 0]))
        self.steady, _ = _ways(spread + ray[..., :, None] * ray[..., None, :], *means)
        self.ways, square = _ways(spread, *means)
        middle = _along(self.ways, half_light(*means))
        middle = np.clip(0.5 + TOWARDS_LIGHT * (middle - 0.5), *MIDDLES)
        self.facts = np.dstack([np.sqrt(square), middle, means[0][..., 0]]).astype(np.float32)

    def at(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """At (n, 2) places (column, row): the weights of the colours and the offset, (n, 4); the contrast, the middle and L* of
        the leather, (n,)."""
        within = self._within(places)
        return _sampled(self.ways, within), *_sampled(self.facts, within).T

    def _within(self, places: np.ndarray) -> np.ndarray:
        """Places in the maps of pixels of the picture."""
        return (np.asarray(places, dtype=np.float32) / self.step - (MERGED - 1) / 2) / MERGED

    def judged(self, picture: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, ...]:
        """Of n pixels: their ways, (n, 4), steady where shadow or light falls; how far each pixel is on its way, and on the plain one,
        from floor (0) to leather (1); the contrast and the middle, (n,)."""
        places = np.c_[columns, rows]
        ways, contrast, middle, _ = self.at(places)
        colours = _lab_of(picture[rows, columns])
        plain = _along(ways, colours)
        share = _in_shadow(plain, _along(_sampled(self.steady, self._within(places)), colours), rows, columns, picture.shape[:2])
        some = np.flatnonzero(share)
        if len(some):
            ways[some] += share[some, None] * (_sampled(self.steady, self._within(places[some])) - ways[some])
        return ways, _along(ways, colours), plain, contrast, middle

    def unlike(self, picture: np.ndarray, places: np.ndarray) -> np.ndarray:
        """How unlike leather the picture is at (..., 2) places: 1 as much as the floor, or as a shadow is, and about 0 on leather."""
        flat = np.asarray(places, dtype=np.float32).reshape(-1, 2)
        colours = lab(_sampled(picture, flat)[:, None])[:, 0]
        ways, _, middle, bright = self.at(flat)
        floor = 1 - _covered(_along(ways, colours), middle)
        shadow = (bright - colours[:, 0]) / (SHADE * np.maximum(bright, LEAST_BRIGHT))
        return np.clip(np.maximum(floor, shadow), -0.5, 1.25).reshape(places.shape[:-1])


def _sampled(picture: np.ndarray, places: np.ndarray) -> np.ndarray:
    """The picture at (n, 2) places (column, row), (n, channels); (n,) if it has but one."""
    import cv2

    x, y = np.ascontiguousarray(places.T[..., None])
    rows = 30_000  # OpenCV takes less than 2^15
    parts = (np.s_[at : at + rows] for at in range(0, len(places), rows))
    return np.concatenate([cv2.remap(picture, x[part], y[part], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0] for part in parts])


def _local(colours: np.ndarray, where: np.ndarray, sigma: float):
    """Mean and covariance of the colours ``where``, near each ``MERGED`` pixels each way, and the share of the window that had any."""
    import cv2

    mask = where.astype(np.float32)
    planes = [mask, *(colours[..., one] * mask for one in range(3))]
    planes += [planes[1 + a] * colours[..., b] for a, b in _PAIRS]
    merged = cv2.resize(cv2.merge(planes), None, fx=1 / MERGED, fy=1 / MERGED, interpolation=cv2.INTER_AREA)
    size, sigma = merged.shape[1::-1], sigma / MERGED
    near = cv2.GaussianBlur(merged, (0, 0), sigma)
    # A wide, faint second window reaches where the first finds nothing.
    small = tuple(max(1, side // 4) for side in size)
    wide = cv2.merge([cv2.resize(plane, small, interpolation=cv2.INTER_AREA) for plane in cv2.split(merged)])
    near += 0.01 * cv2.resize(cv2.GaussianBlur(wide, (0, 0), sigma), size, interpolation=cv2.INTER_LINEAR)
    # further away still, as in a hole too small to learn from far from the outer edge, all there is must do
    near += FAINTEST * merged.mean(axis=(0, 1)) / max(float(merged[..., 0].mean()), 1e-6)
    weight = np.maximum(near[..., :1], 1e-9)
    mean = near[..., 1:4] / weight
    spread = np.empty((*weight.shape[:2], 3, 3), np.float32)
    for (a, b), square in zip(_PAIRS, np.moveaxis(near[..., 4:] / weight, -1, 0)):
        spread[..., a, b] = spread[..., b, a] = square - mean[..., a] * mean[..., b]
    return mean, spread, near[..., 0]


_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def _solved(spread: np.ndarray, apart: np.ndarray) -> np.ndarray:
    """``spread``^-1 ``apart`` for many symmetric 3 x 3 matrices, by Cramer's rule (five times faster than numpy's solver)."""
    (a, b, c), (_, d, e), (_, _, f) = (np.moveaxis(spread[..., row, :], -1, 0) for row in range(3))
    aa, bb, cc, dd, ee, ff = d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b
    x, y, z = np.moveaxis(apart, -1, 0)
    scaled = np.stack([aa * x + bb * y + cc * z, bb * x + dd * y + ee * z, cc * x + ee * y + ff * z], axis=-1)
    return scaled / (a * aa + b * bb + c * cc)[..., None]


def _ways(spread: np.ndarray, leather: np.ndarray, floor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The weights of the colours, and the offset, that give 0 on the floor and 1 on the leather; and the square of the contrast."""
    apart = leather - floor
    turn = _solved(spread, apart)
    square = np.maximum(np.einsum("...i,...i", turn, apart), 1e-3)
    slope = turn / square[..., None]
    return np.dstack([slope, -np.einsum("...i,...i", floor, slope)]).astype(np.float32), square


def _lab_of(pixels: np.ndarray) -> np.ndarray:
    """L*a*b* of (n, 3) pixels."""
    return lab(pixels[:, None])[:, 0] if len(pixels) else np.zeros((0, 3), np.float32)


def _along(ways: np.ndarray, colours: np.ndarray) -> np.ndarray:
    """How far colours, (..., 3), are on ways, (..., 4), from floor (0) to leather (1)."""
    return np.einsum("...i,...i", colours, ways[..., :3]) + ways[..., 3]


def _in_shadow(plain: np.ndarray, steady: np.ndarray, rows: np.ndarray, columns: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """By which share each of some pixels is to be judged steadily, since the two judgements of it, (n,) each, and of its neighbours
    differ as where shadow or light falls: (n,)."""
    import cv2

    high, wide = (-(-side // CELL) for side in shape)
    cell = rows // CELL * wide + columns // CELL
    differ = np.clip(plain, 0, 1) - np.clip(steady, 0, 1)
    sums = (np.bincount(cell, weights, high * wide).reshape(high, wide).astype(np.float32) for weights in (differ, None))
    differ, seen = (cv2.GaussianBlur(part, (0, 0), STRIP / CELL) for part in sums)
    share = np.clip(np.abs(differ) / np.maximum(seen, 1e-3) / DIFFER - 1, 0, 1)
    return _sampled(share, (np.c_[columns, rows].astype(np.float32) - (CELL - 1) / 2) / CELL)


class Band:
    """The pixels near the edge of a region: how far each is on the way from floor to leather by its colour, and by how many
    pixels to smooth it so that noise does not flip it."""

    def __init__(self, picture: np.ndarray, leather: np.ndarray, usable: np.ndarray, reach: float, sides: Sides):
        import cv2

        self.leather = leather
        into, out = (cv2.distanceTransform(side, cv2.DIST_L2, 3) for side in (leather.view(np.uint8), (~leather).view(np.uint8)))
        into += out
        self.rows, self.columns = np.nonzero((into <= reach) & usable)
        self.away = into[self.rows, self.columns]
        self.ways, self.way, plain, self.contrast, self.middle = sides.judged(picture, self.rows, self.columns)
        beyond = np.maximum(ODD, ODD_SPREADS / self.contrast)
        self.odd = (plain < -beyond) | (plain > 1 + beyond)
        self.blur = np.clip(SMOOTHING / self.contrast, LEAST_BLUR, MOST_BLUR)
        self._gain: np.ndarray | None = None

    def noise(self, picture: np.ndarray, tile: np.ndarray) -> np.ndarray:
        """What noise as strong as a square's, in grey levels, in each channel adds to the way of each pixel, (n,)."""
        if self._gain is None:
            seen = picture[self.rows, self.columns].astype(np.float32)
            self._gain = np.sqrt(sum((_along(self.ways, _lab_of(seen + step)) - self.way) ** 2 for step in np.eye(3, dtype=np.float32)))
        return self._gain * tile[self.rows % len(tile), self.columns % len(tile)]

    def cover(self, noise: np.ndarray | None = None) -> np.ndarray:
        """Share of each pixel covered by leather, (h, w) float32, with some noise added to the way of each in the band."""
        cover = self.leather.astype(np.float32)
        if not len(self.way):
            return cover
        way = self.way if noise is None else self.way + noise
        # Wide limits: cutting noise short on the rougher side alone would move the edge.
        cover[self.rows, self.columns] = np.clip(_covered(way, self.middle), -1, 2)
        if self.odd.any():
            _pass_over_specks(cover, self.rows[self.odd], self.columns[self.odd])
        return cover

    def smoothed(self, cover: np.ndarray, reach: float) -> np.ndarray:
        """From -1 (floor) to 1 (leather), smoothed within reach of the region's edge; as the region says elsewhere."""
        import cv2

        near = self.away <= reach
        places, blur = (self.rows[near], self.columns[near]), self.blur[near]
        field = np.where(self.leather, np.float32(1), np.float32(-1))
        field[places] = 2 * cover[places] - 1
        level = np.log(blur / LEAST_BLUR) * np.float32(4 / np.log(MOST_BLUR / LEAST_BLUR))
        smooth = np.zeros_like(blur)
        for number in range(5):
            share = np.maximum(1 - np.abs(level - number), 0)
            if share.any():
                smooth += share * cv2.GaussianBlur(field, (0, 0), LEAST_BLUR * (MOST_BLUR / LEAST_BLUR) ** (number / 4))[places]
        field[places] = smooth
        return field


def _pass_over_specks(cover: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> None:
    """Make small things of another colour, seen at these pixels, leather or floor, in place, as what lies around them is."""
    import cv2

    top, left = (max(side.min() - SPECK_RIM - 2, 0) for side in (rows, columns))
    part = cover[top : rows.max() + SPECK_RIM + 3, left : columns.max() + SPECK_RIM + 3]
    specks = np.zeros(part.shape, np.uint8)
    specks[rows - top, columns - left] = 1
    # with a frame, so that every pixel has neighbours
    specks = np.pad(cv2.dilate(specks, disc(SPECK_RIM)), 1)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(specks, connectivity=8)
    # every pixel of a rim with the specks above, below and beside it, each counted once
    rows, columns = np.nonzero((cv2.dilate(specks, disc(1)) & ~specks)[1:-1, 1:-1])
    beside = np.sort([labels[rows + down, columns + right] for down, right in ((0, 1), (2, 1), (1, 0), (1, 2))], axis=0)
    beside[1:][beside[1:] == beside[:-1]] = 0
    leather = part[rows, columns] > 0.5
    on_leather, all_round = (np.bincount(beside[:, some].ravel(), minlength=len(facts)) for some in (leather, slice(None)))
    share = np.where(all_round > 0, on_leather / np.maximum(all_round, 1), 0.5)
    passed = (facts[:, 2:4].max(axis=1) <= SPECK) & (np.maximum(share, 1 - share) > ALL_ROUND)
    passed[0] = False
    rows, columns = np.nonzero(specks)
    label = labels[rows, columns]
    over = passed[label]
    part[rows[over] - 1, columns[over] - 1] = share[label[over]] > 0.5


def _covered(way: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """Share of a pixel covered, from how far its colour is on the way from floor to leather: 1/2 at the middle, 0 and 1 at the
    ends, and beyond them in proportion."""
    within = np.clip(way, 0, 1)
    beyond = way - within
    return within * (1 - middle) / (within * (1 - 2 * middle) + middle) + beyond * np.where(way < 0, (1 - middle) / middle, middle / (1 - middle))


_ONE_AT_A_TIME = Lock()
"""Contours take twelve bytes a pixel while they are drawn."""


def _largest(field: np.ndarray, holes: np.ndarray, smallest: float) -> Polygon | None:
    """The largest area above zero, less its holes that were seen to be holes."""
    from contourpy import contour_generator

    with _ONE_AT_A_TIME:
        areas = contour_generator(z=np.pad(field, 1, constant_values=-1), fill_type="OuterOffset").filled(0, np.inf)
    best = None
    for points, offsets in zip(*areas):
        rings = [points[start:end] - 1 for start, end in zip(offsets[:-1], offsets[1:]) if end - start > 3]
        if rings and (best is None or Polygon(rings[0]).area > Polygon(best[0]).area):
            best = rings
    if best is None:
        return None
    kept = [ring for ring in best[1:] if Polygon(ring).area >= np.pi / 4 * smallest**2 and _marked(ring, holes)]
    return largest_polygon(Polygon(best[0], kept))


def _without_lines(outline: Polygon, cover: np.ndarray) -> Polygon:
    """The outline less what is narrow and goes on as a line on the floor beyond its end: a seam between planks, a joint of tiles."""
    import cv2

    plain = outline.simplify(0.2)
    wide = plain.buffer(-WIDEST / 2).buffer(WIDEST / 2, join_style="mitre")
    lines = []
    bits = shapely.get_parts(plain.difference(wide))
    for bit in bits[shapely.length(bits) > 2 * THIN]:
        corners = shapely.get_coordinates(bit)
        near = shapely.clip_by_rect(wide, *(corners.min(axis=0) - THIN), *(corners.max(axis=0) + THIN))
        away = shapely.distance(near, shapely.points(corners))
        if away.max() < THIN:
            continue
        end = corners[np.argmax(away)]
        way = end - shapely.get_coordinates(bit.centroid)[0]
        length = np.hypot(*way)
        way /= length

        def seen(along, turn=0.0):
            ahead = np.array([np.cos(turn) * way[0] - np.sin(turn) * way[1], np.sin(turn) * way[0] + np.cos(turn) * way[1]])
            side = np.array([-ahead[1], ahead[0]])
            grid = (end + along[:, None, None] * ahead + np.arange(-THIN, THIN + 0.1, 0.5)[:, None] * side).astype(np.float32)
            return cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR)

        solid = seen(np.arange(-length, 0.0)).max(axis=1).mean() > SOLID
        if not solid and max(seen(np.arange(*ONWARD), turn).mean(axis=0).max() for turn in TURNS) > LINE:
            lines.append(bit)
    return largest_polygon(outline.difference(shapely.union_all(lines).buffer(0.05))) or outline if lines else outline


def _with_tips(outline: Polygon, cover: np.ndarray, blur: float) -> Polygon:
    drawn = largest_polygon(Polygon(sharpened(np.asarray(outline.exterior.coords), cover, blur)))
    return outline if drawn is None else largest_polygon(Polygon(drawn.exterior, outline.interiors)) or outline


def largest_polygon(shape) -> Polygon | None:
    """The largest simple polygon of a shape that may cross itself."""
    parts = shapely.get_parts(shapely.get_parts(shape if shape.is_valid else shapely.make_valid(shape)))
    return max((part for part in parts if isinstance(part, Polygon)), key=lambda part: part.area, default=None)


def _marked(ring: np.ndarray, holes: np.ndarray) -> bool:
    low, high = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0), np.ceil(ring.max(axis=0)).astype(int) + 1
    return bool(holes[low[1] : high[1], low[0] : high[0]].any())
