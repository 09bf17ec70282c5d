"""Rule 13 of the referee: the reason why a part is left out is true, as far as it can be tried."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..leather.thickness import thickness_map
from ..model import GRADES, MM2_PER_DM2, Asked, Hide, Kind, Layout, OrderLine, Unplaced
from ..model.left_out import (
    EVERY,
    FILLER,
    IN_DOUBT,
    NO_COMMON_HIDE,
    NO_GRADE,
    NO_HIDE,
    NO_ROOM,
    NONE_TO_BURN,
    NOT_FOUND,
    SPOILED,
    THICKNESS,
    TOO_BIG,
    TOO_BIG_FOR_BED,
    WITH_ITS_PIECE,
)
from .findings import Finding
from .limits import DEFAULT, RefereeLimits
from .panels import fits_bed

Points: TypeAlias = npt.NDArray[np.float64]
_AREA = r" \(([0-9]+\.[0-9]+) dm2\)"


class _Place(NamedTuple):
    """Where a part left out would fit."""

    hide: str
    x: float
    y: float
    angle: float

    def laid(self, outline: Polygon) -> Polygon:
        """An outline, as drawn, laid there."""
        return shapely.transform(outline, lambda points: _turned(points, self.angle) + (self.x, self.y))

    def __str__(self) -> str:
        return f"it fits on hide {self.hide} at ({self.x:.0f}, {self.y:.0f}) turned by {self.angle:.0f} degrees"


def untrue_reasons(layout: Layout, limits: RefereeLimits = DEFAULT) -> list[Finding]:
    """Reasons of parts left out that are not true.

    What a reason says of bed, hides, leather and areas is worked out. Where it says that a part could lie nowhere, or
    nowhere as all else lies, the part is tried at many places and angles; one at which it keeps more than what it must
    is enough. That none is found proves nothing and is no finding.

    Parameters
    ----------
    layout : Layout
        Sound; one that does not say what was asked has nothing to try.
    limits : RefereeLimits, optional

    Returns
    -------
    list of Finding
    """
    trial = _Trial(layout, limits)
    found = []
    if layout.asked:
        for unplaced in layout.unplaced:
            fault = trial.fault(unplaced)
            if fault:
                value, bound = fault
                who = f"{unplaced.order} {unplaced.product} {unplaced.part} {unplaced.piece}.{unplaced.copy}"
                found.append(Finding(13, "reason", who, f"{_short(unplaced.reason)}, but {value}", bound))
    return found


def _short(reason: str) -> str:
    return repr(reason if len(reason) <= 70 else f"{reason[:67]}...")


class _Trial:
    """Tries what reasons say; parts of the same form on the same leather only once."""

    def __init__(self, layout: Layout, limits: RefereeLimits) -> None:
        self.layout, self.limits = layout, limits
        self.hides = {hide.id: hide for hide in layout.hides}
        self.lines = {(line.order, line.product): line for line in layout.lines}
        self.asked = {(one.product, one.part): one for one in layout.asked}
        cut = (*layout.placements, *layout.lost)
        self.placed = {(one.order, one.product) for one in cut} | {(one.order, one.product, one.piece) for one in cut}
        self._places: dict[tuple[str, str, bool, Kind, bool], _Place | None] = {}

    def fault(self, unplaced: Unplaced) -> tuple[str, str] | None:
        """What is wrong with a reason, and what must be."""
        asked = self.asked.get((unplaced.product, unplaced.part))
        if asked is None or not unplaced.reason.strip():
            return None  # rules 7 and 11 tell of it
        reason = unplaced.reason.strip()
        if not reason.startswith(EVERY):
            return "that is no reason that can be proved", "one that can"
        if reason.startswith(WITH_ITS_PIECE):
            return self._of_another(unplaced, reason)
        return self._own(unplaced, asked, reason)

    def _of_another(self, unplaced: Unplaced, reason: str) -> tuple[str, str] | None:
        told = reason.removeprefix(WITH_ITS_PIECE)
        for (product, part), other in self.asked.items():
            if product == unplaced.product:
                for begin in (f": {part} is ", f", for {part}: "):
                    if told.startswith(begin):
                        return self._own(unplaced, other, told.removeprefix(begin))
        parts = ", ".join(part for product, part in self.asked if product == unplaced.product)
        return "that names no part of its piece", f"for one of {parts}"

    def _own(self, unplaced: Unplaced, asked: Asked, reason: str) -> tuple[str, str] | None:
        line = self.lines.get((unplaced.order, unplaced.product))
        kind = asked.kind_for(line)
        margin = self.layout.workshop.margins.from_knife_mm
        if reason.startswith(SPOILED):
            keys = {one.key for one in self.layout.lost}
            key = (unplaced.order, unplaced.product, unplaced.part, unplaced.piece, unplaced.copy, unplaced.mirrored)
            return None if key in keys else ("it is not among what was lost", "lost at the machine")
        if reason.startswith(TOO_BIG_FOR_BED):
            hull = asked.outline.convex_hull.buffer(margin + self.limits.try_clear_mm)
            bed = self.layout.workshop.machine.window_mm
            fits = fits_bed(hull, *bed, self.limits)
            return ("it fits the bed with the margin along knife lines", "too big") if fits else None
        if reason.startswith((NO_HIDE, NONE_TO_BURN)):
            return self._of_leather(kind, reason)
        if reason.startswith(NO_COMMON_HIDE):
            alone = asked.same_hide == "no" and not asked.same_lot
            return ("its parts may come from several hides", "of parts that must match") if alone else None
        if reason.startswith((TOO_BIG, IN_DOUBT, NO_GRADE, THICKNESS)):
            place = self._tried(unplaced, asked, kind, line, empty=True)
            return (f"were the hide empty, {place}", "so") if place else None
        if reason.startswith((NO_ROOM, NOT_FOUND, FILLER)):
            return self._of_room(unplaced, kind, line, reason)
        return None

    def _of_leather(self, kind: Kind, reason: str) -> tuple[str, str] | None:
        hides, cold = self.hides.values(), replace(kind, burn=False)
        allowed = next((hide.id for hide in hides if kind.allows(hide)), None)
        if allowed is not None:
            return f"hide {allowed} is", "of leather that no hide is"
        if reason.startswith(NONE_TO_BURN):
            like = any(cold.allows(hide) for hide in hides)
            return None if kind.burn and like else (f"it asks for {kind}", "to be burnt, of leather there is")
        if reason.startswith(f"{NO_HIDE} {cold} all at once"):
            return None
        asked = {name: value for name, value in asdict(cold).items() if value}
        alone = [Kind(**{name: value}) for name, value in asked.items()]
        if any(reason.startswith(f"{NO_HIDE} {one}") and not any(map(one.allows, hides)) for one in alone):
            return None
        return f"it asks for {kind}", "leather that is asked and not there"

    def _of_room(self, unplaced: Unplaced, kind: Kind, line: OrderLine | None, reason: str) -> tuple[str, str] | None:
        told, edge = reason.partition("; it fits")[0], self.layout.workshop.margins.edge_mm
        change = re.search(r"edge margin of ([0-9.]+) mm instead of ([0-9.]+)", reason)
        if change and not math.isclose(float(change[2]), edge, rel_tol=1e-4):
            return f"the edge margin is {edge:g} mm", "so"
        largest = max(hide.outline.area for hide in self.layout.hides) / MM2_PER_DM2
        free = re.search(r"the largest free place is ([0-9]+\.[0-9]+) dm2", told)
        if free and float(free[1]) > largest + 0.01:
            return f"the largest hide is {largest:.2f} dm2", "no larger"
        for name in re.findall(r"would fit on ([^,;]+)", told):
            if name.strip() not in self.hides:
                return f"there is no hide {name.strip()}", f"one of {', '.join(self.hides)}"
        parts = {part: one for (product, part), one in self.asked.items() if product == unplaced.product}
        nowhere = {
            part: float(found[1]) for part in parts if (found := re.search(rf"\b{re.escape(part)}{_AREA}", told))
        }
        if len(re.findall(_AREA, told)) > len(nowhere):
            return "that names no part of its piece", f"of {', '.join(parts)}"
        for part, area in nowhere.items():
            own = parts[part].outline.area / MM2_PER_DM2
            between = self.layout.workshop.margins.between_mm
            # nothing lies in a bay whose mouth the beam closes
            grown = Polygon(parts[part].outline.buffer(between).exterior).area / MM2_PER_DM2
            share = self.limits.said_area_share
            if not own * (1 - share) - 0.01 <= area <= grown * (1 + share) + 0.01:
                return f"{part} is {own:.2f} dm2", "of its area"
            place = self._tried(unplaced, parts[part], parts[part].kind_for(line), line, empty=False)
            if place and "nowhere" in told:
                return f"{part} would have a place: {place}", "so"
        return None

    def _tried(
        self, unplaced: Unplaced, asked: Asked, kind: Kind, line: OrderLine | None, empty: bool
    ) -> _Place | None:
        of_line = asked.same_hide == "order" or asked.same_lot
        of_piece = (unplaced.order, unplaced.product, unplaced.piece) if asked.same_hide == "piece" else None
        if ((unplaced.order, unplaced.product) in self.placed and of_line) or of_piece in self.placed:
            return None  # what it must match binds it to some hides
        key = (asked.product, asked.part, unplaced.mirrored, kind, empty)
        if key not in self._places:
            hides = [hide for hide in self.hides.values() if kind.allows(hide)]
            found = (self._on(hide, asked, unplaced.mirrored, empty) for hide in hides)
            self._places[key] = next(filter(None, found), None)
        return self._places[key]

    def _on(self, hide: Hide, asked: Asked, mirrored: bool, empty: bool) -> _Place | None:
        settings = self.layout.settings_on(hide.id)
        if hide.laser_safe and not settings:
            return None  # it may be closed for want of a setting
        outline = asked.laid(mirrored)
        centre, rim = shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=0.1))[[0, -1]]
        radius = float(np.hypot(*(rim - centre)))
        for region in self._regions(hide, asked, empty):
            if region.is_empty:
                continue
            shapely.prepare(region)
            core = region.buffer(-0.99 * radius)
            for angle in self._angles(hide, asked):
                for place in self._at(hide, region, core, outline, centre, angle):
                    if self._thick(hide, asked, place.laid(outline)):
                        return place
        return None

    def _at(
        self, hide: Hide, region: BaseGeometry, core: BaseGeometry, outline: Polygon, centre: Points, angle: float
    ) -> Iterator[_Place]:
        """Places at one angle where an outline lies in a region."""
        if core.is_empty:
            return
        left, low, right, high = core.bounds
        step = self.limits.try_mm
        xs, ys = np.meshgrid(np.arange(left, right + step, step), np.arange(low, high + step, step))
        middles = np.column_stack([xs.ravel(), ys.ravel()])
        middles = middles[shapely.contains_xy(core, *middles.T)]
        if len(middles) > self.limits.most_tried:
            middles = middles[np.linspace(0, len(middles) - 1, self.limits.most_tried).astype(int)]
        ring = _turned(shapely.get_coordinates(outline.exterior) - centre, angle)
        laid = shapely.polygons(middles[:, None, :] + ring[None, :, :]) if len(middles) else np.array([], object)
        within = np.flatnonzero(shapely.covers(region, laid))[: self.limits.most_sampled]
        for x, y in middles[within] - _turned(centre[None, :], angle)[0]:
            yield _Place(hide.id, float(x), float(y), angle)

    def _regions(self, hide: Hide, asked: Asked, empty: bool) -> list[BaseGeometry]:
        """Leather that is surely good enough for all of a part: on the hide, or what is left of its panels."""
        layout, clear = self.layout, self.limits.try_clear_mm
        margins = layout.workshop.margins
        strictest = min([asked.grade, *(zone.grade for zone in asked.zones)])
        worse = [one.polygon for one in hide.zones if GRADES.index(one.grade) > GRADES.index(strictest)]
        flawed = shapely.union_all(worse).buffer(margins.flaw_mm + clear)
        doubts = shapely.union_all([one.polygon for one in hide.doubts]).buffer(clear)
        edge = margins.edge_mm + clear + (hide.error.range_mm[1] if hide.error else 0.0)
        region = hide.outline.buffer(-edge).difference(flawed).difference(doubts)
        if empty:
            return [region]
        panels = [panel for panel in layout.panels if panel.hide == hide.id]
        bed = layout.workshop.machine.window_mm
        if not panels and not hide.never_burnt and (layout.panels or not fits_bed(hide.outline, *bed, self.limits)):
            return []  # it would have to be cut up first
        lying = [one.outline for one in (*layout.placements, *layout.lost) if one.hide == hide.id]
        # a bay whose mouth is closed by as much is as good as a cutout: nothing lies in it
        grown = [Polygon(one.buffer(margins.between_mm + clear).exterior) for one in lying]
        taken = shapely.union_all(grown)
        free = region.difference(taken)
        if not panels:
            return [free]
        return [
            free.intersection(panel.polygon.buffer(-(margins.from_knife_mm + clear)))
            for panel in panels
            if not layout.is_burnt(panel) and not panel.longer
        ]

    def _angles(self, hide: Hide, asked: Asked) -> list[float]:
        angles: list[float] = []
        for low, high in asked.direction.intervals(hide.backbone_deg):
            count = max(1, round((high - low) / self.limits.try_deg))
            angles += [low + (high - low) * (n + 0.5) / count for n in range(count)]
        return angles

    def _thick(self, hide: Hide, asked: Asked, laid: Polygon) -> bool:
        """Whether the leather under a part is of the right thickness, and surely so, for one of the hide's settings."""
        least, greatest = asked.thickness_mm or (0.0, math.inf)
        settings = self.layout.settings_on(hide.id)
        windows = [(max(least, one.thinnest_mm), min(greatest, one.thickest_mm)) for one in settings]
        windows = windows or [(least, greatest)]
        if (0.0, math.inf) in windows:
            return True
        try:
            known = thickness_map(hide, self.layout.workshop.thickness_spread_mm)
        except ModelError:
            return False
        asking = min(self.layout.workshop.confidence + self.limits.try_sure, 1 - self.limits.chance)
        around = laid.buffer(self.limits.try_round_mm)
        sure = [known.under(around, low, high) for low, high in windows if low < high]
        return any(one is not None and one.confidence >= asking for one in sure)


def _turned(points: Points, angle: float) -> Points:
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turned: Points = points @ np.array([[cos, sin], [-sin, cos]])
    return turned
