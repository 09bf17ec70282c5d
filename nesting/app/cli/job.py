"""Commands of a job: plan it, prove it, tell of it, compare ways to cut it."""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated

import typer

from .. import options
from .arguments import Folder, LayoutFile, Seconds

if TYPE_CHECKING:
    from ...planning.kept import Kept
    from ...planning.prepare import Prepared

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
    from ..actions.hands import kept_of, tell_book
    from ..terminal.job import run_plan

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


def check_command(
    layout: Annotated[Path, typer.Argument(metavar="LAYOUT", help="A layout file, or the folder out/ with all in it.")],
) -> None:
    """Prove a layout from its file alone; of a folder also whether the files to burn in it are of that layout."""
    from ..terminal.job import run_check

    if not run_check(layout):
        raise typer.Exit(1)


def report_command(layout: LayoutFile) -> None:
    """Write the report and pictures of a layout again, beside its file."""
    from ..terminal.job import run_report

    if not run_report(layout):
        raise typer.Exit(1)


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
    from ..terminal.job import run_compare

    against = options.against(settings, bed, bed_of or (), gap or (), pattern or ())
    run_compare(folder, seconds, seed, against, options.team(workers, cluster), begun)
