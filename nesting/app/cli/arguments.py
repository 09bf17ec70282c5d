"""Arguments and options that several commands take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from .. import options

Folder = Annotated[
    Path,
    typer.Argument(metavar="FOLDER", help="Job folder: workshop.toml, products.toml, patterns/, hides/, orders.csv."),
]

JobFolder = Annotated[Path, typer.Option("--folder", help="Job folder; the current one by default.")]
Seconds = Annotated[float, typer.Option("--seconds", min=0.0, help="How long, about; Ctrl-C keeps the best so far.")]


def thickness_option(help: str) -> Any:
    """A thickness of leather, with its unit or in mm."""
    return typer.Option(parser=options.thickness, metavar="THICKNESS", help=help)


LayoutFile = Annotated[
    Path,
    typer.Argument(
        parser=options.layout_file,
        metavar="LAYOUT",
        help="A layout file, such as out/layout.json, or the job's folder.",
    ),
]
