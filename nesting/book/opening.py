"""Opening a stock book: begun, brought up to date with a copy of the older one kept, or refused and not touched."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, NullPool, create_engine, event
from sqlalchemy.exc import DatabaseError

from ..errors import FileError
from .limits import DEFAULT
from .tables import TABLES
from .versions import APPLICATION, TRACKED, VERSIONS, noting

NAME = "stock-book.sqlite"
"""Of the book, in the job's folder."""
_MAGIC = b"SQLite format 3\0"
_DAMAGED = (
    "the book is damaged and was not touched: put a copy of it in its place, or move it away and read the last export "
    "of it into a new one (nesting book read)"
)


def begin(path: Path, facts: Mapping[str, str]) -> None:
    """Make an empty book where there is none, with facts that all of it agrees on.

    Raises
    ------
    FileError
        When there is a file already, or none can be made.
    """
    if path.exists():
        raise FileError(path, "file", "there already", "go on with it, or move it away to begin anew")
    with _told(path):
        # made beside its place and linked into it, so that nobody ever sees half a book
        made = path.with_name(f".{path.name}.{os.getpid()}.new")
        made.unlink(missing_ok=True)
        try:
            with contextlib.closing(_plain(made)) as book:
                book.execute("PRAGMA journal_mode = WAL")
                _bring_up(book, 0)
                book.executemany("INSERT INTO facts VALUES (?, ?)", facts.items())
                book.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            os.link(made, path)
        except FileExistsError:
            raise FileError(path, "file", "there already", "another program has just begun it: go on with it") from None
        finally:
            for end in ("", "-wal", "-shm"):
                Path(f"{made}{end}").unlink(missing_ok=True)


def open_book(path: Path) -> Engine:
    """The engine of a book that is sound and of this version; an older one is brought up to date first.

    Raises
    ------
    FileError
        When there is none, it is damaged, of a newer version, or no stock book: it is not touched then.
    """
    version = _version(path)
    with _told(path), contextlib.closing(_plain(path, "?mode=ro")) as book:
        # of a large book what is kept for going back is left out: most of it, and read only when a step is taken back
        small = path.stat().st_size <= DEFAULT.wholly_checked_bytes
        for what in ("1",) if small else [f"'{table}'" for table in (*TABLES, "steps", "facts")]:
            if (found := book.execute(f"PRAGMA quick_check({what})").fetchone()[0]) != "ok":
                raise FileError(path, "file", found, _DAMAGED)
    if version < len(VERSIONS):
        _modernise(path)
    return _engine(path)


def _version(path: Path) -> int:
    """The version of a book, read from its header without opening it."""
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except FileNotFoundError:
        mend = "there is no stock book here: begin one with nesting book begin"
        raise FileError(path, "file", "not found", mend) from None
    except OSError as error:
        raise FileError(path, "file", error.strerror or error, "check that you may read it") from None
    if len(head) < 100 or not head.startswith(_MAGIC):
        raise FileError(path, "file", "not a stock book" if head else "empty", _DAMAGED)
    version, application = (int.from_bytes(head[at : at + 4], "big") for at in (60, 68))
    if application != APPLICATION:
        raise FileError(path, "file", "a database of another program", f"move it away: a stock book is called {NAME}")
    if version > len(VERSIONS):
        mend = f"a newer program wrote it (this one knows up to {len(VERSIONS)}): update this one; it was not touched"
        raise FileError(path, "version", version, mend)
    return version


def _modernise(path: Path) -> None:
    """Bring an older book up to date, and keep it as it was beside it."""
    with _told(path), contextlib.closing(_plain(path)) as book:
        book.execute("BEGIN IMMEDIATE")
        version = int(book.execute("PRAGMA user_version").fetchone()[0])
        if version < len(VERSIONS):
            kept = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
            number = 2
            while kept.exists():
                kept = path.with_name(f"{path.stem}.version-{version}-{number}{path.suffix}")
                number += 1
            with contextlib.closing(sqlite3.connect(path)) as older, contextlib.closing(sqlite3.connect(kept)) as copy:
                older.backup(copy)
            _bring_up(book, version, begun=True)
        else:
            book.execute("ROLLBACK")


def _bring_up(book: sqlite3.Connection, version: int, begun: bool = False) -> None:
    if not begun:
        book.execute("BEGIN IMMEDIATE")
    for statements in VERSIONS[version:]:
        for statement in statements:
            book.execute(statement)
    for table in TRACKED:
        for statement in noting(table, [column.name for column in TABLES[table].__table__.columns]):
            book.execute(statement)
    book.execute(f"PRAGMA application_id = {APPLICATION}")
    book.execute(f"PRAGMA user_version = {len(VERSIONS)}")
    book.execute("COMMIT")
    # the header of the file itself is what tells the version
    book.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _plain(path: Path, how: str = "") -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}{how}", uri=True, isolation_level=None, timeout=DEFAULT.busy_s)


def _engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path.resolve()}", poolclass=NullPool, connect_args={"timeout": DEFAULT.busy_s})

    @event.listens_for(engine, "connect")
    def _connected(book: Any, _: object) -> None:
        # Python's own way of beginning transactions is left out: steps take the lock when they begin
        book.isolation_level = None
        for pragma in ("foreign_keys = ON", "synchronous = FULL"):
            book.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begun(book: Connection) -> None:
        book.exec_driver_sql("BEGIN IMMEDIATE" if book.get_execution_options().get("writes") else "BEGIN")

    return engine


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    """Tell what SQLite and the disk refuse in the words of a file's fault."""
    try:
        yield
    except (sqlite3.Error, DatabaseError) as error:
        raise refusal(path, error) from None
    except OSError as error:
        raise FileError(path, "file", error.strerror or error, "check that you may write into its folder") from None


def refusal(path: Path, error: Exception) -> FileError:
    """What to tell of a fault of the database."""
    cause = getattr(error, "orig", None) or error
    code = getattr(cause, "sqlite_errorcode", 0) & 0xFF
    mends = {
        sqlite3.SQLITE_BUSY: "another program is at work on the book: wait for it and run again; nothing was changed",
        sqlite3.SQLITE_FULL: "free some room on the disk and run again; nothing was changed",
        sqlite3.SQLITE_READONLY: "the book can only be read: check that you may write it and its folder",
        sqlite3.SQLITE_CANTOPEN: "check that you may write into its folder",
        sqlite3.SQLITE_IOERR: "the disk refused: check it and run again; nothing was changed",
        sqlite3.SQLITE_CORRUPT: _DAMAGED,
        sqlite3.SQLITE_NOTADB: _DAMAGED,
    }
    return FileError(path, "book", cause, mends.get(code, "nothing was changed; please report this with the book"))
