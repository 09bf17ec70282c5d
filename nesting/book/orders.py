"""Order lines in the book: taken in, and what state they are in."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import func, select, tuple_
from sqlalchemy.orm import Session

from ..errors import Faults, FileError
from ..model import Layout, OrderLine
from .shelf import units
from .store import Work
from .tables import BookOrder, CutPart

LineKey = tuple[str, str]
"""Order and product of an order line."""
ASKED = ("quantity", "due", "priority", "thread", "note", "leather", "colour", "finish", "tannage")
"""Fields of an order line besides its key."""
OPEN = ("wanted", "planned", "spoiled")
"""States of lines of which something is still to be cut."""
_AT_ONCE = 500


@dataclass(frozen=True)
class TakenOrders:
    """Order lines ``added``, and those ``changed`` since they were taken in before."""

    added: tuple[LineKey, ...] = ()
    changed: tuple[LineKey, ...] = ()


def take_in(work: Work, lines: Iterable[OrderLine], where: str | Path) -> TakenOrders:
    """Take order lines in; those that the book has already are brought up to date where they ask for something else.

    Raises
    ------
    FileError
        For each line that now asks for fewer pieces than are made already.
    """
    session = work.session
    lines = list(lines)
    rows = by_key(session, [(line.order, line.product) for line in lines])
    added, changed, faults = [], [], Faults()
    for line in lines:
        key = line.order, line.product
        asked = {name: getattr(line, name) for name in ASKED}
        row = rows.get(key)
        if row is None:
            rows[key] = row = BookOrder(
                name=line.order, product=line.product, state="wanted", taken=work.at, planned=0, made=0, spoiled=0,
                **asked,
            )  # fmt: skip
            session.add(row)
            added.append(key)
        elif any(getattr(row, name) != value for name, value in asked.items()):
            if line.quantity < row.made:
                mend = f"{row.made} are made already: order at least so many"
                faults.found.append(FileError(where, f"{line.order}, {line.product}", line.quantity, mend))
                continue
            for name, value in asked.items():
                setattr(row, name, value)
            row.state = _state(row)
            changed.append(key)
    faults.tell()
    session.flush()
    return TakenOrders(tuple(added), tuple(changed))


def by_key(session: Session, keys: Collection[LineKey]) -> dict[LineKey, BookOrder]:
    """The lines of some orders, by order and product."""
    found = {}
    keys = list(dict.fromkeys(keys))
    for start in range(0, len(keys), _AT_ONCE):
        some = keys[start : start + _AT_ONCE]
        for row in session.scalars(select(BookOrder).where(tuple_(BookOrder.name, BookOrder.product).in_(some))):
            found[row.name, row.product] = row
    return found


def line_of(row: BookOrder) -> OrderLine:
    """An order line as the planner has it."""
    return OrderLine(row.name, row.product, **{name: getattr(row, name) for name in ASKED})


def known_lines(work: Work, layout: Layout) -> dict[LineKey, BookOrder]:
    """The lines of a layout in the book, those added that are not there yet, with what the layout tells of them."""
    asked: dict[LineKey, OrderLine] = {(line.order, line.product): line for line in layout.lines}
    each = _parts_each(layout)
    for key, (quantity, _) in each.items():
        asked.setdefault(key, OrderLine(*key, quantity, None))
    rows = by_key(work.session, asked.keys())
    take_in(work, [line for key, line in asked.items() if key not in rows], "layout")
    rows = by_key(work.session, asked.keys())
    currency = layout.workshop.prices.currency
    for key, row in rows.items():
        if key in each:
            row.parts_each = each[key][1]
        price = layout.selling_prices.get(row.product)
        if price is not None:
            row.price = units(price, currency)
    return rows


def _parts_each(layout: Layout) -> dict[LineKey, tuple[int, int]]:
    """Pieces of each line in a layout, and how many parts one takes."""
    pieces: dict[LineKey, set[int]] = defaultdict(set)
    most: dict[LineKey, int] = {}
    for piece in layout.pieces():
        key = piece.order, piece.product
        pieces[key].add(piece.piece)
        most[key] = max(most.get(key, 0), piece.wanted)
    return {key: (max(numbers), most[key]) for key, numbers in pieces.items()}


def refresh(session: Session, rows: Sequence[BookOrder], layout: Layout | None = None) -> None:
    """Count what is made, spoiled and (with the layout at hand) planned of some lines, and set their states."""
    session.flush()
    whole: Counter[LineKey] = Counter()
    if layout is not None:
        whole.update((piece.order, piece.product) for piece in layout.pieces() if piece.whole)
    good: dict[int, Counter[int]] = defaultdict(Counter)
    keys: dict[str, dict[int, set[tuple[object, ...]]]] = {"cut": defaultdict(set), "spoiled": defaultdict(set)}
    ids = [row.id for row in rows]
    for start in range(0, len(ids), _AT_ONCE):
        cut = select(
            CutPart.line, CutPart.state, CutPart.part, CutPart.piece, CutPart.copy, CutPart.mirrored
        ).where(CutPart.line.in_(ids[start : start + _AT_ONCE]))  # fmt: skip
        for line, state, part, piece, copy, mirrored in session.execute(cut):
            if state == "cut":
                good[line][piece] += 1
            keys[state][line].add((part, piece, copy, mirrored))
    for row in rows:
        row.made = sum(count == row.parts_each for count in good[row.id].values()) if row.parts_each else 0
        row.spoiled = len(keys["spoiled"][row.id] - keys["cut"][row.id])
        if layout is not None:
            row.planned = max(whole[row.name, row.product] - row.made, 0)
        row.state = _state(row)
    session.flush()


def _state(row: BookOrder) -> str:
    missing = row.quantity - row.made
    if row.done:
        return "done"
    if missing <= 0:
        return "cut"
    if row.planned >= missing:
        return "planned"
    return "spoiled" if row.spoiled else "wanted"


def set_done(work: Work, rows: Sequence[BookOrder], done: bool) -> list[BookOrder]:
    """Say of order lines that they are done, sold or handed over, or not after all; gives those that it is new of."""
    new = [row for row in rows if (row.done is not None) != done]
    for row in new:
        row.done = work.at if done else None
        row.state = _state(row)
    return new


def named(session: Session, order: str, product: str, where: str | Path) -> list[BookOrder]:
    """The lines of an order, or one of them.

    Raises
    ------
    FileError
        When there is none.
    """
    found = select(BookOrder).where(func.lower(BookOrder.name) == order.lower())
    if product:
        found = found.where(func.lower(BookOrder.product) == product.lower())
    rows = list(session.scalars(found))
    if not rows:
        named = " ".join(filter(None, (order, product)))
        raise FileError(where, "order", named, "the book has no such order: nesting orders lists them")
    return rows
