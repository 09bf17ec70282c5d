"""Place the edge of the leather, and of the holes in it, to a fraction of a pixel of the photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias, cast

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..geometry import areal, largest_polygon, polygons
from ..workers import in_threads
from .arrays import Floats, Mask, Picture, Unlike, Whole
from .colours import disc
from .contour import contours
from .curve import CURVE, lengths_along, places_along, sharpness, unit
from .limits import METHOD
from .needles import followed
from .sides import Sides, along, covered, lab_of
from .slits import Lines, find_slits, without_slits
from .tips import sharpened

EDGE = METHOD.edge
Place: TypeAlias = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Edge:
    """The edge of the leather, in pixels (column, row; pixel centres at whole numbers).

    Attributes
    ----------
    outline : Polygon
    places : (n, 2) array
        Points along it.
    ragged : float
        Two thirds of it lie nearer than so many pixels to the same outline smoothed.
    blur : float
        Standard deviation in pixels of the blur across it.
    lines : list of LineString
        That run into the leather from it, or lie within, of which nobody told what they are.
    drawing : Drawing
        What draws it again with noise.
    marks : tuple of LineString
        Lines that somebody told are marks.
    slits : tuple of LineString
        Those that were cut out of it, in the pixels of the drawing,
    uncut : Polygon, optional
        and the outline that they were found in, in these too.
    corner : (float, float)
        Where the drawing begins.
    """

    outline: Polygon
    places: Floats
    ragged: float
    blur: float
    lines: Lines
    drawing: Drawing
    marks: tuple[LineString, ...] = ()
    slits: tuple[LineString, ...] = ()
    uncut: Polygon | None = None
    corner: tuple[float, float] = (0.0, 0.0)

    def again(self, tile: Floats) -> Polygon | None:
        """The outline with noise, in grey levels in each channel and in hue, from squares that are repeated over the
        photo."""
        drawn = self.drawing.again(tile)
        if drawn is None:
            return None
        return shapely.transform(without_slits(drawn, self.slits, self.uncut), lambda places: places + self.corner)


def trace_edge(
    picture: Picture, leather: Mask, holes: Mask, usable: Mask, reach: float, smallest_hole: float
) -> Edge | None:
    """Outline of a region with its holes.

    Along the rough outline each pixel is judged by Fisher's linear discriminant (1936) between the leather and the
    floor near by; the outline is where the smoothed judgement passes the middle. What covers half of a pixel gives half
    of its light (sRGB, IEC 61966-2-1), so between dark and bright the middle lies nearer to the bright colour.

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
    first = EDGE.first_deep_times * reach, EDGE.first_times * reach
    for deep, within in (first, (EDGE.deep_pixels, reach)):
        band = Band(picture, whole, usable, within, Sides(picture, whole, usable, deep))
        whole = band.smoothed(band.cover(), within) > 0
    # A faded tip may lie further out than the outline was in doubt, and a line on the floor must be seen to go on.
    sides = Sides(picture, whole, usable, EDGE.deep_pixels)
    beyond_tips = EDGE.tip_times * METHOD.needles.longest_pixels
    band = Band(picture, whole, usable, EDGE.broad_times * reach, sides, beyond_tips)
    drawing = Drawing(picture, usable, holes, sides, band, EDGE.drawn_times * reach, smallest_hole)
    outline, ragged, lines = drawing.drawn()
    if outline is None:
        return None
    places = shapely.get_coordinates(shapely.segmentize(outline.boundary, EDGE.place_pixels))
    places = places[usable[tuple(np.clip(np.round(places).astype(int), 0, np.array(usable.shape[::-1]) - 1).T[::-1])]]
    blur = _blurred(np.asarray(outline.exterior.coords), drawing.unlike)
    return Edge(outline, places, ragged, blur, lines, drawing)


