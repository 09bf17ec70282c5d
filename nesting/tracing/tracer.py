"""From a photo of a hide on a floor to its outline in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..errors import FileError
from ..geometry import largest_polygon
from .doubt import Doubt
from .edge import CLEARLY, Edge, unsteady
from .outline import Hints, find_outline
from .photo import load_photo
from .references import SHEETS, find_scale
from .scale import Camera, Scale
from .slits import DEPTHS, begins_at_edge
from .straight import mm_a_pixel, straighten

LARGEST_SHARE, LARGEST_MM, LARGEST_AREA = 0.0025, 1.5, 0.01
"""A trace is refused when its expected error is more than this share of the hide's length, and more than so many mm; or where the
scale leaves more than one chance in twenty that the area is off by more than the last share."""
LEAST_CONTRAST, MOST_ASTRAY, DEEPEST_MM, PINCHED_MM, UNSTEADY_MM = 6.0, 0.0015, 8.0, 4.0, 3.75
"""What :class:`Doubt` may say of an outline that is believed; measured on rendered photos (tests/benchmarks/photos.py)."""
STEADY_PIXELS, RAGGED = 0.4, 2.8
"""How far 95 % of an outline lie from the truth at most, in pixels: so many, and so many times its raggedness. Measured."""
UNSTEADY_PIXELS, MANY_ENDS = 4.5, 12
"""Where a pixel is coarse, an end may move by so many of them; and how many that move are too many to be looked at one by one."""
MOST_BLURRED, BLURRED_MM = 2.7, 1.5
"""Standard deviation in pixels of the blur across an edge from which, unless twice that is less than so many mm, a photo is called
blurred: edges of photos traced right show 1 to 2.5 pixels, with JPEG's blur of hue (rendered photos)."""
UNSURE_SHARE = 0.005
"""Holes that may be stains are asked about where they are more than this share of the hide in all."""
SLIT_MM, INNER_TIMES = 6.0, 2.5
"""A line that reaches so far into the leather must be told to be a slit or a mark; one wholly within it where it is so many times as
long."""
FOUR_SIDED, SHEET_OFF, SHEET_OFF_MM = 0.98, 0.02, 2.0
"""A sheet fills its smallest rectangle to this share at least, and its sides are off by this share and so many mm at most."""
MARGIN = 0.06
"""Of the straightened photo, as a share of what it shows."""
HELPED = 0.5
"""Share of the contrast that is enough when somebody showed where the leather is."""


