"""Numbers, lengths, transforms and viewports as SVG 2 and CSS Values 3 write them."""

from __future__ import annotations

import math
import re

import numpy as np

from ..geometry import Floats
from .limits import DEFAULT

MM_PER_PX = 25.4 / 96
"""CSS Values and Units 3, 6.2: 1 in = 2.54 cm = 96 px."""
PX = {"": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6, "pt": 96 / 72, "pc": 16.0}
"""Pixels in each absolute unit (units are the same in capitals); a plain number is in px."""

WHITE = r"[ \t\n\r\f]"
NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_LIST = re.compile(rf"{WHITE}*+(?:(?>{NUMBER})(?:{WHITE}*+,?{WHITE}*+(?>{NUMBER}))*+)?{WHITE}*+")
_NUMBER = re.compile(NUMBER)
_LENGTH = re.compile(rf"({NUMBER})(%|[A-Za-z]*)")
_TRANSFORM = re.compile(rf"{WHITE}*+([A-Za-z]+){WHITE}*+\(([^()]*)\){WHITE}*+,?{WHITE}*+")
_COUNTS = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}
"""How many numbers each transform takes."""
_ALIGN = re.compile(r"(?:(none)|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?")
_SHARES = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


class Fault(Exception):
    """What is wrong with one element, before anyone knows which part it belongs to."""

    def __init__(self, value: object, mend: str):
        self.value, self.mend = value, mend
        super().__init__(f"{value}: {mend}")


def numbers(text: str, name: str = "") -> list[float]:
    """The numbers of a list parted by white space or commas; ``name`` says whose they are when they are wrong.

    Raises
    ------
    Fault
        When something else stands among them or a number is beyond 1e9.
    """
    if not _LIST.fullmatch(text):
        raise Fault(f"{name} {text.strip()[:60] or 'empty'}".strip(), "give plain numbers parted by spaces or commas")
    values: list[float] = []
    for found in _NUMBER.finditer(text):
        digits = found[0]
        if len(digits) > DEFAULT.svg_digits or not abs(float(digits)) <= DEFAULT.greatest_number:
            mend = f"give numbers of at most {DEFAULT.greatest_number:g} and {DEFAULT.svg_digits} digits"
            raise Fault(f"{name} {digits[:40]}".strip(), mend)
        values.append(float(digits))
        if len(values) > DEFAULT.svg_numbers:
            raise Fault(f"{name} of over {DEFAULT.svg_numbers} numbers".strip(), "simplify the drawing")
    return values


def length(text: str, whole: float | None, name: str = "") -> float:
    """A length in px.

    Parameters
    ----------
    text : str
        A number with an absolute unit, none, or %.
    whole : float or None
        What 100 % means, in px; None when nothing tells.
    name : str
        Of the attribute, for the fault.

    Raises
    ------
    Fault
        For other units, or a percentage of nothing.
    """
    text = text.strip()
    said = f"{name} {text or 'empty'}".strip()
    found = _LENGTH.fullmatch(text)
    if not found:
        raise Fault(said, "give a length such as 120mm")
    (value,), unit = numbers(found[1], name), found[2].lower()
    if unit == "%":
        if whole is None:
            raise Fault(said, "a percentage of an unknown size: give the length in mm")
        return value / 100 * whole
    if unit not in PX:
        raise Fault(said, "unknown or relative unit: use mm, cm, in, px, pt, pc or Q")
    return value * PX[unit]


