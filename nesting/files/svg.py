"""Every drawn line of an SVG file, in mm, with the names of the groups it lies in.

Read as SVG 2 says, at the real size of the document (96 px = 1 in), y pointing up from its lower edge. What cannot be
read as a line (pictures, text, clipping, scripts) is kept as a fault of the element it stands on, for the caller to
judge: nothing is left out without a word except what the drawing itself hides.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..errors import FileError
from ..geometry import Floats
from .drawn import Drawn, Node
from .limits import DEFAULT
from .source import printable
from .svg_curves import Line, Pen
from .svg_shapes import SHAPES, path_data
from .svg_source import load_svg, local_name
from .svg_style import Stylesheet
from .svg_units import MM_PER_PX, Fault, bounded, length, transform, view_box, viewport

GROUPS = frozenset(["g", "a", "svg", "symbol", "use", "switch"])
_NOT_DRAWN = frozenset(
    "defs title desc metadata style clipPath mask filter marker pattern linearGradient radialGradient solidColor hatch"
    " meshgradient symbol view cursor font font-face color-profile".split()
)
_TEXT = frozenset(["text", "flowRoot", "foreignObject"])
_MOVING = frozenset(["script", "animate", "animateTransform", "animateMotion", "set"])
_CONDITIONS = ("requiredExtensions", "requiredFeatures", "systemLanguage")
_HREF = "{http://www.w3.org/1999/xlink}href"
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{2,5})_")
_SIZE_MEND = 'give the document a real size, such as width="300mm" height="200mm"'


@dataclass(frozen=True, eq=False)
class _Place:
    """Where the reader stands: the way to mm, the size of the viewport in px, and what it came through."""

    matrix: Floats
    size: tuple[float | None, float | None]
    trail: tuple[Node, ...] = ()
    windows: tuple[Polygon, ...] = ()
    used: tuple[str, ...] = ()
    visibility: str = "visible"
    depth: int = 0
    stroke: str = ""
    dashes: str = "none"


def read_svg(
    path: Path,
    tolerance_mm: float,
    ignored: Callable[[Node], bool] = lambda node: False,
    content: bytes | None = None,
) -> tuple[Drawn, ...]:
    """Read the shapes of an SVG file.

    Parameters
    ----------
    path : Path
    tolerance_mm : float
        Greatest distance between a curve and the chords that stand for it, in mm of the real size.
    ignored : callable
        Whether to pass over a group or shape with all that is in it.
    content : bytes, optional
        What stands in the file, where that is read already.

    Returns
    -------
    tuple of Drawn
        In drawing order.

    Raises
    ------
    FileError
        When the file is no bounded, harmless SVG or has no real size.
    """
    root = load_svg(path, content)
    try:
        reader = _Reader(path, root, tolerance_mm, ignored)
        reader.children(root, reader.page())
    except Fault as fault:
        raise FileError(path, "document", printable(str(fault.value)), fault.mend) from None
    except OverflowError as error:
        mend = "simplify the drawing; if it is simple, its units are usually wrong: set its width and height in mm"
        raise FileError(path, "file", str(error), mend) from None
    return tuple(reader.drawn)


class _Reader:
    def __init__(self, path: Path, root: Element, tolerance_mm: float, ignored: Callable[[Node], bool]):
        self.path, self.root, self.ignored = path, root, ignored
        self.pen = Pen(tolerance_mm)
        self.drawn: list[Drawn] = []
        self.visits = self.copies = 0
        self.by_id: dict[str, Element | None] = {}
        for element in root.iter():
            if name := element.get("id"):
                self.by_id[name] = None if name in self.by_id else element
        self.styles = Stylesheet(
            "".join(element.itertext()) for element in root.iter() if local_name(element) == "style"
        )

    def page(self) -> _Place:
        """The document's own size and the way from its units to mm."""
        style = self.styles.of(self.root)
        _refuse_effects(style)
        if style.get("transform", "none") != "none":
            raise Fault(f"transform {style['transform']}", "move it from the document to a group")
        box = view_box(style.get("viewBox"))
        width, height = (self._page_side(style.get(side)) for side in ("width", "height"))
        if box:
            if width is None:
                width = box[2] if height is None else box[2] * height / box[3]
            height = box[3] * width / box[2] if height is None else height
        bottom = (height or 0.0) * MM_PER_PX
        to_mm = np.array([[MM_PER_PX, 0.0, 0.0], [0.0, -MM_PER_PX, bottom], [0.0, 0.0, 1.0]])
        inside = viewport(0, 0, width or 0.0, height or 0.0, box, style.get("preserveAspectRatio"))
        return _Place(to_mm @ inside, (box[2], box[3]) if box else (width, height))

    @staticmethod
    def _page_side(text: str | None) -> float | None:
        if text is None or text.strip() == "auto":
            return None
        try:
            side = length(text, None, "size")
        except Fault as fault:
            raise Fault(fault.value, _SIZE_MEND) from None
        if side <= 0:
            raise Fault(f"size {text.strip()}", _SIZE_MEND)
        return side

    def children(self, element: Element, place: _Place) -> None:
        """Draw what is in a group."""
        for child in element:
            self.visit(child, place)

    def visit(self, element: Element, place: _Place, use: dict[str, str] | None = None) -> None:
        """Draw one element; ``use`` holds the attributes of the ``use`` that calls for it."""
        self.visits += 1
        self.copies += bool(place.used)
        if self.copies > DEFAULT.svg_copies:
            raise FileError(
                self.path, "file", f"copies over {DEFAULT.svg_copies} elements by use", "use fewer copies of copies"
            )
        if place.depth > DEFAULT.svg_depth:
            raise FileError(
                self.path, "file", f"nested over {DEFAULT.svg_depth} levels deep", "take copies of copies apart"
            )
        name = local_name(element)
        if not name or (name in _NOT_DRAWN and not (name == "symbol" and use is not None)):
            return
        node = Node(self.visits, name, _label(element), _unescaped(element.get("id", "")))
        if self.ignored(node):
            return
        trail = (*place.trail, node)
        try:
            style = self.styles.of(element)
            if style.get("display", "").strip() == "none":
                return
            visibility = style.get("visibility", "inherit").strip()
            if visibility != "inherit":
                place = replace(place, visibility=visibility)
            stroke, dashes = _look(style, "stroke", place.stroke), _look(style, "stroke-dasharray", place.dashes)
            inner = replace(place, trail=trail, depth=place.depth + 1, stroke=stroke, dashes=dashes)
            self._draw(name, element, style, inner, use)
        except Fault as fault:
            self.drawn.append(Drawn(trail, fault=fault))

    def _draw(
        self, name: str, element: Element, style: dict[str, str], place: _Place, use: dict[str, str] | None
    ) -> None:
        if name not in GROUPS and name not in _MOVING and place.visibility in ("hidden", "collapse"):
            return
        if name in _TEXT:
            self._text(element, style, place)
            return
        _refuse_tag(name)
        clip = style.get("clip-path", "none").strip()
        if clip.startswith("url("):
            place = replace(place, windows=place.windows + self._clip(clip, style, place))
            style = style | {"clip-path": "none"}
        _refuse_effects(style)
        if any(condition in style for condition in _CONDITIONS):
            raise Fault("shown only under a condition", "take the condition out")
        moved = style.get("transform", "none").strip()
        if moved != "none":
            if style.get("transform-origin", "0 0").replace("px", "").split() not in (["0", "0"], ["0"]):
                raise Fault(f"transform-origin {style['transform-origin']}", "apply the transform in the editor")
            place = replace(place, matrix=bounded(place.matrix @ transform(moved)))
        if name in SHAPES:
            lines = self._lines(name, style, place)
            self.drawn.append(Drawn(place.trail, lines, colour=hex_colour(place.stroke), dashed=_dashed(place.dashes)))
        elif name == "use":
            self._use(style, place)
        elif name in ("svg", "symbol"):
            self.children(element, self._window(style, place, use or {}))
        elif name == "switch":
            for child in list(_choices(element))[:1]:
                self.visit(child, place)
        else:
            self.children(element, place)

    def _text(self, element: Element, style: dict[str, str], place: _Place) -> None:
        """What stands there, and about where; only a fault where lines are expected of it."""
        try:
            matrix = place.matrix @ transform(style.get("transform", "none").strip().replace("none", ""))
            x, y = (length(style.get(name, "0").split(" ")[0], None, name) for name in "xy")
        except Fault:
            matrix, x, y = place.matrix, 0.0, 0.0
        at = matrix @ np.array([x, y, 1.0])
        fault = Fault("text", "turn text to paths, delete it, or put it in a group labelled notes")
        words = _one_line(" ".join("".join(element.itertext()).split()))[: DEFAULT.name_letters]
        self.drawn.append(Drawn(place.trail, fault=fault, text=words, place=(float(at[0]), float(at[1]))))

    def _lines(self, name: str, style: dict[str, str], place: _Place) -> tuple[Line, ...]:
        lines = self.pen.draw(path_data(name, style, place.size), place.matrix)
        for window in place.windows:
            if not all(window.covers(shapely.MultiPoint(line.points)) for line in lines):
                raise Fault(
                    "leaves the nested svg, symbol or clip that cuts it off",
                    "enlarge that, or take the drawing out of it",
                )
        return lines

    def _clip(self, clip: str, style: dict[str, str], place: _Place) -> tuple[Polygon, ...]:
        """The windows of a clip that is one plain shape; what it cuts off of a line is refused where it is drawn."""
        refused = Fault(
            f"clip-path {clip}", "release clips, masks and filters in the editor and draw what is to be cut"
        )
        target = self.by_id.get(clip[4:].strip(" \"')#"))
        shapes = [] if target is None else [child for child in target if local_name(child)]
        if target is None or local_name(target) != "clipPath" or len(shapes) != 1:
            raise refused
        own = self.styles.of(shapes[0])
        plain = (target.get("clipPathUnits", "userSpaceOnUse"), own.get("clip-path", "none"))
        if local_name(shapes[0]) not in SHAPES or plain != ("userSpaceOnUse", "none"):
            raise refused
        matrix = place.matrix
        for moved in (style.get("transform", "none"), target.get("transform", "none"), own.get("transform", "none")):
            if moved.strip() != "none":
                matrix = bounded(matrix @ transform(moved.strip()))
        lines = self.pen.draw(path_data(local_name(shapes[0]), own, place.size), matrix)
        window = Polygon(lines[0].points) if len(lines) == 1 and len(lines[0].points) > 2 else Polygon()
        if not window.is_valid or window.area <= 0:
            raise refused
        return (window.buffer(DEFAULT.clip_slack_mm, join_style="mitre"),)

    def _use(self, style: dict[str, str], place: _Place) -> None:
        href = style.get("href", style.get(_HREF, "")).strip()
        if not href.startswith("#"):
            raise Fault(f"use of {href[:60] or 'nothing'}", "only things in this same file are used: copy it in")
        target = self.by_id.get(href[1:])
        if target is None:
            value = f"use of {href[:60]}"
            raise Fault(
                value, "two things have this id" if href[1:] in self.by_id else "nothing in this file has this id"
            )
        if href in place.used:
            raise Fault(f"use of {href[:60]}", "it contains itself: break the ring")
        if local_name(target) not in GROUPS | SHAPES | _TEXT | {"image"}:
            raise Fault(f"use of {href[:60]}", "use only groups, symbols and shapes")
        x, y = (length(style.get(name, "0"), whole, name) for name, whole in zip("xy", place.size))
        matrix = place.matrix @ np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
        self.visit(target, replace(place, matrix=bounded(matrix), used=(*place.used, href)), use=style)

    def _window(self, style: dict[str, str], place: _Place, use: dict[str, str]) -> _Place:
        """Inside a nested svg or a used symbol: its own viewport, which also clips unless its overflow is visible."""
        if any(style.get(name, "0") != "0" for name in ("refX", "refY")):
            raise Fault("symbol with a reference point", "take refX and refY out")
        x, y = (length(style.get(name, "0"), whole, name) for name, whole in zip("xy", place.size))
        sides = []
        for side, whole in zip(("width", "height"), place.size):
            text = use.get(side, "auto").strip()
            text = style.get(side, "auto").strip() if text == "auto" else text
            sides.append(length("100%" if text == "auto" else text, whole, side))
        width, height = sides
        if width <= 0 or height <= 0:
            raise Fault(f"size {width:g} by {height:g}", "give the nested svg or symbol a width and height more than 0")
        box = view_box(style.get("viewBox"))
        windows = place.windows
        if style.get("overflow", "hidden").strip() not in ("visible", "auto"):
            corners = np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])
            mapped = corners @ place.matrix[:2, :2].T + place.matrix[:2, 2]
            windows += (Polygon(mapped).buffer(DEFAULT.clip_slack_mm, join_style="mitre"),)
        matrix = bounded(place.matrix @ viewport(x, y, width, height, box, style.get("preserveAspectRatio")))
        return replace(place, matrix=matrix, size=(box[2], box[3]) if box else (width, height), windows=windows)


