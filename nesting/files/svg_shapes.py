"""The basic shapes of SVG 2 as path data."""

from __future__ import annotations

from .svg_units import Fault, diagonal, length, numbers

SHAPES = frozenset(["path", "rect", "circle", "ellipse", "line", "polyline", "polygon"])


def path_data(name: str, style: dict[str, str], size: tuple[float | None, float | None]) -> str:
    """The equivalent path of a shape (SVG 2, chapters 9 and 10).

    Parameters
    ----------
    name : str
        One of SHAPES.
    style : dict
        Its attributes.
    size : (width, height)
        Of the viewport in px, for percentages; None where nothing tells.

    Returns
    -------
    str
        Empty when the shape is to draw nothing, such as a circle of radius 0.

    Raises
    ------
    Fault
        When a length or list cannot be read.
    """
    width, height = size

    def across(attribute: str) -> float:
        return length(style.get(attribute, "0"), width, attribute)

    def down(attribute: str) -> float:
        return length(style.get(attribute, "0"), height, attribute)

    if name == "path":
        return style.get("d", "")
    if name == "line":
        return f"M{across('x1')!r} {down('y1')!r} {across('x2')!r} {down('y2')!r}"
    if name in ("polyline", "polygon"):
        return _poly(style.get("points", ""), closed=name == "polygon")
    if name == "circle":
        radius = _side("r", length(style.get("r", "0"), diagonal(width, height), "r"))
        return _ellipse(across("cx"), down("cy"), radius, radius)
    if name == "ellipse":
        return _ellipse(across("cx"), down("cy"), *_radii(style, size))
    w, h = _side("width", across("width")), _side("height", down("height"))
    rx, ry = _radii(style, size)
    return _rect(across("x"), down("y"), w, h, min(rx, w / 2), min(ry, h / 2))


def _poly(points: str, closed: bool) -> str:
    values = numbers(points, "points") if points.strip() else []
    if len(values) % 2:
        raise Fault(f"{len(values)} numbers in points", "points are pairs of x and y: draw it again")
    return f"M{points}{'Z' if closed else ''}" if values else ""


def _radii(style: dict[str, str], size: tuple[float | None, float | None]) -> tuple[float, float]:
    """rx and ry; one that is not given is as the other."""
    given = [style.get(name, "auto").strip() for name in ("rx", "ry")]
    rx, ry = (
        None if text == "auto" else _side(name, length(text, whole, name))
        for name, text, whole in zip(("rx", "ry"), given, size)
    )
    rx, ry = (ry if rx is None else rx), (rx if ry is None else ry)
    return rx or 0.0, ry or 0.0


def _side(name: str, value: float) -> float:
    if value < 0:
        raise Fault(f"{name} {value:g}", "give 0 or more")
    return value


def _ellipse(x: float, y: float, rx: float, ry: float) -> str:
    if not rx or not ry:
        return ""
    corners = [(x, y + ry), (x - rx, y), (x, y - ry), (x + rx, y)]
    return f"M{x + rx!r} {y!r}" + "".join(f"A{rx!r} {ry!r} 0 0 1 {a!r} {b!r}" for a, b in corners) + "Z"


def _rect(x: float, y: float, w: float, h: float, rx: float, ry: float) -> str:
    if not w or not h:
        return ""
    if not rx or not ry:
        return f"M{x!r} {y!r}H{x + w!r}V{y + h!r}H{x!r}Z"
    arc = f"A{rx!r} {ry!r} 0 0 1"
    return (
        f"M{x + rx!r} {y!r}H{x + w - rx!r}{arc} {x + w!r} {y + ry!r}V{y + h - ry!r}{arc} {x + w - rx!r} {y + h!r}"
        f"H{x + rx!r}{arc} {x!r} {y + h - ry!r}V{y + ry!r}{arc} {x + rx!r} {y!r}Z"
    )
