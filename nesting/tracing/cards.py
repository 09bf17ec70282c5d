"""From a photo of cut card or paper patterns on a plain ground to parts in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..errors import FileError, ModelError
from ..geometry import largest_polygon
from ..model import Curve, Curves, Part
from .arrays import Floats, Mask, Picture
from .colours import Colours, disc, even_light, grown, lab, nearest
from .contour import contours
from .edge import Edge, trace_edge
from .limits import METHOD, TraceLimits
from .outline import painted, rim, seen_near, smaller
from .photo import load_photo, noted_camera
from .pieces import fit_circle, fit_pieces
from .references import NAMES, SHEETS, Reference, find_markers, find_scale
from .rows import Row, lined_up, rows_of
from .scale import Camera, Scale, Seen
from .shadows import out_of_shadow
from .sides import covered
from .straight import mm_a_pixel, straighten
from .walls import on_ground

CARDS, EDGE = METHOD.cards, METHOD.edge
_MEND = "lay them on a plain ground of another colour or brightness, in even light"


@dataclass(frozen=True, eq=False)
class TracedCards:
    """Patterns read off a photo.

    Attributes
    ----------
    parts : tuple of Part
        One for each pattern, turned square (its longest straight side along x or y, whichever is nearer) and laid in a
        row from left to right as the photo shows them; mm, y up.
    lying : tuple of Part
        The same as they lie on the ground, in mm of ``straight``.
    rows : tuple of tuple of Row
        The rows of stitch holes of each part.
    error_mm : float
        How far 95 % of the outlines may be off, in nine photos of ten, by the scale and by what a pixel shows.
    scale_percent : float
        By how much all lengths may be off, in nineteen photos of twenty.
    width_mm : float
        How far the width of a part or of a cutout may be off: both its edges, the scale, and the wall of the card,
        which shows on one side and may look like the ground.
    reference : str
        What gave the scale.
    straight : numpy.ndarray
        (h, w, 3) uint8 RGB: the photo as seen from straight above.
    mm_per_pixel : float
        Of ``straight``.
    origin_mm : (float, float)
        Where the centre of its upper left pixel lies.
    notes : tuple of str
        What was assumed, left out or is in doubt.
    """

    parts: tuple[Part, ...]
    lying: tuple[Part, ...]
    rows: tuple[tuple[Row, ...], ...]
    error_mm: float
    scale_percent: float
    width_mm: float
    reference: str
    straight: Picture
    mm_per_pixel: float
    origin_mm: tuple[float, float]
    notes: tuple[str, ...]


def trace_cards(
    photo: str | Path,
    *,
    reference: Reference | str = "auto",
    camera: Camera | None = None,
    thickness_mm: float | None = None,
    name: str = "pattern",
    names: tuple[str, ...] = (),
) -> TracedCards:
    """Read cut patterns off a photo.

    Parameters
    ----------
    photo : str or Path
        Patterns lying flat and apart on a plain ground, all of each in the picture.
    reference : Reference or str
        What gives the scale, as :func:`nesting.trace` takes it.
    camera : Camera, optional
        What is known of the camera and its lens.
    thickness_mm : float, optional
        Of the card: its top is nearer to the camera than what gives the scale. One mm is assumed, and said, where it
        is not given.
    name : str
        Of a single part; of several, each has its number behind it.
    names : tuple of str
        Of the parts instead, from left to right.

    Returns
    -------
    TracedCards

    Raises
    ------
    FileError
        If the photo cannot be read, gives no scale worth having, or shows no pattern.
    """
    photo = Path(photo)
    if thickness_mm is not None and not 0 < thickness_mm <= CARDS.most_thick_mm:
        mend = f"give more than 0 and at most {CARDS.most_thick_mm:g} mm"
        raise FileError(photo, "thickness", f"{thickness_mm:g} mm", mend)
    picture = load_photo(photo)
    camera = camera or noted_camera(photo)
    scale, by_scale = _scale(photo, picture, reference, camera)
    raised = _raised(photo, scale, CARDS.untold_mm if thickness_mm is None else thickness_mm, camera)
    places, notes = _rough(photo, picture, scale)
    if places:
        doubts = [_doubt(scale, _around(mask, corner)) for mask, corner, _ in places]
        _refuse_unsure(photo, scale, *(min(each) for each in zip(*doubts)))
    found: list[tuple[Part, tuple[Row, ...], Floats]] = []
    for mask, corner, reach in places:
        one = _read(picture, mask, corner, reach, scale, raised)
        if isinstance(one, str):
            notes.append(one)
        else:
            found.append(one)
            notes += _faint(one[0], one[2])
    if not found:
        raise FileError(photo, "pattern", "; ".join(notes) or "none seen", _MEND)
    found.sort(key=lambda one: (one[0].outline.bounds[0], one[0].outline.bounds[1]))
    if names and len(names) != len(found):
        raise FileError(photo, "names", ", ".join(names), f"give {len(found)}, one for each pattern from left to right")
    labels = names or ((name,) if len(found) == 1 else tuple(f"{name}-{at}" for at in range(1, len(found) + 1)))
    lying = tuple(_named(part, label) for (part, _, _), label in zip(found, labels))
    pixels = [float(np.median(mm_a_pixel(raised, ring))) for *_, ring in found]
    errors = [
        float(np.hypot(scale.outline_error(ring), CARDS.off_pixels * pixel)) for (*_, ring), pixel in zip(found, pixels)
    ]
    percent = max(50 * scale.shape_errors(ring)[1] for *_, ring in found)
    _refuse_unsure(photo, scale, percent, max(errors))
    size = max(_long(part.outline) for part in lying)
    narrow = CARDS.hole_pixels * max(pixels)
    if narrow > CARDS.narrow_mm:
        notes.append(
            f"holes narrower than {narrow:.1f} mm may not show: the patterns are small in the photo, come nearer"
        )
    wall = max(_shift(scale, raised, ring) for *_, ring in found)
    width = float(np.hypot(max(2 * max(errors), percent / 100 * size), wall))
    if wall > CARDS.wide_wall_mm:
        notes.append(
            f"seen aslant, the wall of the card shows up to {wall:.1f} mm wide: cutouts may be as much too wide; take"
            " the photo from straight above the patterns, from farther off"
        )
    if thickness_mm is None:
        said, longer = _assumed(photo, scale, camera, found[0][2], size)
        notes.append(said)
        width += longer
    around = shapely.union_all([*(part.outline for part in lying), *scale.papers])
    view = shapely.box(*around.bounds).buffer(CARDS.view_mm, join_style="mitre")
    straight, mm_per_pixel, (x, y) = straighten(photo, picture, raised, view, TraceLimits())
    return TracedCards(
        _in_a_row(lying), lying, tuple(rows for _, rows, _ in found), max(errors), percent, width, scale.kind,
        straight, mm_per_pixel, (float(x), float(y)), (*scale.notes, *by_scale, *notes),
    )  # fmt: skip


def _raised(photo: Path, scale: Scale, mm: float, camera: Camera | None) -> Scale:
    try:
        return scale.raised(mm, camera)
    except ValueError as error:
        raise FileError(photo, "thickness", f"{mm:g} mm, {error}", "give thickness and measured points in mm") from None


def _assumed(photo: Path, scale: Scale, camera: Camera | None, ring: Floats, size: float) -> tuple[str, float]:
    """What the thickness assumed may be wrong by, at the largest part, and in mm."""
    thin, thick = (
        Polygon(_raised(photo, scale, mm, camera).to_mm(ring)).area for mm in (CARDS.thin_mm, CARDS.thick_mm)
    )
    share = (math.sqrt(thin / thick) - 1) / 2
    return (
        f"the card is taken to be {CARDS.untold_mm:g} mm thick: if it is paper, all lengths are {100 * share:.2f} % too"
        f" short, if it is {CARDS.thick_mm:g} mm thick, as much too long: {share * size:.1f} mm in {size:.0f} mm: say"
        " --thickness"
    ), share * size


def _scale(photo: Path, picture: Picture, reference: Reference | str, camera: Camera | None) -> tuple[Scale, list[str]]:
    """The scale by what was asked for, or by the marker sheets in view where that cannot be; and what to say of it."""
    given = Reference(reference) if isinstance(reference, str) else reference
    by_hand = given.corners is not None or given.points is not None
    sheets = find_markers(photo, picture) if given.kind in SHEETS and not by_hand else []
    if not sheets:
        return find_scale(photo, picture, given, camera, largest=CARDS.largest_sheet), []
    numbers = " and ".join(str(one.number + 1) for one in sheets if one.number is not None)
    asked, seen = NAMES[given.kind], f"marker sheet{'s' * (len(sheets) > 1)} {numbers}"
    try:
        scale = find_scale(photo, picture, given, camera, largest=CARDS.largest_sheet)
        larger = max((_larger(scale, one) for one in sheets), key=abs)
        doubt = max(50 * scale.shape_errors(_hull(one))[1] for one in sheets) / 100
    except FileError:
        why = f"no scale is to be had by {asked} in this photo"
    else:
        size = f"{100 * abs(larger):.1f} % {'longer' if larger > 0 else 'shorter'} than"
        if larger > 1:
            size = f"{1 + larger:.0f} times as long as"
        if doubt < CARDS.most_percent / 100 and abs(larger) < CARDS.other_share:
            said = f"by {asked}, {seen} came out {size} they were drawn: measure their lines of 100 mm"
            return scale, [said] if abs(larger) > doubt + CARDS.alike_share else []
        why = f"by what was taken for {asked}, {seen} would be {size} they were drawn"
    markers = Reference("markers", lengths=given.lengths)
    note = f"{why}: the scale is that of {seen} in view instead; measure their lines of 100 mm"
    return find_scale(photo, picture, markers, camera, largest=CARDS.largest_sheet), [note]


def _hull(sheet: Seen) -> Floats:
    """The pixels around what was seen of a sheet."""
    return shapely.get_coordinates(Polygon(sheet.pixels).convex_hull)


def _larger(scale: Scale, sheet: Seen) -> float:
    """By which share what was seen of a sheet is longer, by a scale, than it was drawn."""
    by_scale, drawn = (shapely.MultiPoint(mm).convex_hull.area for mm in (scale.to_mm(sheet.pixels), sheet.mm))
    return math.sqrt(by_scale / drawn) - 1


def _around(mask: Mask, corner: tuple[int, int]) -> Floats:
    """The box around what lies there, in pixels."""
    high, wide = mask.shape
    ring: Floats = np.array([(0, 0), (wide, 0), (wide, high), (0, high), (0, 0)], dtype=float) + corner
    return ring


def _doubt(scale: Scale, ring: Floats) -> tuple[float, float]:
    """By how many per cent lengths may be off, and by how many mm an outline."""
    return 50 * scale.shape_errors(ring)[1], scale.outline_error(ring)


def _shift(scale: Scale, raised: Scale, ring: Floats) -> float:
    """How wide the wall of a thing shows, mm."""
    return float(np.median(np.hypot(*(scale.to_mm(ring) - raised.to_mm(ring)).T)))


def _refuse_unsure(photo: Path, scale: Scale, percent: float, error_mm: float) -> None:
    if percent <= CARDS.most_percent and error_mm <= CARDS.most_error_mm:
        return
    value = f"lengths may be off by {percent:.1f} %, outlines by {error_mm:.1f} mm"
    mend = (
        f"that is by {NAMES[scale.kind]}; {CARDS.most_percent:g} % and {CARDS.most_error_mm:g} mm are accepted: see"
        " that they lie flat and are what was taken for them, lay two sheets or marker sheets on two sides of the"
        " patterns, and take the photo from straight above, not cropped"
    )
    raise FileError(photo, "scale", value, mend)


def _rough(photo: Path, picture: Picture, scale: Scale) -> tuple[list[tuple[Mask, tuple[int, int], float]], list[str]]:
    """What lies on the ground: masks (h, w) of pieces of the photo, where each piece begins (column, row), and to how
    many pixels it is known; and what was passed over."""
    import cv2

    sheets = [] if scale.kind == "points" else [rim(scale, sheet) for sheet in scale.papers]
    small, share = smaller(picture, CARDS.rough_pixels)
    shape = small.shape[:2]
    paper, seen = painted(shape, sheets, share), seen_near(scale, shape, share)
    seen[[0, -1]] = seen[:, [0, -1]] = False
    depth = cv2.distanceTransform(seen.astype(np.uint8), cv2.DIST_L2, 3)
    frame = seen & (depth < CARDS.frame_share * min(shape)) & ~grown(paper, 2)
    if frame.sum() < CARDS.fewest_ground:
        raise FileError(photo, "ground", "hardly any of it shows", f"step back so that it shows on every side; {_MEND}")
    cover = grown(paper, 1)
    plain = nearest(small, ~cover) if cover.any() else small
    colour = cv2.GaussianBlur(lab(even_light(plain, frame)), (0, 0), CARDS.smooth_pixels)
    ground = Colours(colour[frame], least_share=CARDS.rare_share, shading=CARDS.shading)
    strange = np.sqrt(ground.distances(colour).min(axis=-1))
    open_ground = seen & ~cover
    levels = np.clip(strange * CARDS.levels_each, 0, 255).astype(np.uint8)
    level, _ = cv2.threshold(levels[open_ground].reshape(-1, 1), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    usual = float(np.quantile(strange[frame], CARDS.usual_quantile))
    likely = (strange > max(level / CARDS.levels_each, CARDS.unusual_times * usual)) & open_ground
    likely = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_OPEN, disc(CARDS.speck_pixels))
    _, labels, facts, middles = cv2.connectedComponentsWithStats(likely, connectivity=4)
    found: list[tuple[Mask, tuple[int, int], float]] = []
    notes: list[str] = []
    for at in np.argsort(-facts[1:, cv2.CC_STAT_AREA]) + 1:
        x, y, wide, high, area = (int(value) for value in facts[at])
        spot = (middles[at] + 0.5) / share - 0.5
        pixel = float(mm_a_pixel(scale, spot[None])[0]) / share
        if area * pixel**2 < CARDS.least_mm2:
            continue
        where = f"pixel {spot[0]:.0f},{spot[1]:.0f}"
        if min(x, y) <= 1 or x + wide >= shape[1] - 1 or y + high >= shape[0] - 1:
            notes.append(f"what lies at {where} is cut off by the edge of the photo, and left out: step back")
            continue
        if len(found) == CARDS.most_parts:
            notes.append(f"more than {CARDS.most_parts} things lie there: the largest were read")
            break
        margin = CARDS.margin_pixels
        low = max(x - margin, 0), max(y - margin, 0)
        top = min(x + wide + margin, shape[1]), min(y + high + margin, shape[0])
        mask = (labels[low[1] : top[1], low[0] : top[0]] == at).astype(np.float32)
        corner = int(low[0] / share), int(low[1] / share)
        size = int(top[0] / share) - corner[0], int(top[1] / share) - corner[1]
        fine = cv2.resize(mask, size, interpolation=cv2.INTER_LINEAR) > 0.5
        found.append((fine, corner, CARDS.rough_reach_pixels / share + 1))
    return found, notes


def _read(
    picture: Picture, mask: Mask, corner: tuple[int, int], reach: float, scale: Scale, raised: Scale
) -> tuple[Part, tuple[Row, ...], Floats] | str:
    """One pattern as it lies on the ground, its rows of stitch holes, and some places along its outline in pixels; or
    why it is none."""
    high, wide = mask.shape
    crop = np.ascontiguousarray(picture[corner[1] : corner[1] + high, corner[0] : corner[0] + wide])
    usable = np.ones(mask.shape, bool)
    edge = trace_edge(crop, mask, np.zeros_like(mask), usable, reach, CARDS.least_hole_pixels)
    if edge is None:
        return f"what lies at pixel {corner[0] + wide // 2},{corner[1] + high // 2} has no clear edge, and is left out"
    ring = out_of_shadow(crop, np.asarray(edge.outline.exterior.coords), edge.blur, hole=False) + corner
    pixel = float(np.median(mm_a_pixel(scale, ring[::9])))
    sigma, blurred = pixel * max(CARDS.sigma_pixels, edge.ragged), 2 * edge.blur * pixel
    where = f"pixel {ring[:-1].mean(axis=0)[0]:.0f},{ring[:-1].mean(axis=0)[1]:.0f}"
    if float(np.median(edge.drawing.band.contrast)) < CARDS.least_contrast:
        return f"what lies at {where} hardly differs from the ground, and is left out"
    outline = fit_pieces(on_ground(ring, scale, raised, hole=False), sigma, blurred)
    polygon = Polygon(outline.flattened(CARDS.chord_mm))
    if not polygon.is_valid:
        plain = largest_polygon(Polygon(on_ground(ring, scale, raised, hole=False)).buffer(0).simplify(sigma))
        if plain is None:
            return f"what lies at {where} has no clear edge, and is left out"
        outline, polygon = Curve.of(plain), Polygon(plain.exterior)
    if _is_sheet(polygon):
        return f"what lies at {where} has the size of a sheet of paper, and is left out"
    round_ones, others = _holes(crop, edge, corner, pixel, scale, raised)
    inner = polygon.buffer(-CARDS.chord_mm)
    round_ones = [one for one in round_ones if inner.contains(shapely.Point(one[:2]).buffer(one[2]))]
    rows, alone = rows_of(np.array([one[:3] for one in round_ones]).reshape(-1, 3))
    rows = [lined_up(row, CARDS.off_pixels * pixel) for row in rows]
    clear = {one[:3] for one in round_ones if one[3]}
    single = [one for one in alone if one in clear]
    stitch = tuple(_circle(x, y, row.diameter_mm / 2) for row in rows for x, y in row.places)
    cutouts = [_circle(*one) for one in single]
    for each in others:
        cutout = fit_pieces(each, sigma, blurred)
        if not _area(cutout).is_valid:
            plain = largest_polygon(Polygon(each).buffer(0).simplify(sigma))
            if plain is None:
                continue
            cutout = Curve.of(plain)
        if inner.contains(_area(cutout)):
            cutouts.append(cutout)
    curves = Curves(outline, tuple(cutouts), stitch)
    try:
        part = Part(
            "part", polygon, cutouts=tuple(map(_area, cutouts)), stitch=tuple(map(_line, stitch)), curves=curves
        )
    except ModelError:
        return (
            f"what lies at {where} is left out: its edge and its holes cross or touch each other as far as the photo"
            " shows, as those of a pattern do not; if it is one, come nearer and lay it flat, in even light"
        )
    return part, tuple(rows), ring[:: max(1, len(ring) // CARDS.ring_places)]


def _holes(
    crop: Picture, edge: Edge, corner: tuple[int, int], pixel: float, scale: Scale, raised: Scale
) -> tuple[list[tuple[float, float, float, bool]], list[Floats]]:
    """Round holes in a pattern, each its middle and radius in mm, and whether it shows clearly; and the edges of the
    others, in mm."""
    import cv2

    inside = painted(crop.shape[:2], [np.asarray(edge.outline.exterior.coords)], 1.0)
    inside = cv2.erode(inside.astype(np.uint8), disc(CARDS.edge_pixels), borderValue=0) > 0
    rows, columns = np.nonzero(inside)
    _, _, plain, _, middle = edge.drawing.sides.judged(crop, rows, columns)
    field = np.zeros(inside.shape, np.float32)
    field[rows, columns] = np.clip(1 - covered(plain, middle), -0.5, 1.5)
    soft = cv2.GaussianBlur(field, (0, 0), CARDS.hole_smooth_pixels)
    count, labels, facts, _ = cv2.connectedComponentsWithStats((soft > CARDS.faint).astype(np.uint8), connectivity=4)
    round_ones: list[tuple[float, float, float, bool]] = []
    others: list[Floats] = []
    for at in range(1, count):
        x, y, wide, high, area = (int(value) for value in facts[at])
        if area < CARDS.fewest_hole_pixels:
            continue
        rim_pixels = CARDS.hole_rim_pixels
        left, top = max(x - rim_pixels, 0), max(y - rim_pixels, 0)
        here = np.s_[top : y + high + rim_pixels, left : x + wide + rim_pixels]
        mine = labels[here] == at
        around = grown(mine, CARDS.hole_rim_pixels - 1) & ((labels[here] == 0) | mine)
        light = np.where(around, field[here], 0)
        if max(wide, high) * pixel < CARDS.small_mm:
            beside = float(np.median(soft[here][around & ~mine])) if (around & ~mine).any() else 0.0
            if max(wide, high) > CARDS.oblong * min(wide, high) + 2 or soft[here][mine].max() < beside + CARDS.faint:
                continue
            total = float(light.sum())
            ys, xs = np.indices(light.shape)
            place = np.array([[(light * xs).sum(), (light * ys).sum()]]) / total + (left + corner[0], top + corner[1])
            low, top_mm = scale.to_mm(place)[0], raised.to_mm(place)[0]
            seen = total * float(mm_a_pixel(raised, place)[0]) ** 2
            x_mm, y_mm = (low + top_mm) / 2
            radius = _radius(seen, float(np.hypot(*(top_mm - low))))
            if 2 * radius >= CARDS.least_hole_mm:
                deep = bool(soft[here][mine].max() >= CARDS.deep)
                round_ones.append((float(x_mm), float(y_mm), radius, deep))
            continue
        lines = contours(np.where(around | mine, soft[here] - 0.5, -0.5).astype(np.float32))
        if not lines:
            continue
        ring = max(lines, key=lambda line: abs(Polygon(line).area)) + (left, top)
        ring = out_of_shadow(crop, ring, edge.blur, hole=True) + corner
        lying = on_ground(ring, scale, raised, hole=True)
        circle = fit_circle(lying[:-1])
        if circle is not None and circle[3] < CARDS.round_share * circle[2] + CARDS.round_mm:
            round_ones.append((*circle[:3], True))
        else:
            others.append(lying)
    return round_ones, others


def _radius(seen_mm2: float, shift_mm: float) -> float:
    """Of a hole of which so much shows between the edges of its top and of its foot, so far apart as they are seen."""
    low, high = math.sqrt(seen_mm2 / math.pi), math.sqrt(seen_mm2 / math.pi) + shift_mm
    for _ in range(CARDS.radius_rounds):
        radius = (low + high) / 2
        half = min(1.0, shift_mm / (2 * radius))
        lens = 2 * radius**2 * (math.acos(half) - half * math.sqrt(1 - half * half))
        low, high = (radius, high) if lens < seen_mm2 else (low, radius)
    return (low + high) / 2


def _is_sheet(polygon: Polygon) -> bool:
    around = shapely.oriented_envelope(polygon)
    sides = np.sort(np.hypot(*np.diff(shapely.get_coordinates(around)[:3], axis=0).T))
    return polygon.area > CARDS.sheet_filled * around.area and any(
        np.allclose(sides, np.sort(size), rtol=0, atol=CARDS.sheet_off_mm) for size, _ in SHEETS.values()
    )


def _faint(part: Part, ring: Floats) -> Iterator[str]:
    """What of a pattern is in doubt."""
    x, y = ring.mean(axis=0)
    many = len(part.curves.outline.nodes) if part.curves else 0
    if many > CARDS.many:
        yield (
            f"the outline of what lies at pixel {x:.0f},{y:.0f} is in {many} pieces: its edge is ragged, or the ground"
            " beside it uneven"
        )


def _circle(x: float, y: float, radius: float) -> Curve:
    return Curve(((x + radius, y, 1.0), (x - radius, y, 1.0)), True)


def _area(curve: Curve) -> Polygon:
    return Polygon(curve.flattened(CARDS.chord_mm))


def _line(curve: Curve) -> LineString:
    return curve.flattened(CARDS.chord_mm)


def _long(polygon: Polygon) -> float:
    """The longer side of the smallest box around a shape."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(polygon))
    return float(np.hypot(*np.diff(corners[:3], axis=0).T).max())


