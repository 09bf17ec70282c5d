"""The console, its plain lines, and what it shows while something takes long."""

from __future__ import annotations

from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

console = Console(highlight=False)


def say(text: object, style: str | None = None) -> None:
    """Print a line as it is, however long: a terminal breaks it, a file or pipe gets it whole."""
    console.print(str(text), style=style, soft_wrap=True, markup=False)


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
