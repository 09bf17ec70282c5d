"""products.toml: what the workshop makes, each part's drawing joined to what it asks of the leather."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from ..errors import Faults, FileError
from ..geometry import detail_mm, plainer
from ..model import Curve, Direction, Part, Product, Workshop
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
    mark_folds: Truth = False


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
    longer: Literal["knife", "two loads", "refuse"] = "knife"
    part: Annotated[list[_Part], Field(min_length=1, max_length=DEFAULT.most_entries)]


class _Products(Table):
    product: Annotated[list[_Product], Field(min_length=1, max_length=DEFAULT.most_entries)]


def read_products(
    path: Path, workshop: Workshop | None = None, instead: tuple[Path, Path] | None = None
) -> tuple[Product, ...]:
    """Read products.toml and the patterns it names.

    Parameters
    ----------
    path : Path
        The file; pattern paths in it start from its folder and stay inside it.
    workshop : Workshop, optional
        Whose currency prices must be in, and what colours and names mean in drawings.
    instead : (Path, Path), optional
        A pattern in the folder, and another drawing to read for it. A part of that one is asked what the part of the
        same name is, or the one whose name its own begins with: a strap in two is drawn as ``strap 1`` and ``strap 2``.

    Returns
    -------
    tuple of Product
        In the order of the file.

    Raises
    ------
    FileError
        For every fault in the file and in its patterns.
    """
    table = validate(_Products, read_toml(path), path, currency=workshop.prices.currency if workshop else "")
    labels = workshop.drawings if workshop else {}
    faults = Faults()
    patterns: dict[Path, dict[str, Part] | None] = {}
    used: dict[Path, set[str]] = {}
    products: dict[str, Product] = {}
    names: set[str] = set()
    changed = False
    for index, row in enumerate(table.product):
        where = spot(path, "", "product", index)
        with faults.gathered():
            if row.name in names:
                raise FileError(path, spot(path, where, "name"), row.name, "give each product a name of its own")
            names.add(row.name)
            drawing = _drawing(path, spot(path, where, "pattern"), row.pattern)
            if instead is not None and drawing.resolve() == instead[0].resolve():
                drawing, changed = instead[1], True
                row = _for_drawing(drawing, row, [part.name for part in read_pattern(drawing, labels=labels)])
            used.setdefault(drawing, set()).update(part.name for part in row.part)
            if drawing not in patterns:
                patterns[drawing] = None
                patterns[drawing] = {part.name: part for part in read_pattern(drawing, labels=labels)}
            _check_marks(path, where, row, workshop)
            if (drawn := patterns[drawing]) is not None:
                product = _product(path, where, row, drawn)
                ours = drawing.is_relative_to(path.parent)
                name = drawing.relative_to(path.parent) if ours else drawing
                products[row.name] = replace(product, pattern=name.as_posix())
    if instead is not None and not changed:
        mend = among(sorted({row.pattern for row in table.product}), instead[0].name, "patterns")
        faults.found.append(FileError(path, "pattern", instead[0], f"no product is made from it; {mend}"))
    with faults.gathered():
        _all_listed(path, patterns, used)
    faults.tell()
    return tuple(products.values())


def _for_drawing(drawing: Path, row: _Product, names: list[str]) -> _Product:
    """The product with the parts of another drawing, each asked what the listed part is that it stands for."""
    parts, missing = [], {part.name for part in row.part}
    for name in names:
        # the longest name is the nearest: "strap end 1" is of "strap end" before "strap"
        likely = [part for part in row.part if name.casefold().startswith(part.name.casefold())]
        if not likely:
            listed = ", ".join(part.name for part in row.part)
            mend = f"begin its name with that of the part it stands for in {row.name}: {listed}"
            raise FileError(drawing, "part", name, mend)
        nearest = max(likely, key=lambda part: len(part.name))
        parts.append(nearest.model_copy(update={"name": name}))
        missing.discard(nearest.name)
    if missing:
        raise FileError(drawing, "parts", f"none for {', '.join(sorted(missing))}", f"draw all parts of {row.name}")
    return row.model_copy(update={"part": parts})


def product_names(path: Path) -> frozenset[str] | None:
    """The names that stand in products.toml, whatever else is wrong there; None where there are none."""
    try:
        rows = read_toml(path).get("product")
    except FileError:
        return None
    named = [row.get("name") for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    return frozenset(" ".join(name.split()) for name in named if isinstance(name, str)) or None


def _check_marks(path: Path, place: str, row: _Product, workshop: Workshop | None) -> None:
    """Fold lines are marked lightly or not at all: deep engraving would part the leather there."""
    for index, part in enumerate(row.part):
        if part.mark_folds and workshop and workshop.engraving_depth != "shallow":
            where = spot(path, place, "part", index, "mark_folds")
            mend = 'workshop.toml engraves deep, which weakens a fold: leave it out, or engrave "shallow"'
            raise FileError(path, where, "true", mend)


def _product(path: Path, place: str, row: _Product, drawn: dict[str, Part]) -> Product:
    parts = _parts(path, place, row, drawn)
    with at(path, place):
        return Product(
            row.name,
            tuple(parts),
            row.same_hide,
            row.filler,
            row.partial,
            row.price,
            row.burn,
            row.flesh_out,
            row.same_lot,
            longer=row.longer,
            **_asked(row),
        )


def _drawing(path: Path, place: str, pattern: str) -> Path:
    """The pattern's file, once sure that it is there and inside the folder, links followed."""
    folder = path.parent.resolve()
    drawing = (folder / pattern).resolve()
    if not drawing.is_relative_to(folder):
        raise FileError(
            path, place, pattern, f"keep the pattern inside the folder {path.parent} and give its path from there"
        )
    if not drawing.is_file():
        if drawing.exists():
            raise FileError(path, place, pattern, "is no plain file: give the path of a drawing")
        files = (file for file in folder.glob("patterns/*.svg") if file.is_file())
        there = sorted(file.relative_to(folder).as_posix() for file in files)
        raise FileError(path, place, pattern, "no such file; " + among(there, pattern, "patterns"))
    return path.parent / drawing.relative_to(folder)


