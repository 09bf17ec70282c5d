"""What the commands about hides say: trace, camera, and putting a hide right by hand."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ...model import MM2_PER_DM2, Hide, units
from ..actions import hides
from ..options import measured, option, pixels, pixels_in_mm, places, price
from .console import console, say

MOST_DOUBTS = 12
"""Listed, those that win most; all are in the check picture and in the file."""


def run_trace(
    photo: Path,
    output: Path,
    *,
    guides: dict[str, str | None] | None = None,
    facts: dict[str, Any] | None = None,
    answers: dict[str, str | None] | None = None,
    lengths: Sequence[str] = (),
    forget: bool = False,
    strict: bool = False,
    camera: Path | None = None,
    reference: str = "auto",
    largest_error_mm: float | None = None,
    **limits: Any,
) -> Hide:
    """Trace a photo to a hide file and tell how sure it is.

    ``guides`` are texts of points in pixels (corners, points, inside, outside, rough); ``facts`` what a person knows
    of the hide; ``answers`` texts of numbers of doubts, or pixels, by answer; ``lengths`` texts of two pixels and the
    mm between them; ``limits`` those of :class:`nesting.tracing.TraceLimits` that are changed.
    """
    from ...tracing import Hints, Reference, TraceLimits, Unclear
    from ...tracing.check_picture import MOST_PLACES

    guides, facts = guides or {}, facts or {}
    told: dict[str, Any] = {
        name: pixels(photo, name, text) for name, text in guides.items() if text and name != "points"
    }
    points = pixels_in_mm(photo, str(guides["points"])) if guides.get("points") else None
    given = Reference("points" if points else reference, told.pop("corners", None), points, measured(photo, lengths))
    with option(str(photo)):
        accepted = TraceLimits(**limits)
        if largest_error_mm is not None:
            accepted = accepted.accepting(largest_error_mm)
    facts = {**facts, "price": price(facts.get("price"), hides.currency_near(output))}
    said = {name: places(photo, name, text) for name, text in (answers or {}).items() if text}
    with console.status("tracing"):
        try:
            done = hides.trace_photo(
                photo, output, facts, camera, said, forget,
                reference=given, shown=Hints(**told), limits=accepted, strict=strict,
            )  # fmt: skip
        except Unclear as unclear:
            many = len(unclear.places)
            first = f", the first {MOST_PLACES} of {many} places" if many > MOST_PLACES else ""
            say(f"{hides.doubt_picture(output)} shows what is in doubt{first}")
            raise
    _say_kept(output, done.kept)
    hide, traced = done.hide, done.trace
    x0, y0, x1, y1 = hide.outline.bounds
    thick = "" if hide.nominal_mm is None else f" for leather {units.thickness_words(hide.nominal_mm)} thick"
    say(
        f"{output}: {units.size_words(x1 - x0, y1 - y0)}, {units.area_words(hide.outline.area)}, "
        f"{len(hide.outline.interiors)} hole(s), scale from {traced.reference}{thick}, expected error "
        f"{traced.expected_error_mm:.1f} mm; {len(hide.suggestions)} suggested flaw(s), none used until accepted; "
        f"look at {done.picture}"
    )
    for note in traced.notes:
        say(note)
    say_doubts(hide)
    if strict and traced.unsure and traced.doubt is not None:
        spots = " ".join(f"{x:.0f},{y:.0f}" for _, (x, y) in traced.doubt.unsure)
        say(
            f"{len(traced.unsure)} of the holes may be only stains, the colour does not tell; "
            f"those that are become leather with --leather {spots}"
        )
    return hide


def say_doubts(hide: Hide) -> None:
    """What of a hide is kept out of every part until somebody looks, what looking wins, and what to do next."""
    from ...costs.doubt import next_step
    from ...costs.limits import DEFAULT
    from ...leather.regions import cost_of_doubt, gains

    cost, won = cost_of_doubt(hide, 0.0), gains(hide)
    if hide.error is not None:
        least, most = hide.error.range_mm
        say(
            f"parts keep {least:.1f} to {most:.1f} mm further from the edge, for so far it may be off, which takes "
            f"{cost.error_mm2 / MM2_PER_DM2:.1f} dm2"
        )
    first = sorted(hide.doubts, key=lambda one: -won[one.number])[:MOST_DOUBTS]
    first = [one for one in first if won[one.number] > DEFAULT.least_gain_mm2]
    total = f"{sum(won.values()) / MM2_PER_DM2:.2f} dm2 in all"
    if hide.doubts:
        what = "place is" if len(hide.doubts) == 1 else "places are"
        tail = "; looking wins up to:" if first else f", {total}: none of them is worth a look"
        say(f"{len(hide.doubts)} {what} in doubt and kept out of every part{tail}")
    for one in first:
        # the answer to give stands in brackets
        settles = re.sub(r"\((correct|cut|leather|floor)\)", rf"(--\1 {one.number})", one.settles)
        say(f"  {one.number:3d}  {won[one.number] / MM2_PER_DM2:5.2f} dm2  {one.kind}, {one.size_mm:.0f} mm: {settles}")
    if first and len(hide.doubts) > len(first):
        say(f"  and {len(hide.doubts) - len(first)} more, {total}")
    step = next_step(hide)
    if step:
        say(f"next: {step}")


def run_camera(photos: Sequence[Path], output: Path) -> None:
    """Measure a camera from photos of the marker sheets and tell what was found."""
    with console.status("measuring the camera"):
        done = hides.measure_camera(photos, output)
    camera, bend = done.camera, 100 * sum(done.camera.lens)
    say(
        f"{output}: focal length {camera.focal:.3f} of the long side (within {100 * camera.focal_spread:.1f} %), "
        f"the lens moves a corner by {bend:+.2f} %, corners of {done.sheets} sheets within "
        f"{done.residual_pixels:.2f} pixels"
    )


def run_to_svg(file: Path, output: Path | None) -> None:
    """Draw a hide file over its straightened photo, to be put right in a vector editor."""
    done = hides.draw_hide(file, output)
    _say_kept(done.file, done.kept)
    beneath = "over its photo" if done.over_photo else "without a photo (none was kept)"
    say(f"{done.file}: drawn {beneath}; keep the rectangle 'frame', save, then: nesting hide from-svg {done.file}")


def run_from_svg(drawing: Path, file: Path | None) -> None:
    """Read a drawing back into the hide file it was made of."""
    done = hides.read_drawn_hide(drawing, file)
    _say_kept(done.file, done.kept)
    hide, was = done.hide, done.before.outline.area / MM2_PER_DM2
    say(
        f"{done.file}: {hide.outline.area / MM2_PER_DM2:.1f} dm2 (was {was:.1f}), "
        f"{len(hide.outline.interiors)} hole(s), {len(hide.zones)} zone(s), "
        f"{len(hide.suggestions)} suggestion(s) left, {len(hide.readings)} reading(s)"
    )


def run_accept(file: Path, numbers: Sequence[int] | None, drop: bool) -> None:
    """Make zones of suggestions, by their numbers as the check picture shows them, or of all; or throw them out."""
    done = hides.sort_suggestions(file, numbers, drop)
    say(f"{file}: {len(done.hide.zones)} zone(s), {len(done.left)} suggestion(s) left")
    renumbered = list(enumerate(done.left, start=1))
    if any(number != was for number, (was, _) in renumbered):
        now = ", ".join(f"{number} was {was}: {one.kind} {one.grade}" for number, (was, one) in renumbered)
        say(f"they are counted anew, the check picture shows the old numbers: {now}")


def _say_kept(path: Path, kept: Path | None) -> None:
    if kept is not None:
        say(f"{path} as it was is kept as {kept}")
