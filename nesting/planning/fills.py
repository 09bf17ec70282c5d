"""Ways to fill a panel that is all leather, each as long as it needs, found once for all panels as wide."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from shapely.geometry import box

from .. import engine
from ..geometry import Floats, place
from ..leather.knife import Way, reach
from ..workers import Crew
from .case import Case, Fill, Ground, Spot, Spots
from .clock import Clock
from .grid import Corner
from .limits import PlanLimits
from .translate import Translator
from .wishes import Form

Kind = tuple[float, float, float]
"""Panels that share fills: their longer and their shorter side, mm, and how the hide's backbone lies to it, degrees."""


@dataclass(frozen=True)
class Found:
    """Fills, what finding them cost, and whether it was broken off."""

    fills: tuple[Fill, ...]
    iterations: int
    interrupted: bool


def counts(fill: Fill) -> Counter[Form]:
    """How many parts of each form are in a fill."""
    return Counter(spot.form for spot in fill.spots)


def kind_of_panel(case: Case, hide: str, way: Way) -> Kind:
    """The kind of the panels of a way."""
    turned = 0.0 if case.free else (case.hides[hide].hide.backbone_deg - way.along_deg) % 360.0
    return round(way.long_mm, 6), round(way.wide_mm, 6), round(turned, 6)


def find_fills(
    translator: Translator,
    kind: Kind,
    pool: Sequence[int],
    known: Sequence[Fill],
    effort: engine.Stop,
    seed: int,
) -> Found:
    """Search fills for a kind of panel, by turns new ones and shorter ones of those that would be used.

    A new one is a mixture of what is wanted, drawn at random, that one short search puts on so much of a panel that
    leather is saved.

    Parameters
    ----------
    translator : Translator
    kind : Kind
    pool : sequence of int
        The wishes (by index) to draw from.
    known : sequence of Fill
        Fills known already.
    effort : Stop
    seed : int

    Returns
    -------
    Found
    """
    case, limits, random = translator.case, translator.case.limits, np.random.default_rng(seed)
    long, wide, axis = kind
    margin = max(case.margins.from_knife_mm - case.half_mm, 0.0) + limits.fill_slack_mm
    wanted = Counter(case.forms[index] for index in pool)
    shapes = {form: shape for form in wanted if (shape := translator.shape(case.firsts[form], 0)) is not None}
    forms = [case.forms[index] for index in pool if case.forms[index] in shapes]
    found = list(known)
    iterations, interrupted, began = 0, False, time.monotonic()
    while forms and not interrupted and not effort.reached(time.monotonic() - began, iterations):
        prices = least_leather(found, wanted, case.form_mm2, wide, limits)[1]
        fill, length = None, long
        if found and random.random() < limits.press_odds:
            # those that would be used, or nearly so, are likelier to become shorter where that was not tried yet
            fill = min(found, key=lambda one: one.length_mm / _worth(one, prices) + limits.press_fade * one.tries)
            mixture = [spot.form for spot in fill.spots]
        else:
            mixture = _mixture(forms, case.form_mm2, long * wide, random, limits)
            length = min(sum(prices[form] for form in mixture) / limits.fill_worth, long)
        if min(length, wide) <= 2 * margin:
            iterations += 1
            continue
        drawn = list(dict.fromkeys(mixture))
        problem = engine.Problem(
            (engine.Container(box(margin, margin, length - margin, wide - margin), axis_deg=axis),),
            tuple(shapes[form] for form in drawn),
            tuple(engine.Item(drawn.index(form)) for form in mixture),
        )
        start = fill and engine.Solution(
            tuple(engine.Pose(0, spot.x, spot.y, spot.angle_deg) for spot in fill.spots), (), math.inf
        )
        most = limits.press_iterations if fill else limits.fill_iterations
        answer = engine.solve(
            problem,
            replace(effort, iterations=most, enough_mm2=None),
            int(random.integers(2**31)),
            start=start,
        )
        iterations, interrupted = iterations + max(answer.iterations, 1), answer.interrupted
        spots = [Spot(form, pose.x, pose.y, pose.angle_deg) for form, pose in zip(mixture, answer.poses) if pose]
        if spots:
            length = min(_reach(case, spots) + margin + problem.tolerance_mm, long)
            found = _shortest([*found, Fill(tuple(spots), length, fill.tries + 1 if fill else 0)])
    return Found(tuple(fill for fill in found if fill not in set(known)), iterations, interrupted)


def _reach(case: Case, spots: Iterable[Spot]) -> float:
    """How far along a panel parts lie, with half of what is kept between them."""
    return (
        max(reach(place(case.drawn[form].outline, x, y, angle), 0.0)[1] for form, x, y, angle in spots) + case.half_mm
    )


def _shortest(fills: Iterable[Fill]) -> list[Fill]:
    """Of fills that hold the same parts the shortest."""
    best: dict[frozenset[tuple[Form, int]], Fill] = {}
    for fill in fills:
        parts = frozenset(counts(fill).items())
        best[parts] = min(best.get(parts, fill), fill, key=lambda one: (one.length_mm, -one.tries))
    return list(best.values())


def _worth(fill: Fill, prices: Mapping[Form, float]) -> float:
    """What the parts of a fill are worth, mm of panel; nearly nothing where none is wanted."""
    return max(sum(prices.get(spot.form, 0.0) for spot in fill.spots), 1e-9)


def _mixture(
    forms: Sequence[Form],
    sizes_mm2: Mapping[Form, float],
    area_mm2: float,
    random: np.random.Generator,
    limits: PlanLimits,
) -> list[Form]:
    """Parts drawn at random that fill a panel of such an area, or most of it."""
    room, mixture = random.uniform(limits.fill_least, limits.fill_most) * area_mm2, list[Form]()
    for number in random.permutation(len(forms)):
        room -= sizes_mm2[forms[number]]
        if room < 0:
            break
        mixture.append(forms[number])
    return mixture


