"""What the shop spends and earns, from what was cut: by product, order, hide, supplier and month; and short measure."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from ..costs.currency import minor_unit
from ..costs.rows import per_piece, share_of_price
from ..errors import ModelError
from ..model import Hide, Product, Workshop
from .shelf import money
from .tables import BookLoad, BookOrder, CutPart, ShelfHide

SPENT = ("leather", "masking", "machine", "labour")
"""What a part costs."""


@dataclass(frozen=True)
class Spent:
    """Money spent on one product, or one order line, in the book's currency.

    ``leather`` to ``labour`` are of the parts of whole pieces, ``begun`` is what parts cost of pieces that are not
    whole yet, ``spoiled`` what parts that were spoiled cost, with all of theirs. ``scrap`` is how much of ``leather``
    is scrap's share and ``doubt`` how much of that scrap is what traces leave in doubt, ``rows`` what rows of the
    workshop file come to. ``price`` is what the pieces made sell for together, None where a price is not known;
    ``each`` the cost of one of them, None where none is made.
    """

    name: str
    pieces: int
    leather: Decimal
    masking: Decimal
    machine: Decimal
    labour: Decimal
    spoiled: Decimal
    begun: Decimal
    scrap: Decimal
    doubt: Decimal = Decimal(0)
    rows: dict[str, Decimal] = field(default_factory=dict)
    price: Decimal | None = None

    @property
    def total(self) -> Decimal:
        """All of it together; scrap's share is within the leather."""
        kinds = (self.leather, self.masking, self.machine, self.labour, self.spoiled, self.begun)
        return sum(kinds, Decimal(0)) + sum(self.rows.values(), Decimal(0))

    @property
    def cost(self) -> Decimal:
        """What the whole pieces cost, with what was spoiled for them."""
        return self.total - self.begun

    @property
    def margin(self) -> Decimal | None:
        """What the whole pieces earn: their price less their cost."""
        return None if self.price is None else self.price - self.cost

    @property
    def each(self) -> Decimal | None:
        """The mean cost of a piece, exact to the minor unit."""
        if not self.pieces:
            return None
        return (self.cost / self.pieces).quantize(Decimal(1).scaleb(_exponent(self.cost)), ROUND_HALF_UP)


def _exponent(amount: Decimal) -> int:
    exponent = amount.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


@dataclass(frozen=True)
class Yield:
    """What became of leather that was cut, of one hide, supplier, kind or month: areas in mm2, money in the currency.

    ``parts_mm2`` are good parts. ``paid`` was paid for it, ``credited`` is what offcuts of it are worth.
    """

    name: str
    loads: int
    leather_mm2: float
    parts_mm2: float
    offcuts_mm2: float
    paid: Decimal
    credited: Decimal

    @property
    def of_consumed(self) -> float:
        """Good parts over the leather consumed: what was cut up less the offcuts kept."""
        consumed = self.leather_mm2 - self.offcuts_mm2
        return self.parts_mm2 / consumed if consumed > 0 else 0.0


