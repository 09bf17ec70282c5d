"""Actions on hides: tracing a photo, measuring a camera, and putting a hide right by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely.geometry import box

from ...atomic import write_bytes
from ...errors import FileError, ModelError
from ...files.hides import read_hide, write_hide
from ...model import Answer, Hide, Point, Suggestion, Traced

if TYPE_CHECKING:
    import numpy as np

    from ...tracing import Trace
    from ...tracing.scale import Camera

_UNIT = box(0, 0, 1, 1)
_SAME_MM = 0.5
"""Traces of one photo whose bounds differ by less have the same coordinates: an answer hardly moves them."""


@dataclass(frozen=True)
class TracedHide:
    """A hide traced to its file, the trace, its check picture, and what was kept of the file that was there before."""

    hide: Hide
    trace: Trace
    picture: Path
    kept: Path | None


@dataclass(frozen=True)
class MeasuredCamera:
    """A camera's profile, how far the markers miss it (pixels, root mean square), and how many sheets were seen."""

    camera: Camera
    residual_pixels: float
    sheets: int


@dataclass(frozen=True)
class Drawn:
    """A drawing of a hide, whether it lies over its photo, and what was kept of the drawing that was there before."""

    file: Path
    over_photo: bool
    kept: Path | None


@dataclass(frozen=True)
class Edited:
    """A hide as its drawing has it, as it was before, its file, and what was kept of that."""

    hide: Hide
    before: Hide
    file: Path
    kept: Path | None


@dataclass(frozen=True)
class Sorted:
    """A hide after suggestions were accepted or thrown out, and those left: the number each had, and what it is."""

    hide: Hide
    left: tuple[tuple[int, Suggestion], ...]


def trace_photo(
    photo: Path,
    output: Path,
    facts: Mapping[str, Any],
    camera: Path | None = None,
    answers: Mapping[str, Sequence[int | Point]] | None = None,
    forget: bool = False,
    **given: Any,
) -> TracedHide:
    """Trace a photo to a hide file, with the straightened photo and a check picture beside it.

    What is known of the hide, and what somebody said of its doubts, is taken from the file where it was traced from
    the same photo before.

    Parameters
    ----------
    photo, output : Path
    facts : mapping
        What a person knows of the hide: ``nominal_mm``, ``tannage``, ``colour``, ``price``, ``leather``, ``finish``,
        ``lot``; None where nothing is said. Checked before the photo is looked at, which takes a while.
    camera : Path, optional
        A profile that `measure_camera` wrote.
    answers : mapping, optional
        By answer (see `nesting.model.ANSWERS`) the numbers of doubts as the file has them, or pixels of the photo.
    forget : bool
        Take nothing from the file.
    **given
        See :func:`nesting.trace`.

    Raises
    ------
    FileError
        :class:`nesting.tracing.Unclear` where a strict trace must be looked at; ``doubt_picture(output)`` shows where.
    """
    from shapely import union_all

    from ...costs.doubt import next_step
    from ...files.cameras import read_camera
    from ...tracing import Hints, Unclear, draw_check, draw_places, suggest_flaws, trace
    from ...tracing.doubts import numbered

    _refuse_other_ending(output, ".json")
    if camera is not None:
        given["camera"] = read_camera(camera)
    before = None if forget else _traced_before(photo, output)
    try:
        hide = replace(
            before or Hide(output.stem, _UNIT), **{key: fact for key, fact in facts.items() if fact is not None}
        )
    except ModelError as error:
        raise FileError(output, error.thing, error.value, error.mend) from None
    known = _answered(output, before, answers or {})
    shown = given.pop("shown", None) or Hints()
    told = {name: [*getattr(shown, name), *_pixels(known, answer)] for name, answer in _HINTS.items()}
    doubts = doubt_picture(output)
    doubts.unlink(missing_ok=True)
    try:
        traced = trace(photo, thickness_mm=hide.nominal_mm, shown=replace(shown, **told), **given)
    except Unclear as unclear:
        draw_places(photo, unclear.places, unclear.outline, doubts, unclear.names)
        raise
    straight = output.with_name(output.stem + "-straight.jpg")
    hide = _drawn_upon(hide, before, traced)
    zones = union_all([zone.polygon for zone in hide.zones])
    hide = replace(
        hide,
        outline=traced.outline,
        photo=photo.name,
        suggestions=tuple(
            one
            for one in suggest_flaws(
                traced.straight, traced.outline, traced.to_pixels, traced.mm_per_pixel, traced.marks, traced.limits
            )
            # what is a zone already was accepted before
            if one.polygon.intersection(zones).area < one.polygon.area / 2
        ),
        error=traced.error,
        doubts=numbered(traced.doubts, () if before is None else before.doubts, known),
        traced=Traced(
            traced.reference,
            traced.mm_per_pixel,
            traced.expected_error_mm,
            traced.residual_pixels,
            traced.origin_mm,
            straight.name,
            traced.limits.changed(),
            known,
        ),
    )
    kept = keep_before(output)
    write_hide(output, hide)
    write_bytes(straight, _jpeg(traced.straight))
    picture = output.with_name(output.stem + "-check.png")
    draw_check(traced, picture, hide.suggestions, hide.doubts, next_step(hide))
    return TracedHide(hide, traced, picture, kept)


