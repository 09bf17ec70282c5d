"""Grounds as the engine's containers, wished parts as its items, and its answer put back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import cast

import shapely
from shapely.geometry import Polygon

from .. import engine
from ..geometry import Area, areal, offset
from ..leather.knife import bed_angle, reach
from ..leather.regions import areas_by_grade, clear_of_edge, flaws
from ..model import GRADES
from .case import Case, Ground, Lie, Lies
from .ready import Ready
from .turning import angles_within
from .wishes import Form, Wish

THICKNESS_KINDS = len(GRADES)
"""Obstacle kinds below this are grades; from here on they are limits of thickness."""


@dataclass(frozen=True)
class Question:
    """An engine problem, with the number of the ground of each container and the index of the wish of each item."""

    problem: engine.Problem
    grounds: tuple[int, ...]
    wishes: tuple[int, ...]

    def solution(self, lies: Lies) -> engine.Solution:
        """Lies as an engine solution to go on from."""
        containers = {ground: container for container, ground in enumerate(self.grounds)}
        found = [lies.get(index) for index in self.wishes]
        poses = tuple(lie and engine.Pose(containers[lie.ground], lie.x, lie.y, lie.angle_deg) for lie in found)
        return engine.Solution(poses, (), float("inf"))

    def lies(self, solution: engine.Solution, bands: Mapping[int, int]) -> Lies:
        """An engine solution as lies."""
        return {
            index: Lie(self.grounds[pose.container], pose.x, pose.y, pose.angle_deg, bands[index])
            for index, pose in zip(self.wishes, solution.poses)
            if pose is not None
        }


class Translator:
    """Puts wishes on any grounds of a case to the engine; remembers what many searches ask for.

    Parameters
    ----------
    case : Case
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        ranges = dict.fromkeys((None, *(wish.part.thickness_mm for wish in case.wishes)))
        bands = case.most_bands
        windows = [(band, asked) for band in range(bands) for asked in ranges if asked or bands > 1]
        self._kinds = {window: THICKNESS_KINDS + number for number, window in enumerate(windows)}
        self._shapes: dict[tuple[Form, int, frozenset[float]], engine.Shape | None] = {}
        self._leather: dict[str, tuple[list[engine.Obstacle], Area]] = {}
        self._containers: dict[Ground, engine.Container | None] = {}

    def question(
        self, grounds: list[Ground], bands: Mapping[int, int], ranks: Mapping[int, int], bound: Mapping[str, str]
    ) -> Question | None:
        """Wishes to be placed on grounds, as an engine problem.

        Parameters
        ----------
        grounds : list of Ground
        bands : dict
            Wishes to place (by index) and the setting each is burnt with.
        ranks : dict
            What is placed first; a wish's own rank where it names none.
        bound : dict
            Hides on which groups of matching parts have to be.

        Returns
        -------
        Question or None
            None when there is nowhere to place, or nothing.
        """
        return self.question_of(grounds, bands.items(), ranks, bound)

    def question_of(
        self,
        grounds: list[Ground],
        choices: Iterable[tuple[int, int]],
        ranks: Mapping[int, int],
        bound: Mapping[str, str],
    ) -> Question | None:
        """The same, with a wish named once for each setting it may be burnt with."""
        made = [(number, self.container(ground)) for number, ground in enumerate(grounds)]
        containers = {number: container for number, container in made if container is not None}
        fed = {number: self._feed_deg(grounds[number]) for number in containers}
        feeds = frozenset(feed for feed in fed.values() if feed is not None)
        shapes: dict[tuple[Form, int], tuple[int, engine.Shape | None]] = {}
        # what wishes of one form with one setting may lie in
        may: dict[tuple[Form, int, str | None], tuple[engine.Shape | None, tuple[int, ...]]] = {}
        items, wishes = [], []
        for index, band in choices:
            wish, form = self.case.wishes[index], self.case.forms[index]
            home = bound.get(wish.match) if wish.match else None
            if (form, band, home) not in may:
                shape = self.shape(wish, band, feeds)
                may[form, band, home] = (
                    shape or self.shape(wish, band),
                    tuple(
                        container
                        for container, number in enumerate(containers)
                        if home in (None, grounds[number].hide)
                        and (shape is not None or fed[number] is None)
                        and wish.allows(self.case.hides[grounds[number].hide].hide)
                    ),
                )
            shape, allowed = may[form, band, home]
            if allowed:
                number = shapes.setdefault((form, band), (len(shapes), shape))[0]
                only = None if len(allowed) == len(containers) else allowed
                items.append(engine.Item(number, ranks.get(index, wish.rank), wish.match or None, only))
                wishes.append(index)
        if not items:
            return None
        forms = tuple(shape for _, shape in shapes.values() if shape is not None)
        problem = engine.Problem(tuple(containers.values()), forms, tuple(items))
        return Question(problem, tuple(containers), tuple(wishes))

    def container(self, ground: Ground) -> engine.Container | None:
        """A ground as the engine sees it; None when nothing can lie on it."""
        if ground not in self._containers:
            if len(self._containers) >= self.case.limits.remembered_grounds:
                self._containers.clear()
            self._containers[ground] = self._container(ground)
        return self._containers[ground]

    def shape(self, wish: Wish, band: int, feeds: frozenset[float] = frozenset()) -> engine.Shape | None:
        """The form of a wish when it is burnt with setting number ``band`` of its hide.

        ``feeds`` are the ways in which leather is fed through, degrees from the backbone: a long part keeps to angles
        at which it is whole on the bed. It is None when there is no such angle.
        """
        key = (wish.shape, band, feeds)
        if key not in self._shapes:
            self._shapes[key] = self._shape(wish, band, feeds)
        return self._shapes[key]

    def _container(self, ground: Ground) -> engine.Container | None:
        case = self.case
        item = case.hides.get(ground.hide)
        if item is None:
            return None
        obstacles, usable = self._leather_of(item)
        region = offset(ground.polygon, -max(case.margins.from_knife_mm - case.half_mm, 0.0))
        region = areal(region.intersection(usable))
        taken = case.taken[ground.hide]
        region = region if taken.is_empty else areal(region.difference(taken))
        if region.is_empty:
            return None
        frame = shapely.box(*region.bounds).buffer(case.limits.frame_mm)
        near = [
            engine.Obstacle(areal(obstacle.polygon.intersection(frame)), obstacle.kind)
            for obstacle in obstacles
            if obstacle.polygon.intersects(region)
        ]
        return engine.Container(region, tuple(near), item.hide.backbone_deg, ground.towards_deg, ground.hide)

    def _shape(self, wish: Wish, band: int, feeds: frozenset[float]) -> engine.Shape | None:
        case, part, angles = self.case, wish.drawn, wish.drawn.direction.intervals(0.0)
        kind = self._kinds.get((band, wish.part.thickness_mm))
        window = frozenset[int]() if kind is None else frozenset({kind})
        areas = [
            engine.Area(offset(area, case.half_mm), frozenset({GRADES.index(grade)}) | window)
            for grade, area in areas_by_grade(part)
        ]
        if feeds:
            longest = case.workshop.machine.longest_fed_mm(case.margins.kerf_mm)
            angles = angles_within(part.outline, angles, feeds, longest, case.limits)
        return engine.Shape(case.packed(part), tuple(areas), angles) if angles else None

    def _leather_of(self, item: Ready) -> tuple[list[engine.Obstacle], Area]:
        """Obstacles of a hide, and where it is clear of its edge and any of its settings cuts clean."""
        if item.hide.id not in self._leather:
            self._leather[item.hide.id] = self._obstacles(item), self._usable(item)
        return self._leather[item.hide.id]

    def _obstacles(self, item: Ready) -> list[engine.Obstacle]:
        case, hide = self.case, item.hide
        grades = {wish.part.grade for wish in case.wishes} | {
            zone.grade for wish in case.wishes for zone in wish.part.zones
        }
        margin = max(case.margins.flaw_mm - case.half_mm, 0.0)
        found = [(flaws(hide, margin, grade), GRADES.index(grade)) for grade in sorted(grades)]
        whole = hide.outline.buffer(case.limits.frame_mm)
        for (band, asked), kind in self._kinds.items():
            good = item.good(asked, band, case.workshop.confidence)
            # what is left of an area is one
            found.append((Polygon() if good is None else cast(Area, whole.difference(good)), kind))
        return [engine.Obstacle(area, kind) for area, kind in found if not area.is_empty]

    def _usable(self, item: Ready) -> Area:
        case = self.case
        clear = clear_of_edge(item.hide, max(case.margins.edge_mm - case.half_mm, 0.0))
        if not item.settings:
            return clear
        regions = [item.good(None, band, case.workshop.confidence) for band in item.bands]
        return areal(shapely.union_all(regions).intersection(clear))

    def _feed_deg(self, ground: Ground) -> float | None:
        """The way in which a ground longer than the bed is fed through, degrees from the backbone; None for any other.

        It is fed the way its panels are taken off when it fits the bed like that.
        """
        machine, polygon = self.case.workshop.machine, ground.polygon
        never = self.case.hides[ground.hide].hide.never_burnt
        if machine.feed_through == "none" or never or bed_angle(polygon, *machine.window_mm) is not None:
            return None
        axis, along = (0 if machine.feed_through == "width" else 1), ground.towards_deg + 180.0
        sides = [high - low for low, high in (reach(polygon, along), reach(polygon, along + 90.0))]
        room = (machine.usable_mm[axis], machine.window_mm[1 - axis])
        if any(side > most + self.case.limits.rounding_mm for side, most in zip(sides, room)):
            turn = bed_angle(polygon, *machine.usable_mm)
            if turn is not None:
                along = 90.0 * axis - turn
        return round((along - self.case.hides[ground.hide].hide.backbone_deg) % 180.0, 6)
