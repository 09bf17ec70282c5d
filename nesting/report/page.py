"""The report as one self-contained HTML page: no scripts, nothing fetched, printable on A4."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from ..atomic import write_text
from ..costs.figures import Figures, thickness_of, under_all
from ..costs.offcuts import Offcut, offcuts
from ..laser.cautions import CAUTIONS
from ..laser.export import refusal
from ..laser.tight import tight_panels
from ..leather.few import refused_for_few
from ..model import Hide, Layout, units
from . import words
from .drawing import Drawn, draw_hide, draw_offcut, hide_name
from .filled import filled
from .guide import guide_name
from .limits import DEFAULT, ReportLimits
from .made import due_already, late, left_out, left_out_title, made, settled

PICTURE_DPI = (150, 110, 80)
"""Tried in turn where a drawing is too heavy: sharp on paper, on a screen, and just readable."""


def write_report(
    layout: Layout,
    figures: Figures,
    folder: Path,
    limits: ReportLimits = DEFAULT,
    findings: Sequence[object] | None = None,
    hides: Mapping[str, Drawn] | None = None,
    kept: Mapping[str, Sequence[Offcut]] | None = None,
) -> Path:
    """Write ``report.html``: what is made and left out, money, leather, hides with pictures, cautions.

    Without findings the layout is proved by the referee, so that what the page says of it is true of this very layout.

    Parameters
    ----------
    layout : Layout
    figures : dict
        As `figures.figures` gives them.
    folder : Path
    limits : ReportLimits, optional
    findings : sequence, optional
        What the referee found in this very layout, when it is known already.
    hides, kept : mappings, optional
        The pictures of the hides that are cut and their offcuts, when they are known already; of a hide without one
        the page shows the file beside it.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    FileError
        When it cannot be written.
    """
    from ..referee.rules import check

    path = Path(folder) / "report.html"
    found = check(layout) if findings is None else findings
    write_text(path, page(layout, figures, [str(finding) for finding in found], limits, hides, kept))
    return path


def page(
    layout: Layout,
    figures: Figures,
    findings: list[str],
    limits: ReportLimits = DEFAULT,
    drawn: Mapping[str, Drawn] | None = None,
    kept: Mapping[str, Sequence[Offcut]] | None = None,
) -> str:
    """The text of the report.

    Parameters
    ----------
    layout : Layout
    figures : dict
        As `figures.figures` gives them.
    findings : list of str
        What the referee found; empty when every rule holds.
    limits : ReportLimits, optional
    drawn, kept : mappings, optional
        As ``hides`` and ``kept`` of `write_report`.

    Returns
    -------
    str
    """
    first = layout.workshop.units
    filters: dict[str, Callable[..., Any]] = {
        "area": lambda mm2: words.area(mm2, first),
        "one": lambda mm2: words.areas(mm2, first)[0],
        "other": lambda mm2: words.areas(mm2, first)[1],
        "thick": lambda low, high: units.thickness_words([round(low, 2), round(high, 2)], first),
        "measure": lambda mm: units.length_words(mm, first),
        "share": words.share,
        "plain": words.plain,
        "count": words.count,
    }
    cut = [row for row in figures["hides"] if row["cut"]]
    hides = {hide.id: hide for hide in layout.hides}
    if drawn is None or kept is None:
        remains = {row["hide"]: offcuts(layout, row["hide"]) for row in cut}
        shown = cut if len(cut) <= limits.most_hides_pictured else []
        drawn = {row["hide"]: Drawn(draw_hide(layout, row["hide"], row, remains[row["hide"]])) for row in shown}
        kept = {name: found for name, (found, _) in remains.items()}
    return filled(
        "report.html",
        filters,
        layout=layout,
        area_units=words.area_units(first),
        total=figures["total"],
        costs=figures["costs"],
        extras=tuple(dict.fromkeys(row.name for row in layout.workshop.extras)),
        hides=[
            _hide(layout, hides[row["hide"]], row, drawn.get(row["hide"]), kept[row["hide"]], len(cut), limits)
            for row in cut
        ],
        beside=len(drawn) < len(cut),
        untouched=[_untouched(layout, hides[row["hide"]], row) for row in figures["hides"] if not row["cut"]],
        made=made(figures),
        settled=settled(layout),
        tight=tight_panels(layout),
        late="; ".join(filter(None, (due_already(layout, limits), late(figures, limits)))),
        left_out=left_out(figures),
        cut_in_part=any(row["placed"] for row in figures["left_out"]),
        left_out_title=left_out_title(figures),
        few_readings=refused_for_few(layout),
        findings=findings,
        cautions=CAUTIONS,
    )


def _hide(
    layout: Layout,
    hide: Hide,
    row: Figures,
    drawn: Drawn | None,
    kept: Sequence[Offcut],
    among: int,
    limits: ReportLimits,
) -> Figures:
    panels, pictures = [panel for panel in layout.panels if panel.hide == hide.id], {}
    for offcut in kept[: limits.most_offcut_pictures // among]:
        pictures[offcut.id] = _inline(Drawn(draw_offcut(offcut, layout.workshop.units)), limits.most_offcut_bytes)
    # what is cut by knife is no load, what is burnt in two loads one more
    long = {panel.id: -1 if panel.longer == "knife" else 1 for panel in panels if panel.longer}
    here = {placement.panel for placement in layout.on(hide.id)}
    grades = {offcut.id: _grade(hide, offcut) for offcut in kept}
    rows = [
        item
        | {
            "name": words.offcut_name(item["id"]),
            "size": words.size(item["rectangle_mm"][0], item["rectangle_mm"][1], layout.workshop.units),
            "grade": grades[item["id"]],
            "picture": pictures.get(item["id"]),
        }
        for item in row["offcuts"]
    ]
    return row | {
        "about": _about(hide),
        "picture": quote(f"{hide_name(hide.id)}.png")
        if drawn is None
        else _inline(drawn, limits.most_hide_bytes // among),
        "settings": _settings(layout, hide),
        "lines": sum(cut.hide == hide.id for cut in layout.cuts),
        "guide": f"{guide_name(hide.id)}.png",
        "refusal": refusal(hide, layout),
        "thickness": thickness_of(layout, hide).source,
        "by_knife": hide.never_burnt,
        "loads": len(here) + sum(long[name] for name in here & long.keys()),
        "panels": sum(not panel.longer for panel in panels),
        "first": ", ".join(words.plain(panel.id, 20) for panel in panels if panel.longer),
        "offcuts": rows,
    }


def _grade(hide: Hide, offcut: Offcut) -> str:
    """The grade of an offcut, and of the flaws in it."""
    flaws = sorted({zone.grade for zone in hide.zones if zone.polygon.intersects(offcut.polygon)})
    return f"grade A with flaws of grade {', '.join(flaws)}" if flaws else "grade A"


def _settings(layout: Layout, hide: Hide) -> list[Figures]:
    """The settings that parts of a hide are burnt with, how many parts each, and the leather under those."""
    rows = []
    for setting in layout.settings_on(hide.id):
        parts = [placement for placement in layout.on(hide.id) if layout.setting_of(placement) == setting]
        if parts:
            rows.append({"setting": setting, "parts": len(parts), "under": under_all(parts)})
    return rows


def _untouched(layout: Layout, hide: Hide, row: Figures) -> Figures:
    return row | {"about": _about(hide), "refusal": "" if hide.laser_safe else refusal(hide, layout)}


def _about(hide: Hide) -> str:
    return ", ".join(filter(None, (words.plain(hide.colour), words.make(hide.tannage))))


def _inline(drawn: Drawn, most_bytes: int) -> str:
    """A figure as a data address: a drawing when it is light enough, else a picture."""
    content, kind = drawn.svg, "svg+xml"
    for dpi in PICTURE_DPI:
        if len(content) > most_bytes:
            content, kind = drawn.coarser(dpi), "png"
    return f"data:image/{kind};base64,{base64.b64encode(content).decode('ascii')}"
