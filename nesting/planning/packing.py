"""What the engine is asked: pieces of hides as containers, wished parts as items; and its answer put back."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from .. import engine
from ..geometry import areal, offset, place
from ..leather.knife import Way, bed_angle, reach
from ..leather.regions import NO_ROOM, areas_by_grade, flaws, why_not
from ..model import GRADES, Job, Part
from .ready import Ready, holds
from .wishes import Wish

WINDOW_KINDS = len(GRADES)
"""Obstacle kinds below this are grades; from here on they are limits of thickness."""
REMEMBERED = 64
"""Pieces whose containers are kept: many short searches are made on each."""
ROOM_TO_CHOOSE = 2.0
"""A piece is offered copies of each part for up to so many times its area."""


class Piece(NamedTuple):
    """A piece of a hide to place on, packed towards the end in direction ``towards_deg``."""

    hide: str
    polygon: Polygon
    towards_deg: float = 180.0


class Lie(NamedTuple):
    """Where a wished part lies: on which piece (its index), its pose, and which of the hide's settings burns it."""

    piece: int
    x: float
    y: float
    angle_deg: float
    band: int = 0


Lies = dict[int, Lie]
"""Lies by index of the wish."""


class Answer(NamedTuple):
    """What a search came to, what it cost, and whether it was broken off by Ctrl-C or a cancel."""

    lies: Lies
    iterations: int = 0
    interrupted: bool = False


