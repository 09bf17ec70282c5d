"""The files of a job folder as the page changes them: each change checked before it is written, and each a step that
can be undone."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ..atomic import write_bytes
from ..errors import FileError, FileErrors
from ..files.hides import hide_from_dict
from ..files.job import read_job
from ..files.orders import read_orders
from ..files.products import product_names, read_products
from ..files.source import read_json
from ..files.workshop import read_workshop
from .store import Steps, Store

LAYOUT = "out/layout.json"
TABLES = ("workshop.toml", "products.toml", "orders.csv")
_SAFE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
Check = Callable[[Path], object]


class Desk:
    """The files of one job folder. A request names a thing; only names that are in the folder lead to a file.

    Attributes
    ----------
    lock : RLock
        Held by whoever changes a file of the folder.
    """

    def __init__(self, folder: Path, store: Store) -> None:
        self.folder, self.store, self.lock = folder, store, threading.RLock()

    @property
    def layout(self) -> Path:
        """The layout at hand, there or not."""
        return self.folder / LAYOUT

    def hides(self) -> dict[str, Path]:
        """The files of hides by name, leaving out what somebody put aside."""
        return {path.stem: path for path in sorted(self.folder.glob("hides/*.json")) if _SAFE.fullmatch(path.stem)}

    def patterns(self) -> dict[str, Path]:
        """The drawings by name; the picture to look at that is written beside one is none."""
        found = {path.stem: path for path in sorted(self.folder.glob("patterns/*.svg")) if _SAFE.fullmatch(path.stem)}
        return {name: path for name, path in found.items() if name not in {f"{one}-look" for one in found}}

    def photos(self) -> dict[str, Path]:
        """The photos by name."""
        found = (path for path in sorted(self.folder.glob("photos/*")) if _SAFE.fullmatch(path.name))
        return {path.name: path for path in found if path.suffix.lower() in (".jpg", ".jpeg", ".png", ".webp")}

    def made(self) -> dict[str, Path]:
        """The files of the layout at hand that a person takes away: files to burn, cards, guides, the report."""
        out = self.folder / "out"
        files = [*sorted(out.glob("cut/*")), *sorted(out.glob("*.html")), *sorted(out.glob("*.png"))]
        return {path.name: path for path in files if path.is_file() and _SAFE.fullmatch(path.name)}

    def steps(self, file: Path) -> Steps | None:
        """Where a file stands among its steps."""
        return self.store.steps(self._name(file))

    def change(self, file: Path, content: bytes, check: Check | None = None) -> None:
        """Write a file as somebody changed it.

        Raises
        ------
        FileError
            For all that is wrong with it; the file is as it was then, and what was made of it is kept as a draft.
        """
        name = self._name(file)
        with self.lock:
            try:
                self.proved(file, content, check)
            except FileError:
                self.store.keep_draft(name, content)
                raise
            before = file.read_bytes() if file.is_file() else None
            self.store.add_step(name, before, content)
            write_bytes(file, content)

    @contextmanager
    def changing(self, file: Path) -> Iterator[None]:
        """Make a step of what an action does to a file."""
        with self.lock:
            before = file.read_bytes() if file.is_file() else None
            yield
            after = file.read_bytes() if file.is_file() else None
            if after != before:
                self.store.add_step(self._name(file), before, after)

    def step_to(self, file: Path, by: int) -> bool:
        """Take a file so many steps back (below 0) or on; whether there was such a step."""
        name = self._name(file)
        with self.lock:
            stands = self.store.steps(name)
            now = file.read_bytes() if file.is_file() else None
            if stands is not None and self.store.step(name, stands.at) != now:
                # changed by another program: that is the step to go back from
                self.store.add_step(name, now, now)
                stands = self.store.steps(name)
            if stands is None or not 0 <= stands.at + by <= stands.last:
                return False
            content = self.store.step(name, stands.at + by)
            if content is None:
                file.unlink(missing_ok=True)
            else:
                write_bytes(file, content)
            self.store.go(name, stands.at + by)
            return True

    def proved(self, file: Path, content: bytes, check: Check | None = None) -> None:
        """Read what a file is to hold as it will be read, from a copy of what lies beside it.

        Raises
        ------
        FileError
            For all that is wrong with it, as if it stood in the file itself.
        """
        with tempfile.TemporaryDirectory(prefix="nesting-") as made:
            copy = Path(made)
            for name in TABLES:
                if (self.folder / name).is_file():
                    shutil.copyfile(self.folder / name, copy / name)
            shutil.copytree(self.folder / "patterns", copy / "patterns", dirs_exist_ok=True) if (
                self.folder / "patterns"
            ).is_dir() else None
            target = copy / file.relative_to(self.folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
            try:
                (check or _CHECKS.get(file.name, _hide))(target)
            except FileError as error:
                raise self.as_ours(error, copy) from None

    def as_ours(self, error: FileError, copy: Path) -> FileError:
        """A fault found in a copy of the folder, told of the folder."""

        def ours(fault: FileError) -> FileError:
            def back(text: object) -> str:
                return str(text).replace(str(copy), str(self.folder))

            return FileError(back(fault.file), fault.place, back(fault.value), back(fault.mend))

        faults = [ours(fault) for fault in error.all]
        return faults[0] if len(faults) == 1 else FileErrors(faults)

    def _name(self, file: Path) -> str:
        return file.relative_to(self.folder).as_posix()


def safe_name(text: str, taken: dict[str, Path]) -> str:
    """A plain name for a new file, made of what somebody called it, that none has yet."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", text.rsplit(".", 1)[0]).strip("-").lower()[:60] or "new"
    number = 1
    while (name := f"{plain}{f'-{number}' if number > 1 else ''}") in taken:
        number += 1
    return name


def is_safe(name: str) -> bool:
    """Whether a name is one that files of the folder have."""
    return _SAFE.fullmatch(name) is not None


def _hide(path: Path) -> None:
    hide_from_dict(read_json(path), path, "")


def _orders(path: Path) -> None:
    read_orders(path, product_names(path.parent / "products.toml"))


def _products(path: Path) -> None:
    read_products(path, read_workshop(path.parent / "workshop.toml"))


_CHECKS: dict[str, Check] = {"orders.csv": _orders, "products.toml": _products, "workshop.toml": read_workshop}


def whole_job(folder: Path) -> list[str]:
    """All that is wrong in a folder, in words; empty where a plan can begin."""
    try:
        read_job(folder)
    except FileError as error:
        return [str(fault) for fault in error.all]
    return []


def as_json(data: object) -> bytes:
    """A file of JSON as this project writes them."""
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()
