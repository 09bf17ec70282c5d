"""Which hides to cut together: what a set of them could make at most, and what its leather costs at least."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ..planning.case import Case, Ground
from ..planning.prepare import Prepared
from ..planning.translate import Translator
from .limits import DEFAULT, CostLimits
from .merit import Merit, worths

HideSet = tuple[str, ...]
"""Ids of hides, in the order of the job."""
LEAST_MONEY = 1e-6
"""Less than this is no money in any currency; rounding comes to far less."""


@dataclass(frozen=True)
class Bound:
    """What no plan of a set of hides can better: the merit, and money for leather where that merit is reached."""

    merit: Merit
    leather: float


@dataclass(frozen=True)
class _Line:
    """An order line: so many pieces alike, each of some area, that need a hide of each of these groups."""

    rank: int
    worth: Fraction
    count: int
    packed_mm2: float
    parts_mm2: float
    homes: frozenset[frozenset[str]]

    def can_be_made(self, hides: frozenset[str]) -> bool:
        return all(hides & group for group in self.homes)


class Sets:
    """The open hides of a job, and bounds of what any set of them could come to.

    Parameters
    ----------
    prepared : Prepared
    limits : CostLimits

    Attributes
    ----------
    full : float
        Share of a hide that a search fills, as a rule.

    Notes
    -----
    Bounds take the area of the parts, grown by half of what two parts keep apart, against the area they may lie on, and
    ask whether each part alone has a home. What a rank leaves out is bounded as in a knapsack that takes fractions
    (Dantzig 1957). Leather costs at least as if all that is not in parts were kept as offcuts.
    """

    def __init__(self, prepared: Prepared, limits: CostLimits = DEFAULT) -> None:
        job, self._limits, self.full = prepared.job, limits, prepared.limits.full
        wishes = tuple(prepared.wishes[index] for index in prepared.fitting)
        hides = {item.hide.id: item for item in prepared.open}
        case = Case(job.workshop, hides, wishes, prepared.limits, known=prepared.known)
        translator = Translator(case)
        self._room_mm2: dict[str, float] = {}
        for item in prepared.open:
            container = translator.container(Ground(item.hide.id, item.hide.outline))
            self._room_mm2[item.hide.id] = container.region.area if container else 0.0
        self._price = {item.hide.id: float(item.hide.price or 0) for item in prepared.open}
        self._rate = {item.hide.id: self._price[item.hide.id] / item.hide.outline.area for item in prepared.open}
        self._by_rate = sorted(self._rate, key=lambda name: self._rate[name])
        self._credit = float(job.workshop.prices.offcut_credit)
        self._lines = self._orders(prepared, case)
        homes = frozenset[str]().union(*(group for line in self._lines for group in line.homes))
        self._useful = [name for name in self._room_mm2 if name in homes]

    @property
    def all(self) -> HideSet:
        """Every open hide."""
        return tuple(self._room_mm2)

    def alone(self) -> list[str]:
        """The hides that could make most alone, as many as are looked at one by one, in the order of the job."""

        def promise(name: str) -> tuple[Merit, float]:
            bound = self.bound([name])
            return tuple(-worth for worth in bound.merit), bound.leather

        few = self._limits.few_alone if len(self.all) > self._limits.most_alone else len(self.all)
        return list(self._in_order(sorted(self.all, key=promise)[:few]))

    def candidates(self) -> list[HideSet]:
        """Sets of two hides or more that may be the best, the cheapest leather first.

        All there are of few hides; of many those that a greedy choice passes: the hide that adds most, then the
        cheapest, one after another, and from all of them the one that is missed least taken away.
        """
        if len(self._useful) <= self._limits.most_hides_in_all_sets:
            sizes = range(2, 1 + len(self._useful))
            found = [names for size in sizes for names in itertools.combinations(self._useful, size)]
        else:
            found = list(dict.fromkeys([*self._growing(), *self._shrinking()]))
        return sorted(found, key=lambda names: (self.bound(names).leather, len(names), names))

    def bound(self, names: Iterable[str], full: float = 1.0) -> Bound:
        """What no plan can better that cuts just these hides and fills no more than a share of them with parts."""
        hides = frozenset(names)
        left_mm2 = full * sum(self._room_mm2[name] for name in hides)
        parts_mm2, sums = 0.0, []
        for rank in range(1 + max((line.rank for line in self._lines), default=0)):
            lines = [line for line in self._lines if line.rank == rank and line.can_be_made(hides)]
            need_mm2 = sum(line.count * line.packed_mm2 for line in lines)
            if need_mm2 <= left_mm2:
                sums.append(sum((line.count * line.worth for line in lines), Fraction(0)))
                left_mm2 -= need_mm2
                parts_mm2 += sum(line.count * line.parts_mm2 for line in lines)
            else:
                sums.append(_most_worth(lines, left_mm2))
        return Bound(tuple(sums), self._least_leather(hides, parts_mm2))

    def _least_leather(self, hides: frozenset[str], parts_mm2: float) -> float:
        """All of each hide but its parts kept as offcuts, the parts on the leather that is cheapest by area."""
        money = sum(self._price[name] for name in hides) * (1.0 - self._credit)
        for name in self._by_rate:
            if name in hides:
                taken_mm2 = min(parts_mm2, self._room_mm2[name])
                money += self._credit * self._rate[name] * taken_mm2
                parts_mm2 -= taken_mm2
        # rounding makes no bound of what is none
        return money - LEAST_MONEY

    def _growing(self) -> list[HideSet]:
        found, chosen = [], frozenset[str]()
        while len(chosen) < len(self._useful):
            chosen = self._best([chosen | {name} for name in self._useful if name not in chosen])
            found.append(self._in_order(chosen))
        return found[1:]

    def _shrinking(self) -> list[HideSet]:
        chosen = frozenset(self._useful)
        found = [self._in_order(chosen)]
        while len(chosen) > 2:
            chosen = self._best([chosen - {name} for name in self._in_order(chosen)])
            found.append(self._in_order(chosen))
        return found

    def _best(self, sets: Iterable[frozenset[str]]) -> frozenset[str]:
        def score(names: frozenset[str]) -> tuple[Merit, float]:
            bound = self.bound(names)
            return tuple(-worth for worth in bound.merit), bound.leather

        return min(sets, key=score)

    def _in_order(self, names: Iterable[str]) -> HideSet:
        kept = set(names)
        return tuple(name for name in self._room_mm2 if name in kept)

    def _orders(self, prepared: Prepared, case: Case) -> list[_Line]:
        """The order lines whose pieces fit the bed whole; fillers left out."""
        job = prepared.job
        fitting = dict(zip(prepared.fitting, range(len(case.wishes))))
        worth = worths(
            [line for line in job.orders if not job.product(line.product).filler],
            job.selling_prices,
        )
        parts: dict[tuple[str, str], list[int | None]] = {}
        for index, wish in enumerate(prepared.wishes):
            if wish.piece == 1 and not wish.product.filler:
                parts.setdefault((wish.order, wish.product.name), []).append(fitting.get(index))
        lines = []
        for line in job.orders:
            own = parts.get((line.order, line.product), [None])
            indices = [index for index in own if index is not None]
            if len(indices) < len(own):
                continue
            rank, each = worth[line.order, line.product]
            packed_mm2 = sum(case.sizes_mm2[index] for index in indices)
            parts_mm2 = sum(case.wishes[index].part.outline.area for index in indices)
            groups = {frozenset(case.homes[index]) for index in indices}
            if case.wishes[indices[0]].match:
                # all of it has to lie on one hide
                common = frozenset.intersection(*groups)
                groups = {frozenset(name for name in common if self._room_mm2[name] >= packed_mm2)}
            lines.append(_Line(rank, each, line.quantity, packed_mm2, parts_mm2, frozenset(groups)))
        return lines


def _most_worth(lines: list[_Line], left_mm2: float) -> Fraction:
    """The most worth that pieces of some lines could have on so much leather."""
    sums = Fraction(0)
    for line in sorted(lines, key=lambda line: float(line.worth) / line.packed_mm2, reverse=True):
        count = min(Fraction(line.count), Fraction(max(left_mm2, 0.0)) / Fraction(line.packed_mm2))
        sums += count * line.worth
        left_mm2 -= float(count) * line.packed_mm2
    return Fraction(math.floor(sums)) if all(line.worth == 1 for line in lines) else sums
