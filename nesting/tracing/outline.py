"""From a photo and its scale to the outline of the leather, from rough to fine."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..errors import FileError
from .doubt import Doubt, Reach, doubt, pinched
from .edge import AROUND, Edge, trace_edge
from .leather import Ground, find_leather
from .mend import mended, thin_places
from .scale import Scale
from .slits import find_inner, without_slits
from .straight import FURTHEST, mm_a_pixel, nearest_mm

PAPER_RIM_MM = 4.0
ROUGH_PIXELS, MEND_PIXELS = 760, 2000
"""Longest side of the photo when leather is first told from floor, and when bays and points are put right."""
NEAR_PIXELS, MARK_PIXELS, RIM_PIXELS = 15.0, 5.0, 20.0
"""How near to a slit a pixel is that tells of it; half the breadth of a mark, which may look like floor; how far from its rim a hole
is named."""
ROUGH_REACH = 1.8
"""How far, in its pixels, the first judgement may be off."""


@dataclass(frozen=True)
class Hints:
    """What somebody showed in the photo, (n, 2) pixels each.

    Attributes
    ----------
    inside, outside : array
        Known to be leather, or not.
    rough : array or None
        A polygon drawn roughly around the leather.
    slits : array
        On lines in the leather that are slits.
    stains : array
        In what was traced as holes and is leather.
    correct : array
        Where the outline was found to be right as it was traced.
    """

    inside: np.ndarray
    outside: np.ndarray
    rough: np.ndarray | None
    slits: np.ndarray
    stains: np.ndarray
    correct: np.ndarray


def find_outline(
    photo: Path, picture: np.ndarray, scale: Scale, hints: Hints, smallest_hole_mm: float
) -> tuple[Edge | None, Doubt]:
    """The outline in pixels of the photo, and how sure it is; with the lines of which nobody told yet what they are.

    Parameters
    ----------
    photo : Path
        Named in errors.
    picture : (h, w, 3) uint8 RGB
    scale : Scale
    hints : Hints
    smallest_hole_mm : float
        Diameter of the smallest hole that is kept.

    Raises
    ------
    FileError
        If leather cannot be told from floor.
    """
    import cv2

    sheets = [] if scale.kind == "points" else [_rim(scale, sheet) for sheet in scale.papers]
    small, to_small = _smaller(picture, ROUGH_PIXELS)
    shape = small.shape[:2]
    leather = find_leather(
        Ground(
            photo, small, _seen(scale, shape, to_small), _painted(shape, sheets, to_small), _dots(shape, hints.inside, to_small),
            _dots(shape, hints.outside, to_small), None if hints.rough is None else _painted(shape, [hints.rough], to_small),
        )
    )  # fmt: skip
    middle, to_middle = _smaller(picture, MEND_PIXELS)
    times = to_middle / to_small
    leather = cv2.resize(leather.astype(np.float32), middle.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    cut, leather = _cut(leather, int(16 * times) + 20)
    middle = np.ascontiguousarray(middle[cut])
    usable = ~_painted((cut[0].stop, cut[1].stop), sheets, to_middle)[cut]
    mm = float(np.median(mm_a_pixel(scale, _some(leather, cut) / to_middle))) / to_middle
    whole, holes, unsure, unlike = mended(middle, leather, usable, ROUGH_REACH * times + 1, smallest_hole_mm / mm)

    def within(pixels: np.ndarray) -> np.ndarray:
        return np.round((pixels + 0.5) * to_middle - 0.5).astype(int) - (cut[1].start, cut[0].start)

    stains = _stains(photo, holes, hints.stains, within)
    whole, holes = whole | stains, holes & ~stains
    top, left = (int(side.start / to_middle) for side in cut)
    bottom, right = (int(math.ceil(side.stop / to_middle)) for side in cut)
    part = picture[top:bottom, left:right]
    fine, fine_holes = (
        cv2.resize(mask.astype(np.float32), part.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
        for mask in (whole, holes)
    )
    fine_usable = ~_painted(part.shape[:2], [sheet - (left, top) for sheet in sheets], 1.0)
    fine_mm = mm * to_middle
    edge = trace_edge(part, fine, fine_holes, fine_usable, ROUGH_REACH / to_small + 1, smallest_hole_mm / fine_mm)
    if edge is None:
        return None, Doubt(0.0, 1.0)

    def moved(shape):
        return None if shape is None else shapely.transform(shape, lambda p: p + (left, top))

    def region(outline: Polygon) -> np.ndarray:
        shell, *holes = (
            _painted(whole.shape, [np.asarray(ring.coords)], to_middle)
            for ring in (outline.exterior, *outline.interiors)
        )
        return shell & ~np.any(holes, axis=0) if holes else shell

    thin = thin_places(unlike, region(edge.outline) & usable)
    thin[:, :2] = (thin[:, :2] + (cut[1].start, cut[0].start) + 0.5) / to_middle - 0.5 - (left, top)
    inner, lines = find_inner(edge.outline, thin, edge.unlike, edge.lines)
    slits, marks, unknown = _answered(photo, edge.lines + lines, hints, np.array([left, top]))
    outline = without_slits(edge.outline, inner + slits)
    traced = region(outline)
    correct = _dots((cut[0].stop, cut[1].stop), hints.correct, to_middle, AROUND * to_middle)
    correct |= _painted(
        correct.shape, [np.asarray(moved(line).buffer(MARK_PIXELS).exterior.coords) for line in marks], to_middle
    )
    correct |= _dots(correct.shape, np.vstack([hints.inside, hints.outside]), to_middle)
    sure = doubt(middle, traced, usable, mm, correct[cut] | stains)
    sure = replace(
        sure,
        deep=tuple((reach, tuple((at + side.start + 0.5) / to_middle - 0.5 for at, side in zip(place, cut[::-1]))) for reach, place in sure.deep),
        pinched=tuple((reach * fine_mm, place) for reach, place in pinched(moved(outline)) if not _found(place, hints.correct)),
        unsure=tuple((wide * fine_mm, place) for wide, place in _unsure(moved(outline), unsure, within) if not _found(place, hints.correct)),
    )  # fmt: skip

    def again(tile: np.ndarray) -> Polygon | None:
        drawn = edge.again(tile)
        return None if drawn is None else moved(without_slits(drawn, slits, edge.outline))

    unknown, marks = ([moved(line) for line in lines] for lines in (unknown, marks))
    return Edge(
        moved(outline), edge.places + (left, top), edge.ragged, edge.blur, again, unknown, None, tuple(marks)
    ), sure


def _stains(photo: Path, holes: np.ndarray, pixels: np.ndarray, within) -> np.ndarray:
    """The holes, (h, w) bool, that somebody told are stains."""
    import cv2

    if not len(pixels):
        return np.zeros_like(holes)
    _, labels = cv2.connectedComponents(holes.astype(np.uint8), connectivity=8)
    told = []
    for pixel, (column, row) in zip(pixels, within(pixels)):
        inside = 0 <= row < labels.shape[0] and 0 <= column < labels.shape[1]
        if not (inside and labels[row, column]):
            raise FileError(
                photo,
                "stains",
                f"no hole at {pixel[0]:.0f},{pixel[1]:.0f}",
                "give a pixel within a hole as it was traced",
            )
        told.append(labels[row, column])
    return np.isin(labels, told)


def _unsure(outline: Polygon, unsure: np.ndarray, within) -> list[Reach]:
    """The holes of an outline, in pixels of the photo, that may be stains, and the diameters of circles as large; largest first. Each
    is named by a place near its rim, so that both can be seen there."""
    found = []
    for hole in map(Polygon, outline.interiors):
        ((column, row),) = within(np.array(hole.representative_point().coords))
        if unsure[row, column]:
            # what is left without its rim may be several pieces, or nothing
            place = (*shapely.get_coordinates(hole.buffer(-RIM_PIXELS)), *hole.representative_point().coords)[0]
            found.append((2 * math.sqrt(hole.area / math.pi), tuple(map(float, place))))
    return sorted(found, reverse=True)


def _answered(photo: Path, lines: list[LineString], hints: Hints, corner: np.ndarray) -> tuple[list[LineString], ...]:
    """The lines that were told to be slits, those rightly left out of the outline, and those of which nobody told."""
    slits = []
    for pixel in hints.slits:
        place = Point(pixel - corner)
        line = min(lines, key=place.distance, default=None)
        if line is None or line.distance(place) > NEAR_PIXELS:
            mend = "give a pixel on a line that the refusal names, or draw the slit by hand: nesting hide to-svg"
            raise FileError(photo, "slits", f"no line at {pixel[0]:.0f},{pixel[1]:.0f}", mend)
        slits.append(line)
    others = [line for line in lines if line not in slits]
    marks = [line for line in others if _found(line.coords[-1] + corner, hints.correct)]
    return slits, marks, [line for line in others if line not in marks]


def _found(place, correct: np.ndarray) -> bool:
    """Whether somebody found the outline to be right around a place."""
    return bool((np.hypot(*(correct - place).T) < AROUND).any())


def _rim(scale: Scale, sheet) -> np.ndarray:
    """The edge of a reference in the photo, with a rim for what its print and its shadow touch."""
    wide = shapely.segmentize(sheet.buffer(PAPER_RIM_MM, join_style="mitre"), 20.0)
    return scale.to_pixels(np.asarray(wide.exterior.coords))


def _smaller(picture: np.ndarray, longest: int) -> tuple[np.ndarray, float]:
    """The picture at most so many pixels long, and how much smaller it became."""
    import cv2

    share = min(1.0, longest / max(picture.shape))
    if share == 1:
        return picture, 1.0
    size = tuple(max(1, round(side * share)) for side in picture.shape[1::-1])
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA), share


def _cut(mask: np.ndarray, margin: int):
    """The rows and columns that hold the mask, and the mask there."""
    (top, bottom), (left, right) = (
        (int(np.flatnonzero(mask.any(axis=axis))[0]), int(np.flatnonzero(mask.any(axis=axis))[-1]) + 1)
        for axis in (1, 0)
    )
    cut = np.s_[max(top - margin, 0) : bottom + margin, max(left - margin, 0) : right + margin]
    cut = tuple(slice(side.start, min(side.stop, whole)) for side, whole in zip(cut, mask.shape))
    return cut, np.ascontiguousarray(mask[cut])


def _some(mask: np.ndarray, cut) -> np.ndarray:
    rows, columns = np.nonzero(mask[::40, ::40])
    return np.c_[columns * 40 + cut[1].start, rows * 40 + cut[0].start].astype(float)


def _painted(shape, polygons, share: float) -> np.ndarray:
    """Which pixels of a picture made smaller lie in one of the polygons, given in pixels of the photo."""
    import cv2

    mask = np.zeros(shape, np.uint8)
    for polygon in polygons:
        places = np.clip((polygon + 0.5) * share - 0.5, -30_000, 30_000)
        cv2.fillPoly(mask, [np.round(places * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def _dots(shape, points: np.ndarray, share: float, radius: float = 3.0) -> np.ndarray:
    import cv2

    mask = np.zeros(shape, np.uint8)
    for x, y in np.round((points + 0.5) * share - 0.5).astype(int):
        cv2.circle(mask, (int(x), int(y)), round(radius), 1, -1)
    return mask > 0


def _seen(scale: Scale, shape, share: float) -> np.ndarray:
    """Where the smaller picture shows floor that is not many times further away than the references."""
    import cv2

    x, y = np.meshgrid(*(np.linspace(0, side - 1, cells) for side, cells in zip(shape[::-1], (81, 61))))
    fine = mm_a_pixel(scale, (np.c_[x.ravel(), y.ravel()] + 0.5) / share - 0.5)
    near = np.isfinite(fine) & (fine < FURTHEST * nearest_mm(scale))
    return cv2.resize(near.reshape(x.shape).astype(np.float32), shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5
