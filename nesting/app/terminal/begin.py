"""What the commands to begin with say: init, look, pattern."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ...errors import FileErrors
from ...files.patterns import Drawing
from ...model import counted
from ...report.parts_picture import part_words
from ..actions import begin
from .console import say


def run_init(folder: Path, drawings: Sequence[Path], inch: bool) -> None:
    """Write a folder to start from and say what comes next."""
    done = begin.begin(folder, drawings, "inch" if inch else "mm")
    for path in done.written:
        say(path)
    for path in done.there:
        say(f"{path}: is there already and is left as it is", "yellow")
    for brought in done.brought:
        _say_drawing(brought.file, brought.drawing, "inch" if inch else "mm")
    say(
        f"Next: put your bed, power and prices into {folder / 'workshop.toml'}, what you make into "
        f"{folder / 'products.toml'} and what is ordered into {folder / 'orders.csv'}; trace each hide "
        f"(nesting trace PHOTO -o {folder / 'hides'}/x.json); then: nesting look {folder}"
    )
    if done.faults:
        raise FileErrors(done.faults)


def run_pattern(source: Path, output: Path | None, unit: str) -> None:
    """Bring a drawing in and tell how it was understood."""
    done = begin.bring_pattern(source, output, unit)
    if done.kept:
        say(f"{done.file} as it was is kept as {done.kept}")
    _say_drawing(source, done.drawing, "mm")
    say(f"{done.file}: written, its lines labelled; look at {done.picture}, and put labels right in any vector editor")


def run_look(folder: Path, agree: bool) -> bool:
    """Tell everything that is wrong in a folder and show its parts; whether nothing is wrong."""
    done = begin.look(folder, agree)
    for seen in done.drawings:
        _say_drawing(seen.file, seen.drawing, done.units)
        if seen.kept:
            say(f"    its labels are written into it; as it was it is kept as {seen.kept}")
        say(f"    picture: {seen.picture}")
    asked = [seen for seen in done.drawings if seen.drawing.guessed and not agree]
    if asked:
        say(
            f"{counted(len(asked), 'drawing')} with lines without labels: look at the pictures; if all lines are "
            f"what they should be, say nesting look {folder} --yes",
            "yellow",
        )
    if done.job is not None:
        for line in _ready(folder):
            say(line, "yellow" if line.startswith("note") else None)
    if done.faults:
        raise FileErrors(done.faults)
    return True


def _ready(folder: Path) -> list[str]:
    """What a plan would say before its search."""
    from ..actions import job
    from ..actions.job import notes_before

    lines = notes_before(job.prepare_folder(folder))
    notes = sum(line.startswith("note") for line in lines)
    first = f" with the files, but see the {counted(notes, 'note')} above" if notes else ""
    return [*lines, f"nothing is wrong{first}: nesting plan {folder}"]


def _say_drawing(file: Path, drawing: Drawing, first: str) -> None:
    guessed = ", told by what its lines look like" if drawing.guessed else ""
    say(f"{file}: {counted(len(drawing.parts), 'part')}{guessed}")
    for part in drawing.parts:
        say(f"    {part_words(part, first)}")
    for text in (*drawing.told, *drawing.questions):
        say(f"    note: {text}", "yellow")
