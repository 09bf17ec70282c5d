"""The commands: thin, each parses, calls the library and prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

app = typer.Typer(
    help="From a shelf of hides and a week's orders to cut-ready, costed bed loads with little leather wasted.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Folder = Annotated[Path, typer.Argument(help="Job folder: workshop.toml, products.toml, patterns/, hides/, orders.csv.")]
Seconds = Annotated[float, typer.Option("--seconds", min=0.0, help="How long to search; Ctrl-C keeps the best so far.")]
Iterations = Annotated[Optional[int], typer.Option(min=1, help="End after so many steps instead: the same on every machine.")]
Seed = Annotated[int, typer.Option(help="Another seed gives another layout.")]
LayoutFile = Annotated[Path, typer.Argument(help="A layout file, such as out/layout.json.")]


@app.command()
def demo(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("nesting-demo"),
    seconds: Seconds = 6.0,
) -> None:
    """Try everything on an invented workshop: trace, plan, check, compare, export."""
    from .demo import run_demo

    run_demo(to, seconds)


@app.command("plan")
def plan_command(
    folder: Folder, seconds: Seconds = 20.0, iterations: Iterations = None, seed: Seed = 0,
    hide: Annotated[Optional[list[str]], typer.Option(help="Use only this hide (may be given again).")] = None,
    settings: Annotated[
        Optional[int],
        typer.Option(min=1, max=3, help="Burn a hide with up to so many settings; by default a second only when parts would be left out."),
    ] = None,
) -> None:
    """Decide which part comes from where on which hide, and write layout, report and pictures to FOLDER/out."""
    from .run import run_plan

    if not run_plan(folder, seconds=None if iterations else seconds, iterations=iterations, seed=seed, only=hide, settings=settings):
        raise typer.Exit(1)


@app.command("check")
def check_command(layout: LayoutFile) -> None:
    """Prove a layout from its file alone: distances, margins, grades, thickness, directions, panels, counts."""
    from .check import check
    from .files.layout import read_layout

    findings = check(read_layout(layout))
    for finding in findings:
        typer.echo(str(finding))
    if findings:
        typer.echo(f"{layout}: {len(findings)} faults")
        raise typer.Exit(1)
    typer.echo(f"{layout}: every rule holds")


@app.command("report")
def report_command(layout: LayoutFile) -> None:
    """Write the report and pictures of a layout again, beside its file."""
    from .files.layout import read_layout
    from .run import write_reports

    for path in write_reports(read_layout(layout), layout.parent):
        typer.echo(str(path))


@app.command("compare")
def compare_command(
    folder: Folder, seconds: Seconds = 10.0, seed: Seed = 0,
    settings: Annotated[bool, typer.Option("--settings", help="Compare one, two and three settings a hide instead.")] = False,
) -> None:
    """Plan the same orders on each hide alone and on the best combination, side by side (SECONDS for each)."""
    from .run import run_compare

    run_compare(folder, seconds, seed, settings)


@app.command("export")
def export_command(
    layout: LayoutFile,
    to: Annotated[Optional[Path], typer.Option("--to", help="Folder to write to; cut/ beside the layout by default.")] = None,
) -> None:
    """Write cut-ready SVG files, one a hide, in burning order; leather not known to be laser-safe is refused."""
    from .files.layout import read_layout
    from .run import run_export

    if not run_export(read_layout(layout), to or layout.parent / "cut"):
        raise typer.Exit(1)


@app.command("trace")
def trace_command(
    photo: Annotated[Path, typer.Argument(help="Photo of the hide lying flat, all of it in the picture.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="Hide file to write, such as hides/x.json.")],
    reference: Annotated[str, typer.Option(help="What gives the scale: auto, markers, a4 or card.")] = "auto",
    corners: Annotated[
        Optional[str], typer.Option(help="Four corners of the sheet or card in pixels, in turn: 'x,y x,y x,y x,y'.")
    ] = None,
    points: Annotated[
        Optional[str], typer.Option(help="Four points in pixels and their true places in mm: 'px,py=x,y' four times.")
    ] = None,
    inside: Annotated[Optional[str], typer.Option(help="Points in pixels that are leather: 'x,y x,y ...'.")] = None,
    outside: Annotated[Optional[str], typer.Option(help="Points in pixels that are not leather.")] = None,
    tolerance: Annotated[float, typer.Option(min=0.01, help="How far the outline may be simplified, mm.")] = 0.5,
    nominal: Annotated[Optional[float], typer.Option(help="Nominal thickness, mm.")] = None,
    tannage: Annotated[str, typer.Option(help="vegetable, chrome, synthetic or unknown.")] = "unknown",
    colour: Annotated[str, typer.Option(help="Colour, as you call it.")] = "",
    price: Annotated[Optional[str], typer.Option(help="Price paid for the hide.")] = None,
) -> None:
    """Turn a photo of a hide into its outline in mm, with a check picture beside it."""
    from .run import run_trace

    facts = {"nominal_mm": nominal, "tannage": tannage, "colour": colour, "price": price}
    guides = {"corners": corners, "points": points, "inside": inside, "outside": outside}
    run_trace(photo, output, reference=reference, tolerance_mm=tolerance, guides=guides, facts=facts)


@app.command("markers")
def markers_command(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("markers"),
    pages: Annotated[int, typer.Option(min=1, max=8, help="How many sheets.")] = 4,
) -> None:
    """Make the marker sheets to print and lay around a hide before it is photographed."""
    from .trace.markers import write_marker_sheets

    for path in write_marker_sheets(to, pages):
        typer.echo(str(path))
