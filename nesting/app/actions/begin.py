"""Actions to begin with: a folder to start from, drawings brought in, and all of a folder looked at."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ...atomic import write_bytes, write_text
from ...errors import Faults, FileError
from ...files.bring import read_any
from ...files.job import read_job
from ...files.limits import DEFAULT
from ...files.pattern_svg import write_pattern
from ...files.patterns import Drawing, Labels, read_drawing
from ...files.source import read_bytes
from ...files.starter import Listed, starter_files
from ...files.workshop import read_workshop
from ...model import Job, Workshop
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


def begin(folder: Path, drawings: Sequence[Path] = (), first: str = "mm") -> Begun:
    """Write the files of a folder to start from; what is there already is left as it is.

    Parameters
    ----------
    folder : Path
    drawings : sequence of Path
        Drawings at hand, brought into the folder's patterns and listed as products.
    first : str
        Units to show first.

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
    texts = starter_files(folder, listed, first)
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
    first = workshop.units if workshop else "mm"
    seen: list[Brought] = []
    faults = Faults()
    for path in sorted(folder.glob("patterns/*.svg")):
        with faults.gathered():
            drawing = read_drawing(path, labels=labels)
            picture = write_parts_picture(folder / "look" / f"{path.stem}.png", drawing, path.name, first)
            kept = None
            if drawing.guessed and agree:
                kept = keep_before(path)
                write_pattern(path, drawing)
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


def _plain(stem: str) -> str:
    """A name of a file that any system takes."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", stem).strip("-.") or "drawing"
