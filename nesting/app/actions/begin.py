"""Actions to begin with: a folder to start from, drawings brought in, and all of a folder looked at."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from shapely.geometry import LineString, Polygon

from ...atomic import write_bytes, write_text
from ...errors import Faults, FileError, ModelError
from ...files.asked import without
from ...files.bring import read_any
from ...files.job import read_job
from ...files.labels import Labels
from ...files.limits import DEFAULT
from ...files.pattern_svg import write_pattern
from ...files.patterns import Drawing, read_drawing
from ...files.source import read_bytes, read_toml
from ...files.starter import Listed, product_table, starter_files
from ...files.workshop import read_workshop
from ...model import Curve, Curves, Job, Part, Workshop, units
from .hides import keep_before


@dataclass(frozen=True)
class Begun:
    """A folder to start from: what was written, what was there and is left alone, and drawings with their faults."""

    written: tuple[Path, ...]
    there: tuple[Path, ...]
    brought: tuple[Brought, ...]
    faults: tuple[FileError, ...]


@dataclass(frozen=True)
class Brought:
    """A drawing brought in as a pattern, and the picture of how it was understood."""

    source: Path
    file: Path
    drawing: Drawing
    picture: Path | None = None
    kept: Path | None = None


@dataclass(frozen=True)
class Looked:
    """All that is wrong in a folder, its drawings with their pictures, and its job where nothing is wrong."""

    faults: tuple[FileError, ...]
    drawings: tuple[Brought, ...]
    job: Job | None
    units: str


def begin(folder: Path, drawings: Sequence[Path] = (), first: str = "mm", sample: bool = True) -> Begun:
    """Write the files of a folder to start from; what is there already is left as it is.

    Parameters
    ----------
    folder : Path
    drawings : sequence of Path
        Drawings at hand, brought into the folder's patterns and listed as products.
    first : str
        Units to show first.
    sample : bool
        An invented product is made and ordered where there are no drawings.

    Raises
    ------
    FileError
        When a file cannot be written. What is wrong with drawings is in the result: the others are brought in.
    """
    if folder.exists() and not folder.is_dir():
        raise FileError(folder, "folder", "not a folder", "give the name of a new folder")
    faults = Faults()
    brought: list[Brought] = []
    listed: list[Listed] = []
    for source in drawings:
        target = folder / "patterns" / f"{_plain(source.stem)}.svg"
        drawing: Drawing | None = None
        with faults.gathered():
            drawing = read_any(source)
            brought.append(Brought(source, target, drawing))
        with faults.gathered():
            if _brought_in(source, target, drawing):
                listed.append(Listed(f"patterns/{target.name}", drawing))
    if drawings and not listed:
        faults.tell()
    written: list[Path] = []
    there: list[Path] = []
    texts = starter_files(folder, listed, first, sample)
    if (folder / "products.toml").exists():
        texts = {name: text for name, text in texts.items() if not name.startswith("patterns/")}
    for name, text in texts.items():
        path = folder / name
        if path.exists():
            there.append(path)
        else:
            write_text(path, text)
            written.append(path)
    (folder / "hides").mkdir(parents=True, exist_ok=True)
    return Begun(tuple(written), tuple(there), tuple(brought), tuple(faults.found))


def _brought_in(source: Path, target: Path, drawing: Drawing | None) -> bool:
    """Whether a drawing became a pattern: an SVG as it is, faults and all, others as they were understood."""
    if source.resolve() == target.resolve():
        return True
    if drawing is None and (source.suffix.lower() != ".svg" or not source.is_file()):
        return False
    if target.exists():
        mend = "it is there already and is left alone: delete it, or rename the drawing"
        raise FileError(target, "file", "exists", mend)
    if source.suffix.lower() == ".svg":
        write_bytes(target, read_bytes(source, DEFAULT.svg_bytes, missing="", not_plain="", too_big="simplify it"))
    elif drawing is not None:
        write_pattern(target, drawing)
    return True


def bring_pattern(source: Path, output: Path | None = None, unit: str = "", labels: Labels | None = None) -> Brought:
    """Read a drawing of any kind and write it as a labelled pattern, with a picture of how it was understood.

    Parameters
    ----------
    source : Path
        SVG, DXF or PDF.
    output : Path, optional
        Beside the drawing by default.
    unit : str
        What the drawing is in, where it does not say.
    labels : mapping of str to str, optional
        What colours and names mean; those of the workshop around the output by default.
    """
    from ...report.parts_picture import write_parts_picture

    output = output or source.with_suffix(".svg")
    if output.suffix.lower() != ".svg":
        raise FileError(output, "file", "not .svg", "give a name that ends with .svg")
    workshop = _workshop(output.resolve().parent.parent)
    drawing = read_any(source, unit, (workshop.drawings if workshop else {}) if labels is None else labels)
    kept = keep_before(output)
    write_pattern(output, drawing)
    first = workshop.units if workshop else "mm"
    picture = write_parts_picture(output.with_name(f"{output.stem}-look.png"), drawing, source.name, first)
    return Brought(source, output, drawing, picture, kept)


def listed_text(products: str, brought: Brought) -> str:
    """The text of products.toml with a drawing listed as one product more, named after its file."""
    table = product_table(Listed(f"patterns/{brought.file.name}", brought.drawing))
    return f"{products.rstrip()}\n\n{table}" if products.strip() else table


LINES = ("cutout", "stitch", "engrave", "engrave fill", "engrave line", "fold", "")
"""What a line of a part may be made; empty leaves it out."""


def relabel(file: Path, part: int, kind: str, number: int, label: str) -> Drawing:
    """Write a pattern again with one line of a part made something else.

    Parameters
    ----------
    file : Path
    part : int
        Number of the part in the drawing, from 0.
    kind : {"cutout", "stitch", "engrave", "fold"}
        What the line is taken for now.
    number : int
        Which of those of the part, from 0.
    label : str
        What it is; one of ``LINES``.

    Raises
    ------
    FileError
        When the drawing has no such line, or it cannot be that.
    """
    drawing = _as_understood(file)
    if kind not in ("cutout", "stitch", "engrave", "fold"):
        raise FileError(file, "line", kind, "give cutout, stitch, engrave or fold")
    if not 0 <= part < len(drawing.parts):
        raise FileError(file, "part", part, f"it has {len(drawing.parts)}")
    changed = _relabelled(file, drawing.parts[part], kind, [number], label)
    asked = without(drawing.asked, part, [number]) if kind == "cutout" else drawing.asked
    return _rewritten(file, replace(drawing, parts=_with(drawing.parts, part, changed), asked=asked))


def answer_colour(file: Path, colour: str, label: str) -> Drawing:
    """Write a pattern again with all lines of a colour that was asked about made something.

    Parameters
    ----------
    file : Path
    colour : str
        As #rrggbb.
    label : str
        What they are; one of ``LINES``.

    Raises
    ------
    FileError
        When the drawing has no such lines, or they cannot be that.
    """
    drawing = _as_understood(file)
    asked = [one for one in drawing.asked if one.colour == colour]
    if not asked:
        raise FileError(file, "colour", colour, "no line of that colour is asked about: load the drawing again")
    parts, rest = drawing.parts, tuple(one for one in drawing.asked if one.colour != colour)
    for part in {one.part for one in asked}:
        taken = sorted(one.number for one in asked if one.part == part and one.number is not None)
        # what lies in cutouts is no line of the part
        within = [] if label == "cutout" else [one.curve for one in asked if one.part == part and one.number is None]
        parts = _with(parts, part, _relabelled(file, parts[part], "cutout", taken, label, within))
        rest = without(rest, part, taken)
    return _rewritten(file, replace(drawing, parts=parts, asked=rest))


def _as_understood(file: Path) -> Drawing:
    around = _workshop(file.resolve().parent.parent)
    return read_drawing(file, labels={} if around is None else around.drawings)


def _with(parts: tuple[Part, ...], number: int, part: Part) -> tuple[Part, ...]:
    return (*parts[:number], part, *parts[number + 1 :])


def _rewritten(file: Path, drawing: Drawing) -> Drawing:
    write_pattern(file, drawing)
    return _as_understood(file)


def _relabelled(
    file: Path, one: Part, kind: str, numbers: Sequence[int], label: str, more: Sequence[Curve] = ()
) -> Part:
    """A part with some lines of a kind, and lines it did not have, made something else."""
    mend = f"give one of {', '.join(name for name in LINES if name)}, or nothing to leave it out"
    if label not in LINES:
        raise FileError(file, "line", label, mend)
    curves = one.curves or Curves(
        Curve.of(one.outline), *(tuple(map(Curve.of, more)) for more in (one.cutouts, one.stitch, one.engrave))
    )
    hows = one.engrave_how or ("",) * len(curves.engrave)
    lines: dict[str, list[tuple[Curve, str]]] = {
        "cutout": [(curve, "") for curve in curves.cutouts],
        "stitch": [(curve, "") for curve in curves.stitch],
        "engrave": list(zip(curves.engrave, hows)),
        "fold": [(Curve.of(line), "") for line in one.folds],
    }
    name, _, how = label.partition(" ")
    for number in numbers:
        if not 0 <= number < len(lines[kind]):
            raise FileError(file, f"{one.name} {kind}", number, f"it has {len(lines[kind])}")
    moved = [lines[kind][number][0] for number in numbers]
    lines[kind] = [line for number, line in enumerate(lines[kind]) if number not in set(numbers)]
    if name == "cutout" and not all(curve.closed for curve in moved):
        raise FileError(
            file, f"{one.name} {kind}", "an open line", "only a closed line can be cut out: close it, or leave it"
        )
    if name:
        lines[name] += [(curve, how) for curve in (*moved, *more)]

    def chords(kind: str) -> tuple[LineString, ...]:
        return tuple(curve.flattened(DEFAULT.chord_mm) for curve, _ in lines[kind])

    try:
        return replace(
            one,
            cutouts=tuple(Polygon(line) for line in chords("cutout")),
            stitch=chords("stitch"),
            engrave=chords("engrave"),
            engrave_how=tuple(how for _, how in lines["engrave"]),
            folds=chords("fold"),
            curves=Curves(
                curves.outline, *(tuple(curve for curve, _ in lines[kind]) for kind in ("cutout", "stitch", "engrave"))
            ),
        )
    except (ModelError, ValueError) as error:
        raise FileError(file, f"{one.name} {kind}", label, str(error)) from None


def look(folder: Path, agree: bool = False) -> Looked:
    """Find everything that is wrong in a folder, and draw every part as it is understood.

    Parameters
    ----------
    folder : Path
    agree : bool
        Write the labels that were told into drawings that have none; what they were before is kept.
    """
    from ...report.parts_picture import write_parts_picture

    workshop = _workshop(folder)
    labels = workshop.drawings if workshop else {}
    first = workshop.units if workshop else _units(folder)
    seen: list[Brought] = []
    faults = Faults()
    for path in sorted(folder.glob("patterns/*.svg")):
        with faults.gathered():
            drawing = read_drawing(path, labels=labels)
            picture = write_parts_picture(folder / "look" / f"{path.stem}.png", drawing, path.name, first)
            kept = None
            if drawing.guessed and agree:
                kept = keep_before(path)
                write_pattern(path, replace(drawing, asked=()))
            seen.append(Brought(path, path, drawing, picture, kept))
    job = None
    with faults.gathered():
        job = read_job(folder)
    found = {str(fault): fault for fault in faults.found}
    return Looked(tuple(found.values()), tuple(seen), job, first)


def _workshop(folder: Path) -> Workshop | None:
    """The workshop of a folder, where there is one to be read."""
    try:
        return read_workshop(folder / "workshop.toml")
    except FileError:
        return None


def _units(folder: Path) -> str:
    """The units shown first, as a workshop file says that has faults elsewhere."""
    with contextlib.suppress(FileError):
        found = read_toml(folder / "workshop.toml").get("units")
        return found if found in units.UNITS else units.UNITS[0]
    return units.UNITS[0]


def _plain(stem: str) -> str:
    """A name of a file that any system takes."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", stem).strip("-.") or "drawing"