def spent(
    session: Session, currency: str, workshop: Workshop, products: Sequence[Product], by: str = "product"
) -> list[Spent]:
    """Money spent on what was cut, by ``product`` or ``order``; all of it adds up to what the book has spent."""
    group = {"product": (BookOrder.product,), "order": (BookOrder.name, BookOrder.product)}[by]
    good = CutPart.state == "cut"
    pieces_cut = (
        select(CutPart.line, CutPart.piece, func.count().label("parts"))
        .where(good)
        .group_by(CutPart.line, CutPart.piece)
        .subquery()
    )
    whole = good & (pieces_cut.c.parts == BookOrder.parts_each)
    all_of_it = sum(getattr(CutPart, kind) for kind in SPENT)
    sums = [func.sum(case((whole, getattr(CutPart, kind)), else_=0)) for kind in SPENT]
    sums.append(func.sum(case((good, 0), else_=all_of_it)))
    sums.append(func.sum(case((whole, 0), (good, all_of_it), else_=0)))
    kinds = (*SPENT, "spoiled", "begun")
    scrap = _scrap_shares(session)
    totals: dict[tuple[str, ...], dict[str, int]] = defaultdict(lambda: dict.fromkeys(kinds, 0))
    scraps: dict[tuple[str, ...], Fraction] = defaultdict(Fraction)
    doubts: dict[tuple[str, ...], Fraction] = defaultdict(Fraction)
    query = (
        select(*group, BookLoad.hide, *sums)
        .join(BookLoad, CutPart.load == BookLoad.id)
        .join(BookOrder, CutPart.line == BookOrder.id)
        .outerjoin(pieces_cut, (CutPart.line == pieces_cut.c.line) & (CutPart.piece == pieces_cut.c.piece))
        .group_by(*group, BookLoad.hide)
    )
    for row in session.execute(query):
        key, hide, amounts = tuple(row[: len(group)]), row[len(group)], row[len(group) + 1 :]
        for kind, amount in zip(kinds, amounts):
            totals[key][kind] += int(amount)
        wasted, doubted = scrap.get(int(hide), (Fraction(0), Fraction(0)))
        scraps[key] += int(amounts[0]) * wasted
        doubts[key] += int(amounts[0]) * doubted
    made = {
        tuple(row[: len(group)]): row[len(group) :]
        for row in session.execute(
            select(
                *group, func.sum(BookOrder.made), func.sum(BookOrder.made * BookOrder.price),
                func.sum(case((BookOrder.price.is_(None), BookOrder.made), else_=0)),
            ).where(BookOrder.made > 0).group_by(*group)
        )
    }  # fmt: skip
    known = {product.name: product for product in products}
    found = []
    for key in sorted(totals):
        pieces, price, unpriced = made.get(key, (0, None, 0))
        product = known.get(key[-1])
        each = 0 if not pieces or unpriced else Fraction(int(price), int(pieces))
        rows = {} if product is None else per_piece(workshop, product, money_of(each, currency))
        found.append(
            Spent(
                " ".join(key), int(pieces), **{kind: money(totals[key][kind], currency) for kind in totals[key]},
                scrap=money_of(scraps[key], currency), doubt=money_of(doubts[key], currency),
                rows={name: amount * int(pieces) for name, amount in rows.items()},
                price=None if unpriced or price is None else money(int(price), currency),
            )
        )  # fmt: skip
    return found


def money_of(units: Fraction | int, currency: str) -> Decimal:
    """Minor units, whole or not, as money rounded to the minor unit, halves up."""
    return money(math.floor(Fraction(units) + Fraction(1, 2)), currency)


def _scrap_shares(session: Session) -> dict[int, tuple[Fraction, Fraction]]:
    """Of each hide the share of the leather consumed that is not in parts, and how much of it is in doubt: the share of
    the hide that its trace keeps out, and no more than there is scrap."""
    rows = session.execute(
        select(
            BookLoad.hide,
            func.sum(BookLoad.panel_mm2 - BookLoad.offcuts_mm2),
            func.sum(BookLoad.parts_mm2),
            ShelfHide.doubt_mm2 / ShelfHide.area_mm2,
        )
        .join(ShelfHide, BookLoad.hide == ShelfHide.id)
        .where(BookLoad.state != "planned")
        .group_by(BookLoad.hide)
    )
    found = {}
    for hide, consumed, parts, doubt in rows:
        if consumed > 0:
            scrap = 1 - Fraction(parts) / Fraction(consumed)
            found[hide] = scrap, max(Fraction(0), min(scrap, Fraction(doubt)))
    return found


def yields(session: Session, currency: str, by: str = "hide") -> list[Yield]:
    """What became of the leather cut, by ``hide``, ``supplier``, ``kind`` (leather, colour, thickness) or ``month``."""
    areas = select(CutPart.load, func.sum(CutPart.area_mm2)).where(CutPart.state == "cut").group_by(CutPart.load)
    good: dict[int, float] = {row[0]: row[1] for row in session.execute(areas)}
    hides = {row.id: row for row in session.execute(select(
        ShelfHide.id, ShelfHide.name, ShelfHide.supplier, ShelfHide.leather, ShelfHide.colour, ShelfHide.thickness_mm,
        ShelfHide.price, ShelfHide.parent,
    ))}  # fmt: skip
    loads = session.execute(
        select(BookLoad.id, BookLoad.hide, BookLoad.at, BookLoad.panel_mm2, BookLoad.offcuts_mm2, BookLoad.state)
        .where(BookLoad.state != "planned")
        .order_by(BookLoad.id)
    )
    names: dict[str, Callable[[Any], str]] = {
        "hide": lambda load: hides[load.hide].name,
        "supplier": lambda load: hides[load.hide].supplier or "not known",
        "kind": lambda load: kind_of(hides[load.hide]),
        "month": lambda load: (load.at or "")[:7],
    }
    name_of = names[by]
    sums: dict[str, list[float]] = defaultdict(lambda: [0, 0.0, 0.0, 0.0])
    cut: dict[str, dict[int, None]] = defaultdict(dict)
    for load in loads:
        row = sums[name_of(load)]
        for place, value in enumerate((load.state == "cut", load.panel_mm2, good.get(load.id, 0.0), load.offcuts_mm2)):
            row[place] += value
        cut[name_of(load)][load.hide] = None
    credits: dict[int, int] = defaultdict(int)
    for hide in hides.values():
        if hide.parent is not None:
            credits[hide.parent] += hide.price or 0
    return [
        Yield(
            name, int(row[0]), row[1], row[2], row[3],
            money(sum(hides[one].price or 0 for one in cut[name]), currency),
            money(sum(credits[one] for one in cut[name]), currency),
        )
        for name, row in sums.items()
    ]  # fmt: skip


