"""What can be wrong: a file, or a value."""

from __future__ import annotations

from pathlib import Path


class FileError(Exception):
    """One line that names the file, the place in it, the value and the mend; the command ends with status 2."""

    def __init__(self, file: str | Path, place: str, value: object, mend: str):
        self.file, self.place, self.value, self.mend = str(file), place, value, mend
        super().__init__(f"{file}: {place}: {_short(value)}: {mend}")


def _short(value: object) -> str:
    text = " ".join(str(value).split())
    return text if len(text) <= 80 else text[:77] + "..."


class ModelError(ValueError):
    """A value that cannot be right: says which thing, which value, and what mends it."""

    def __init__(self, thing: str, value: object, mend: str):
        self.thing, self.value, self.mend = thing, value, mend
        super().__init__(f"{thing}: {value}: {mend}")
