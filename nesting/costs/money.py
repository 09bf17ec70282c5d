"""What every part, piece and order line costs, adding up exactly to the money spent."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import TypeVar

from ..laser.load import stages_of
from ..laser.time import machine_seconds
from ..leather.shades import masked
from ..model import Hide, Layout, Placement
from ..workers import Crew, cores
from .currency import minor_digits
from .doubt import doubt_note
from .limits import DEFAULT, CostLimits
from .offcuts import Offcut, offcuts
from .rows import for_one

MM2_PER_M2 = 1_000_000
Key = tuple[str, str, str, int, int, bool]
"""What tells an ordered part from every other: `Placement.key`."""
Group = TypeVar("Group", bound=Hashable)


@dataclass(frozen=True)
class Cost:
    """Money by what it is spent on."""

    leather: Decimal = Decimal(0)
    masking: Decimal = Decimal(0)
    machine: Decimal = Decimal(0)
    labour: Decimal = Decimal(0)
    other: Decimal = Decimal(0)

    @property
    def total(self) -> Decimal:
        """All of it together."""
        return self.leather + self.masking + self.machine + self.labour + self.other

    def __add__(self, more: Cost) -> Cost:
        return Cost(*(getattr(self, kind) + getattr(more, kind) for kind in KINDS))


KINDS = tuple(field.name for field in fields(Cost))


@dataclass(frozen=True)
class Costs:
    """What a layout costs.

    ``paid`` is the price of every hide that is cut, ``credited`` what its offcuts are worth, ``hides`` the money spent
    on what is cut from it. ``parts`` holds each part's share by the placement's key; these add up exactly to ``hides``.
    ``notes`` say what is not in the figures.
    """

    currency: str
    paid: dict[str, Decimal]
    credited: dict[str, Decimal]
    hides: dict[str, Cost]
    parts: dict[Key, Cost]
    notes: tuple[str, ...]

    @property
    def total(self) -> Cost:
        """The money spent."""
        return sum(self.hides.values(), Cost())

    @property
    def pieces(self) -> dict[tuple[str, str, int], Cost]:
        """Cost of each ordered piece, as far as its parts are placed, by (order, product, piece)."""
        return self._by(lambda key: (key[0], key[1], key[3]))

    @property
    def lines(self) -> dict[tuple[str, str], Cost]:
        """Cost of each order line, as far as its parts are placed, by (order, product)."""
        return self._by(lambda key: key[:2])

    def _by(self, group: Callable[[Key], Group]) -> dict[Group, Cost]:
        sums: dict[Group, Cost] = {}
        for key, cost in self.parts.items():
            sums[group(key)] = sums.get(group(key), Cost()) + cost
        return sums


def costs(
    layout: Layout,
    kept: Mapping[str, Sequence[Offcut]] | None = None,
    limits: CostLimits = DEFAULT,
    *,
    timed: bool = True,
) -> Costs:
    """Cost of every placed part, in the workshop's currency.

    Leather is the price paid for the hide less ``offcut_credit`` times the price of its offcuts by area, shared over
    the parts on that hide by their area, so that scrap is shared by area too. Masking covers the area inside a part's
    outline, cutouts included, of leather that is burnt and not dark.
    Machine time is each part's own plus, for every panel laid on the bed, ``load_minutes`` shared over the parts of
    that load by area (as often as what is fed through is burnt in stages); what is cut by knife and a hide that is not
    burnt have none. Labour is a time a part. Each of the
    four is rounded to the currency's minor unit once a hide and then shared by largest remainder, so that nothing is
    lost. What the workshop's rows of other costs come to for a whole piece is shared over its parts by area; a piece of
    which parts are missing has none yet. Hides without placements are untouched and cost nothing.

    Parameters
    ----------
    layout : Layout
    kept : mapping of sequences of Offcut, optional
        Offcuts of each hide that is cut, when they are known already.
    limits : CostLimits, optional
    timed : bool
        Whether the time that burning takes is worked out; without it machine time is that of loading the bed.

    Returns
    -------
    Costs
    """
    digits = minor_digits(layout.workshop.prices.currency)
    paid: dict[str, Decimal] = {}
    credited: dict[str, Decimal] = {}
    hides: dict[str, Cost] = {}
    parts: dict[Key, Cost] = {}
    notes: list[str] = []
    other, burning = _other(layout, digits, limits), _burning(layout, limits) if timed else {}
    for hide in layout.hides:
        placements = layout.on(hide.id)
        if not placements:
            continue
        areas = [_area(placement, limits) for placement in placements]
        left = offcuts(layout, hide.id, limits)[0] if kept is None else kept[hide.id]
        price = _units(Fraction(hide.price or 0), digits)
        credit = _units(price * _kept_share(layout, hide, left))
        paid[hide.id], credited[hide.id] = _money(price, digits), _money(credit, digits)
        work = _work(layout, hide, placements, areas, burning.get(hide.id, {}))
        shares = [share(price - credit, areas), *(share(_units(sum(each, Fraction(0)), digits), each) for each in work)]
        shares.append([other.get(placement.key, 0) for placement in placements])
        rows = [Cost(*(_money(units, digits) for units in row)) for row in zip(*shares)]
        parts |= {placement.key: row for placement, row in zip(placements, rows)}
        hides[hide.id] = sum(rows, Cost())
        notes += _notes(layout, hide, paid[hide.id])
    return Costs(layout.workshop.prices.currency, paid, credited, hides, parts, tuple(notes))


def of_orders(layout: Layout, money: Costs, limits: CostLimits = DEFAULT, *, timed: bool = True) -> Costs:
    """The costs of a layout, known already, as if no filler were cut."""
    filled = {placement.hide for placement in layout.placements if placement.filler}
    if not filled:
        return money
    # without its fillers only what lies on a hide with some costs another amount
    bare = replace(layout, placements=tuple(p for p in layout.placements if p.hide in filled and not p.filler))
    own = costs(bare, limits=limits, timed=timed)
    ordered = [placement for placement in layout.placements if not placement.filler]
    hides = {placement.hide for placement in ordered}
    return replace(
        own,
        paid={hide: money.paid[hide] for hide in money.paid if hide in hides},
        credited={hide: (own if hide in filled else money).credited[hide] for hide in money.credited if hide in hides},
        hides={hide: (own if hide in filled else money).hides[hide] for hide in money.hides if hide in hides},
        parts={part.key: (own if part.hide in filled else money).parts[part.key] for part in ordered},
    )


def share(total: int, weights: Sequence[float | Fraction]) -> list[int]:
    """Divide a whole number by weight into whole numbers that add up to it: the method of largest remainders.

    Parameters
    ----------
    total : int
        0 or more.
    weights : sequence of float or Fraction
        0 or more; when all are 0 they count as equal.

    Returns
    -------
    list of int
        Each within 1 of its exact share; the earlier is favoured when remainders are equal.
    """
    exact = [Fraction(weight) for weight in weights]
    if not any(exact):
        exact = [Fraction(1)] * len(exact)
    whole = sum(exact)
    quotas = [total * weight / whole for weight in exact]
    shares = [floor(quota) for quota in quotas]
    by_remainder = sorted(range(len(quotas)), key=lambda i: shares[i] - quotas[i])
    for i in by_remainder[: total - sum(shares)]:
        shares[i] += 1
    return shares


def _work(
    layout: Layout,
    hide: Hide,
    placements: tuple[Placement, ...],
    areas: list[Fraction],
    burning: Mapping[Key, float],
) -> tuple[list[Fraction], ...]:
    """Unrounded masking, machine and labour money of each placement."""
    prices = layout.workshop.prices
    price = Fraction(prices.masking_per_m2) if hide.id in layout.settings and masked(hide.colour) else Fraction(0)
    masking = [Fraction(p.outline.area) * price / MM2_PER_M2 for p in placements]
    seconds = _seconds(layout, hide, placements, areas, burning)
    machine = [second * Fraction(prices.machine_per_hour) / 3600 for second in seconds]
    minutes = Fraction(str(prices.labour_minutes_per_part))
    labour = [minutes * Fraction(prices.labour_per_hour) / 60] * len(placements)
    return masking, machine, labour


def _burning(layout: Layout, limits: CostLimits) -> dict[str, dict[Key, float]]:
    """Machine time of each placement on the hides that are burnt; of many hides it is found on all cores."""
    names = [hide.id for hide in layout.hides if hide.id in layout.settings and layout.on(hide.id)]
    with Crew(layout, cores() if len(names) > limits.hides_alone else 1) as crew:
        found = crew.each(machine_seconds, [(name,) for name in names])
    if crew.interrupted:
        raise KeyboardInterrupt
    return dict(zip(names, found))


def _seconds(
    layout: Layout,
    hide: Hide,
    placements: tuple[Placement, ...],
    areas: list[Fraction],
    burning: Mapping[Key, float],
) -> list[Fraction]:
    """Machine time of each placement with its share of loading the bed; none for a hide that is not burnt."""
    if hide.id not in layout.settings:
        return [Fraction(0)] * len(placements)
    load = Fraction(str(layout.workshop.machine.load_minutes)) * 60
    on_bed: dict[str, Fraction] = {}
    for placement, area in zip(placements, areas):
        on_bed[placement.panel] = on_bed.get(placement.panel, Fraction(0)) + area
    times = {panel.id: 0 for panel in layout.long_panels.values() if panel.hide == hide.id}
    times |= {panel: len(stages) for panel, (_, stages) in stages_of(layout, hide).items()}
    return [
        Fraction(burning.get(p.key, 0.0)) + times.get(p.panel, 1) * load * area / on_bed[p.panel]
        for p, area in zip(placements, areas)
    ]


def _other(layout: Layout, digits: int, limits: CostLimits) -> dict[Key, int]:
    """What the workshop's rows of other costs come to for each part of a whole piece, in minor units."""
    if not layout.workshop.extras:
        return {}
    whole = {(piece.order, piece.product, piece.piece) for piece in layout.pieces() if piece.whole}
    made: dict[tuple[str, str, int], list[Placement]] = {}
    for placement in layout.placements:
        if (piece := (placement.order, placement.product, placement.piece)) in whole:
            made.setdefault(piece, []).append(placement)
    alike: dict[tuple[str, int], int] = {}
    found: dict[Key, int] = {}
    for (_, product, _), parts in made.items():
        if (product, len(parts)) not in alike:
            rows = for_one(layout.workshop, product, parts, layout.selling_prices.get(product), limits)
            alike[product, len(parts)] = _units(Fraction(sum(rows.values(), Decimal(0))), digits)
        shares = share(alike[product, len(parts)], [_area(part, limits) for part in parts])
        found |= {part.key: units for part, units in zip(parts, shares)}
    return found


