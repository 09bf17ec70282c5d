"""Actions on what could be made of offcuts: ordered for stock, its layout the one at hand; and why something cannot."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from ...book.book import Book
from ...book.making import CouldMake, why_none
from ...book.store import LAYOUT
from ...errors import FileError
from ...model import Hide, Product, Workshop, counted
from .job import Written, write_plan

MOST_TOLD = 12
"""Products or offcuts told of by name; more are counted."""


def why_not_made(
    workshop: Workshop, products: Sequence[Product], offcuts: Sequence[Hide], unkept: Collection[str] = ()
) -> Iterator[str]:
    """Why no piece of some products is made of the offcuts: of those worth keeping, or of all where none is. One line
    for each."""
    priced = [product for product in products if product.price is not None]
    if free := [product.name for product in products if product.price is None]:
        yield f"{', '.join(free[:MOST_TOLD])}: no price in products.toml, so nothing could be earned"
    if not priced:
        return
    names = ", ".join(product.name for product in priced[:MOST_TOLD])
    more = f" and {len(priced) - MOST_TOLD} more" if len(priced) > MOST_TOLD else ""
    yield f"no piece of {names}{more} goes on the {counted(len(offcuts), 'offcut')}:"
    told = [one for one in offcuts if one.id not in unkept] or offcuts
    for offcut in told[:MOST_TOLD]:
        yield f"{offcut.id}: {why_none(workshop, priced, offcut)}"
    if len(told) > MOST_TOLD:
        yield f"and {len(told) - MOST_TOLD} offcuts more"


def may_take(folder: Path, book: Book) -> None:
    """See that another layout may take the place of the one at hand.

    Raises
    ------
    FileError
        When bed loads of the layout at hand are still to be cut, or pieces of it are cut in part.
    """
    if waiting := book.waiting():
        mend = "cut them, or plan anew, before another layout takes their place"
        raise FileError(folder / LAYOUT, "bed loads", f"{len(waiting)} still to be cut", mend)
    before = book.to_go_on(book.layout())
    if before is not None and before.burnt:
        mend = "plan and cut what they lack, or put the hide back (nesting shelf back), before another layout comes"
        raise FileError(folder / LAYOUT, "pieces", "some are cut in part", mend)


def take_made(folder: Path, made: CouldMake) -> Written:
    """Order the pieces of a layout on offcuts for stock, and make that layout the one at hand.

    Raises
    ------
    FileError
        When it may not be, as `may_take` says.
    """
    book = Book(folder)
    may_take(folder, book)
    (line,) = made.layout.lines
    book.take_orders([replace(line, quantity=made.pieces)], "nesting make")
    return write_plan(made.layout, folder / "out")
