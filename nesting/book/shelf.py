"""The shelf: hides and offcuts as the book has them, and their files taken in."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from ..errors import Faults, FileError
from ..model import Hide
from .limits import DEFAULT, BookLimits
from .store import Work
from .tables import Seen, ShelfHide

THERE = ("shelf", "opened")
"""States of leather that may still be cut from."""


@dataclass(frozen=True)
class Taken:
    """What came of taking files in: names of hides ``added`` and ``changed``; in words what to look at."""

    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def units(amount: Decimal | None, currency: str) -> int | None:
    """Money in minor units, halves rounded up."""
    if amount is None:
        return None
    exact: Fraction = Fraction(amount) * 10 ** _digits(currency) + Fraction(1, 2)
    return math.floor(exact)


def money(amount: int, currency: str) -> Decimal:
    """Minor units as money."""
    return Decimal(amount).scaleb(-_digits(currency))


@lru_cache
def _digits(currency: str) -> int:
    from ..costs.currency import minor_digits

    return minor_digits(currency)


def take_in(work: Work, currency: str) -> Taken:
    """Take new and changed files of ``hides/`` into the book.

    Raises
    ------
    FileError
        For every fault in any of them.
    """
    from ..files.hides import read_hide

    session, folder = work.session, work.store.folder
    seen = {row.path: row for row in session.scalars(select(Seen))}
    rows = list(session.scalars(select(ShelfHide)))
    by_name = {row.name.lower(): row for row in rows}
    files = _files(folder)
    added, changed, notes, faults = [], [], [], Faults()
    homes = {row.name.lower(): row.file for row in rows if row.state in THERE and row.file in files}
    for path, (size, time) in files.items():
        if path in seen and (seen[path].size, seen[path].changed) == (size, time):
            continue
        with faults.gathered():
            hide = read_hide(folder / path, currency)
            row = by_name.get(hide.id.lower())
            if homes.setdefault(hide.id.lower(), path) != path:
                mend = f"{homes[hide.id.lower()]} has the same id (capitals do not count): change one"
                raise FileError(folder / path, "id", hide.id, mend)
            if row is not None and row.state not in THERE:
                notes.append(f"{path} is not used: {gone_words(row)}")
            elif row is None:
                by_name[hide.id.lower()] = add(work, hide, path, currency)
                added.append(hide.id)
            else:
                facts = facts_of(hide, currency) | {"file": path}
                if row.parent is not None:
                    # the rectangle known in an offcut says more than how far it reaches
                    facts |= {"wide_mm": row.wide_mm, "high_mm": row.high_mm}
                if any(not _same(getattr(row, name), value) for name, value in facts.items()):
                    changed.append(hide.id)
                    for name, value in facts.items():
                        setattr(row, name, value)
            session.merge(Seen(path=path, size=size, changed=time))
    faults.tell()
    notes += [
        f"hide {row.name}: its file {row.file} is not there: put it back, or say nesting shelf retire {row.name}"
        for row in rows
        if row.state in THERE and row.file not in files
    ]
    return Taken(tuple(added), tuple(changed), tuple(notes))


def _same(one: Any, other: Any) -> bool:
    both = isinstance(one, float) and isinstance(other, float)
    return abs(one - other) < 1e-3 if both else bool(one == other)


def add(work: Work, hide: Hide, path: str, currency: str, **more: Any) -> ShelfHide:
    """Put a hide on the shelf."""
    facts = {"supplier": "", "why": "", **facts_of(hide, currency), "file": path, **more}
    row = ShelfHide(name=hide.id, code=_free_code(work.session, hide.id), state="shelf", added=work.at, **facts)
    work.session.add(row)
    work.session.flush()
    return row


def facts_of(hide: Hide, currency: str) -> dict[str, Any]:
    """What a hide's file says, as the book has it."""
    left, low, right, high = hide.outline.bounds
    traced = hide.traced
    return {
        "area_mm2": hide.outline.area,
        "wide_mm": max(right - left, high - low),
        "high_mm": min(right - left, high - low),
        "price": units(hide.price, currency),
        "tannage": hide.tannage,
        "leather": hide.leather,
        "colour": hide.colour,
        "finish": hide.finish,
        "lot": hide.lot,
        "thickness_mm": hide.nominal_mm,
        "photo": hide.photo,
        "traced": "" if traced is None else f"{traced.reference}, to {traced.expected_error_mm:.2g} mm",
        "doubt_mm2": _doubt_mm2(hide),
    }


def _doubt_mm2(hide: Hide) -> float:
    if hide.error is None and not hide.doubts:
        return 0.0
    from ..leather.regions import cost_of_doubt

    return cost_of_doubt(hide, 0.0).total_mm2


def find(session: Session, name: str, where: str | Path) -> ShelfHide:
    """A hide by its name or the code on its label.

    Raises
    ------
    FileError
        When there is none.
    """
    row = session.scalar(
        select(ShelfHide).where(or_(func.lower(ShelfHide.name) == name.lower(), ShelfHide.code == name.upper()))
    )
    if row is None:
        from ..files.schema import among

        names = session.scalars(select(ShelfHide.name).where(ShelfHide.state.in_(THERE)))
        raise FileError(where, "hide", name, among(names, name, "on the shelf"))
    return row


def gone_words(row: ShelfHide) -> str:
    """Why leather is not there any more."""
    day = (row.gone or "")[:10]
    if row.state == "cut":
        return f"hide {row.name} was cut up on {day}; what is left of it lies on the shelf under names of its own"
    return f"hide {row.name} was retired on {day}{f': {row.why}' if row.why else ''}"


def codes(name: str, limits: BookLimits = DEFAULT) -> Iterator[str]:
    """Codes for a label, made of a name, the first the one to take where it is free."""
    letters = limits.code_letters
    for turn in range(10_000):
        number = int.from_bytes(hashlib.sha256(f"{name.lower()} {turn}".encode()).digest()[:8], "big")
        yield "".join(letters[number // len(letters) ** at % len(letters)] for at in range(limits.code_length))


def _free_code(session: Session, name: str) -> str:
    def free(code: str) -> bool:
        return session.scalar(select(ShelfHide.id).where(ShelfHide.code == code)) is None

    return next(code for code in codes(name) if free(code))


def free_name(session: Session, wished: str, next_name: Callable[[int], str]) -> str:
    """A name that no hide in the book has."""

    def free(name: str) -> bool:
        return session.scalar(select(ShelfHide.id).where(func.lower(ShelfHide.name) == name.lower())) is None

    if free(wished):
        return wished
    number = 1
    while not free(next_name(number)):
        number += 1
    return next_name(number)


def _files(folder: Path) -> dict[str, tuple[int, int]]:
    """Size and time of each hide's file; hidden ones are left out, as where a job is read."""
    found = {}
    for path in sorted((folder / "hides").glob("*.json")):
        if not path.name.startswith("."):
            state = path.stat()
            found[f"hides/{path.name}"] = (state.st_size, state.st_mtime_ns)
    return found


def words(names: Sequence[str], most: int = 6) -> str:
    """Names in a row, the later ones counted."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
