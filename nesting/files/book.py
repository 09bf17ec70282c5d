"""Changes to workshop.toml and products.toml that leave the rest of the file as it is, comments and all."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Sequence
from dataclasses import MISSING, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..atomic import write_text
from ..errors import FileError
from ..model import Setting
from .source import read_text
from .workshop import read_workshop, workshop_from_dict

if TYPE_CHECKING:
    # loaded where a file is changed
    from tomlkit import TOMLDocument

MARK = "\ufeff"


def record_setting(path: Path, setting: Setting) -> None:
    """Add a tested row to the setting book, whole or not at all.

    Parameters
    ----------
    path : Path
        A sound workshop.toml.
    setting : Setting
        What has the defaults of a setting is not written.

    Raises
    ------
    FileError
        When the file cannot be read or written, has a row of that name, or the row contradicts another.
    """
    import tomlkit

    def add(document: TOMLDocument) -> None:
        row = tomlkit.table()
        row.trivia.indent = "\n"
        for entry in fields(setting):
            value = getattr(setting, entry.name)
            if entry.default is MISSING or value != entry.default:
                row.add(entry.name, value)
        document.setdefault("setting", tomlkit.aot()).append(row)

    _change(path, add)


def record_kerf(path: Path, kerf_mm: float) -> None:
    """Put a measured kerf in its place, whole or not at all.

    Raises
    ------
    FileError
        When the file cannot be read or written, or the kerf is out of bounds.
    """
    import tomlkit

    def put(document: TOMLDocument) -> None:
        document.setdefault("margins", tomlkit.table())["kerf_mm"] = kerf_mm

    _change(path, put, ("margins", "kerf_mm"))


def changed_text(path: Path, place: Sequence[str | int], value: object, without: Sequence[str] = ()) -> str:
    """The text of a TOML file with another value in one place, or with that key taken out where the value is None.

    Parameters
    ----------
    path : Path
    place : sequence of str or int
        Names of tables and numbers of entries that lead there; a table that is missing is made.
    value : object
        A list, text, number or truth, or a table for a new entry: then the number is that of the last and one more.
    without : sequence of str
        Other keys of the same table that are taken out.

    Raises
    ------
    FileError
        When the file cannot be read, or has no such place. What the value may be is not looked at.
    """
    import tomlkit

    data = path.read_bytes() if path.is_file() else b""
    try:
        document = _begun(read_text(path), place)
        at: Any = document
        *way, last = place
        for step, following in zip(way, [*way[1:], last]):
            if isinstance(step, str) and step not in at:
                at[step] = tomlkit.aot() if isinstance(following, int) else tomlkit.table()
            at = at[step]
        if isinstance(last, int) and isinstance(value, dict) and last == len(at):
            at.append(tomlkit.item(value))
        elif value is None:
            if isinstance(last, int) or last in at:
                del at[last]
        else:
            at[last] = value
        for key in without:
            at.pop(key, None)
        text = tomlkit.dumps(document)
    except (tomlkit.exceptions.TOMLKitError, TypeError, AttributeError, LookupError, ValueError) as error:
        raise FileError(path, " > ".join(map(str, place)), error, "there is no such place: look at the file") from None
    return (MARK if data.startswith(MARK.encode()) else "") + text


def _begun(text: str, place: Sequence[str | int]) -> TOMLDocument:
    """What a file says, with a key taken out of the remark that stands in its place, so that its value goes there."""
    import tomlkit

    document = tomlkit.parse(text)
    match place:
        case (str(name), str(key)) if key not in document.get(name, {}):
            inside = re.compile(
                rf"(^\[{re.escape(name)}\][^\n]*\n(?:(?!\[)[^\n]*\n)*?)# ?(?={re.escape(key)} = )", re.M
            )
            with contextlib.suppress(tomlkit.exceptions.TOMLKitError):
                return tomlkit.parse(inside.sub(r"\1", text, count=1))
    return document


def _change(path: Path, change: Callable[[TOMLDocument], None], place: Sequence[str] = ()) -> None:
    import tomlkit

    read_workshop(path)
    document = _begun(read_text(path), place)
    try:
        change(document)
        text = tomlkit.dumps(document)
        data = tomlkit.parse(text).unwrap()
    except (tomlkit.exceptions.TOMLKitError, TypeError, AttributeError) as error:
        raise FileError(path, "file", error, "write its tables in the plain form of the README and try again") from None
    # Proved as it will be read before the old file is replaced.
    workshop_from_dict(data, path, "")
    write_text(path, (MARK if path.read_bytes().startswith(MARK.encode()) else "") + text)
