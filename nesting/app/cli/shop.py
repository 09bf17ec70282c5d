"""The commands of the shop: the stock book, the shelf, orders, and what was cut."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .arguments import JobFolder

HideName = Annotated[str, typer.Argument(metavar="HIDE", help="Its name, or the code on its label.")]

book_app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="The stock book of a job folder.")
shelf_app = typer.Typer(
    invoke_without_command=True, rich_markup_mode=None, help="Hides and offcuts; 'nesting shelf' lists them."
)
orders_app = typer.Typer(
    invoke_without_command=True, rich_markup_mode=None, help="Orders and their state; 'nesting orders' lists them."
)


@book_app.command("begin")
def begin_command(folder: JobFolder = Path()) -> None:
    """Begin a stock book in a job folder, with the hides and orders that are there."""
    from ..terminal.shop import run_begin

    run_begin(folder)


@book_app.command("steps")
def steps_command(
    folder: JobFolder = Path(),
    most: Annotated[int, typer.Option(min=1, help="How many.")] = 20,
) -> None:
    """Tell the last steps, the newest first."""
    from ..terminal.shop import run_steps

    run_steps(folder, most)


@book_app.command("export")
def book_export_command(
    to: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder to write to.")],
    folder: JobFolder = Path(),
) -> None:
    """Write everything as the plain files of a job folder, and lists (CSV) in it."""
    from ..terminal.shop import run_book_export

    run_book_export(folder, to)


@book_app.command("read")
def book_read_command(
    source: Annotated[Path, typer.Argument(metavar="FOLDER", help="What nesting book export wrote.")],
    folder: JobFolder = Path(),
) -> None:
    """Read what was taken out of another book into an empty one; begins it where there is none."""
    from ..terminal.shop import run_book_read

    run_book_read(folder, source)


@shelf_app.callback()
def shelf_command(
    context: typer.Context,
    folder: JobFolder = Path(),
    every: Annotated[bool, typer.Option("--all", help="Also what is cut up or retired.")] = False,
) -> None:
    """List the shelf."""
    if context.invoked_subcommand is None:
        from ..terminal.shop import run_shelf

        run_shelf(folder, every)


@shelf_app.command("show")
def shelf_show_command(name: HideName, folder: JobFolder = Path()) -> None:
    """Tell all about a hide: where it comes from, what was cut from it, what is left."""
    from ..terminal.shop import run_shelf_show

    run_shelf_show(folder, name)


@shelf_app.command("add")
def shelf_add_command(
    names: Annotated[
        list[str] | None, typer.Argument(metavar="[HIDES]", help="Hides of which the options tell, by name.")
    ] = None,
    folder: JobFolder = Path(),
    supplier: Annotated[str | None, typer.Option(help="Where they were bought.")] = None,
    measure: Annotated[
        str | None, typer.Option(metavar="AREA", help="The supplier's measure of each: 18.5 (sq ft), '172 dm2'.")
    ] = None,
    price: Annotated[str | None, typer.Option(help="Paid for each: 140, $140.")] = None,
) -> None:
    """Take what is new in hides/ into the book, and say where it was bought, by which measure, for how much."""
    from ..terminal.shop import run_shelf_add

    run_shelf_add(folder, names or [], supplier, measure, price)


@shelf_app.command("retire")
def shelf_retire_command(
    name: HideName,
    folder: JobFolder = Path(),
    why: Annotated[str, typer.Option(help="Such as sold, or gone hard.")] = "",
) -> None:
    """Take a hide off the shelf for good; its file goes to hides/retired/."""
    from ..terminal.shop import run_retire

    run_retire(folder, name, why)


@shelf_app.command("back")
def shelf_back_command(name: HideName, folder: JobFolder = Path()) -> None:
    """Cut no more of a hide as planned: what is left of it goes back on the shelf, piece by piece."""
    from ..terminal.shop import run_back

    run_back(folder, name)


@shelf_app.command("label")
def shelf_label_command(
    names: Annotated[
        list[str] | None, typer.Argument(metavar="[HIDES]", help="By name or code; all on the shelf if none is given.")
    ] = None,
    folder: JobFolder = Path(),
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="PDF to write; FOLDER/out/labels.pdf by default.")
    ] = None,
) -> None:
    """Make labels to print, eight on a sheet of A4, with a code to find each hide by."""
    from ..terminal.shop import run_label

    run_label(folder, names or [], output)


@shelf_app.command("short")
def shelf_short_command(
    name: HideName,
    folder: JobFolder = Path(),
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="PDF to write; FOLDER/out/short-NAME.pdf by default.")
    ] = None,
) -> None:
    """Tell what a hide lacks of the measure it was bought by, and write a note of it to the supplier."""
    from ..terminal.money import run_short

    run_short(folder, name, output)


@orders_app.callback()
def orders_command(
    context: typer.Context,
    folder: JobFolder = Path(),
    every: Annotated[bool, typer.Option("--all", help="Also what is cut or done.")] = False,
) -> None:
    """List orders and their state."""
    if context.invoked_subcommand is None:
        from ..terminal.shop import run_orders

        run_orders(folder, every)


@orders_app.command("take")
def orders_take_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A list as orders.csv is, or - for one pasted.")],
    folder: JobFolder = Path(),
) -> None:
    """Take orders in from a list, or pasted from a spreadsheet (then Ctrl-D)."""
    from ..terminal.shop import run_orders_take

    run_orders_take(folder, file)


@orders_app.command("done")
def orders_done_command(
    order: Annotated[str, typer.Argument(metavar="ORDER", help="Order, as in orders.csv.")],
    product: Annotated[str, typer.Argument(metavar="[PRODUCT]", help="Only this line of it.")] = "",
    folder: JobFolder = Path(),
    undone: Annotated[bool, typer.Option("--not", help="It is not done after all.")] = False,
) -> None:
    """Say that an order is done: handed over, sold, or not wanted any more."""
    from ..terminal.shop import run_done

    run_done(folder, order, product, not undone)


def cut_command(
    loads: Annotated[
        list[str] | None, typer.Argument(metavar="[HIDE/PANEL]", help="Bed loads that are cut by now.")
    ] = None,
    folder: JobFolder = Path(),
) -> None:
    """Write bed loads down as cut: orders move on, and what is left of a hide goes on the shelf.

    Without any, tells which are still to be cut. A part that was spoiled: nesting again ORDER PART.
    """
    from ..terminal.shop import run_cut

    run_cut(folder, loads or [])


def undo_command(folder: JobFolder = Path()) -> None:
    """Take the last step in the stock book back, with the files it wrote; any number of times."""
    from ..terminal.shop import run_undo

    run_undo(folder)


def money_command(
    folder: JobFolder = Path(),
    by: Annotated[str, typer.Option(help="product, order, hide, supplier, kind or month.")] = "product",
    csv: Annotated[Path | None, typer.Option("--csv", help="Write it to this file as well.")] = None,
) -> None:
    """Tell money spent and earned by product or order, or what became of leather by hide, supplier, kind or month."""
    from ..terminal.money import run_money

    run_money(folder, by, csv)


def price_command(
    product: Annotated[str, typer.Argument(metavar="PRODUCT", help="As in products.toml.")],
    margin: Annotated[float, typer.Option(min=0, max=99.9, help="To be earned, % of the price.")] = 50.0,
    folder: JobFolder = Path(),
) -> None:
    """Tell the price to ask for a piece so that so much of it is earned, by what its pieces have cost."""
    from ..terminal.money import run_price

    run_price(folder, product, margin)


def buy_command(
    folder: JobFolder = Path(),
    weeks: Annotated[int, typer.Option(min=0, max=520, help="Buy for so many weeks to come as well.")] = 0,
    over: Annotated[int, typer.Option(min=1, max=520, help="Weeks past that tell how much is ordered.")] = 26,
) -> None:
    """Tell which leather to buy for orders that do not fit, and for weeks to come, with a range from past yields."""
    from ..terminal.making import run_buy

    run_buy(folder, weeks, over)


def make_command(
    folder: JobFolder = Path(),
    seconds: Annotated[float, typer.Option(min=0.1, help="How long to search for each product.")] = 5.0,
    iterations: Annotated[int | None, typer.Option(min=1, help="End after so many steps instead.")] = None,
    workers: Annotated[int | None, typer.Option(min=1, max=256, help="Processes to search with.")] = None,
    only: Annotated[list[str] | None, typer.Option("--only", help="Only this product (may be given again).")] = None,
    take: Annotated[
        str, typer.Option(metavar="PRODUCT", help="Order those pieces for stock, their layout being the one at hand.")
    ] = "",
    older: Annotated[int, typer.Option(min=1, help="Name offcuts that have lain for more days than this.")] = 365,
) -> None:
    """Tell what could be made of the offcuts on the shelf, ranked by what it earns, and which are not worth keeping."""
    from ..terminal.making import run_make

    run_make(folder, seconds, iterations, workers, only or [], take, older)