@dataclass(frozen=True, eq=False)
class Drawing:
    """All that an outline is drawn from, so that it can be drawn again with noise.

    ``picture`` (h, w, 3), ``usable`` and ``holes`` (h, w) as :func:`trace_edge` takes them; ``sides`` and ``band`` as
    it learnt them; ``reach`` from the edge in pixels, within which the outline is drawn; ``smallest_hole`` in pixels.
    """

    picture: Picture
    usable: Mask
    holes: Mask
    sides: Sides
    band: Band
    reach: float
    smallest_hole: float

    def unlike(self, places: Floats) -> Floats:
        """How unlike leather the picture is at (..., 2) places."""
        return self.sides.unlike(self.picture, places)

    def again(self, tile: Floats) -> Polygon | None:
        """The outline with noise, (2, t, t) in grey levels in each channel and in hue."""
        return self.drawn(self.band.noise(self.picture, tile))[0]

    def drawn(self, noise: Floats | None = None) -> tuple[Polygon | None, float, Lines]:
        """The outline, how ragged it was before its tips were put right, and lines that run into it."""
        band = self.band
        blur = float(np.median(band.blur)) if len(band.blur) else EDGE.least_blur_pixels
        cover = band.cover(noise)
        outline = _largest(band.smoothed(cover, self.reach), self.holes, self.smallest_hole)
        if outline is None:
            return None, 0.0, []
        ragged = _ragged(np.asarray(outline.exterior.coords))
        # Leather lies clear of paper, so what leads up to it is a line on the floor.
        outline = _without_lines(outline, np.where(self.usable, cover, np.float32(1)))
        outline = _with_tips(followed(outline, cover), cover, blur)
        # with noise anew: what ends short as a bay goes on as a slit
        slits, lines = find_slits(outline, self.unlike)
        return without_slits(outline, slits), ragged, lines


def unsteady(
    edge: Edge, pixel_mm: float, enough_mm: float, correct: Sequence[Sequence[float]] | Floats = ()
) -> tuple[float, list[Place]]:
    """By how many mm some end of an outline moves, on average, when its photo is given a little more noise.

    No further noise is tried once the average is clearly less than enough, or clearly more. Ends near pixels that are
    known to be traced correctly, (n, 2), do not count.

    Returns
    -------
    moved_mm : float
    ends : list of (px, py)
        Those that move by more than enough, in pixels, the furthest first, each found as if the ones before were
        correct; at most ``METHOD.edge.most_ends``.
    """
    tiles = _tiles(min(EDGE.most_noise, EDGE.noise / pixel_mm))
    passed = np.reshape(np.asarray(correct, dtype=float), (-1, 2))
    tries: list[Floats] = []
    ends: list[Place] = []
    first: float | None = None

    def moved(tile: Floats) -> Floats:
        return _apart(edge.outline, edge.again(tile))

    while len(ends) < EDGE.most_ends:
        moves: list[tuple[float, Place]] = []
        # one end is enough to refuse: for the others no further noise is tried
        for number in range(0, len(tries) if ends else EDGE.draws, 2):
            if number == len(tries):
                tries += in_threads(moved, list(tiles[number : number + 2]))
            moves += [_furthest(one, passed) for one in tries[number : number + 2]]
            average = pixel_mm * float(np.mean([away for away, _ in moves]))
            if not EDGE.clearly_share * enough_mm <= average <= enough_mm / EDGE.clearly_share:
                break
        first = average if first is None else first
        if average <= enough_mm:
            break
        ends.append(max(moves)[1])
        passed = np.vstack([passed, ends[-1]])
    return first or 0.0, ends


def shifting(edge: Edge, pixel_mm: float, least_mm: float) -> list[tuple[float, Place, Polygon]]:
    """Where an outline is drawn elsewhere when its photo is given a little more noise: by how many mm, at which pixel
    most, and what lies between, in pixels, wherever it is more than the least; furthest first."""
    outline = Polygon(edge.outline.exterior)
    tiles = _tiles(min(EDGE.most_noise, EDGE.noise / pixel_mm))
    moves: list[Floats] = []
    between: list[Polygon] = []
    for other in in_threads(edge.again, list(tiles)):
        apart = _apart(edge.outline, other)
        apart = apart[apart[:, 0] * pixel_mm > least_mm]
        if other is None or not len(apart):
            continue
        moves.append(apart)
        bits = np.array(polygons(outline.symmetric_difference(Polygon(other.exterior))), dtype=object)
        touched = shapely.STRtree(bits).query(shapely.points(apart[:, 1:]), predicate="dwithin", distance=0.5)[1]
        between += [bit.buffer(METHOD.doubt.grown_pixels) for bit in bits[np.unique(touched)]]
    if not between:
        return []
    away = np.vstack(moves)
    found = []
    for area in polygons(areal(shapely.union_all(between))):
        here = away[shapely.dwithin(area, shapely.points(away[:, 1:]), 1.0)]
        if len(here):
            most, x, y = here[np.argmax(here[:, 0])].tolist()
            found.append((most * pixel_mm, (x, y), area))
    return sorted(found, key=lambda one: -one[0])


