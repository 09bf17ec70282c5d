"""Cut-ready SVG files, one a hide."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from shapely.geometry import LineString, Polygon

from ..files.atomic import write_text
from ..model import OPERATIONS, Hide, Layout
from .cautions import CAUTIONS
from .kerf import burn_paths
from .order import burning_order

BORDER_MM = 5.0
REFUSALS = {
    "unknown": "its tannage is not known, so it may be chrome-tanned and release hexavalent chromium; "
    "set tannage to vegetable once the tanner has confirmed it",
    "chrome": "chrome-tanned leather can release hexavalent chromium; cut it with a knife or die instead",
    "synthetic": "synthetic leather may hold PVC, which releases hydrogen chloride; cut it with a knife or die instead",
}


@dataclass(frozen=True)
class ExportResult:
    """The files written, the hides refused and why, and what a maker should know before burning."""

    files: tuple[Path, ...]
    refusals: tuple[str, ...]
    warnings: tuple[str, ...]


def export(layout: Layout, folder: Path) -> ExportResult:
    """Write one SVG for every hide that is cut: mm at true size, groups in burning order, a guide that is not for burning.

    Parameters
    ----------
    layout : Layout
    folder : Path

    Returns
    -------
    ExportResult
        Hides that are not known to be laser-safe, or that no tested setting covers, are refused.
    """
    files, refusals, warnings = [], [], []
    for hide in layout.hides:
        if not layout.on(hide.id):
            continue
        reason = refusal(hide, layout)
        if reason:
            refusals.append(f"hide {hide.id}: no laser file: {reason}")
            continue
        text, notes = _svg(hide, layout)
        path = folder / f"{hide.id}.svg"
        write_text(path, text)
        files.append(path)
        warnings += notes
    return ExportResult(tuple(files), tuple(refusals), tuple(warnings))


def refusal(hide: Hide, layout: Layout) -> str:
    """Why a hide is not to be burnt; empty when it may be."""
    if not hide.laser_safe:
        return REFUSALS[hide.tannage]
    if hide.id not in layout.settings:
        return "no tested setting covers it; cut a test piece and add the setting to workshop.toml"
    return ""


def _svg(hide: Hide, layout: Layout) -> tuple[str, list[str]]:
    x0, y0, x1, y1 = hide.outline.bounds
    x0, y0, x1, y1 = x0 - BORDER_MM, y0 - BORDER_MM, x1 + BORDER_MM, y1 + BORDER_MM
    lines: dict[str, list[LineString]] = {operation: [] for operation in OPERATIONS}
    names: dict[str, list[str]] = {operation: [] for operation in OPERATIONS}
    warnings = []
    for placement in layout.on(hide.id):
        paths = burn_paths(placement, layout.workshop.margins.kerf_mm)
        warnings += paths.warnings
        for operation in OPERATIONS:
            for line in getattr(paths, operation):
                lines[operation].append(line)
                names[operation].append(f"{placement.order} {placement.part} {placement.piece}.{placement.copy}")

    def path(shape) -> str:
        closed = isinstance(shape, LineString) and shape.is_closed and len(shape.coords) > 3
        points = [f"{x - x0:.4f},{y1 - y:.4f}" for x, y in (shape.coords[:-1] if closed else shape.coords)]
        return "M" + " L".join(points) + (" Z" if closed else "")

    order, groups = burning_order(lines), []
    for operation in OPERATIONS:
        rows = [
            f'    <path id="{_xml_id(f"{operation}-{n}-{names[operation][k]}")}" d="{path(lines[operation][k])}"/>'
            for n, k in enumerate(order[operation], 1)
        ]
        colour = layout.workshop.colours[operation]
        groups.append(
            f'  <g id="{operation}" fill="none" stroke="{colour}" stroke-width="0.1">\n' + "".join(f"{row}\n" for row in rows) + "  </g>"
        )
    edges = [LineString(ring.coords) for ring in (hide.outline.exterior, *hide.outline.interiors)]
    panels = [panel for panel in layout.panels if panel.hide == hide.id]
    if len(panels) > 1:
        edges += [LineString(panel.polygon.exterior.coords) for panel in panels]
    guide = [f'    <path d="{path(edge)}"/>' for edge in edges]
    for placement in layout.on(hide.id):
        guide.append(_label(placement.label, placement.outline, x0, y1, layout.workshop.colours["guide"]))
    setting, machine = layout.settings[hide.id], layout.workshop.machine
    about = (
        f"Setting {setting.name}: {setting.speed_mm_s:g} mm/s, power {setting.power_percent:g} %, {setting.passes} pass(es), tested at "
        f"{setting.thickness_mm:g} mm, cuts clean from {setting.thinnest_mm:g} to {setting.thickest_mm:g} mm, on {machine.name}. "
        f"Lines are moved by half the kerf of {layout.workshop.margins.kerf_mm:g} mm. Burn the groups in their order: "
        f"{', '.join(OPERATIONS)}. The last group is a guide and not for burning: hide or delete it. " + " ".join(CAUTIONS)
    )
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{x1 - x0:.4f}mm" height="{y1 - y0:.4f}mm" '
        f'viewBox="0 0 {x1 - x0:.4f} {y1 - y0:.4f}">\n'
        f"  <title>{escape(f'Hide {hide.id}')}</title>\n  <desc>{escape(about)}</desc>\n" + "\n".join(groups) + "\n"
        f'  <g id="guide-not-for-burning" fill="none" stroke="{layout.workshop.colours["guide"]}" stroke-width="0.2" '
        'stroke-dasharray="4 2">\n    <title>Guide (not for burning)</title>\n' + "\n".join(guide) + "\n  </g>\n</svg>\n"
    )
    return text, warnings


def _label(name: str, outline: Polygon, x0: float, y1: float, colour: str) -> str:
    spot = outline.representative_point()
    return (
        f'    <text x="{spot.x - x0:.2f}" y="{y1 - spot.y:.2f}" font-size="5" font-family="sans-serif" text-anchor="middle" '
        f"fill={quoteattr(colour)} stroke=\"none\">{escape(name)}</text>"
    )


def _xml_id(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text)
