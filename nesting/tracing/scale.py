"""From places in the photo to mm on the floor, and how well that is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeAlias, cast

import numpy as np
import shapely
from shapely.geometry import Polygon

from .arrays import Floats, Mask, Places
from .fit import least_squares
from .limits import METHOD

SCALE = METHOD.scale
Size: TypeAlias = tuple[int, int]
"""Width and height of a photo in pixels."""

HEAD = 10
"""Entries of ``values``: eight of the homography, two of the lens."""


@dataclass(frozen=True)
class Seen:
    """Points of one flat reference: (n, 2) mm in its own coordinates, y up, and (n, 2) photo pixels.

    ``outward`` (n, 2) says how each point moves, in mm, when what is printed shows 1 mm larger on each side. ``sides``
    are points along edges that are straight on the floor, (k, 2) pixels each, and ``bent`` where these cross as they
    are bent by the lens. ``cut`` is by which share of its length each side may be cut or printed longer or shorter
    (1 s.d.). ``number`` is that of a marker sheet, from 0.
    """

    mm: Floats
    pixels: Floats
    paper: Polygon | None
    outward: Floats | None = None
    sides: tuple[Floats, ...] = ()
    bent: Floats | None = None
    cut: float = 0.0
    number: int | None = None


@dataclass(frozen=True)
class Camera:
    """What is known of a camera: two radial terms of its lens (unit radius at the corner of the picture) and its focal
    length over the long side, with the spread (1 s.d.) of the terms and of the logarithm of the focal length. Without a
    spread of the terms nothing is known of the lens, save that a camera that ``straightened`` its photo, as telephones
    do, leaves little of it."""

    lens: tuple[float, float] = (0.0, 0.0)
    lens_spread: tuple[float, float] | None = None
    focal: float = SCALE.focal
    focal_spread: float = SCALE.focal_spread
    straightened: bool = False


Length: TypeAlias = tuple[tuple[float, float], tuple[float, float], float]
"""Two pixels of the photo and how far apart they are on the floor, mm."""


@dataclass(frozen=True)
class Scale:
    """The mapping between floor mm (y up) and photo pixels (whole numbers are pixel centres), with its uncertainty.

    ``values`` holds eight entries of the homography mm -> pixels (the ninth is 1) and two radial terms k1, k2 of the
    lens; ``spread`` is their (10, 10) covariance. ``misses`` is where each reference point was seen, in pixels, and how
    far that is from where it should be (n, 4). ``papers`` are the references as they lie on the floor. ``chi_square``
    tells how badly the references and an ordinary camera fit each other, in squared standard deviations. ``notes`` say
    what was assumed.
    """

    kind: str
    values: Floats
    spread: Floats
    size: Size
    papers: tuple[Polygon, ...]
    sigma_pixels: float
    chi_square: float
    misses: Floats
    notes: tuple[str, ...] = ()

    def to_pixels(self, mm: Floats) -> Places:
        """(n, 2) floor mm to (n, 2) photo pixels."""
        return _project(self.values, mm, self.size)

    def to_mm(self, pixels: Floats) -> Places:
        """(n, 2) photo pixels to (n, 2) floor mm."""
        return _unproject(self.values, pixels, self.size)

    def in_front(self, mm: Floats) -> Mask:
        """Which places on the floor lie before the camera, as the reference does."""
        last = _matrix(self.values)[2]
        middle = np.vstack([np.asarray(paper.exterior.coords) for paper in self.papers]).mean(axis=0)
        front: Mask = (np.c_[mm, np.ones(len(mm))] @ last) * (last @ [*middle, 1]) > 1e-9
        return front

    def raised(self, mm: float, camera: Camera | None = None) -> Scale:
        """The mapping for what lies so many mm above the floor, as the top of a hide does.

        It is nearer to the camera, so it shows larger than on the floor, as seen from the camera's foot. How high the
        camera is follows from the homography and the focal length (Hartley and Zisserman 2004, chapter 8); where that
        is unknown it is the one that suits the homography and an ordinary camera best. Raises ValueError when the
        camera would be less than ten times so high.
        """
        _, _, focal, focal_spread = _known(camera, self.size, (SCALE.hinted_k1, SCALE.hinted_k2))
        matrix = _matrix(self.values)

        def misfit(tried: float) -> float:
            error = (camera_error(matrix, self.size, tried)[:2] ** 2).sum() / SCALE.camera_spread**2
            return float(error + (np.log(tried / focal) / focal_spread) ** 2)

        spreads = np.linspace(-SCALE.focal_spreads, SCALE.focal_spreads, SCALE.focal_tries)
        focal = min(focal * np.exp(spreads * focal_spread), key=misfit)
        seen = (matrix - np.outer([*_lens(self.size)[0], 0], matrix[2])) / [[focal], [focal], [1]]
        x, y, middle = seen.T / np.linalg.norm(seen[:, :2], axis=0).mean()
        normal = np.cross(x, y)
        height = abs(normal @ middle)
        foot = -np.linalg.lstsq(np.column_stack([x, y]), middle - (normal @ middle) * normal, rcond=None)[0]
        if mm > SCALE.most_thick_share * height:
            raise ValueError(f"seen from {height:.3g} mm above the floor")
        share = 1 - mm / height

        def lifted(places: Floats) -> Places:
            higher: Places = foot + (places - foot) * share
            return higher

        corners = np.array([(0, 0), (height, 0), (height, height), (0, height)], dtype=float) + foot
        values = [*_values(homography(lifted(corners), apply(matrix, corners))), *self.values[8:]]
        return replace(
            self, values=np.array(values), papers=tuple(shapely.transform(paper, lifted) for paper in self.papers)
        )

    def seen_from(self, pose: tuple[float, float, float]) -> Scale:
        """The same mapping with other mm: what lies at (x, y) in them lies, turned by an angle in radians about the
        origin and moved by (x, y), where these have it. Of its spread nothing is known then."""
        angle, x, y = pose
        cos, sin = np.cos(angle), np.sin(angle)
        onto = np.array([[cos, -sin, x], [sin, cos, y], [0, 0, 1]])

        def back(places: Places) -> Places:
            there: Places = (places - (x, y)) @ onto[:2, :2]
            return there

        values = np.array([*_values(_matrix(self.values) @ onto), *self.values[8:]])
        papers = tuple(shapely.transform(paper, back) for paper in self.papers)
        return replace(self, values=values, spread=np.zeros_like(self.spread), papers=papers)

    def shape_errors(self, pixels: Floats) -> tuple[float, float]:
        """How far a shape seen at these pixels, in turn, may be wrong, in mm, and by which share of it its area may be.

        The uncertain corners of the reference are played through the homography: for each of 96 equally likely
        mappings the shape is laid on the nominal one as well as it fits (turned and moved, not scaled) and the greatest
        distance taken. Two cases in three stay below that returned, and nineteen in twenty below the share.
        """
        nominal = self.to_mm(pixels)
        nominal = nominal - nominal.mean(axis=0)
        shapes = [_unproject(values, pixels, self.size) for values in self._likely()]
        greatest = [_apart(shape, nominal).max() for shape in shapes]
        area, *areas = (Polygon(shape).area for shape in (nominal, *shapes))
        return float(np.quantile(greatest, 0.68)), float(np.quantile(np.abs(np.array(areas) / area - 1), 0.95))

    def outline_error(self, ring: Floats, untold: Scale | None = None) -> float:
        """How far 95 % of a ring of pixels is from the truth at most, in mm, in nine cases in ten; to that is added how
        far the mapping of what may lie higher, ``untold``, has it."""
        nominal = self.to_mm(ring)
        line = shapely.LinearRing(nominal)

        def off(shape: Floats) -> float:
            # along itself a line may shift without being off
            moved = shapely.points(_move(shape, _pose(shape, nominal)))
            return float(np.quantile(shapely.distance(moved, line), SCALE.most_of_it))

        likely = [off(_unproject(values, ring, self.size)) for values in self._likely()]
        return float(np.quantile(likely, SCALE.sure)) + (0.0 if untold is None else off(untold.to_mm(ring)))

    def place_errors(self, ring: Floats, places: Floats, untold: Scale | None = None) -> Floats:
        """How far places (n, 2), in pixels, may be wrong on a shape seen at a ring of pixels, in mm, (n,).

        As in `shape_errors` the shape is laid on the nominal one by every likely mapping; nine in ten leave a place
        nearer than that returned.
        """
        nominal, there = self.to_mm(ring), self.to_mm(places)

        def away(values: Floats) -> Floats:
            pose = _pose(_unproject(values, ring, self.size), nominal)
            moved: Floats = np.hypot(*(_move(_unproject(values, places, self.size), pose) - there).T)
            return moved

        found: Floats = np.quantile([away(values) for values in self._likely()], SCALE.sure, axis=0)
        return found if untold is None else found + away(untold.values)

    def distance(self, start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        """From one pixel to another, in mm, and its standard deviation."""
        ends = np.array([start, end], dtype=float)
        likely = [np.hypot(*np.diff(_unproject(values, ends, self.size), axis=0)[0]) for values in self._likely()]
        return float(np.hypot(*np.diff(self.to_mm(ends), axis=0)[0])), float(np.std(likely))

    def _likely(self) -> Floats:
        """Equally likely mappings, (samples, 10)."""
        unit = np.sqrt(np.diag(self.spread)) + 1e-300
        values, vectors = np.linalg.eigh(self.spread / np.outer(unit, unit))
        root = unit[:, None] * vectors * np.sqrt(np.maximum(values, 0))
        likely: Floats = self.values + np.random.default_rng(0).standard_normal((SCALE.samples, HEAD)) @ root.T
        return likely


def solve_scale(
    kind: str,
    seen: list[Seen],
    size: Size,
    *,
    sigma_pixels: float,
    upright: bool = True,
    camera: Camera | None = None,
    lengths: Sequence[Length] = (),
    posed: bool = False,
) -> Scale:
    """Find the mapping on which all references agree.

    One homography, two radial terms of the lens and, for each further reference, one rigid pose on the floor are fitted
    together by least squares on the pixel residuals (bundle adjustment of a plane; Hartley and Zisserman, Multiple View
    Geometry in Computer Vision, 2nd ed. 2004, chapters 4 and 7). How much larger printed markers show than they were
    drawn is fitted with them. Of distortion a single sheet tells only what straight edges show that look bent; what
    is left adds to the uncertainty. But it is small, so the picture is taken to be uncropped and the camera to be an
    ordinary one held more or less above the hide, which steadies the tilt.

    Parameters
    ----------
    kind : str
        What the references are, for people.
    seen : list of Seen
        At least one, each with four points or more; the first fixes the coordinates.
    size : (int, int)
        Width and height of the photo in pixels.
    sigma_pixels : float
        Standard deviation of a pixel coordinate; raised to what the residuals show.
    upright : bool
        Turn the floor so that the middle of the picture keeps its right-hand direction.
    camera : Camera, optional
        What is known of the camera that took the photo.
    lengths : sequence of Length, optional
        Read off a tape.
    posed : bool
        The camera has square pixels and its axis very near the middle of an uncropped picture, also where there are
        several sheets: of the homography's eight unknowns that leaves the six of a pose.

    Returns
    -------
    Scale

    Raises
    ------
    ValueError
        If the points of the first reference do not fix a homography.
    """
    if len(seen) == 1 and seen[0].bent is not None:
        seen = [replace(seen[0], pixels=seen[0].bent)]
    first = seen[0]
    middle = first.mm.mean(axis=0)
    local = [one.mm - one.mm.mean(axis=0) for one in seen]
    outward = [np.zeros_like(one.mm) if one.outward is None else one.outward for one in seen]
    matrix = homography(local[0], first.pixels)
    turn = _turn(matrix, size) if upright else np.eye(2)
    shift = np.zeros(2) if upright else middle
    floor = np.linalg.inv(np.block([[turn, shift[:, None]], [np.zeros((1, 2)), np.ones((1, 1))]]))
    lens_shows = len(seen) > 1 or (first.paper is None and len(first.mm) > 4)
    shown, hinted = (SCALE.shown_k1, SCALE.shown_k2), (SCALE.hinted_k1, SCALE.hinted_k2)
    if camera is not None and camera.straightened:
        hinted = SCALE.phone_k1, SCALE.phone_k2
    lens, lens_spread, focal, focal_spread = _known(camera, size, shown if lens_shows else hinted)
    start = [*_values(matrix @ floor), *lens]
    for mm, one in zip(local[1:], seen[1:]):
        start += _pose(mm, _unproject(np.array(start[:HEAD]), one.pixels, size))

    pixels = np.vstack([one.pixels for one in seen])
    # several sheets tell more of the lens by how they agree than by their edges (measured)
    bows = _Bows(first.sides if len(seen) == 1 else (), size)
    single = (len(seen) == 1 or posed) and upright
    cut = max(one.cut for one in seen)
    ends = np.array([end for start, stop, _ in lengths for end in (start, stop)], dtype=float).reshape(-1, 2)
    tape = np.array([mm for *_, mm in lengths])
    starts = [start]
    if single:
        guesses = [matrix, *_weak_perspectives(local[0], first.pixels, focal)]
        starts = [[*_values(guess @ floor), *lens, np.log(focal), 0.0, 0.0, *start[HEAD:]] for guess in guesses]
    # what is left of an axis off the middle makes pixels seem out of square as the floor is tilted
    square, aside = (SCALE.square_spread, SCALE.axis_spread) if posed else (SCALE.camera_spread, SCALE.least_spread)
    unlikely = np.array([square, square, SCALE.slope_spread, SCALE.slope_spread])

    starts = [[*start, 0.0, 0.0, 0.0] for start in starts]
    first_pose = HEAD + 3 * single

    def places(values: Floats) -> list[Floats]:
        swelling, longer = values[..., -1, None, None], 1 + cut * values[..., None, -3:-1]
        shown = [(mm + swelling * out) * longer for mm, out in zip(local, outward)]
        poses = [
            _move(mm, values[..., at : at + 3]) for mm, at in zip(shown[1:], range(first_pose, values.shape[-1], 3))
        ]
        return [shown[0] @ turn.T + shift, *poses]

    def residuals(values: Floats) -> Floats:
        misses = (_project(values[:, :HEAD], np.concatenate(places(values), axis=-2), size) - pixels) / sigma_pixels
        told = [
            misses.reshape(len(values), -1),
            (values[:, 8:HEAD] - lens) / lens_spread,
            values[:, -1:] / SCALE.swelling_mm,
            values[:, -3:-1],
            bows(values),
        ]
        if single:
            told += [
                camera_error(_matrix(values), size, np.exp(values[:, HEAD]), values[:, HEAD + 1 : HEAD + 3]) / unlikely,
                (values[:, HEAD, None] - np.log(focal)) / focal_spread,
                values[:, HEAD + 1 : HEAD + 3] / aside,
            ]
        if len(tape):
            there = _unproject(values[:, :HEAD], ends, size).reshape(len(values), -1, 2, 2)
            apart = np.linalg.norm(there[:, :, 1] - there[:, :, 0], axis=-1)
            told.append((apart - tape) / np.hypot(SCALE.tape_mm, SCALE.tape_share * tape))
        return np.concatenate(told, axis=-1)

    found = min((least_squares(residuals, start) for start in starts), key=lambda trial: trial.cost)
    freedom = max(len(found.residuals) - len(found.values), 1)
    growth = 1.0 if freedom < 2 else max(1.0, 2 * found.cost / freedom)
    unit = np.linalg.norm(found.slopes, axis=0)
    inverse = np.linalg.pinv((found.slopes / unit).T @ (found.slopes / unit), rcond=1e-14)
    spread = growth * inverse / np.outer(unit, unit)
    papers: list[Polygon] = []
    for one, mm, lying in zip(seen, local, places(found.values)):
        if one.paper is not None:
            corners = np.asarray(one.paper.exterior.coords) - one.mm.mean(axis=0)
            papers.append(Polygon(_move(corners, _pose(mm, lying))))
        else:
            papers.append(cast(Polygon, Polygon(lying).convex_hull))
    misses = sigma_pixels * found.residuals[: pixels.size].reshape(-1, 2)
    return Scale(
        kind, found.values[:HEAD], spread[:HEAD, :HEAD], size, tuple(papers), sigma_pixels * growth**0.5,
        2 * float(found.cost), np.c_[pixels, misses],
    )  # fmt: skip


class _Bows:
    """How far edges that are straight bend when the lens is made straight by some values, (k, n), in standard
    deviations, (k, edges)."""

    def __init__(self, sides: tuple[Floats, ...], size: Size):
        self.size, self.pixels = size, np.vstack(sides) if sides else np.empty((0, 2))
        self.starts = np.cumsum([0, *map(len, sides)])[:-1]
        weights: list[Floats] = []
        normals: list[Floats] = []
        for side in sides:
            middle = side.mean(axis=0)
            along = np.linalg.svd(side - middle, full_matrices=False)[2][0]
            at = (side - middle) @ along
            half = np.abs(at).max()
            # the last row of the fit of a parabola, whose ends lie so far from its middle
            weights.append(
                np.linalg.pinv(np.vander(at / half, 3, increasing=True))[2]
                / np.hypot(SCALE.bow_pixels, SCALE.bow_share * half)
            )
            normals.append(np.tile((-along[1], along[0]), (len(side), 1)))
        self.weighted = np.concatenate(weights)[:, None] * np.vstack(normals) if sides else self.pixels

        # slopes are taken by many values, of which but two are the lens
        self._of = lru_cache(maxsize=4)(self._by_lens)

    def __call__(self, values: Floats) -> Floats:
        return np.array([self._of(*lens) if len(self.starts) else () for lens in values[:, 8:HEAD].tolist()])

    def _by_lens(self, *lens: float) -> Floats:
        straight = _straightened(np.array([*np.zeros(8), *lens]), self.pixels, self.size)
        bows: Floats = np.add.reduceat((self.weighted * straight).sum(axis=1), self.starts)
        return bows


def _known(camera: Camera | None, size: Size, spread: tuple[float, float]) -> tuple[Floats, Floats, float, float]:
    """What to expect of the lens and the focal length in pixels, and how far from it either may be: of an unknown lens,
    so much."""
    if camera is None:
        camera = Camera()
    if camera.lens_spread is None:
        return np.zeros(2), np.array(spread), camera.focal * max(size), camera.focal_spread
    return np.array(camera.lens), np.array(camera.lens_spread), camera.focal * max(size), camera.focal_spread


def homography(source: Floats, target: Floats) -> Floats:
    """The 3 x 3 homography that takes ``source`` to ``target``, its last entry 1.

    Normalised direct linear transform (Hartley and Zisserman 2004, algorithm 4.2). Not OpenCV's, which works in single
    precision, so that a fit could not start from it as near, and does not tell when the points fix nothing.

    Parameters
    ----------
    source, target : (n, 2) arrays, n >= 4

    Raises
    ------
    ValueError
        If three of four points lie on a line, or points coincide.
    """
    (source, undo_source), (target, undo_target) = _normal(source), _normal(target)
    rows = []
    for (x, y), (u, v) in zip(source, target):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    _, sizes, right = np.linalg.svd(np.array(rows))
    matrix: Floats = np.linalg.inv(undo_target) @ right[-1].reshape(3, 3) @ undo_source
    if sizes[7] < 1e-6 * sizes[0] or abs(matrix[2, 2]) < 1e-12:
        raise ValueError("the points do not fix a homography")
    matrix /= matrix[2, 2]
    return matrix


def camera_error(matrix: Floats, size: Size, focal: float | Floats, aside: Floats | None = None) -> Floats:
    """How unlike homographies, (..., 3, 3), are to those of a camera held above the floor, (..., 4): by which share the
    axes of the floor differ in length, the cosine between them, and the slope of the floor to the camera two ways.

    With square pixels and a known optical axis, in the middle of the picture or so much aside of it, (..., 2) over the
    long side, the two axes of a plane map to perpendicular directions of equal length (Zhang, A flexible new technique
    for camera calibration, 2000: the two constraints on the image of the absolute conic). Their cross product is the
    normal of the floor as the camera sees it.
    """
    centre = _lens(size)[0] + (0.0 if aside is None else aside * max(size))
    seen = matrix.copy()
    seen[..., :2, :] -= centre[..., None] * matrix[..., 2:, :]
    seen[..., :2, :] /= np.asarray(focal)[..., None, None]
    x, y = seen[..., 0], seen[..., 1]
    long, wide = np.linalg.norm(x, axis=-1), np.linalg.norm(y, axis=-1)
    normal = np.cross(x, y)
    slopes = normal[..., :2] / normal[..., 2:]
    return np.stack([np.log(long / wide), (x * y).sum(axis=-1) / (long * wide), *np.moveaxis(slopes, -1, 0)], axis=-1)


def _normal(points: Floats) -> tuple[Floats, Floats]:
    middle = points.mean(axis=0)
    size = np.sqrt(((points - middle) ** 2).sum(axis=1).mean() / 2)
    if size < 1e-9:
        raise ValueError("the points coincide")
    return (points - middle) / size, np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, size]]) / size


def _weak_perspectives(mm: Floats, pixels: Floats, focal: float) -> list[Floats]:
    """The two tilts that the foreshortening of a small sheet allows: its vanishing points are too uncertain."""
    centre = pixels.mean(axis=0)
    affine = np.linalg.lstsq(mm, pixels - centre, rcond=None)[0].T
    zoom = np.linalg.norm(affine, 2)
    flat = affine / zoom
    rise = np.sqrt(np.maximum(1 - (flat**2).sum(axis=0), 0))
    rise[1] *= -1 if flat[:, 0] @ flat[:, 1] > 0 else 1
    found = []
    for depth in (rise * zoom / focal, -rise * zoom / focal):
        top = affine + np.outer(centre, depth)
        found.append(np.vstack([np.c_[top, centre], [*depth, 1]]))
    return found


def _values(matrix: Floats) -> Floats:
    values: Floats = (matrix / matrix[2, 2]).ravel()[:8]
    return values


def _matrix(values: Floats) -> Floats:
    return np.concatenate([values[..., :8], np.ones((*values.shape[:-1], 1))], axis=-1).reshape(
        *values.shape[:-1], 3, 3
    )


def apply(matrix: Floats, points: Floats) -> Places:
    """(..., n, 2) points through homographies, (..., 3, 3)."""
    moved = np.asarray(points, dtype=float) @ np.swapaxes(matrix[..., :2], -1, -2) + matrix[..., None, :, 2]
    applied: Places = moved[..., :2] / moved[..., 2:]
    return applied


def _lens(size: Size) -> tuple[Floats, float]:
    middle = (np.array(size, dtype=float) - 1) / 2
    return middle, float(np.hypot(*middle))


def _project(values: Floats, mm: Floats, size: Size) -> Places:
    """Homography, then Brown's first two radial terms about the middle of the picture, unit radius at its corner."""
    middle, radius = _lens(size)
    away = (apply(_matrix(values), mm) - middle) / radius
    seen: Places = middle + radius * away * _swelling(values, away)
    return seen


