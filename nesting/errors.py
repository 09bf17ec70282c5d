"""What can be wrong: a file, or a value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path


class FileError(Exception):
    """One line that names the file, the place in it, the value and the mend; the command ends with status 2."""

    def __init__(self, file: str | Path, place: str, value: object, mend: str):
        self.file, self.place, self.value, self.mend = str(file), place, value, mend
        super().__init__(_shown(f"{file}: {place}: {_short(value)}: {mend}"))

    @property
    def all(self) -> tuple[FileError, ...]:
        """Every fault that was found with it, itself the first."""
        return (self,)


class FileErrors(FileError):
    """Several faults found in one go, one line each; the first stands for them all."""

    def __init__(self, faults: Sequence[FileError]):
        first = faults[0]
        super().__init__(first.file, first.place, first.value, first.mend)
        self.args = ("\n".join(map(str, faults)),)
        self._all = tuple(faults)

    @property
    def all(self) -> tuple[FileError, ...]:
        return self._all


class Faults:
    """Gathers what is wrong, so that a person hears all of it at once."""

    def __init__(self) -> None:
        self.found: list[FileError] = []

    @contextmanager
    def gathered(self) -> Iterator[None]:
        """Keep what is raised inside and go on."""
        try:
            yield
        except FileError as error:
            self.found += error.all

    def tell(self) -> None:
        """Raise what was found, once each; nothing where there is none."""
        found = list({str(fault): fault for fault in self.found}.values())
        if found:
            raise found[0] if len(found) == 1 else FileErrors(found)


def _shown(text: str) -> str:
    """A text in which whatever could upset a terminal, or has no form there, is written as an escape."""
    return "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text)


def _short(value: object) -> str:
    text = " ".join(str(value).split())
    return text if len(text) <= 80 else text[:77] + "..."


class ModelError(ValueError):
    """A value that cannot be right: says which thing, which value, and what mends it."""

    def __init__(self, thing: str, value: object, mend: str):
        self.thing, self.value, self.mend = thing, value, mend
        super().__init__(f"{thing}: {value}: {mend}")
