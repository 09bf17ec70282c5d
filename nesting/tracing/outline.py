"""From a photo and its scale to the outline of the leather, from rough to fine."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias, TypeVar

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import FileError
from .arrays import Floats, Mask, Picture, Whole
from .doubt import Judgement, Reach, around, doubt, pinched
from .edge import Edge, trace_edge
from .hints import Told
from .leather import Ground, find_leather
from .limits import METHOD, TraceLimits
from .mend import mended, thin_places
from .scale import Scale
from .slits import Lines, find_inner, without_slits
from .straight import mm_a_pixel, nearest_mm

OUTLINE = METHOD.outline
Cut: TypeAlias = tuple[slice, slice]
"""Rows and columns."""
Within: TypeAlias = Callable[[Floats], Whole]
"""(n, 2) pixels of the photo to those of the smaller picture, cut."""
_Shape = TypeVar("_Shape", bound=BaseGeometry)


def find_outline(
    photo: Path, picture: Picture, scale: Scale, told: Told, limits: TraceLimits
) -> tuple[Edge | None, Judgement]:
    """The outline in pixels of the photo, and how sure it is; with the lines of which nobody told yet what they are.

    Parameters
    ----------
    photo : Path
        Named in errors.
    picture : (h, w, 3) uint8 RGB
    scale : Scale
    told : Told
    limits : TraceLimits

    Returns
    -------
    edge : Edge or None
        None if there is no leather.
    doubt : Judgement

    Raises
    ------
    FileError
        If leather cannot be told from floor.
    """
    import cv2

    sheets = [] if scale.kind == "points" else [rim(scale, sheet) for sheet in scale.papers]
    small, to_small = smaller(picture, OUTLINE.rough_pixels)
    shape = small.shape[:2]
    leather = find_leather(
        Ground(
            photo,
            small,
            seen=seen_near(scale, shape, to_small),
            paper=painted(shape, sheets, to_small),
            inside=dots(shape, told.inside, to_small),
            outside=dots(shape, told.outside, to_small),
            rough=None if told.rough is None else painted(shape, [told.rough], to_small),
            limits=limits,
        )
    )
    middle, to_middle = smaller(picture, OUTLINE.mend_pixels)
    times = to_middle / to_small
    leather = cv2.resize(leather.astype(np.float32), middle.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    cut, leather = _cut(leather, int(OUTLINE.cut_times * times) + OUTLINE.cut_pixels)
    middle = np.ascontiguousarray(middle[cut])
    usable = ~painted((cut[0].stop, cut[1].stop), sheets, to_middle)[cut]
    mm = float(np.median(mm_a_pixel(scale, _some(leather, cut) / to_middle))) / to_middle
    reach, hole_mm = OUTLINE.rough_reach_pixels, limits.smallest_hole_mm
    whole, holes, unsure, perhaps, unlike = mended(middle, leather, usable, reach * times + 1, hole_mm / mm)

    def within(pixels: Floats) -> Whole:
        places: Whole = np.round((pixels + 0.5) * to_middle - 0.5).astype(int) - (cut[1].start, cut[0].start)
        return places

    stains = _stains(photo, holes, told.stains, within)
    whole, holes = whole | stains, holes & ~stains
    top, left = (int(side.start / to_middle) for side in cut)
    bottom, right = (math.ceil(side.stop / to_middle) for side in cut)
    crop = picture[top:bottom, left:right]
    fine, fine_holes = (
        cv2.resize(mask.astype(np.float32), crop.shape[1::-1], interpolation=cv2.INTER_LINEAR) > 0.5
        for mask in (whole, holes)
    )
    fine_usable = ~painted(crop.shape[:2], [sheet - (left, top) for sheet in sheets], 1.0)
    fine_mm = mm * to_middle
    edge = trace_edge(crop, fine, fine_holes, fine_usable, reach / to_small + 1, hole_mm / fine_mm)
    if edge is None:
        return None, Judgement(0.0, 1.0)

    def moved(shape: _Shape) -> _Shape:
        return shapely.transform(shape, lambda places: places + (left, top))

    def region(outline: Polygon) -> Mask:
        shell, *holes = (
            painted(whole.shape, [np.asarray(ring.coords)], to_middle)
            for ring in (outline.exterior, *outline.interiors)
        )
        return shell & ~np.any(holes, axis=0) if holes else shell

    thin = thin_places(unlike, region(edge.outline) & usable)
    thin[:, :2] = (thin[:, :2] + (cut[1].start, cut[0].start) + 0.5) / to_middle - 0.5 - (left, top)
    inner, lines = find_inner(edge.outline, thin, edge.drawing.unlike, edge.lines)
    slits, marks, unknown = _answered(photo, edge.lines + lines, told, np.array([left, top]))
    outline = without_slits(edge.outline, inner + slits)
    traced = region(outline)
    correct = dots((cut[0].stop, cut[1].stop), told.correct, to_middle, METHOD.edge.around_pixels * to_middle)
    broad = [moved(line).buffer(OUTLINE.mark_pixels) for line in marks]
    correct |= painted(correct.shape, [np.asarray(mark.exterior.coords) for mark in broad], to_middle)
    correct |= dots(correct.shape, np.vstack([told.inside, told.outside]), to_middle)
    sure = doubt(middle, traced, usable, mm, correct[cut] | stains, limits.least_contrast)

    def in_photo(place: tuple[float, float]) -> tuple[float, float]:
        column, row = ((at + side.start + 0.5) / to_middle - 0.5 for at, side in zip(place, cut[::-1]))
        return column, row

    def not_found(reaches: Sequence[Reach]) -> tuple[Reach, ...]:
        return tuple((size * fine_mm, place) for size, place in reaches if not _found(place, told.correct))

    def all_in_photo(areas: Sequence[Polygon]) -> tuple[Polygon, ...]:
        corner = np.array([cut[1].start, cut[0].start])
        return tuple(shapely.transform(area, lambda at: (at + corner + 0.5) / to_middle - 0.5) for area in areas)

    traced_outline = moved(outline)
    lumps = [(reach, lump) for reach, lump in pinched(traced_outline) if not _found(reach[1], told.correct)]
    sure = replace(
        sure,
        deep=tuple((size, in_photo(place)) for size, place in sure.deep),
        deep_areas=all_in_photo(sure.deep_areas),
        stray=all_in_photo(sure.stray),
        lost=all_in_photo(around(_filled_in(holes | perhaps, traced), METHOD.doubt.grown_pixels)),
        faint=all_in_photo(sure.faint),
        pinched=tuple((size * fine_mm, place) for (size, place), _ in lumps),
        pinched_areas=tuple(lump for _, lump in lumps),
        unsure=not_found(_unsure(traced_outline, unsure, within)),
    )
    edge = replace(
        edge,
        outline=traced_outline,
        places=edge.places + (left, top),
        lines=[moved(line) for line in unknown],
        marks=tuple(moved(line) for line in marks),
        slits=tuple(slits),
        uncut=edge.outline,
        corner=(float(left), float(top)),
    )
    return edge, sure


def _stains(photo: Path, holes: Mask, pixels: Floats, within: Within) -> Mask:
    """The holes, (h, w) bool, that somebody told are stains."""
    import cv2

    if not len(pixels):
        return np.zeros_like(holes)
    _, labels = cv2.connectedComponents(holes.astype(np.uint8), connectivity=8)
    found = []
    for pixel, (column, row) in zip(pixels, within(pixels)):
        inside = 0 <= row < labels.shape[0] and 0 <= column < labels.shape[1]
        if not (inside and labels[row, column]):
            raise FileError(
                photo,
                "stains",
                f"no hole at {pixel[0]:.0f},{pixel[1]:.0f}",
                "give a pixel within a hole as it was traced",
            )
        found.append(labels[row, column])
    return np.isin(labels, found)


def _filled_in(holes: Mask, traced: Mask) -> Mask:
    """The holes that were seen, not at the edge, and of which nothing is left in the region that was traced."""
    import cv2

    _, labels = cv2.connectedComponents(holes.astype(np.uint8), connectivity=8)
    deep = cv2.distanceTransform(traced.astype(np.uint8), cv2.DIST_L2, 3) > METHOD.doubt.lost_deep_pixels
    left = np.unique(labels[holes & ~deep])
    gone: Mask = holes & ~np.isin(labels, left)
    return gone


def _unsure(outline: Polygon, unsure: Mask, within: Within) -> list[Reach]:
    """The holes of an outline, in pixels of the photo, that may be stains, and the diameters of circles as large;
    largest first. Each is named by a place near its rim, so that both can be seen there."""
    found: list[Reach] = []
    for hole in map(Polygon, outline.interiors):
        ((column, row),) = within(np.array(hole.representative_point().coords))
        if unsure[row, column]:
            # what is left without its rim may be several areas, or nothing
            within_rim = shapely.get_coordinates(hole.buffer(-OUTLINE.rim_pixels))
            x, y = (*within_rim, *hole.representative_point().coords)[0]
            found.append((2 * math.sqrt(hole.area / math.pi), (float(x), float(y))))
    return sorted(found, reverse=True)


def _answered(photo: Path, lines: Lines, told: Told, corner: Whole) -> tuple[Lines, Lines, Lines]:
    """The lines that were told to be slits, those rightly left out of the outline, and those of which nobody told."""
    slits: Lines = []
    for pixel in told.slits:
        place = Point(pixel - corner)
        line = min(lines, key=place.distance, default=None)
        if line is None or line.distance(place) > OUTLINE.told_slit_pixels:
            mend = "give a pixel on a line that the refusal names, or draw the slit by hand: nesting hide to-svg"
            raise FileError(photo, "slits", f"no line at {pixel[0]:.0f},{pixel[1]:.0f}", mend)
        slits.append(line)
    others = [line for line in lines if line not in slits]
    marks = [line for line in others if _found(line.coords[-1] + corner, told.correct)]
    return slits, marks, [line for line in others if line not in marks]


def _found(place: tuple[float, float] | Floats, correct: Floats) -> bool:
    """Whether somebody found the outline to be right around a place."""
    return bool((np.hypot(*(correct - place).T) < METHOD.edge.around_pixels).any())


def rim(scale: Scale, sheet: Polygon) -> Floats:
    """The edge of a reference in the photo, with a rim for what its print and its shadow touch."""
    wide = shapely.segmentize(sheet.buffer(OUTLINE.paper_rim_mm, join_style="mitre"), OUTLINE.paper_step_mm)
    return scale.to_pixels(np.asarray(wide.exterior.coords))


def smaller(picture: Picture, longest: int) -> tuple[Picture, float]:
    """The picture at most so many pixels long, and how much smaller it became."""
    import cv2

    share = min(1.0, longest / max(picture.shape))
    if share == 1:
        return picture, 1.0
    size = tuple(max(1, round(side * share)) for side in picture.shape[1::-1])
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA), share


def _cut(mask: Mask, margin: int) -> tuple[Cut, Mask]:
    """The rows and columns around the mask, and the mask there."""
    sides = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    rows, columns = (
        slice(max(int(side[0]) - margin, 0), min(int(side[-1]) + 1 + margin, whole))
        for side, whole in zip(sides, mask.shape)
    )
    return (rows, columns), np.ascontiguousarray(mask[rows, columns])


def _some(mask: Mask, cut: Cut) -> Floats:
    every = OUTLINE.sampled_pixels
    rows, columns = np.nonzero(mask[::every, ::every])
    places: Floats = np.c_[columns * every + cut[1].start, rows * every + cut[0].start].astype(float)
    return places


def painted(shape: tuple[int, ...], polygons: Sequence[Floats], share: float) -> Mask:
    """Which pixels of a picture made smaller lie in one of the polygons, given in pixels of the photo."""
    import cv2

    mask = np.zeros(shape, np.uint8)
    for polygon in polygons:
        places = np.clip((polygon + 0.5) * share - 0.5, -30_000, 30_000)
        cv2.fillPoly(mask, [np.round(places * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def dots(shape: tuple[int, ...], points: Floats, share: float, radius: float = OUTLINE.dot_pixels) -> Mask:
    import cv2

    mask = np.zeros(shape, np.uint8)
    for x, y in np.round((points + 0.5) * share - 0.5).astype(int):
        cv2.circle(mask, (int(x), int(y)), round(radius), 1, -1)
    return mask > 0


def seen_near(scale: Scale, shape: tuple[int, ...], share: float) -> Mask:
    """Where the smaller picture shows floor that is not many times further away than the references."""
    import cv2

    x, y = np.meshgrid(
        *(
            np.linspace(0, side - 1, cells)
            for side, cells in zip(shape[::-1], (OUTLINE.view_columns, OUTLINE.view_rows))
        )
    )
    fine = mm_a_pixel(scale, (np.c_[x.ravel(), y.ravel()] + 0.5) / share - 0.5)
    near = np.isfinite(fine) & (fine < OUTLINE.furthest_times * nearest_mm(scale))
    seen: Mask = cv2.resize(near.reshape(x.shape).astype(np.float32), shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    return seen
