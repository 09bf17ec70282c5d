"""Commands that make hides of photos and put them right."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from .. import options


class Numbers(TyperCommand):
    """Lets options that take numbers of doubts, or pixels, take several: `--correct 1 3-5 --cut 2`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        joined: list[str] = []
        taking = False
        for word in args:
            if taking and joined[-1] not in _ANSWERS and re.fullmatch(r"[\d.,][\d.,-]*", word):
                joined[-1] += f" {word}"
            else:
                joined.append(word)
            taking = word in _ANSWERS or (taking and not word.startswith("-"))
        return super().parse_args(ctx, joined)


_ANSWERS = ("--correct", "--cut", "--slits", "--leather", "--stains", "--floor")


def trace_command(
    photo: Annotated[Path, typer.Argument(help="Photo of the hide lying flat, all of it in the picture.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="Hide file to write, such as hides/x.json.")],
    reference: Annotated[str, typer.Option(help="What gives the scale: auto, markers, a4, letter or card.")] = "auto",
    corners: Annotated[
        str | None, typer.Option(help="Four corners of the sheet or card in pixels, in turn: 'x,y x,y x,y x,y'.")
    ] = None,
    points: Annotated[
        str | None,
        typer.Option(
            help="Four points or more in pixels and their true places in mm, y up: 'px,py=x,y px,py=x,y ...'."
        ),
    ] = None,
    length: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y X,Y=MM",
            help="A length read off a tape across the hide: 'px,py px,py=1240' (may be given again).",
        ),
    ] = None,
    inside: Annotated[str | None, typer.Option(help="Points in pixels that are leather: 'x,y x,y ...'.")] = None,
    outside: Annotated[str | None, typer.Option(help="Points in pixels that are not leather.")] = None,
    correct: Annotated[
        str | None,
        typer.Option(metavar="N ...", help="Doubts, by number or pixel, where the outline is right as it was traced."),
    ] = None,
    cut: Annotated[
        str | None, typer.Option("--cut", "--slits", metavar="N ...", help="Those that are slits: they are cut out.")
    ] = None,
    leather: Annotated[
        str | None,
        typer.Option("--leather", "--stains", metavar="N ...", help="Those that are leather, such as stains."),
    ] = None,
    floor: Annotated[
        str | None, typer.Option(metavar="N ...", help="Those that are no leather: they are taken off the outline.")
    ] = None,
    forget: Annotated[
        bool, typer.Option("--forget", help="Take no answers and facts from the file that is there already.")
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Refuse a trace that is not sure everywhere, as who sells by area must.")
    ] = False,
    rough: Annotated[
        str | None, typer.Option(help="A polygon drawn roughly around the leather, in pixels: 'x,y x,y x,y ...'.")
    ] = None,
    camera: Annotated[Path | None, typer.Option(help="Camera profile made by nesting camera.")] = None,
    largest_error: Annotated[
        float | None,
        typer.Option(
            parser=options.length,
            metavar="LENGTH",
            help="With --strict, the largest error to accept; else 0.25 % of the hide's length, 3.75 mm at points.",
        ),
    ] = None,
    tolerance: Annotated[
        float, typer.Option(parser=options.length, metavar="LENGTH", help="How far the outline may be simplified, mm.")
    ] = 0.5,
    nominal: Annotated[
        float | None,
        typer.Option(
            parser=options.nominal,
            metavar="THICKNESS",
            help="Nominal thickness: 1.8 mm, 4.5 oz, 3-4 oz (the middle). The outline allows for its top being nearer "
            "to the camera.",
        ),
    ] = None,
    tannage: Annotated[
        str | None,
        typer.Option(parser=options.tannage, metavar="TANNAGE", help="vegetable (veg), chrome, synthetic or unknown."),
    ] = None,
    colour: Annotated[str | None, typer.Option(help="Colour, as you call it.")] = None,
    finish: Annotated[str | None, typer.Option(help="Finish, as you call it.")] = None,
    lot: Annotated[str | None, typer.Option(help="Lot: hides of one lot match each other.")] = None,
    leather_name: Annotated[
        str | None, typer.Option(help="What leather it is, as the setting book and products name it.")
    ] = None,
    price: Annotated[str | None, typer.Option(help="Price paid for the hide: 140, $140.")] = None,
) -> None:
    """Turn a photo of a hide into its outline in mm, with a check picture beside it.

    What the photo does not tell is kept out of every part, and listed with its number: '--correct 1 3 --cut 2
    --leather 4 --floor 5' answers; the file remembers.
    """
    from ..terminal.hides import run_trace

    facts = {
        "nominal_mm": nominal,
        "tannage": tannage,
        "colour": colour,
        "finish": finish,
        "lot": lot,
        "leather": leather_name,
        "price": price,
    }
    guides = {
        "corners": corners,
        "points": points,
        "inside": inside,
        "outside": outside,
        "rough": rough,
    }
    run_trace(
        photo,
        output,
        guides=guides,
        facts=facts,
        answers={"correct": correct, "cut": cut, "leather": leather, "floor": floor},
        lengths=length or [],
        forget=forget,
        strict=strict,
        camera=camera,
        reference=reference,
        tolerance_mm=tolerance,
        largest_error_mm=largest_error,
    )


def camera_command(
    photos: Annotated[
        list[Path], typer.Argument(help="Photos of the marker sheets, some tilted, some into the corners.")
    ],
    output: Annotated[Path, typer.Option("--output", "-o", help="Profile to write.")] = Path("camera.json"),
) -> None:
    """Measure a camera and its lens from a few photos of the marker sheets, for trace --camera."""
    from ..terminal.hides import run_camera

    run_camera(photos, output)


hide_app = typer.Typer(help="Put a traced hide right by hand.", no_args_is_help=True, rich_markup_mode=None)
HideFile = Annotated[Path, typer.Argument(help="A hide file, such as hides/x.json.")]


@hide_app.command("to-svg")
def to_svg_command(
    file: HideFile,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Drawing to write; beside the hide by default.")
    ] = None,
) -> None:
    """Draw a hide over its straightened photo, to edit in any vector editor."""
    from ..terminal.hides import run_to_svg

    run_to_svg(file, output)


@hide_app.command("from-svg")
def from_svg_command(
    drawing: Annotated[Path, typer.Argument(help="The edited drawing.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="The hide file it was made of; beside it by default.")
    ] = None,
) -> None:
    """Read an edited drawing back into its hide file."""
    from ..terminal.hides import run_from_svg

    run_from_svg(drawing, output)


@hide_app.command("accept")
def accept_command(
    file: HideFile,
    numbers: Annotated[
        list[str] | None,
        typer.Argument(help="Numbers as the check picture shows them, such as 1 3-5; all if none is given."),
    ] = None,
    drop: Annotated[bool, typer.Option("--drop", help="Throw them out instead.")] = False,
) -> None:
    """Make zones of suggested flaws; until then nothing uses them."""
    from ..terminal.hides import run_accept

    run_accept(file, options.numbers(file, "suggestions", numbers or ()), drop)


def markers_command(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("markers"),
    pages: Annotated[int, typer.Option(min=1, max=8, help="How many sheets.")] = 4,
) -> None:
    """Make the marker sheets to print and lay around a hide before it is photographed."""
    from ...tracing.markers import write_marker_sheets

    for path in write_marker_sheets(to, pages):
        typer.echo(str(path))
