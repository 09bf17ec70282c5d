"""The report as one self-contained HTML page: no scripts, nothing fetched, printable on A4."""

from __future__ import annotations

import base64
from collections import Counter
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from matplotlib.figure import Figure

from ..atomic import write_text
from ..costs.figures import thickness_of
from ..costs.offcuts import offcuts
from ..laser.cautions import CAUTIONS
from ..laser.export import refusal
from ..model import Hide, Layout
from . import words
from .drawing import draw_hide, draw_offcut, picture
from .guide import guide_name
from .layers import offcut_name

MOST_HIDE_BYTES = 4_000_000
"""For the pictures of all hides together; a drawing too heavy for its share becomes a PNG, a coarser one if need be."""
MOST_OFFCUT_BYTES = 25_000
MOST_OFFCUT_PICTURES = 100


def write_report(layout: Layout, figures: dict, folder: Path) -> Path:
    """Write ``report.html``: totals, what was not placed and why, costs, hides with pictures, offcuts, cautions.

    The layout is proved again by the referee, so that what the page says of it is true of this very layout.

    Parameters
    ----------
    layout : Layout
    figures : dict
        As `figures.figures` gives them.
    folder : Path

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
    write_text(path, page(layout, figures, [str(finding) for finding in check(layout)]))
    return path


def page(layout: Layout, figures: dict, findings: list[str]) -> str:
    """The text of the report.

    Parameters
    ----------
    layout : Layout
    figures : dict
        As `figures.figures` gives them.
    findings : list of str
        What the referee found; empty when every rule holds.

    Returns
    -------
    str
    """
    environment = Environment(
        loader=PackageLoader("nesting.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "area": words.area,
        "dm2": words.dm2,
        "sqft": words.sq_ft,
        "share": words.share,
        "plain": words.plain,
        "count": words.count,
    }
    cut = [row for row in figures["hides"] if row["cut"]]
    hides = {hide.id: hide for hide in layout.hides}
    return environment.get_template("report.html").render(
        layout=layout,
        total=figures["total"],
        costs=figures["costs"],
        hides=[_hide(layout, hides[row["hide"]], row, len(cut)) for row in cut],
        untouched=[_untouched(layout, hides[row["hide"]], row) for row in figures["hides"] if not row["cut"]],
        unplaced=unplaced_rows(layout),
        findings=findings,
        cautions=CAUTIONS,
    )


def unplaced_rows(layout: Layout) -> list[dict]:
    """What was not placed: order, product, part, how many and the reason, in the order of the layout."""
    counts = Counter((item.order, item.product, item.part, item.reason, item.filler) for item in layout.unplaced)
    return [
        dict(zip(("order", "product", "part", "reason", "filler"), key)) | {"count": count}
        for key, count in counts.items()
    ]


def _hide(layout: Layout, hide: Hide, row: dict, among: int) -> dict:
    panels = [panel for panel in layout.panels if panel.hide == hide.id]
    remains, pictures = offcuts(layout, hide.id), {}
    for offcut in remains[0][: MOST_OFFCUT_PICTURES // among]:
        pictures[offcut.id] = _inline(draw_offcut(offcut), MOST_OFFCUT_BYTES)
    kept = [
        item
        | {
            "name": offcut_name(item["id"]),
            "size": words.size(*item["rectangle_mm"]),
            "picture": pictures.get(item["id"]),
        }
        for item in row["offcuts"]
    ]
    return row | {
        "about": _about(hide),
        "picture": _inline(draw_hide(layout, hide.id, row, remains), MOST_HIDE_BYTES // among),
        "settings": _settings(layout, hide),
        "lines": sum(cut.hide == hide.id for cut in layout.cuts),
        "guide": f"{guide_name(hide.id)}.png",
        "refusal": refusal(hide, layout),
        "thickness": thickness_of(layout, hide).source,
        "loads": len({placement.panel for placement in layout.on(hide.id)}),
        "panels": len(panels),
        "offcuts": kept,
    }


def _settings(layout: Layout, hide: Hide) -> list[dict]:
    """The settings that parts of a hide are burnt with, how many parts each, and the leather under those."""
    rows = []
    for setting in layout.settings_on(hide.id):
        parts = [placement for placement in layout.on(hide.id) if layout.setting_of(placement) == setting]
        unders = [placement.under for placement in parts if placement.under is not None]
        if parts:
            rows.append(
                {
                    "setting": setting,
                    "parts": len(parts),
                    "under": unders
                    and {
                        "least_mm": min(under.least_mm for under in unders),
                        "greatest_mm": max(under.greatest_mm for under in unders),
                        "confidence": min(under.confidence for under in unders),
                    },
                }
            )
    return rows


def _untouched(layout: Layout, hide: Hide, row: dict) -> dict:
    return row | {"about": _about(hide), "refusal": "" if hide.laser_safe else refusal(hide, layout)}


def _about(hide: Hide) -> str:
    return ", ".join(filter(None, (words.plain(hide.colour), words.make(hide.tannage))))


def _inline(figure: Figure, most_bytes: int) -> str:
    """A figure as a data address: a drawing when it is light enough, else a picture."""
    content, kind = picture(figure, "svg"), "svg+xml"
    for dpi in (150, 110, 80):
        if len(content) > most_bytes:
            content, kind = picture(figure, "png", dpi), "png"
    return f"data:image/{kind};base64,{base64.b64encode(content).decode('ascii')}"
