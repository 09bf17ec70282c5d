"""Commands that read other photos: of a panel on the bed, of card patterns."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .. import options
from .arguments import thickness_option


def align_command(
    photo: Annotated[Path, typer.Argument(help="Photo of the bed with the whole panel lying on it, laser off.")],
    file: Annotated[Path, typer.Argument(help="The file to burn, such as out/cut/NAME.svg.")],
    corners: Annotated[
        str | None,
        typer.Option(
            help="The bed's four corners in pixels, from the bottom left on, counter-clockwise: 'x,y x,y x,y x,y'."
        ),
    ] = None,
    points: Annotated[
        str | None,
        typer.Option(help="Four points or more in pixels and their places on the bed, mm: 'px,py=x,y ...'."),
    ] = None,
    inside: Annotated[str | None, typer.Option(help="Points in pixels that are leather: 'x,y x,y ...'.")] = None,
    outside: Annotated[str | None, typer.Option(help="Points in pixels that are not leather.")] = None,
    rough: Annotated[
        str | None, typer.Option(help="A polygon drawn roughly around the leather, in pixels: 'x,y x,y x,y ...'.")
    ] = None,
    thickness: Annotated[
        float | None, thickness_option("Of the leather, where its hide does not say: 1.8 mm, 4.5 oz.")
    ] = None,
    camera: Annotated[Path | None, typer.Option(help="Camera profile made by nesting camera.")] = None,
) -> None:
    """Turn a file to burn to fit how its panel lies on the bed, by a photo; the old file stays beside the new.

    Give the bed's corners in pixels, or push marker sheet 1, upright, into its bottom left corner and another sheet
    into any other corner. Switch the laser off before you open the lid; run the pointer or a frame before you burn.
    """
    from ..terminal.cameras import run_align

    hints = {"inside": inside, "outside": outside, "rough": rough}
    if not run_align(photo, file, corners=corners, points=points, hints=hints, camera=camera, thickness_mm=thickness):
        raise typer.Exit(1)


PHOTO_REFERENCE = typer.Option(help="What gives the scale: auto, markers, a4, letter or card.")
PHOTO_CORNERS = typer.Option(help="Four corners of the sheet or card in pixels, in turn: 'x,y x,y x,y x,y'.")
PHOTO_LENGTH = typer.Option(
    metavar="X,Y X,Y=MM",
    help="A length read off a ruler, which makes the scale of a sheet or of points surer: 'px,py px,py=300' (may be "
    "repeated). Alone it gives none.",
)


def trace_pattern_command(
    photo: Annotated[Path, typer.Argument(help="Photo of cut card or paper patterns, flat and apart on plain ground.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="Pattern to write, such as patterns/x.svg.")],
    thickness: Annotated[
        float | None,
        typer.Option(parser=options.length, metavar="LENGTH", help="Of the card: 1.5, '1/16 in'; paper is 0.1."),
    ] = None,
    names: Annotated[
        str, typer.Option(help="Names of the parts from left to right, with commas between them: 'front, back'.")
    ] = "",
    reference: Annotated[str, PHOTO_REFERENCE] = "auto",
    corners: Annotated[str | None, PHOTO_CORNERS] = None,
    points: Annotated[
        str | None,
        typer.Option(help="Four points or more in pixels and their true places in mm, y up: 'px,py=x,y ...'."),
    ] = None,
    length: Annotated[list[str] | None, PHOTO_LENGTH] = None,
    camera: Annotated[Path | None, typer.Option(help="Camera profile made by nesting camera.")] = None,
) -> None:
    """Turn a photo of cut card patterns into parts: straight sides straight, arcs as arcs, holes round.

    Lay them apart on a plain ground of another colour, an A4 or letter sheet (better two, or marker sheets) beside
    them, and look at the check picture before you cut.
    """
    from ..terminal.cameras import run_trace_pattern

    run_trace_pattern(
        photo, output, reference=reference, corners=corners, points=points, lengths=length or [], camera=camera,
        thickness_mm=thickness, names=names,
    )  # fmt: skip