def _area(placement: Placement, limits: CostLimits) -> Fraction:
    return Fraction(max(placement.area_mm2, limits.least_part_mm2))


def _kept_share(layout: Layout, hide: Hide, left: Sequence[Offcut]) -> Fraction:
    """Share of the hide's price that its offcuts are credited with."""
    area = sum(Fraction(offcut.area_mm2) for offcut in left) / Fraction(hide.outline.area)
    return Fraction(str(layout.workshop.prices.offcut_credit)) * min(area, Fraction(1))


def _notes(layout: Layout, hide: Hide, paid: Decimal) -> list[str]:
    notes = []
    if hide.price is None:
        notes.append(f"hide {hide.id} has no price: its leather is counted as 0")
    elif hide.price != paid:
        notes.append(
            f"the price of hide {hide.id}, {hide.price}, is counted as {paid} {layout.workshop.prices.currency}"
        )
    if hide.id not in layout.settings:
        notes.append(f"hide {hide.id} has no laser setting: no machine time is counted for it")
    return notes + list(filter(None, [hide.smoothed_words, doubt_note(layout, hide)]))


def _units(amount: Fraction, digits: int = 0) -> int:
    """Money in minor units, halves rounded up."""
    return floor(amount * Fraction(10) ** digits + Fraction(1, 2))


def _money(units: int, digits: int) -> Decimal:
    return Decimal(units).scaleb(-digits)
