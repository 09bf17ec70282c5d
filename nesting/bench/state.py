"""What every part of the page needs: the folder, its memory, work under way; and the layout at hand, read once."""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import json
import secrets
import threading
import time
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from fastapi import HTTPException

from ..book.book import Book
from ..book.opening import NAME as BOOK
from ..errors import FileError
from ..files.hides import read_hide
from ..files.job import read_making
from ..files.layout import Stated, read_stated
from ..files.workshop import read_workshop
from ..model import Hide, Layout, Product, Workshop
from . import shapes
from .desk import Desk, whole_job
from .limits import DEFAULT
from .work import Hub, Works

Stamp = tuple[tuple[str, int, int], ...]
Read = TypeVar("Read")


@dataclass
class Live:
    """A search under way: its number in the store, its best layout so far, that as it is drawn, and its curve."""

    number: int
    layout: bytes | None = None
    view: bytes | None = None
    curve: list[dict[str, Any]] = field(default_factory=list)
    version: int = 0


@dataclass(eq=False)
class Bench:
    """One job folder on the page."""

    folder: Path
    desk: Desk
    hub: Hub
    works: Works
    live: Live | None = None
    taking_up: bool = False
    notes: list[dict[str, str]] = field(default_factory=list)
    compared: bytes | None = None
    could: dict[str, Any] | None = None
    burn_notes: dict[str | None, list[str]] = field(default_factory=dict)
    today: tuple[Stamp, str | None] = ((), None)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _locks: dict[Hashable, threading.Lock] = field(default_factory=dict)
    _known: dict[Hashable, tuple[Stamp, Any]] = field(default_factory=dict)
    _said: dict[bytes, Stated] = field(default_factory=dict)
    _over: threading.Event = field(default_factory=threading.Event)

    def layout(self) -> tuple[Layout, dict[str, Any]]:
        """The layout at hand and its figures, where they are worked out; errors as by `stated`."""
        stated = self.stated()
        return stated.layout, stated.figures

    def stated(self) -> Stated:
        """All that the file of the layout at hand says.

        Raises
        ------
        HTTPException
            404 where there is none.
        FileError
            When it cannot be read.
        """
        if not self.planned():
            raise HTTPException(404, "nothing is planned yet")
        return self.once("layout", (self.desk.layout,), self._read_stated)

    def planned(self) -> bool:
        """Whether there is a layout at hand; where ``out`` cannot be replaced in one step it is away for a blink."""
        end = time.monotonic() + DEFAULT.blink_s
        while not self.desk.layout.is_file() and time.monotonic() < end:
            if not (self.works.running("draw") or self.works.running("export")):
                break
            time.sleep(0.01)
        return self.desk.layout.is_file()

    def _read_stated(self) -> Stated:
        """Read the file of the layout at hand, unless it is back at what it held a few steps ago."""
        holds = _sha256(self.desk.layout)
        found = self._said.get(holds)
        if found is None:
            found = read_stated(self.desk.layout)
            self._keep_said(holds, found)
        return found

    def written(self, stated: Stated) -> None:
        """Take what the file of the layout at hand says since it was written here."""
        self._keep_said(_sha256(self.desk.layout), stated)
        with self._lock:
            self._known["layout"] = _stamp((self.desk.layout,)), stated

    def _keep_said(self, holds: bytes, stated: Stated) -> None:
        with self._lock:
            # a copy, so that whoever reads it meanwhile finds what it had
            kept = list(self._said.items())[-DEFAULT.layouts_kept :]
            self._said = dict(kept) | {holds: stated}

    def view(self) -> bytes:
        """The layout at hand as it is drawn, JSON; errors as by `layout`."""
        if not self.planned():
            raise HTTPException(404, "nothing is planned yet")
        return self.once("view", (self.desk.layout,), lambda: json.dumps(shapes.of_layout(*self.layout())).encode())

    def drawn(self, view: bytes) -> None:
        """Take what the process that wrote the layout at hand made of it as its view."""
        with self._lock:
            self._known["view"] = _stamp((self.desk.layout,)), view

    def faults(self) -> list[str]:
        """All that is wrong in the folder, in words."""
        return self.once("faults", self.files(), lambda: whole_job(self.folder))

    def faults_known(self) -> tuple[list[str], bool]:
        """The same as last read, without waiting; and whether the folder is still as it was then."""
        with self._lock:
            stamp, found = self._known.get("faults", (None, []))
        return found, stamp == _stamp(self.files())

    def stamp(self) -> Stamp:
        """By what a change of the layout at hand, or of what it is planned from, shows."""
        return _stamp((*self.files(), self.desk.layout))

    def files(self) -> list[Path]:
        """The files that a job is read from."""
        return [*self.making_files(), self.folder / "orders.csv", *self.desk.hides().values()]

    def book_files(self) -> list[Path]:
        """The files by which a change of the stock book shows."""
        return [self.folder / BOOK, self.folder / f"{BOOK}-wal"]

    def keep_up(self) -> None:
        """Until `leave`, read what was changed before a page asks for it, and tell of faults come or gone."""
        seen: Stamp | None = None
        while True:
            now = self.stamp()
            if now != seen:
                before, _ = self.faults_known()
                if self.faults() != before:
                    self.hub.tell("changed", {"what": "faults"})
                with contextlib.suppress(FileError, HTTPException):
                    self.view()
            if seen is None and Book.there(self.folder):
                # labels are printed with it: it takes half a second to load
                importlib.import_module("reportlab.graphics.barcode.code128")
            seen = now
            if self._over.wait(DEFAULT.look_s):
                return

    def leave(self) -> None:
        """Keep up with the folder no longer."""
        self._over.set()

    def hide(self, name: str) -> Hide:
        """A hide by the name of its file."""
        path = self.desk.hides().get(name)
        if path is None:
            raise HTTPException(404, "there is no such hide")
        return self.once(path, (path,), lambda: read_hide(path))

    def workshop(self) -> Workshop | None:
        """The workshop; None where its file cannot be read."""
        path = self.folder / "workshop.toml"
        try:
            return self.once(path, (path,), lambda: read_workshop(path))
        except FileError:
            return None

    def making(self) -> tuple[Workshop, tuple[Product, ...]]:
        """The workshop and what it makes, read again only after a file of it was changed.

        Raises
        ------
        FileError
            For all that is wrong with them.
        """
        return self.once("making", self.making_files(), lambda: read_making(self.folder))

    def making_files(self) -> list[Path]:
        """The files that `making` is read from."""
        tables = [self.folder / name for name in ("workshop.toml", "products.toml")]
        return [*tables, *self.desk.patterns().values()]

    def idle(self) -> None:
        """Refuse what would change a layout that a search is about to replace."""
        if self.taking_up:
            raise HTTPException(409, "the search that was broken off is being taken up: try again in a moment")
        if self.works.running("plan"):
            raise HTTPException(409, "a search is under way: stop it first, its best layout is kept")

    def step(self, file: Path, by: int) -> None:
        """Take a file a step back (below 0) or on; refused where there is none."""
        if not self.desk.step_to(file, by):
            raise HTTPException(409, "there is nothing more to undo" if by < 0 else "there is nothing to do again")

    def stop(self, kind: str) -> dict[str, Any]:
        """End the work of a kind that is under way with the best it has; refused where there is none."""
        task = self.works.running(kind)
        if task is None:
            raise HTTPException(409, "nothing of the kind is under way")
        self.works.stop(task)
        return task.words()

    def once(self, key: Hashable, files: Sequence[Path], read: Callable[[], Read]) -> Read:
        """What ``read`` makes of some files, made again only after one of them was changed; by one thread at a time."""
        with self._lock:
            lock = self._locks.setdefault(key, threading.Lock())
        with lock:
            stamp = _stamp(files)
            with self._lock:
                known = self._known.get(key)
            if known is None or known[0] != stamp:
                known = stamp, read()
                with self._lock:
                    self._known[key] = known
            found: Read = known[1]
            return found


def _sha256(path: Path) -> bytes:
    """What tells the content of a file from any other; of one that is away just now, nothing does."""
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return secrets.token_bytes()


def _stamp(files: Sequence[Path]) -> Stamp:
    """By what a change of some files shows."""
    found = []
    for path in files:
        with contextlib.suppress(OSError):
            at = path.stat()
            found.append((str(path), at.st_mtime_ns, at.st_size))
    return tuple(found)
