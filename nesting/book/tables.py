"""The rows of a stock book as Python has them: plain records, whose fields stay after the book is closed."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import Dialect, ForeignKey, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import REAL, TypeDecorator

from .limits import DEFAULT


class Row(DeclarativeBase):
    """What all rows share."""

    def __repr__(self) -> str:
        told = ", ".join(f"{column.name}={getattr(self, column.name)!r}" for column in self.__table__.columns)
        return f"{type(self).__name__}({told})"

    def told(self) -> dict[str, Any]:
        """Its fields by name."""
        return {column.name: getattr(self, column.name) for column in self.__table__.columns}


class Rounded(TypeDecorator[float]):
    """A number of so many decimals, which stays the same in text and back."""

    impl = REAL
    cache_ok = True

    def __init__(self, digits: int) -> None:
        super().__init__()
        self.digits = digits

    @property
    def python_type(self) -> type[float]:
        return float

    def process_bind_param(self, value: float | None, dialect: Dialect) -> float | None:
        return None if value is None else round(float(value), self.digits) + 0.0


class Day(TypeDecorator[date]):
    """A day, as text that sorts."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: date | None, dialect: Dialect) -> str | None:
        return None if value is None else value.isoformat()

    def process_result_value(self, value: str | None, dialect: Dialect | None) -> date | None:
        return None if value is None else date.fromisoformat(value)


_AREA = Rounded(DEFAULT.area_digits)
_POSE = Rounded(DEFAULT.pose_digits)


class Fact(Row):
    """A thing the whole book agrees on, such as its currency."""

    __tablename__ = "facts"
    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]


class Step(Row):
    """One thing somebody did: all of it is in the book, or nothing."""

    __tablename__ = "steps"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[str]
    kind: Mapped[str]
    words: Mapped[str]
    undone: Mapped[str | None]


class Present(Row):
    """The step that is under way, where one is."""

    __tablename__ = "present"
    one: Mapped[int] = mapped_column(primary_key=True)
    step: Mapped[int | None] = mapped_column(ForeignKey("steps.id"))


class Change(Row):
    """A row that a step changed: what it was before, as JSON; None where it was not there."""

    __tablename__ = "changes"
    id: Mapped[int] = mapped_column(primary_key=True)
    step: Mapped[int] = mapped_column(ForeignKey("steps.id"))
    thing: Mapped[str]
    row: Mapped[int]
    was: Mapped[str | None]


class Content(Row):
    """What stood in a plain file, squeezed, by its SHA-256."""

    __tablename__ = "contents"
    sha: Mapped[str] = mapped_column(primary_key=True)
    data: Mapped[bytes]


class Write(Row):
    """A plain file that a step writes or (``after`` None) takes away; ``done`` once it is."""

    __tablename__ = "writes"
    id: Mapped[int] = mapped_column(primary_key=True)
    step: Mapped[int] = mapped_column(ForeignKey("steps.id"))
    path: Mapped[str]
    before: Mapped[str | None] = mapped_column(ForeignKey("contents.sha"))
    after: Mapped[str | None] = mapped_column(ForeignKey("contents.sha"))
    done: Mapped[int]


class Seen(Row):
    """A hide's file as it was when last read, by size and time, so that it need not be read again."""

    __tablename__ = "seen"
    path: Mapped[str] = mapped_column(primary_key=True)
    size: Mapped[int]
    changed: Mapped[int]


class ShelfHide(Row):
    """A hide, or an offcut of one (``parent``) left by a bed load (``load``).

    ``state``: ``shelf``; ``opened``, cut in part; ``cut``, nothing left of it but offcuts; ``retired``. ``price`` is
    what was paid for it, or for an offcut what its hide was credited with, in minor units. ``bought_mm2`` is the
    supplier's measure, ``area_mm2`` that of the trace; ``wide_mm`` and ``high_mm`` the largest rectangle known in it,
    ``doubt_mm2`` what its stated error and its doubts keep out.
    """

    __tablename__ = "hides"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    code: Mapped[str]
    parent: Mapped[int | None] = mapped_column(ForeignKey("hides.id"))
    load: Mapped[int | None] = mapped_column(ForeignKey("loads.id"))
    state: Mapped[str] = mapped_column(default="shelf")
    file: Mapped[str]
    area_mm2: Mapped[float] = mapped_column(_AREA)
    wide_mm: Mapped[float] = mapped_column(_POSE)
    high_mm: Mapped[float] = mapped_column(_POSE)
    supplier: Mapped[str] = mapped_column(default="")
    bought_mm2: Mapped[float | None] = mapped_column(_AREA)
    price: Mapped[int | None]
    tannage: Mapped[str]
    leather: Mapped[str]
    colour: Mapped[str]
    finish: Mapped[str]
    lot: Mapped[str]
    thickness_mm: Mapped[float | None] = mapped_column(_POSE)
    photo: Mapped[str]
    traced: Mapped[str]
    added: Mapped[str]
    gone: Mapped[str | None]
    why: Mapped[str] = mapped_column(default="")
    doubt_mm2: Mapped[float] = mapped_column(_AREA, default=0.0)


