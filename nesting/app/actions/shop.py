"""Actions of the shop: a job folder by its stock book, where it has one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...book.book import Book
from ...book.money import ShortMeasure
from ...book.store import PLAN_AGAIN
from ...book.tables import BookOrder, ShelfHide
from ...errors import FileError
from ...model import Job, Layout, Setting, counted


@dataclass(frozen=True)
class TakenIn:
    """What came of looking at the plain files of a folder, in words: what was taken in, and what to look at."""

    done: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


NOTHING = TakenIn()


def begin(folder: Path) -> TakenIn:
    """Begin the stock book of a job folder, with the hides and orders that are there."""
    Book.begin(folder)
    return take_in(folder)


def take_in(folder: Path) -> TakenIn:
    """Take what is new in ``hides/`` and ``orders.csv`` into the stock book; nothing where there is none."""
    if not Book.there(folder):
        return TakenIn()
    book = Book(folder)
    hides = book.take_hides()
    done = [f"new on the shelf: {', '.join(hides.added)}" if hides.added else ""]
    done.append(f"read again: {', '.join(hides.changed)}" if hides.changed else "")
    if (folder / "orders.csv").exists():
        done.append(take_orders(folder, folder / "orders.csv", book))
    return TakenIn(tuple(filter(None, done)), hides.notes)


def take_orders(folder: Path, file: Path | None, book: Book | None = None, pasted: str = "") -> str:
    """Take a list of orders into the book; in words what was new, empty where nothing was."""
    from ...files.orders import orders_from_text
    from ...files.products import product_names
    from ...files.source import read_text

    names = product_names(folder / "products.toml")
    where = file or Path("what was pasted")
    text = pasted if file is None else read_text(file)
    # the folder's own file is to say what it means
    told: list[str] | None = None if file is not None and file.resolve() == (folder / "orders.csv").resolve() else []
    taken = (book or Book(folder)).take_orders(orders_from_text(text, where, names, told), where)
    words = [f"{counted(len(taken.added), 'new order line')}" if taken.added else ""]
    words.append(f"{counted(len(taken.changed), 'order line')} changed" if taken.changed else "")
    return ", ".join(filter(None, words)) and f"{where}: {', '.join(filter(None, (*words, *(told or ()))))}"


def kind_words(row: ShelfHide) -> str:
    """What leather a hide on the shelf is, in words."""
    return ", ".join(filter(None, (row.leather, row.colour, row.finish, row.tannage)))


def unmade_words(row: BookOrder) -> str:
    """What is not made of an order line that is done, in words; empty where all of it is."""
    if row.made >= row.quantity:
        return ""
    rest = "the rest is" if row.made else "they are" if row.quantity > 1 else "it is"
    made = f"{row.made or 'none'} of its {counted(row.quantity, 'piece')}"
    return f"{made} {'is' if row.made < 2 else 'are'} made: {rest} no longer wanted"


def write_labels_of(folder: Path, names: Sequence[str], file: Path) -> Path:
    """Write labels of hides by name or code, of all on the shelf without any; gives the file."""
    from ...report.shelf_label import Label, write_labels

    book = Book(folder)
    rows = [book.hide(name) for name in names] or book.hides()
    parents = {row.id: book.parent_of(row) for row in rows}
    labels = [
        Label(
            row.name, row.code, kind_words(row), row.thickness_mm, row.area_mm2, (row.wide_mm, row.high_mm),
            row.added[:10], book.shape(row).outline, (parents[row.id] or row).name if row.parent else "",
        )
        for row in rows
    ]  # fmt: skip
    return write_labels(labels, file)


def write_short_note(folder: Path, name: str, file: Path | None = None) -> tuple[ShortMeasure, Path | None]:
    """What a hide lacks of the measure it was bought by; with a note to the supplier where it is short for sure.

    Raises
    ------
    FileError
        When it is not known by which measure it was bought.
    """
    from ...report.short_note import Short, write_note

    book = Book(folder)
    row = book.hide(name)
    short = book.short_measure(name)
    if short is None:
        mend = f"say by which measure it was bought: nesting shelf add {row.name} --measure 18.5"
        raise FileError(book.path, f"hide {row.name}", "the supplier's measure is not known", mend)
    if not short.surely:
        return short, None
    picture = folder / "hides" / f"{Path(row.file).stem}-check.png"
    note = Short(
        row.name, row.supplier, row.added[:10], short.bought_mm2, short.traced_mm2, short.uncertain_mm2, short.paid,
        short.worth, book.currency, row.traced, picture if picture.exists() else None,
    )  # fmt: skip
    return short, write_note(note, file or folder / "out" / f"short-{row.name}.pdf")


def job_of(folder: Path) -> Job:
    """What there is to plan in a folder: what the stock book has on the shelf and to be made, where there is a book."""
    from ...files.job import read_job, read_making
    from ...files.source import hashed

    if not Book.there(folder):
        return read_job(folder)
    with hashed() as read:
        job = Book(folder).job(*read_making(folder))
    return replace(job, made_from={path.relative_to(folder).as_posix(): found for path, found in sorted(read.items())})


def planned(folder: Path, layout: Layout) -> None:
    """Tell the stock book, where there is one, of the layout at hand."""
    if Book.there(folder):
        Book(folder).planned(layout, written=True)


def refuse_gone(folder: Path, layout: Layout) -> None:
    """Refuse a layout that needs leather which the stock book has as cut.

    Raises
    ------
    FileError
    """
    book = Book(folder) if Book.there(folder) else None
    if book is not None and (why := book.why_not(layout)):
        raise FileError(book.path, f"layout {layout.mark}", "; ".join(why), PLAN_AGAIN)


def read_back(folder: Path, source: Path) -> Book:
    """Read what was taken out of another book into that of a folder, which is begun where there is none."""
    from ...files.job import copy_job

    if not Book.there(folder):
        copy_job(source, folder)
        Book.begin(folder)
    book = Book(folder)
    book.read_in(source)
    return book


def tested(folder: Path, setting: Setting, swatch: str = "", best: str = "", clean: Sequence[str] = ()) -> None:
    """Put a tested row into workshop.toml, and into the stock book where there is one."""
    from ...files.book import record_setting

    def record() -> Setting:
        record_setting(folder / "workshop.toml", setting)
        return setting

    if Book.there(folder):
        Book(folder).tested(record, swatch, best, clean)
    else:
        record()
