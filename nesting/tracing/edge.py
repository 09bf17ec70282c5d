"""Place the edge of the leather, and of the holes in it, to a fraction of a pixel of the photo."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..geometry import largest_polygon
from .colours import disc
from .contour import contours
from .needles import FAR, LONGEST, NEAR, corners, followed, unit
from .sides import CELL, Sides, along, covered, lab_of
from .slits import find_slits, without_slits
from .tips import sharpened

SMOOTHING = 5.0
LEAST_BLUR, MOST_BLUR = 0.7, 5.0
"""The judgement of a pixel is smoothed by SMOOTHING / contrast pixels, within limits: enough that noise cannot flip it."""
BROAD, TIP_DEG = 1.5, 75.0
"""How many times as far from the edge as it may lie a pixel is judged, and how sharp a corner is at most that is a tip, around which it
is judged as far as a tip is followed."""
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
NOISE, MOST_NOISE, DRAWS, TILE = 3.5, 5.0, 4, 509
"""Standard deviation, in grey levels of 255, of the noise that an outline is tried with, in pixels of a mm (the larger a pixel, the
less noise a photo has), and at most; how often; and the side in pixels of the square of it that is repeated. An end that little
noise moves far is not known (measured on rendered photos)."""
HUE_NOISE, HUE_BLUR = 2.0, 1.5
"""Standard deviation of further noise in hue alone, in each of Cb and Cr, and how far in pixels it is blurred: what JPEG leaves of
hue beside an edge is off by 2 to 4 grey levels, alike over two pixels and more (measured on wedges saved with quality 70)."""
CLEARLY = 0.75
"""Where half of the tries move an end by less than this share of what is put up with, or that by less than this share of what they
move, the other half is spared."""
MOST_ENDS = 100
"""How many ends that move are looked for at most."""
AROUND = 40.0
"""Pixels around a place that somebody found to be traced correctly within which nothing is in doubt."""
ALONG = 6.0
"""Standard deviation in pixels of the smoothing along an outline by which its raggedness is measured."""


ACROSS = 9.0
"""Pixels to either side of an outline that its blur is looked for in."""


@dataclass(frozen=True)
class Edge:
    """The outline in pixels (column, row; pixel centres at whole numbers), with points along it; how ragged it is: two
    thirds of it lie nearer than so many pixels to the same outline smoothed; standard deviation in pixels of the blur across it; what
    draws it again with noise, in grey levels in each channel and in hue, from squares that are repeated over the photo; lines that run
    into the leather from it;
    how unlike leather the photo is at (..., 2) places, none once its lines are sought; and lines that somebody told are marks."""

    outline: Polygon
    places: np.ndarray
    ragged: float
    blur: float
    again: Callable[[np.ndarray], Polygon | None]
    lines: list[LineString]
    unlike: Callable[[np.ndarray], np.ndarray] | None
    marks: tuple[LineString, ...] = ()


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
    band = Band(picture, whole, usable, BROAD * reach, sides, 1.25 * LONGEST)
    blur = float(np.median(band.blur)) if len(band.blur) else LEAST_BLUR

    def unlike(places: np.ndarray) -> np.ndarray:
        return sides.unlike(picture, places)

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
        # with noise anew: what ends short as a bay goes on as a slit
        slits, lines = find_slits(outline, unlike)
        return without_slits(outline, slits), ragged, lines

    outline, ragged, lines = drawn()
    if outline is None:
        return None
    places = shapely.get_coordinates(shapely.segmentize(outline.boundary, 12.0))
    places = places[usable[tuple(np.clip(np.round(places).astype(int), 0, np.array(usable.shape[::-1]) - 1).T[::-1])]]
    blurred = _blurred(np.asarray(outline.exterior.coords), unlike)
    return Edge(outline, places, ragged, blurred, lambda tile: drawn(band.noise(picture, tile))[0], lines, unlike)


def unsteady(edge: Edge, pixel_mm: float, enough_mm: float, correct=()) -> tuple[float, list[tuple[float, float]]]:
    """By how many mm some end of an outline moves, on average, when its photo is given a little more noise.

    No further noise is tried once the average is clearly less than enough, or clearly more. Ends near pixels that are known to be
    traced correctly, (n, 2), do not count.

    Returns
    -------
    moved_mm : float
    ends : list of (px, py)
        Those that move by more than enough, in pixels, the furthest first, each found as if the ones before were correct; at most
        ``MOST_ENDS``.
    """
    tiles, tries = _tiles(min(MOST_NOISE, NOISE / pixel_mm)), []
    passed, first, ends = np.reshape(np.asarray(correct, dtype=float), (-1, 2)), None, []
    with ThreadPoolExecutor(2) as pool:
        while len(ends) < MOST_ENDS:
            moves = []
            # one end is enough to refuse: for the others no further noise is tried
            for number in range(0, len(tries) if ends else DRAWS, 2):
                if number == len(tries):
                    tries += pool.map(lambda tile: _apart(edge.outline, edge.again(tile)), tiles[number : number + 2])
                moves += [_furthest(moved, passed) for moved in tries[number : number + 2]]
                average = pixel_mm * float(np.mean([away for away, *_ in moves]))
                if not CLEARLY * enough_mm <= average <= enough_mm / CLEARLY:
                    break
            first = average if first is None else first
            if average <= enough_mm:
                break
            ends.append(tuple(max(moves)[1:]))
            passed = np.vstack([passed, ends[-1]])
    return first, ends


def _tiles(noise: float) -> np.ndarray:
    """Squares of noise in grey levels, (DRAWS, 2, TILE, TILE): in each channel, and in hue."""
    import cv2

    tiles = np.random.default_rng(0).standard_normal((DRAWS, 2, TILE, TILE), np.float32)
    tiles[:, 0] *= noise
    for tile in tiles:
        tile[1] = cv2.GaussianBlur(tile[1], (0, 0), HUE_BLUR)
        tile[1] *= HUE_NOISE / tile[1].std()
    return tiles


def _apart(one: Polygon, other: Polygon | None) -> np.ndarray:
    """How far two outlines lie apart without their holes, and where, (n, 3), wherever that is more than a pixel."""
    if other is None:
        # an outline that noise can wipe out moves by its own size
        ring = shapely.get_coordinates(one.exterior)
        return np.c_[np.full(len(ring), one.length), ring]
    found = []
    one, other = (shape.simplify(0.2) for shape in (one, other))
    for ring, points in ((one.exterior, other.exterior), (other.exterior, one.exterior)):
        shapely.prepare(ring)
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(points, 2.0)))
        points = points[~shapely.dwithin(ring, points, 1.0)]
        # a tree of its sides is several times faster than the distance to the ring
        corners = shapely.get_coordinates(ring)
        sides = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))
        (order, _), away = sides.query_nearest(points, return_distance=True, all_matches=False)
        found.append(np.c_[away, shapely.get_coordinates(points[order])])
    return np.vstack(found)


def _furthest(moved: np.ndarray, passed: np.ndarray) -> tuple[float, ...]:
    """The furthest of some places, (n, 3) as :func:`_apart` tells them, that are not near others that are passed over."""
    near = np.hypot(*(moved[:, None, 1:] - passed).T).T < AROUND
    return max(map(tuple, moved[~near.any(axis=1)].tolist()), default=(0.0, np.nan, np.nan))


def _ragged(ring: np.ndarray) -> float:
    import cv2

    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    reach = int(4 * ALONG)
    at = np.arange(-reach, int(along[-1]) + reach) % along[-1]
    even = np.column_stack([np.interp(at, along, axis) for axis in ring.T]).astype(np.float32)
    away = (even - cv2.GaussianBlur(even, (1, 0), sigmaX=1e-6, sigmaY=ALONG))[reach : len(even) - reach]
    return float(np.quantile(np.hypot(*away.T), 0.68)) if len(away) else 0.0


def _blurred(ring: np.ndarray, unlike) -> float:
    """Standard deviation, in pixels, of the blur across an outline: half of what lies between 16 and 84 % of the way over its edge, the
    median all along."""
    even, _, _, _ = corners(ring, NEAR, FAR)
    if not len(even):
        return 0.0
    out = unit(np.roll(even, 2, axis=0) - np.roll(even, -2, axis=0))[:, ::-1] * (-1, 1)
    at = np.arange(-ACROSS, ACROSS + 0.1, 0.5)
    seen = np.median(unlike(even[::5, None] + at[:, None] * out[::5, None]), axis=0)
    seen = np.maximum.accumulate(seen if seen[0] < seen[-1] else seen[::-1])
    low, high = np.interp((0.16, 0.84), (seen - seen[0]) / max(seen[-1] - seen[0], 1e-6), at)
    return float(high - low) / 2


class Band:
    """The pixels near the edge of a region: how far each is on the way from floor to leather by its colour, and by how many
    pixels to smooth it so that noise does not flip it."""

    def __init__(
        self,
        picture: np.ndarray,
        leather: np.ndarray,
        usable: np.ndarray,
        reach: float,
        sides: Sides,
        beyond_tips: float = 0.0,
    ):
        import cv2

        self.leather = leather
        into, out = (
            cv2.distanceTransform(side, cv2.DIST_L2, 3) for side in (leather.view(np.uint8), (~leather).view(np.uint8))
        )
        into += out
        near = into <= reach
        if beyond_tips:
            near |= _around_tips(leather, beyond_tips)
        self.rows, self.columns = np.nonzero(near & usable)
        self.away = into[self.rows, self.columns]
        self.ways, self.way, plain, self.contrast, self.middle = sides.judged(picture, self.rows, self.columns)
        beyond = np.maximum(ODD, ODD_SPREADS / self.contrast)
        self.odd = (plain < -beyond) | (plain > 1 + beyond)
        self.blur = np.clip(SMOOTHING / self.contrast, LEAST_BLUR, MOST_BLUR)
        self._gain: np.ndarray | None = None

    def noise(self, picture: np.ndarray, tile: np.ndarray) -> np.ndarray:
        """What noise, in grey levels in each channel and in hue, (2, t, t), adds to the way of each pixel, (n,)."""
        if self._gain is None:
            seen = picture[self.rows, self.columns].astype(np.float32)
            red, green, blue = (
                along(self.ways, lab_of(seen + step)) - self.way for step in np.eye(3, dtype=np.float32)
            )
            # a grey level of Cb and of Cr, in R'G'B' (ITU-R BT.601, as in JPEG)
            hue = np.hypot(1.772 * blue - 0.344 * green, 1.402 * red - 0.714 * green)
            self._gain = np.stack([np.sqrt(red**2 + green**2 + blue**2), hue])
        return (self._gain * tile[:, self.rows % TILE, self.columns % TILE]).sum(axis=0)

    def cover(self, noise: np.ndarray | None = None) -> np.ndarray:
        """Share of each pixel covered by leather, (h, w) float32, with some noise added to the way of each in the band."""
        cover = self.leather.astype(np.float32)
        if not len(self.way):
            return cover
        way = self.way if noise is None else self.way + noise
        # Wide limits: cutting noise short on the rougher side alone would move the edge.
        cover[self.rows, self.columns] = np.clip(covered(way, self.middle), -1, 2)
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
                smooth += (
                    share
                    * cv2.GaussianBlur(field, (0, 0), LEAST_BLUR * (MOST_BLUR / LEAST_BLUR) ** (number / 4))[places]
                )
        field[places] = smooth
        return field


def _around_tips(leather: np.ndarray, reach: float) -> np.ndarray:
    """What lies within reach of the tips of a region, (h, w) bool."""
    import cv2

    rings, _ = cv2.findContours(leather.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    far = np.ones([-(-side // CELL) for side in leather.shape], np.uint8)
    for ring in rings:
        even, _, _, turn = corners(ring[[*range(len(ring)), 0], 0].astype(float), NEAR, FAR)
        columns, rows = (even[turn < TIP_DEG] / CELL).astype(int).T
        far[rows, columns] = 0
    near = cv2.distanceTransform(far, cv2.DIST_L2, 3) <= reach / CELL + 1
    return np.repeat(np.repeat(near, CELL, axis=0), CELL, axis=1)[: leather.shape[0], : leather.shape[1]]


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
    on_leather, all_round = (
        np.bincount(beside[:, some].ravel(), minlength=len(facts)) for some in (leather, slice(None))
    )
    share = np.where(all_round > 0, on_leather / np.maximum(all_round, 1), 0.5)
    passed = (facts[:, 2:4].max(axis=1) <= SPECK) & (np.maximum(share, 1 - share) > ALL_ROUND)
    passed[0] = False
    rows, columns = np.nonzero(specks)
    label = labels[rows, columns]
    over = passed[label]
    part[rows[over] - 1, columns[over] - 1] = share[label[over]] > 0.5


def _largest(field: np.ndarray, holes: np.ndarray, smallest: float) -> Polygon | None:
    """The largest area above zero, less its holes that were seen to be holes; the rim of the field is made to lie below."""
    field[[0, -1]] = field[:, [0, -1]] = -1
    areas = np.array([Polygon(ring) for ring in contours(field)], dtype=object)
    outer = shapely.is_ccw(shapely.get_exterior_ring(areas))
    if not outer.any():
        return None
    best = max(areas[outer], key=lambda area: area.area)
    inner = [area for area in areas[~outer] if area.area >= np.pi / 4 * smallest**2]
    kept = [
        area
        for area in inner
        if _marked(shapely.get_coordinates(area), holes) and best.contains(area.representative_point())
    ]
    return largest_polygon(Polygon(best.exterior, [area.exterior for area in kept]))


def _without_lines(outline: Polygon, cover: np.ndarray) -> Polygon:
    """The outline less what is narrow and goes on as a line on the floor beyond its end: a seam between planks, a joint of tiles."""
    import cv2

    plain = outline.simplify(0.3)
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
            ahead = np.array(
                [np.cos(turn) * way[0] - np.sin(turn) * way[1], np.sin(turn) * way[0] + np.cos(turn) * way[1]]
            )
            side = np.array([-ahead[1], ahead[0]])
            grid = (end + along[:, None, None] * ahead + np.arange(-THIN, THIN + 0.1, 0.5)[:, None] * side).astype(
                np.float32
            )
            return cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR)

        solid = seen(np.arange(-length, 0.0)).max(axis=1).mean() > SOLID
        if not solid and max(seen(np.arange(*ONWARD), turn).mean(axis=0).max() for turn in TURNS) > LINE:
            lines.append(bit)
    return largest_polygon(outline.difference(shapely.union_all(lines).buffer(0.05))) or outline if lines else outline


def _with_tips(outline: Polygon, cover: np.ndarray, blur: float) -> Polygon:
    drawn = largest_polygon(Polygon(sharpened(np.asarray(outline.exterior.coords), cover, blur)))
    return outline if drawn is None else largest_polygon(Polygon(drawn.exterior, outline.interiors)) or outline


def _marked(ring: np.ndarray, holes: np.ndarray) -> bool:
    low, high = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0), np.ceil(ring.max(axis=0)).astype(int) + 1
    return bool(holes[low[1] : high[1], low[0] : high[0]].any())
