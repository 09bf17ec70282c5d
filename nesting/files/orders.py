"""orders.csv: the week's orders."""

from __future__ import annotations

import csv
import io
import re
from calendar import month_name, monthrange
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from itertools import islice
from pathlib import Path

from ..errors import Faults, FileError
from ..model import OrderLine, units
from .limits import DEFAULT
from .schema import among, at, tidy
from .source import printable, read_text

HEADER = ("order", "product", "quantity", "due", "priority", "thread", "note")
"""Columns as they are written, in the order in which the model has them."""
NEEDED = HEADER[:3]
"""Columns without which there is no order; any other may be left out, as if its cells were empty."""
ASKING = ("leather", "colour", "finish", "tannage")
"""Columns that may stand beside them."""
HEADINGS = {
    "order": ("order no", "order number", "job", "auftrag", "auftragsnummer", "auftragsnr", "auftrag nr", "bestellung"),
    "product": ("item", "article", "produkt", "artikel"),
    "quantity": ("qty", "pieces", "pcs", "count", "amount", "stück", "stückzahl", "anzahl", "menge"),
    "due": ("due date", "due by", "need by", "needed by", "deadline", "fällig", "fällig am", "termin", "liefertermin"),
    "priority": ("rank", "urgency", "priorität", "rang", "dringlichkeit"),
    "thread": ("garn", "faden", "zwirn"),
    "note": (
        *("notes", "remark", "remarks", "comment", "comments", "bemerkung", "bemerkungen", "notiz", "notizen"),
        *("anmerkung", "anmerkungen", "kommentar", "kommentare", "hinweis", "hinweise"),
    ),
    "leather": ("leder",),
    "colour": ("color", "farbe"),
    "finish": ("zurichtung",),
    "tannage": ("gerbung",),
}
"""What other lists call the columns, as `plain_name` has it, in English and German."""
MONTHS = (
    *(("january", "januar"), ("february", "februar"), ("march", "märz", "maerz", "mrz"), ("april",), ("may", "mai")),
    *(("june", "juni"), ("july", "juli"), ("august",), ("september",), ("october", "oktober"), ("november",)),
    ("december", "dezember"),
)
MOST_UNKNOWN = 10
"""Columns not known that are told by name."""
LOOKED_AT = 100
"""Rows looked at for names of products."""
LONGEST = dict.fromkeys((*HEADER, *ASKING), DEFAULT.name_letters) | {"note": DEFAULT.text_letters}


def read_orders(path: Path, products: Collection[str] | None) -> tuple[OrderLine, ...]:
    """Read orders.csv, its columns in any order, with commas or, as some spreadsheets save it, semicolons.

    Parameters
    ----------
    path : Path
    products : collection of str, or None
        Names of what may be ordered; None where they are not known, so that any name is taken.

    Returns
    -------
    tuple of OrderLine
        In the order of the file. An empty priority is 3; an empty leather, colour, finish or tannage is any.

    Raises
    ------
    FileError
        For every fault; rows are numbered as a spreadsheet does, the header being row 1.
    """
    return orders_from_text(read_text(path), path, products)


def orders_from_text(
    text: str, path: str | Path, products: Collection[str] | None, told: list[str] | None = None
) -> tuple[OrderLine, ...]:
    """The order lines in text as orders.csv has it, or as it is pasted from a spreadsheet, with tabs.

    Parameters
    ----------
    text : str
    path : str or Path
        What it is called in faults.
    products : collection of str, or None
        As for `read_orders`.
    told : list of str, optional
        Of a list by other hands: columns may have the names of `HEADINGS`, names of products may differ in case,
        hyphens and spaces, and what was taken so is added here.

    Raises
    ------
    FileError
        For every fault, told of ``path``.
    """
    lines: list[OrderLine] = []
    seen: dict[tuple[str, str], tuple[int, OrderLine]] = {}
    faults = Faults()
    for number, cells in _rows(text, path, faults, products or (), told is not None):
        with faults.gathered():
            if told is not None and (name := product_like(cells["product"], products or ())):
                words = f"{printable(cells['product'])} is taken as {printable(name)}"
                if name != cells["product"] and words not in told:
                    told.append(words)
                cells["product"] = name
            line = _line(path, f"row {number}", cells, products)
            row, first = seen.setdefault((line.order, line.product), (number, line))
            if row != number:
                mend = f"row {row} orders the same: put both quantities in one row"
                if any(getattr(line, name).casefold() != getattr(first, name).casefold() for name in ASKING):
                    mend = (
                        f"row {row} orders it of other leather: name one of the two otherwise, such as {line.order}-2"
                    )
                raise FileError(path, f"row {number}", f"{line.order}, {line.product}", mend)
            lines.append(line)
    faults.tell()
    return tuple(lines)


