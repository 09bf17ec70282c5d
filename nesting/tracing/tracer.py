"""From a photo of a hide on a floor to its outline in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar, cast

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import FileError
from ..geometry import largest_polygon
from ..model import MM2_PER_DM2, Doubt, StatedError, counted
from .arrays import Floats, Picture, Places
from .doubt import Judgement
from .doubts import asked_lines, find_doubts, without_floors, without_specks
from .edge import Edge, unsteady
from .hints import Hints, Told, pixel_text
from .limits import METHOD, TraceLimits
from .outline import find_outline
from .photo import load_photo, noted_camera
from .references import NAMES, SHEETS, Reference, find_scale
from .scale import Camera, Scale
from .straight import mm_a_pixel, straighten

OUTLINE = METHOD.outline
_Shape = TypeVar("_Shape", bound=BaseGeometry)
_MEND = (
    "use a floor of another colour or brightness, give a polygon drawn roughly around the leather, or points inside and"
    " outside it"
)


@dataclass(frozen=True, eq=False)
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
        camera and the raggedness of the outline tell (measured on rendered photos, tests/benchmarks/photos.py). A hide
        that does not lie flat, sheets printed at the wrong size, or the hide's own hard shadow of leather's colour add
        to it; points and bays narrower than two pixels may be further off.
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
    doubt : Judgement
        How sure the outline is.
    marks : tuple of LineString
        Lines that might have been slits and somebody told are marks, in the coordinates of the outline.
    unsure : tuple of Polygon
        Holes that may be only stains, too small in all to be asked about, in the coordinates of the outline; ``doubt``
        names a place in each, in the same order.
    limits : TraceLimits
        What was accepted of the photo and the trace.
    error : StatedError
        How far each place of the outline may be off; nine places in ten are nearer to the truth.
    doubts : tuple of Doubt
        What the photo does not tell, numbered from 1; none of a strict trace.
    notes : tuple of str
        What was assumed.
    """

    outline: Polygon
    reference: str
    mm_per_pixel: float
    expected_error_mm: float
    straight: Picture
    origin_mm: tuple[float, float]
    references_mm: tuple[Polygon, ...]
    misses_mm: Floats
    residual_pixels: float
    doubt: Judgement | None
    marks: tuple[LineString, ...] = ()
    unsure: tuple[Polygon, ...] = ()
    limits: TraceLimits = field(default_factory=TraceLimits)
    error: StatedError | None = None
    doubts: tuple[Doubt, ...] = ()
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        left, low, right, high = self.outline.bounds
        many = len(self.outline.interiors)
        places = f", {counted(len(self.doubts), 'place')} in doubt" if self.doubts else ""
        return (
            f"hide of {right - left:.0f} x {high - low:.0f} mm, {self.outline.area / MM2_PER_DM2:.1f} dm2,"
            f" {many} {'hole' if many == 1 else 'holes'}; scale from {NAMES[self.reference]},"
            f" expected error {self.expected_error_mm:.1f} mm{places}"
        )

    def to_mm(self, pixels: Floats) -> Places:
        """(n, 2) pixels (column, row) of ``straight`` to (n, 2) mm."""
        mm: Places = np.asarray(pixels, dtype=float) * (self.mm_per_pixel, -self.mm_per_pixel) + self.origin_mm
        return mm

    def to_pixels(self, mm: Floats) -> Places:
        """(n, 2) mm to (n, 2) pixels (column, row) of ``straight``."""
        pixels: Places = (np.asarray(mm, dtype=float) - self.origin_mm) / (self.mm_per_pixel, -self.mm_per_pixel)
        return pixels


@dataclass(frozen=True)
class Question:
    """What only somebody who looks can tell: in few words, where it is, what it is, what to do if the outline is wrong
    there, and pixels of the photo, (px, py) each, the first the one it is about most."""

    name: str
    where: str
    what: str
    mend: str
    places: tuple[tuple[float, float], ...]