@dataclass(frozen=True)
class Month:
    """What was cut in a month (YYYY-MM): what it cost, spoiled parts too, and what its good parts are worth, as their
    share of what their pieces sell for; pieces of which no price is known count as 0."""

    name: str
    spent: Decimal
    worth: Decimal


def months(session: Session, currency: str) -> list[Month]:
    """Money month by month, the first first."""
    good = CutPart.state == "cut"
    month = func.substr(BookLoad.at, 1, 7)
    rows = session.execute(
        select(
            month, BookOrder.price, BookOrder.parts_each, func.sum(sum(getattr(CutPart, kind) for kind in SPENT)),
            func.sum(case((good, 1), else_=0)),
        )
        .join(BookLoad, CutPart.load == BookLoad.id)
        .join(BookOrder, CutPart.line == BookOrder.id)
        .group_by(month, BookOrder.price, BookOrder.parts_each)
    )  # fmt: skip
    spent_in: dict[str, int] = defaultdict(int)
    worth: dict[str, Fraction] = defaultdict(Fraction)
    for name, price, parts, amount, count in rows:
        spent_in[name] += int(amount)
        if price and parts:
            worth[name] += Fraction(int(price) * int(count), int(parts))
    return [Month(name, money(spent_in[name], currency), money_of(worth[name], currency)) for name in sorted(spent_in)]


def kind_of(row: Any) -> str:
    """What leather a hide is, for buying more of it: name, colour, thickness."""
    thick = "" if row.thickness_mm is None else f"{row.thickness_mm:g} mm"
    return ", ".join(filter(None, (row.leather, row.colour, thick))) or "any"


def price_for(cost: Decimal, margin: float, currency: str, workshop: Workshop, product: str) -> Decimal:
    """The price to ask so that so large a share of it is earned, rounded up to the minor unit.

    Rows of the workshop file that are a share of the price (fees, tax) come off it as well.

    Parameters
    ----------
    cost : Decimal
        Of one piece, without those rows.
    margin : float
        Share of the price, 0 to below 1.
    currency : str
    workshop : Workshop
    product : str

    Raises
    ------
    ModelError
        When margin and shares leave nothing to pay the cost with.
    """
    left = 1 - Fraction(str(margin)) - share_of_price(workshop, product)
    if not 0 <= margin < 1 or left <= 0:
        raise ModelError("margin", f"{margin:.0%}", "give less: with the fees and taxes it takes all of the price")
    unit = minor_unit(currency)
    exact = Fraction(cost) / left
    # fees are rounded each by itself, so the price is raised until the margin is there in whole minor units
    return (Decimal(math.ceil(exact / Fraction(unit))) * unit).quantize(unit, ROUND_CEILING)


@dataclass(frozen=True)
class ShortMeasure:
    """By how much a hide is smaller than it was sold: areas in mm2, ``surely`` beyond what the trace may be off by."""

    bought_mm2: float
    traced_mm2: float
    uncertain_mm2: float
    paid: Decimal | None
    worth: Decimal | None

    @property
    def missing_mm2(self) -> float:
        """Less than 0 where there is more than was bought."""
        return self.bought_mm2 - self.traced_mm2

    @property
    def surely(self) -> bool:
        """Whether it is short by more than the measuring may be off."""
        return self.missing_mm2 > self.uncertain_mm2


def short_measure(row: ShelfHide, hide: Hide, currency: str) -> ShortMeasure | None:
    """What a hide lacks of the measure it was bought by, in leather and in money; None where that is not known."""
    if row.bought_mm2 is None:
        return None
    off = 0.0 if hide.traced is None else hide.traced.expected_error_mm * hide.outline.length
    lacking = Fraction(row.bought_mm2) - Fraction(row.area_mm2)
    worth = None if row.price is None else money_of(row.price * lacking / Fraction(row.bought_mm2), currency)
    paid = None if row.price is None else money(row.price, currency)
    return ShortMeasure(row.bought_mm2, row.area_mm2, off, paid, worth)


def totals(rows: Iterable[Spent]) -> Mapping[str, Decimal]:
    """What some rows come to together, by kind and in all."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for row in rows:
        for kind in (*SPENT, "spoiled", "begun", "total"):
            sums[kind] += getattr(row, kind)
    return sums
