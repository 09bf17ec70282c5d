"""Commands to begin with: the demo, a folder, its drawings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .. import options
from .arguments import Folder, Seconds


def demo(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("nesting-demo"),
    seconds: Seconds = 6.0,
) -> None:
    """Try everything on an invented workshop: trace, plan, check, compare, export."""
    from ..demo import run_demo

    run_demo(to, seconds)


def init_command(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make; what is in it is left alone.")],
    drawings: Annotated[
        list[Path] | None, typer.Argument(metavar="[DRAWINGS]", help="Drawings at hand, to list as products.")
    ] = None,
    inch: Annotated[bool, typer.Option("--inch", help="Inches, ounces and dollars first.")] = False,
) -> None:
    """Write a job folder to start from: every file and key with its meaning, unit and default."""
    from ..terminal.begin import run_init

    run_init(folder, drawings or [], inch)


def look_command(
    folder: Folder,
    yes: Annotated[
        bool, typer.Option("--yes", help="Lines of drawings without labels are what they were taken for.")
    ] = False,
) -> None:
    """Say all that is wrong or missing in a job folder, and show every part with its lines as understood."""
    from ..terminal.begin import run_look

    run_look(folder, yes)


def pattern_command(
    drawing: Annotated[Path, typer.Argument(metavar="DRAWING", help="A drawing at real size: SVG, DXF or PDF.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Pattern to write, such as FOLDER/patterns/x.svg.")
    ] = None,
    units: Annotated[
        str, typer.Option(parser=options.drawing_unit, metavar="UNIT", help="What it is in: mm, cm, m, inch or ft.")
    ] = "",
) -> None:
    """Bring a drawing in as a pattern: its lines labelled as they are understood, and a picture to look at."""
    from ..terminal.begin import run_pattern

    run_pattern(drawing, output, units)