class Unclear(FileError):
    """A refusal that asks about places in the photo: ``places``, (px, py) each, and the ``names`` of the questions
    about them, with the ``outline`` as it was traced, in pixels too."""

    def __init__(
        self, photo: Path, questions: Sequence[Question], outline: Polygon, most_ends: int = TraceLimits.most_ends
    ):
        self._made_of = photo, questions, outline, most_ends
        first, *others = questions
        self.places = tuple((float(x), float(y)) for one in questions for x, y in one.places)
        self.names = tuple(one.name for one in questions for _ in one.places)
        self.outline = outline
        text = " ".join(pixel_text(place) for place in self.places)
        quoted = text if len(self.places) == 1 else repr(text)
        mends = [
            f"{first.mend}{_same(first.places, most_ends)}",
            *(f"also {one.what}: {one.mend}{_same(one.places, most_ends)}" for one in others),
            f"where the outline is right as it was traced, say so: --correct {quoted}",
        ]
        super().__init__(photo, first.where, first.what, "; ".join(mends))

    def __reduce__(self) -> tuple[type[Unclear], tuple[object, ...]]:
        return Unclear, self._made_of


def trace(
    photo: str | Path,
    *,
    reference: Reference | str = "auto",
    camera: Camera | None = None,
    thickness_mm: float | None = None,
    shown: Hints | None = None,
    limits: TraceLimits | None = None,
    strict: bool = False,
) -> Trace:
    """Trace the hide in a photo.

    Where the photo does not tell leather from floor, the trace says so (``doubts``), and how far the rest may be off
    (``error``); planning keeps parts clear of both.

    Parameters
    ----------
    photo : str or Path
        The hide lying flat, all of it in the picture, with floor on every side.
    reference : Reference or str
        What gives the scale; its kind alone will do: ``markers``, ``a4``, ``letter``, ``card`` or ``auto`` (markers,
        else A4 or letter paper).
    camera : Camera, optional
        What is known of the camera and its lens.
    thickness_mm : float, optional
        Of the leather: its top is so much nearer to the camera than what gives the scale, which makes a hide 2 mm thick
        seen from 1.5 m show 0.13 % too long. Not corrected when it is not given; the stated error then allows for it.
    shown : Hints, optional
        What somebody showed in the photo.
    limits : TraceLimits, optional
        What is accepted of the photo and its trace.
    strict : bool
        Refuse a trace that is not sure everywhere, as whoever sells by area must.

    Returns
    -------
    Trace

    Raises
    ------
    FileError
        If the photo cannot be read, gives no scale worth having, or no outline; if strict also where the leather does
        not show clearly, :class:`Unclear` where that is at some place.
    """
    photo, limits = Path(photo), limits or TraceLimits()
    if thickness_mm is not None and not (isinstance(thickness_mm, (int, float)) and 0 < thickness_mm <= 20):
        raise FileError(photo, "thickness_mm", thickness_mm, "give more than 0 and at most 20 mm")
    picture = load_photo(photo)
    told = (shown or Hints()).checked(photo, picture)
    camera = camera or noted_camera(photo)
    scale = find_scale(photo, picture, reference, camera, limits)
    if thickness_mm is not None:
        scale = _raised(photo, scale, thickness_mm, camera)
    least = limits.smallest_hole_mm if strict else min(limits.smallest_hole_mm, METHOD.doubt.least_hole_mm)
    edge, sure = find_outline(photo, picture, scale, told, replace(limits, smallest_hole_mm=least))
    outline = None if edge is None else _simplified(shapely.transform(edge.outline, scale.to_mm), limits.tolerance_mm)
    if edge is None or outline is None or outline.is_empty:
        raise FileError(photo, "leather against floor", "no outline", _MEND)
    pixel_mm = float(np.median(mm_a_pixel(scale, edge.places)))
    steady_pixels = METHOD.edge.steady_pixels + METHOD.edge.ragged_times * edge.ragged
    unclear = _Unclear(photo, scale, edge, sure, outline, pixel_mm, told, limits)
    _as_told(photo, edge.outline, told.inside, told.outside)
    if not len(told.inside) and told.rough is None:
        _no_sheet(photo, outline, edge)
    untold = None if thickness_mm is not None or strict else _untold(scale, camera)
    ring = scale.to_pixels(_ring(outline))
    shape_mm, area = scale.shape_errors(ring)
    # what is blurred may be lost in the blur; the corners may be off by as much again as they were simplified
    fainter, blurred_mm = 1.0, 0.0
    if not strict:
        # where leather hardly differs from the floor the line wavers by so much more
        fainter = max(1.0, METHOD.doubt.clear_contrast / max(sure.contrast, 1e-3))
        blurred_mm = _lost(edge.blur, pixel_mm, limits)
    apart = float(np.hypot(pixel_mm * steady_pixels * fainter + blurred_mm, limits.tolerance_mm))
    doubts: list[Doubt] = []
    if strict:
        sure = _strictly(unclear, float(np.hypot(shape_mm, pixel_mm * steady_pixels)), area)
    else:
        shape_mm = scale.outline_error(ring, untold)
        _worth_having(unclear, area)
        outline = without_specks(outline, limits.smallest_hole_mm)
        error = _stated(scale, outline, apart, np.zeros(2), untold)
        _bounded(unclear)
        covered = [shapely.transform(paper, scale.to_pixels) for paper in _covering(scale, outline)]
        doubts, floors = find_doubts(edge, sure, scale.to_mm, pixel_mm, told, limits, error, covered)
        outline = without_floors(outline, floors)
        _clear_enough(unclear, doubts, outline)
    straight, mm_per_pixel, corner = straighten(photo, picture, scale, _view(outline, scale), limits)
    low = np.array(outline.bounds[:2])
    seen, should = scale.misses[:, :2], scale.misses[:, :2] + scale.misses[:, 2:]

    def to_mm(shape: _Shape) -> _Shape:
        return shapely.transform(shape, lambda pixels: scale.to_mm(pixels) - low)

    def on_floor(shape: Polygon) -> Polygon:
        return shapely.transform(shape, lambda mm: mm - low)

    x, y = corner - low
    return Trace(
        outline=on_floor(outline),
        reference=scale.kind,
        mm_per_pixel=mm_per_pixel,
        expected_error_mm=float(np.hypot(shape_mm, apart)),
        straight=straight,
        origin_mm=(float(x), float(y)),
        references_mm=tuple(on_floor(sheet) for sheet in scale.papers),
        misses_mm=np.c_[scale.to_mm(seen) - low, scale.to_mm(seen) - scale.to_mm(should)],
        residual_pixels=float(np.sqrt((scale.misses[:, 2:] ** 2).sum(axis=1).mean())),
        doubt=sure,
        marks=tuple(to_mm(line) for line in edge.marks),
        unsure=tuple(to_mm(_hole_at(edge.outline, place)) for _, place in sure.unsure),
        limits=limits,
        error=_stated(scale, outline, apart, low, untold),
        doubts=tuple(replace(one, polygon=on_floor(one.polygon)) for one in doubts),
        notes=(*scale.notes, *_assumed(scale, camera, untold)),
    )