def plain_name(text: str) -> str:
    """A name in small letters, with one space for whatever parts its words."""
    return re.sub(r"[\s_.:-]+", " ", text.casefold()).strip()


def product_like(text: str, products: Collection[str]) -> str | None:
    """The product of this name, or the only one that differs in no more than case, hyphens and spaces."""
    if text in products:
        return text
    alike = [name for name in products if plain_name(name) == plain_name(text)]
    return alike[0] if len(alike) == 1 else None


def day_of(text: str) -> date | None:
    """The day in a text that leaves no doubt which it is: ``2026-12-11``, ``11.12.2026``, or with the month's name or
    its beginning in English or German (``11 Dec 2026``, ``December 11th, 2026``, ``9. Dez. 2026``); None in others."""
    text = text.strip().casefold()
    if found := re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text):
        year, month, day = map(int, found.groups())
    elif found := re.fullmatch(r"([0-9]{1,2})\.\s?([0-9]{1,2})\.\s?([0-9]{4})", text):
        day, month, year = map(int, found.groups())
    elif found := (
        re.fullmatch(
            r"(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?[\s.-]*(?P<month>[a-zä]{3,9})[\s.,-]*(?P<year>[0-9]{4})", text
        )
        or re.fullmatch(
            r"(?P<month>[a-zä]{3,9})[\s.-]*(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?[\s.,]+(?P<year>[0-9]{4})", text
        )
    ):
        day, year = int(found["day"]), int(found["year"])
        named = [n for n, names in enumerate(MONTHS, 1) if any(name.startswith(found["month"]) for name in names)]
        month = named[0] if len(named) == 1 else 0
    else:
        return None
    try:
        return date(year, month, day)
    except ValueError:
        return None


def orders_text(rows: Sequence[Mapping[str, str]]) -> str:
    """The text of an orders.csv with these rows, by column; columns beyond the usual ones only where a row has
    something there. Cells are as they are: `read_orders` says what is wrong with them."""
    columns = [*HEADER, *(name for name in ASKING if any(row.get(name, "").strip() for row in rows))]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([row.get(name, "") for name in columns] for row in rows)
    return out.getvalue()


def orders_rows(path: Path) -> list[dict[str, str]]:
    """The cells of orders.csv by column, whatever is wrong with what stands in them.

    Raises
    ------
    FileError
        When it is no table with these columns.
    """
    faults = Faults()
    rows = _rows(read_text(path), path, faults)
    faults.tell()
    return [cells for _, cells in rows]


