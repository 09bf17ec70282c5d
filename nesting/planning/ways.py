"""The best way found to cut one hide up: many tried in a hurry, the best of them again with patience."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import replace

from .. import engine
from ..geometry import polygons
from ..leather.knife import Way, ways
from ..workers import Crew
from .case import Case
from .clock import Clock
from .cutting import CutHide, cut_one_way, full_panels
from .fills import kind_of_panel, look_for_fills
from .grid import grid
from .translate import Translator
from .turning import goes_into
from .wishes import Form


def best_way(
    translator: Translator,
    hide: str,
    ranks: dict[int, int],
    own: frozenset[int],
    span: float,
    clock: Clock,
    crew: Crew[Translator],
    seed: int,
    whole: bool = False,
) -> CutHide:
    """Cut a hide up the best way found, with wishes placed on it.

    Parameters
    ----------
    translator : Translator
    hide : str
    ranks : dict
        The wishes that may be placed (by index), and which come first.
    own : set of int
        The wishes this hide is cut up for.
    span : float
        Share of the run that it may take.
    clock : Clock
    crew : Crew
        Shares ``translator``.
    seed : int
    whole : bool
        Whether panels of whole leather are to be cut out, where enough of them lie on the hide.

    Returns
    -------
    CutHide
    """
    case, limits = translator.case, translator.case.limits
    ends, took = clock.share + span, 0.0
    tried: list[CutHide] = []
    told = clock.passes if crew.here else None
    inner = _inner_ways(case, hide, own) if whole else []
    for turn in range(limits.fill_turns if inner else 0):
        effort = clock.slice(span * limits.fill_share / limits.fill_turns)
        if not clock.over and (effort.seconds is None or effort.seconds >= limits.least_fill_s):
            kind = kind_of_panel(case, hide, inner[0])
            look_for_fills(case, kind, sorted(own), effort, seed + crew.workers * turn, clock, crew)
    begun = clock.share

    def cut_each(some: list[Way], effort: engine.Stop, patient: bool) -> list[CutHide]:
        tasks = [
            (hide, way, ranks, own, effort, patient, seed, told)
            + ((case.fills.get(kind_of_panel(case, hide, way), ()),) if way.inner else ())
            for way in some
        ]
        found = crew.each(cut_one_way, tasks, clock.waits)
        clock.count_all(found, crew)
        return found

    # a try takes no longer than all of the hide's time, however many iterations that is
    hurry = replace(clock.slice(span), iterations=None)
    left = iter(inner or _likeliest(case, hide, own)[: limits.most_ways])
    while batch := list(itertools.islice(left, 1 if clock.over else crew.workers)):
        before = clock.share
        tried += cut_each(batch, hurry, False) or [
            cut_one_way(translator, hide, batch[0], ranks, own, hurry, False, seed)
        ]
        took = clock.share - before
        # panels of whole leather are soon laid out: of these ways all are tried
        if clock.share + took > begun + (1.0 if inner else limits.trying) * (ends - begun) or clock.over:
            break
    tried.sort(key=lambda cut: cut.score)
    if not clock.over and not tried[0].way.inner:
        # bent lines win leather here and lose it there: they count only where they come to more
        tried += cut_each([tried[0].way._replace(strokes=limits.most_strokes)], hurry, False)
        tried.sort(key=lambda cut: cut.score)
    rest = ends - clock.share
    if rest > limits.patience * took and not clock.over:
        # as many of the best ways as there are processes
        tried += cut_each([cut.way for cut in tried[: crew.workers]], clock.slice(rest), True)
    return min(tried, key=lambda cut: cut.score)


def likeliest_way(
    translator: Translator, hide: str, ranks: dict[int, int], own: frozenset[int], effort: engine.Stop, seed: int
) -> CutHide:
    """Cut a hide up the one way that seems best beforehand, where there is no time to try others.

    Parameters
    ----------
    translator : Translator
    hide : str
    ranks : dict
        As of ``best_way``.
    own : set of int
        As of ``best_way``.
    effort : Stop
    seed : int

    Returns
    -------
    CutHide
    """
    return cut_one_way(translator, hide, _likeliest(translator.case, hide, own)[0], ranks, own, effort, False, seed)


def _likeliest(case: Case, hide: str, own: frozenset[int]) -> list[Way]:
    """The ways to cut a hide up: first those whose panels are long enough, as they lie, for all of its own parts."""
    wanted = areas_mm2(case, own)
    return sorted(
        ways(case.hides[hide].hide, case.room_mm(hide)),
        key=lambda way: (*too_long_mm2(case, way, hide, wanted), -_in_one(case, way, hide)),
    )


def _inner_ways(case: Case, hide: str, own: frozenset[int]) -> list[Way]:
    """Ways to cut panels of whole leather out of a hide, those that give most first; none where few are needed."""
    bits, limits = case.kept.leather(case.hides[hide].hide), case.limits
    every = ways(case.hides[hide].hide, case.room_mm(hide))
    most = max(way.long_mm * way.wide_mm for way in every)
    need = limits.leather_need * sum(case.sizes_mm2[index] for index in own)
    if min(need, sum(bit.area for bit in bits)) < limits.least_inner * most:
        return []
    # the same seen from the other end is no other way
    large = [
        way
        for way in every
        if math.isclose(way.long_mm * way.wide_mm, most)
        and way.long_mm >= way.wide_mm
        and way.along_deg % 360.0 < 180.0
    ]
    worth = {way: sum(grid(bit, way, limits).worth for bit in bits) for way in large}
    best = sorted(large, key=lambda way: -worth[way])[: limits.inner_ways]
    enough = max(limits.least_inner, limits.inner_room * need / most)
    return [way._replace(inner=True) for way in best if worth[way] >= enough]


def _in_one(case: Case, way: Way, hide: str) -> float:
    """How little the panels of a way are parted by what is cut out of a hide first: the square of the largest bit of
    each, summed, mm4; 0 where nothing is."""
    item = case.hides[hide].hide
    if not case.kept.cut_out(hide):
        return 0.0
    panels = (panel for bit in case.kept.leather(item) for panel in full_panels(hide, bit, way, case.room_mm(hide))[0])
    inside = (polygons(panel.buffer(-case.margins.edge_mm)) for panel in panels)
    return sum(max((bit.area for bit in bits), default=0.0) ** 2 for bits in inside)


def areas_mm2(case: Case, indices: Iterable[int]) -> dict[Form, dict[int, float]]:
    """Area of wishes of each form, by rank."""
    found: dict[Form, dict[int, float]] = {}
    for index in indices:
        form, rank = case.forms[index], case.wishes[index].rank
        areas = found.setdefault(form, {})
        areas[rank] = areas.get(rank, 0.0) + case.sizes_mm2[index]
    return found


def too_long_mm2(case: Case, way: Way, hide: str, wanted: dict[Form, dict[int, float]]) -> tuple[float, ...]:
    """Area of the wishes that no panel of a way to cut a hide up could hold, by rank; of ``areas_mm2`` of them."""
    areas = dict.fromkeys(case.ranks, 0.0)
    backbone_deg, edge = case.hides[hide].hide.backbone_deg, 2 * case.margins.from_knife_mm
    sides = way.long_mm - edge, way.wide_mm - edge
    for form, asked in wanted.items():
        drawn = case.drawn[form]
        angles = drawn.direction.intervals(backbone_deg - way.along_deg)
        if 2 * case.radii_mm[form] > min(sides) and not goes_into(drawn.outline, angles, *sides, case.limits):
            for rank, area in asked.items():
                areas[rank] += area
    return tuple(areas.values())
