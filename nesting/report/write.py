"""What a layout leaves for people: the report, a picture of every hide, and where to cut it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib.figure import Figure

from ..costs.figures import Figures, figures
from ..costs.offcuts import Remains, offcuts
from ..model import Layout
from ..workers import Crew, cores
from .drawing import Drawn, draw_hide, hide_name, save
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
    many = len(cut) > limits.most_hides_pictured
    shown = {} if many else {row["hide"]: Drawn(_picture(layout, row, remains)) for row in cut}
    kept = {name: found for name, (found, _) in remains.items()}
    files = [write_report(layout, numbers, folder, limits, findings, shown, kept)]
    with Crew(_Drawing(layout, folder, remains, shown), cores() if many else 1) as crew:
        for drawn in crew.each(_draw, [(row,) for row in numbers["hides"]]):
            files += drawn
    if crew.interrupted:
        raise KeyboardInterrupt
    return files


class _Drawing(NamedTuple):
    """What is drawn, where to, with the offcuts of each hide and the pictures there are already."""

    layout: Layout
    folder: Path
    remains: Mapping[str, Remains]
    shown: dict[str, Drawn]


def _draw(given: _Drawing, row: Figures) -> list[Path]:
    """The pictures of one hide."""
    layout, name, files = given.layout, row["hide"], list[Path]()
    if row["cut"]:
        files += save(given.shown.get(name) or _picture(layout, row, given.remains), given.folder / hide_name(name))
    if any(line.hide == name for line in layout.cuts) or layout.cut_out(name):
        files += save(draw_guide(layout, name), given.folder / guide_name(name))
    return files


def _picture(layout: Layout, row: Figures, remains: Mapping[str, Remains]) -> Figure:
    return draw_hide(layout, row["hide"], row, remains[row["hide"]])