@dataclass(frozen=True, eq=False)
class _Unclear:
    """All by which it is judged whether a trace is clear enough."""

    photo: Path
    scale: Scale
    edge: Edge
    sure: Judgement
    outline: Polygon
    pixel_mm: float
    told: Told
    limits: TraceLimits


def _covering(scale: Scale, outline: Polygon) -> list[Polygon]:
    """What of the leather, in mm of the scale, references may cover that touch it."""
    if scale.kind == "points":
        return []
    around = [paper.buffer(METHOD.doubt.under_mm) for paper in scale.papers]
    return [one for one in around if one.buffer(OUTLINE.paper_rim_mm - METHOD.doubt.under_mm).intersects(outline)]


def _bounded(it: _Unclear) -> None:
    """Refuse an outline beyond which what looks like leather goes on without end."""
    whole = Polygon(it.edge.outline.exterior)
    for (reach, place), area in zip(it.sure.deep, it.sure.deep_areas):
        beyond = area.difference(whole).area
        if reach > METHOD.doubt.endless_share * METHOD.doubt.reach_mm and beyond > (
            METHOD.doubt.endless_area_share * whole.area
        ):
            value = f"what looks like leather goes on beyond the outline at pixel {pixel_text(place)}"
            raise FileError(it.photo, "leather against floor", value, _MEND)