@dataclass(frozen=True)
class Trace:
    """The outline of a hide and how it was found.

    Attributes
    ----------
    outline : Polygon
        With holes; mm, y up, the lower left corner of its bounding box at (0, 0).
    reference : str
        What gave the scale: ``markers``, ``a4``, ``letter``, ``card`` or ``points``.
    mm_per_pixel : float
        Of ``straight``.
    expected_error_mm : float
        In about nine traces of ten, 95 % of the outline is nearer to the truth than this, as far as the reference, the
        camera and the raggedness of the outline tell (measured on rendered photos, tests/benchmarks/photos.py). A hide that
        does not lie flat, sheets printed at the wrong size, or the hide's own hard shadow of leather's colour add to it;
        points and bays narrower than two pixels may be further off.
    straight : numpy.ndarray
        (h, w, 3) uint8 RGB: the photo as seen from straight above.
    origin_mm : (float, float)
        Where the centre of the upper left pixel of ``straight`` lies, in the coordinates of the outline.
    references_mm : tuple of Polygon
        The sheets, card or measured points, in the coordinates of the outline.
    misses_mm : numpy.ndarray
        (n, 4): where each point of the references was seen, and how far that is from where it should be.
    residual_pixels : float
        Root mean square of these, in pixels of the photo.
    doubt : Doubt
        How sure the outline is.
    marks : tuple of LineString
        Lines that might have been slits and somebody told are marks, in the coordinates of the outline.
    unsure : tuple of Polygon
        Holes that may be only stains, too small in all to be asked about, in the coordinates of the outline; ``doubt`` names
        a place in each, in the same order.
    """

    outline: Polygon
    reference: str
    mm_per_pixel: float
    expected_error_mm: float
    straight: np.ndarray
    origin_mm: tuple[float, float]
    references_mm: tuple[Polygon, ...]
    misses_mm: np.ndarray
    residual_pixels: float
    doubt: Doubt | None
    marks: tuple[LineString, ...] = ()
    unsure: tuple[Polygon, ...] = ()

    def to_mm(self, pixels: np.ndarray) -> np.ndarray:
        """(n, 2) pixels (column, row) of ``straight`` to (n, 2) mm."""
        return np.asarray(pixels, dtype=float) * (self.mm_per_pixel, -self.mm_per_pixel) + self.origin_mm

    def to_pixels(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) mm to (n, 2) pixels (column, row) of ``straight``."""
        return (np.asarray(mm, dtype=float) - self.origin_mm) / (self.mm_per_pixel, -self.mm_per_pixel)


@dataclass(frozen=True)
class Question:
    """What only somebody who looks can tell: in few words, where it is, what it is, what to do if the outline is wrong there, and pixels of
    the photo, (px, py) each, the first the one it is about most."""

    name: str
    where: str
    what: str
    mend: str
    places: tuple[tuple[float, float], ...]


class Unclear(FileError):
    """A refusal that asks about places in the photo: ``places``, (px, py) each, and the ``names`` of the questions about them, with the
    ``outline`` as it was traced, in pixels too."""

    def __init__(self, photo: Path, questions: list[Question], outline: Polygon):
        first, *others = questions
        self.places = tuple(tuple(float(value) for value in place) for one in questions for place in one.places)
        self.names = tuple(one.name for one in questions for _ in one.places)
        self.outline = outline
        text = " ".join(_pixel(place) for place in self.places)
        mends = [
            f"{first.mend}{_same(first.places)}",
            *(f"also {one.what}: {one.mend}{_same(one.places)}" for one in others),
        ]
        mends.append(
            f"where the outline is right as it was traced, say so: --correct {text if len(self.places) == 1 else repr(text)}"
        )
        super().__init__(photo, first.where, first.what, "; ".join(mends))


def trace_photo(
    photo: str | Path,
    *,
    reference: str = "auto",
    corners=None,
    points=None,
    camera: Camera | None = None,
    tolerance_mm: float = 0.5,
    smallest_hole_mm: float = 4.0,
    largest_error_mm: float | None = None,
    thickness_mm: float | None = None,
    inside=(),
    outside=(),
    rough=None,
    slits=(),
    stains=(),
    correct=(),
) -> Trace:
    """Trace the hide in a photo.

    Parameters
    ----------
    photo : str or Path
        The hide lying flat, all of it in the picture, with floor on every side.
    reference : str
        What gives the scale: ``markers`` (the printed sheets, anywhere around the hide), ``a4``, ``letter``, ``card``,
        ``points``, or ``auto`` (markers, else A4 or letter paper; points if they are given). With a sheet or card the
        photo must not be cropped.
    corners : sequence of four (px, py), optional
        Corners of the sheet or card in photo pixels, in turn.
    points : sequence of ((px, py), (x, y)), optional
        Four pairs or more: photo pixel and its true place in mm, y up. Five or more also tell how the lens bends.
    camera : Camera, optional
        What is known of the camera and its lens.
    tolerance_mm : float
        How far the outline may be simplified.
    smallest_hole_mm : float
        Diameter of the smallest hole that is kept.
    largest_error_mm : float, optional
        The largest error to put up with: the expected error, by default 0.25 % of the hide's length, at least 1.5 mm; and
        how far the end of a point or bay may be unknown, by default 3.75 mm or 4.5 pixels.
    thickness_mm : float, optional
        Of the leather: its top is so much nearer to the camera than what gives the scale, which makes a hide 2 mm thick seen
        from 1.5 m show 0.13 % too long. Not corrected when it is not given.
    inside, outside : sequence of (px, py)
        Photo pixels known to be leather, or not.
    rough : sequence of (px, py), optional
        A polygon drawn roughly around the leather, in photo pixels.
    slits : sequence of (px, py)
        Photo pixels on lines in the leather, from its edge or wholly within, that are slits, which are cut out.
    stains : sequence of (px, py)
        Photo pixels in what is traced as holes without this and is leather, only stained.
    correct : sequence of (px, py)
        Photo pixels, as a refusal names them, around which somebody looked and found the outline right as it was traced: what
        ends within 40 pixels of one is in doubt no longer.

    Returns
    -------
    Trace

    Raises
    ------
    FileError
        If the photo cannot be read, gives no scale, or does not show the leather clearly; :class:`Unclear` where that is at
        some place.
    """
    photo = Path(photo)
    limits = [("tolerance_mm", tolerance_mm, 20), ("smallest_hole_mm", smallest_hole_mm, 1000)]
    limits += [] if largest_error_mm is None else [("largest_error_mm", largest_error_mm, 1000)]
    limits += [] if thickness_mm is None else [("thickness_mm", thickness_mm, 20)]
    for name, value, top in limits:
        if not (isinstance(value, (int, float)) and 0 < value <= top):
            raise FileError(photo, name, value, f"give more than 0 and at most {top} mm")
    picture = load_photo(photo)
    inside, outside, slits, stains, correct = (
        _points(photo, name, given, picture)
        for name, given in (
            ("inside", inside),
            ("outside", outside),
            ("slits", slits),
            ("stains", stains),
            ("correct", correct),
        )
    )
    rough = None if rough is None else _polygon(photo, _points(photo, "rough", rough, picture))
    scale = find_scale(photo, picture, reference, corners, points, camera)
    if thickness_mm is not None:
        try:
            scale = scale.raised(thickness_mm, camera)
        except ValueError as error:
            raise FileError(
                photo, "thickness", f"{thickness_mm:g} mm, {error}", "give thickness and measured points in mm"
            ) from None
    edge, sure = find_outline(
        photo, picture, scale, Hints(inside, outside, rough, slits, stains, correct), smallest_hole_mm
    )
    outline = None if edge is None else _simplified(shapely.transform(edge.outline, scale.to_mm), tolerance_mm)
    if outline is None or outline.is_empty:
        raise FileError(photo, "leather against floor", "no outline", _MEND)
    helped = bool(len(inside) or len(outside) or rough is not None)
    pixel_mm = float(np.median(mm_a_pixel(scale, edge.places)))
    shape_mm, area = _shape_errors(scale, outline)
    error = float(np.hypot(shape_mm, pixel_mm * (STEADY_PIXELS + RAGGED * edge.ragged)))
    _as_told(photo, edge.outline, inside, outside)
    if not len(inside) and rough is None:
        _no_sheet(photo, outline, edge)
    _believe(photo, sure, helped)
    _sharp(photo, edge.blur, pixel_mm, largest_error_mm)
    _accept(photo, error, area, outline, largest_error_mm, scale)
    most = max(UNSTEADY_MM, UNSTEADY_PIXELS * pixel_mm, largest_error_mm or 0.0) / (HELPED if helped else 1.0)
    moved, ends = unsteady(edge, pixel_mm, most, correct)
    sure = replace(sure, unsteady_mm=moved)
    # what looks like floor and hangs together may be a slit that somebody has yet to tell of
    questions = [*_slits(edge, scale, pixel_mm), *_alike(sure, helped), *_holes(sure, outline), *_unsteady(moved, ends)]
    if questions:
        raise Unclear(photo, questions, edge.outline)
    # The corners may be off by as much again as they were simplified.
    error = float(np.hypot(error, tolerance_mm))
    straight, mm_per_pixel, corner = straighten(photo, picture, scale, _view(outline, scale))
    low = np.array(outline.bounds[:2])
    seen, should = scale.misses[:, :2], scale.misses[:, :2] + scale.misses[:, 2:]
    return Trace(
        shapely.transform(outline, lambda p: p - low),
        scale.kind,
        mm_per_pixel,
        error,
        straight,
        tuple(float(value) for value in corner - low),
        tuple(shapely.transform(sheet, lambda p: p - low) for sheet in scale.papers),
        np.c_[scale.to_mm(seen) - low, scale.to_mm(seen) - scale.to_mm(should)],
        float(np.sqrt((scale.misses[:, 2:] ** 2).sum(axis=1).mean())),
        sure,
        tuple(shapely.transform(line, lambda p: scale.to_mm(p) - low) for line in edge.marks),
        tuple(
            shapely.transform(_hole_at(edge.outline, place), lambda p: scale.to_mm(p) - low) for _, place in sure.unsure
        ),
    )


_MEND = (
    "use a floor of another colour or brightness, give a polygon drawn roughly around the leather, or points inside and"
    " outside it"
)


def _view(outline: Polygon, scale: Scale) -> Polygon:
    """What the straightened photo shows: the hide and the references, with a margin, in mm."""
    around = shapely.MultiPolygon([outline, *scale.papers])
    left, low, right, high = around.bounds
    return shapely.box(*around.bounds).buffer(MARGIN * max(right - left, high - low), join_style="mitre")


def _same(places) -> str:
    """Of more places than one: the others, unless they are very many."""
    return (
        f"; the same at {' and '.join(_pixel(place) for place in places[1:])}" if 1 < len(places) <= MANY_ENDS else ""
    )


def _pixel(place) -> str:
    return ",".join(f"{value:.0f}" for value in place)


def _hole_at(outline: Polygon, place) -> Polygon:
    """The hole of an outline that is nearest to a place."""
    return min(map(Polygon, outline.interiors), key=Point(place).distance)


def _points(photo: Path, name: str, given, picture: np.ndarray) -> np.ndarray:
    try:
        pixels = np.array([tuple(point) for point in given], dtype=float).reshape(-1, 2)
    except (TypeError, ValueError):
        raise FileError(photo, name, given, "give points in pixels, each as x,y") from None
    height, width = picture.shape[:2]
    within = (np.isfinite(pixels) & (pixels >= -0.5) & (pixels <= (width - 0.5, height - 0.5))).all(axis=1)
    if not within.all():
        raise FileError(
            photo,
            name,
            f"{_pixel(pixels[~within][0])} is outside the picture",
            f"give pixels from 0,0 to {width - 1},{height - 1}",
        )
    return pixels


def _polygon(photo: Path, pixels: np.ndarray) -> np.ndarray:
    if len(pixels) < 3 or not Polygon(pixels).is_valid or Polygon(pixels).area < 100:
        raise FileError(photo, "rough", f"{len(pixels)} points", "give three points or more in turn around the leather")
    return pixels


def _as_told(photo: Path, outline: Polygon, inside: np.ndarray, outside: np.ndarray) -> None:
    """Refuse an outline, in pixels, that goes against what somebody said of the places."""
    for name, pixels, astray in (
        ("inside", inside, ~shapely.contains_xy(outline, inside)),
        ("outside", outside, shapely.contains_xy(outline, outside)),
    ):
        if astray.any():
            mend = "draw roughly around the leather: --rough 'x,y x,y ...'; or give more points inside and outside it, and look that none is mistyped"
            raise FileError(
                photo, name, f"{_pixel(pixels[astray][0])} is on the other side of the outline as it was traced", mend
            )


def _no_sheet(photo: Path, outline: Polygon, edge: Edge) -> None:
    """Refuse what is as large as a sheet of paper and as four-sided: one that lies about was taken for the hide."""
    whole = Polygon(outline.exterior)
    around = shapely.oriented_envelope(whole)
    sides = np.sort(np.hypot(*np.diff(shapely.get_coordinates(around)[:3], axis=0).T))
    for size, name in SHEETS.values():
        if whole.area > FOUR_SIDED * around.area and np.allclose(
            sides, np.sort(size), rtol=SHEET_OFF, atol=SHEET_OFF_MM
        ):
            place = _pixel(edge.outline.representative_point().coords[0])
            mend = f"if it is that, take it away or tell where it lies: --outside {place}; if it is leather: --inside {place}"
            raise FileError(
                photo, "leather", f"what was traced has the size of {name}, {size[0]:g} x {size[1]:g} mm", mend
            )


def _believe(photo: Path, sure: Doubt, helped: bool) -> None:
    """Refuse an outline that is not clear, which is better than a wrong one."""
    share = HELPED if helped else 1.0
    if sure.contrast < share * LEAST_CONTRAST:
        value = f"they differ by {sure.contrast:.1f} times their own unevenness along a tenth of the outline"
    elif sure.astray > MOST_ASTRAY / share:
        value = f"{100 * sure.astray:.1f} % of what lies beside the outline looks like the other side"
    else:
        return
    raise FileError(photo, "leather against floor", value, _MEND)


def _alike(sure: Doubt, helped: bool) -> Iterator[Question]:
    """What beside the outline may belong to the other side."""
    share = HELPED if helped else 1.0
    deep = [(reach, place) for reach, place in sure.deep if reach > DEEPEST_MM / share]
    pinched = [place for reach, place in sure.pinched if reach > PINCHED_MM / share]
    if deep:
        what = f"what looks like the other side reaches {deep[0][0]:.0f} mm from it, to pixel {_pixel(deep[0][1])}"
        yield Question("leather or floor?", "leather against floor", what, _MEND, tuple(place for _, place in deep))
    elif pinched:
        what = f"something hangs on the outline by a narrow neck, as far as pixel {_pixel(pinched[0])}"
        mend = "if it is dirt or a shadow, take it away; if it is leather, or a slit, show more of it: come nearer, or give --rough or --inside and --outside"
        yield Question("leather or floor?", "leather against floor", what, mend, tuple(pinched))


def _sharp(photo: Path, blur: float, pixel_mm: float, largest_error_mm: float | None) -> None:
    """Refuse a photo so blurred that slits and points may be lost in it."""
    wide = 2 * blur * pixel_mm
    if blur > MOST_BLURRED and wide > (largest_error_mm or BLURRED_MM):
        mend = f"hold the camera still, focus on the hide, give more light, or accept it: --largest-error {math.ceil(wide)}"
        raise FileError(photo, "leather", f"its edge is blurred over {2 * blur:.1f} pixels, {wide:.1f} mm", mend)


def _holes(sure: Doubt, outline: Polygon) -> Iterator[Question]:
    """Holes that may be stains, where they are much of the outline."""
    share = sum(math.pi / 4 * wide**2 for wide, _ in sure.unsure) / outline.area
    if share > UNSURE_SHARE:
        (wide, place), places = sure.unsure[0], tuple(place for _, place in sure.unsure)
        what = f"{100 * share:.1f} % of it may be holes or only stains, {wide:.0f} mm wide at pixel {_pixel(place)}"
        mend = f"the floor's colour does not tell; look whether it is a hole or a stain (--stains {_pixel(place)} leaves the leather whole)"
        yield Question("hole or stain?", "leather", what, mend, places)


def _unsteady(moved_mm: float, ends: list[tuple[float, float]]) -> Iterator[Question]:
    """Ends of the outline that are not known."""
    if ends:
        what = (
            f"a point or bay at pixel {_pixel(ends[0])} is"
            if len(ends) == 1
            else f"{len(ends)} points or bays, one at pixel {_pixel(ends[0])}, are"
        )
        poor = "the photo is too poor for this hide: " if len(ends) >= MANY_ENDS else ""
        mend = f"{poor}come nearer, give more light or another floor, or accept it: --largest-error {math.ceil(moved_mm / CLEARLY)}"
        yield Question(
            "does it end here?",
            "leather against floor",
            f"{what} seen only to within {moved_mm:.1f} mm",
            mend,
            tuple(ends),
        )


def _slits(edge: Edge, scale: Scale, pixel_mm: float) -> Iterator[Question]:
    """Lines that might be slits."""
    asked = []
    for line in edge.lines:
        long, least = shapely.transform(line, scale.to_mm).length, INNER_TIMES * SLIT_MM
        if begins_at_edge(line, edge.outline):
            long, least = long + DEPTHS[0] * pixel_mm, SLIT_MM
        if long > least:
            asked.append((long, line.coords[-1]))
    if asked:
        (long, place), *_ = asked = sorted(asked, reverse=True)
        what = f"a line {long:.0f} mm long may be a slit; it ends at pixel {_pixel(place)}"
        mend = f"look whether it is a slit (--slits {_pixel(place)} cuts it out) or only a mark, such as a wrinkle or a scar"
        yield Question("slit or mark?", "leather", what, mend, tuple(place for _, place in asked))


def _simplified(outline: Polygon, tolerance_mm: float) -> Polygon:
    return largest_polygon(outline.simplify(tolerance_mm, preserve_topology=True)) or Polygon()


def _shape_errors(scale: Scale, outline: Polygon) -> tuple[float, float]:
    ring = shapely.line_interpolate_point(outline.exterior, np.linspace(0, 1, 120, endpoint=False), normalized=True)
    return scale.shape_errors(scale.to_pixels(shapely.get_coordinates(ring)))


def _accept(
    photo: Path, error_mm: float, area: float, outline: Polygon, largest_error_mm: float | None, scale: Scale
) -> None:
    left, low, right, high = outline.bounds
    size = max(right - left, high - low)
    largest = max(LARGEST_SHARE * size, LARGEST_MM) if largest_error_mm is None else largest_error_mm
    vague = not area <= LARGEST_AREA and largest_error_mm is None
    if not error_mm <= largest or vague:
        lay = "lay marker sheets around the hide (nesting markers)"
        if scale.kind in ("a4", "letter") and len(scale.papers) == 1:
            lay = f"lay a second sheet of the same paper on the other side of the hide, or {lay[4:]}"
        if scale.kind == "points":
            lay = f"measure more points all around the hide (five or more show how the lens bends), or {lay}"
        mend = f"{lay}, come nearer, give the camera's profile (nesting camera), or accept it: --largest-error {np.ceil(error_mm):.0f}"
        of_area = f", up to {100 * area:.1f} % of its area" if vague else ""
        raise FileError(photo, "scale", f"expected error {error_mm:.1f} mm over {size:.0f} mm{of_area}", mend)
