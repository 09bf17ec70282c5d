"""The lines of a vector PDF, at true size; the sheets of a tiled one joined by their marks or by their order.

Strokes are lines; areas that are only filled are left out where there are strokes. A unit is 1/72 in (ISO 32000-2,
8.3.2.3) times the page's user unit. Clipping is not heeded: a line that is cut off on paper is read whole.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import FileError
from ..geometry import Floats
from .drawn import Drawn, Node, Sheet
from .limits import DEFAULT
from .pages import Page, joined_pages
from .source import printable, read_bytes
from .svg_curves import Pen
from .svg_units import Fault

if TYPE_CHECKING:
    from pypdf import PdfReader

MM_PER_POINT = 25.4 / 72
_PAINT: dict[str, tuple[bool | None, bool]] = {
    **{"S": (True, False), "s": (True, True), "B": (True, False), "B*": (True, False), "b": (True, True)},
    **{"b*": (True, True), "f": (False, True), "F": (False, True), "f*": (False, True), "n": (None, False)},
}
"""Whether an operator draws the line (None: neither line nor area), and whether it closes the path first."""
_COLOURS = {1: "g", 3: "rg", 4: "k"}


def read_pdf(path: Path, tolerance_mm: float) -> Sheet:
    """Read the lines of a PDF.

    Parameters
    ----------
    path : Path
    tolerance_mm : float
        Greatest distance between a curve and the chords that stand for it.

    Returns
    -------
    Sheet
        In mm, y up; layers are nodes of the tag ``layer``. What is said tells how pages were joined, or that they
        were not.

    Raises
    ------
    FileError
        When the file cannot be read, is locked or too big, or draws no line.
    """
    mend = "give the path of a PDF"
    content = read_bytes(path, DEFAULT.svg_bytes, missing=mend, not_plain=mend, too_big="split the drawing")
    if not content.strip():
        raise FileError(path, "file", "empty", "export the drawing as PDF again")
    logging.getLogger("pypdf").setLevel(logging.CRITICAL)
    from pypdf import PdfReader

    try:
        reader = PdfReader(io.BytesIO(content))
        if reader.is_encrypted and not reader.decrypt(""):
            raise FileError(path, "file", "locked by a password", "save it without a password")
        count = len(reader.pages)
        if count > DEFAULT.pdf_pages:
            raise FileError(path, "file", f"{count} pages", f"give at most {DEFAULT.pdf_pages}: only the pattern's own")
        pages = list(_pages(reader, Pen(tolerance_mm)))
    except FileError:
        raise
    except OverflowError as error:
        raise FileError(path, "file", str(error), "simplify the drawing, or split it into several files") from None
    except Exception as error:
        # a file made to break readers may break the library anywhere
        reason = printable(str(error).split("\n")[0][:60]) or type(error).__name__
        raise FileError(path, "file", f"damaged: {reason}", "export the drawing as PDF again") from None
    drawn = [page for page in pages if page.shapes]
    pictures = sum(page.pictures for page in pages)
    if not drawn:
        value = "only pictures, no lines" if pictures else "no lines"
        raise FileError(path, "drawing", value, "export it as a vector PDF, or trace it to lines")
    told = [f"{pictures} pictures are left out, for they are no lines"] if pictures else []
    if len(drawn) < len(pages):
        told.append(f"{len(pages) - len(drawn)} pages without lines are left out")
    sheet = joined_pages(drawn)
    return replace(sheet, told=(*told, *sheet.told))


def _pages(reader: PdfReader, pen: Pen) -> Iterator[Page]:
    hidden = _hidden_layers(reader)
    for number, page in enumerate(reader.pages):
        unit = float(page.get("/UserUnit", 1.0)) * MM_PER_POINT
        box = page.cropbox
        width, height = float(box.width) * unit, float(box.height) * unit
        matrix = np.array([[unit, 0, -float(box.left) * unit], [0, unit, -float(box.bottom) * unit], [0, 0, 1.0]])
        turns = int(page.get("/Rotate", 0) or 0) // 90 % 4
        for _ in range(turns):
            # a quarter clockwise, as the page is shown
            matrix = np.array([[0.0, 1, 0], [-1, 0, width], [0, 0, 1]]) @ matrix
            width, height = height, width
        run = _Run(pen, hidden, number)
        contents = page.get_contents()
        if contents is not None:
            run.stream(contents, page.get("/Resources"), _State(matrix), reader, 0)
        shapes = run.stroked or run.filled
        yield Page(tuple(shapes), (width, height), tuple(_texts(page, matrix)), run.pictures)


def _hidden_layers(reader: PdfReader) -> set[str]:
    """Names of the layers that are off when the file is opened."""
    try:
        settings = reader.root_object["/OCProperties"]["/D"]  # type: ignore[index]
        return {str(each.get_object()["/Name"]) for each in settings.get("/OFF", [])}
    except (KeyError, TypeError, AttributeError):
        return set()


def _texts(page: Any, matrix: Floats) -> Iterator[tuple[str, float, float]]:
    """What is written on a page and where, mm."""
    found: list[tuple[str, float, float]] = []

    def visit(text: str, cm: Sequence[float], tm: Sequence[float], *_: object) -> None:
        if text.strip():
            outer, inner = (np.array([[m[0], m[2], m[4]], [m[1], m[3], m[5]], [0, 0, 1.0]]) for m in (cm, tm))
            x, y, _ = matrix @ outer @ inner @ (0.0, 0.0, 1.0)
            found.append((printable(" ".join(text.split()))[: DEFAULT.name_letters], float(x), float(y)))

    try:
        page.extract_text(visitor_text=visit)
    except Exception:
        # words are only notes: the lines are read without them
        return
    yield from found


@dataclass(frozen=True, eq=False)
class _State:
    """What the operators of a page change and give back: the way to mm, and how lines look."""

    matrix: Floats
    colour: str = "#000000"
    dashed: bool = False


@dataclass
class _Run:
    pen: Pen
    hidden: set[str]
    page: int
    stroked: list[Drawn] = field(default_factory=list)
    filled: list[Drawn] = field(default_factory=list)
    pictures: int = 0
    steps: int = 0
    layers: list[str] = field(default_factory=list)

    def stream(self, contents: Any, resources: Any, state: _State, reader: PdfReader, depth: int) -> None:
        """Follow the operators of a page or of a form on it."""
        from pypdf.generic import ContentStream

        if depth > DEFAULT.pdf_depth:
            raise OverflowError(f"nested over {DEFAULT.pdf_depth} levels deep")
        resources = resources.get_object() if resources is not None else {}
        kept: list[_State] = []
        open_layers = len(self.layers)
        data: list[str] = []
        here = (0.0, 0.0)
        for operands, operator in ContentStream(contents, reader).operations:
            self.steps += 1
            if self.steps > DEFAULT.pdf_steps:
                raise OverflowError(f"over {DEFAULT.pdf_steps} drawing steps")
            name = operator.decode("latin-1") if isinstance(operator, bytes) else str(operator)
            if name == "q":
                kept.append(state)
            elif name == "Q":
                state = kept.pop() if kept else state
            elif name == "cm":
                a, b, c, d, e, f = (float(value) for value in operands)
                state = replace(state, matrix=state.matrix @ np.array([[a, c, e], [b, d, f], [0, 0, 1.0]]))
            elif name == "d":
                state = replace(state, dashed=any(float(value) > 0 for value in operands[0]))
            elif name == "gs":
                state = _with_dashes(state, resources, operands)
            elif name in ("G", "RG", "K", "SC", "SCN"):
                state = replace(state, colour=_hex([float(v) for v in operands if isinstance(v, (int, float))]))
            elif name in ("BDC", "BMC"):
                self.layers.append(_layer(name, operands, resources))
            elif name == "EMC":
                if len(self.layers) > open_layers:
                    self.layers.pop()
            elif name == "Do":
                self._form(operands, resources, state, reader, depth)
            elif name == "INLINE IMAGE":
                self.pictures += 1
            elif name in _PAINT:
                self._paint(name, "".join(data), state)
                data = []
            else:
                here = _drawn(name, [float(v) for v in operands] if name in _STEPS else [], data, here)
        del self.layers[open_layers:]

    def _form(self, operands: Any, resources: Any, state: _State, reader: PdfReader, depth: int) -> None:
        found = resources.get("/XObject", {}).get_object().get(operands[0])
        if found is None:
            return
        form = found.get_object()
        if form.get("/Subtype") != "/Form":
            self.pictures += 1
            return
        a, b, c, d, e, f = (float(value) for value in form.get("/Matrix", (1, 0, 0, 1, 0, 0)))
        inner = replace(state, matrix=state.matrix @ np.array([[a, c, e], [b, d, f], [0, 0, 1.0]]))
        self.stream(form, form.get("/Resources", resources), inner, reader, depth + 1)

    def _paint(self, name: str, data: str, state: _State) -> None:
        stroke, closes = _PAINT[name]
        if stroke is None or not data or any(layer in self.hidden for layer in self.layers):
            return
        if stroke and state.colour == "#ffffff":
            return  # white on white
        data += "Z" if closes and not data.endswith("Z") else ""
        nodes = [Node(-self.steps, "layer", printable(layer), "") for layer in self.layers if layer]
        nodes.append(Node(self.page * DEFAULT.pdf_steps + self.steps, "path", "", ""))
        try:
            lines = tuple(line for line in self.pen.draw(data, state.matrix) if len(line.points) > 1)
        except Fault as fault:
            self.stroked.append(Drawn(tuple(nodes), fault=fault))
            return
        if lines:
            shape = Drawn(tuple(nodes), lines, colour=state.colour if stroke else "", dashed=state.dashed)
            (self.stroked if stroke else self.filled).append(shape)


_STEPS = frozenset(["m", "l", "c", "v", "y", "h", "re"])


def _drawn(name: str, values: list[float], data: list[str], here: tuple[float, float]) -> tuple[float, float]:
    """Add a step of a path as path data of SVG; where it ends."""
    words = [repr(value) for value in values]
    if name == "m":
        data.append("M" + " ".join(words))
    elif name == "l":
        data.append("L" + " ".join(words))
    elif name == "c":
        data.append("C" + " ".join(words))
    elif name == "v":
        data.append("C" + " ".join([*map(repr, here), *words]))
    elif name == "y":
        data.append("C" + " ".join([*words, *words[2:]]))
    elif name == "h":
        data.append("Z")
        return here
    elif name == "re":
        x, y, w, h = values
        data.append(f"M{x!r} {y!r}L{x + w!r} {y!r}L{x + w!r} {y + h!r}L{x!r} {y + h!r}Z")
        return x, y
    return (values[-2], values[-1]) if len(values) > 1 else here


def _with_dashes(state: _State, resources: Any, operands: Any) -> _State:
    chosen = resources.get("/ExtGState", {}).get_object().get(operands[0])
    dashes = chosen.get_object().get("/D") if chosen is not None else None
    return state if dashes is None else replace(state, dashed=any(float(value) > 0 for value in dashes[0]))


def _layer(name: str, operands: Any, resources: Any) -> str:
    """The name of the layer that begins; empty for what is marked otherwise."""
    if name != "BDC" or operands[0] != "/OC":
        return ""
    found = resources.get("/Properties", {}).get_object().get(operands[1])
    return "" if found is None else " ".join(str(found.get_object().get("/Name", "")).split())


def _hex(values: Sequence[float]) -> str:
    """A colour of grey, red-green-blue or cyan-magenta-yellow-black as #rrggbb; empty for others."""
    kind = _COLOURS.get(len(values))
    if kind == "g":
        values = [values[0]] * 3
    elif kind == "k":
        c, m, y, k = values
        values = [(1 - c) * (1 - k), (1 - m) * (1 - k), (1 - y) * (1 - k)]
    elif kind is None:
        return ""
    return "#" + "".join(f"{round(255 * min(max(value, 0.0), 1.0)):02x}" for value in values)
