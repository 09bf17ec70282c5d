"""The commands: thin, each parses, calls the library and prints."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from ..errors import FileError
from . import options, shop_cli

if TYPE_CHECKING:
    from ..planning.kept import Kept
    from ..planning.prepare import Prepared

app = typer.Typer(
    help="From a shelf of hides and a week's orders to cut-ready, costed bed loads with little leather wasted.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

shop_cli.add_to(app)

Folder = Annotated[
    Path,
    typer.Argument(metavar="FOLDER", help="Job folder: workshop.toml, products.toml, patterns/, hides/, orders.csv."),
]
Seconds = Annotated[float, typer.Option("--seconds", min=0.0, help="How long, about; Ctrl-C keeps the best so far.")]
Iterations = Annotated[
    int | None, typer.Option(min=1, help="End after so many steps instead: the same on every machine.")
]
Seed = Annotated[int, typer.Option(help="Another seed gives another layout.")]
Workers = Annotated[
    int | None, typer.Option(min=1, max=256, help="Processes to search with; as many as there are cores by default.")
]

OnCluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Search on the machines of the Dask cluster with this scheduler, such as tcp://bench:8786.",
    ),
]


def _thickness(help: str) -> Any:
    return typer.Option(parser=options.thickness, metavar="THICKNESS", help=help)


LayoutFile = Annotated[
    Path,
    typer.Argument(
        parser=options.layout_file,
        metavar="LAYOUT",
        help="A layout file, such as out/layout.json, or the job's folder.",
    ),
]


@app.command()
def demo(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("nesting-demo"),
    seconds: Seconds = 6.0,
) -> None:
    """Try everything on an invented workshop: trace, plan, check, compare, export."""
    from .demo import run_demo

    run_demo(to, seconds)


@app.command("init")
def init_command(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make; what is in it is left alone.")],
    drawings: Annotated[
        list[Path] | None, typer.Argument(metavar="[DRAWINGS]", help="Drawings at hand, to list as products.")
    ] = None,
    inch: Annotated[bool, typer.Option("--inch", help="Inches, ounces and dollars first.")] = False,
) -> None:
    """Write a job folder to start from: every file and key with its meaning, unit and default."""
    from .terminal.begin import run_init

    run_init(folder, drawings or [], inch)


@app.command("look")
def look_command(
    folder: Folder,
    yes: Annotated[
        bool, typer.Option("--yes", help="Lines of drawings without labels are what they were taken for.")
    ] = False,
) -> None:
    """Say all that is wrong or missing in a job folder, and show every part with its lines as understood."""
    from .terminal.begin import run_look

    run_look(folder, yes)


@app.command("pattern")
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
    from .terminal.begin import run_pattern

    run_pattern(drawing, output, units)


@app.command("plan")
def plan_command(
    folder: Folder,
    seconds: Seconds = 20.0,
    iterations: Iterations = None,
    seed: Seed = 0,
    hide: Annotated[list[str] | None, typer.Option(help="Use only this hide (may be given again).")] = None,
    settings: Annotated[
        int | None,
        typer.Option(
            min=1,
            max=3,
            help="Burn a hide with up to so many settings; by default a second only when parts would be left out.",
        ),
    ] = None,
    workers: Workers = None,
    cluster: OnCluster = None,
    partial: Annotated[
        bool, typer.Option("--partial", help="Cut parts of pieces that cannot be made whole too.")
    ] = False,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on from FOLDER/out/layout.json and keep what still holds of it.")
    ] = False,
    compared: Annotated[
        bool,
        typer.Option("--compared", help="Go on from the best of the last nesting compare, FOLDER/out/compare.json."),
    ] = False,
    burnt: Annotated[
        list[str] | None,
        typer.Option(metavar="HIDE/PANEL", help="This panel is burnt: it stays as it is (may be given again)."),
    ] = None,
    not_burnt: Annotated[
        list[str] | None, typer.Option(metavar="HIDE/PANEL", help="This panel is not burnt after all.")
    ] = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Heed nothing of the layout at hand, not even what is pinned or burnt.")
    ] = False,
) -> None:
    """Decide which part comes from where on which hide, and write layout, report and pictures to FOLDER/out.

    What is pinned or burnt in the layout at hand stays.
    """
    begun = monotonic()
    from .actions.hands import kept_of, tell_book
    from .terminal.job import run_plan

    tell_book(folder, burnt or (), not_burnt or ())

    def kept(prepared: Prepared) -> Kept | None:
        return kept_of(
            prepared,
            folder,
            resume=resume,
            done=burnt or (),
            undone=not_burnt or (),
            fresh=fresh,
            compared=compared,
        )

    time, team = None if iterations else seconds, options.team(workers, cluster)
    if not run_plan(folder, time, iterations, seed, hide or (), settings, team, partial, kept, begun):
        raise typer.Exit(1)


JobFolder = shop_cli.JobFolder
Order = Annotated[str, typer.Argument(metavar="ORDER", help="Order, as in orders.csv.")]
SomeOrder = Annotated[str, typer.Argument(metavar="[ORDER]", help="Order, as in orders.csv.")]
SomePart = Annotated[str, typer.Argument(metavar="[PART]", help="Only this part, as in products.toml.")]
OfProduct = Annotated[str, typer.Option("--product", help="Only of this product.")]
Piece = Annotated[int | None, typer.Option(min=1, help="Only of this piece of the order, from 1.")]
Copy = Annotated[int | None, typer.Option("--copy", min=1, help="Only this copy of the part in its piece, from 1.")]
Mirrored = Annotated[
    bool | None, typer.Option("--mirrored/--as-drawn", help="Only mirrored twins, or only what is no twin.")
]
On = Annotated[str, typer.Option("--on", metavar="HIDE[/PANEL]", help="Only on this hide or panel.")]


class _InFolder(TyperCommand):
    """A command about the current folder: says so where a job folder is named as others take it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        first = args[0] if args else ""
        named = any(word.partition("=")[0] == "--folder" for word in args)
        if first and not named and (Path(first) / "workshop.toml").is_file():
            instead = f"{ctx.command_path} {shlex.join([*args[1:], '--folder', first])}"
            mend = f"that is a job folder, and this works on the current one; for another: {instead}"
            raise FileError(ctx.info_name or "", "order", first, mend)
        return super().parse_args(ctx, args)


