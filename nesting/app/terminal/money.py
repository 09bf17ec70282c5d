"""What the commands about money say."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from ...atomic import write_text
from ...book.book import Book
from ...book.money import SPENT, Spent, Yield, price_for, totals
from ...costs.rows import per_piece
from ...errors import FileError
from ...files.job import read_making
from ...files.schema import among
from ...model import MM2_PER_DM2, MM2_PER_SQ_FT, units
from ..actions import shop
from ..options import option
from .console import list_rows, say

OF_MONEY, OF_LEATHER = ("product", "order"), ("hide", "supplier", "kind", "month")
"""What money and leather may be told by."""
IN_FILE_ONLY = ("masking", "machine", "labour", "scrap", "doubt", "sold for", "sq ft cut")
"""Columns that a terminal has no room for."""
OWN = "cost: "
"""Begins the name of a column for one of the workshop's own rows of cost."""
Cells = Sequence[Sequence[str]]


def run_money(folder: Path, by: str, file: Path | None) -> None:
    """Tell money by product or order, or leather by hide, supplier, kind or month."""
    if by not in (*OF_MONEY, *OF_LEATHER):
        raise FileError("--by", "by", by, f"give {', '.join((*OF_MONEY, *OF_LEATHER))}")
    book = Book(folder)
    if by in OF_MONEY:
        spent = book.spent(*read_making(folder), by)
        cells = _spent_cells(spent, by)
    else:
        cells = _yield_cells(book.yields(by), by)
    away = IN_FILE_ONLY if by not in OF_MONEY or any(row.begun for row in spent) else (*IN_FILE_ONLY, "begun")
    shown = [place for place, name in enumerate(cells[0]) if name not in away and not name.startswith(OWN)]
    head, *rows = ([row[place] for place in shown] for row in cells)
    list_rows(head, rows, head[1:], head[:1])
    if by in OF_MONEY:
        say(
            f"{totals(spent)['total']} {book.currency} spent on what was cut. Leather: with its scrap; work: masking, "
            "machine and labour; other: the [[cost]] rows of workshop.toml. --csv has each by itself."
        )
        if begun := totals(spent)["begun"]:
            say(f"Begun: {begun} {book.currency} of it is in parts of pieces not whole yet, in no piece's cost.")
    else:
        say("Yield: good parts over the leather cut less the offcuts kept. Credit: what its offcuts are worth.")
    if file is not None:
        stream = io.StringIO()
        csv.writer(stream, lineterminator="\n").writerows(cells)
        write_text(file, stream.getvalue())
        say(file)


def _spent_cells(rows: Sequence[Spent], by: str) -> Cells:
    own = list(dict.fromkeys(name for row in rows for name in row.rows))
    head = [by, "pieces", *SPENT, "scrap", "doubt", "spoiled", "begun"]
    head += [*(f"{OWN}{name}" for name in own), "other", "work", "total"]
    found = [[*head, "each", "sold for", "margin"]]
    for row in rows:
        zero = 0 * row.total
        other = sum(row.rows.values(), zero)
        work = row.masking + row.machine + row.labour
        extras = [row.rows.get(name, zero) for name in own]
        shares = [*(getattr(row, kind) for kind in SPENT), row.scrap, row.doubt, row.spoiled, row.begun]
        amounts = [*shares, *extras, other, work]
        ends = [row.each, row.price, row.margin]
        told = [*map(str, amounts), str(row.total), *("" if x is None else str(x) for x in ends)]
        found.append([row.name, str(row.pieces), *told])
    return found


def _yield_cells(rows: Sequence[Yield], by: str) -> Cells:
    head = [by, "loads", "dm2 cut", "sq ft cut", "dm2 parts", "dm2 offcuts", "yield", "paid", "credit"]
    return [
        head,
        *(
            [
                row.name,
                str(row.loads),
                f"{row.leather_mm2 / MM2_PER_DM2:.1f}",
                f"{row.leather_mm2 / MM2_PER_SQ_FT:.1f}",
                f"{row.parts_mm2 / MM2_PER_DM2:.1f}",
                f"{row.offcuts_mm2 / MM2_PER_DM2:.1f}",
                f"{row.of_consumed:.1%}",
                str(row.paid),
                str(row.credited),
            ]
            for row in rows
        ),
    ]


def run_price(folder: Path, name: str, margin: float) -> None:
    """Tell the price to ask."""
    book = Book(folder)
    workshop, products = read_making(folder)
    found = next((one for one in products if one.name.casefold() == name.casefold()), None)
    if found is None:
        raise FileError(folder / "products.toml", "product", name, among([p.name for p in products], name, "products"))
    spent = next((row for row in book.spent(workshop, products) if row.name == found.name and row.pieces), None)
    if spent is None:
        raise FileError(book.path, "product", found.name, "no piece of it is whole yet, so its cost is not known")
    own = (spent.cost - sum(spent.rows.values(), 0 * spent.cost)) / spent.pieces
    fixed = sum(per_piece(workshop, found).values(), 0 * spent.total)
    with option("--margin"):
        price = price_for(own + fixed, margin / 100, book.currency, workshop, found.name)
    fees = per_piece(workshop, found, price)
    say(f"{found.name}: {spent.pieces} cut so far; leather, masking, machine and labour {own:.2f} a piece")
    for what, amount in fees.items():
        say(f"  {what}: {amount}")
    total = own + sum(fees.values(), 0 * price)
    say(f"ask {price} {book.currency}: {(price - total) / price if price else 0:.1%} of it is earned")
    if found.price is not None:
        say(f"it sells for {found.price} now")


def run_short(folder: Path, name: str, output: Path | None) -> None:
    """Tell short measure, and write the note."""
    short, file = shop.write_short_note(folder, name, output)
    more = "less" if short.missing_mm2 >= 0 else "more"
    say(
        f"{name}: bought {units.area_words(short.bought_mm2)}, traced {units.area_words(short.traced_mm2)}: "
        f"{units.area_words(abs(short.missing_mm2))} {more}"
        + ("" if short.worth is None else f", worth {abs(short.worth)} {Book(folder).currency}")
    )
    if file is None:
        say(f"that is within what the trace may be off by, {units.area_words(short.uncertain_mm2)}: no note is written")
    else:
        say(file)