def _strictly(it: _Unclear, error_mm: float, area: float) -> Judgement:
    """Refuse a trace that is not sure everywhere; what it was judged to be."""
    photo, edge, limits, pixel_mm = it.photo, it.edge, it.limits, it.pixel_mm
    share = limits.helped_share if it.told.where else 1.0
    if it.scale.notes:
        mend = "lay it flat, or say which paper it is: --reference a4 or --reference letter"
        raise FileError(photo, "reference", it.scale.notes[0], mend)
    _believe(photo, it.sure, share, limits)
    _sharp(photo, edge.blur, pixel_mm, limits)
    _accept(photo, error_mm, area, it.outline, it.scale, limits)
    most_mm = max(limits.unsteady_mm, limits.unsteady_pixels * pixel_mm) / share
    moved_mm, ends = unsteady(edge, pixel_mm, most_mm, it.told.correct)
    # what looks like floor and hangs together may be a slit that somebody has yet to tell of
    questions = [
        *_slits(edge, it.scale, pixel_mm, limits),
        *_alike(it.sure, share, limits),
        *_holes(it.sure, it.outline, limits),
        *_unsteady(moved_mm, ends, limits),
    ]
    if questions:
        raise Unclear(photo, questions, edge.outline, limits.most_ends)
    return replace(it.sure, unsteady_mm=moved_mm)


def _worth_having(it: _Unclear, area: float) -> None:
    """Refuse a trace that is of no use to anybody."""
    if not area <= it.limits.worst_area_share:
        mend = f"{_lay(it.scale)}, come nearer, or give the camera's profile (nesting camera)"
        raise FileError(it.photo, "scale", f"its area is known to {100 * area:.0f} % only", mend)
    share = it.limits.helped_share if it.told.where else 1.0
    if it.sure.contrast < share * it.limits.alike_contrast:
        value = f"they differ by {it.sure.contrast:.1f} times their own unevenness along a tenth of the outline"
        raise FileError(it.photo, "leather against floor", value, _MEND)


def _clear_enough(it: _Unclear, doubts: Sequence[Doubt], outline: Polygon) -> None:
    """Refuse a trace of which too much is in doubt."""
    in_doubt = shapely.union_all([one.polygon for one in doubts]).intersection(Polygon(outline.exterior)).area
    if in_doubt > it.limits.worst_doubt_share * outline.area:
        value = f"{100 * in_doubt / outline.area:.0f} % of the hide would be in doubt"
        raise FileError(it.photo, "leather against floor", value, _MEND)


def _lost(blur: float, pixel_mm: float, limits: TraceLimits) -> float:
    """In how many mm of blur points and slits may be lost, where a photo is more blurred than is put up with."""
    wide = 2 * blur * pixel_mm
    return wide if blur > limits.blurred_pixels and wide > limits.blurred_mm else 0.0


def _stated(scale: Scale, outline: Polygon, apart_mm: float, low: Floats, untold: Scale | None) -> StatedError:
    """How far each place of an outline, in mm of the scale, may be off: by the scale, by what is untold of the height
    of the leather, and by so much anywhere; its places as seen from ``low``."""
    x0, y0, x1, y1 = outline.bounds
    xs, ys = (
        np.linspace(start, end, 2 + int((end - start) / OUTLINE.error_cell_mm)) for start, end in ((x0, x1), (y0, y1))
    )
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    away = scale.place_errors(scale.to_pixels(_ring(outline)), scale.to_pixels(places), untold)
    table = np.minimum(np.hypot(away, apart_mm), OUTLINE.most_error_mm).reshape(len(ys), len(xs))
    rows = tuple(map(tuple, np.round(table, 2).tolist()))
    return StatedError(tuple((xs - low[0]).tolist()), tuple((ys - low[1]).tolist()), rows)


def _raised(photo: Path, scale: Scale, thickness_mm: float, camera: Camera | None) -> Scale:
    """The scale of the top of leather so thick."""
    try:
        return scale.raised(thickness_mm, camera)
    except ValueError as error:
        mend = "give thickness and measured points in mm"
        raise FileError(photo, "thickness", f"{thickness_mm:g} mm, {error}", mend) from None


def _view(outline: Polygon, scale: Scale) -> Polygon:
    """What the straightened photo shows: the hide and the references, with a margin, in mm."""
    around = shapely.MultiPolygon([outline, *scale.papers])
    left, low, right, high = around.bounds
    return shapely.box(*around.bounds).buffer(OUTLINE.margin_share * max(right - left, high - low), join_style="mitre")


def _same(places: Sequence[tuple[float, float]], most: int) -> str:
    """Of more places than one: the others, unless they are very many."""
    others = " and ".join(pixel_text(place) for place in places[1:])
    return f"; the same at {others}" if 1 < len(places) <= most else ""


