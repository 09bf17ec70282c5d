"""A bed load as DXF: lines and arcs of release 12 alone, in mm from the bed's bottom left corner, y up."""

from __future__ import annotations

import io
import math
from typing import Any

from ..model import OPERATIONS, Curve, Layout
from ..model.curves import arc
from .load import BedLoad
from .svg import Sheet, about, pose_words, title

COLOURS = {"engrave": 5, "stitch": 3, "cutout": 6, "outline": 1}
"""Colours by AutoCAD's index, which release 12 knows alone: blue, green, magenta, red."""
FILL = "engrave-fill"
"""Layer of closed lines to fill with rows."""


def dxf_drawing(layout: Layout, load: BedLoad) -> str:
    """A DXF of a load: a layer an operation, lines in burning order, each in one piece.

    Circles are CIRCLEs, straight slits LINEs, single arcs ARCs, and all else POLYLINEs with bulges.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a setting and a pose.

    Returns
    -------
    str
        The title, with the mark of its layout, and what to know before burning stand at its top as comments.
    """
    sheet = Sheet(load)
    known = [f"layout {layout.mark}", f"pose {pose_words(load)}", title(layout, load), "unit: mm", *about(layout, load)]
    return commented(known) + entities(
        [
            (FILL if line.fill is not None else line.operation, sheet.put(curve))
            for operation in OPERATIONS
            for line in load.lines
            if line.operation == operation
            for curve in line.edges or (line.curve,)
        ]
    )


def commented(texts: list[str]) -> str:
    """Lines of text as comments of a DXF, to stand at its top."""
    return "".join(f"999\n{_ascii(text)}\n" for text in texts)


def entities(lines: list[tuple[str, Curve]]) -> str:
    """A DXF of lines, each with the layer it is on."""
    from ezdxf.addons.r12writer import r12writer

    stream = io.StringIO()
    with r12writer(stream) as dxf:
        for layer, curve in lines:
            look: dict[str, Any] = {"layer": layer, "color": COLOURS[layer.removesuffix("-fill")]}
            (x, y, bulge), last = curve.nodes[0], curve.nodes[-1]
            if circle := curve.circle:
                dxf.add_circle((circle.x, circle.y), circle.radius, **look)
            elif len(curve.nodes) > 2 or curve.closed:
                dxf.add_polyline_2d(curve.nodes, format="xyb", closed=curve.closed, **look)
            elif bulge:
                of = arc(complex(x, y), complex(*last[:2]), bulge)
                turns = sorted((of.start, of.start + of.sweep))
                start, end = (math.degrees(turn) % 360.0 for turn in turns)
                dxf.add_arc((of.centre.real, of.centre.imag), of.radius, start, end, **look)
            else:
                dxf.add_line((x, y), last[:2], **look)
    return stream.getvalue()


def _ascii(text: str) -> str:
    """Release 12 knows no other letters, and a comment is one line."""
    return " ".join(text.encode("ascii", "replace").decode().split())
