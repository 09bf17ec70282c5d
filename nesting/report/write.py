"""What a layout leaves for people: the report, a picture of every hide, and where to cut it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..costs.figures import Figures, figures
from ..costs.offcuts import offcuts
from ..model import Layout
from .drawing import Drawn, draw_hide, save
from .guide import draw_guide, guide_name
from .limits import DEFAULT, ReportLimits
from .page import write_report


def write_reports(
    layout: Layout,
    folder: Path,
    numbers: Figures | None = None,
    limits: ReportLimits = DEFAULT,
    findings: Sequence[object] | None = None,
) -> list[Path]:
    """Write ``report.html``, a picture of every hide that is cut and a guide for every hide with knife lines, or
    with parts cut out of it first.

    Parameters
    ----------
    layout : Layout
    folder : Path
    numbers : dict, optional
        As `figures.figures` gives them, when they are known already.
    limits : ReportLimits, optional
    findings : sequence, optional
        What the referee found in this very layout, when it is known already.

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
    cut = [row for row in numbers["hides"] if row["cut"]]
    remains = {row["hide"]: offcuts(layout, row["hide"]) for row in cut}
    hides = {row["hide"]: Drawn(draw_hide(layout, row["hide"], row, remains[row["hide"]])) for row in cut}
    kept = {name: found for name, (found, _) in remains.items()}
    files = [write_report(layout, numbers, folder, limits, findings, hides, kept)]
    for row in numbers["hides"]:
        if row["cut"]:
            files += save(hides[row["hide"]], folder / f"hide-{row['hide']}")
        if any(line.hide == row["hide"] for line in layout.cuts) or layout.cut_out(row["hide"]):
            files += save(draw_guide(layout, row["hide"]), folder / guide_name(row["hide"]))
    return files