def _hole_at(outline: Polygon, place: tuple[float, float]) -> Polygon:
    """The hole of an outline that is nearest to a place."""
    return min(map(Polygon, outline.interiors), key=Point(place).distance)


def _as_told(photo: Path, outline: Polygon, inside: Floats, outside: Floats) -> None:
    """Refuse an outline, in pixels, that goes against what somebody said of the places."""
    for name, pixels, astray in (
        ("inside", inside, ~shapely.contains_xy(outline, inside)),
        ("outside", outside, shapely.contains_xy(outline, outside)),
    ):
        if astray.any():
            mend = (
                "draw roughly around the leather: --rough 'x,y x,y ...'; or give more points inside and outside it, and"
                " look that none is mistyped"
            )
            raise FileError(
                photo,
                name,
                f"{pixel_text(pixels[astray][0])} is on the other side of the outline as it was traced",
                mend,
            )


def _no_sheet(photo: Path, outline: Polygon, edge: Edge) -> None:
    """Refuse what is as large as a sheet of paper and as four-sided: one that lies about was taken for the hide."""
    whole = Polygon(outline.exterior)
    around = cast(Polygon, shapely.oriented_envelope(whole))
    sides = np.sort(np.hypot(*np.diff(shapely.get_coordinates(around)[:3], axis=0).T))
    for size, name in SHEETS.values():
        if whole.area > OUTLINE.sheet_filled_share * around.area and np.allclose(
            sides, np.sort(size), rtol=OUTLINE.sheet_off_share, atol=OUTLINE.sheet_off_mm
        ):
            place = pixel_text(edge.outline.representative_point().coords[0])
            mend = (
                f"if it is that, take it away or tell where it lies: --outside {place};"
                f" if it is leather: --inside {place}"
            )
            raise FileError(
                photo, "leather", f"what was traced has the size of {name}, {size[0]:g} x {size[1]:g} mm", mend
            )


def _believe(photo: Path, sure: Judgement, share: float, limits: TraceLimits) -> None:
    """Refuse an outline that is not clear, which is better than a wrong one."""
    if sure.contrast < share * limits.least_contrast:
        value = f"they differ by {sure.contrast:.1f} times their own unevenness along a tenth of the outline"
    elif sure.astray > limits.astray_share / share:
        value = f"{100 * sure.astray:.1f} % of what lies beside the outline looks like the other side"
    else:
        return
    raise FileError(photo, "leather against floor", value, _MEND)


def _alike(sure: Judgement, share: float, limits: TraceLimits) -> Iterator[Question]:
    """What beside the outline may belong to the other side."""
    deep = [(reach, place) for reach, place in sure.deep if reach > limits.deepest_mm / share]
    pinched = [place for reach, place in sure.pinched if reach > limits.pinched_mm / share]
    if deep:
        what = f"what looks like the other side reaches {deep[0][0]:.0f} mm from it, to pixel {pixel_text(deep[0][1])}"
        yield Question("leather or floor?", "leather against floor", what, _MEND, tuple(place for _, place in deep))
    elif pinched:
        what = f"something hangs on the outline by a narrow neck, as far as pixel {pixel_text(pinched[0])}"
        mend = (
            "if it is dirt or a shadow, take it away; if it is leather, or a slit, show more of it: come nearer, or"
            " give --rough or --inside and --outside"
        )
        yield Question("leather or floor?", "leather against floor", what, mend, tuple(pinched))


def _sharp(photo: Path, blur: float, pixel_mm: float, limits: TraceLimits) -> None:
    """Refuse a photo so blurred that slits and points may be lost in it."""
    wide = 2 * blur * pixel_mm
    if blur > limits.blurred_pixels and wide > limits.blurred_mm:
        mend = "hold the camera still, focus on the hide, give more light, or accept it: "
        mend += f"--largest-error {math.ceil(wide)}"
        raise FileError(photo, "leather", f"its edge is blurred over {2 * blur:.1f} pixels, {wide:.1f} mm", mend)


def _holes(sure: Judgement, outline: Polygon, limits: TraceLimits) -> Iterator[Question]:
    """Holes that may be stains, where they are much of the outline."""
    share = sum(math.pi / 4 * wide**2 for wide, _ in sure.unsure) / outline.area
    if share > limits.unsure_share:
        (wide, place), places = sure.unsure[0], tuple(place for _, place in sure.unsure)
        what = f"{100 * share:.1f} % of it may be holes or only stains, {wide:.0f} mm wide at pixel {pixel_text(place)}"
        mend = (
            "the floor's colour does not tell; look whether it is a hole or a stain"
            f" (--stains {pixel_text(place)} leaves the leather whole)"
        )
        yield Question("hole or stain?", "leather", what, mend, places)


