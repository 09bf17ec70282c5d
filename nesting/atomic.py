"""Writing whole or not at all: beside its place, flushed to disk, then renamed into it, be it a file or a folder."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
import re
import secrets
import shutil
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fnmatch import fnmatchcase
from pathlib import Path

from .errors import FileError

if sys.platform != "win32":
    import fcntl

_MENDS = {
    errno.ENOSPC: "free some room on the disk and run again; what was there before is unharmed",
    errno.EDQUOT: "free some of your disk quota and run again; what was there before is unharmed",
    errno.EROFS: "this disk can only be read; write to another folder",
    errno.ENAMETOOLONG: "give a shorter name",
    errno.EBUSY: "it is a disk of its own, or in use: write to a folder inside it",
}
EARLIER = "earlier"
"""Name of the folder, inside one that was written anew, that keeps what stood there before."""
MOST_EARLIER = 10
"""So many of them are kept: two weeks of a plan a day."""
_STAMP = "%Y-%m-%d-%H%M%S"
_STAMPED = re.compile(r"\d{4}-\d\d-\d\d-\d{6}(-\d+)?")
_begun: set[Path] = set()
"""Files and folders that this process is writing beside their places."""
_LOCK_S = 1.0
"""Whoever holds a lock for longer was stopped while it had it."""
_ABANDONED_S = 600.0
"""A folder begun so long ago and not written to since is of a run that was killed."""


@dataclass
class NewFolder:
    """A folder that is being written: ``path`` is where to write; ``kept``, where what it took the place of went."""

    path: Path
    kept: Path | None = None


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file so that a reader, or a power cut, sees the old file or the new one and nothing between.

    Parameters
    ----------
    path : Path
        File to write; missing folders are made. A link is written through.
    content : bytes

    Raises
    ------
    FileError
        When the folder or the disk refuses; nothing is left behind then.
    """
    target = Path(os.path.realpath(path))
    # Its name is cut short: file systems take no more than 255 bytes.
    temporary = target.parent / f".{target.name[:100]}.{secrets.token_hex(6)}.tmp"
    _begun.add(temporary)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        # Made by os.open and not by tempfile, so that the finished file has the permissions a plain new file gets.
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, target)
        _flush_folder(target.parent)
    except OSError as error:
        raise _refused(path, target.parent, error) from None
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        _begun.discard(temporary)


@contextlib.contextmanager
def written_anew(folder: Path, owned: Sequence[str], keep: bool = True) -> Iterator[NewFolder]:
    """Write a folder so that a reader, or a power cut, sees all of the old one or all of the new one.

    What is written goes to a folder beside it, which takes its place with one rename once the block ends. What was
    there before is kept in ``earlier/DATE-TIME`` inside the new folder, the last ten; files not ``owned`` stay.

    Parameters
    ----------
    folder : Path
        Need not be there. A link is written through.
    owned : sequence of str
        Patterns of the names of all that belongs to whoever writes the folder, such as ``hide-*.png``.
    keep : bool
        Whether what was there before is kept; what is made of the same again need not be.

    Yields
    ------
    NewFolder
        Its ``path`` is an empty folder; its ``kept`` is set when the block has ended.

    Raises
    ------
    FileError
        When the disk refuses; the folder is then as it was. What the block raises is passed on, a `FileError` about a
        file of the new folder with that file's place in the old one.
    """
    target = Path(os.path.realpath(folder))
    made = _beside(target, "new")
    new = NewFolder(made)
    _begun.add(made)
    try:
        with _refusing(folder, target.parent):
            if target.exists() and not target.is_dir():
                raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
            made.mkdir(parents=True)
            if target.exists():
                shutil.copymode(target, made)
        yield new
        with _refusing(folder, target.parent):
            if target.exists() or any(made.iterdir()):
                new.kept = _put_in_place(made, target, owned, keep)
    except FileError as error:
        inside = Path(error.file)
        if made not in inside.parents:
            raise
        mend = error.mend.replace(str(made), str(folder))
        raise FileError(folder / inside.relative_to(made), error.place, error.value, mend) from None
    finally:
        shutil.rmtree(made, ignore_errors=True)
        _begun.discard(made)


def clear_begun() -> None:
    """Remove what is being written but not in its place yet, of a run that ends on the spot."""
    for path in tuple(_begun):
        with contextlib.suppress(OSError):
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def write_text(path: Path, content: str) -> None:
    """Write text as UTF-8 with plain line ends, whole or not at all (see `write_bytes`)."""
    write_bytes(path, content.encode("utf-8"))


def write_json(path: Path, content: Mapping[str, object]) -> None:
    """Write a dictionary as JSON, one line a key and one line an entry, whole or not at all (see `write_bytes`).

    Raises
    ------
    FileError
        When a number is not finite, a value has no JSON form, or the file cannot be written.
    """
    write_bytes(path, json_bytes(path, content))


def json_bytes(path: Path, content: Mapping[str, object]) -> bytes:
    """What `write_json` writes.

    Raises
    ------
    FileError
        When a number is not finite, or a value has no JSON form.
    """
    try:
        lines = ",\n".join(f"{_dump(str(key))}: {_lines(value)}" for key, value in content.items())
        return f"{{\n{lines}\n}}\n".encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise FileError(path, "writing", error, "only finite numbers, text, lists and tables can be written") from None