_HINTS = {"correct": "correct", "slits": "cut", "stains": "leather", "floor": "floor"}
"""What a trace is shown, by the answer that stands for it in the file of a hide."""


def _traced_before(photo: Path, output: Path) -> Hide | None:
    """The hide in a file, where it was traced from that photo."""
    if not output.is_file():
        return None
    try:
        hide = read_hide(output, currency_near(output))
    except FileError:
        return None
    return hide if hide.traced is not None and hide.photo == photo.name else None


def _answered(output: Path, before: Hide | None, answers: Mapping[str, Sequence[int | Point]]) -> tuple[Answer, ...]:
    """What was said of doubts before, and what is said now, which counts where both are about one place."""
    from ...tracing.doubts import meant

    known = () if before is None or before.traced is None else before.traced.answers
    doubts = {one.number: one for one in (() if before is None else before.doubts) if one.pixel is not None}
    said = {one.number: one for one in known if one.number}
    new: list[Answer] = []
    for answer, places in answers.items():
        for place in places:
            if not isinstance(place, int):
                new.append(Answer(answer, place))
            elif place in doubts:
                doubt = doubts[place]
                new.append(Answer(meant(answer, doubt.kind), doubt.pixel or (0.0, 0.0), place))
            elif place in said:
                # looked at once more: it was another answer, or the same
                new.append(replace(said[place], answer=answer))
            else:
                listed = ", ".join(map(str, sorted({*doubts, *said})))
                none = "trace it first, or give pixels" if before is None else "it has no doubts: give pixels"
                mend = f"give numbers of its doubts ({listed})" if listed else none
                raise FileError(output, f"--{answer}", place, mend)
    numbers, pixels = {one.number for one in new if one.number}, {one.pixel for one in new}
    return (*(one for one in known if one.number not in numbers and one.pixel not in pixels), *new)


def _pixels(answers: Sequence[Answer], answer: str) -> list[Point]:
    return [one.pixel for one in answers if one.answer == answer]


def _drawn_upon(hide: Hide, before: Hide | None, traced: Trace) -> Hide:
    """A hide with the zones, readings and backbone of its file where its trace still has the same coordinates, and
    without them where it has not."""
    from shapely.geometry import Point as Spot

    old = None if before is None or before.traced is None else before.traced.origin_mm
    if before is None or old is None:
        return hide
    moved = [abs(a - b) for a, b in zip((*old, *before.outline.bounds), (*traced.origin_mm, *traced.outline.bounds))]
    if max(moved) > _SAME_MM:
        return replace(hide, zones=(), readings=(), backbone=None)
    return replace(
        hide,
        zones=tuple(one for one in hide.zones if one.polygon.intersects(traced.outline)),
        readings=tuple(one for one in hide.readings if one.cut_off or traced.outline.contains(Spot(one.x, one.y))),
    )


def currency_near(file: Path) -> str:
    """What the workshop of the job folder around a hide file counts in; empty where there is none to be read."""
    from ...files.workshop import read_workshop

    try:
        return read_workshop(file.resolve().parent.parent / "workshop.toml").prices.currency
    except FileError:
        return ""