def _parts(path: Path, place: str, product: _Product, drawn: dict[str, Part]) -> list[Part]:
    parts: dict[str, Part] = {}
    faults = Faults()
    for index, row in enumerate(product.part):
        where = spot(path, place, "part", index)
        with faults.gathered():
            if row.name in parts:
                raise FileError(path, spot(path, where, "name"), row.name, "list each part once and use count for more")
            parts[row.name] = _part(path, where, row, drawn, product)
    faults.tell()
    return list(parts.values())


def _part(path: Path, place: str, row: _Part, drawn: dict[str, Part], product: _Product) -> Part:
    if row.name not in drawn:
        raise FileError(
            path, spot(path, place, "name"), row.name, among(drawn, row.name, f"parts in {product.pattern}")
        )
    part = drawn[row.name]
    if part.outline.buffer(-DEFAULT.narrowest_mm / 2).is_empty:
        mend = f"nowhere {DEFAULT.narrowest_mm:g} mm wide: draw its outline around what is cut out, at real size"
        raise FileError(path, spot(path, place, "name"), row.name, mend)
    if len(part.outline.exterior.coords) > DEFAULT.fine_part_points:
        part = replace(part, outline=plainer(part.outline, detail_mm(part.outline), outward=True))
    if row.mark_folds:
        part = _with_marked_folds(part)
    with at(path, place, {"direction tolerance_deg": ("tolerance_deg",)}):
        return replace(
            part,
            grade=row.grade,
            direction=Direction(row.direction, row.tolerance_deg, row.turn),
            thickness_mm=None if row.thickness_mm is None else pair(row.thickness_mm),
            count=row.count,
            mirrored_twin=row.mirrored_twin,
            **_asked(row),
        )


def _with_marked_folds(part: Part) -> Part:
    """The part with its fold lines engraved as lines; the shallowest engraving there is."""
    hows = part.engrave_how or ("",) * len(part.engrave)
    curves = part.curves
    if curves is not None:
        curves = replace(curves, engrave=(*curves.engrave, *map(Curve.of, part.folds)))
    return replace(
        part,
        engrave=(*part.engrave, *part.folds),
        engrave_how=(*hows, *("line" for _ in part.folds)) if part.folds else part.engrave_how,
        curves=curves,
    )


def _asked(row: AskingTable) -> dict[str, Any]:
    """What a product or part asks of leather."""
    return {name: getattr(row, name) for name in AskingTable.model_fields}


def _all_listed(path: Path, patterns: dict[Path, dict[str, Part] | None], used: dict[Path, set[str]]) -> None:
    """A part drawn and never listed would silently not be cut; a name that is none of a part's is told before."""
    faults = Faults()
    for drawing, parts in patterns.items():
        for name in parts if parts and used[drawing] <= set(parts) else ():
            if name not in used[drawing]:
                listed = ", ".join(sorted(used[drawing]))
                mend = f"no product lists it: add it to one, or delete it from the pattern; listed: {listed}"
                faults.found.append(FileError(path, f"parts of {drawing.name}", printable(name), mend))
    faults.tell()
