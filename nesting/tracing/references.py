"""Find what gives the scale: printed marker sheets, A4 or letter paper, a bank card, or points somebody measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from shapely.geometry import Polygon, box

from ..errors import FileError
from .arrays import Floats, Picture
from .hints import Points
from .limits import METHOD, TraceLimits
from .markers import dictionary, marker_place, sheet_outline
from .quads import find_quads, fit_edges, fit_sides
from .scale import Camera, Length, Scale, Seen, Size, apply, camera_error, homography, solve_scale

REFERENCING = METHOD.references

A4_MM = (210.0, 297.0)
"""ISO 216, size A4."""
LETTER_MM = (215.9, 279.4)
"""US letter paper, 8 1/2 in x 11 in (ANSI/ASME Y14.1, size A)."""
CARD_MM = (85.60, 53.98)
"""ISO/IEC 7810, format ID-1."""
SHEETS = {"a4": (A4_MM, "A4 paper"), "letter": (LETTER_MM, "letter paper"), "card": (CARD_MM, "bank card")}
NAMES = {
    "markers": "marker sheets",
    "a4": "A4 paper",
    "letter": "letter paper",
    "card": "a bank card",
    "points": "measured points",
}
KINDS = ("auto", "markers", "a4", "letter", "card", "points")
OUTWARD = np.array([(-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
"""How the corners of a marker, in turn from the top left, move when it shows larger."""


@dataclass(frozen=True, eq=False)
class Reference:
    """What gives the scale.

    Attributes
    ----------
    kind : str
        ``markers`` (the printed sheets, anywhere around the hide), ``a4``, ``letter``, ``card``, ``points``, or
        ``auto`` (points if they are given; else markers, else A4 or letter paper). Several sheets of the same paper are
        used together. With a sheet or card the photo must not be cropped.
    corners : (4, 2) pixels, optional
        Corners of the sheet or card in turn, either way round.
    points : sequence of ((px, py), (x mm, y mm)), optional
        Four pairs or more: photo pixel and its true place in mm, y up. Five or more also tell how the lens bends.
    lengths : sequence of ((px, py), (px, py), mm)
        Two pixels and how far apart they are on the floor or the hide, read off a tape, besides what gives the scale.
    """

    kind: str = "auto"
    corners: Points | None = None
    points: Sequence[tuple[Sequence[float], Sequence[float]]] | None = None
    lengths: Sequence[Length] = ()


def find_scale(
    photo: Path,
    picture: Picture,
    reference: Reference | str = "auto",
    camera: Camera | None = None,
    limits: TraceLimits | None = None,
    largest: float = METHOD.quads.largest_share,
) -> Scale:
    """Find the mapping from photo pixels to mm.

    Parameters
    ----------
    photo : Path
        Named in errors.
    picture : (h, w, 3) uint8 RGB
    reference : Reference or str
        Its kind alone will do.
    camera : Camera, optional
        What is known of the camera.
    limits : TraceLimits, optional
        How far four measured points may be from what any camera sees.
    largest : float
        Share of the picture that a sheet may cover.

    Returns
    -------
    Scale

    Raises
    ------
    FileError
        If the reference is not found, is ambiguous, or what was given cannot be right.
    """
    size = picture.shape[1], picture.shape[0]
    given = Reference(reference) if isinstance(reference, str) else reference
    kind = given.kind
    _measured(photo, given.lengths, size)
    if kind not in KINDS:
        raise FileError(photo, "reference", kind, f"give one of {', '.join(KINDS)}")
    if kind == "points" or (given.points is not None and kind == "auto"):
        return _from_points(photo, given, size, camera, limits or TraceLimits())
    if given.corners is None and kind in ("auto", "markers"):
        seen = find_markers(photo, picture)
        if seen:
            return _from_markers(photo, seen, size, camera, given.lengths)
        if kind == "markers":
            raise FileError(photo, "reference", "no marker sheet found", _MARKER_MEND)
    kinds = ("a4", "letter") if kind in ("auto", "markers") else (kind,)
    return _from_sheet(photo, picture, kinds, given.corners, camera, given.lengths, largest)


def _measured(photo: Path, lengths: Sequence[Length], size: Size) -> None:
    """Refuse lengths that cannot be."""
    for start, end, mm in lengths:
        ends = np.array([start, end], dtype=float)
        if ends.shape != (2, 2) or not np.isfinite(ends).all() or not 0 < mm <= REFERENCING.furthest_point:
            raise FileError(photo, "length", f"{mm:g} mm", "give two pixels and the mm between them")
        _inside(photo, "length", ends, size)
        if np.hypot(*(ends[1] - ends[0])) < REFERENCING.shortest_length_pixels:
            raise FileError(photo, "length", "between two pixels side by side", "measure across the whole hide")


_WHICH_MEND = "give the four corners of the right one in pixels (--corners), or take the other things away"
_MARKER_MEND = (
    "lay printed marker sheets flat beside the hide or the patterns, wholly in the picture, sharp and in even light"
)


def _solve(
    photo: Path,
    kind: str,
    seen: list[Seen],
    size: Size,
    sigma: float,
    camera: Camera | None,
    upright: bool = True,
    lengths: Sequence[Length] = (),
) -> Scale:
    try:
        scale = solve_scale(kind, seen, size, sigma_pixels=sigma, upright=upright, camera=camera, lengths=lengths)
        bare = solve_scale(kind, seen, size, sigma_pixels=sigma, upright=upright, camera=camera) if lengths else scale
    except (ValueError, np.linalg.LinAlgError):
        raise FileError(photo, "reference", kind, "its points lie on a line or coincide: give them again") from None
    _agree(photo, bare, lengths)
    if scale.sigma_pixels > max(REFERENCING.most_off_times * sigma, REFERENCING.most_off_share * max(size)):
        if kind == "points":
            raise FileError(
                photo,
                "points",
                f"off by {scale.sigma_pixels:.1f} pixels",
                "they do not agree: one is mistyped or measured wrongly",
            )
        mend = (
            "the sheets do not agree: lay them flat, all printed at 100 %, and use a sharp photo without lens effects"
        )
        raise FileError(photo, "reference", f"corners off by {scale.sigma_pixels:.1f} pixels", mend)
    return scale


def _agree(photo: Path, bare: Scale, lengths: Sequence[Length]) -> None:
    """Refuse lengths that are far from what the rest of the references makes of them."""
    for (x0, y0), (x1, y1), mm in lengths:
        found, sigma = bare.distance((x0, y0), (x1, y1))
        most = REFERENCING.most_length_times * np.hypot(sigma, REFERENCING.length_share * mm)
        # what is beyond the horizon of the sheet is no length at all
        if not abs(mm - found) <= most:
            what = f"{mm:g} mm from {x0:g},{y0:g} to {x1:g},{y1:g} does not agree with the scale"
            made = f"without it that is {found:.0f} mm, give or take {most:.0f}"
            mend = f"{made}: read the tape again, and the pixels, which count in the photo turned upright"
            raise FileError(photo, "length", what, mend)


def _from_points(photo: Path, given: Reference, size: Size, camera: Camera | None, limits: TraceLimits) -> Scale:
    try:
        pairs = np.array([[*pixel, *mm] for pixel, mm in (given.points or ())], dtype=float).reshape(-1, 4)
    except (TypeError, ValueError):
        raise FileError(
            photo, "points", given.points, "give four pairs or more of a pixel and its place in mm"
        ) from None
    most = REFERENCING.most_points
    if not 4 <= len(pairs) <= most or not np.isfinite(pairs).all() or np.abs(pairs).max() > REFERENCING.furthest_point:
        raise FileError(
            photo, "points", f"{len(pairs)} pairs", "give four pairs or more of a pixel and its place in mm"
        )
    pixels, mm = pairs[:, :2], pairs[:, 2:]
    _inside(photo, "points", pixels, size)
    for three in combinations(range(len(pairs)), 3) if len(pairs) == 4 else ():
        for places in (pixels, mm):
            a, b, c = places[list(three)]
            sides = max(np.hypot(*(b - a)), np.hypot(*(c - a)), 1e-9)
            if abs(_cross(b - a, c - a)) < REFERENCING.on_line_share * sides**2:
                raise FileError(photo, "points", "three on one line", "choose four points like the corners of a table")
    try:
        first = homography(mm, pixels)
    except ValueError:
        raise FileError(photo, "points", "on one line", "choose four points like the corners of a table") from None
    if _mirrored(first, mm):
        raise FileError(photo, "points", "mirrored", "give y in mm upwards, pixels with y downwards")
    # more points tell by themselves whether they agree, in a cropped photo as well
    focals = np.geomspace(REFERENCING.shortest_focal, REFERENCING.longest_focal, REFERENCING.focals)
    odd = min(100 * float(np.abs(camera_error(first, size, focal * max(size))[:2]).max()) for focal in focals)
    if len(pairs) == 4 and odd > limits.odd_percent:
        mend = "one is mistyped or measured wrongly, or the photo is cropped: look at each, and measure a fifth"
        raise FileError(photo, "points", f"no camera sees them so: mm in x and in y differ by {odd:.0f} %", mend)
    return _solve(
        photo,
        "points",
        [Seen(mm, pixels, None)],
        size,
        REFERENCING.click_sigma_pixels,
        camera,
        upright=False,
        lengths=given.lengths,
    )


def _mirrored(matrix: Floats, mm: Floats) -> bool:
    middle = mm.mean(axis=0)
    a, b, c = apply(matrix, np.array([middle, middle + (1, 0), middle + (0, 1)]))
    return _cross(b - a, c - a) > 0


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _inside(photo: Path, place: str, pixels: Floats, size: Size) -> None:
    if (pixels < -0.5).any() or (pixels > np.array(size) - 0.5).any():
        raise FileError(photo, place, "outside the picture", f"give pixels from 0,0 to {size[0] - 1},{size[1] - 1}")


def _from_markers(
    photo: Path, seen: list[Seen], size: Size, camera: Camera | None, lengths: Sequence[Length] = ()
) -> Scale:
    """The scale on which the sheets agree; sheets that show a single marker only count if they agree as well."""
    seen = [replace(one, cut=REFERENCING.cut_share) for one in seen]
    whole = [one for one in seen if len(one.mm) > 4]
    try:
        return _solve(photo, "markers", seen, size, REFERENCING.marker_sigma_pixels, camera, lengths=lengths)
    except FileError:
        if not whole or len(whole) == len(seen):
            raise
    return _solve(photo, "markers", whole, size, REFERENCING.marker_sigma_pixels, camera, lengths=lengths)


def find_markers(photo: Path, picture: Picture) -> list[Seen]:
    """The marker sheets that a photo shows, the largest first.

    Raises
    ------
    FileError
        If one number is seen on two sheets.
    """
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = REFERENCING.marker_perimeter_share
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    shrink = max(1.0, max(grey.shape) / REFERENCING.marker_pixels)
    if shrink > 1:
        grey = cv2.resize(grey, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary(), settings).detectMarkers(grey)
    pages: dict[int, dict[int, Floats]] = {}
    for marker, pixels in zip(() if ids is None else np.ravel(ids), corners):
        page = marker_place(int(marker))[0]
        if int(marker) in pages.setdefault(page, {}):
            raise FileError(photo, "reference", f"sheet {page + 1} seen twice", "use sheets with different numbers")
        pixels = (pixels.reshape(4, 2).astype(float) + 0.5) * shrink - 0.5
        fitted = fit_edges(picture, pixels)
        pages[page][int(marker)] = pixels if fitted is None else fitted
    return sorted(
        filter(None, (_page(*page) for page in pages.items())), key=lambda one: -Polygon(one.pixels).convex_hull.area
    )


def _page(number: int, markers: dict[int, Floats]) -> Seen | None:
    """One sheet, of this number from 0, from its markers, less those that do not fit the others."""
    mm = {marker: marker_place(marker)[1] for marker in markers}
    best: list[int] = []
    for trial in markers:
        try:
            matrix = homography(mm[trial], markers[trial])
        except ValueError:
            continue
        most = REFERENCING.marker_off_share * np.hypot(*(markers[trial][0] - markers[trial][2]))
        agreeing = [one for one in markers if np.abs(apply(matrix, mm[one]) - markers[one]).max() < most]
        best = max(best, agreeing, key=len)
    if not best:
        return None
    return Seen(
        np.vstack([mm[one] for one in best]),
        np.vstack([markers[one] for one in best]),
        sheet_outline(),
        np.tile(OUTWARD, (len(best), 1)),
        number=number,
    )


def _from_sheet(
    photo: Path,
    picture: Picture,
    kinds: tuple[str, ...],
    corners: Points | None,
    camera: Camera | None,
    lengths: Sequence[Length] = (),
    largest: float = METHOD.quads.largest_share,
) -> Scale:
    """The scale from a sheet of one of the kinds, found by itself or by its corners."""
    size = picture.shape[1], picture.shape[0]
    names = " or ".join(SHEETS[kind][1] for kind in kinds)
    if corners is None:
        quads, sigma = (
            find_quads(picture, white="card" not in kinds, largest=largest)[: REFERENCING.most_quads],
            REFERENCING.edge_sigma_pixels,
        )
    else:
        pixels, sigma = _given(photo, corners, size), REFERENCING.click_sigma_pixels
        fitted = fit_edges(picture, pixels)
        near = max(REFERENCING.drawn_pixels, REFERENCING.drawn_share * max(size))
        if fitted is not None and np.hypot(*(fitted - pixels).T).max() < near:
            pixels, sigma = fitted, REFERENCING.edge_sigma_pixels
        quads = [pixels]
    trials = []
    for quad in quads:
        # a card is too small for its edges to show a lens, and a corner shown by hand need not lie on an edge
        bows = fit_sides(picture, quad) if sigma == REFERENCING.edge_sigma_pixels and "card" not in kinds else None
        bent, sides = bows or (None, ())
        trials += [one for kind in kinds for one in _laid(quad, bent, sides, kind, size, sigma, camera)]
    trials.sort(key=lambda one: one[0].chi_square)
    laid = [one for one in trials if one[0].chi_square < REFERENCING.most_chi_square]
    fitting = [scale for scale, _ in laid]
    if not fitting and corners is not None:
        mend = f"give the four corners of the {names}, in a photo not cropped"
        raise FileError(photo, "corners", "not the shape of the sheet", mend)
    likely = [one for one in laid if one[0].chi_square < fitting[0].chi_square + REFERENCING.clearly_worse]
    if any(_disagree(fitting[0], other) for other, _ in likely[1:]) and "card" not in kinds:
        # paper is white: what is far darker than another that fits is none
        whitest = max(_bright(picture, seen) for _, seen in likely)
        laid, likely = (
            [one for one in some if _bright(picture, one[1]) > whitest / REFERENCING.far_whiter_times]
            for some in (laid, likely)
        )
    found: list[tuple[Scale, list[Seen]]] = []
    if likely and not any(_disagree(likely[0][0], other) for other, _ in likely[1:]):
        likely_kinds = dict.fromkeys(scale.kind for scale, _ in likely)
        found = [
            _together(photo, [one for one in laid if one[0].kind == kind], size, sigma, camera) for kind in likely_kinds
        ]
    if all(len(sheets) == 1 for _, sheets in found):
        of_kind = [[seen for scale, seen in trials if scale.kind == kind] for kind in kinds]
        joint = [both for kind, some in zip(kinds, of_kind) for both in _bent(photo, kind, some, size, sigma, camera)]
        found = [one for one in joint if not laid or _outdo(photo, picture, one[1], laid[0][1], names)] or found
    notes: list[str] = []
    if not fitting and not found and trials and trials[0][0].chi_square < REFERENCING.nearly_chi_square:
        # so much worse than it should be, it is believed so much less
        scale, seen = trials[0]
        x, y = seen.pixels.mean(axis=0)
        notes.append(
            f"the sheet at pixel {x:.0f},{y:.0f} is not quite {names}, but nearest to {SHEETS[scale.kind][1]}: it may"
            " not lie flat, or the lens bends it"
        )
        worse = scale.chi_square / REFERENCING.most_chi_square
        found = [(replace(scale, spread=scale.spread * max(1.0, worse)), [seen])]
    if not fitting and not found:
        cut_off = _cut_off(picture)
        if cut_off:
            mend = "step back, or move it, so that the whole sheet shows, not in glaring light"
            raise FileError(photo, "reference", cut_off, mend)
        what = f"no {names} found" if len(kinds) == 1 else f"neither marker sheets nor {names} found"
        sheet = "a bank card" if "card" in kinds else f"a plain sheet of {names}"
        mend = (
            f"lay {sheet} flat beside the hide or the patterns and clear of them, wholly in the picture, sharp and"
            " in even light (printed marker sheets do too); or give the four corners of the sheet in pixels (--corners)"
        )
        if lengths:
            mend += "; a length alone gives no scale, it makes that of a sheet or of points surer"
        raise FileError(photo, "reference", what, mend)
    if not found:
        raise FileError(photo, "reference", f"{len(likely)} things look like {names}", _WHICH_MEND)
    (best, sheets), *others = _by_kind(found, size, sigma, camera)
    if best.sigma_pixels > REFERENCING.most_apart_times * sigma:
        mend = "lay them flat, of one size and none folded, or give the corners of one in pixels"
        raise FileError(photo, "reference", f"{len(sheets)} sheets of {names} that do not agree", mend)
    if len(sheets) == 1 and laid and "card" not in kinds:
        _refuse_whiter(photo, picture, laid[0][1], [seen for _, seen in trials])
    if others:
        notes.append(_other_kind(best, others[0][0]))
    if lengths:
        best = _solve(photo, best.kind, list(sheets), size, sigma, camera, lengths=lengths)
    if laid:
        best = _posed(best, sheets, sigma, camera, lengths)
    return replace(best, notes=tuple(notes))


def _posed(found: Scale, sheets: list[Seen], sigma: float, camera: Camera | None, lengths: Sequence[Length]) -> Scale:
    """The scale by the pose of the camera, which is known better than eight unknowns; what was found, where that is not
    how the sheets lie in the picture, as in one that was cropped."""
    finest = REFERENCING.sheet_sigma_pixels if sigma == REFERENCING.edge_sigma_pixels else sigma
    pixel_mm = np.sqrt(min(Polygon(one.mm).area / Polygon(one.pixels).area for one in sheets))
    cut = [replace(one, cut=REFERENCING.cut_share) for one in sheets]
    sigma = float(np.hypot(finest, REFERENCING.sheet_flat_mm / pixel_mm))
    try:
        posed = solve_scale(found.kind, cut, found.size, sigma_pixels=sigma, camera=camera, lengths=lengths, posed=True)
    except (ValueError, np.linalg.LinAlgError):
        return found
    return posed if posed.chi_square < REFERENCING.most_posed_chi_square * len(sheets) else found


def _by_kind(
    found: list[tuple[Scale, list[Seen]]], size: Size, sigma: float, camera: Camera | None
) -> list[tuple[Scale, list[Seen]]]:
    """Scales from sheets of one kind each: that of the likeliest kind, which has most sheets and, by the ratio of their
    sides under the tilt that an ordinary camera would see, suits them best; and others that are not much worse."""
    if len(found) == 1:
        return found
    ranked = []
    for scale, sheets in found:
        try:
            odd = solve_scale(scale.kind, sheets, size, sigma_pixels=sigma, camera=camera, posed=True).chi_square
        except (ValueError, np.linalg.LinAlgError):
            odd = np.inf
        ranked.append((-len(sheets), odd, scale, sheets))
    ranked.sort(key=lambda one: one[:2])
    many, least, *_ = ranked[0]
    return [
        (scale, sheets)
        for few, odd, scale, sheets in ranked
        if few == many and odd <= least + REFERENCING.clearly_worse
    ]


def _other_kind(taken: Scale, other: Scale) -> str:
    """What was assumed of the paper, and what another kind would change."""
    middle = np.array(taken.size) / 2 + np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(taken.size) / 5
    share = Polygon(other.to_mm(middle)).area / Polygon(taken.to_mm(middle)).area - 1
    name, otherwise = (SHEETS[scale.kind][1] for scale in (taken, other))
    return (
        f"the sheet is taken for {name}; were it {otherwise}, the hide would be {abs(100 * share):.0f} %"
        f" {'larger' if share > 0 else 'smaller'}: then say --reference {other.kind}"
    )


def _cut_off(picture: Picture) -> str:
    """Of a white sheet that cannot be used, why; empty where none shows."""
    import cv2

    shrink = max(1.0, max(picture.shape[:2]) / REFERENCING.glance_pixels)
    small = cv2.resize(picture, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    white = (small.min(axis=2) >= REFERENCING.white_level).astype(np.uint8)
    _, _, facts, middles = cv2.connectedComponentsWithStats(white, connectivity=4)
    height, width = white.shape
    for (x, y, wide, high, area), middle in zip(facts[1:].tolist(), middles[1:]):
        if area < REFERENCING.white_share * white.size:
            continue
        place = f"{middle[0] * shrink:.0f},{middle[1] * shrink:.0f}"
        if x == 0 or y == 0 or x + wide == width or y + high == height:
            return f"what may be a sheet at pixel {place} is cut off by the edge of the picture"
        if (small[y : y + high, x : x + wide] >= REFERENCING.glaring_level).mean() > REFERENCING.glaring_share:
            return f"what may be a sheet at pixel {place} is overexposed: its edges are lost in glare"
    return ""


def _given(photo: Path, corners: Points, size: Size) -> Floats:
    try:
        pixels = np.array(corners, dtype=float).reshape(4, 2)
    except (TypeError, ValueError):
        raise FileError(photo, "corners", corners, "give four corners in pixels") from None
    if not np.isfinite(pixels).all():
        raise FileError(photo, "corners", corners, "give four corners in pixels")
    _inside(photo, "corners", pixels, size)
    quad = Polygon(pixels)
    if not quad.is_valid or quad.area < 100 or abs(quad.convex_hull.area - quad.area) > 1e-6 * quad.area:
        raise FileError(photo, "corners", "not a four-sided sheet", "give the corners in turn round the sheet")
    # Clockwise as seen in the picture, whose y points down.
    return pixels if quad.exterior.is_ccw else pixels[::-1]


def _together(
    photo: Path, laid: list[tuple[Scale, Seen]], size: Size, sigma: float, camera: Camera | None
) -> tuple[Scale, list[Seen]]:
    """The scale of the likeliest sheet, or of all that are as large by its scale, and these: together they show how the
    lens bends."""
    best, first = laid[0]
    alike = [first]
    for scale, seen in laid[1:]:
        apart = all(Polygon(seen.pixels).disjoint(Polygon(one.pixels)) for one in alike)
        if apart and not _disagree(best, scale, REFERENCING.same_sheet_share):
            alike.append(seen)
    return (best if len(alike) == 1 else _solve(photo, best.kind, alike, size, sigma, camera)), alike


def _bent(
    photo: Path, kind: str, seen: list[Seen], size: Size, sigma: float, camera: Camera | None
) -> list[tuple[Scale, list[Seen]]]:
    """The scale by which most sheets agree though one by one they do not, since a bent lens makes the tilt and the
    shape of each seem another, and these sheets; or none."""

    def agree(some: list[Seen]) -> Scale | None:
        if any(not Polygon(one.pixels).disjoint(Polygon(other.pixels)) for one, other in combinations(some, 2)):
            return None
        try:
            scale = _solve(photo, kind, some, size, sigma, camera)
        except FileError:
            return None
        return scale if scale.sigma_pixels <= REFERENCING.most_apart_times * sigma else None

    tried = [(agree(list(pair)), list(pair)) for pair in combinations(seen[: REFERENCING.most_together], 2)]
    pairs = [(scale, pair) for scale, pair in tried if scale]
    if not pairs:
        return []
    best, pair = min(pairs, key=lambda found: found[0].chi_square)
    sheets = pair
    for one in seen[: REFERENCING.most_together]:
        more = None if any(one is other for other in sheets) else agree([*sheets, one])
        best, sheets = (more, [*sheets, one]) if more else (best, sheets)
    return [(best, sheets)]


def _outdo(photo: Path, picture: Picture, sheets: list[Seen], alone: Seen, names: str) -> bool:
    """Whether sheets that agree are believed rather than one that is of the right shape alone: paper is white, tiles of
    a floor can agree on another shape by chance."""
    if any(one.pixels is alone.pixels for one in sheets):
        return True
    shares = [_bright(picture, one) / _bright(picture, alone) for one in sheets]
    if min(shares) < REFERENCING.whiter_times and max(shares) > 1 / REFERENCING.whiter_times:
        raise FileError(photo, "reference", f"{len(sheets) + 1} things look like {names}", _WHICH_MEND)
    return min(shares) > REFERENCING.whiter_times


def _refuse_whiter(photo: Path, picture: Picture, sheet: Seen, seen: list[Seen]) -> None:
    """Refuse a sheet where something else that was seen is so much whiter that it may be the sheet, though its shape
    seems wrong."""
    whitest = max(seen, key=lambda one: _bright(picture, one))
    if _bright(picture, whitest) > REFERENCING.whiter_times * _bright(picture, sheet):
        x, y = whitest.pixels.mean(axis=0)
        raise FileError(
            photo, "reference", f"at pixel {x:.0f},{y:.0f} is something whiter than the sheet found", _WHICH_MEND
        )


def _bright(picture: Picture, sheet: Seen) -> float:
    """The median grey level of a sheet."""
    import cv2

    low = np.floor(sheet.pixels.min(axis=0)).astype(int).clip(0)
    high = np.ceil(sheet.pixels.max(axis=0)).astype(int) + 1
    crop = picture[low[1] : high[1], low[0] : high[0]]
    mask = cv2.fillConvexPoly(np.zeros(crop.shape[:2], np.uint8), np.round(sheet.pixels - low).astype(np.int32), 1)
    return float(np.median(crop[mask > 0])) + 1


def _laid(
    pixels: Floats,
    bent: Floats | None,
    sides: tuple[Floats, ...],
    kind: str,
    size: Size,
    sigma: float,
    camera: Camera | None,
) -> list[tuple[Scale, Seen]]:
    """The scale if these are the corners of the sheet, lying the way that suits the picture best; none if that cannot
    be."""
    long_way = SHEETS[kind][0]
    trials = []
    for width, height in (long_way, long_way[::-1]):
        mm = np.array([(0, height), (width, height), (width, 0), (0, 0)], dtype=float)
        try:
            seen = Seen(mm, pixels, box(0, 0, width, height), sides=sides, bent=bent)
            trials.append((solve_scale(kind, [seen], size, sigma_pixels=sigma, camera=camera), seen))
        except (ValueError, np.linalg.LinAlgError):
            continue
    best = min(trials, key=lambda trial: trial[0].chi_square, default=None)
    return [] if best is None else [best]


def _disagree(scale: Scale, other: Scale, share: float = REFERENCING.disagree_share) -> bool:
    """Whether another likely sheet has another size by the scale of the first."""
    true = other.papers[0]
    seen = Polygon(scale.to_mm(other.to_pixels(np.asarray(true.exterior.coords))))
    return bool(not seen.is_valid or abs(seen.area / true.area - 1) > share)
