"""What to buy: leather for what does not fit and for what is likely to be ordered; and offcuts not worth keeping."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import numpy as np
import shapely
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from ..model import OrderLine, Product
from . import money as accounts
from .limits import DEFAULT, BookLimits
from .orders import OPEN, line_of
from .tables import BookOrder, ShelfHide


@dataclass(frozen=True)
class ToBuy:
    """Leather of one kind to buy: the area of the ``parts`` it is for, what of it the shelf has room for, and how much
    leather that takes, likely and with a range, all in mm2; what that costs at what was paid for such leather so far.

    ``pieces`` counts what it is for by product, ``thickness_mm`` is what all its parts accept, None where any will do
    (or where they agree on none).
    """

    kind: str
    thickness_mm: tuple[float, float] | None
    pieces: dict[str, int]
    parts_mm2: float
    likely_mm2: float
    range_mm2: tuple[float, float]
    cost: Decimal | None


@dataclass(frozen=True)
class Unkept:
    """An offcut that is hardly worth its place, and why."""

    name: str
    why: str


def rates(session: Session, now: str, weeks: int) -> tuple[dict[str, Fraction], int]:
    """Pieces ordered a week, by product, over the last weeks; and how many those are, of a younger book fewer."""
    at = datetime.strptime(now, _STAMP)
    first = session.scalar(select(func.min(BookOrder.taken)))
    age = at - datetime.strptime(first, _STAMP) if first else timedelta()
    weeks = max(1, min(weeks, -(-age // timedelta(weeks=1))))
    since = (at - timedelta(weeks=weeks)).strftime(_STAMP)
    rows = session.execute(
        select(BookOrder.product, func.sum(BookOrder.quantity))
        .where(BookOrder.taken >= since)
        .group_by(BookOrder.product)
    )
    return {product: Fraction(int(count), weeks) for product, count in rows}, weeks


_STAMP = "%Y-%m-%dT%H:%M:%SZ"
"""How the book writes a time."""


def to_buy(
    session: Session,
    currency: str,
    products: Sequence[Product],
    now: str,
    *,
    ahead_weeks: int = 0,
    over_weeks: int = 26,
    limits: BookLimits = DEFAULT,
) -> list[ToBuy]:
    """Leather to buy, by kind: for open order lines that the layout at hand has no room for, and for weeks to come.

    Parameters
    ----------
    session : Session
    currency : str
    products : sequence of Product
    now : str
        The time, as the book has it.
    ahead_weeks : int
        Weeks to come, with as many orders as in those past.
    over_weeks : int
        Weeks past that are counted.
    limits : BookLimits, optional

    Returns
    -------
    list of ToBuy
        The most leather first. The range is that of four in five of the hides cut so far; where fewer than
        ``limits.fewest_yields`` were, a working assumption.
    """
    known = {product.name: product for product in products}
    wanted: list[tuple[OrderLine, int]] = []
    for row in session.scalars(select(BookOrder).where(BookOrder.state.in_(OPEN))):
        missing = row.quantity - row.made - row.planned
        if missing > 0 and row.product in known:
            wanted.append((line_of(row), missing))
    for name, rate in rates(session, now, over_weeks)[0].items():
        count = -(-rate.numerator * ahead_weeks // rate.denominator)
        if count and name in known:
            wanted.append((OrderLine("to come", name, 1, None), count))
    areas: dict[str, float] = defaultdict(float)
    pieces: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    thick: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for line, count in wanted:
        product = known[line.product]
        kinds = set()
        for part in product.parts:
            kind = str(line.kind(product, part))
            copies = part.count * (1 + part.mirrored_twin)
            areas[kind] += count * copies * (part.outline.area - sum(cutout.area for cutout in part.cutouts))
            if part.thickness_mm is not None:
                thick[kind].append(part.thickness_mm)
            kinds.add(kind)
        for kind in kinds:
            pieces[kind][product.name] += count
    low, likely, high = _yields(session, currency, limits)
    rate_paid = _paid_a_mm2(session)
    found = []
    for kind, area in areas.items():
        least, most = max((a for a, _ in thick[kind]), default=0.0), min((b for _, b in thick[kind]), default=0.0)
        cost = None if rate_paid is None else accounts.money_of(Fraction(area / likely) * rate_paid, currency)
        found.append(
            ToBuy(
                kind, (least, most) if 0 < least < most else None, dict(pieces[kind]), area, area / likely,
                (area / high, area / low), cost,
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: -one.likely_mm2)


def _yields(session: Session, currency: str, limits: BookLimits) -> tuple[float, float, float]:
    """A low, the middle and a high share of the leather consumed that is in good parts."""
    found = [row.of_consumed for row in accounts.yields(session, currency) if row.of_consumed > 0]
    if len(found) < limits.fewest_yields:
        return limits.assumed_yields
    low, middle, high = np.quantile(found, (0.1, 0.5, 0.9)).tolist()
    return low, middle, high


def _paid_a_mm2(session: Session) -> Fraction | None:
    """Minor units paid for a mm2 of hides that were bought, on average."""
    paid, area = session.execute(
        select(func.sum(ShelfHide.price), func.sum(ShelfHide.area_mm2)).where(
            ShelfHide.parent.is_(None), ShelfHide.price.is_not(None)
        )
    ).one()
    return Fraction(int(paid or 0)) / Fraction(area) if area else None


def unkept(session: Session, products: Sequence[Product], now: str, older_days: int = 365) -> list[Unkept]:
    """Offcuts on the shelf that have lain there for long, or that are too small for any part of any product.

    Too small is said of one in whose largest rectangle, as far as known, no part lies, and which has less than twice
    the leather of any: one with more may take a part askew.
    """
    before = (datetime.strptime(now, _STAMP) - timedelta(days=older_days)).strftime(_STAMP)
    sides = []
    for product in products:
        for part in product.parts:
            corners = shapely.get_coordinates(part.outline.minimum_rotated_rectangle)
            one, other = np.hypot(*np.diff(corners[:3], axis=0).T).tolist()
            sides.append((max(one, other), min(one, other), part.outline.area))
    found = []
    rows = session.scalars(
        select(ShelfHide).where(ShelfHide.state == "shelf", ShelfHide.parent.is_not(None)).order_by(ShelfHide.id)
    )
    for row in rows:
        rectangle = row.wide_mm, row.high_mm
        fits = any(
            (rectangle[0] >= wide and rectangle[1] >= high) or row.area_mm2 >= 2 * area for wide, high, area in sides
        )
        if sides and not fits:
            size = f"{rectangle[0]:.0f} x {rectangle[1]:.0f} mm"
            found.append(Unkept(row.name, f"too small: its largest rectangle is {size}"))
        elif row.added < before:
            found.append(Unkept(row.name, f"on the shelf since {row.added[:10]}"))
    return found
