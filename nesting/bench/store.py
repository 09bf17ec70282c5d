"""One SQLite file beside the job's own files: steps to undo, drafts that cannot be written yet, searches under way."""

from __future__ import annotations

import json
import sqlite3
import threading
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ..errors import FileError
from .limits import DEFAULT

NAME = "bench.db"
VERSION = 1
_TABLES = """
CREATE TABLE step (
    file TEXT NOT NULL, number INTEGER NOT NULL, content BLOB, at TEXT NOT NULL, PRIMARY KEY (file, number)
) STRICT;
CREATE TABLE place (file TEXT PRIMARY KEY, number INTEGER NOT NULL) STRICT;
CREATE TABLE draft (file TEXT PRIMARY KEY, content BLOB NOT NULL, at TEXT NOT NULL) STRICT;
CREATE TABLE search (
    id INTEGER PRIMARY KEY, kind TEXT NOT NULL, asked TEXT NOT NULL, state TEXT NOT NULL, began TEXT NOT NULL,
    layout BLOB, curve TEXT NOT NULL DEFAULT '[]'
) STRICT;
"""
RUNNING = "running"


@dataclass(frozen=True)
class Steps:
    """Where a file stands among its steps: the number it is at, and the number of the last."""

    at: int
    last: int


class Store:
    """The page's own memory; each change is one transaction, and every method may be called from any thread.

    Parameters
    ----------
    path : Path
        Made where it is missing.

    Raises
    ------
    FileError
        When it is damaged, or of a newer version of this program; it is not touched then.
    """

    def __init__(self, path: Path) -> None:
        self._lock = threading.RLock()
        self._db: sqlite3.Connection | None = None
        mend = f"put it aside and start again: undo begins anew, all other files of {path.parent} are as they are"
        try:
            self._db = sqlite3.connect(path, timeout=1.0, check_same_thread=False, isolation_level=None)
            # one page a folder: another would take this one's searches for broken off
            self._db.execute("PRAGMA locking_mode = EXCLUSIVE")
            version = int(self._db.execute("PRAGMA user_version").fetchone()[0])
            if version > VERSION:
                raise FileError(path, "version", version, "it is of a newer nesting: install that one")
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            if version == 0:
                with self._changed() as db:
                    for statement in _TABLES.split(";"):
                        db.execute(statement)
                    db.execute(f"PRAGMA user_version = {VERSION}")
            elif self._db.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                raise FileError(path, "file", "damaged", mend)
            with self._changed():
                pass
        except sqlite3.DatabaseError as error:
            self.close()
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                mend = "another page is open over this folder: go on there, or close it first"
            raise FileError(path, "file", error, mend) from None
        except FileError:
            self.close()
            raise

    def close(self) -> None:
        """Close the file."""
        if self._db is not None:
            self._db.close()

    @contextmanager
    def _changed(self) -> Iterator[sqlite3.Connection]:
        assert self._db is not None
        with self._lock:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
            except BaseException:
                self._db.execute("ROLLBACK")
                raise
            self._db.execute("COMMIT")

    def _rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        assert self._db is not None
        with self._lock:
            return self._db.execute(statement, values).fetchall()

    # steps

    def steps(self, file: str) -> Steps | None:
        """Where a file stands; None when nothing was changed yet."""
        rows = self._rows("SELECT number FROM place WHERE file = ?", file)
        if not rows:
            return None
        last = self._rows("SELECT max(number) FROM step WHERE file = ?", file)[0][0]
        return Steps(int(rows[0][0]), int(last))

    def step(self, file: str, number: int) -> bytes | None:
        """What a file held at a step; None where it was not there."""
        rows = self._rows("SELECT content FROM step WHERE file = ? AND number = ?", file, number)
        return None if not rows or rows[0][0] is None else zlib.decompress(rows[0][0])

    def add_step(self, file: str, before: bytes | None, content: bytes | None) -> None:
        """A file changes: what could be done again is forgotten, what it held before stands before it."""
        with self._changed() as db:
            stands = self.steps(file)
            number = -1 if stands is None else stands.at
            db.execute("DELETE FROM step WHERE file = ? AND number > ?", (file, number))
            # another program may have changed it since
            if stands is None or self.step(file, number) != before:
                number += 1
                self._put(db, file, number, before)
            if content != before:
                number += 1
                self._put(db, file, number, content)
            db.execute("INSERT OR REPLACE INTO place VALUES (?, ?)", (file, number))
            db.execute("DELETE FROM step WHERE file = ? AND number <= ?", (file, number - DEFAULT.most_steps))
            db.execute("DELETE FROM draft WHERE file = ?", (file,))

    def amend(self, file: str, before: bytes, content: bytes) -> None:
        """What a file holds at its step was completed, as by figures worked out since: no step of its own."""
        with self._changed() as db:
            stands = self.steps(file)
            if stands is not None and self.step(file, stands.at) == before:
                db.execute("DELETE FROM step WHERE file = ? AND number = ?", (file, stands.at))
                self._put(db, file, stands.at, content)

    def _put(self, db: sqlite3.Connection, file: str, number: int, content: bytes | None) -> None:
        packed = None if content is None else zlib.compress(content, 1)
        db.execute("INSERT INTO step VALUES (?, ?, ?, ?)", (file, number, packed, _now()))

    def go(self, file: str, number: int) -> None:
        """A file stands at another of its steps now."""
        with self._changed() as db:
            db.execute("INSERT OR REPLACE INTO place VALUES (?, ?)", (file, number))
            db.execute("DELETE FROM draft WHERE file = ?", (file,))

    # drafts

    def draft(self, file: str) -> bytes | None:
        """What somebody made of a file that cannot be written yet."""
        rows = self._rows("SELECT content FROM draft WHERE file = ?", file)
        return zlib.decompress(rows[0][0]) if rows else None

    def keep_draft(self, file: str, content: bytes | None) -> None:
        """Keep what cannot be written yet, or forget it."""
        with self._changed() as db:
            if content is None:
                db.execute("DELETE FROM draft WHERE file = ?", (file,))
            else:
                db.execute("INSERT OR REPLACE INTO draft VALUES (?, ?, ?)", (file, zlib.compress(content), _now()))

    # searches

    def begin_search(self, kind: str, asked: object) -> int:
        """Remember a search that begins; gives its number."""
        with self._changed() as db:
            done = db.execute(
                "INSERT INTO search (kind, asked, state, began) VALUES (?, ?, ?, ?)",
                (kind, json.dumps(asked), RUNNING, _now()),
            )
            return int(done.lastrowid or 0)

    def keep_search(self, number: int, *, layout: bytes | None = None, curve: object = None) -> None:
        """Keep the best layout of a search so far, or its curve."""
        with self._changed() as db:
            if layout is not None:
                db.execute("UPDATE search SET layout = ? WHERE id = ?", (zlib.compress(layout, 1), number))
            if curve is not None:
                db.execute("UPDATE search SET curve = ? WHERE id = ?", (json.dumps(curve), number))

    def end_search(self, number: int, state: str) -> None:
        """A search is over; its layout is in the folder's own files, if it came to one."""
        with self._changed() as db:
            db.execute("UPDATE search SET state = ?, layout = NULL WHERE id = ?", (state, number))

    def broken_off(self) -> list[tuple[int, str, bytes | None]]:
        """Searches that were under way when their program ended: number, kind, and the best layout each had."""
        rows = self._rows("SELECT id, kind, layout FROM search WHERE state = ? ORDER BY id", RUNNING)
        return [(number, kind, None if packed is None else zlib.decompress(packed)) for number, kind, packed in rows]

    def last_curve(self) -> list[Any]:
        """The curve of the plan searched last."""
        rows = self._rows("SELECT curve FROM search WHERE kind = 'plan' ORDER BY id DESC LIMIT 1")
        return list(json.loads(rows[0][0])) if rows else []


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
