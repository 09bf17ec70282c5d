"""What every part of the page needs: the folder, its memory, work under way; and the layout at hand, read once."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fastapi import HTTPException

from ..errors import FileError
from ..files.hides import read_hide
from ..files.job import read_making
from ..files.layout import layout_from_dict
from ..files.source import read_json
from ..files.workshop import read_workshop
from ..model import Hide, Layout, Product, Workshop
from .desk import Desk
from .work import Hub, Works

Stamp = tuple[int, int]


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
    notes: list[str] = field(default_factory=list)
    looked: tuple[Any, list[str]] | None = None
    compared: dict[str, Any] | None = None
    could: dict[str, Any] | None = None
    _made: tuple[Any, tuple[Workshop, tuple[Product, ...]]] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _known: dict[Path, tuple[Stamp, Any]] = field(default_factory=dict)

    def layout(self) -> tuple[Layout, dict[str, Any]]:
        """The layout at hand and its figures, where they are worked out.

        Raises
        ------
        HTTPException
            404 where there is none.
        FileError
            When it cannot be read.
        """

        def read(path: Path) -> tuple[Layout, dict[str, Any]]:
            data = read_json(path)
            figures = data.get("figures") if isinstance(data, dict) else None
            return layout_from_dict(data, path), figures if isinstance(figures, dict) else {}

        if not self.desk.layout.is_file():
            raise HTTPException(404, "nothing is planned yet")
        found: tuple[Layout, dict[str, Any]] = self.once(self.desk.layout, read)
        return found

    def hide(self, name: str) -> Hide:
        """A hide by the name of its file."""
        path = self.desk.hides().get(name)
        if path is None:
            raise HTTPException(404, "there is no such hide")
        found: Hide = self.once(path, read_hide)
        return found

    def workshop(self) -> Workshop | None:
        """The workshop; None where its file cannot be read."""
        try:
            found: Workshop = self.once(self.folder / "workshop.toml", read_workshop)
        except FileError:
            return None
        return found

    def making(self) -> tuple[Workshop, tuple[Product, ...]]:
        """The workshop and what it makes, read again only after a file of it was changed.

        Raises
        ------
        FileError
            For all that is wrong with them.
        """
        files = [self.folder / name for name in ("workshop.toml", "products.toml")]
        files += self.desk.patterns().values()
        stamp = tuple((str(path), path.stat().st_mtime_ns) for path in files if path.is_file())
        if self._made is None or self._made[0] != stamp:
            self._made = stamp, read_making(self.folder)
        return self._made[1]

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

    def once(self, path: Path, read: Any) -> Any:
        try:
            found = path.stat()
            stamp = found.st_mtime_ns, found.st_size
        except OSError:
            stamp = 0, 0
        with self._lock:
            known = self._known.get(path)
        if known is not None and known[0] == stamp:
            return known[1]
        value = read(path)
        with self._lock:
            self._known[path] = stamp, value
        return value
