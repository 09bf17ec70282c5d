"""Leather longer than the bed, fed through in stages: what is burnt at each, how far to feed, and marks to feed by."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..model import FEED_PLAY_MM, FEED_STEP_MM, Hide, Layout, Machine, Placement
from .limits import DEFAULT, LaserLimits
from .registration import BedPose, named_points


@dataclass(frozen=True)
class Stage:
    """One stage of a panel that is fed through.

    ``fed_mm`` is how far the leather has come on since it was laid against the stop, ``step_mm`` since the stage
    before, towards the ``towards`` side of the bed. ``marks`` are points on the panel's edge along the other stop, in
    hide coordinates: S2 lies at that end of the usable bed at stage 2, T2 at its other end; stage 1 has S2 too, for it
    is marked before feeding, be it on the bed then or not. ``marks_mm`` is how far each is from the end of the leather.
    """

    number: int
    of: int
    fed_mm: float
    step_mm: float
    towards: str
    marks: dict[str, tuple[float, float]] = field(default_factory=dict)
    marks_mm: dict[str, float] = field(default_factory=dict)
    seam: Seam | None = None


@dataclass(frozen=True)
class Seam:
    """Where a part longer than the bed is parted: what lies no further along a ``way``, of length 1, than ``most_mm``
    from the hide's origin is burnt at this stage."""

    way: complex
    most_mm: float


def machine_of(layout: Layout, hide_id: str, panel: str) -> Machine:
    """The machine as it takes a panel: what is burnt in two loads is moved on along a side of the bed."""
    machine, found = layout.workshop.machine, layout.long_panels.get((hide_id, panel))
    if found is None:
        return machine
    corners = shapely.get_coordinates(found.polygon.minimum_rotated_rectangle)
    wide, long = sorted(np.hypot(*np.diff(corners[:3], axis=0).T).tolist())
    along = machine.two_loads_along(long - DEFAULT.touch_mm, wide - DEFAULT.touch_mm, layout.workshop.margins.kerf_mm)
    over = 0.0 if machine.feed_through == "none" else machine.overhang_mm
    return replace(machine, feed_through=along, overhang_mm=over) if along else machine