def _lines(value: object) -> str:
    if isinstance(value, (list, tuple)) and any(isinstance(entry, dict) for entry in value):
        return "[\n  " + ",\n  ".join(map(_dump, value)) + "\n]"
    return _dump(value)


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, default=plain_json)


def plain_json(value: object) -> object:
    """What stands in JSON for money, a day or an array."""
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"a value of kind {type(value).__name__}")


def _refused(path: Path, folder: Path, error: OSError) -> FileError:
    refused = f"check that the folder {folder} is there and that you may write in it"
    return FileError(path, "writing", error.strerror or error, _MENDS.get(error.errno or 0, refused))


@contextlib.contextmanager
def _refusing(path: Path, folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _refused(path, folder, error) from None


def _beside(target: Path, what: str) -> Path:
    """A hidden name beside a folder that no other run uses; ``what`` is ``new`` while written and ``whole`` then."""
    return target.parent / f".{target.name[:100]}.{secrets.token_hex(6)}.{what}"


def _put_in_place(made: Path, target: Path, owned: Sequence[str], keep: bool = True) -> Path | None:
    """Let a finished folder take a place; where what was there before is kept, None when there was nothing."""
    _flush_folder(made)
    with _alone(target.parent):
        _settle(target, owned)
        whole = _beside(target, "whole")
        made.rename(whole)
        if not target.exists():
            whole.rename(target)
        elif not _exchanged(whole, target):
            aside = _beside(target, "whole")
            target.rename(aside)
            whole.rename(target)
            whole = aside
        _flush_folder(target.parent)
        return _put_aside(whole, target, owned, keep) if whole.exists() else None


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep others of us from renaming in a folder at the same time, where the system can."""
    if sys.platform == "win32":
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        began = time.monotonic()
        while time.monotonic() - began < _LOCK_S:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                time.sleep(0.02)
            except OSError:
                # some network disks cannot lock
                break
            else:
                break
        yield
    finally:
        os.close(handle)


def _exchanged(one: Path, other: Path) -> bool:
    """Whether two folders have changed places in one step (Linux: renameat2, macOS: renamex_np)."""
    paths = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "darwin":
            return int(library.renamex_np(*paths, ctypes.c_uint(2))) == 0
        here = ctypes.c_int(-100)  # AT_FDCWD; 2 is RENAME_EXCHANGE
        return int(library.renameat2(here, paths[0], here, paths[1], ctypes.c_uint(2))) == 0
    except (AttributeError, OSError, TypeError):
        return False


def _settle(target: Path, owned: Sequence[str]) -> None:
    """Finish what killed runs left undone beside a folder, and clear away what they had begun."""
    ours = re.compile(rf"\.{re.escape(target.name[:100])}\.[0-9a-f]{{12}}\.(new|whole)")
    for left in sorted(target.parent.iterdir()):
        found = ours.fullmatch(left.name)
        if found and found[1] == "whole":
            if target.exists():
                _put_aside(left, target, owned)
            else:
                left.rename(target)
        elif found:
            with contextlib.suppress(OSError):
                if time.time() - left.stat().st_mtime > _ABANDONED_S:
                    shutil.rmtree(left, ignore_errors=True)


def _put_aside(old: Path, target: Path, owned: Sequence[str], keep: bool = True) -> Path | None:
    """Keep what took a folder's place before among its earlier ones; where it went, None when there was nothing.

    What fails here is left beside the folder, where the next run finds it.
    """
    with contextlib.suppress(OSError):
        entries = sorted(old.iterdir())
        made_at = max((entry.stat().st_mtime for entry in entries if _is_owned(entry, owned)), default=time.time())
        for entry in entries:
            if not _is_owned(entry, owned):
                _move(entry, target / entry.name)
        if not any(old.iterdir()):
            old.rmdir()
            return None
        if not keep:
            shutil.rmtree(old, ignore_errors=True)
            return None
        earlier = target / EARLIER
        earlier.mkdir(exist_ok=True)
        stamp = time.strftime(_STAMP, time.localtime(made_at))
        taken, number = {path.name for path in earlier.iterdir()}, 1
        while (name := stamp if number == 1 else f"{stamp}-{number}") in taken:
            number += 1
        old.rename(earlier / name)
        kept = sorted((path for path in earlier.iterdir() if _STAMPED.fullmatch(path.name)), key=_age)
        for oldest in kept[:-MOST_EARLIER]:
            shutil.rmtree(oldest, ignore_errors=True)
        return earlier / name
    return None


def _is_owned(entry: Path, owned: Sequence[str]) -> bool:
    return any(fnmatchcase(entry.name, pattern) for pattern in owned)


def _move(entry: Path, to: Path) -> None:
    """Move a file or folder; a folder that is there already takes up what is in it, a file stays where it was."""
    if not to.exists():
        entry.rename(to)
    elif entry.is_dir() and to.is_dir():
        for inner in entry.iterdir():
            _move(inner, to / inner.name)
        with contextlib.suppress(OSError):
            entry.rmdir()


def _age(stamped: Path) -> tuple[str, int]:
    """By time, then by number."""
    date_time, number = stamped.name[:17], stamped.name[18:]
    return date_time, int(number or 1)


def _flush_folder(folder: Path) -> None:
    """Make the rename itself last; some file systems and Windows cannot flush a folder and need not."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)
