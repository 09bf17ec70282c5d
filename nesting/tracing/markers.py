"""The marker sheets: what is printed on them, at true size, and where each marker sits on its page."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, TypeAlias
from xml.sax.saxutils import escape

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from ..atomic import write_bytes, write_text
from ..errors import ModelError
from ..geometry import rings
from .arrays import Floats

Drawing: TypeAlias = list[tuple[Any, ...]]
"""Areas, lines and texts in mm, y up: each its kind, then what it takes."""
SHEET_MM = (210.0, 297.0)
MARKER_MM = 70.0
CELL_MM = 10.0
MARKERS_A_PAGE = 4
MOST_PAGES = 8
# Everything printed keeps inside the area that A4 and US Letter paper share, with white around each marker.
_LEFT, _RIGHT, _BOTTOM, _TOP = 12.0, 128.0, 21.0, 206.0
_PLACES = ((_LEFT, _TOP), (_RIGHT, _TOP), (_RIGHT, _BOTTOM), (_LEFT, _BOTTOM))
_LINES = (
    "1  Print at 100 % (actual size), never 'fit to page', on plain white matt paper.",
    "2  Measure the line above. If it is not 100 mm, change the print scale and print again.",
    "3  Lay the hide, or patterns of card, flat on ground of another colour that shows all round.",
    "4  Lay the sheets flat around them, spread out, close by, none on leather or card, at any angle;",
    "    on a laser's bed: sheet 1 upright in its bottom left corner, another in another corner.",
    "    Print each sheet once: no two may show the same number.",
    "5  Photograph from above: all of it, ground on every side, every sheet. No strong shadows.",
)


def write_marker_sheets(folder: str | Path, pages: int = 4) -> list[Path]:
    """Write the marker sheets to print: one PDF of all pages and one SVG a page, at true size on A4.

    Parameters
    ----------
    folder : str or Path
        Made if it is missing.
    pages : int
        How many different sheets, 1 to 8.

    Returns
    -------
    list of Path
        The PDF, then the SVG files.

    Raises
    ------
    ModelError
        If ``pages`` is not 1 to 8.
    """
    if not 1 <= pages <= MOST_PAGES:
        raise ModelError("marker sheets", pages, f"ask for 1 to {MOST_PAGES} pages")
    folder = Path(folder)
    drawings = [_drawing(page, pages) for page in range(pages)]
    pdf = folder / "marker-sheets.pdf"
    write_bytes(pdf, _pdf(drawings))
    paths = [pdf]
    for number, drawing in enumerate(drawings, start=1):
        paths.append(folder / f"marker-sheet-{number}.svg")
        write_text(paths[-1], _svg(drawing))
    return paths


def marker_place(marker: int) -> tuple[int, Floats]:
    """The page of a marker and its corners there.

    Parameters
    ----------
    marker : int
        Marker number, from 0.

    Returns
    -------
    page : int
        Page number, from 0.
    corners : numpy.ndarray
        (4, 2) mm from the page's lower left corner, y up: top left, top right, bottom right, bottom left as printed.
    """
    page, place = divmod(marker, MARKERS_A_PAGE)
    x, y = _PLACES[place]
    return page, np.array([(x, y + MARKER_MM), (x + MARKER_MM, y + MARKER_MM), (x + MARKER_MM, y), (x, y)])


@lru_cache(maxsize=1)
def dictionary() -> Any:
    """The ArUco dictionary of the sheets (5 x 5 cells; the 50 markers that differ most)."""
    import cv2

    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)


def _drawing(page: int, pages: int) -> Drawing:
    """A page, one description for both kinds of file."""
    middle = SHEET_MM[0] / 2
    drawing: Drawing = [("area", _marker_area(page * MARKERS_A_PAGE + place)) for place in range(MARKERS_A_PAGE)]
    for row, text in ((262.0, "sheet"), (244.0, f"{page + 1}"), (233.0, f"of {pages}"), (51.0, f"{page + 1}")):
        drawing.append(("text", middle, row, 16.0 if text.isdigit() else 5.0, text, "middle"))
    left, right, height = middle - 50, middle + 50, 178.0
    drawing.append(("text", middle, 186.0, 4.6, "This line is 100 mm long. Measure it before use.", "middle"))
    drawing.append(("line", left, height, right, height, 0.35))
    for tick in range(0, 101, 10):
        drawing.append(("line", left + tick, height - (4 if tick % 50 == 0 else 2.5), left + tick, height, 0.25))
        drawing.append(("text", left + tick, height - 8, 3.0, f"{tick}", "middle"))
    for number, text in enumerate(_LINES):
        drawing.append(("text", 14.0, 157.0 - 9.5 * number, 3.7, text, "start"))
    return drawing


def _marker_area(marker: int) -> BaseGeometry:
    """The black of a marker as one area, so that no viewer shows seams between its cells."""
    _, corners = marker_place(marker)
    left, bottom = corners[3]
    cells = round(MARKER_MM / CELL_MM)
    dark = dictionary().generateImageMarker(marker, cells, np.empty((cells, cells), np.uint8), 1) == 0
    rows, columns = np.nonzero(dark)
    x, y = left + columns * CELL_MM, bottom + (cells - 1 - rows) * CELL_MM
    return shapely.union_all(shapely.box(x, y, x + CELL_MM, y + CELL_MM))


def _rings(area: BaseGeometry) -> list[Floats]:
    return [np.asarray(ring.coords) for ring in rings(area)]


def _svg(drawing: Drawing) -> str:
    width, height = SHEET_MM
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">',
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>',
    ]
    for kind, *rest in drawing:
        if kind == "area":
            path = " ".join(
                "M" + " L".join(f"{x:g},{height - y:g}" for x, y in ring[:-1]) + " Z" for ring in _rings(rest[0])
            )
            lines.append(f'<path d="{path}" fill="#000000" fill-rule="evenodd"/>')
        elif kind == "line":
            x0, y0, x1, y1, thick = rest
            ends = f'x1="{x0:g}" y1="{height - y0:g}" x2="{x1:g}" y2="{height - y1:g}"'
            lines.append(f'<line {ends} stroke="#000000" stroke-width="{thick:g}"/>')
        else:
            x, y, size, text, anchor = rest
            place = f'x="{x:g}" y="{height - y:g}" font-size="{size:g}" text-anchor="{anchor}"'
            lines.append(f'<text {place} font-family="sans-serif" xml:space="preserve">{escape(text)}</text>')
    return "\n".join([*lines, "</svg>", ""])


def _pdf(drawings: list[Drawing]) -> bytes:
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    content = BytesIO()
    with PdfPages(content, metadata={"Title": "Marker sheets", "CreationDate": None}) as pdf:
        for drawing in drawings:
            figure = Figure(figsize=(SHEET_MM[0] / 25.4, SHEET_MM[1] / 25.4))
            axes = figure.add_axes((0, 0, 1, 1), xlim=(0, SHEET_MM[0]), ylim=(0, SHEET_MM[1]))
            axes.axis("off")
            for kind, *rest in drawing:
                if kind == "area":
                    outline = Outline.make_compound_path(*(Outline(ring, closed=True) for ring in _rings(rest[0])))
                    axes.add_patch(PathPatch(outline, facecolor="black", linewidth=0))
                elif kind == "line":
                    x0, y0, x1, y1, thick = rest
                    axes.plot((x0, x1), (y0, y1), color="black", linewidth=thick * 72 / 25.4, solid_capstyle="butt")
                else:
                    x, y, size, text, anchor = rest
                    side = "center" if anchor == "middle" else "left"
                    axes.text(x, y, text, fontsize=size * 72 / 25.4, ha=side, va="baseline")
            pdf.savefig(figure)
    return content.getvalue()


def sheet_outline() -> Polygon:
    """A page's paper in its own coordinates, mm."""
    return box(0, 0, *SHEET_MM)
