"""products.toml: what the workshop makes, each part's drawing joined to what it asks of the leather."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from ..errors import FileError
from ..model import Direction, Part, Product
from .limits import DEFAULT
from .patterns import read_pattern
from .rings import pair
from .schema import (
    AskingTable,
    Count,
    DirectionKind,
    Grade,
    Money,
    Name,
    Number,
    Table,
    Thickness,
    Truth,
    among,
    at,
    spot,
    validate,
)
from .source import printable, read_toml


class _Part(AskingTable):
    name: Name
    count: Count = 1
    grade: Grade = "A"
    direction: DirectionKind = "free"
    tolerance_deg: Number = 0.0
    turn: Truth = True
    thickness_mm: Thickness | None = None
    mirrored_twin: Truth = False


class _Product(AskingTable):
    name: Name
    pattern: Name
    same_hide: Literal["no", "piece", "order"] = "no"
    same_lot: Truth = False
    filler: Truth = False
    partial: Truth = False
    price: Money | None = None
    burn: Truth | None = None
    flesh_out: Truth = False
    part: Annotated[list[_Part], Field(min_length=1, max_length=DEFAULT.most_entries)]


class _Products(Table):
    product: Annotated[list[_Product], Field(min_length=1, max_length=DEFAULT.most_entries)]


def read_products(path: Path) -> tuple[Product, ...]:
    """Read products.toml and the patterns it names.

    Parameters
    ----------
    path : Path
        The file; pattern paths in it start from its folder and stay inside it.

    Returns
    -------
    tuple of Product
        In the order of the file.

    Raises
    ------
    FileError
        For the first fault in the file or in a pattern.
    """
    table = validate(_Products, read_toml(path), path)
    patterns: dict[Path, dict[str, Part]] = {}
    used: dict[Path, set[str]] = {}
    products: dict[str, Product] = {}
    for index, row in enumerate(table.product):
        where = spot(path, "", "product", index)
        if row.name in products:
            raise FileError(path, spot(path, where, "name"), row.name, "give each product a name of its own")
        drawing = _drawing(path, spot(path, where, "pattern"), row.pattern)
        if drawing not in patterns:
            patterns[drawing] = {part.name: part for part in read_pattern(drawing)}
        used.setdefault(drawing, set()).update(part.name for part in row.part)
        parts = _parts(path, where, row, patterns[drawing])
        with at(path, where):
            products[row.name] = Product(
                row.name,
                tuple(parts),
                row.same_hide,
                row.filler,
                row.partial,
                row.price,
                row.burn,
                row.flesh_out,
                row.same_lot,
                **_asked(row),
            )
    _all_listed(path, patterns, used)
    return tuple(products.values())


def _drawing(path: Path, place: str, pattern: str) -> Path:
    """The pattern's file, once sure that it is there and inside the folder, links followed."""
    folder = path.parent.resolve()
    drawing = (folder / pattern).resolve()
    if not drawing.is_relative_to(folder):
        raise FileError(
            path, place, pattern, f"keep the pattern inside the folder {path.parent} and give its path from there"
        )
    if not drawing.is_file():
        there = sorted(file.relative_to(folder).as_posix() for file in folder.glob("patterns/*.svg"))
        raise FileError(path, place, pattern, "no such file; " + among(there, pattern, "patterns"))
    return path.parent / drawing.relative_to(folder)


def _parts(path: Path, place: str, product: _Product, drawn: dict[str, Part]) -> list[Part]:
    parts: dict[str, Part] = {}
    for index, row in enumerate(product.part):
        where = spot(path, place, "part", index)
        if row.name in parts:
            raise FileError(path, spot(path, where, "name"), row.name, "list each part once and use count for more")
        parts[row.name] = _part(path, where, row, drawn, product)
    return list(parts.values())


def _part(path: Path, place: str, row: _Part, drawn: dict[str, Part], product: _Product) -> Part:
    if row.name not in drawn:
        raise FileError(
            path, spot(path, place, "name"), row.name, among(drawn, row.name, f"parts in {product.pattern}")
        )
    with at(path, place, {"direction tolerance_deg": ("tolerance_deg",)}):
        return replace(
            drawn[row.name],
            grade=row.grade,
            direction=Direction(row.direction, row.tolerance_deg, row.turn),
            thickness_mm=None if row.thickness_mm is None else pair(row.thickness_mm),
            count=row.count,
            mirrored_twin=row.mirrored_twin,
            **_asked(row),
        )


def _asked(row: AskingTable) -> dict[str, Any]:
    """What a product or part asks of leather."""
    return {name: getattr(row, name) for name in AskingTable.model_fields}


def _all_listed(path: Path, patterns: dict[Path, dict[str, Part]], used: dict[Path, set[str]]) -> None:
    """A part drawn and never listed would silently not be cut."""
    for drawing, parts in patterns.items():
        for name in parts:
            if name not in used[drawing]:
                listed = ", ".join(sorted(used[drawing]))
                mend = f"no product lists it: add it to one, or delete it from the pattern; listed: {listed}"
                raise FileError(path, f"parts of {drawing.name}", printable(name), mend)
