"""What the commands of the shop say."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from ...book.book import Book, CutDone
from ...book.shelf import money, words
from ...book.tables import BookOrder, ShelfHide
from ...errors import FileError
from ...model import MM2_PER_DM2, MM2_PER_SQ_FT, counted, units
from ..actions import shop
from ..options import option, price
from .console import list_rows, say

MOST_CUT = 100
"""Order lines that are cut and not done, of which the list tells: the newest."""


def say_taken(taken: shop.TakenIn) -> None:
    """Tell what was taken in of a folder's plain files."""
    for line in taken.done:
        say(line)
    for note in taken.notes:
        say(f"note: {note}", "yellow")


def run_begin(folder: Path) -> None:
    """Begin a stock book, and tell what is in it."""
    say_taken(shop.begin(folder))
    say(f"{Book(folder).path}: begun. Next: nesting plan, then nesting cut HIDE/PANEL for each bed load that is burnt")


def run_steps(folder: Path, most: int) -> None:
    """Tell the last steps."""
    for step in Book(folder).steps(most):
        say(f"{_when(step.at)}  {step.words}")


def run_book_export(folder: Path, to: Path) -> None:
    """Write everything as plain files."""
    say(f"{Book(folder).export(to)}: all of the book, as plain files and lists; nesting book read {to} reads it back")


def run_book_read(folder: Path, source: Path) -> None:
    """Read everything back."""
    book = shop.read_back(folder, source)
    rows = len(book.hides(("shelf", "opened", "cut", "retired")))
    say(f"{book.path}: {counted(rows, 'piece')} of leather, {counted(len(book.orders(None)), 'order line')}")


def run_shelf(folder: Path, every: bool) -> None:
    """List hides and offcuts."""
    book = Book(folder)
    rows = book.hides(("shelf", "opened", "cut", "retired") if every else ("shelf", "opened"))
    left = book.left_mm2()
    cells = [
        [
            row.code, row.name, f"{left.get(row.id, row.area_mm2) / MM2_PER_DM2:.1f}",
            f"{left.get(row.id, row.area_mm2) / MM2_PER_SQ_FT:.1f}",
            "" if row.thickness_mm is None else f"{row.thickness_mm:g}", shop.kind_words(row), state_words(row),
            "" if row.price is None else str(money(row.price, book.currency)),
        ]
        for row in rows
    ]  # fmt: skip
    numbers = ("dm2", "sq ft", "mm", book.currency)
    list_rows(("code", "hide", *numbers[:3], "kind", "state", book.currency), cells, numbers, ("hide", "kind", "state"))
    area = sum(left.get(row.id, row.area_mm2) for row in rows if row.state in ("shelf", "opened"))
    offcuts = sum(row.parent is not None for row in rows)
    say(f"{counted(len(rows), 'piece')} of leather, {counted(offcuts, 'offcut')} among them; {units.area_words(area)}")


def state_words(row: ShelfHide) -> str:
    """What became of it, in words."""
    return {"shelf": "offcut" if row.parent else "whole", "opened": "cut in part", "cut": "cut up"}.get(
        row.state, row.state
    )


def run_shelf_show(folder: Path, name: str) -> None:
    """Tell all about a hide."""
    book = Book(folder)
    row = book.hide(name)
    children = book.offcuts_of(row)
    parent = book.parent_of(row)
    say(f"{row.name} ({row.code}): {shop.kind_words(row)}, {state_words(row)}")
    lines = [
        ("area", units.area_words(row.area_mm2)),
        ("supplier's measure", "" if row.bought_mm2 is None else units.area_words(row.bought_mm2)),
        ("largest rectangle" if row.parent else "reaches", units.size_words(row.wide_mm, row.high_mm)),
        ("thickness", "" if row.thickness_mm is None else units.thickness_words(row.thickness_mm)),
        ("price", "" if row.price is None else f"{money(row.price, book.currency)} {book.currency}"),
        ("supplier", row.supplier),
        ("left of", "" if parent is None else parent.name),
        ("photo", row.photo),
        ("traced by", row.traced),
        ("on the shelf since", _when(row.added)),
        ("gone", f"{_when(row.gone)} {row.why}" if row.gone else ""),
        ("file", str(folder / row.file)),
    ]
    for what, told in lines:
        if told:
            say(f"  {what}: {told}")
    for load in book.loads(row.name):
        if load.state == "cut":
            used = load.parts_mm2 / load.panel_mm2
            say(f"  panel {load.panel} cut {_when(load.at)}: {counted(load.count, 'part')}, {used:.0%} of it in parts")
    if children:
        say(f"  left of it: {words([child.name for child in children], 20)}")


