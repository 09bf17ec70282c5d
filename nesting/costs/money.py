"""What every part, piece and order line costs, adding up exactly to the money spent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from fractions import Fraction
from math import floor

from ..laser.time import machine_seconds
from ..model import Hide, Layout, Placement
from .offcuts import Offcut, offcuts

MINOR_DIGITS = dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0)
MINOR_DIGITS |= dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3) | {"CLF": 4, "UYW": 4}
"""Decimals of a currency's minor unit where they are not 2: ISO 4217, quoted from memory."""
MM2_PER_M2 = 1_000_000


@dataclass(frozen=True)
class Cost:
    """Money by what it is spent on."""

    leather: Decimal = Decimal(0)
    masking: Decimal = Decimal(0)
    machine: Decimal = Decimal(0)
    labour: Decimal = Decimal(0)

    @property
    def total(self) -> Decimal:
        """All of it together."""
        return self.leather + self.masking + self.machine + self.labour

    def __add__(self, other: Cost) -> Cost:
        return Cost(*(getattr(self, kind) + getattr(other, kind) for kind in KINDS))


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
    parts: dict[tuple, Cost]
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

    def _by(self, group) -> dict:
        sums: dict[tuple, Cost] = {}
        for key, cost in self.parts.items():
            sums[group(key)] = sums.get(group(key), Cost()) + cost
        return sums


def costs(layout: Layout, kept: dict[str, Sequence[Offcut]] | None = None) -> Costs:
    """Cost of every placed part, in the workshop's currency.

    Leather is the price paid for the hide less ``offcut_credit`` times the price of its offcuts by area, shared over
    the parts on that hide by their area, so that scrap is shared by area too. Masking covers the area inside a part's
    outline, cutouts included. Machine time is each part's own plus, for every panel laid on the bed, ``load_minutes``
    shared over the parts of that load by area; a hide that is not burnt has none. Labour is a time a part. Each of the
    four is rounded to the currency's minor unit once a hide and then shared by largest remainder, so that nothing is
    lost. Hides without placements are untouched and cost nothing.

    Parameters
    ----------
    layout : Layout
    kept : dict of sequences of Offcut, optional
        Offcuts of each hide that is cut, when they are known already.

    Returns
    -------
    Costs
    """
    digits = MINOR_DIGITS.get(layout.workshop.prices.currency, 2)
    paid, credited, hides, parts, notes = {}, {}, {}, {}, []
    for hide in layout.hides:
        placements = layout.on(hide.id)
        if not placements:
            continue
        left = offcuts(layout, hide.id)[0] if kept is None else kept[hide.id]
        price = _units(Fraction(hide.price or 0), digits)
        credit = _units(price * _kept_share(layout, hide, left))
        paid[hide.id], credited[hide.id] = _money(price, digits), _money(credit, digits)
        shares = [share(price - credit, [_area(placement) for placement in placements])]
        for amounts in _work(layout, hide, placements):
            shares.append(share(_units(sum(amounts), digits), amounts))
        rows = [Cost(*(_money(units, digits) for units in row)) for row in zip(*shares)]
        parts |= {placement.key: row for placement, row in zip(placements, rows)}
        hides[hide.id] = sum(rows, Cost())
        notes += _notes(layout, hide, paid[hide.id])
    return Costs(layout.workshop.prices.currency, paid, credited, hides, parts, tuple(notes))


def minor_unit(currency: str) -> Decimal:
    """The smallest amount of a currency (ISO 4217 code): 0.01 for EUR, 1 for JPY."""
    return Decimal(1).scaleb(-MINOR_DIGITS.get(currency, 2))


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


def _work(layout: Layout, hide: Hide, placements: tuple[Placement, ...]) -> tuple[list[Fraction], ...]:
    """Unrounded masking, machine and labour money of each placement."""
    prices = layout.workshop.prices
    masking = [Fraction(p.outline.area) * Fraction(prices.masking_per_m2) / MM2_PER_M2 for p in placements]
    seconds = _seconds(layout, hide, placements)
    machine = [second * Fraction(prices.machine_per_hour) / 3600 for second in seconds]
    minutes = Fraction(str(prices.labour_minutes_per_part))
    labour = [minutes * Fraction(prices.labour_per_hour) / 60] * len(placements)
    return masking, machine, labour


def _seconds(layout: Layout, hide: Hide, placements: tuple[Placement, ...]) -> list[Fraction]:
    """Machine time of each placement with its share of loading the bed; none for a hide that is not burnt."""
    if hide.id not in layout.settings:
        return [Fraction(0)] * len(placements)
    burning = machine_seconds(layout, hide.id)
    load = Fraction(str(layout.workshop.machine.load_minutes)) * 60
    on_bed: dict[str, Fraction] = {}
    for placement in placements:
        on_bed[placement.panel] = on_bed.get(placement.panel, Fraction(0)) + _area(placement)
    return [Fraction(burning[p.key]) + load * _area(p) / on_bed[p.panel] for p in placements]


def _area(placement: Placement) -> Fraction:
    # Cutouts may overlap one another, so that their areas could add up to more than the part's.
    return Fraction(max(placement.area_mm2, 1e-6))


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
    return notes


def _units(amount: Fraction, digits: int = 0) -> int:
    """Money in minor units, halves rounded up."""
    return floor(amount * 10**digits + Fraction(1, 2))


def _money(units: int, digits: int) -> Decimal:
    return Decimal(units).scaleb(-digits)