def _rows(
    text: str, path: str | Path, faults: Faults, products: Collection[str] = (), by_other_hands: bool = False
) -> list[tuple[int, dict[str, str]]]:
    head = re.split("[\r\n]", text, maxsplit=1)[0]
    separator = next((mark for mark in "\t;" if mark in head), ",")
    rows: list[tuple[int, dict[str, str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    columns: list[str] = []
    number = 0
    try:
        for number, row in enumerate(reader, start=1):
            cells = [cell.strip() for cell in row]
            if number == 1:
                if by_other_hands:
                    cells = [_column(cell) or cell for cell in cells]
                _check_header(path, cells, islice(reader, LOOKED_AT), products)
                columns = cells
            elif any(cells):
                if len(cells) == len(columns):
                    rows.append((number, dict.fromkeys(HEADER, "") | dict(zip(columns, cells, strict=True))))
                    continue
                mend = f"give {len(columns)} ({', '.join(columns)}); put a note that holds a {separator} in quotes"
                faults.found.append(FileError(path, f"row {number}", f"{len(cells)} cells", mend))
    except csv.Error as error:
        raise FileError(path, f"row {number + 1}", error, "close every quote and keep each note short") from None
    if number == 0:
        _check_header(path, [])
    return rows


def _column(heading: str) -> str | None:
    """The column that a heading means."""
    plain = plain_name(heading)
    return next((name for name, others in HEADINGS.items() if plain == name or plain in others), None)


def _check_header(
    path: str | Path, cells: list[str], below: Iterable[list[str]] = (), products: Collection[str] = ()
) -> None:
    shown = {name: printable(name[:60]) or "a column without a name" for name in cells}
    faults = [
        *[f"{shown[name]} is unknown" for name in dict.fromkeys(cells) if name not in LONGEST][:MOST_UNKNOWN],
        *(f"{name} is missing" for name in NEEDED if name not in cells),
        *(f"{shown[name]} stands there {count} times" for name, count in Counter(cells).items() if count > 1),
    ]
    if len(cells) >= len(NEEDED) and not any(name in LONGEST for name in cells) and any(map(str.isdigit, cells)):
        mend = f"the heading row is missing: put {','.join(HEADER)} above, as many of them as there are columns"
        raise FileError(path, "row 1", printable(",".join(cells)), mend)
    if faults:
        value = printable(",".join(cells)) or "empty"
        mend = f"make the first row {','.join(HEADER)}, in any order, with {','.join(ASKING)} where you need them"
        mend = f"{mend}: {', '.join(faults)}"
        if "product" not in cells and (name := _holding(cells, below, products)):
            mend = f"{shown[name]} holds names of products: call that column product; {mend}"
        raise FileError(path, "row 1", value, mend)


def _holding(cells: list[str], below: Iterable[list[str]], products: Collection[str]) -> str | None:
    """The column of no known name that holds names of products; None where there is none."""
    unknown = {column: name for column, name in enumerate(cells) if name and name not in LONGEST}
    held = Counter(unknown.get(column) for row in below for column, cell in enumerate(row) if cell.strip() in products)
    return next((name for name, _ in held.most_common() if name is not None), None)


def _line(path: str | Path, place: str, cells: dict[str, str], products: Collection[str] | None) -> OrderLine:
    faults = Faults()
    for key, cell in cells.items():
        cells[key] = printable(cell)
        with faults.gathered():
            cells[key] = _cell(path, f"{place} > {key}", key, cell)
    quantity = priority = 1
    due: date | None = None
    with faults.gathered():
        if products is not None and cells["product"] and cells["product"] not in products:
            raise FileError(path, f"{place} > product", cells["product"], among(products, cells["product"], "products"))
    with faults.gathered():
        quantity = _whole(path, f"{place} > quantity", cells["quantity"])
    with faults.gathered():
        priority = _whole(path, f"{place} > priority", cells["priority"] or "3")
    with faults.gathered():
        due = _date(path, f"{place} > due", cells["due"]) if cells["due"] else None
    faults.tell()
    with at(path, place):
        return OrderLine(
            cells["order"],
            cells["product"],
            quantity,
            due,
            priority,
            cells["thread"],
            cells["note"],
            **{name: cells.get(name, "") for name in ASKING},
        )


def _cell(path: str | Path, place: str, key: str, cell: str) -> str:
    try:
        cell = tidy(cell)
    except ValueError as error:
        raise FileError(path, place, printable(cell), str(error)) from None
    if key in ("order", "product") and not cell:
        raise FileError(path, place, "empty", f"give the {key}")
    if len(cell) > LONGEST[key]:
        raise FileError(path, place, cell, f"give at most {LONGEST[key]} letters")
    if key == "tannage":
        with at(path, place.removesuffix(" > tannage")):
            return units.tannage(cell)
    return cell


def _whole(path: str | Path, place: str, text: str) -> int:
    if not re.fullmatch(r"-?[0-9]{1,9}", text):
        raise FileError(path, place, text or "empty", "give a whole number")
    return int(text)


def _date(path: str | Path, place: str, text: str) -> date:
    if (day := day_of(text)) is not None:
        return day
    mend = "give a day as year-month-day, such as 2025-03-14"
    if found := re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text):
        year, month, _ = map(int, found.groups())
        if year and not 1 <= month <= 12:
            mend = f"there is no month {month:02d}: {mend}"
        elif year:
            days = monthrange(year, month)[1]
            mend = f"{month_name[month]} {year} has {days} days: give one from 01 to {days}"
    raise FileError(path, place, text or "empty", mend)
