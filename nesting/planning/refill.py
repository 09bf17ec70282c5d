"""All panels of whole leather filled anew together, by the fills that save most panels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from .. import engine
from ..leather.knife import Way, reach
from .case import Case, Fill, Ground, Lie, Lies, Spot, by_ground
from .fills import Kind, counts, fill_of, kind_of_panel, laid, lying
from .grid import Corner
from .packing import pack
from .translate import Translator
from .wishes import Form


class Cell(NamedTuple):
    """A ground that is all leather, with the way it was cut and the corner at which it begins."""

    ground: int
    way: Way
    corner: Corner


def cells(case: Case, grounds: Sequence[Ground]) -> tuple[Kind, list[Cell]] | None:
    """The grounds of whole leather of the commonest kind; None where there are few."""
    found: dict[Kind, list[Cell]] = {}
    for number, ground in enumerate(grounds):
        along = ground.towards_deg - 180.0
        (low, high), (left, right) = reach(ground.polygon, along), reach(ground.polygon, along + 90.0)
        way = Way(along, along + 90.0, high - low, right - left)
        if ground.polygon.area >= case.limits.cell_whole * way.long_mm * way.wide_mm:
            found.setdefault(kind_of_panel(case, ground.hide, way), []).append(Cell(number, way, (low, left)))
    kind = max(found, key=lambda kind: len(found[kind]) * kind[0] * kind[1], default=None)
    return None if kind is None or len(found[kind]) < case.limits.least_inner else (kind, found[kind])


def movable(case: Case, grounds: Sequence[Ground], lies: Lies, some: Sequence[Cell]) -> tuple[list[Cell], list[int]]:
    """The cells of which all parts may go to any hide that has cells, with the parts, there and elsewhere, that may."""
    hides = {grounds[cell.ground].hide for cell in some}
    free = {
        index
        for index in lies
        if not case.wishes[index].match and hides <= set(case.homes[index]) and not lies[index].band
    }
    bound = {lie.ground for index, lie in lies.items() if index not in free}
    return [cell for cell in some if cell.ground not in bound], sorted(free)


def refilled(
    translator: Translator,
    grounds: Sequence[Ground],
    lies: Lies,
    some: Sequence[Cell],
    fills: Sequence[Fill],
    seed: int,
) -> Lies | None:
    """The same parts with cells filled anew; None where that saves too little, or does not come to all of them.

    Parameters
    ----------
    translator : Translator
    grounds : sequence of Ground
    lies : Lies
    some : sequence of Cell
        Cells of which all parts may move, as ``movable`` gives them.
    fills : sequence of Fill
    seed : int

    Returns
    -------
    Lies or None

    Notes
    -----
    Which fills are taken how often is an integer program (`_chosen`); which goes where is an assignment by the area of
    what lies there. What the leather there does not allow is packed in by a short search, or goes to grounds that parts
    went away from. What is not put on cells stays where it lies.
    """
    case, free = translator.case, movable(translator.case, grounds, lies, some)[1]
    chosen = _chosen(case, grounds, lies, some, fills, free)
    if chosen is None:
        return None
    taken, pool = chosen
    moved = {index for indices in pool.values() for index in indices}
    found = {index: lie for index, lie in lies.items() if index not in moved}
    best = [[_best_laid(translator, grounds[cell.ground], cell, fill) for cell in some] for fill in taken]
    rows, columns = linear_sum_assignment([[worth for worth, _, _ in row] for row in best], maximize=True)
    missing: list[int] = []
    for row, column in zip(rows.tolist(), columns.tolist()):
        _, spots, allowed = best[row][column]
        here, rest = dict[int, Lie](), list[int]()
        for spot, allows in zip(spots, allowed):
            if pool[spot.form]:
                index = pool[spot.form].pop(0)
                if allows:
                    here[index] = Lie(0, spot.x, spot.y, spot.angle_deg)
                else:
                    rest.append(index)
        found |= (
            _with(translator, grounds, [some[column].ground], here, rest, seed)
            if rest
            else {index: lie._replace(ground=some[column].ground) for index, lie in here.items()}
        )
        missing += [index for index in rest if index not in found]
    missing += [index for indices in pool.values() for index in indices]
    left = sorted({lies[index].ground for index in moved} - {some[column].ground for column in columns.tolist()})
    if missing and left:
        before = {i: lie._replace(ground=left.index(lie.ground)) for i, lie in found.items() if lie.ground in left}
        found |= _with(translator, grounds, left, before, missing, seed)
    return found if len(found) == len(lies) else None


def _chosen(
    case: Case,
    grounds: Sequence[Ground],
    lies: Lies,
    some: Sequence[Cell],
    fills: Sequence[Fill],
    free: Sequence[int],
) -> tuple[list[Fill], dict[Form, list[int]]] | None:
    """The fills to take, one for each cell to be used, and the wishes to put there, by form; None where they save too
    little.

    Each panel counts one, and a part put on a cell is worth what it takes of one elsewhere. All that lies on cells now
    must go on cells again; what lies there now is among the fills.
    """
    on, numbers = by_ground(lies), {cell.ground for cell in some}
    here: dict[Form, list[int]] = {}
    there: dict[Form, list[int]] = {}
    for index in free:
        (here if lies[index].ground in numbers else there).setdefault(case.forms[index], []).append(index)
    # what lies on the fullest of the other grounds stays there
    full = {n: sum(case.sizes_mm2[index] for index in of) / grounds[n].polygon.area for n, of in on.items()}
    for indices in there.values():
        indices.sort(key=lambda index: full[lies[index].ground])
    forms = list(dict.fromkeys([*here, *there]))
    fills = [*fills, *(fill_of(case, on[cell.ground], cell.way, cell.corner) for cell in some if cell.ground in on)]
    fills = [fill for fill in dict.fromkeys(fills) if all(spot.form in forms for spot in fill)]
    if not fills:
        return None
    area = max(grounds[cell.ground].polygon.area for cell in some)
    sizes = np.array([case.sizes_mm2[(here.get(form) or there[form])[0]] for form in forms])
    held = np.array([[count[form] for count in map(counts, fills)] for form in forms], float)
    # unknown: how often each fill is taken, then how many parts of each form are put on cells
    costs = np.concatenate([np.ones(len(fills)), -sizes / (case.limits.cell_value * area)])
    least = np.array([len(here.get(form, ())) for form in forms], float)
    most = least + [len(there.get(form, ())) for form in forms]
    panels = np.concatenate([np.ones(len(fills)), np.zeros(len(forms))])
    answer = milp(
        costs,
        integrality=np.ones(len(costs), int),
        bounds=Bounds(
            np.concatenate([np.zeros(len(fills)), least]), np.concatenate([len(some) * panels[: len(fills)], most])
        ),
        constraints=[
            LinearConstraint(np.hstack([held, -np.eye(len(forms))]), 0.0, np.inf),
            LinearConstraint(panels[None], 0.0, len(some)),
        ],
        # nodes and no time, so that it can be repeated
        options={"node_limit": case.limits.cell_nodes, "mip_rel_gap": case.limits.cell_gap},
    )
    now = len(numbers & on.keys()) + float(costs[len(fills) :] @ least)
    if answer.x is None or answer.fun > now - case.limits.cell_gain:
        return None
    times, put = np.round(answer.x[: len(fills)]).astype(int), np.round(answer.x[len(fills) :]).astype(int)
    taken = [fill for fill, often in zip(fills, times) for _ in range(often)]
    return taken, {form: (here.get(form, []) + there.get(form, []))[:count] for form, count in zip(forms, put)}


def _best_laid(translator: Translator, ground: Ground, cell: Cell, fill: Fill) -> tuple[float, Fill, tuple[bool, ...]]:
    """A fill on a cell, turned so that most of it lies: the area of that, its spots, and which of them may."""
    case, (long, wide) = translator.case, sorted((cell.way.long_mm, cell.way.wide_mm), reverse=True)
    tried = [fill]
    if case.free:
        tried.append(tuple(Spot(s.form, long - s.x, wide - s.y, s.angle_deg + 180.0) for s in fill))
    found = []
    for one in tried:
        spots = laid(one, cell.way, cell.corner)
        allowed = lying(translator, ground, spots)
        found.append((sum(case.form_mm2[s.form] for s, ok in zip(spots, allowed) if ok), spots, allowed))
        if all(allowed):
            break
    return max(found, key=lambda one: one[0])


def _with(
    translator: Translator, grounds: Sequence[Ground], group: list[int], before: Lies, more: list[int], seed: int
) -> Lies:
    """Lies on a group of grounds, in which ``before`` counts them from 0, with more wishes packed in as far as they
    go."""
    bands = {index: lie.band for index, lie in before.items()} | dict.fromkeys(more, 0)
    stop = engine.Stop(iterations=translator.case.limits.cell_iterations)
    answer = pack(translator, [grounds[number] for number in group], bands, stop, seed, start=before)
    return {index: lie._replace(ground=group[lie.ground]) for index, lie in answer.lies.items()}