class Packing:
    """The wishes and hides of a job, put to the engine for any pieces of the hides.

    Parameters
    ----------
    job : Job
    hides : tuple of Ready
    wishes : sequence of Wish
    """

    def __init__(self, job: Job, hides: tuple[Ready, ...], wishes: list[Wish]):
        self.margins, self.confidence, self.wishes = job.workshop.margins, job.workshop.confidence, wishes
        self.machine, self.smallest_offcut_mm = job.workshop.machine, job.workshop.smallest_offcut_mm
        self.hides = {item.hide.id: item for item in hides if item.open}
        self.half = self.margins.between_mm / 2
        """How far items grow so that two that touch are kerf + gap apart."""
        ranges = dict.fromkeys((None, *(wish.part.thickness_mm for wish in wishes)))
        bands = max([len(item.settings) for item in self.hides.values()], default=0) or 1
        limits = [(band, limit) for band in range(bands) for limit in ranges if limit or bands > 1]
        self.kinds = {limit: WINDOW_KINDS + number for number, limit in enumerate(limits)}
        self._shapes: dict = {}
        self._obstacles: dict = {}
        self._containers: dict = {}

    @cached_property
    def sizes(self) -> list[float]:
        """Area of each wished part as it is packed, mm2."""
        return [self.shape(wish, 0).polygon.area for wish in self.wishes]

    @cached_property
    def homes(self) -> list[tuple[str, ...]]:
        """Hides that each wish could lie on with any of their settings, if nothing else lay there."""
        found: dict = {}
        for wish in self.wishes:
            if wish.shape not in found:
                found[wish.shape] = tuple(hide for hide in self.hides if self._fits(wish.drawn, self.hides[hide]))
        return [found[wish.shape] for wish in self.wishes]

    def _fits(self, part: Part, item: Ready) -> bool:
        regions = (holds(item, part.thickness_mm, band, self.confidence) for band in range(max(len(item.settings), 1)))
        return any(why_not(part, item.hide, self.margins, region) == NO_ROOM for region in regions)

    def container(self, piece: Piece) -> engine.Container | None:
        """A piece as the engine sees it; None when nothing can lie on it."""
        if piece not in self._containers:
            if len(self._containers) >= REMEMBERED:
                self._containers.clear()
            self._containers[piece] = self._container(piece)
        return self._containers[piece]

    def _container(self, piece: Piece) -> engine.Container | None:
        item = self.hides.get(piece.hide)
        if item is None:
            return None
        obstacles, burnable = self._limits(item)
        region = offset(piece.polygon, -max(self.margins.edge_mm - self.half, 0.0))
        if burnable is not None:
            region = region.intersection(burnable)
        region = areal(region)
        if region.is_empty:
            return None
        frame = shapely.box(*region.bounds).buffer(1.0)
        near = [
            engine.Obstacle(areal(o.polygon.intersection(frame)), o.kind)
            for o in obstacles
            if o.polygon.intersects(region)
        ]
        return engine.Container(region, tuple(near), item.hide.backbone_deg, piece.towards_deg, piece.hide)

    def shape(self, wish: Wish, band: int, feeds: frozenset[float] = frozenset()) -> engine.Shape | None:
        """The form of a wish when it is burnt with setting number ``band`` of its hide.

        ``feeds`` are the ways in which leather is fed through, degrees from the backbone: a long part keeps to angles at
        which it is whole on the bed. It is None when there is no such angle.
        """
        key = (*wish.shape, band, feeds)
        if key not in self._shapes:
            part, kind = wish.drawn, self.kinds.get((band, wish.part.thickness_mm))
            window = frozenset() if kind is None else frozenset({kind})
            areas = [
                engine.Area(offset(a, self.half), frozenset({GRADES.index(g)}) | window)
                for g, a in areas_by_grade(part)
            ]
            outer = Polygon(offset(part.outline, self.half).exterior)
            angles = part.direction.intervals(0.0)
            if feeds:
                angles = angles_within(part.outline, angles, feeds, self.machine.longest_fed_mm(self.margins.kerf_mm))
            self._shapes[key] = engine.Shape(outer, tuple(areas), angles) if angles else None
        return self._shapes[key]

    def problem(self, pieces: list[Piece], bands: Mapping[int, int], ranks: Mapping[int, int], held: Mapping[str, str]):
        """An engine problem.

        Parameters
        ----------
        pieces : list of Piece
        bands : dict
            Wishes to place (by index) and the setting each is burnt with.
        ranks : dict
            What is placed first; a wish's own rank where it names none.
        held : dict
            Hides on which groups of matching parts have to be.

        Returns
        -------
        Problem or None, list of int, list of int
            None when there is nowhere to place, or nothing; the piece of each container; the wish of each item.
        """
        made = [(number, self.container(piece)) for number, piece in enumerate(pieces)]
        made = [(number, container) for number, container in made if container is not None]
        where = [number for number, _ in made]
        fed = {number: self._feed(pieces[number]) for number in where}
        feeds = frozenset(feed for feed in fed.values() if feed is not None)
        shapes, items, whose = {}, [], []
        for index, band in bands.items():
            wish = self.wishes[index]
            home = held.get(wish.match) if wish.match else None
            form = self.shape(wish, band, feeds)
            whole = form is not None
            form = form or self.shape(wish, band)
            allowed = tuple(
                n
                for n, number in enumerate(where)
                if home in (None, pieces[number].hide) and (whole or fed[number] is None)
            )
            if allowed:
                number = shapes.setdefault((wish.shape, band), (len(shapes), form))[0]
                limit = None if home is None and whole else allowed
                items.append(engine.Item(number, ranks.get(index, wish.rank), wish.match or None, limit))
                whose.append(index)
        if not items:
            return None, where, whose
        forms = tuple(form for _, form in shapes.values())
        return engine.Problem(tuple(container for _, container in made), forms, tuple(items)), where, whose

    def solve(
        self,
        pieces: list[Piece],
        bands: Mapping[int, int],
        stop: engine.Stop,
        seed: int,
        *,
        start: Lies | None = None,
        ranks: Mapping[int, int] | None = None,
        held: Mapping[str, str] | None = None,
        progress=None,
        workers: int = 1,
    ) -> Answer:
        """Place wishes on pieces, from a start if there is one; what finds no place is left out."""
        problem, where, whose = self.problem(pieces, bands, ranks or {}, held or {})
        if problem is None:
            return Answer({})
        back = {number: container for container, number in enumerate(where)}
        begin = None
        if start:
            poses = [start.get(index) for index in whose]
            poses = tuple(lie and engine.Pose(back[lie.piece], lie.x, lie.y, lie.angle_deg) for lie in poses)
            begin = engine.Solution(poses, (), float("inf"))
        solution = engine.solve(problem, stop, seed, start=begin, progress=progress, workers=workers)
        lies = {
            index: Lie(where[pose.container], pose.x, pose.y, pose.angle_deg, bands[index])
            for index, pose in zip(whose, solution.poses)
            if pose is not None
        }
        return Answer(lies, solution.iterations, solution.interrupted)

    def shortlist(self, indices: Iterable[int], area_mm2: float) -> list[int]:
        """Of many copies of a part only as many as a piece could ever hold, with room to choose."""
        left, chosen = {}, []
        for index in indices:
            shape = self.wishes[index].shape
            if left.setdefault(shape, ROOM_TO_CHOOSE * area_mm2) > 0:
                left[shape] -= self.sizes[index]
                chosen.append(index)
        return chosen

    def too_long_for(self, way: Way, hide: str, indices: Iterable[int]) -> tuple[float, ...]:
        """Area of the wishes that no panel of a way to cut a hide up could hold, by rank."""
        held, backbone_deg, edge = {}, self.hides[hide].hide.backbone_deg, 2 * self.margins.edge_mm
        for index in indices:
            wish = self.wishes[index]
            if wish.shape not in held:
                angles = wish.drawn.direction.intervals(backbone_deg - way.along_deg)
                held[wish.shape] = goes_into(wish.drawn.outline, angles, way.long_mm - edge, way.wide_mm - edge)
        return self.unplaced(
            set(range(len(self.wishes))) - {index for index in indices if not held[self.wishes[index].shape]}
        )

    def outline(self, index: int, lie: Lie) -> Polygon:
        """The finished edge of a wished part where it lies."""
        return place(self.wishes[index].drawn.outline, lie.x, lie.y, lie.angle_deg)

    def unplaced(self, placed: Iterable[int]) -> tuple[float, ...]:
        """Area of the wishes not placed, by rank."""
        placed, areas = set(placed), {wish.rank: 0.0 for wish in self.wishes}
        for index, (wish, size) in enumerate(zip(self.wishes, self.sizes)):
            if index not in placed:
                areas[wish.rank] += size
        return tuple(areas[rank] for rank in sorted(areas))

    def _feed(self, piece: Piece) -> float | None:
        """The way in which a piece longer than the bed is fed through, degrees from the backbone; None for any other.

        It is fed the way its panels are taken off when it fits the bed like that.
        """
        machine, polygon = self.machine, piece.polygon
        if machine.feed_through == "none" or bed_angle(polygon, *machine.window_mm) is not None:
            return None
        axis, along = (0 if machine.feed_through == "width" else 1), piece.towards_deg + 180.0
        low, high = reach(polygon, along + 90.0)
        if high - low > machine.window_mm[1 - axis] + 1e-6:
            turn = bed_angle(polygon, *machine.usable_mm)
            if turn is not None:
                along = 90.0 * axis - turn
        return round((along - self.hides[piece.hide].hide.backbone_deg) % 180.0, 6)

    def _limits(self, item: Ready) -> tuple[list[engine.Obstacle], Polygon | None]:
        """Obstacles of a hide, and where any of its settings cuts clean (None: everywhere)."""
        hide = item.hide
        if hide.id not in self._obstacles:
            grades = {w.part.grade for w in self.wishes} | {zone.grade for w in self.wishes for zone in w.part.zones}
            found = [
                (flaws(hide, max(self.margins.flaw_mm - self.half, 0.0), grade), GRADES.index(grade))
                for grade in sorted(grades)
            ]
            whole = hide.outline.buffer(1.0)
            for (band, limit), kind in self.kinds.items():
                held = holds(item, limit, band, self.confidence)
                found.append((Polygon() if held is None else whole.difference(held), kind))
            burnable = None
            if item.settings:
                burnable = areal(
                    shapely.union_all([holds(item, None, band, self.confidence) for band in range(len(item.settings))])
                )
            obstacles = [engine.Obstacle(area, kind) for area, kind in found if not area.is_empty]
            self._obstacles[hide.id] = obstacles, burnable
        return self._obstacles[hide.id]