def _tiles(noise: float) -> Floats:
    """Squares of noise in grey levels, (draws, 2, side, side): in each channel, and in hue."""
    import cv2

    tiles: Floats = np.random.default_rng(0).standard_normal(
        (EDGE.draws, 2, EDGE.tile_pixels, EDGE.tile_pixels), np.float32
    )
    tiles[:, 0] *= noise
    for tile in tiles:
        tile[1] = cv2.GaussianBlur(tile[1], (0, 0), EDGE.hue_blur_pixels)
        tile[1] *= EDGE.hue_noise / tile[1].std()
    return tiles


def _apart(one: Polygon, other: Polygon | None) -> Floats:
    """How far two outlines lie apart without their holes, and where, (n, 3), wherever that is more than a pixel."""
    if other is None:
        # an outline that noise can wipe out moves by its own size
        places = shapely.get_coordinates(one.exterior)
        wiped: Floats = np.c_[np.full(len(places), one.length), places]
        return wiped
    found = []
    first, second = (cast(Polygon, shape.simplify(EDGE.compared_tolerance_pixels)).exterior for shape in (one, other))
    for ring, line in ((first, second), (second, first)):
        shapely.prepare(ring)
        points = np.asarray(shapely.points(shapely.get_coordinates(shapely.segmentize(line, EDGE.compared_pixels))))
        points = points[~shapely.dwithin(ring, points, EDGE.alike_pixels)]
        # a tree of its sides is several times faster than the distance to the ring
        places = shapely.get_coordinates(ring)
        sides = shapely.STRtree(np.asarray(shapely.linestrings(np.stack([places[:-1], places[1:]], axis=1))))
        (order, _), away = sides.query_nearest(points, return_distance=True, all_matches=False)
        found.append(np.c_[away, shapely.get_coordinates(points[order])])
    return np.vstack(found)


def _furthest(moved: Floats, passed: Floats) -> tuple[float, Place]:
    """The furthest of some places, (n, 3) as :func:`_apart` tells them, that are not near others that are passed
    over."""
    near = np.hypot(*(moved[:, None, 1:] - passed).T).T < EDGE.around_pixels
    left = moved[~near.any(axis=1)].tolist()
    return max(((away, (x, y)) for away, x, y in left), default=(0.0, (np.nan, np.nan)))


def _ragged(ring: Floats) -> float:
    import cv2

    lengths = lengths_along(ring)
    reach = int(4 * EDGE.along_pixels)
    at = np.arange(-reach, int(lengths[-1]) + reach) % lengths[-1]
    even = places_along(ring, lengths, at).astype(np.float32)
    away = (even - cv2.GaussianBlur(even, (1, 0), sigmaX=1e-6, sigmaY=EDGE.along_pixels))[reach : len(even) - reach]
    return float(np.quantile(np.hypot(*away.T), 0.68)) if len(away) else 0.0


def _blurred(ring: Floats, unlike: Unlike) -> float:
    """Standard deviation, in pixels, of the blur across an outline: half of what lies between 16 and 84 % of the way
    over its edge, the median all along."""
    even, _, _, _ = sharpness(ring, CURVE.near_pixels, CURVE.far_pixels)
    if not len(even):
        return 0.0
    out = unit(np.roll(even, 2, axis=0) - np.roll(even, -2, axis=0))[:, ::-1] * (-1, 1)
    at = np.arange(-EDGE.across_pixels, EDGE.across_pixels + 0.1, 0.5)
    seen = np.median(unlike(even[::5, None] + at[:, None] * out[::5, None]), axis=0)
    seen = np.maximum.accumulate(seen if seen[0] < seen[-1] else seen[::-1])
    low, high = np.interp((0.16, 0.84), (seen - seen[0]) / max(seen[-1] - seen[0], 1e-6), at)
    return float(high - low) / 2


