"""Action on what could be made of offcuts: it is ordered for stock, and its layout is the one at hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ...book.book import Book
from ...book.making import CouldMake
from ...book.store import LAYOUT
from ...errors import FileError
from .job import Written, write_plan


def take_made(folder: Path, made: CouldMake) -> Written:
    """Order the pieces of a layout on offcuts for stock, and make that layout the one at hand.

    Raises
    ------
    FileError
        When bed loads of the layout at hand are still to be cut, or pieces of it are cut in part.
    """
    book = Book(folder)
    if waiting := book.waiting():
        mend = "cut them, or plan anew, before another layout takes their place"
        raise FileError(folder / LAYOUT, "bed loads", f"{len(waiting)} still to be cut", mend)
    before = book.to_go_on(book.layout())
    if before is not None and before.burnt:
        mend = "plan and cut what they lack, or put the hide back (nesting shelf back), before another layout comes"
        raise FileError(folder / LAYOUT, "pieces", "some are cut in part", mend)
    (line,) = made.layout.lines
    book.take_orders([replace(line, quantity=made.pieces)], "nesting make")
    return write_plan(made.layout, folder / "out")
