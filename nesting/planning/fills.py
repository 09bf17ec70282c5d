"""Ways to fill a panel that is all leather, found once for all panels of that size."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linprog
from shapely.geometry import box

from .. import engine
from ..leather.knife import Way
from ..workers import Crew
from .case import Case, Fill, Ground, Lies, Spot
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
    return Counter(spot.form for spot in fill)


def turn_deg(way: Way) -> float:
    """The direction of the longer sides of the panels of a way, by which fills are turned to lie on them."""
    return way.along_deg if way.long_mm >= way.wide_mm else way.off_deg


def kind_of_panel(case: Case, hide: str, way: Way) -> Kind:
    """The kind of the panels of a way."""
    sides = max(way.long_mm, way.wide_mm), min(way.long_mm, way.wide_mm)
    turned = 0.0 if case.free else (case.hides[hide].hide.backbone_deg - turn_deg(way)) % 360.0
    return round(sides[0], 6), round(sides[1], 6), round(turned, 6)


def find_fills(
    translator: Translator,
    kind: Kind,
    pool: Sequence[int],
    prices: Mapping[Form, float],
    effort: engine.Stop,
    seed: int,
) -> Found:
    """Search fills for a kind of panel: mixtures of what is wanted, drawn at random, each packed in one short search.

    Parameters
    ----------
    translator : Translator
    kind : Kind
    pool : sequence of int
        The wishes (by index) to draw from.
    prices : dict
        What a part of each form is worth, in panels: mixtures worth no more than one are passed over.
    effort : Stop
    seed : int

    Returns
    -------
    Found
    """
    case, limits, random = translator.case, translator.case.limits, np.random.default_rng(seed)
    long, wide, axis = kind
    margin = max(case.margins.from_knife_mm - case.half_mm, 0.0) + limits.fill_slack_mm
    asked = dict.fromkeys(case.forms[index] for index in pool)
    shapes = {form: shape for form in asked if (shape := translator.shape(case.firsts[form], 0)) is not None}
    forms = [(case.forms[index], case.sizes_mm2[index]) for index in pool if case.forms[index] in shapes]
    if not forms or 2 * margin >= wide:
        return Found((), 0, False)
    container = engine.Container(box(margin, margin, long - margin, wide - margin), axis_deg=axis)
    found, iterations, interrupted, began = list[Fill](), 0, False, time.monotonic()
    while not interrupted and not effort.reached(time.monotonic() - began, iterations):
        mixture = _mixture(forms, prices, long * wide, random, limits)
        if not mixture:
            break
        drawn = list(dict.fromkeys(mixture))
        items = tuple(engine.Item(drawn.index(form)) for form in mixture)
        problem = engine.Problem((container,), tuple(shapes[form] for form in drawn), items)
        stop = replace(effort, iterations=limits.fill_iterations, enough_mm2=math.inf)
        answer = engine.solve(problem, stop, int(random.integers(2**31)))
        iterations, interrupted = iterations + max(answer.iterations, 1), answer.interrupted
        lying = [(form, pose) for form, pose in zip(mixture, answer.poses) if pose is not None]
        found.append(tuple(Spot(form, pose.x, pose.y, pose.angle_deg) for form, pose in lying))
    return Found(tuple(fill for fill in found if fill), iterations, interrupted)


def _mixture(
    forms: Sequence[tuple[Form, float]],
    prices: Mapping[Form, float],
    area_mm2: float,
    random: np.random.Generator,
    limits: PlanLimits,
) -> list[Form]:
    """Of some mixtures of parts that all but fill a panel the first that is worth enough, or the one worth most."""
    best: tuple[float, list[Form]] = (0.0, [])
    for _ in range(limits.fill_draws):
        room, mixture = random.uniform(limits.fill_least, limits.fill_most) * area_mm2, list[Form]()
        for number in random.permutation(len(forms)):
            form, size = forms[number]
            room -= size
            if room < 0:
                break
            mixture.append(form)
        best = max(best, (sum(prices[form] for form in mixture), mixture), key=lambda one: one[0])
        if best[0] > limits.fill_worth:
            break
    return best[1]


def fewest(
    fills: Sequence[Fill],
    wanted: Mapping[Form, int],
    sizes_mm2: Mapping[Form, float],
    area_mm2: float,
    limits: PlanLimits,
) -> tuple[list[float], dict[Form, float]]:
    """How often each fill is taken so that the fewest panels hold all that is wanted, in fractions, and what a part of
    each form is worth then, in panels.

    What no fill holds well takes panels of which each form alone covers no more than ``limits.fill_poor``.

    Notes
    -----
    The linear program of the cutting-stock problem and its prices: Gilmore and Gomory, Operations Research 9 (1961).
    """
    forms = list(wanted)
    rows = np.array([[count[form] for count in map(counts, fills)] for form in forms], float).reshape(
        len(forms), len(fills)
    )
    alone = np.diag([limits.fill_poor * area_mm2 / sizes_mm2[form] for form in forms])
    table = np.hstack([rows, alone])
    answer = linprog(np.ones(table.shape[1]), A_ub=-table, b_ub=[-wanted[form] for form in forms], method="highs")
    assert answer.x is not None
    return list(answer.x[: len(fills)]), dict(zip(forms, -answer.ineqlin.marginals))


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
    known, area = case.fills.get(kind, ()), kind[0] * kind[1]
    wanted = Counter(case.forms[index] for index in pool)
    prices = fewest(known, wanted, case.form_mm2, area, case.limits)[1]
    tasks = [(kind, pool, prices, effort, seed + number) for number in range(crew.workers)]
    found = crew.each(find_fills, tasks, clock.waits)
    clock.count_all(found, crew)
    fills = dict.fromkeys([*known, *(fill for one in found for fill in one.fills)])
    worth = {fill: sum(prices.get(spot.form, 0.0) for spot in fill) for fill in fills}
    case.fills[kind] = tuple(sorted(fills, key=lambda fill: -worth[fill])[: case.limits.most_fills])
    return case.fills[kind]


def laid(fill: Fill, way: Way, corner: Corner) -> Fill:
    """A fill on the panel of a way that begins at a corner, its spots in the hide's own coordinates."""
    x0, y0, turn = _frame(way, corner)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return tuple(Spot(form, x0 + x * cos - y * sin, y0 + x * sin + y * cos, angle + turn) for form, x, y, angle in fill)


