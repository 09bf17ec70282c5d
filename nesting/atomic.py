"""Writing a file whole or not at all: a temporary file beside it, flushed to disk, then renamed over it."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import secrets
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

from .errors import FileError

_MENDS = {
    errno.ENOSPC: "free some room on the disk and run again; what was there before is unharmed",
    errno.EDQUOT: "free some of your disk quota and run again; what was there before is unharmed",
    errno.EROFS: "this disk can only be read; write to another folder",
    errno.ENAMETOOLONG: "give a shorter name",
}


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
        refused = f"check that the folder {target.parent} is there and that you may write in it"
        mend = _MENDS.get(error.errno or 0, refused)
        raise FileError(path, "writing", error.strerror or error, mend) from None
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


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
    try:
        lines = ",\n".join(f"{_dump(str(key))}: {_lines(value)}" for key, value in content.items())
        encoded = f"{{\n{lines}\n}}\n".encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise FileError(path, "writing", error, "only finite numbers, text, lists and tables can be written") from None
    write_bytes(path, encoded)


def _lines(value: object) -> str:
    if isinstance(value, (list, tuple)) and any(isinstance(entry, dict) for entry in value):
        return "[\n  " + ",\n  ".join(map(_dump, value)) + "\n]"
    return _dump(value)


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, default=_plain)


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"a value of kind {type(value).__name__}")


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