def goes_into(outline: Polygon, angles: tuple[tuple[float, float], ...], long_mm: float, wide_mm: float) -> bool:
    """Whether an outline goes into a rectangle, ``long_mm`` along x, at any allowed angle; every degree is tried."""
    hull = np.asarray(outline.convex_hull.exterior.coords)
    turned = np.radians(np.concatenate([np.linspace(low, high, math.ceil(high - low) + 1) for low, high in angles]))[
        :, None
    ]
    along = np.ptp(np.cos(turned) * hull[:, 0] - np.sin(turned) * hull[:, 1], axis=1)
    across = np.ptp(np.sin(turned) * hull[:, 0] + np.cos(turned) * hull[:, 1], axis=1)
    return bool(((along <= long_mm) & (across <= wide_mm)).any())


def angles_within(
    outline: Polygon, angles: tuple[tuple[float, float], ...], feeds: Iterable[float], longest_mm: float
) -> tuple[tuple[float, float], ...]:
    """Those of the allowed angles (degrees) at which an outline is no longer than so much in any of some directions."""
    hull, kept = np.asarray(outline.convex_hull.exterior.coords), []
    for low, high in angles:
        # between two angles a degree apart it is no more than a 20,000th longer than at either
        tried = np.linspace(low, high, math.ceil(high - low) + 1)
        turned = np.radians(tried[:, None] - np.array(sorted(feeds)))[..., None]
        along = np.cos(turned) * hull[:, 0] - np.sin(turned) * hull[:, 1]
        short = (np.ptp(along, axis=-1) <= longest_mm * (1 - 5e-5)).all(axis=1)
        ends = np.flatnonzero(np.diff(np.concatenate([[False], short, [False]])))
        kept += [
            (float(tried[start]), float(tried[end - 1]))
            for start, end in zip(ends[::2], ends[1::2])
            if end - start > 1 or low == high
        ]
    return tuple(kept)