def doubt_picture(output: Path) -> Path:
    """Where a strict trace that was refused shows what is in doubt."""
    return output.with_name(output.stem + "-doubt.png")


def measure_camera(photos: Sequence[Path], output: Path) -> MeasuredCamera:
    """Measure a camera from photos of the marker sheets and write its profile."""
    from ...files.cameras import write_camera
    from ...tracing.camera import measure_camera

    _refuse_other_ending(output, ".json")
    camera, residual, sheets = measure_camera(list(photos))
    write_camera(output, camera, residual, sheets)
    return MeasuredCamera(camera, residual, sheets)


def draw_hide(file: Path, output: Path | None = None) -> Drawn:
    """Draw a hide file over its straightened photo, to be put right in a vector editor."""
    from ...files.hide_svg import write_hide_svg

    hide = read_hide(file, currency_near(file))
    output = output or file.with_suffix(".svg")
    _refuse_other_ending(output, ".svg")
    kept = keep_before(output)
    photo, place = None, None
    if hide.traced is not None and hide.traced.picture and hide.traced.origin_mm:
        photo, place = _straight(file.with_name(hide.traced.picture), hide.traced.mm_per_pixel, hide.traced.origin_mm)
    write_hide_svg(output, hide, photo, place)
    return Drawn(output, photo is not None, kept)


def read_drawn_hide(drawing: Path, file: Path | None = None) -> Edited:
    """Read a drawing back into the hide file it was made of."""
    from ...files.hide_svg import read_hide_svg

    file = file or drawing.with_suffix(".json")
    if not drawing.is_file():
        raise FileError(drawing, "file", "not found", "give the drawing that nesting hide to-svg made and you edited")
    before = read_hide(file, currency_near(file))
    hide = read_hide_svg(drawing, before)
    kept = keep_before(file)
    write_hide(file, hide)
    return Edited(hide, before, file, kept)


def sort_suggestions(file: Path, numbers: Sequence[int] | None, drop: bool) -> Sorted:
    """Make zones of suggestions, by their numbers as the check picture shows them, or of all; or throw them out."""
    hide = read_hide(file, currency_near(file))
    count = len(hide.suggestions)
    for number in numbers or ():
        if not 1 <= number <= count:
            raise FileError(
                file, "suggestions", number, f"give numbers from 1 to {count}" if count else "none are left"
            )
    chosen = set(numbers or range(1, count + 1))
    numbered = list(enumerate(hide.suggestions, start=1))
    left = tuple((number, one) for number, one in numbered if number not in chosen)
    new = () if drop else tuple(one.accepted() for number, one in numbered if number in chosen)
    hide = replace(hide, suggestions=tuple(one for _, one in left), zones=(*hide.zones, *new))
    write_hide(file, hide)
    return Sorted(hide, left)


def keep_before(path: Path) -> Path | None:
    """Keep what is about to be written over, which somebody may have put right by hand; where it is kept."""
    if not path.is_file():
        return None
    kept = path.with_name(path.name + ".before")
    write_bytes(kept, path.read_bytes())
    return kept


def _refuse_other_ending(path: Path, ending: str) -> None:
    """So that neither a photo nor a drawing is written over."""
    if path.suffix.lower() != ending:
        raise FileError(path, "output", path.name or "no name", f"give a file whose name ends in {ending}")


def _jpeg(picture: np.ndarray) -> bytes:
    from PIL import Image

    content = BytesIO()
    Image.fromarray(picture).save(content, "JPEG", quality=85)
    return content.getvalue()


def _straight(
    path: Path, mm_per_pixel: float, origin_mm: tuple[float, float]
) -> tuple[bytes, tuple[float, float, float, float]] | tuple[None, None]:
    """The straightened photo and where it lies: left, low, right, high in mm; nothing when it is gone."""
    from PIL import Image

    try:
        content = path.read_bytes()
        with Image.open(BytesIO(content), formats=("JPEG",)) as picture:
            width, height = picture.size
    except (OSError, ValueError, SyntaxError):
        return None, None
    x, y = origin_mm
    left, top = x - mm_per_pixel / 2, y + mm_per_pixel / 2
    return content, (left, top - height * mm_per_pixel, left + width * mm_per_pixel, top)
