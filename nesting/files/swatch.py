"""The SVG of a swatch: written to be burnt, read back to record what it taught."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar
from xml.etree.ElementTree import Element
from xml.sax.saxutils import quoteattr

import defusedxml.ElementTree
from defusedxml.common import DefusedXmlException

from ..atomic import write_text
from ..errors import FileError
from ..laser.cautions import CAUTIONS
from ..laser.svg import group, holdable, page, path_data, setting_words
from ..laser.swatch import Cell, Swatch, colours, labels, square
from ..model import SETTING_OPERATIONS, Setting, Workshop, rows_for
from .source import read_text

MEND = "give a file that nesting swatch wrote"
Fact = TypeVar("Fact", float, int, str)


def write_swatch(path: Path, made: Swatch, middle: Setting, workshop: Workshop, turned: bool = False) -> None:
    """Write a swatch, whole or not at all: labels first, then a group for each square, least energy first.

    Parameters
    ----------
    path : Path
    made : Swatch
    middle : Setting
        What the grid was laid about; told in the file.
    workshop : Workshop
    turned : bool
        The piece of leather is higher than it is wide; told in the file.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    rated, top = workshop.machine.rated_w, made.height_mm
    marks = rows_for(workshop.engravings, made.leather, "engrave shallow")
    ink = workshop.colours["engrave"]
    groups = [group("engrave-labels", ink, [f"<path d={quoteattr(path_data(word, top))}/>" for word in labels(made)])]
    cells = sorted(made.cells, key=made.line_energy)
    for cell, colour in zip(cells, colours(len(cells), list(workshop.colours.values()))):
        look = f' fill="{colour}"' if made.line_spacing_mm else ""
        numbers = {"speed-mm-s": cell.speed_mm_s, "power-percent": cell.power_percent, "x": cell.x, "y": cell.y}
        known = "".join(f" data-{name}={quoteattr(repr(value))}" for name, value in numbers.items())
        words = (
            f"<title>{cell.name}: {cell.speed_mm_s:g} mm/s, {cell.power_percent:g} %, {made.passes} pass(es)</title>"
        )
        rows = [words, f"<path{look} d={quoteattr(path_data(square(made, cell), top))}/>"]
        groups.append(group(f"cell-{cell.name}", colour, rows, known))
    about = [
        f"Swatch to {made.operation} {made.leather or 'leather'} of {made.thickness_mm:g} mm, about "
        f"{setting_words(middle, rated, bool(made.line_spacing_mm))} ({middle.basis}).",
        f"The piece must be at least {made.width_mm:.0f} x {made.height_mm:.0f} mm"
        + (", laid with its long side up." if turned else "."),
        "Engrave the labels first"
        + (f" with {setting_words(marks[0], rated)}." if marks else ": find their power on a scrap."),
        "Then burn each square with its own speed and power; its colour and its group say which:",
        *(
            f"{cell.name}: {cell.speed_mm_s:g} mm/s, {cell.power_percent:g} %, "
            f"{made.line_energy(cell) * rated:.3g} J/mm"
            for cell in cells
        ),
        "Afterwards record the best square and all clean ones: nesting swatch record.",
        *CAUTIONS,
    ]
    facts = {
        "swatch": "1",
        "thickness-mm": repr(made.thickness_mm),
        "passes": str(made.passes),
        "line-spacing-mm": repr(made.line_spacing_mm),
        "side-mm": repr(made.side_mm),
        "operation": made.operation,
        "leather": made.leather,
    }
    root = "".join(f" data-{name}={quoteattr(holdable(value))}" for name, value in facts.items())
    write_text(path, page(made.width_mm, made.height_mm, "Swatch", about, groups, root))


def read_swatch(path: Path) -> Swatch:
    """Read a swatch back.

    Raises
    ------
    FileError
        When it is not one that `write_swatch` wrote.
    """
    try:
        root = defusedxml.ElementTree.fromstring(read_text(path))
    except (defusedxml.ElementTree.ParseError, DefusedXmlException, ValueError) as error:
        raise FileError(path, "file", error, MEND) from None
    if root.get("data-swatch") != "1":
        raise FileError(path, "file", "not a swatch", MEND)
    thickness_mm, passes = _fact(path, root, "thickness-mm", float), _fact(path, root, "passes", int)
    spacing_mm, side_mm = (_fact(path, root, name, float) for name in ("line-spacing-mm", "side-mm"))
    operation, leather = (_fact(path, root, name, str) for name in ("operation", "leather"))
    if operation not in SETTING_OPERATIONS:
        raise FileError(path, "data-operation", operation, MEND)
    cells = []
    for element in root:
        name = element.get("id", "")
        if name.startswith("cell-"):
            numbers = (_fact(path, element, key, float) for key in ("speed-mm-s", "power-percent", "x", "y"))
            cells.append(Cell(name.removeprefix("cell-"), *numbers))
    if not cells:
        raise FileError(path, "file", "no squares", MEND)
    cells.sort(key=lambda cell: cell.name)
    wide, high = (_size(path, root, side) for side in ("width", "height"))
    return Swatch(operation, leather, thickness_mm, passes, spacing_mm, wide, high, side_mm, tuple(cells))


def _fact(path: Path, element: Element, name: str, kind: Callable[[str], Fact]) -> Fact:
    text = element.get(f"data-{name}")
    if text is None:
        raise FileError(path, f"data-{name}", "missing", MEND)
    try:
        return kind(text)
    except ValueError:
        raise FileError(path, f"data-{name}", text, MEND) from None


def _size(path: Path, root: Element, side: str) -> float:
    try:
        return float(root.get(side, "").removesuffix("mm"))
    except ValueError:
        raise FileError(path, side, root.get(side), MEND) from None