def _unsteady(moved_mm: float, ends: list[tuple[float, float]], limits: TraceLimits) -> Iterator[Question]:
    """Ends of the outline that are not known."""
    if ends:
        what = (
            f"a point or bay at pixel {pixel_text(ends[0])} is"
            if len(ends) == 1
            else f"{len(ends)} points or bays, one at pixel {pixel_text(ends[0])}, are"
        )
        poor = "the photo is too poor for this hide: " if len(ends) >= limits.most_ends else ""
        accepted = math.ceil(moved_mm / METHOD.edge.clearly_share)
        mend = f"{poor}come nearer, give more light or another floor, or accept it: --largest-error {accepted}"
        yield Question(
            "does it end here?",
            "leather against floor",
            f"{what} seen only to within {moved_mm:.1f} mm",
            mend,
            tuple(ends),
        )


def _slits(edge: Edge, scale: Scale, pixel_mm: float, limits: TraceLimits) -> Iterator[Question]:
    """Lines that might be slits."""
    lines = asked_lines(edge, scale.to_mm, pixel_mm, limits)
    asked = [(long, (line.coords[-1][0], line.coords[-1][1])) for long, line in lines]
    if asked:
        (long, place), *_ = asked
        what = f"a line {long:.0f} mm long may be a slit; it ends at pixel {pixel_text(place)}"
        mend = (
            f"look whether it is a slit (--slits {pixel_text(place)} cuts it out) or only a mark, such as a wrinkle or"
            " a scar"
        )
        yield Question("slit or mark?", "leather", what, mend, tuple(place for _, place in asked))


def _simplified(outline: Polygon, tolerance_mm: float) -> Polygon:
    return largest_polygon(outline.simplify(tolerance_mm, preserve_topology=True)) or Polygon()


def _assumed(scale: Scale, camera: Camera | None, untold: Scale | None) -> Iterator[str]:
    """What was taken for granted, since nobody said."""
    if untold is not None:
        thick = OUTLINE.untold_thickness_mm
        yield f"the leather is taken to be up to {thick:g} mm thick: say how thick (--nominal), and less is kept out"
    if camera is None and scale.kind in SHEETS and len(scale.papers) == 1:
        yield "the photo does not note its focal length: take the file as the camera wrote it, and less is kept out"


def _untold(scale: Scale, camera: Camera | None) -> Scale | None:
    """The scale of the top of leather of which nobody said how thick it is."""
    try:
        return scale.raised(OUTLINE.untold_thickness_mm, camera)
    except ValueError:
        return None


def _ring(outline: Polygon) -> Floats:
    """Places spaced evenly along an outline, (n, 2) mm."""
    at = np.linspace(0, 1, OUTLINE.ring_places, endpoint=False)
    return shapely.get_coordinates(shapely.line_interpolate_point(outline.exterior, at, normalized=True))


def _accept(photo: Path, error_mm: float, area: float, outline: Polygon, scale: Scale, limits: TraceLimits) -> None:
    left, low, right, high = outline.bounds
    size = max(right - left, high - low)
    largest = max(limits.error_share * size, limits.error_mm)
    vague = limits.area_share is not None and not area <= limits.area_share
    if not error_mm <= largest or vague:
        mend = f"{_lay(scale)}, come nearer, give the camera's profile (nesting camera), or accept it: "
        mend += f"--largest-error {np.ceil(error_mm):.0f}"
        of_area = f", up to {100 * area:.1f} % of its area" if vague else ""
        raise FileError(photo, "scale", f"expected error {error_mm:.1f} mm over {size:.0f} mm{of_area}", mend)


def _lay(scale: Scale) -> str:
    """What would make a scale better."""
    lay = "lay marker sheets around the hide (nesting markers)"
    if scale.kind in ("a4", "letter") and len(scale.papers) == 1:
        lay = f"lay a second sheet of the same paper on the other side of the hide, or {lay[4:]}"
    if scale.kind == "points":
        lay = f"measure more points all around the hide (five or more show how the lens bends), or {lay}"
    return lay
