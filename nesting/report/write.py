"""What a layout leaves for people: the report, a picture of every hide, and where to cut it."""

from __future__ import annotations

from pathlib import Path

from ..costs.figures import Figures, figures
from ..model import Layout
from .drawing import draw_hide, save
from .guide import draw_guide, guide_name
from .limits import DEFAULT, ReportLimits
from .page import write_report


def write_reports(
    layout: Layout, folder: Path, numbers: Figures | None = None, limits: ReportLimits = DEFAULT
) -> list[Path]:
    """Write ``report.html``, a picture of every hide that is cut and a guide for every hide with knife lines.

    Parameters
    ----------
    layout : Layout
    folder : Path
    numbers : dict, optional
        As `figures.figures` gives them, when they are known already.
    limits : ReportLimits, optional

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    FileError
        When one cannot be written.
    """
    numbers = numbers or figures(layout)
    files = [write_report(layout, numbers, folder, limits)]
    for row in numbers["hides"]:
        if row["cut"]:
            files += save(draw_hide(layout, row["hide"], row), folder / f"hide-{row['hide']}")
        if any(cut.hide == row["hide"] for cut in layout.cuts):
            files += save(draw_guide(layout, row["hide"]), folder / guide_name(row["hide"]))
    return files