def run_shelf_add(folder: Path, names: list[str], supplier: str | None, measure: str | None, paid: str | None) -> None:
    """Take new hides in, and note what was bought."""
    book = Book(folder)
    with option("--measure"):
        bought = None if measure is None else units.area_mm2(measure)
    cost = price(paid, book.currency)
    said = (supplier, bought, cost) != (None, None, None)
    if said and not names:
        raise FileError("nesting shelf add", "HIDES", "none", "name the hides that the options tell of")
    say_taken(shop.take_in(folder))
    for name in names:
        book.hide(name)
    if said:
        book.bought(names, supplier=supplier, bought_mm2=bought, price=cost)
    for name in names:
        row = book.hide(name)
        say(f"{row.name}: code {row.code}, {units.area_words(row.area_mm2)}")


def run_retire(folder: Path, name: str, why: str) -> None:
    """Take a hide off the shelf."""
    row = Book(folder).retire(name, why)
    say(f"{row.name} is off the shelf; its file is {folder / row.file}")


def run_back(folder: Path, name: str) -> None:
    """Put what is left of a hide back."""
    _say_left(Book(folder).put_back(name))


def run_label(folder: Path, names: list[str], output: Path | None) -> None:
    """Make labels."""
    say(shop.write_labels_of(folder, names, output or folder / "out" / "labels.pdf"))


def run_orders(folder: Path, every: bool) -> None:
    """List orders."""
    book = Book(folder)
    rows = book.orders(None) if every else [*book.orders(), *book.orders(("cut",), MOST_CUT)]
    cells = [
        [
            row.name, row.product, str(row.quantity), str(row.made), order_words(row),
            "" if row.due is None else row.due.isoformat(), row.note,
        ]
        for row in rows
    ]  # fmt: skip
    head = ("order", "product", "pieces", "made", "state", "due", "note")
    list_rows(head, cells, ("pieces", "made"), ("product", "state", "note"))
    if not every and sum(row.state == "cut" for row in rows) == MOST_CUT:
        say(f"The last {MOST_CUT} that are cut; say nesting orders done of what is handed over. --all lists every one.")
    counts = Counter(row.state for row in rows)
    say(", ".join(f"{counted(count, 'line')} {state}" for state, count in counts.items()) or "no orders")


def order_words(row: BookOrder) -> str:
    """The state of an order line, with the parts spoiled and not made again."""
    return row.state + (f" ({counted(row.spoiled, 'part')} spoiled)" if row.spoiled and row.state != "done" else "")


def run_orders_take(folder: Path, file: Path) -> None:
    """Take orders in."""
    pasted = str(file) == "-"
    told = shop.take_orders(folder, None if pasted else file, pasted=sys.stdin.read() if pasted else "")
    say(told or "nothing new")


def run_done(folder: Path, order: str, product: str, done: bool) -> None:
    """Say that an order is done."""
    for row, new in Book(folder).set_done(order, product, done):
        told = f"{row.name} {row.product}: {row.state}"
        if not new:
            say(f"{told} already, since {_when(row.done)}; nothing changed" if done else f"{told}, it was not done")
        elif done and (unmade := shop.unmade_words(row)):
            say(f"{told}, though {unmade}", "yellow")
            say("nesting undo takes this back")
        else:
            say(told)


def run_cut(folder: Path, loads: list[str]) -> None:
    """Write bed loads down as cut, or tell which are still to be cut."""
    book = Book(folder)
    if not loads:
        waiting = book.waiting()
        for hide, panel in waiting:
            say(f"{hide}/{panel}")
        say(f"{counted(len(waiting), 'bed load')} of the layout at hand to be cut")
        return
    panels = []
    for load in loads:
        hide, _, panel = load.rpartition("/")
        panels.append((hide, panel))
    done = book.cut(panels)
    say(f"cut: {words(done.loads)}")
    _say_left(done)
    for row in book.orders(("spoiled",)):
        say(f"{row.name} {row.product}: {order_words(row)}", "yellow")
    say(f"{counted(len(book.waiting()), 'bed load')} still to be cut; nesting undo takes this back")


def _say_left(done: CutDone) -> None:
    if done.offcuts:
        say(f"on the shelf: {words(done.offcuts, 30)} (nesting shelf label {' '.join(done.offcuts)})")
    else:
        say("nothing worth keeping is left")


def run_undo(folder: Path) -> None:
    """Take the last step back."""
    step = Book(folder).undo()
    say("there is nothing to take back" if step is None else f"taken back: {step.words} ({_when(step.at)})")


def _when(at: str | None) -> str:
    return (at or "")[:16].replace("T", " ")