def hex_colour(name: str) -> str:
    """A colour of CSS as #rrggbb; empty where there is none or it is not understood."""
    from PIL import ImageColor  # loaded where colours are asked for

    try:
        return "#{:02x}{:02x}{:02x}".format(*ImageColor.getrgb(name)[:3])
    except ValueError:
        return ""


def _look(style: dict[str, str], name: str, inherited: str) -> str:
    value = style.get(name, "inherit").strip()
    return inherited if value == "inherit" else value


def _dashed(dashes: str) -> bool:
    """Whether a stroke-dasharray leaves gaps."""
    try:
        return any(length(each, None) > 0 for each in dashes.replace(",", " ").split())
    except Fault:
        return False


def _refuse_tag(name: str) -> None:
    if name == "image":
        raise Fault("raster image", "trace it to paths, delete it, or put it in a group labelled guide")
    if name in _MOVING:
        raise Fault(name, "delete scripts and animations: a pattern stands still")
    if name not in GROUPS and name not in SHAPES:
        raise Fault(name[:40], "this kind of element cannot be read: turn it to paths")


def _refuse_effects(style: dict[str, str]) -> None:
    for effect in ("clip-path", "mask", "filter"):
        if style.get(effect, "none").strip() not in ("none", ""):
            raise Fault(
                f"{effect} {style[effect]}", "release clips, masks and filters in the editor and draw what is to be cut"
            )
    for effect in ("translate", "rotate", "scale", "zoom", "offset-path"):
        if style.get(effect, "none").strip() not in ("none", "", "normal"):
            raise Fault(f"style {effect}: {style[effect]}", "use the transform attribute instead")


def _choices(element: Element) -> Iterator[Element]:
    """The children of a switch that need nothing this reader lacks."""
    return (
        child for child in element if local_name(child) and not any(name in child.attrib for name in _CONDITIONS[:2])
    )


def _label(element: Element) -> str:
    """What a person called it: an attribute ``label`` of any editor, ``data-name``, or a title."""
    for name, value in element.attrib.items():
        if name.rpartition("}")[2] == "label" and value.strip():
            return _one_line(value)
    if name := _one_line(element.get("data-name", "")):
        return name
    return next((_one_line("".join(child.itertext())) for child in element if local_name(child) == "title"), "")


def _unescaped(name: str) -> str:
    """An id as it was typed: some editors write a space as _x0020_."""

    def letter(found: re.Match[str]) -> str:
        typed = chr(int(found[1], 16))
        return typed if typed.isprintable() else found[0]

    return _one_line(_ESCAPE.sub(letter, name))


def _one_line(text: str) -> str:
    return " ".join(text.split())
