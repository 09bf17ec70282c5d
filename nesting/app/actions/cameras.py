"""Actions on photos taken at the bench and at the bed: patterns of card, a panel on the bed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING, Any

from ...errors import FileError
from ...model import Hide
from ...referee.findings import Finding

if TYPE_CHECKING:
    from ...tracing.bed import SeenPanel
    from ...tracing.cards import TracedCards


@dataclass(frozen=True)
class TracedPattern:
    """Patterns read off a photo, the file they were written to, the picture, and what was kept of that file."""

    traced: TracedCards
    file: Path
    picture: Path
    kept: Path | None


def trace_pattern(
    photo: Path, output: Path, camera: Path | None = None, names: tuple[str, ...] = (), **given: Any
) -> TracedPattern:
    """Read cut patterns off a photo and write them as a pattern, with a check picture beside it.

    Parameters
    ----------
    photo, output : Path
    camera : Path, optional
        A profile that `hides.measure_camera` wrote.
    names : tuple of str
        Of the parts from left to right; by default the name of the file, with a number where there are several.
    **given
        ``reference`` and ``thickness_mm`` of :func:`nesting.tracing.cards.trace_cards`.

    Raises
    ------
    FileError
        If nothing can be read off the photo, or a file cannot be written.
    """
    from ...files.cameras import read_camera
    from ...files.pattern_svg import write_pattern
    from ...files.patterns import Drawing
    from ...tracing.cards import trace_cards
    from ...tracing.cards_picture import draw_cards
    from .hides import keep_before

    if output.suffix.lower() != ".svg":
        raise FileError(output, "file", "not .svg", "give a name that ends with .svg")
    profile = None if camera is None else read_camera(camera)
    traced = trace_cards(photo, camera=profile, name=output.stem, names=names, **given)
    kept = keep_before(output)
    write_pattern(output, Drawing(traced.parts))
    picture = output.with_name(f"{output.stem}-check.png")
    draw_cards(traced, picture)
    return TracedPattern(traced, output, picture, kept)


@dataclass(frozen=True)
class Aligned:
    """Files turned to fit how a panel lies: nothing but ``findings`` where the layout breaks a rule.

    ``turned_deg`` and ``moved_mm`` (x, y) tell how far from how its card lays it; ``changes`` what of the job folder is
    otherwise than when the layout was made.
    """

    findings: Sequence[Finding] = ()
    files: tuple[Path, ...] = ()
    picture: Path | None = None
    seen: SeenPanel | None = None
    turned_deg: float = 0.0
    moved_mm: tuple[float, float] = (0.0, 0.0)
    thickness_mm: float | None = None
    changes: tuple[str, ...] = ()


def align_panel(photo: Path, file: Path, camera: Path | None = None, **given: Any) -> Aligned:
    """Turn a file to burn, and the others of its panel, to fit how the panel lies in a photo of the bed.

    Parameters
    ----------
    photo : Path
    file : Path
        As an export wrote it to ``out/cut``; its layout is ``layout.json`` in the folder around that.
    camera : Path, optional
        A profile that `hides.measure_camera` wrote.
    **given
        See :func:`nesting.tracing.bed.find_panel`.

    Raises
    ------
    FileError
        If the file is not of the layout, or the panel cannot be found or does not fit.
    """
    from ...files.cameras import read_camera
    from ...files.layout import read_stated
    from ...files.marks import read_mark
    from ...laser.export import ALIGNED, export_aligned, panel_of
    from ...laser.registration import BedPose
    from ...tracing.bed import find_panel
    from ...tracing.bed_picture import draw_panel
    from ..proof import around, prove
    from .shop import refuse_gone

    if file.suffix not in (".svg", ".dxf"):
        raise FileError(file, "file", file.suffix or "no ending", "give a file to burn, such as out/cut/x-panel-1.svg")
    if not file.is_file():
        raise FileError(file, "file", "not found", "export first (nesting export), then give a file of out/cut")
    if file.stem.endswith(ALIGNED):
        raise FileError(file, "file", "is turned already", f"give {file.stem.removesuffix(ALIGNED)}{file.suffix}")
    for end, what in (("-guide", "a guide"), ("-frame", "a frame of card")):
        if file.stem.endswith(end):
            mend = f"give {file.stem.removesuffix(end)}{file.suffix}"
            raise FileError(file, "file", f"is {what}, not a file to burn the panel by", mend)
    stated = read_stated(file.resolve().parent.parent / "layout.json")
    layout, job = stated.layout, around(file.resolve().parent)
    mark = read_mark(file)
    if mark != layout.mark:
        raise FileError(file, "layout", mark or "no mark", f"it is not of layout {layout.mark}: export again")
    proved = prove(stated, job)
    if proved.findings:
        return Aligned(proved.findings)
    refuse_gone(job, layout)
    panel = panel_of(layout, file)
    thick = given.pop("thickness_mm", None) or thickness(panel.hide)
    old = panel.pose
    expected = (math.radians(old.angle_deg), old.x_mm, old.y_mm)
    profile = None if camera is None else read_camera(camera)
    edge = panel.hide.outline.boundary
    seen = find_panel(photo, panel.polygon, old.bed_mm, expected, camera=profile, thickness_mm=thick, own=edge, **given)
    angle, x, y = seen.pose
    how = f"as its photo shows it: 95 % of its outline within {seen.off_mm:.1f} mm"
    pose = BedPose(math.degrees(angle), x, y, old.bed_mm, how)
    written = export_aligned(layout, panel, pose, file)
    picture = file.with_name(f"{file.stem}{ALIGNED}-check.png")
    lines = [pose.put(part.outline) for part in layout.on(panel.hide.id) if part.panel == panel.panel]
    draw_panel(seen, pose.put(panel.polygon), lines, picture)
    spot, was = pose.put(panel.polygon).centroid, old.put(panel.polygon).centroid
    turned = math.degrees(math.remainder(angle - expected[0], 2 * math.pi))
    return Aligned(
        (), tuple(written), picture, seen, turned, (spot.x - was.x, spot.y - was.y), thick, proved.changes
    )  # fmt: skip


def thickness(hide: Hide) -> float | None:
    """How thick a hide is about, mm: by its readings, else as it was bought; None where nobody said."""
    return fmean(reading.mm for reading in hide.readings) if hide.readings else hide.nominal_mm
