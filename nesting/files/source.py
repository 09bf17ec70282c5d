"""Reading text, JSON and TOML that nobody vouches for: bounded, strict, and every fault a FileError."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Any

from ..errors import FileError
from .limits import DEFAULT

_LONG_KEY = re.compile(rf"(?<![\w.-])(?:[\w-]++\s*+\.\s*+){{{DEFAULT.key_steps},}}+")
_read: ContextVar[dict[Path, str] | None] = ContextVar("read", default=None)


@contextmanager
def hashed() -> Iterator[dict[Path, str]]:
    """Note the SHA-256 of all that is read inside, as it was read, by path."""
    found: dict[Path, str] = {}
    token = _read.set(found)
    try:
        yield found
    finally:
        _read.reset(token)


def read_text(path: Path, limit: int = DEFAULT.text_bytes) -> str:
    """Read a file of UTF-8 text, with or without a byte order mark, of at most ``limit`` bytes.

    Raises
    ------
    FileError
        When the file is missing, not a plain file, not readable, too big or not UTF-8.
    """
    content = read_bytes(
        path,
        limit,
        missing="check the name, or make the file",
        not_plain="give the path of a file",
        too_big="give a smaller file: this is no list made by hand",
    )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        value = repr(content[error.start : error.start + 8])[1:]
        line = content.count(b"\n", 0, error.start) + 1
        raise FileError(path, f"line {line}", value, "save the file as UTF-8 text") from None


def read_bytes(path: Path, limit: int, *, missing: str, not_plain: str, too_big: str) -> bytes:
    """Read a file of at most ``limit`` bytes; the other arguments say how to mend a file that is not such.

    Raises
    ------
    FileError
        When the file is missing, not a plain file, not readable or too big.
    """
    try:
        if not path.exists():
            raise FileError(path, "file", "not found", missing)
        if not path.is_file():
            raise FileError(path, "file", "not a plain file", not_plain)
        with path.open("rb") as stream:
            content = stream.read(limit + 1)
    except OSError as error:
        raise FileError(path, "file", error.strerror or error, "check that you may read it") from None
    if len(content) > limit:
        raise FileError(path, "file", f"over {limit // 1024**2} MB", too_big)
    if (noted := _read.get()) is not None:
        noted[path] = hashlib.sha256(content).hexdigest()
    return content


def read_json(path: Path) -> object:
    """Read a JSON file of at most 64 MB; a key given twice is refused.

    Raises
    ------
    FileError
        When the file cannot be read or is not JSON.
    """
    text = read_text(path, DEFAULT.json_bytes)
    if not text.strip():
        raise FileError(path, "file", "empty", "write the file again, or take it from a backup")

    def unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
        found = dict(pairs)
        if len(found) < len(pairs):
            twice = next(key for key, count in Counter(key for key, _ in pairs).items() if count > 1)
            raise FileError(path, printable(twice[:60]), "given twice", "keep one and delete the other")
        return found

    try:
        data: object = json.loads(text, object_pairs_hook=unique)
        return data
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        value = printable(text[error.pos : error.pos + 20].split("\n")[0]) or "end of line"
        raise FileError(path, place, value, f"correct the JSON there ({error.msg[0].lower()}{error.msg[1:]})") from None
    except RecursionError:
        raise FileError(path, "file", "nested too deep", "give lists and tables a few levels deep only") from None
    except ValueError:
        raise FileError(path, "file", "a whole number of thousands of digits", "give plain numbers in mm") from None


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file of at most 4 MB.

    Raises
    ------
    FileError
        When the file cannot be read or is not TOML; names the line.
    """
    text = read_text(path)
    if long := _LONG_KEY.search(text):
        line = text.count("\n", 0, long.start()) + 1
        value = f"a key of over {DEFAULT.key_steps} steps"
        raise FileError(path, f"line {line}", value, "give keys of a few names with a dot between them")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise FileError(path, "file", "nested too deep", "give lists and tables a few levels deep only") from None
    except ValueError as error:
        lines = text.splitlines()
        found = re.search(r"^(.*) \(at line (\d+), column (\d+)\)$", str(error))
        message, line = (found[1], int(found[2])) if found else (str(error).split(" (at")[0], max(1, len(lines)))
        value = lines[line - 1].strip() if 0 < line <= len(lines) else "end of the file"
        message = f"{message[:1].lower()}{message[1:]}"
        raise FileError(
            path, f"line {line}", printable(value) or "empty line", f"correct the TOML there ({message})"
        ) from None


def printable(text: str) -> str:
    """The text itself, or with anything that could upset a terminal written as an escape."""
    return text if text.isprintable() else ascii(text)[1:-1]
