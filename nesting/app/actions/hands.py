"""Actions by which a maker settles a layout by hand: pin, unpin, make again, say what is burnt, go on from it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...book.book import Book
from ...errors import FileError, ModelError
from ...files.layout import Stated, as_written, read_layout, read_stated, write_layout
from ...model import Layout, PartKey, Placement, Spot
from ...planning.hands import burnt, moved, pinned, spoiled
from ...planning.keeping import keep
from ...planning.kept import Kept
from ...planning.prepare import Prepared
from ...referee.findings import Finding
from ...referee.rules import check

COMPARED = "compare.json"
"""Name in ``out/`` of the best layout of the last comparison of hides."""


@dataclass(frozen=True)
class Which:
    """Which parts of a layout are meant; what is empty or None leaves it open."""

    order: str = ""
    part: str = ""
    product: str = ""
    piece: int | None = None
    copy: int | None = None
    on: str = ""
    mirrored: bool | None = None

    def matches(self, placement: Placement) -> bool:
        """Whether it means a placement."""
        words = ((self.order, placement.order), (self.part, placement.part), (self.product, placement.product))
        if any(asked and asked.casefold() != said.casefold() for asked, said in words):
            return False
        numbers = (
            (self.piece, placement.piece),
            (self.copy, placement.copy),
            (self.mirrored, placement.mirrored),
        )
        if any(asked is not None and asked != said for asked, said in numbers):
            return False
        return self.on in ("", placement.hide, f"{placement.hide}/{placement.panel}")


def pin_parts(file: Path, which: Which, stay: bool = True) -> list[Placement]:
    """Pin parts of a layout file where they lie, or let them go; those that are burnt stay anyway.

    Raises
    ------
    FileError
        When the file has no such part.
    """
    stated = read_stated(file)
    found = _found(file, stated.layout, which)
    pin_keys(file, stated, {placement.key for placement in found}, stay)
    return found


def pin_keys(file: Path, stated: Stated, keys: Collection[PartKey], stay: bool = True) -> Stated:
    """The same of parts by their keys, of a file that was read already; gives what it says then."""
    _unchanged(file, stated)
    after = replace(stated, layout=pinned(stated.layout, keys, stay))
    write_layout(file, after.layout, after.figures, hasty=True)
    return after


def try_move(layout: Layout, key: PartKey, spot: Spot) -> list[Finding]:
    """Why a part may not lie at a spot, by the referee, looking at the parts near it only; empty where it may.

    Raises
    ------
    ModelError
        When the layout has no such part, it is burnt already, or nothing is cut from that hide.
    """
    after, part = _moved(layout, key, spot)
    reach = part.outline.buffer(2 * layout.workshop.margins.between_mm)
    near = [
        other
        for other in (*after.placements, *after.lost)
        if other.hide == part.hide and reach.intersects(other.outline)
    ]
    keys = {other.key for other in near}
    matching = {part.hide, *(other.hide for other in after.placements if other.match == part.match != "")}
    fewer = replace(
        after,
        hides=tuple(hide for hide in after.hides if hide.id in matching),
        # that the panels are what the knife lines leave does not hang on the part
        panels=tuple(panel for panel in after.panels if (panel.hide, panel.id) == (part.hide, part.panel)),
        cuts=(),
        placements=tuple(other for other in after.placements if other.key in keys or other.match == part.match != ""),
        unplaced=(),
    )
    groups = (part.match, f"{part.order} {part.product}")
    about = [one for one in check(fewer) if part.name in one.who or (one.rule == _MATCHING and one.who in groups)]
    return [finding for finding in about if finding.rule not in _OF_ALL]


_MATCHING = 6
"""Its findings name the parts that must match together."""
_OF_ALL = (7, 8)
"""Rules about all of a layout: a part does not break them by where it lies."""


def move_part(file: Path, stated: Stated, key: PartKey, spot: Spot) -> tuple[Stated, list[Finding]]:
    """Lay a part of a layout file elsewhere and pin it there; nothing is written where a rule is broken then, and the
    findings say which.

    Gives what the file says then. The figures beside the layout are of the old one, so none are left.

    Raises
    ------
    FileError
        When the file was changed by hand, or cannot be written.
    ModelError
        As by `try_move`.
    """
    _unchanged(file, stated)
    if findings := try_move(stated.layout, key, spot):
        return stated, findings
    after, part = _moved(stated.layout, key, spot)
    # all others are as they were read
    (laid,) = as_written(replace(after, placements=(part,), lost=()), file).placements
    after = replace(after, placements=tuple(laid if one.key == key else one for one in after.placements))
    found = check(after)
    if found:
        return stated, found
    write_layout(file, after, {}, hasty=True)
    return Stated(after, {}, True), []


def _moved(layout: Layout, key: PartKey, spot: Spot) -> tuple[Layout, Placement]:
    part = next((placement for placement in layout.placements if placement.key == key), None)
    if part is None:
        raise ModelError("part", " ".join(map(str, key)), "it is not placed: load the layout again")
    if layout.is_burnt(part):
        raise ModelError("part", part.name, "it is burnt: it lies where it was cut")
    try:
        after = moved(layout, part, spot)
    except ValueError as error:
        raise ModelError("part", part.name, f"{error}: plan with that hide first") from None
    return after, next(placement for placement in after.placements if placement.key == key)


def mark_burnt(file: Path, panels: Sequence[str], done: bool = True) -> Layout:
    """Say of panels of a layout file, as HIDE/PANEL, that they are burnt, or not after all; gives the layout.

    Where the folder has a stock book they are written down there as cut.

    Raises
    ------
    FileError
        When the file has no such panel, or what is written down in the book is to be taken back.
    """
    stated = _unchanged(file)
    keys = _panels(stated.layout, panels, "--burnt" if done else "--not-burnt")
    if Book.there(file.parent.parent):
        if not done:
            raise FileError(
                file, "panel", panels[0], "it is written down as cut in the stock book: nesting undo takes it back"
            )
        Book(file.parent.parent).cut(keys)
        return read_layout(file)
    after = burnt(stated.layout, keys, done)
    write_layout(file, after, stated.figures)
    return after


def make_again(file: Path, which: Which) -> tuple[Placement, list[Path]]:
    """Take a part that was spoiled at the machine off a layout, so that the next plan makes it again.

    Gives the part, and the files written.

    Raises
    ------
    FileError
        When the file has no such part, or several.
    """
    from ...costs.figures import figures
    from ...report.write import write_reports

    layout = _unchanged(file).layout
    found = _found(file, layout, which)
    if len(found) > 1:
        listed = "; ".join(
            f"--piece {p.piece} --copy {p.copy}{' --mirrored' if p.mirrored else ''} (on {p.hide}/{p.panel})"
            for p in found[:10]
        )
        raise FileError(file, "parts", f"{len(found)} of that name", f"say which of them: {listed}")
    if Book.there(file.parent.parent):
        Book(file.parent.parent).spoil(found[0], figures)
        after = read_layout(file)
        numbers = figures(after)
    else:
        after = as_written(spoiled(layout, found[0]), file)
        numbers = figures(after)
        write_layout(file, after, numbers, hasty=True)
    return found[0], [file, *write_reports(after, file.parent, numbers)]


def kept_of(
    prepared: Prepared,
    folder: Path,
    *,
    resume: bool = False,
    done: Sequence[str] = (),
    undone: Sequence[str] = (),
    fresh: bool = False,
    compared: bool = False,
) -> Kept | None:
    """What a new plan of a job folder keeps of the layout in its ``out``; None where there is none to heed.

    Parameters
    ----------
    prepared : Prepared
    folder : Path
    resume : bool
        Keep all that still holds, not only what is pinned or burnt.
    done, undone : sequence of str
        Panels that are burnt by now, and such as are not burnt after all, as HIDE/PANEL.
    fresh : bool
        Heed nothing.
    compared : bool
        Keep all that still holds of the best layout of the last comparison instead.

    Raises
    ------
    FileError
        When there is no layout to go on from, it cannot be read, has no such panel, or a hide was drawn anew
        since a panel of it was burnt.
    """
    file = folder / "out" / (COMPARED if compared else "layout.json")
    book = Book(folder) if Book.there(folder) else None
    resume = resume or compared
    asked = resume or done or undone
    if fresh and asked:
        raise FileError(
            "--fresh", "options", "with another that keeps", "keep what is at hand, or heed nothing: leave one out"
        )
    if asked and not file.exists():
        first = f"nesting compare {folder}" if compared else "nesting plan without options"
        raise FileError(file, "file", "missing", f"there is no layout to go on from: run {first}")
    layout = None if fresh else _at_hand(file)
    if compared and layout is not None:
        _same_burnt(folder, file, layout)
    if layout is not None:
        layout = burnt(layout, _panels(layout, undone, "--not-burnt"), False)
        layout = burnt(layout, _panels(layout, done, "--burnt"))
    if book is not None:
        # what is cut is cut, also where nothing else is heeded
        layout = book.to_go_on(layout)
        if layout is not None and fresh:
            layout = pinned(layout, {placement.key for placement in layout.placements}, False)
    if layout is None:
        return None
    if not (resume or layout.burnt or any(placement.pinned for placement in layout.placements)):
        return None
    try:
        return keep(prepared, layout, resume)
    except ModelError as error:
        raise FileError(file, error.thing, error.value, error.mend) from None


def _at_hand(file: Path) -> Layout | None:
    """The layout of an earlier plan; None where there is none."""
    if not file.exists():
        return None
    try:
        return read_layout(file)
    except FileError as error:
        mend = "mend it, or give --fresh to plan without heeding what it has pinned or burnt"
        raise FileError(error.file, error.place, error.value, f"{error.mend}; {mend}") from None


def _same_burnt(folder: Path, file: Path, best: Layout) -> None:
    """Leather that was burnt since a comparison is not planned again."""
    now = _at_hand(folder / "out" / "layout.json")
    since = {one.name for one in now.burnt} ^ {one.name for one in best.burnt} if now is not None else set()
    if since:
        raise FileError(
            file,
            "burnt",
            ", ".join(sorted(since)),
            f"burnt, or not, since it was made: run nesting compare {folder} again",
        )


def tell_book(folder: Path, done: Sequence[str], undone: Sequence[str]) -> None:
    """Write panels that are burnt by now down as cut in the stock book of a folder, where it has one.

    Raises
    ------
    FileError
        When some are said not to be burnt after all: a step in the book is taken back otherwise.
    """
    if not Book.there(folder):
        return
    if undone:
        raise FileError("--not-burnt", "panel", undone[0], "the stock book has it as cut: say nesting undo instead")
    book = Book(folder)
    layout = book.layout() if done else None
    waiting = book.waiting() if done else []
    if layout is not None and (new := [one for one in _panels(layout, done, "--burnt") if one in waiting]):
        book.cut(new)


def settled(folder: Path) -> bool:
    """Whether the layout at hand in a job folder has pinned parts or burnt panels."""
    file = folder / "out" / "layout.json"
    try:
        layout = read_layout(file) if file.exists() else None
    except FileError:
        return False
    return layout is not None and bool(layout.burnt or any(part.pinned for part in layout.placements))


def _unchanged(file: Path, stated: Stated | None = None) -> Stated:
    """A layout that is as it was written: another would be sealed anew with whatever was put into it."""
    stated = read_stated(file) if stated is None else stated
    if stated.sealed is False:
        mend = "take it from earlier/ in the same folder, or go on from it with nesting plan FOLDER --resume"
        raise FileError(file, "file", "changed since it was written", mend)
    return stated


def _found(file: Path, layout: Layout, which: Which) -> list[Placement]:
    found = [placement for placement in layout.placements if which.matches(placement)]
    if found:
        return found
    among = layout.placements
    for name, asked in (("order", which.order), ("part", which.part), ("product", which.product)):
        known = sorted({getattr(placement, name) for placement in among})
        among = tuple(p for p in among if asked.casefold() in ("", getattr(p, name).casefold()))
        if not among:
            raise FileError(file, name, asked, f"give one that is placed: {', '.join(known[:30]) or 'nothing is'}")
    if which.on:
        _panels(layout, [which.on], "--on", hides=True)
    for name, number in (("piece", which.piece), ("copy", which.copy)):
        numbers = sorted({getattr(placement, name) for placement in among})
        if number is not None and number not in numbers:
            listed = ", ".join(map(str, numbers[:30]))
            raise FileError(f"--{name}", name, number, f"give one that is placed: {listed}")
    named = " ".join(filter(None, (which.order, which.part))) or "parts"
    raise FileError(file, "placements", named, "no part placed is all that is asked for: leave some of it out")


def _panels(layout: Layout, names: Sequence[str], option: str, hides: bool = False) -> list[tuple[str, str]]:
    known = {f"{panel.hide}/{panel.id}": (panel.hide, panel.id) for panel in layout.panels}
    for name in names:
        if name not in known and not (hides and name in {panel.hide for panel in layout.panels}):
            raise FileError(option, "panel", name, f"give one as HIDE/PANEL: {', '.join(known) or 'there is none'}")
    return [known[name] for name in names if name in known]
