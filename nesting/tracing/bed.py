"""A panel seen on a laser's bed: where it lies, by its outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeAlias

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from ..errors import FileError
from .arrays import Floats, Mask, Picture, Places
from .colours import Colours, disc, grown, nearest
from .edge import trace_edge
from .hints import Hints, Points, Told
from .leather import features_of
from .limits import METHOD, TraceLimits
from .outline import dots, painted, rim, smaller
from .photo import load_photo, noted_camera
from .references import Reference, find_markers, find_scale
from .scale import Camera, Scale, Seen, solve_scale
from .straight import mm_a_pixel, straighten
from .walls import on_ground

BED = METHOD.bed
Pose: TypeAlias = tuple[float, float, float]
"""Turned counter-clockwise by so many radians about the origin, then moved by (x, y) mm."""
SHEETS_MEND = (
    "push marker sheet 1, upright, into the bottom left corner of the bed and another into any other corner, or give"
    " the bed's corners: --corners 'x,y x,y x,y x,y' in pixels, from the bottom left on counter-clockwise"
)


@dataclass(frozen=True, eq=False)
class SeenPanel:
    """Where a panel lies on the bed.

    Attributes
    ----------
    pose : (float, float, float)
        Radians, mm, mm: from the coordinates of its hide to those of the bed, from its bottom left corner, y up.
    off_mm : float
        95 % of the outline seen lies nearer than this to the panel's.
    usual_mm : float
        Half of it does.
    parts_mm : float
        How far parts that are burnt by the pose may lie from where they belong.
    larger : float
        By which share the panel shows larger than it was traced.
    seen : (n, 2) array
        The outline as it was seen, mm on the bed.
    straight : numpy.ndarray
        (h, w, 3) uint8 RGB: the bed from straight above.
    mm_per_pixel : float
        Of ``straight``.
    origin_mm : (float, float)
        Where the centre of its upper left pixel lies on the bed.
    notes : tuple of str
        What is in doubt.
    """

    pose: Pose
    off_mm: float
    usual_mm: float
    parts_mm: float
    larger: float
    seen: Places
    straight: Picture
    mm_per_pixel: float
    origin_mm: tuple[float, float]
    notes: tuple[str, ...]


def find_panel(
    photo: str | Path,
    panel: Polygon,
    bed_mm: tuple[float, float],
    expected: Pose,
    *,
    corners: Points | None = None,
    points: Sequence[tuple[Sequence[float], Sequence[float]]] | None = None,
    camera: Camera | None = None,
    thickness_mm: float | None = None,
    shown: Hints | None = None,
    own: BaseGeometry | None = None,
) -> SeenPanel:
    """Find how a panel lies on the bed.

    Parameters
    ----------
    photo : str or Path
        The whole panel on the bed, and two marker sheets in its corners or the bed's four corners.
    panel : Polygon
        In hide coordinates, mm.
    bed_mm : (float, float)
        Width and height of the bed.
    expected : Pose
        How its card lays it: decides where its outline fits in more ways than one.
    corners : (4, 2) pixels, optional
        The corners of the bed from the bottom left on, counter-clockwise.
    points : sequence of ((px, py), (x mm, y mm)), optional
        Four or more pixels and their places on the bed instead.
    camera : Camera, optional
        What is known of the camera and its lens.
    thickness_mm : float, optional
        Of the leather.
    shown : Hints, optional
        What somebody showed in the photo, where leather and bed look alike.
    own : geometry, optional
        The edge of the hide: where the panel's is that, it is surer than where a knife has cut.

    Returns
    -------
    SeenPanel

    Raises
    ------
    FileError
        If the bed or the panel cannot be made out, the panel lies flesh side up or as no card shows it, or its outline
        is too far from the one traced.
    """
    photo = Path(photo)
    picture = load_photo(photo)
    camera = camera or noted_camera(photo)
    scale, notes, doubt = _bed_scale(photo, picture, bed_mm, corners, points, camera)
    thick = BED.untold_mm if thickness_mm is None else thickness_mm
    try:
        raised = scale.raised(thick, camera)
    except ValueError as error:
        raise FileError(photo, "thickness", f"{thick:g} mm, {error}", "give the bed's corners anew") from None
    if thickness_mm is None:
        notes.append(f"the leather is taken to be {thick:g} mm thick: give its hide readings or a nominal thickness")
    view = box(0, 0, *bed_mm).buffer(-BED.rim_mm, join_style="mitre")
    straight, step, corner = straighten(photo, picture, scale, view, TraceLimits())
    flat = _flat(scale, straight, step, corner)
    low, high = np.array(view.bounds[:2]) + BED.cut_mm, np.array(view.bounds[2:]) - BED.cut_mm
    covered = shapely.union_all([] if scale.kind == "points" else [one.buffer(BED.sheet_mm) for one in scale.papers])
    best: tuple[float, Places, Mask, list[tuple[float, Pose, bool]]] | None = None
    hidden = 0.0
    for outline in _outlines(photo, straight, flat, scale, panel, expected, shown):
        on_bed = flat.to_mm(np.asarray(outline.exterior.coords))
        seen = on_ground(scale.to_pixels(on_bed), scale, raised, hole=False)[:-1]
        clear = ((seen > low) & (seen < high)).all(axis=1) & ~shapely.contains_xy(covered, seen)
        if clear.mean() < BED.clear_share:
            hidden = max(hidden, 1 - float(clear.mean()))
            continue
        fits = fit_outlines(seen[clear], panel, own)
        if best is None or fits[0][0] < best[0]:
            best = fits[0][0], seen, clear, fits
    if best is None:
        mend = "lay the panel so that more of its edge shows on the bed, clear of the stops and the sheets"
        raise FileError(photo, "panel", f"{100 * hidden:.0f} % of its edge lies at that of the bed or sheets", mend)
    _, seen, clear, fits = best
    pose = _chosen(photo, fits, expected, notes)
    apart = _apart(seen[clear], panel, pose)
    off_mm, usual_mm = (float(np.quantile(apart, share)) for share in (0.95, 0.5))
    if off_mm > BED.most_off_mm:
        mend = (
            f"another panel? 95 % of its outline is within {off_mm:.1f} mm of the one traced, {BED.most_off_mm:g} mm"
            " are accepted; see that it is this panel, lying flat, all of it in the photo, and the corners are right"
            f"{', since ' + doubt.why if doubt.why else ''}; or trace the hide anew; or measure two points: nesting"
            " export --align"
        )
        raise FileError(photo, "panel", "no panel of this outline lies there", mend)
    if (turned := _apart_deg(pose[0], expected[0])) > BED.as_card_deg:
        notes.append(
            f"it lies turned by {turned:.0f} degrees to how its card shows it: see that the corners, or the sheets,"
            " begin at the bottom left"
        )
    larger = _larger(seen[clear], panel, pose)
    if abs(larger) > BED.most_larger:
        notes.append(
            f"the panel shows {100 * abs(larger):.1f} % {'larger' if larger > 0 else 'smaller'} than it was traced:"
            " the leather has stretched or shrunk, or a scale is off"
        )
    pixel = float(np.median(mm_a_pixel(scale, scale.to_pixels(seen[clear]))))
    clicked = max(BED.click_pixels * pixel, BED.click_mm)
    parts_mm = off_mm + (clicked if scale.kind == "points" else doubt.off_mm + BED.sheet_lie_mm)
    uneven = off_mm > BED.uneven_mm and off_mm > BED.uneven_times * usual_mm
    if doubt.why or uneven:
        parts_mm = max(parts_mm, BED.uneven_parts_times * off_mm, BED.miss_parts_times * doubt.miss_mm)
    if doubt.why:
        notes.append(f"{doubt.why}: look at the picture, and point at the corners anew")
    elif uneven:
        notes.append(
            "most of the outline fits, some is far off: a corner of the bed may be pointed at wrong, a sheet not lie in"
            " its corner, the panel not lie flat, or a knife have cut beside its line: look at the picture"
        )
    return SeenPanel(
        pose,
        off_mm,
        usual_mm,
        math.ceil(10 * parts_mm) / 10,
        larger,
        seen,
        straight,
        step,
        (float(corner[0]), float(corner[1])),
        tuple(notes),
    )


@dataclass(frozen=True)
class Doubt:
    """Of how the bed lies in a photo: how far, in mm, its corners are off by sheets, or miss what a camera sees of four
    corners pointed at, and what is to be said of that."""

    off_mm: float = 0.0
    miss_mm: float = 0.0
    why: str = ""


def fit_outlines(seen: Floats, panel: Polygon, own: BaseGeometry | None = None) -> list[tuple[float, Pose, bool]]:
    """The ways in which points of an outline, (n, 2), fit that of a panel, the best first: how far they are off, root
    mean square, in mm, how the panel lies, and whether it was turned over.

    From many turns about the middle the points are laid upon the outline by iterated closest points (Besl and McKay
    1992), against its lines (Chen and Medioni 1992), far ones counting little, and those where a knife has cut less
    than those on the hide's ``own`` edge.
    """
    from scipy.spatial import cKDTree

    found: list[tuple[float, Pose, bool]] = []
    seen = seen[:: max(1, len(seen) // BED.most_points)]
    for over in (False, True):
        model = affinity.scale(panel, -1.0 if over else 1.0, 1.0, origin=(0, 0))
        ring = shapely.get_coordinates(shapely.segmentize(model.exterior, BED.model_mm))[:-1]
        way = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
        normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
        sure = np.ones(len(ring))
        if own is not None:
            edge = affinity.scale(own, -1.0 if over else 1.0, 1.0, origin=(0, 0))
            cut = ~shapely.dwithin(edge, shapely.points(ring), BED.own_mm)
            sure = np.where(cut & (cut.mean() < BED.most_cut), BED.cut_weight, 1.0)
        tree = cKDTree(ring)
        middle, there = np.array(model.centroid.coords[0]), _middle(seen)
        few = seen[:: max(1, len(seen) // BED.few_points)]
        trials = []
        for angle in np.linspace(0, 2 * np.pi, BED.turns, endpoint=False):
            pose = _about(angle, middle, there)
            trials.append(_laid(few, pose, tree, ring, normal, sure, BED.first_rounds))
        trials.sort(key=lambda trial: trial[0])
        for _, pose in trials[: BED.followed]:
            miss, pose = _laid(seen, pose, tree, ring, normal, sure, BED.last_rounds)
            if all(other != over or _apart_deg(pose[0], at[0]) > BED.same_deg for _, at, other in found):
                found.append((miss, pose, over))
    return sorted(found, key=lambda one: one[0])


def _middle(seen: Floats) -> Floats:
    """Of the area that points in turn go around."""
    area = Polygon(seen).buffer(0)
    return np.array(area.centroid.coords[0]) if not area.is_empty else seen.mean(axis=0)


def _about(angle: float, middle: Floats, there: Floats) -> Pose:
    """The pose turned so that one place comes to lie on another."""
    cos, sin = math.cos(angle), math.sin(angle)
    x, y = there - np.array([cos * middle[0] - sin * middle[1], sin * middle[0] + cos * middle[1]])
    return angle, float(x), float(y)


def _back(places: Floats, pose: Pose) -> Floats:
    """Places on the bed in the coordinates of what lies there by a pose."""
    angle, x, y = pose
    cos, sin = math.cos(angle), math.sin(angle)
    moved = places - (x, y)
    return np.column_stack([cos * moved[:, 0] + sin * moved[:, 1], -sin * moved[:, 0] + cos * moved[:, 1]])


def _laid(
    seen: Floats, pose: Pose, tree: object, ring: Floats, normal: Floats, sure: Floats, rounds: int
) -> tuple[float, Pose]:
    """A pose after some rounds of laying points upon a ring, and how far off two in three of them are then."""
    angle, x, y = pose
    for number in range(rounds):
        places = _back(seen, (angle, x, y))
        away, near = tree.query(places)  # type: ignore[attr-defined]
        off = ((places - ring[near]) * normal[near]).sum(axis=1)
        spread = max(1.5 * float(np.median(away)), BED.least_spread_mm)
        weight = sure[near] / (1 + (away / spread) ** 2) ** 2
        # in the panel's own coordinates: a small turn and move of the points
        rows = np.column_stack([normal[near], places[:, 0] * normal[near, 1] - places[:, 1] * normal[near, 0]])
        if number < rounds // 2:
            # far from the end points draw points, which leads there from farther off
            target = ring[near] - places
            eye = np.repeat(np.eye(2)[None], len(places), axis=0)
            across = np.stack([-places[:, 1], places[:, 0]], axis=1)[..., None]
            rows = np.concatenate([eye, across], axis=2).reshape(-1, 3)
            goal, weights = target.ravel(), np.repeat(weight, 2)
        else:
            goal, weights = -off, weight
        held = 1e-9 * np.eye(3) * max(float(np.abs(rows).max()) ** 2, 1.0)
        step = np.linalg.solve((rows * weights[:, None]).T @ rows + held, (rows * weights[:, None]).T @ goal)
        # places move by the step, so the pose is followed by its inverse
        turn = float(step[2])
        cos, sin = math.cos(turn), math.sin(turn)
        forward = np.array([[cos, -sin, step[0]], [sin, cos, step[1]], [0, 0, 1]])
        c, s = math.cos(angle), math.sin(angle)
        now = np.array([[c, -s, x], [s, c, y], [0, 0, 1]]) @ np.linalg.inv(forward)
        angle, x, y = math.atan2(now[1, 0], now[0, 0]), float(now[0, 2]), float(now[1, 2])
    away = tree.query(_back(seen, (angle, x, y)))[0]  # type: ignore[attr-defined]
    return float(np.sqrt(np.mean(np.minimum(away, BED.far_mm) ** 2))), (angle, x, y)


def _chosen(photo: Path, fits: list[tuple[float, Pose, bool]], expected: Pose, notes: list[str]) -> Pose:
    """The way a panel lies; where its outline fits in several, the one nearest to how its card lays it."""
    plain = [(miss, pose) for miss, pose, over in fits if not over]
    least, over = plain[0][0], min((miss for miss, _, over in fits if over), default=math.inf)
    if over < BED.clearly_better * least and over < BED.most_off_mm:
        mend = "turn it over, grain side up, and take another photo"
        raise FileError(photo, "panel", "lies flesh side up, by its outline", mend)
    if over < least / BED.clearly_better + BED.alike_mm and least < BED.most_off_mm:
        notes.append("its outline is nearly its own mirror image: see yourself that the grain side is up")
    alike = [one for one in plain if one[0] < least / BED.clearly_better + BED.alike_mm]
    alike.sort(key=lambda one: _apart_deg(one[1][0], expected[0]))
    _, pose = alike[0]
    if len(alike) > 1 and least < BED.most_off_mm:
        turns = ", ".join(f"{_apart_deg(other[1][0], pose[0]):.0f}" for other in alike[1:])
        if _apart_deg(pose[0], expected[0]) > BED.as_card_deg:
            mend = "lay it about as its card shows, and take another photo"
            raise FileError(photo, "panel", f"its outline fits as well turned by {turns} degrees", mend)
        notes.append(
            f"its outline fits nearly as well turned by {turns} degrees: it is taken to lie as its card shows; look at"
            " the picture"
        )
    return pose


def _apart_deg(one: float, other: float) -> float:
    return abs(math.degrees(math.remainder(one - other, 2 * math.pi)))


def _apart(seen: Floats, panel: Polygon, pose: Pose) -> Floats:
    """How far points on the bed are from the outline of a panel that lies so."""
    off: Floats = np.asarray(shapely.distance(shapely.points(_back(seen, pose)), panel.exterior))
    return off


def _larger(seen: Floats, panel: Polygon, pose: Pose) -> float:
    """By which share the outline seen is larger than that of the panel."""
    places = _back(seen, pose)
    on = shapely.line_interpolate_point(
        panel.exterior, shapely.line_locate_point(panel.exterior, shapely.points(places))
    )
    near = shapely.get_coordinates(on)
    far = np.hypot(*(places - near).T) < BED.far_mm
    a, b = places[far] - places[far].mean(axis=0), near[far] - near[far].mean(axis=0)
    return float((a * b).sum() / (b * b).sum() - 1) if far.sum() > 10 else 0.0


def _outlines(
    photo: Path, straight: Picture, flat: Scale, scale: Scale, panel: Polygon, expected: Pose, shown: Hints | None
) -> list[Polygon]:
    """The outlines of what may be the panel, in pixels of the picture from above, the likeliest first."""
    given = shown or Hints()

    def flattened(places: Points) -> list[tuple[float, float]]:
        pixels = np.reshape(np.asarray(places, dtype=float), (-1, 2))
        return [(float(x), float(y)) for x, y in flat.to_pixels(scale.to_mm(pixels))] if len(pixels) else []

    told = Hints(
        flattened(given.inside), flattened(given.outside), None if given.rough is None else flattened(given.rough)
    ).checked(photo, straight)
    import cv2

    sheets = [] if scale.kind == "points" else [rim(flat, sheet) for sheet in scale.papers]
    small, share = smaller(straight, BED.rough_pixels)
    open_bed = ~painted(small.shape[:2], sheets, share)
    colours = features_of(nearest(small, open_bed) if not open_bed.all() else small)
    lying = shapely.transform(panel, lambda places: flat.to_pixels(_moved(places, expected)))
    area = panel.area / flat_mm(flat) ** 2 * share**2
    starts = [painted(small.shape[:2], [np.asarray(lying.exterior.coords)], share) & open_bed]
    if told.rough is not None:
        starts = [painted(small.shape[:2], [told.rough], share) & open_bed]
    few = colours[open_bed][:: max(1, int(open_bed.sum()) // BED.most_sample)].astype(np.float32)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.5)
    _, _, means = cv2.kmeans(few, BED.kinds, None, stop, 2, cv2.KMEANS_PP_CENTERS)
    kind = np.stack([((colours - mean) ** 2).sum(axis=-1) for mean in means]).argmin(axis=0)
    starts += [(kind == one) & open_bed for one in range(BED.kinds)]
    found: list[tuple[float, Mask]] = []
    for start in starts:
        mask = _parted(colours, start, open_bed, told, share)
        ratio = mask.sum() / area
        if 1 / BED.most_area_times < ratio < BED.most_area_times and not any(
            (mask & other).sum() > BED.same_share * (mask | other).sum() for _, other in found
        ):
            found.append((abs(math.log(ratio)), mask))
    if not found:
        mend = "show where it is: --inside 'x,y' on the leather, --outside, or --rough; or lay paper under it"
        raise FileError(photo, "panel", "nothing of its size can be told from the bed", mend)
    found.sort(key=lambda one: one[0])
    outlines = []
    for _, mask in found[: BED.most_tried]:
        fine = cv2.resize(mask.astype(np.float32), straight.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
        usable = ~painted(straight.shape[:2], sheets, 1.0)
        hole = BED.least_hole_mm / flat_mm(flat)
        edge = trace_edge(straight, fine, np.zeros_like(fine), usable, BED.reach_pixels / share + 1, hole)
        if edge is not None:
            outlines.append(edge.outline)
    return outlines


def _parted(colours: Floats, start: Mask, open_bed: Mask, told: Told, share: float) -> Mask:
    """The leather, (h, w), if it lies about there: what is more like what lies there than like the rest, learnt again
    some times from what was found."""
    import cv2

    leather = start
    inside, outside = (dots(leather.shape, places, share) for places in (told.inside, told.outside))
    for _ in range(BED.parted_rounds):
        heart = cv2.erode(leather.astype(np.uint8), disc(BED.heart_pixels)) > 0
        beyond = open_bed & ~grown(leather, BED.heart_pixels)
        if min(heart.sum(), beyond.sum()) < BED.fewest_pixels:
            return np.zeros_like(leather)
        ours, others = (
            Colours(colours[some], least_share=BED.rare_share, shading=BED.shading).surprise(colours)
            for some in (heart | inside, beyond | outside)
        )
        nearer = cv2.GaussianBlur(np.clip(others - ours, -BED.telling, BED.telling), (0, 0), BED.smooth_pixels)
        likely = ((nearer > 0) | inside) & open_bed & ~outside
        opened = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_OPEN, disc(BED.speck_pixels))
        count, labels, facts, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
        if count < 2:
            return np.zeros_like(leather)
        wanted = np.bincount(labels[start & (opened > 0)], minlength=count)
        wanted[0] = 0
        best = int(wanted.argmax()) if wanted.any() else 1 + int(facts[1:, cv2.CC_STAT_AREA].argmax())
        outer, _ = cv2.findContours((labels == best).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        leather = cv2.drawContours(np.zeros(leather.shape, np.uint8), outer, -1, 1, -1) > 0
    return leather


def flat_mm(flat: Scale) -> float:
    """Of a pixel of the picture from above."""
    return float(1 / flat.values[0])


def _flat(scale: Scale, straight: Picture, step: float, corner: Floats) -> Scale:
    """The mapping of the picture from above."""
    x, y = float(corner[0]), float(corner[1])
    values = np.array([1 / step, 0, -x / step, 0, -1 / step, y / step, 0, 0, 0, 0], dtype=float)
    return replace(scale, values=values, spread=np.zeros((10, 10)), size=(straight.shape[1], straight.shape[0]))


def _bed_scale(
    photo: Path,
    picture: Picture,
    bed_mm: tuple[float, float],
    corners: Points | None,
    points: Sequence[tuple[Sequence[float], Sequence[float]]] | None,
    camera: Camera | None,
) -> tuple[Scale, list[str], Doubt]:
    """The mapping from mm on the bed to pixels, what is to be said of it, and what is in doubt."""
    wide, high = bed_mm
    if corners is not None:
        places = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
        if len(corners) != 4:
            mend = "give four: 'x,y x,y x,y x,y' from the bottom left on, counter-clockwise"
            raise FileError(photo, "--corners", f"{len(corners)} corners", mend)
        if Polygon(np.reshape(np.asarray(corners, dtype=float), (-1, 2))).exterior.is_ccw:
            mend = "give them from the bottom left on to the bottom right, the top right and the top left"
            raise FileError(photo, "--corners", "they run the wrong way round", mend)
        pairs = list(zip([tuple(map(float, one)) for one in corners], places))
        try:
            scale = find_scale(photo, picture, Reference("points", points=pairs), camera)
        except FileError as error:
            if error.place != "points":
                raise
            mend = (
                "begin at the bottom left of the bed, counter-clockwise, in pixels of this photo, which has"
                f" {picture.shape[1]} x {picture.shape[0]}, not of a smaller copy; and see that the bed is {wide:g} x"
                f" {high:g} mm and the photo not cropped"
            )
            raise FileError(photo, "--corners", str(error.value).partition(":")[0], mend) from None
        return scale, [], _pointed(scale, np.reshape(np.asarray(corners, dtype=float), (4, 2)), bed_mm, camera)
    if points is not None:
        return find_scale(photo, picture, Reference("points", points=points), camera), [], Doubt()
    seen = sorted(
        (one for one in find_markers(photo, picture) if one.number is not None), key=lambda one: one.number or 0
    )
    if len(seen) < 2:
        raise FileError(photo, "marker sheets", f"{len(seen)} seen on the bed", SHEETS_MEND)
    scale = find_scale(photo, picture, Reference("markers"), camera)
    papers = []
    for one in seen:
        page = np.asarray(one.paper.exterior.coords)[:-1] if one.paper is not None else one.mm
        papers.append((_moved(page, rigid(one.mm, scale.to_mm(one.pixels))), page))
    first, page = papers[0]
    start = rigid(first, page)
    bed = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], dtype=float)
    lower_left = first[np.argmin(page.sum(axis=1))]
    met = [(lower_left, bed[0])]
    for paper, _ in papers[1:]:
        away = np.hypot(*np.moveaxis(_moved(paper, start)[:, None] - bed[None], -1, 0))
        at, to = np.unravel_index(int(away.argmin()), away.shape)
        if to != 0 and away[at, to] < BED.sheet_near_mm:
            met.append((paper[at], bed[to]))
    if len(met) < 2:
        how, mend = _lying([(one.number or 0) + 1 for one in seen], papers, bed)
        raise FileError(photo, "marker sheets", how, f"{mend}; {SHEETS_MEND}")
    pose = rigid(np.array([to for _, to in met]), np.array([at for at, _ in met]))
    scale = scale.seen_from(pose)
    on_bed = _moved(np.array([to for _, to in met]), pose)
    miss = float(np.hypot(*(on_bed - np.array([at for at, _ in met])).T).max())
    if miss > BED.most_corner_mm:
        value = f"corners of the bed are {miss:.1f} mm off by the sheets, {BED.most_corner_mm:g} mm are accepted"
        raise FileError(photo, "marker sheets", value, f"see that the bed is {wide:g} x {high:g} mm; {SHEETS_MEND}")
    return scale, [f"the bed's corners are {miss:.1f} mm off by the sheets that lie in them"], Doubt(off_mm=miss)


def _pointed(scale: Scale, corners: Floats, bed_mm: tuple[float, float], camera: Camera | None) -> Doubt:
    """What is in doubt of corners pointed at, (4, 2) pixels: eight numbers, of which a camera leaves six free."""
    wide, high = bed_mm
    bed = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], dtype=float)
    pixel = math.sqrt(wide * high / Polygon(corners).area)
    sigma = max(BED.click_pixels, BED.click_mm / pixel)
    try:
        posed = solve_scale(
            "points", [Seen(bed, corners, None)], scale.size, sigma_pixels=sigma, camera=camera, posed=True
        )
    except (ValueError, np.linalg.LinAlgError):
        return Doubt()
    miss = float(np.hypot(*posed.misses[:, 2:].T).max())
    if posed.chi_square < BED.odd_chi_square:
        return Doubt()
    why = (
        f"the four corners are not as a camera sees a bed of {wide:g} x {high:g} mm: one may be pointed at some"
        f" {BED.corner_times * miss:.0f} pixels wrong, or the photo is cropped"
    )
    return Doubt(miss_mm=miss * pixel, why=why)


CORNERS = ("bottom left", "bottom right", "top right", "top left")


def _lying(numbers: list[int], papers: list[tuple[Floats, Floats]], bed: Floats) -> tuple[str, str]:
    """Of sheets of which no second lies in a corner of the bed while the first is upright in the bottom left one: how
    they lie, and what mends that."""
    first, page = papers[0]
    tried = []
    for turns in range(4):
        angle = turns * math.pi / 2
        turned = _moved(page, (angle, 0.0, 0.0))
        start = rigid(first, turned - turned.min(axis=0))
        for number, (paper, _) in zip(numbers[1:], papers[1:]):
            away = np.hypot(*np.moveaxis(_moved(paper, start)[:, None] - bed[None, 1:], -1, 0)).min(axis=0)
            tried.append((float(away.min()), turns, number, CORNERS[1 + int(away.argmin())]))
    away_mm, turns, number, corner = min(tried)
    if turns and away_mm < BED.sheet_near_mm:
        how = ("", "on its side, its top to the left", "upside down", "on its side, its top to the right")[turns]
        other = f"sheet {number} lies right, in the {corner} corner"
        return f"sheet {numbers[0]} lies {how}", f"turn it upright in the bottom left corner of the bed; {other}"
    away_mm, _, number, corner = min(one for one in tried if not one[1])
    value = f"sheet {number} lies {away_mm:.0f} mm from the {corner} corner"
    wide, high = bed[2]
    return (
        value,
        f"that is if sheet {numbers[0]} lies upright in the bottom left one of a bed of {wide:g} x {high:g} mm",
    )


def rigid(source: Floats, target: Floats) -> Pose:
    """The turn and move that lay points, (n, 2), upon others as well as it goes, without scaling."""
    start, end = source.mean(axis=0), target.mean(axis=0)
    a, b = source - start, target - end
    angle = float(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
    return _about(angle, start, end)


def _moved(places: Floats, pose: Pose) -> Floats:
    angle, x, y = pose
    cos, sin = math.cos(angle), math.sin(angle)
    moved: Floats = places @ np.array([[cos, sin], [-sin, cos]]) + (x, y)
    return moved