class BookOrder(Row):
    """An order line: ``state`` is ``wanted``, ``planned``, ``cut``, ``spoiled`` or ``done``.

    ``made`` counts its whole pieces cut, ``planned`` those that the layout at hand makes besides, ``spoiled`` parts not
    made again yet. ``price`` is what one piece sells for, in minor units; ``parts_each`` how many parts it takes.
    """

    __tablename__ = "orders"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    product: Mapped[str]
    quantity: Mapped[int]
    due: Mapped[date | None] = mapped_column(Day)
    priority: Mapped[int]
    thread: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    leather: Mapped[str] = mapped_column(default="")
    colour: Mapped[str] = mapped_column(default="")
    finish: Mapped[str] = mapped_column(default="")
    tannage: Mapped[str] = mapped_column(default="")
    state: Mapped[str] = mapped_column(default="wanted")
    taken: Mapped[str]
    done: Mapped[str | None]
    price: Mapped[int | None]
    parts_each: Mapped[int | None]
    planned: Mapped[int] = mapped_column(default=0)
    made: Mapped[int] = mapped_column(default=0)
    spoiled: Mapped[int] = mapped_column(default=0)


class BookLayout(Row):
    """A layout that was planned, by its mark; ``current`` is the one at hand."""

    __tablename__ = "layouts"
    id: Mapped[int] = mapped_column(primary_key=True)
    mark: Mapped[str]
    made: Mapped[str]
    current: Mapped[int]
    wanted: Mapped[int]
    placed: Mapped[int]


class BookLoad(Row):
    """A bed load: a panel of a hide, ``planned`` or ``cut``; of state ``rest`` what remained of a hide beside them.

    Parts, kerf, scrap and offcuts add up to the panel. ``print`` tells its leather from any other.
    """

    __tablename__ = "loads"
    id: Mapped[int] = mapped_column(primary_key=True)
    layout: Mapped[int] = mapped_column(ForeignKey("layouts.id"))
    hide: Mapped[int] = mapped_column(ForeignKey("hides.id"))
    panel: Mapped[str]
    print: Mapped[str]
    state: Mapped[str]
    at: Mapped[str | None]
    count: Mapped[int]
    panel_mm2: Mapped[float] = mapped_column(_AREA)
    parts_mm2: Mapped[float] = mapped_column(_AREA, default=0.0)
    kerf_mm2: Mapped[float] = mapped_column(_AREA, default=0.0)
    scrap_mm2: Mapped[float] = mapped_column(_AREA, default=0.0)
    offcuts_mm2: Mapped[float] = mapped_column(_AREA, default=0.0)


class CutPart(Row):
    """A part that was cut: from which load, for which order line, good (``cut``) or ``spoiled``, and what it cost in
    minor units."""

    __tablename__ = "parts"
    id: Mapped[int] = mapped_column(primary_key=True)
    load: Mapped[int] = mapped_column(ForeignKey("loads.id"))
    line: Mapped[int] = mapped_column(ForeignKey("orders.id"))
    part: Mapped[str]
    piece: Mapped[int]
    copy: Mapped[int]
    mirrored: Mapped[int]
    state: Mapped[str] = mapped_column(default="cut")
    x: Mapped[float] = mapped_column(_POSE)
    y: Mapped[float] = mapped_column(_POSE)
    angle: Mapped[float] = mapped_column(_POSE)
    area_mm2: Mapped[float] = mapped_column(_AREA)
    leather: Mapped[int]
    masking: Mapped[int]
    machine: Mapped[int]
    labour: Mapped[int]


class BookSetting(Row):
    """A row of the setting book as it was tested, and the swatch that taught it: its file, the best square and all that
    came out clean, empty where the row was typed."""

    __tablename__ = "settings"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[str]
    name: Mapped[str]
    operation: Mapped[str]
    leather: Mapped[str]
    thickness_mm: Mapped[float] = mapped_column(_POSE)
    speed_mm_s: Mapped[float] = mapped_column(_POSE)
    power_percent: Mapped[float] = mapped_column(_POSE)
    passes: Mapped[int]
    thinnest_mm: Mapped[float | None] = mapped_column(_POSE)
    thickest_mm: Mapped[float | None] = mapped_column(_POSE)
    swatch: Mapped[str] = mapped_column(default="")
    best: Mapped[str] = mapped_column(default="")
    clean: Mapped[str] = mapped_column(default="")


TABLES: dict[str, type[Row]] = {
    str(row.__tablename__): row for row in (ShelfHide, BookOrder, BookLayout, BookLoad, CutPart, BookSetting)
}
"""The rows whose changes are noted, by table."""
