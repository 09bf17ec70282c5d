"""Steps: each is one transaction with the plain files around it, and the last can be taken back."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

from sqlalchemy import delete, func, select, text, update
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from ..atomic import write_bytes
from ..errors import FileError
from .limits import DEFAULT
from .opening import NAME, open_book, refusal
from .tables import TABLES, Change, Content, Present, Seen, Step, Write

Clock = Callable[[], datetime]
LAYOUT = "out/layout.json"
"""The layout at hand, from the job's folder."""
WORKSHOP = "workshop.toml"
"""The workshop's file there."""
PanelKey = tuple[str, str]
"""Hide and name of a panel."""
PLAN_AGAIN = "that leather is gone: plan again (nesting plan --resume keeps what still holds)"
KEPT = ".before"
"""What is added to the name of a file that somebody changed meanwhile and that is written over."""


def _now() -> datetime:
    return datetime.now(UTC)


class Work:
    """A step under way: what it changes in the book goes through ``session``, plain files through ``write``."""

    def __init__(self, store: Store, session: Session, step: Step) -> None:
        self.store, self.session, self.step = store, session, step
        self.files = 0

    def wrote(self, path: str, before: bytes | None) -> None:
        """Note that a plain file was written already, so that it is put back when the step is taken back."""
        shas = [_keep(self.session, one) for one in (before, read(self.store.place(path)))]
        self.session.add(Write(step=self.step.id, path=path, before=shas[0], after=shas[1], done=1))
        self.files += 1

    @property
    def at(self) -> str:
        """When it is done."""
        return self.step.at

    def write(self, path: str, content: bytes | None) -> None:
        """Write a plain file, by its path from the job's folder, or (None) take it away, once the step is done."""
        before = read(self.store.place(path))
        if before != content:
            shas = [_keep(self.session, one) for one in (before, content)]
            self.session.add(Write(step=self.step.id, path=path, before=shas[0], after=shas[1], done=0))
            self.files += 1