def _named(part: Part, name: str) -> Part:
    return Part(name, part.outline, cutouts=part.cutouts, stitch=part.stitch, curves=part.curves)


def _in_a_row(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Parts turned square and laid side by side, the lower left corner of the first at the origin."""
    made, x = [], 0.0
    for part in parts:
        curves = part.curves
        assert curves is not None
        curves = curves.placed(0.0, 0.0, -_askew(curves.outline))
        x0, y0, x1, _ = _area(curves.outline).bounds
        curves = curves.placed(x - x0, -y0, 0.0)
        made.append(
            Part(
                part.name,
                _area(curves.outline),
                cutouts=tuple(map(_area, curves.cutouts)),
                stitch=tuple(map(_line, curves.stitch)),
                curves=curves,
            )
        )
        x += x1 - x0 + CARDS.apart_mm
    return tuple(made)


def _askew(outline: Curve) -> float:
    """By how many degrees, 45 at most, the longest straight side of an outline is off the nearest axis; without one,
    the longer side of the smallest box around it."""
    straight = [end - start for start, end, bulge in outline.stretches() if not bulge]
    longest = max(straight, key=abs, default=0j)
    if abs(longest) < CARDS.straight_share * outline.length:
        corners = shapely.get_coordinates(shapely.oriented_envelope(_area(outline)))
        sides = np.diff(corners[:3], axis=0)
        longest = complex(*sides[np.argmax(np.hypot(*sides.T))])
    angle = math.degrees(math.atan2(longest.imag, longest.real))
    return (angle + 45) % 90 - 45
