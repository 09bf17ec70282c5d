"""What the commands about photos of patterns and of the bed say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ...model import Part, counted, units
from ..actions import cameras
from ..options import measured, pixels, pixels_in_mm
from .console import console, say
from .job import unsound

if TYPE_CHECKING:
    from ...tracing.rows import Row


def run_trace_pattern(
    photo: Path,
    output: Path,
    *,
    reference: str,
    corners: str | None,
    points: str | None,
    lengths: Sequence[str],
    camera: Path | None,
    thickness_mm: float | None,
    names: str,
) -> None:
    """Read patterns off a photo and tell what was read, and how sure that is."""
    from ...tracing import Reference
    from ...tracing.references import NAMES

    given = Reference(
        "points" if points else reference,
        pixels(photo, "corners", corners) if corners else None,
        pixels_in_mm(photo, points) if points else None,
        measured(photo, lengths),
    )
    called = tuple(word.strip() for word in names.split(",") if word.strip())
    with console.status("reading the photo"):
        done = cameras.trace_pattern(photo, output, camera, called, reference=given, thickness_mm=thickness_mm)
    traced = done.traced
    if done.kept is not None:
        say(f"{output} as it was is kept as {done.kept}")
    thick = "" if thickness_mm is None else f" for card {thickness_mm:g} mm thick"
    say(
        f"{output}: {counted(len(traced.parts), 'part')}, scale from {NAMES[traced.reference]}{thick}: lengths within"
        f" {traced.scale_percent:.2f} %, outlines within {traced.error_mm:.2f} mm; the width of a part or a cutout may"
        f" be off by up to {_up(traced.width_mm):.1f} mm; look at {done.picture}"
    )
    for part, rows in zip(traced.parts, traced.rows):
        say(f"    {_part_words(part)}")
        for row in rows:
            say(
                f"        {len(row.places)} stitch holes of {row.diameter_mm:.1f} mm, {row.pitch_mm:.2f} mm from each"
                f" to the next{_lined_words(row)}"
            )
    say(
        "    each part is turned so that its longest straight side lies along x or y, whichever was nearer; the"
        " drawing's x is the part's direction: turn it there where its grain is to run otherwise"
    )
    for note in traced.notes:
        say(f"    note: {note}", "yellow")


def run_align(
    photo: Path,
    file: Path,
    *,
    corners: str | None,
    points: str | None,
    hints: dict[str, str | None],
    camera: Path | None,
    thickness_mm: float | None,
) -> bool:
    """Turn a file to burn to fit a photo of the bed, and tell by how much; false when nothing may be burnt."""
    from ...laser.cautions import AT_THE_OPEN_BED
    from ...tracing import Hints

    shown = {name: pixels(photo, name, text) for name, text in hints.items() if text}
    with console.status("looking at the bed"):
        done = cameras.align_panel(
            photo,
            file,
            camera,
            corners=pixels(photo, "corners", corners) if corners else None,
            points=pixels_in_mm(photo, points) if points else None,
            shown=Hints(**shown),
            thickness_mm=thickness_mm,
        )
    if done.findings or done.seen is None:
        say(f"nothing written: {unsound(done.findings)}")
        return False
    for path in done.files:
        say(path)
    seen, (x, y) = done.seen, done.moved_mm
    say(
        f"turned by {done.turned_deg:+.2f} degrees and moved by {math.hypot(x, y):.1f} mm (x {x:+.1f}, y {y:+.1f}) from"
        f" how its card lays it; parts may lie up to {seen.parts_mm:.1f} mm off: half of the outline seen lies"
        f" {_near(seen.usual_mm)} from the panel's, 95 % within {seen.off_mm:.1f} mm; look at {done.picture}"
    )
    for note in (*seen.notes, *done.changes):
        say(f"note: {note}", "yellow")
    for text in AT_THE_OPEN_BED:
        say(text, "yellow")
    return True


def _lined_words(row: Row) -> str:
    """How many holes of a row were put in line, and by how much."""
    if not row.lined:
        return ""
    which = "all" if row.lined == len(row.places) else f"{row.lined} of them"
    return f"; {which} put on lines or arcs at one pitch, moved by {_under(row.moved_mm, 2)} mm at most"


def _up(mm: float) -> float:
    """Rounded up to a tenth."""
    return math.ceil(mm * 10 - 1e-9) / 10


def _near(mm: float) -> str:
    return f"up to {mm:.1f} mm" if mm >= 0.1 else "less than 0.1 mm"


def _under(mm: float, digits: int) -> str:
    """A length that is never told as none."""
    return f"{max(mm, 10.0**-digits):.{digits}f}"


def _part_words(part: Part) -> str:
    x0, y0, x1, y1 = part.outline.bounds
    bent = sum(1 for *_, bulge in part.curves.outline.nodes if bulge) if part.curves else 0
    straight = len(part.curves.outline.nodes) - bent if part.curves else 0
    inner = ", ".join(
        counted(count, name)
        for count, name in ((len(part.cutouts), "cutout"), (len(part.stitch), "stitch hole"))
        if count
    )
    return (
        f"{part.name}: {units.size_words(x1 - x0, y1 - y0)}; {counted(straight, 'straight side')},"
        f" {counted(bent, 'arc')}{f'; {inner}' if inner else ''}"
    )