class Band:
    """The pixels near the edge of a region: how far each is on the way from floor to leather by its colour, and by how
    many pixels to smooth it so that noise does not flip it."""

    def __init__(
        self,
        picture: Picture,
        leather: Mask,
        usable: Mask,
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
        beyond = np.maximum(EDGE.odd_share, EDGE.odd_spreads / self.contrast)
        self.odd = (plain < -beyond) | (plain > 1 + beyond)
        self.blur = np.clip(EDGE.smoothing_pixels / self.contrast, EDGE.least_blur_pixels, EDGE.most_blur_pixels)
        self._gain: Floats | None = None

    def noise(self, picture: Picture, tile: Floats) -> Floats:
        """What noise, in grey levels in each channel and in hue, (2, t, t), adds to the way of each pixel, (n,)."""
        if self._gain is None:
            seen = picture[self.rows, self.columns].astype(np.float32)
            red, green, blue = (
                along(self.ways, lab_of(seen + step)) - self.way for step in np.eye(3, dtype=np.float32)
            )
            # a grey level of Cb and of Cr, in R'G'B' (ITU-R BT.601, as in JPEG)
            hue = np.hypot(1.772 * blue - 0.344 * green, 1.402 * red - 0.714 * green)
            self._gain = np.stack([np.sqrt(red**2 + green**2 + blue**2), hue])
        drawn: Floats = tile[:, self.rows % EDGE.tile_pixels, self.columns % EDGE.tile_pixels]
        noise: Floats = (self._gain * drawn).sum(axis=0)
        return noise

    def cover(self, noise: Floats | None = None) -> Floats:
        """Share of each pixel covered by leather, (h, w) float32, with some noise added to the way of each in the
        band."""
        cover = self.leather.astype(np.float32)
        if not len(self.way):
            return cover
        way = self.way if noise is None else self.way + noise
        # Wide limits: cutting noise short on the rougher side alone would move the edge.
        cover[self.rows, self.columns] = np.clip(covered(way, self.middle), -1, 2)
        if self.odd.any():
            _pass_over_specks(cover, self.rows[self.odd], self.columns[self.odd])
        return cover

    def smoothed(self, cover: Floats, reach: float) -> Floats:
        """From -1 (floor) to 1 (leather), smoothed within reach of the region's edge; as the region says elsewhere."""
        import cv2

        near = self.away <= reach
        places, blur = (self.rows[near], self.columns[near]), self.blur[near]
        field = np.where(self.leather, np.float32(1), np.float32(-1))
        field[places] = 2 * cover[places] - 1
        least, times, last = EDGE.least_blur_pixels, EDGE.most_blur_pixels / EDGE.least_blur_pixels, EDGE.blur_steps - 1
        level = np.log(blur / least) * np.float32(last / np.log(times))
        smooth = np.zeros_like(blur)
        for number in range(EDGE.blur_steps):
            share = np.maximum(1 - np.abs(level - number), 0)
            if share.any():
                smooth += share * cv2.GaussianBlur(field, (0, 0), least * times ** (number / last))[places]
        field[places] = smooth
        return field


def _around_tips(leather: Mask, reach: float) -> Mask:
    """What lies within reach of the tips of a region, (h, w) bool."""
    import cv2

    rings, _ = cv2.findContours(leather.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    cell = METHOD.sides.cell_pixels
    far = np.ones([-(-side // cell) for side in leather.shape], np.uint8)
    for ring in rings:
        closed = ring[[*range(len(ring)), 0], 0].astype(float)
        even, _, _, turn = sharpness(closed, CURVE.near_pixels, CURVE.far_pixels)
        columns, rows = (even[turn < EDGE.tip_deg] / cell).astype(int).T
        far[rows, columns] = 0
    near: Mask = cv2.distanceTransform(far, cv2.DIST_L2, 3) <= reach / cell + 1
    return np.repeat(np.repeat(near, cell, axis=0), cell, axis=1)[: leather.shape[0], : leather.shape[1]]


def _pass_over_specks(cover: Floats, rows: Whole, columns: Whole) -> None:
    """Make small things of another colour, seen at these pixels, leather or floor, in place, as what lies around them
    is."""
    import cv2

    top, left = (max(side.min() - EDGE.speck_rim_pixels - 2, 0) for side in (rows, columns))
    crop = cover[top : rows.max() + EDGE.speck_rim_pixels + 3, left : columns.max() + EDGE.speck_rim_pixels + 3]
    specks = np.zeros(crop.shape, np.uint8)
    specks[rows - top, columns - left] = 1
    # with a frame, so that every pixel has neighbours
    specks = np.pad(cv2.dilate(specks, disc(EDGE.speck_rim_pixels)), 1)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(specks, connectivity=8)
    # every pixel of a rim with the specks above, below and beside it, each counted once
    rows, columns = np.nonzero((cv2.dilate(specks, disc(1)) & ~specks)[1:-1, 1:-1])
    beside = np.sort([labels[rows + down, columns + right] for down, right in ((0, 1), (2, 1), (1, 0), (1, 2))], axis=0)
    beside[1:][beside[1:] == beside[:-1]] = 0
    leather = crop[rows, columns] > 0.5
    on_leather, all_round = (
        np.bincount(beside[:, some].ravel(), minlength=len(facts)) for some in (leather, slice(None))
    )
    share = np.where(all_round > 0, on_leather / np.maximum(all_round, 1), 0.5)
    passed = (facts[:, 2:4].max(axis=1) <= EDGE.speck_pixels) & (np.maximum(share, 1 - share) > EDGE.all_round_share)
    passed[0] = False
    rows, columns = np.nonzero(specks)
    label = labels[rows, columns]
    over = passed[label]
    crop[rows[over] - 1, columns[over] - 1] = share[label[over]] > 0.5


def _largest(field: Floats, holes: Mask, smallest: float) -> Polygon | None:
    """The largest area above zero, less its holes that were seen to be holes; the rim of the field is made to lie
    below."""
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


def _without_lines(outline: Polygon, cover: Floats) -> Polygon:
    """The outline less what is narrow and goes on as a line on the floor beyond its end: a seam between planks, a joint
    of tiles."""
    plain = outline.simplify(EDGE.line_tolerance_pixels)
    wide = plain.buffer(-EDGE.widest_pixels / 2).buffer(EDGE.widest_pixels / 2, join_style="mitre")
    lines, turns = [], np.radians(EDGE.onward_turns_deg)
    bits = shapely.get_parts(plain.difference(wide))
    for bit in bits[shapely.length(bits) > 2 * EDGE.thin_pixels]:
        rim = shapely.get_coordinates(bit)
        near = shapely.clip_by_rect(wide, *(rim.min(axis=0) - EDGE.thin_pixels), *(rim.max(axis=0) + EDGE.thin_pixels))
        away = shapely.distance(near, shapely.points(rim))
        if away.max() < EDGE.thin_pixels:
            continue
        end = rim[np.argmax(away)]
        way = end - shapely.get_coordinates(bit.centroid)[0]
        length = np.hypot(*way)
        way /= length
        if _ahead(cover, end, way, np.arange(-length, 0.0)).max(axis=1).mean() > EDGE.solid:
            continue
        onward = np.arange(EDGE.onward_from_pixels, EDGE.onward_to_pixels)
        if max(_ahead(cover, end, way, onward, turn).mean(axis=0).max() for turn in turns) > EDGE.onward_like:
            lines.append(bit)
    return largest_polygon(outline.difference(shapely.union_all(lines).buffer(0.05))) or outline if lines else outline


def _ahead(cover: Floats, end: Floats, way: Floats, places: Floats, turn: float = 0.0) -> Floats:
    """What shows of a line beyond its end, (places along it, across), where its way is turned, radians."""
    import cv2

    ahead = np.array([np.cos(turn) * way[0] - np.sin(turn) * way[1], np.sin(turn) * way[0] + np.cos(turn) * way[1]])
    side = np.array([-ahead[1], ahead[0]])
    across = np.arange(-EDGE.thin_pixels, EDGE.thin_pixels + 0.1, 0.5)
    grid = (end + places[:, None, None] * ahead + across[:, None] * side).astype(np.float32)
    seen: Floats = cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR)
    return seen


def _with_tips(outline: Polygon, cover: Floats, blur: float) -> Polygon:
    drawn = largest_polygon(Polygon(sharpened(np.asarray(outline.exterior.coords), cover, blur)))
    return outline if drawn is None else largest_polygon(Polygon(drawn.exterior, [*outline.interiors])) or outline


def _marked(ring: Floats, holes: Mask) -> bool:
    low, high = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0), np.ceil(ring.max(axis=0)).astype(int) + 1
    return bool(holes[low[1] : high[1], low[0] : high[0]].any())
