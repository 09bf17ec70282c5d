"""The command `nesting bench`: light, so that `nesting --help` stays quick."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def add_to(app: typer.Typer) -> None:
    """Give the command line its command."""
    app.command("bench")(bench_command)


def bench_command(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Job folder; a new one is made.")] = Path("."),
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="Port of the page; a free one by default.")] = None,
    lan: Annotated[
        bool, typer.Option("--lan", help="Answer to a tablet in your network too, to whoever has the passcode shown.")
    ] = False,
    show: Annotated[bool, typer.Option("--open/--no-open", help="Open the browser.")] = True,
) -> None:
    """Open the bench: the whole job as a page in your browser, from this machine alone."""
    from ..app.stopping import keeping
    from .server import serve

    with keeping(lambda: "the bench is closed; all you did is kept, a search as far as it came"):
        serve(folder, port, lan, show, typer.echo)
