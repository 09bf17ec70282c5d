"""The console, its plain lines, and what it shows while something takes long."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rich.box import SIMPLE
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

console = Console(highlight=False)


def say(text: object, style: str | None = None) -> None:
    """Print a line as it is, however long: a terminal breaks it, a file or pipe gets it whole."""
    console.print(str(text), style=style, soft_wrap=True, markup=False)


MOST_LAID_OUT = 500
"""Rows of a table that is fitted to the terminal; of more each is a line as long as it is, which is a hundred times
faster."""


def list_rows(head: Sequence[str], rows: Sequence[Sequence[str]], numbers: Collection[str], fold: str = "") -> None:
    """Print a list with a name above each column, ``numbers`` to the right; column ``fold`` may break."""
    if len(rows) > MOST_LAID_OUT:
        widths = [max(map(len, column)) for column in zip(head, *rows)]
        for row in (head, *rows):
            cells = [
                cell.rjust(width) if name in numbers else cell.ljust(width)
                for name, cell, width in zip(head, row, widths)
            ]
            print("  ".join(cells).rstrip())
        return
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    for name in head:
        table.add_column(
            name,
            justify="right" if name in numbers else "left",
            no_wrap=name != fold,
            overflow="fold" if name == fold else "ellipsis",
        )
    for row in rows:
        table.add_row(*row)
    console.print(table)


def progress_bar() -> Progress:
    """The bar every long command shows."""
    return Progress(
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=console,
        transient=True,
    )


def get_ready() -> None:
    """Compile the engine before the clock of a search starts."""
    from ...engine import warm_up

    with console.status("getting the engine ready (the first time ever takes about half a minute)"):
        warm_up()
