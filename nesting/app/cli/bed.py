"""Commands at the laser: files to burn, templates, the kerf, test pieces."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from .arguments import Folder, LayoutFile, thickness_option


def export_command(
    layout: LayoutFile,
    to: Annotated[
        Path | None, typer.Option("--to", help="Folder to write to; cut/ beside the layout by default.")
    ] = None,
    spread_heat: Annotated[
        bool, typer.Option("--spread-heat", help="Burn no part straight after its neighbour.")
    ] = False,
    frame: Annotated[
        bool, typer.Option("--frame", help="Also write a frame of card stock for every panel to lie in.")
    ] = False,
    align: Annotated[
        list[str] | None,
        typer.Option(
            help="Where two points of a panel lie on the bed, from its bottom left, mm or with units: "
            "'HIDE/PANEL A=x,y B=x,y'."
        ),
    ] = None,
    kind: Annotated[str, typer.Option("--as", help="Kind of the files to burn: svg, or dxf (release 12).")] = "svg",
) -> None:
    """Write a file to burn for every bed load, and job cards; unsafe leather gets paper templates instead."""
    from ...files.layout import read_stated
    from ..proof import around
    from ..terminal.bed import run_export

    folder, job = to or layout.parent / "cut", around(layout)
    found = read_stated(layout)
    if not run_export(found, folder, job, spread_heat=spread_heat, frame=frame, align=align or [], kind=kind):
        raise typer.Exit(1)


def templates_command(
    layout: LayoutFile,
    hide: Annotated[list[str] | None, typer.Option(help="Only the parts on this hide (may be given again).")] = None,
    to: Annotated[
        Path | None, typer.Option("--to", help="Folder to write to; cut/ beside the layout by default.")
    ] = None,
) -> None:
    """Write paper templates to cut by knife: every part at true size, tiled on A4 (US letter with inches)."""
    from ...files.layout import read_stated
    from ..proof import around
    from ..terminal.bed import run_templates

    if not run_templates(read_stated(layout), to or layout.parent / "cut", around(layout), hide):
        raise typer.Exit(1)


def kerf_command(
    folder: Folder,
    teeth: Annotated[str, typer.Option(help="Measured widths of the teeth, mm: '5.81 5.79 ...'.")] = "",
    slots: Annotated[str, typer.Option(help="Measured widths of the slots, mm.")] = "",
    thickness: Annotated[
        float | None,
        thickness_option("Thickness of the leather: 1.8 mm, 4.5 oz."),
    ] = None,
    record: Annotated[bool, typer.Option("--record", help="Put the kerf into workshop.toml.")] = False,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="File to write; FOLDER/out/kerf-comb.svg by default.")
    ] = None,
) -> None:
    """Make a comb to cut and measure; with its measured widths, work the kerf out."""
    from ..terminal.bed import run_kerf

    run_kerf(folder, teeth, slots, thickness, record, output)


class _MakeFirst(TyperGroup):
    """`nesting swatch FOLDER` is short for `nesting swatch make FOLDER`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if args and args[0] not in (*self.commands, "--help"):
            args = ["make", *args]
        return super().parse_args(ctx, args)


swatch_app = typer.Typer(
    cls=_MakeFirst,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Make a test piece, cut it, and record what it taught. 'nesting swatch FOLDER' is short for "
    "'nesting swatch make FOLDER'.",
)
Operation = Annotated[str, typer.Option(help="cut, 'engrave shallow' or 'engrave deep'.")]
Leather = Annotated[str, typer.Option(help="Name of the leather in the setting book; empty for every leather.")]
Spacing = Annotated[
    float | None,
    typer.Option(
        "--line-spacing", min=0, max=5, help="Of engraving, mm between the lines that fill it; 0: edges only."
    ),
]


@swatch_app.command("make")
def swatch_command(
    folder: Folder,
    thickness: Annotated[
        float | None,
        thickness_option("Thickness of the piece, mm or oz (needed)."),
    ] = None,
    operation: Operation = "cut",
    leather: Leather = "",
    offcut: Annotated[str, typer.Option(help="Offcut or hide to fit the swatch on.")] = "",
    speed: Annotated[
        float | None, typer.Option(min=0.1, max=5000, help="Speed in the middle, mm/s, instead of the predicted.")
    ] = None,
    power: Annotated[float | None, typer.Option(min=1, max=100, help="Power in the middle, %.")] = None,
    passes: Annotated[int | None, typer.Option(min=1, max=20, help="Passes.")] = None,
    line_spacing: Spacing = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="File to write; FOLDER/out/swatch-....svg by default.")
    ] = None,
) -> None:
    """Make a test piece: small squares over speed and power round the predicted setting."""
    from ..terminal.bed import run_swatch

    typed = {"speed_mm_s": speed, "power_percent": power, "passes": passes, "line_spacing_mm": line_spacing}
    run_swatch(folder, thickness, operation, leather, offcut, typed, output)


@swatch_app.command("record")
def record_command(
    folder: Folder,
    swatch: Annotated[Path | None, typer.Option(help="The swatch file that was cut.")] = None,
    best: Annotated[str, typer.Option(help="The best square, such as C3.")] = "",
    clean: Annotated[str, typer.Option(help="All squares that came out clean: 'B2 B3 C3'.")] = "",
    name: Annotated[str, typer.Option(help="Name of the new row.")] = "",
    thickness: Annotated[
        float | None,
        thickness_option("Without a swatch: thickness, mm or oz."),
    ] = None,
    speed: Annotated[float | None, typer.Option(min=0.1, max=5000, help="Without a swatch: speed, mm/s.")] = None,
    power: Annotated[float | None, typer.Option(min=0.1, max=100, help="Without a swatch: power, %.")] = None,
    passes: Annotated[int, typer.Option(min=1, max=20, help="Without a swatch: passes.")] = 1,
    operation: Operation = "cut",
    leather: Leather = "",
    line_spacing: Spacing = None,
    thinnest: Annotated[
        float | None,
        thickness_option("Thinnest leather it was clean on, mm or oz."),
    ] = None,
    thickest: Annotated[
        float | None,
        thickness_option("Thickest leather it was clean on, mm or oz."),
    ] = None,
) -> None:
    """Add what a test piece taught to workshop.toml: a tested row and its window."""
    from ..terminal.bed import run_record

    typed = {
        "thickness_mm": thickness,
        "speed_mm_s": speed,
        "power_percent": power,
        "passes": passes,
        "operation": operation,
        "leather": leather,
        "line_spacing_mm": line_spacing,
    }
    run_record(folder, swatch, best, clean, name, typed, {"thinnest_mm": thinnest, "thickest_mm": thickest})
