"""What the commands about hides do, with their words for the terminal: trace, camera, and putting a hide right by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal, InvalidOperation
from io import BytesIO
from pathlib import Path

from rich.console import Console
from shapely.geometry import box

from ..atomic import write_bytes
from ..errors import FileError, ModelError
from ..files.hides import read_hide, write_hide
from ..model import MM2_PER_DM2, Hide, Traced

console = Console(highlight=False)
_UNIT = box(0, 0, 1, 1)


def run_trace(
    photo: Path,
    output: Path,
    *,
    guides: dict | None = None,
    facts: dict | None = None,
    camera: Path | None = None,
    **settings,
) -> Hide:
    """Trace a photo to a hide file, with the straightened photo and a check picture beside it.

    ``guides`` are texts of points in pixels (corners, points, inside, outside, rough, slits, stains, correct), ``facts`` what a
    person knows of the hide; ``settings`` go to :func:`nesting.tracing.trace_photo`.
    """
    from ..tracing import Unclear, draw_check, draw_places, suggest_flaws, trace_photo
    from ..tracing.check_picture import MOST_PLACES

    _named(output, ".json")
    guides, facts = guides or {}, facts or {}
    given = {name: _points(photo, name, text) for name, text in guides.items() if text and name != "points"}
    if guides.get("points"):
        given["points"] = _point_pairs(photo, guides["points"])
        settings["reference"] = "points"
    if camera is not None:
        from ..files.cameras import read_camera

        given["camera"] = read_camera(camera)
    hide = _described(output, Hide(output.stem, _UNIT), facts)
    doubts = output.with_name(output.stem + "-doubt.png")
    doubts.unlink(missing_ok=True)
    with console.status("tracing"):
        try:
            traced = trace_photo(photo, thickness_mm=hide.nominal_mm, **settings, **given)
        except Unclear as unclear:
            draw_places(photo, unclear.places, unclear.outline, doubts, unclear.names)
            many = (
                f", the first {MOST_PLACES} of {len(unclear.places)} places"
                if len(unclear.places) > MOST_PLACES
                else ""
            )
            console.print(f"{doubts} shows what is in doubt{many}", soft_wrap=True, markup=False)
            raise
        straight = output.with_name(output.stem + "-straight.jpg")
        hide = replace(
            hide, outline=traced.outline, photo=photo.name,
            suggestions=suggest_flaws(traced.straight, traced.outline, traced.to_pixels, traced.mm_per_pixel, traced.marks),
            traced=Traced(traced.reference, traced.mm_per_pixel, traced.expected_error_mm, traced.residual_pixels, traced.origin_mm, straight.name),
        )  # fmt: skip
        _keep_before(output)
        write_hide(output, hide)
        write_bytes(straight, _jpeg(traced.straight))
        picture = output.with_name(output.stem + "-check.png")
        draw_check(traced, picture, hide.suggestions)
    x0, y0, x1, y1 = hide.outline.bounds
    thick = "" if hide.nominal_mm is None else f" for leather {hide.nominal_mm:g} mm thick"
    console.print(
        f"{output}: {x1 - x0:.0f} x {y1 - y0:.0f} mm, {hide.outline.area / MM2_PER_DM2:.1f} dm2, {len(hide.outline.interiors)} hole(s), "
        f"scale from {traced.reference}{thick}, expected error {traced.expected_error_mm:.1f} mm; {len(hide.suggestions)} suggested flaw(s), "
        f"none used until accepted; look at {picture}",
        soft_wrap=True, markup=False,
    )  # fmt: skip
    if traced.unsure:
        places = " ".join(f"{x:.0f},{y:.0f}" for _, (x, y) in traced.doubt.unsure)
        console.print(
            f"{len(traced.unsure)} of the holes may be only stains, the colour does not tell; those that are become leather with --stains '{places}'",
            soft_wrap=True,
            markup=False,
        )
    return hide


def run_camera(photos: list[Path], output: Path) -> None:
    """Measure a camera from photos of the marker sheets and write its profile."""
    from ..files.cameras import write_camera
    from ..tracing.camera import measure_camera

    _named(output, ".json")
    with console.status("measuring the camera"):
        camera, residual, sheets = measure_camera(photos)
    write_camera(output, camera, residual, sheets)
    bend = 100 * sum(camera.lens)
    console.print(
        f"{output}: focal length {camera.focal:.3f} of the long side (within {100 * camera.focal_spread:.1f} %), the lens moves a corner "
        f"by {bend:+.2f} %, corners of {sheets} sheets within {residual:.2f} pixels",
        soft_wrap=True, markup=False,
    )  # fmt: skip


def run_to_svg(file: Path, output: Path | None) -> Path:
    """Draw a hide file over its straightened photo, to be put right in a vector editor."""
    from ..files.hide_svg import write_hide_svg

    hide = read_hide(file)
    output = output or file.with_suffix(".svg")
    _named(output, ".svg")
    _keep_before(output)
    photo, place = None, None
    if hide.traced is not None and hide.traced.picture and hide.traced.origin_mm:
        photo, place = _straight(file.with_name(hide.traced.picture), hide.traced)
    write_hide_svg(output, hide, photo, place)
    beneath = "over its photo" if photo is not None else "without a photo (none was kept)"
    console.print(
        f"{output}: drawn {beneath}; keep the rectangle 'frame', save, then: nesting hide from-svg {output}",
        soft_wrap=True,
        markup=False,
    )
    return output


def run_from_svg(drawing: Path, file: Path | None) -> Hide:
    """Read a drawing back into the hide file it was made of."""
    from ..files.hide_svg import read_hide_svg

    file = file or drawing.with_suffix(".json")
    if not drawing.is_file():
        raise FileError(drawing, "file", "not found", "give the drawing that nesting hide to-svg made and you edited")
    before = read_hide(file)
    hide = read_hide_svg(drawing, before)
    _keep_before(file)
    write_hide(file, hide)
    console.print(
        f"{file}: {hide.outline.area / MM2_PER_DM2:.1f} dm2 (was {before.outline.area / MM2_PER_DM2:.1f}), {len(hide.outline.interiors)} hole(s), "
        f"{len(hide.zones)} zone(s), {len(hide.suggestions)} suggestion(s) left, {len(hide.readings)} reading(s)",
        soft_wrap=True, markup=False,
    )  # fmt: skip
    return hide


def run_accept(file: Path, numbers: list[int] | None, drop: bool) -> Hide:
    """Make zones of suggestions, by their numbers as the check picture shows them, or of all; or throw them out."""
    hide = read_hide(file)
    count = len(hide.suggestions)
    for number in numbers or ():
        if not 1 <= number <= count:
            raise FileError(
                file, "suggestions", number, f"give numbers from 1 to {count}" if count else "none are left"
            )
    chosen = set(numbers or range(1, count + 1))
    kept = tuple(one for number, one in enumerate(hide.suggestions, start=1) if number not in chosen)
    new = (
        ()
        if drop
        else tuple(one.accepted() for number, one in enumerate(hide.suggestions, start=1) if number in chosen)
    )
    hide = replace(hide, suggestions=kept, zones=(*hide.zones, *new))
    write_hide(file, hide)
    console.print(f"{file}: {len(hide.zones)} zone(s), {len(kept)} suggestion(s) left", soft_wrap=True, markup=False)
    was = [number for number in range(1, count + 1) if number not in chosen]
    if any(number != old for number, old in enumerate(was, start=1)):
        now = ", ".join(
            f"{number} was {old}: {one.kind} {one.grade}" for number, (old, one) in enumerate(zip(was, kept), start=1)
        )
        console.print(
            f"they are counted anew, the check picture shows the old numbers: {now}", soft_wrap=True, markup=False
        )
    return hide


def _named(path: Path, ending: str) -> None:
    """Refuse another ending, so that neither a photo nor a drawing is written over."""
    if path.suffix.lower() != ending:
        raise FileError(path, "output", path.name or "no name", f"give a file whose name ends in {ending}")


def _keep_before(path: Path) -> None:
    """Keep what is about to be written over, which somebody may have put right by hand."""
    if path.is_file():
        kept = path.with_name(path.name + ".before")
        write_bytes(kept, path.read_bytes())
        console.print(f"{path} as it was is kept as {kept}", soft_wrap=True, markup=False)


def _described(output: Path, hide: Hide, facts: dict) -> Hide:
    """The facts checked before the photo is looked at, which takes a while."""
    try:
        price = None if facts.get("price") is None else Decimal(facts["price"])
        return replace(
            hide,
            nominal_mm=facts.get("nominal_mm"),
            tannage=facts.get("tannage", "unknown"),
            colour=facts.get("colour", ""),
            price=price,
        )
    except ModelError as error:
        raise FileError(output, error.thing, error.value, error.mend) from None
    except InvalidOperation:
        raise FileError(output, "--price", facts["price"], "give a number such as 48.50") from None


def _jpeg(picture) -> bytes:
    from PIL import Image

    content = BytesIO()
    Image.fromarray(picture).save(content, "JPEG", quality=85)
    return content.getvalue()


def _straight(path: Path, traced: Traced):
    """The straightened photo and where it lies: left, low, right, high in mm; nothing when it is gone."""
    from PIL import Image

    try:
        content = path.read_bytes()
        with Image.open(BytesIO(content), formats=("JPEG",)) as picture:
            width, height = picture.size
    except (OSError, ValueError, SyntaxError):
        return None, None
    step, (x, y) = traced.mm_per_pixel, traced.origin_mm
    left, top = x - step / 2, y + step / 2
    return content, (left, top - height * step, left + width * step, top)


def _points(photo: Path, name: str, text: str) -> list[tuple[float, float]]:
    try:
        points = [tuple(float(v) for v in pair.split(",")) for pair in text.split()]
        if not points or any(len(point) != 2 for point in points):
            raise ValueError
    except ValueError:
        raise FileError(photo, f"--{name}", text, "give points as 'x,y x,y ...' in pixels of the photo") from None
    return points


def _point_pairs(photo: Path, text: str) -> list:
    try:
        pairs = [tuple(tuple(float(v) for v in half.split(",")) for half in pair.split("=")) for pair in text.split()]
        if len(pairs) < 4 or any(len(pair) != 2 or len(pair[0]) != 2 or len(pair[1]) != 2 for pair in pairs):
            raise ValueError
    except ValueError:
        raise FileError(
            photo, "--points", text, "give four or more as 'px,py=x,y', pixels of the photo and mm"
        ) from None
    return pairs
