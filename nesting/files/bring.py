"""A drawing of any kind that is known: SVG, DXF or PDF."""

from __future__ import annotations

from pathlib import Path

from ..errors import FileError
from .labels import NO_LABELS, Labels
from .limits import DEFAULT
from .patterns import Drawing, read_drawing, understood

ENDINGS = (".svg", ".dxf", ".pdf")


def read_any(path: Path, unit: str = "", labels: Labels = NO_LABELS) -> Drawing:
    """Read a drawing by its ending.

    Parameters
    ----------
    path : Path
    unit : str
        What a DXF drawing is in, whatever it says; empty for what it says.
    labels : mapping of str to str
        What colours and names mean, see `patterns.Labels`.

    Raises
    ------
    FileError
        For all that is no clear instruction to cut, or a kind of file that is not known.
    """
    ending = path.suffix.lower()
    if ending == ".svg":
        return read_drawing(path, labels=labels)
    if ending == ".dxf":
        from .dxf import read_dxf

        return understood(path, read_dxf(path, DEFAULT.chord_mm, unit), labels=labels)
    if ending == ".pdf":
        from .pdf import read_pdf

        return understood(path, read_pdf(path, DEFAULT.tiled_chord_mm), labels=labels)
    raise FileError(path, "file", ending or "no ending", f"give a drawing that ends with {', '.join(ENDINGS)}")