class Store:
    """The book of one job folder.

    Parameters
    ----------
    folder : Path
    now : callable, optional
        Tells the time; that of the machine by default.

    Raises
    ------
    FileError
        When there is no book, or it is damaged or of a newer version.
    """

    def __init__(self, folder: Path, now: Clock = _now) -> None:
        self.folder, self.now = folder, now
        self.path = folder / NAME
        self.engine = open_book(self.path)
        with self.reading() as session:
            waiting = session.scalar(select(func.count()).select_from(Write).where(Write.done == 0))
        if waiting:
            self.settle()

    def place(self, path: str) -> Path:
        """Where a plain file lies that the book names; none outside the job's folder is ever touched."""
        steps = Path(path).parts
        if path == WORKSHOP:
            return self.folder / path
        if not steps or steps[0] not in ("hides", "out") or ".." in steps or not path.endswith(".json"):
            raise FileError(self.path, "writes", path, "no file of a job folder: the book is not sound")
        return self.folder / path

    def stamp(self) -> str:
        """The time, as the book has it."""
        return self.now().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A look at the book as it is at one moment."""
        try:
            with Session(self.engine, expire_on_commit=False) as session:
                yield session
        except DatabaseError as error:
            raise refusal(self.path, error) from None

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        """A transaction that alone may write; what a step before it left to write is written first."""
        with self.reading() as session:
            session.connection(execution_options={"writes": True})
            self._settle(session)
            yield session

    @contextmanager
    def step(self, kind: str, words: str = "") -> Iterator[Work]:
        """Do something, all of it or nothing; one that changes nothing leaves no trace.

        Parameters
        ----------
        kind : str
        words : str
            What was done, for people; may be set later (``work.step.words``).
        """
        with self._writing() as session:
            step = Step(at=self.stamp(), kind=kind, words=words, undone=None)
            session.add(step)
            session.flush()
            session.execute(update(Present).values(step=step.id))
            work = Work(self, session, step)
            yield work
            session.flush()
            changed = session.scalar(select(func.count()).select_from(Change).where(Change.step == step.id))
            session.execute(update(Present).values(step=None))
            if not (changed or work.files):
                session.rollback()
                return
            session.commit()
        if work.files:
            self.settle()

    def last_written(self, session: Session, path: str) -> object:
        """What steps that were not undone wrote last into a plain JSON file; None where none did."""
        sha = session.scalar(
            select(Write.after)
            .join(Step, Write.step == Step.id)
            .where(Write.path == path, Step.undone.is_(None))
            .order_by(Write.id.desc())
            .limit(1)
        )
        content = _content(session, sha)
        return None if content is None else json.loads(content)

    def settle(self) -> None:
        """Write the plain files that steps left to be written, as when a program was killed."""
        with self._writing() as session:
            session.commit()

    def _settle(self, session: Session) -> None:
        for write in session.scalars(select(Write).where(Write.done == 0).order_by(Write.id)):
            target = self.place(write.path)
            content, now = _content(session, write.after), read(target)
            if now != content:
                if now is not None and _sha(now) != write.before:
                    write_bytes(target.with_name(target.name + KEPT), now)
                if content is None:
                    target.unlink(missing_ok=True)
                else:
                    write_bytes(target, content)
            write.done = 1
        session.flush()

    def undo(self) -> Step | None:
        """Take the last step back; None where there is none."""
        with self._writing() as session:
            step = session.scalar(select(Step).where(Step.undone.is_(None)).order_by(Step.id.desc()).limit(1))
            if step is None:
                return None
            session.execute(text("PRAGMA defer_foreign_keys = ON"))
            changes = session.scalars(select(Change).where(Change.step == step.id).order_by(Change.id.desc()))
            for thing, alike in groupby(changes, lambda change: change.thing):
                self._revert(session, thing, list(alike))
            session.execute(delete(Change).where(Change.step == step.id))
            writes = session.scalars(select(Write).where(Write.step == step.id).order_by(Write.id.desc())).all()
            session.add_all(
                Write(step=step.id, path=one.path, before=one.after, after=one.before, done=0) for one in writes
            )
            # files are looked at anew: what was taken in of them may be among what is taken back
            session.execute(delete(Seen))
            step.undone = self.stamp()
            session.commit()
        self.settle()
        return step

    def _revert(self, session: Session, thing: str, changes: list[Change]) -> None:
        if thing not in TABLES:
            raise FileError(self.path, "changes", thing, "no table of a stock book: the book is not sound")
        known = {column.name for column in TABLES[thing].__table__.columns}
        for new, alike in groupby(changes, lambda change: change.was is None):
            rows = list(alike)
            if new:
                session.execute(text(f"DELETE FROM {thing} WHERE id = :row"), [{"row": one.row} for one in rows])
                continue
            for one in rows:
                was = {name: value for name, value in json.loads(one.was or "{}").items() if name in known}
                put = ", ".join(f"{name} = :{name}" for name in was)
                if not session.execute(text(f"UPDATE {thing} SET {put} WHERE id = :id"), was).rowcount:  # type: ignore[attr-defined]
                    values = ", ".join(f":{name}" for name in was)
                    session.execute(text(f"INSERT INTO {thing} ({', '.join(was)}) VALUES ({values})"), was)


def read(path: Path) -> bytes | None:
    """What stands in a file; None where there is none."""
    try:
        with path.open("rb") as stream:
            content = stream.read(DEFAULT.most_content_bytes + 1)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise FileError(path, "file", error.strerror or error, "check that you may read it") from None
    if len(content) > DEFAULT.most_content_bytes:
        raise FileError(path, "file", f"over {DEFAULT.most_content_bytes // 1024**2} MB", "give a smaller file")
    return content


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _keep(session: Session, content: bytes | None) -> str | None:
    if content is None:
        return None
    sha = _sha(content)
    if session.get(Content, sha) is None:
        session.add(Content(sha=sha, data=zlib.compress(content)))
        session.flush()
    return sha


def _content(session: Session, sha: str | None) -> bytes | None:
    if sha is None:
        return None
    kept = session.get(Content, sha)
    if kept is None:
        return None
    unpacked = zlib.decompressobj().decompress(kept.data, DEFAULT.most_content_bytes + 1)
    return unpacked