def transform(text: str) -> Floats:
    """The matrix of a ``transform`` attribute.

    Parameters
    ----------
    text : str
        A list of matrix, translate, scale, rotate, skewX and skewY.

    Returns
    -------
    np.ndarray, shape (3, 3)
        Maps (x, y, 1) inside the element to the coordinates outside.

    Raises
    ------
    Fault
        When a function is unknown, has too few or too many numbers, or squashes the drawing flat.
    """
    matrix = np.eye(3)
    position = 0
    while position < len(text):
        found = _TRANSFORM.match(text, position)
        if not found or found[1] not in _COUNTS:
            raise Fault(
                "transform " + text[position : position + 60].strip(),
                f"known transforms: {', '.join(_COUNTS)}, plain numbers inside",
            )
        values = numbers(found[2], f"transform {found[1]}")
        if len(values) not in _COUNTS[found[1]]:
            raise Fault(
                f"transform {found[0].strip()}", f"{found[1]} takes {' or '.join(map(str, _COUNTS[found[1]]))} numbers"
            )
        matrix = bounded(matrix @ _affine(*_coefficients(found[1], values)))
        position = found.end()
    return matrix


def _coefficients(name: str, values: list[float]) -> list[float]:
    """The a to f of one transform (CSS Transforms 1, 13)."""
    if name == "matrix":
        return values
    if name == "translate":
        return [1, 0, 0, 1, *(values + [0.0])[:2]]
    if name == "scale":
        return [values[0], 0, 0, values[-1], 0, 0]
    if name == "rotate":
        cos, sin = math.cos(math.radians(values[0])), math.sin(math.radians(values[0]))
        x, y = values[1:] or (0.0, 0.0)
        return [cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y]
    tan = math.tan(math.radians(values[0]))
    return [1, 0, tan, 1, 0, 0] if name == "skewX" else [1, tan, 0, 1, 0, 0]


def _affine(a: float, b: float, c: float, d: float, e: float, f: float) -> Floats:
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])


def bounded(matrix: Floats) -> Floats:
    """The matrix itself, once sure that it neither explodes nor flattens what it maps."""
    if not np.all(np.abs(matrix) <= DEFAULT.greatest_number):
        raise Fault("transforms multiply to over 1e9", "undo the transforms in the editor and draw at real size")
    if abs(np.linalg.det(matrix[:2, :2])) < DEFAULT.flat_determinant:
        raise Fault("a transform squashes the drawing flat", "delete the transform, or what it makes invisible")
    return matrix


def view_box(text: str | None) -> list[float] | None:
    """The four numbers of a ``viewBox``: min x, min y, width, height."""
    if text is None:
        return None
    box = numbers(text, "viewBox")
    if len(box) != 4 or box[2] <= 0 or box[3] <= 0:
        raise Fault(f"viewBox {text.strip()[:60]}", "give four numbers, the last two more than 0")
    return box


def viewport(x: float, y: float, width: float, height: float, box: list[float] | None, aspect: str | None) -> Floats:
    """The matrix from inside a viewport to outside (SVG 2, 8.2: equivalent transform of an SVG viewport).

    Parameters
    ----------
    x, y, width, height : float
        The viewport in the coordinates outside.
    box : list of 4 floats, or None
        Its viewBox.
    aspect : str or None
        Its preserveAspectRatio.

    Returns
    -------
    np.ndarray, shape (3, 3)
    """
    if box is None:
        return _affine(1, 0, 0, 1, x, y)
    words = (aspect or "").strip().removeprefix("defer").strip() or "xMidYMid"
    align = _ALIGN.fullmatch(words)
    if not align:
        raise Fault(f"preserveAspectRatio {words[:40]}", "give none, or xMidYMid and the like, with meet or slice")
    scale_x, scale_y = width / box[2], height / box[3]
    if not align[1]:
        scale_x = scale_y = (max if align[4] == "slice" else min)(scale_x, scale_y)
    share_x, share_y = (_SHARES[align[2]], _SHARES[align[3]]) if not align[1] else (0.0, 0.0)
    move_x = x - box[0] * scale_x + share_x * (width - box[2] * scale_x)
    move_y = y - box[1] * scale_y + share_y * (height - box[3] * scale_y)
    return bounded(_affine(scale_x, 0, 0, scale_y, move_x, move_y))


def diagonal(width: float | None, height: float | None) -> float | None:
    """What 100 % of a radius means (SVG 2, 8.9: normalised diagonal of the viewport)."""
    return None if width is None or height is None else math.sqrt((width**2 + height**2) / 2)
