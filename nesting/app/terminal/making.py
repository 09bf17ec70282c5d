"""What the commands say that tell what to buy and what to make."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.box import SIMPLE
from rich.table import Table

from ...book.book import Book
from ...costs.yearly import Rate
from ...errors import FileError
from ...files.job import read_making
from ...files.schema import among
from ...model import MM2_PER_DM2, MM2_PER_SQ_FT, counted, units
from ..actions.making import may_take, take_made, why_not_made
from .console import console, get_ready, progress_bar, say


def run_buy(folder: Path, weeks: int, over: int) -> None:
    """Tell which leather to buy."""
    book = Book(folder)
    _, products = read_making(folder)
    found = book.to_buy(products, weeks, over)
    if not found:
        say("nothing: all that is ordered is made or planned" if not weeks else "nothing: nothing was ordered of late")
        return
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    for name in ("leather", "for", "sq ft", "range", "dm2", book.currency):
        table.add_column(name, justify="left" if name in ("leather", "for") else "right", overflow="fold")
    for one in found:
        thick = "" if one.thickness_mm is None else f", {units.thickness_words(one.thickness_mm)}"
        named = ", ".join(f"{count} {product}" for product, count in one.pieces.items())
        low, high = (area / MM2_PER_SQ_FT for area in one.range_mm2)
        table.add_row(
            f"{one.kind}{thick}", named, f"{one.likely_mm2 / MM2_PER_SQ_FT:.1f}", f"{low:.1f} to {high:.1f}",
            f"{one.likely_mm2 / MM2_PER_DM2:.0f}", "" if one.cost is None else str(one.cost),
        )  # fmt: skip
    console.print(table)
    say(
        "For orders that the layout at hand has no room for"
        + (f", and {counted(weeks, 'week')} to come {Rate({}, book.rates(over)[1])}" if weeks else "")
        + ". The range is by what hides have yielded (an assumption until five are cut); offcuts are not counted on."
    )


def run_make(
    folder: Path,
    seconds: float,
    iterations: int | None,
    workers: int | None,
    only: Sequence[str],
    take: str,
    older: int,
) -> None:
    """Tell what could be made of the offcuts, and which are not worth keeping."""
    from ...book.making import could_make

    book = Book(folder)
    workshop, products = read_making(folder)
    for name in (*only, *([take] if take else [])):
        if name not in [product.name for product in products]:
            mend = among([product.name for product in products], name, "products")
            raise FileError(folder / "products.toml", "product", name, mend)
    wished = [product for product in products if product.name in (only or [take or product.name])]
    offcuts = [book.shape(row) for row in book.hides(("shelf",)) if row.parent is not None]
    unkept = book.unkept(products, older)
    for one in unkept:
        say(f"hardly worth keeping: {one.name}, {one.why}", "yellow")
    if not offcuts:
        say("there are no offcuts on the shelf")
        return
    if take:
        may_take(folder, book)
    get_ready()
    with progress_bar() as bar:
        task = bar.add_task("planning", total=len(wished))

        def told(name: str) -> None:
            bar.update(task, advance=1, description=f"planning: {name}")

        order = f"stock {book.today()}"
        found = could_make(
            workshop, wished, offcuts, order, seconds, iterations=iterations, workers=workers, progress=told
        )
    if not found:
        for line in why_not_made(workshop, wished, offcuts, [one.name for one in unkept]):
            say(line)
        return
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    for name in ("product", "pieces", "sells for", "costs", f"earns {book.currency}"):
        table.add_column(name, justify="left" if name == "product" else "right")
    for made in found:
        table.add_row(made.product, str(made.pieces), str(made.price), str(made.cost), str(made.margin))
    console.print(table)
    say(f"Each product by itself, on all of {counted(len(offcuts), 'offcut')}.")
    if not take:
        say(f"Next: nesting make --take '{found[0].product}'")
        return
    made = found[0]
    written = take_made(folder, made)
    if written.figures is None:
        raise FileError(folder / "out", "layout", "breaks a rule", "please report this with the job folder")
    say(f"ordered {made.pieces} {made.product} as {order}; next: nesting export {folder / 'out' / 'layout.json'}")