def fill_of(case: Case, lies: Lies, way: Way, corner: Corner) -> Fill:
    """What lies on the panel of a way that begins at a corner, as a fill."""
    x0, y0, turn = _frame(way, corner)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    spots = ((case.forms[index], lie.x - x0, lie.y - y0, lie.angle_deg - turn) for index, lie in lies.items())
    return tuple(Spot(form, x * cos + y * sin, y * cos - x * sin, angle) for form, x, y, angle in spots)


def _frame(way: Way, corner: Corner) -> tuple[float, float, float]:
    """Where the corner of a panel lies that a fill takes for the origin, and how far the fill is turned there."""
    along, off = corner
    if way.long_mm < way.wide_mm:
        along += way.long_mm
    cos, sin = math.cos(math.radians(way.along_deg)), math.sin(math.radians(way.along_deg))
    return along * cos - off * sin, along * sin + off * cos, turn_deg(way)


def lying(translator: Translator, ground: Ground, fill: Fill) -> tuple[bool, ...]:
    """Which spots of a fill, laid on a ground, the leather there allows."""
    case, known = translator.case, translator.case.lying
    key = ground, fill
    if key not in known:
        container = translator.container(ground)
        forms = list(dict.fromkeys(spot.form for spot in fill))
        shapes = tuple(translator.shape(case.firsts[form], 0) for form in forms)
        if container is None or not all(shapes):
            known[key] = (False,) * len(fill)
        else:
            items = tuple(engine.Item(forms.index(spot.form)) for spot in fill)
            poses = tuple(engine.Pose(0, spot.x, spot.y, spot.angle_deg) for spot in fill)
            problem = engine.Problem((container,), tuple(shape for shape in shapes if shape), items)
            wrong = {item for item, _ in engine.overlaps(problem, engine.Solution(poses, (), math.inf))}
            known[key] = tuple(number not in wrong for number in range(len(fill)))
    return known[key]
