"""The console, its plain lines, and what it shows while something takes long."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rich.box import SIMPLE
from rich.cells import cell_len
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

console = Console(highlight=False)


def say(text: object, style: str | None = None) -> None:
    """Print a line as it is, however long: a terminal breaks it, a file or pipe gets it whole."""
    console.print(str(text), style=style, soft_wrap=True, markup=False)


GAP = 2
"""Columns of a list lie so far apart."""
MOST_LAID_OUT = 500
"""Rows of a table that is fitted to the terminal; of more each is a line as long as it is, which is a hundred times
faster."""


LONGEST_WHOLE = 24
"""Letters of a word that a list does not split, where a column of it has to give way."""


def list_rows(
    head: Sequence[str], rows: Sequence[Sequence[str]], numbers: Collection[str], fold: Collection[str] = ()
) -> None:
    """Print a list with a name above each column, ``numbers`` to the right. Where the terminal is too narrow, columns
    ``fold`` break between words, the widest first; no other is ever cut, and where that is too wide still each row is a
    line as long as it is."""
    columns = list(zip(head, *rows))
    widths = [max(map(cell_len, column)) for column in columns]
    least = [
        min(max(cell_len(word) for cell in column for word in cell.split() or [""]), LONGEST_WHOLE, width)
        if name in fold
        else width
        for name, column, width in zip(head, columns, widths)
    ]
    room = console.width - GAP * len(head)
    if len(rows) > MOST_LAID_OUT or sum(least) > room:
        for row in (head, *rows):
            cells = [
                cell.rjust(width) if name in numbers else cell.ljust(width)
                for name, cell, width in zip(head, row, widths)
            ]
            print("  ".join(cells).rstrip())
        return
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    while sum(widths) > room:
        widest = max((n for n in range(len(head)) if widths[n] > least[n]), key=lambda n: widths[n])
        widths[widest] -= 1
    for name, width in zip(head, widths):
        table.add_column(name, justify="right" if name in numbers else "left", width=width, overflow="fold")
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


def begin_ready() -> None:
    """Begin to compile the engine, where that was not done before, while files are read."""
    from ...engine import begin_warming

    begin_warming()


def get_ready(
    first: bool = False, text: str = "getting the engine ready (the first time ever takes up to half a minute)"
) -> None:
    """Compile the engine before the clock of a search starts; with ``first`` what a first layout asks for."""
    from ...engine import warm_up

    with console.status(text):
        warm_up(first)
