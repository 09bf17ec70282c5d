"""Cut-ready SVG files, one a hide; leather not known to be laser-safe is refused."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from ..files.atomic import write_text
from ..model import Hide, Layout
from .load import bed_loads
from .panels import bed_angle
from .svg import drawing

REFUSALS = {
    "unknown": "its tannage is not known: it may be chrome-tanned and release hexavalent chromium, or hold PVC "
    "and release hydrogen chloride; once the tanner confirms that it is vegetable-tanned and chrome-free, "
    'set its tannage to "vegetable"',
    "chrome": "chrome-tanned leather can release hexavalent chromium when burnt; "
    "cut it by knife or die, or take vegetable-tanned leather",
    "synthetic": "synthetic leather may hold PVC, which releases hydrogen chloride when burnt; "
    "cut it by knife or die, or take vegetable-tanned leather",
}
NO_SETTING = "no tested setting covers it; cut a test piece, add the setting to workshop.toml and plan again"
NO_FILE_NAME = "its id cannot name a file; use letters a to z, digits, dash, underscore and dot, not a dot first"


@dataclass(frozen=True)
class ExportResult:
    """The files written, the hides refused and why, and what to know before burning; each text is one line."""

    files: tuple[Path, ...]
    refusals: tuple[str, ...]
    warnings: tuple[str, ...]


def export(layout: Layout, folder: Path) -> ExportResult:
    """Write one SVG for every hide that is cut: mm at true size, groups in burning order, then a guide not for burning.

    Parameters
    ----------
    layout : Layout
        Hides without placements are passed over.
    folder : Path
        Made when missing; files of the same name are replaced, whole or not at all.

    Returns
    -------
    ExportResult
        Hides not known to be laser-safe, or that no tested setting covers, are refused; the others are written all the
        same.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    texts, refusals, warnings = {}, [], []
    for hide in layout.hides:
        if not layout.on(hide.id):
            continue
        reason = refusal(hide, layout)
        if reason:
            refusals.append(f"hide {hide.id}: no laser file: {reason}{_left_over(hide, folder)}")
            continue
        loads = bed_loads(layout, hide.id)
        turns = _turns(layout, hide)
        texts[folder / f"{hide.id}.svg"] = drawing(layout, hide, loads, turns)
        notes = [_turning(load.panel, turns[load.panel]) for load in loads if turns.get(load.panel, 0.0) != 0.0]
        notes += [text for load in loads for text in load.warnings]
        warnings += [f"hide {hide.id}: {text}" for text in notes]
    for path, text in texts.items():
        write_text(path, text)
    return ExportResult(tuple(texts), tuple(refusals), tuple(warnings))


def refusal(hide: Hide, layout: Layout) -> str:
    """Why a hide is not to be burnt, and what would change it; empty when it may be."""
    if not hide.laser_safe:
        return REFUSALS.get(hide.tannage, REFUSALS["unknown"])
    if hide.id not in layout.settings:
        return NO_SETTING
    return "" if _names_a_file(hide) else NO_FILE_NAME


def _names_a_file(hide: Hide) -> bool:
    return re.fullmatch(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,99}", hide.id) is not None


def _left_over(hide: Hide, folder: Path) -> str:
    """A file from before the hide was refused is the one a person would burn by mistake."""
    path = folder / f"{hide.id}.svg"
    return f"; an older {path} is still there: delete it" if _names_a_file(hide) and path.exists() else ""


def _turns(layout: Layout, hide: Hide) -> dict[str, float | None]:
    """For every panel of a hide, the counter-clockwise angle in degrees at which it fits the bed; None when at none."""
    machine = layout.workshop.machine
    panels = [panel for panel in layout.panels if panel.hide == hide.id]
    angles = {panel.id: bed_angle(panel.polygon, machine.bed_width_mm, machine.bed_height_mm) for panel in panels}
    return {panel: None if angle is None else round(angle, 1) for panel, angle in angles.items()}


def _turning(panel: str, angle: float | None) -> str:
    if angle is None:
        return f"panel {panel} is bigger than the bed at any angle: plan again with this bed"
    return f"panel {panel} fits the bed only turned: turn leather and lines by {angle:g} degrees"