def _unproject(values: Floats, pixels: Floats, size: Size) -> Places:
    return apply(np.linalg.inv(_matrix(values)), _straightened(values, pixels, size))


def _straightened(values: Floats, pixels: Floats, size: Size) -> Floats:
    """Where pixels would be without the lens's distortion."""
    middle, radius = _lens(size)
    seen = (np.asarray(pixels, dtype=float) - middle) / radius
    ideal: Floats = seen
    for _ in range(SCALE.lens_rounds):
        ideal = seen / _swelling(values, ideal)
    return middle + radius * ideal


def _swelling(values: Floats, away: Floats) -> Floats:
    square = (away**2).sum(axis=-1, keepdims=True)
    times: Floats = 1 + square * (values[..., 8, None, None] + values[..., 9, None, None] * square)
    return times


def _turn(matrix: Floats, size: Size) -> Floats:
    middle = (np.array(size) - 1) / 2
    along = np.diff(apply(np.linalg.inv(matrix), np.array([middle, middle + (1, 0)])), axis=0)[0]
    cos, sin = along / np.hypot(*along)
    return np.array([[cos, sin], [-sin, cos]])


def _move(points: Floats, pose: Sequence[float] | Floats) -> Floats:
    angle, right, up = np.moveaxis(np.asarray(pose)[..., None], -2, 0)
    cos, sin, x, y = np.cos(angle), np.sin(angle), points[..., 0], points[..., 1]
    return np.stack([x * cos - y * sin + right, x * sin + y * cos + up], axis=-1)


def _pose(source: Floats, target: Floats) -> list[float]:
    """The turn and shift that lay ``source`` on ``target`` best (two-dimensional Procrustes without scaling)."""
    start, end = source.mean(axis=0), target.mean(axis=0)
    a, b = source - start, target - end
    angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return [angle, *(end - _move(start[None], (angle, 0, 0))[0])]


def _apart(shape: Floats, nominal: Floats) -> Floats:
    """How far each point of a shape is from another, laid upon it."""
    apart: Floats = np.hypot(*(_move(shape, _pose(shape, nominal)) - nominal).T)
    return apart