@app.command("pin", cls=_InFolder)
def pin_command(
    order: SomeOrder = "",
    part: SomePart = "",
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Keep parts of the layout at hand where they lie, in every further plan: all, or those named."""
    from .actions.hands import Which
    from .terminal.hands import run_pin

    run_pin(folder, Which(order, part, product, piece, copy, on, mirrored), True)


@app.command("unpin", cls=_InFolder)
def unpin_command(
    order: SomeOrder = "",
    part: SomePart = "",
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Let parts that were pinned be moved again: all, or those named."""
    from .actions.hands import Which
    from .terminal.hands import run_pin

    run_pin(folder, Which(order, part, product, piece, copy, on, mirrored), False)


@app.command("again", cls=_InFolder)
def again_command(
    order: Order,
    part: Annotated[str, typer.Argument(metavar="PART", help="The part that was spoiled, as in products.toml.")],
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Say that a part was spoiled at the machine: the next plan makes it again; its panel counts as burnt."""
    from .actions.hands import Which
    from .terminal.hands import run_again

    run_again(folder, Which(order, part, product, piece, copy, on, mirrored))


@app.command("check")
def check_command(
    layout: Annotated[Path, typer.Argument(metavar="LAYOUT", help="A layout file, or the folder out/ with all in it.")],
) -> None:
    """Prove a layout from its file alone; of a folder also whether the files to burn in it are of that layout."""
    from .terminal.job import run_check

    if not run_check(layout):
        raise typer.Exit(1)


@app.command("report")
def report_command(layout: LayoutFile) -> None:
    """Write the report and pictures of a layout again, beside its file."""
    from .terminal.job import run_report

    if not run_report(layout):
        raise typer.Exit(1)


@app.command("compare")
def compare_command(
    folder: Folder,
    seconds: Seconds = 40.0,
    seed: Seed = 0,
    settings: Annotated[
        bool, typer.Option("--settings", help="Compare one, two and three settings a hide instead.")
    ] = False,
    bed: Annotated[bool, typer.Option("--bed", help="Compare the bed with one that has no end instead.")] = False,
    bed_of: Annotated[
        list[str] | None, typer.Option(metavar="'W x H'", help="Compare it with one of this size (may be given again).")
    ] = None,
    gap: Annotated[
        list[str] | None, typer.Option(metavar="LENGTH", help="Compare the gap with this one (may be given again).")
    ] = None,
    pattern: Annotated[
        list[str] | None,
        typer.Option(metavar="OLD.svg=NEW.svg", help="Compare a pattern with a changed one (may be given again)."),
    ] = None,
    workers: Workers = None,
    cluster: OnCluster = None,
) -> None:
    """Plan the same orders on each hide, on all and on sets of them, and set them beside the plan in FOLDER/out."""
    begun = monotonic()
    from .terminal.job import run_compare

    against = options.against(settings, bed, bed_of or (), gap or (), pattern or ())
    run_compare(folder, seconds, seed, against, options.team(workers, cluster), begun)


@app.command("export")
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
    from ..files.layout import read_stated
    from .proof import around
    from .terminal.bed import run_export

    folder, job = to or layout.parent / "cut", around(layout)
    found = read_stated(layout)
    if not run_export(found, folder, job, spread_heat=spread_heat, frame=frame, align=align or [], kind=kind):
        raise typer.Exit(1)


@app.command("templates")
def templates_command(
    layout: LayoutFile,
    hide: Annotated[list[str] | None, typer.Option(help="Only the parts on this hide (may be given again).")] = None,
    to: Annotated[
        Path | None, typer.Option("--to", help="Folder to write to; cut/ beside the layout by default.")
    ] = None,
) -> None:
    """Write paper templates to cut by knife: every part at true size, tiled on A4 (US letter with inches)."""
    from ..files.layout import read_stated
    from .proof import around
    from .terminal.bed import run_templates

    if not run_templates(read_stated(layout), to or layout.parent / "cut", around(layout), hide):
        raise typer.Exit(1)


@app.command("kerf")
def kerf_command(
    folder: Folder,
    teeth: Annotated[str, typer.Option(help="Measured widths of the teeth, mm: '5.81 5.79 ...'.")] = "",
    slots: Annotated[str, typer.Option(help="Measured widths of the slots, mm.")] = "",
    thickness: Annotated[
        float | None,
        _thickness("Thickness of the leather: 1.8 mm, 4.5 oz."),
    ] = None,
    record: Annotated[bool, typer.Option("--record", help="Put the kerf into workshop.toml.")] = False,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="File to write; FOLDER/out/kerf-comb.svg by default.")
    ] = None,
) -> None:
    """Make a comb to cut and measure; with its measured widths, work the kerf out."""
    from .terminal.bed import run_kerf

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
app.add_typer(swatch_app, name="swatch")
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
        _thickness("Thickness of the piece, mm or oz (needed)."),
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
    from .terminal.bed import run_swatch

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
        _thickness("Without a swatch: thickness, mm or oz."),
    ] = None,
    speed: Annotated[float | None, typer.Option(min=0.1, max=5000, help="Without a swatch: speed, mm/s.")] = None,
    power: Annotated[float | None, typer.Option(min=0.1, max=100, help="Without a swatch: power, %.")] = None,
    passes: Annotated[int, typer.Option(min=1, max=20, help="Without a swatch: passes.")] = 1,
    operation: Operation = "cut",
    leather: Leather = "",
    line_spacing: Spacing = None,
    thinnest: Annotated[
        float | None,
        _thickness("Thinnest leather it was clean on, mm or oz."),
    ] = None,
    thickest: Annotated[
        float | None,
        _thickness("Thickest leather it was clean on, mm or oz."),
    ] = None,
) -> None:
    """Add what a test piece taught to workshop.toml: a tested row and its window."""
    from .terminal.bed import run_record

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


class _Numbers(TyperCommand):
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


@app.command("trace", cls=_Numbers)
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
    from .terminal.hides import run_trace

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


@app.command("camera")
def camera_command(
    photos: Annotated[
        list[Path], typer.Argument(help="Photos of the marker sheets, some tilted, some into the corners.")
    ],
    output: Annotated[Path, typer.Option("--output", "-o", help="Profile to write.")] = Path("camera.json"),
) -> None:
    """Measure a camera and its lens from a few photos of the marker sheets, for trace --camera."""
    from .terminal.hides import run_camera

    run_camera(photos, output)


@app.command("align")
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
        float | None, _thickness("Of the leather, where its hide does not say: 1.8 mm, 4.5 oz.")
    ] = None,
    camera: Annotated[Path | None, typer.Option(help="Camera profile made by nesting camera.")] = None,
) -> None:
    """Turn a file to burn to fit how its panel lies on the bed, by a photo; the old file stays beside the new.

    Give the bed's corners in pixels, or push marker sheet 1, upright, into its bottom left corner and another sheet
    into any other corner. Switch the laser off before you open the lid; run the pointer or a frame before you burn.
    """
    from .terminal.cameras import run_align

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


@app.command("trace-pattern")
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
    from .terminal.cameras import run_trace_pattern

    run_trace_pattern(
        photo, output, reference=reference, corners=corners, points=points, lengths=length or [], camera=camera,
        thickness_mm=thickness, names=names,
    )  # fmt: skip


hide_app = typer.Typer(help="Put a traced hide right by hand.", no_args_is_help=True, rich_markup_mode=None)
app.add_typer(hide_app, name="hide")
HideFile = Annotated[Path, typer.Argument(help="A hide file, such as hides/x.json.")]


@hide_app.command("to-svg")
def to_svg_command(
    file: HideFile,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Drawing to write; beside the hide by default.")
    ] = None,
) -> None:
    """Draw a hide over its straightened photo, to edit in any vector editor."""
    from .terminal.hides import run_to_svg

    run_to_svg(file, output)


@hide_app.command("from-svg")
def from_svg_command(
    drawing: Annotated[Path, typer.Argument(help="The edited drawing.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="The hide file it was made of; beside it by default.")
    ] = None,
) -> None:
    """Read an edited drawing back into its hide file."""
    from .terminal.hides import run_from_svg

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
    from .terminal.hides import run_accept

    run_accept(file, options.numbers(file, "suggestions", numbers or ()), drop)


@app.command("markers")
def markers_command(
    to: Annotated[Path, typer.Option("--to", help="Folder to write to.")] = Path("markers"),
    pages: Annotated[int, typer.Option(min=1, max=8, help="How many sheets.")] = 4,
) -> None:
    """Make the marker sheets to print and lay around a hide before it is photographed."""
    from ..tracing.markers import write_marker_sheets

    for path in write_marker_sheets(to, pages):
        typer.echo(str(path))