def stages(
    pose: BedPose | None,
    panel: Polygon,
    parts: Sequence[Placement],
    machine: Machine,
    kerf_mm: float = 0.0,
    limits: LaserLimits = DEFAULT,
    halves: bool = False,
) -> list[tuple[Stage | None, BedPose | None, list[Placement]]]:
    """The stages in which a panel is burnt, each with how it lies then and its parts; one without a Stage when it fits.

    Every part is whole at one stage, the earliest at which all of it lies on the bed, so what lies in a cutout is burnt
    no later than what surrounds it. Leather is fed on by whole millimetres, as far as the next part allows.

    Parameters
    ----------
    pose : BedPose or None
        As the panel lies on an endless bed.
    panel : Polygon
    parts : sequence of Placement
    machine : Machine
    kerf_mm : float
    limits : LaserLimits, optional
    halves : bool
        Whether the one part there is may be burnt in two halves.

    Returns
    -------
    list of (Stage or None, BedPose or None, list of Placement)

    Raises
    ------
    ModelError
        For a part that is longer than the bed the way the leather is fed: it would have to be burnt in two goes.
    """
    if pose is None or machine.feed_through == "none":
        return [(None, pose, list(parts))]
    axis = 0 if machine.feed_through == "width" else 1
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    if pose.bed_mm[axis] <= bed[axis] + limits.endless_mm:
        return [(None, pose, list(parts))]
    towards = (("left", "right"), ("bottom", "top"))[axis][_at_far_end(machine, axis)]
    window, pad, longest = machine.window_mm[axis], kerf_mm / 2 + FEED_PLAY_MM, machine.longest_fed_mm(kerf_mm)
    spans = [_span(pose, part.outline, machine, axis) for part in parts]
    seam_mm = None
    if halves and len(parts) == 1 and spans[0][1] - spans[0][0] > longest:
        seam_mm = _seam(pose, parts[0], machine, axis, (spans[0][0] - pad, spans[0][1] + pad), window, limits)
    for part, (near, far) in zip(parts, spans):
        if seam_mm is None and far - near > longest:
            raise ModelError(
                f"part {part.label}",
                f"{far - near:.0f} mm long the way the leather is fed",
                f"it would be burnt in two goes, for the usable bed is {window:g} mm long; give the part a direction "
                "that lays it across, or cut it by hand",
            )
    left, fed = list(range(len(parts))), 0.0
    found: list[tuple[float, list[int]]] = []
    if seam_mm is not None:
        on = seam_mm - limits.seam_overlap_mm - pad
        found, left = [(0.0, [0]), (FEED_STEP_MM * math.floor(on / FEED_STEP_MM), [0])], []
    while left:
        here = [n for n in left if spans[n][1] + pad <= fed + window]
        if here:
            found.append((fed, here))
            left = [n for n in left if n not in set(here)]
        if left:
            fed = max(FEED_STEP_MM * math.floor((min(spans[n][0] for n in left) - pad) / FEED_STEP_MM), 0.0)
    made: list[tuple[Stage | None, BedPose | None, list[Placement]]] = []
    for number, (fed, here) in enumerate(found, 1):
        step = fed - (found[number - 2][0] if number > 1 else 0.0)
        long = _span(pose, panel, machine, axis)[1]
        along = {f"S{number}": fed, f"T{number}": min(fed + window, long)}
        if number < len(found):
            along[f"S{number + 1}"] = found[number][0]
        found_at = {name: _mark(pose, panel, machine, axis, place) for name, place in along.items()}
        marks = {name: point for name, point in found_at.items() if point is not None}
        seam = None if seam_mm is None else _half(pose, machine, axis, seam_mm, number, limits)
        stage = Stage(number, len(found), fed, step, towards, marks, along, seam)
        made.append((stage, _fed(pose, bed, axis, fed, stage, machine), [parts[n] for n in here]))
    return made


def cut_off_at(stage: Stage, pose: BedPose, panel: Polygon, machine: Machine) -> LineString | None:
    """Where leather is cut off before a stage, in hide coordinates, for it would reach too far over the end it is fed
    towards; None where it need not be. All that is still to be burnt lies beyond."""
    if not machine.overhang_mm or stage.fed_mm <= machine.overhang_mm or stage.seam is not None:
        return None
    axis, reach = (0 if stage.towards in ("left", "right") else 1), 2 * panel.length
    place = machine.bed_margin_mm
    if _at_far_end(machine, axis):
        place = pose.bed_mm[axis] - place
    ends = [(place, -reach), (place, reach)]
    return LineString([pose.back(*(end if axis == 0 else end[::-1])) for end in ends])


def points_on_bed(
    stage: Stage | None, pose: BedPose, panel: Polygon, hide: Hide, limits: LaserLimits = DEFAULT
) -> dict[str, tuple[float, float]]:
    """The named points of a panel to measure it by, in hide coordinates.

    Of a panel fed through they are those on the bed, and the stage's marks.
    """
    points = named_points(panel, hide, limits)
    if stage is None:
        return points
    bed = shapely.box(0, 0, *pose.bed_mm).buffer(limits.endless_mm)
    return {name: point for name, point in (points | stage.marks).items() if bed.covers(pose.put(shapely.Point(point)))}


