"""Taking everything out of a book as plain files, and reading it into an empty one."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import func, insert, select, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from ..atomic import write_text, written_anew
from ..errors import FileError
from ..files.source import printable, read_text
from .limits import DEFAULT
from .store import Store, Work
from .tables import TABLES, Day, Row, Step

LISTS = "book"
"""Folder of the lists among the plain files."""
PLAIN = ("workshop.toml", "products.toml", "orders.csv", "patterns", "hides", "out/layout.json")
"""What else is taken along of a job folder."""


def export(store: Store, to: Path) -> Path:
    """Write all of a book as lists (CSV) beside copies of the plain files of its job folder, all of it or nothing.

    Raises
    ------
    FileError
        When there is something in the folder already.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise FileError(to, "folder", "not empty", "give a new folder")
    with store.reading() as session, written_anew(to, ()) as new:
        for name in PLAIN:
            source = store.folder / name
            if source.is_dir():
                shutil.copytree(source, new.path / name)
            elif source.exists():
                (new.path / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(source, new.path / name)
        for table, row in TABLES.items():
            write_text(new.path / LISTS / f"{table}.csv", _list(session, row))
        write_text(new.path / LISTS / "steps.csv", _list(session, Step))
    return to


ADDED = ("doubt_mm2",)
"""Columns that lists of older versions lack; they have a default."""


def _list(session: Session, row: type[Row]) -> str:
    columns = row.__table__.columns
    stream = io.StringIO()
    lines = csv.writer(stream, lineterminator="\n")
    lines.writerow([column.name for column in columns])
    for values in session.execute(select(*columns).order_by(columns["id"])):
        lines.writerow(["" if value is None else value for value in values])
    return stream.getvalue()


def read_in(work: Work, source: Path) -> None:
    """Fill an empty book with what was taken out of another.

    Raises
    ------
    FileError
        When the book is not empty, or a list is not as it was written.
    """
    session = work.session
    for row in TABLES.values():
        if session.scalar(select(func.count()).select_from(row)):
            raise FileError(work.store.path, row.__tablename__, "not empty", "read into a book that was just begun")
    session.execute(text("PRAGMA defer_foreign_keys = ON"))
    for table, row in TABLES.items():
        file = source / LISTS / f"{table}.csv"
        values = _rows(file, row)
        try:
            if values:
                session.execute(insert(row), values)
        except IntegrityError as error:
            raise FileError(file, "rows", error.orig, "take the list as it was written") from None
    session.flush()
    found = session.execute(text("PRAGMA foreign_key_check")).first()
    if found is not None:
        file = source / LISTS / f"{found[0]}.csv"
        raise FileError(file, f"id {found[1]}", f"names a row of {found[2]} that is not there", "take all lists along")


def _rows(file: Path, row: type[Row]) -> list[dict[str, Any]]:
    columns = list(row.__table__.columns)
    lines = csv.reader(io.StringIO(read_text(file, DEFAULT.most_list_bytes), newline=""), strict=True)
    found: list[dict[str, Any]] = []
    number = 1
    try:
        head = next(lines, [])
        if head == [column.name for column in columns if column.name not in ADDED]:
            columns = [column for column in columns if column.name not in ADDED]
        if head != [column.name for column in columns]:
            mend = f"make the first row {','.join(column.name for column in columns)}"
            raise FileError(file, "row 1", printable(",".join(head)) or "empty", mend)
        for number, cells in enumerate(lines, start=2):
            if len(cells) != len(columns):
                raise FileError(file, f"row {number}", f"{len(cells)} cells", f"give {len(columns)}")
            found.append(_values(file, number, columns, cells))
    except csv.Error as error:
        raise FileError(file, f"row {number + 1}", error, "take the list as it was written") from None
    return found


def _values(file: Path, number: int, columns: Sequence[Any], cells: Sequence[str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for column, cell in zip(columns, cells, strict=True):
        try:
            if cell == "" and column.nullable:
                values[column.name] = None
            elif isinstance(column.type, Day):
                values[column.name] = column.type.process_result_value(cell, None)
            else:
                values[column.name] = column.type.python_type(cell)
        except ValueError:
            place = f"row {number} > {column.name}"
            raise FileError(file, place, printable(cell), "take the list as it was written") from None
    return values