def least_leather(
    fills: Sequence[Fill],
    wanted: Mapping[Form, int],
    sizes_mm2: Mapping[Form, float],
    wide_mm: float,
    limits: PlanLimits,
) -> tuple[list[float], dict[Form, float]]:
    """How often each fill is taken so that the least leather holds all that is wanted, in fractions, and what a part of
    each form is worth then, in mm of panel.

    What no fill holds well takes panels of which each form alone covers no more than ``limits.fill_poor``.

    Notes
    -----
    The linear program of the cutting-stock problem and its prices: Gilmore and Gomory, Operations Research 9 (1961).
    """
    forms = list(wanted)
    table = np.hstack([_held(fills, forms), np.eye(len(forms))])
    alone = [sizes_mm2[form] / (limits.fill_poor * wide_mm) for form in forms]
    lengths = [*(fill.length_mm for fill in fills), *alone]
    answer = linprog(lengths, A_ub=-table, b_ub=[-wanted[form] for form in forms], method="highs")
    assert answer.x is not None
    return list(answer.x[: len(fills)]), dict(zip(forms, -answer.ineqlin.marginals))


def choose_fills(
    fills: Sequence[Fill],
    wanted: Mapping[Form, int],
    sizes_mm2: Mapping[Form, float],
    wide_mm: float,
    room_mm: float,
    limits: PlanLimits,
) -> list[Fill]:
    """The fills to take, as often as they are there, of no more than a length together, so that least leather is used.

    A part of what is wanted that they hold is worth the leather that it takes elsewhere, where parts cover
    ``limits.fill_value`` of it.
    """
    forms = list(wanted)
    if not fills or not forms:
        return []
    # unknown: how often each fill is taken, then how many parts of each form are put on panels
    worth = [sizes_mm2[form] / (limits.fill_value * wide_mm) for form in forms]
    lengths, no_parts = np.array([fill.length_mm for fill in fills]), np.zeros(len(forms))
    answer = milp(
        np.concatenate([lengths, np.negative(worth)]),
        integrality=np.ones(len(fills) + len(forms), int),
        bounds=Bounds(0.0, [*np.floor(room_mm / lengths), *(wanted[form] for form in forms)]),
        constraints=[
            LinearConstraint(np.hstack([_held(fills, forms), -np.eye(len(forms))]), 0.0, np.inf),
            LinearConstraint(np.concatenate([lengths, no_parts])[None], 0.0, room_mm),
        ],
        # nodes and no time, so that it can be repeated; without presolving, whose way back prints lines of its own
        options={"node_limit": limits.choice_nodes, "mip_rel_gap": limits.choice_gap, "presolve": False},
    )
    if answer.x is None:
        return []
    times = np.round(answer.x[: len(fills)]).astype(int)
    return [fill for fill, often in zip(fills, times) for _ in range(often)]


def _held(fills: Sequence[Fill], forms: Sequence[Form]) -> Floats:
    """How many parts of each form each fill holds, of shape (forms, fills)."""
    held = [counts(fill) for fill in fills]
    return np.array([[count[form] for count in held] for form in forms], float).reshape(len(forms), len(fills))


def look_for_fills(
    case: Case,
    kind: Kind,
    pool: Sequence[int],
    effort: engine.Stop,
    seed: int,
    clock: Clock,
    crew: Crew[Translator],
) -> tuple[Fill, ...]:
    """The fills known for a kind of panel, once all processes have looked for more for a while; they are kept."""
    known = case.fills.get(kind, ())
    tasks = [(kind, pool, known, effort, seed + number) for number in range(crew.workers)]
    found = crew.each(find_fills, tasks, clock.waits)
    clock.count_all(found, crew)
    fills = _shortest([*known, *(fill for one in found for fill in one.fills)])
    wanted = Counter(case.forms[index] for index in pool)
    prices = least_leather(fills, wanted, case.form_mm2, kind[1], case.limits)[1]
    fills.sort(key=lambda fill: fill.length_mm / _worth(fill, prices))
    case.fills[kind] = tuple(fills[: case.limits.most_fills])
    return case.fills[kind]


def laid(spots: Iterable[Spot], way: Way, corner: Corner) -> Spots:
    """The spots of a fill on the panel of a way that begins at a corner, in the hide's own coordinates."""
    (along, off), turn = corner, math.radians(way.along_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return tuple(
        Spot(
            form,
            (along + x) * cos - (off + y) * sin,
            (along + x) * sin + (off + y) * cos,
            angle + way.along_deg,
        )
        for form, x, y, angle in spots
    )


def lying(translator: Translator, ground: Ground, spots: Spots) -> tuple[bool, ...]:
    """Which spots the leather of a ground allows."""
    case, known = translator.case, translator.case.lying
    key = ground, spots
    if key not in known:
        container = translator.container(ground)
        forms = list(dict.fromkeys(spot.form for spot in spots))
        shapes = tuple(translator.shape(case.firsts[form], 0) for form in forms)
        if container is None or not all(shapes):
            known[key] = (False,) * len(spots)
        else:
            items = tuple(engine.Item(forms.index(spot.form)) for spot in spots)
            poses = tuple(engine.Pose(0, spot.x, spot.y, spot.angle_deg) for spot in spots)
            problem = engine.Problem((container,), tuple(shape for shape in shapes if shape), items)
            wrong = {item for item, _ in engine.overlaps(problem, engine.Solution(poses, (), math.inf))}
            known[key] = tuple(number not in wrong for number in range(len(spots)))
    return known[key]