def _seam(
    pose: BedPose,
    part: Placement,
    machine: Machine,
    axis: int,
    span: tuple[float, float],
    window: float,
    limits: LaserLimits,
) -> float | None:
    """Where a part is parted, mm from the end of the panel that is on the bed first: where fewest lines cross, of such
    places the nearest to the middle; None where it is longer than two beds."""
    near, far = span
    low = far - window + FEED_STEP_MM + limits.seam_overlap_mm
    high = window - limits.seam_overlap_mm
    # the second half begins on the bed, and the first ends there
    low, high = max(low, near + limits.seam_overlap_mm), min(high, far - limits.seam_overlap_mm)
    if machine.overhang_mm:
        # the first half hangs on at the seam, so that nothing can be cut off
        high = min(high, machine.overhang_mm + limits.seam_overlap_mm + FEED_PLAY_MM)
    if low > high:
        return None
    lines = [part.outline, *part.cutouts, *part.stitch, *part.engrave]
    spans = np.array([_span(pose, line, machine, axis) for line in lines])
    places = np.linspace(low, high, max(2, round((high - low) / limits.seam_step_mm)))
    clear = limits.seam_clear_mm
    crossed = ((spans[:, :1] - clear < places) & (places < spans[:, 1:] + clear)).sum(axis=0)
    best = places[crossed == crossed.min()]
    return float(best[np.argmin(abs(best - (near + far) / 2))])


def _half(pose: BedPose, machine: Machine, axis: int, seam_mm: float, number: int, limits: LaserLimits) -> Seam:
    """What of a part is burnt at a stage, in hide coordinates; the halves overlap a little."""
    first = number == 1
    place = machine.bed_margin_mm + seam_mm + (limits.seam_overlap_mm if first else -limits.seam_overlap_mm)
    if _at_far_end(machine, axis):
        place = pose.bed_mm[axis] - place
    forwards = first != _at_far_end(machine, axis)
    way = (1.0 if axis == 0 else 1j) * (1 if forwards else -1) * cmath.exp(-1j * math.radians(pose.angle_deg))
    on = complex(*pose.back(*((place, 0.0) if axis == 0 else (0.0, place))))
    return Seam(way, (on * way.conjugate()).real)


def _at_far_end(machine: Machine, axis: int) -> bool:
    """Whether the stop that leather is fed towards is at the right or the top."""
    return ("right", "top")[axis] in machine.bed_stop


def _span(pose: BedPose, shape: BaseGeometry, machine: Machine, axis: int) -> tuple[float, float]:
    """Where a shape begins and ends, mm from the end of the panel that is on the bed first."""
    bounds = pose.put(shape).bounds
    near, far = bounds[axis] - machine.bed_margin_mm, bounds[axis + 2] - machine.bed_margin_mm
    if _at_far_end(machine, axis):
        whole = pose.bed_mm[axis] - 2 * machine.bed_margin_mm
        near, far = whole - far, whole - near
    return near, far


def _mark(pose: BedPose, panel: Polygon, machine: Machine, axis: int, place: float) -> tuple[float, float] | None:
    """The point of a panel's edge nearest to the stop it slides along, at a distance from its first end."""
    inset = machine.bed_margin_mm + place
    if _at_far_end(machine, axis):
        inset = pose.bed_mm[axis] - inset
    laid, reach = pose.put(panel), 2 * panel.length
    ends = np.array([[inset, -reach], [inset, reach]])
    met = shapely.get_coordinates(laid.boundary.intersection(LineString(ends if axis == 0 else ends[:, ::-1])))
    if not len(met):
        return None
    far = _at_far_end(machine, 1 - axis)
    x, y = met[np.argmax(met[:, 1 - axis]) if far else np.argmin(met[:, 1 - axis])]
    return pose.back(float(x), float(y))


def _fed(pose: BedPose, bed: tuple[float, float], axis: int, fed: float, stage: Stage, machine: Machine) -> BedPose:
    shift = fed - (pose.bed_mm[axis] - bed[axis]) if _at_far_end(machine, axis) else -fed
    x, y = pose.x_mm + shift * (axis == 0), pose.y_mm + shift * (axis == 1)
    how = pose.how
    if stage.fed_mm:
        along = next((stop for stop in machine.bed_stop.split() if stop != stage.towards), "other")
        how = (
            f"fed on by {stage.step_mm:g} mm to the {stage.towards} along the {along} stop, mark S{stage.number} at "
            f"the {stage.towards} end of the bed"
        )
    size = (bed[0], pose.bed_mm[1]) if axis == 0 else (pose.bed_mm[0], bed[1])
    return replace(pose, x_mm=x, y_mm=y, bed_mm=size, how=how)
