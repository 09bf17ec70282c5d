"""What each command does, with its progress and its words for the terminal."""

from __future__ import annotations

import os
import time
from pathlib import Path

from rich.box import SIMPLE
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

from .check import check
from .files.errors import FileError
from .files.job import read_job
from .files.layout import write_layout
from .model import MM2_PER_DM2, Layout
from .report.drawing import draw_compare, draw_hide, save
from .report.figures import figures
from .report.page import write_report
from .report.table import print_summary

console = Console(highlight=False)
WORKERS = min(2, os.cpu_count() or 1)


def progress_bar() -> Progress:
    """The bar every long command shows."""
    return Progress(
        SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(), console=console, transient=True
    )


def run_plan(
    folder: Path, seconds: float | None, iterations: int | None = None, seed: int = 0, only: list[str] | None = None
) -> Layout | None:
    """Plan a job folder, prove the layout, write it with its report and pictures; None when the referee found faults."""
    job = read_job(folder)
    from . import plan as planning
    from .engine.stop import Stop

    known = [hide.id for hide in job.hides]
    for name in only or ():
        if name not in known:
            raise FileError(folder / "hides", "--hide", name, f"give one of {', '.join(known)}")
    hides = planning.ready(job, tuple(only) if only else None)
    for item in hides:
        for warning in item.warnings:
            console.print(f"note: {warning}", style="yellow", soft_wrap=True, markup=False)
        if item.setting:
            console.print(
                f"hide {item.hide.id}: {item.map.source}; setting {item.setting.name} cuts clean from "
                f"{item.setting.thinnest_mm:g} to {item.setting.thickest_mm:g} mm; {len(item.panels)} panel(s)",
                soft_wrap=True, markup=False,
            )
    count = len(planning.wanted(job))
    get_ready()
    started = time.monotonic()
    with progress_bar() as bar:
        task = bar.add_task(f"placing {count} parts", total=seconds or iterations)

        def better(solution):
            placed = sum(pose is not None for pose in solution.poses)
            text = f"{placed} of {count} parts, {solution.consumed_mm2 / MM2_PER_DM2:.1f} dm2 used"
            bar.update(task, description=text, completed=solution.seconds if seconds else solution.iterations)

        def tick():
            bar.update(task, completed=time.monotonic() - started) if seconds else bar.advance(task)
            return False

        layout = planning.plan(job, Stop(seconds=seconds, iterations=iterations, when=tick), seed, hides=hides, progress=better, workers=WORKERS)
    return layout if _write(layout, folder / "out") else None


def get_ready() -> None:
    """Compile the engine before the clock of a search starts."""
    from .engine import warm_up

    with console.status("getting the engine ready (the first time ever takes about 20 s)"):
        warm_up()


def _write(layout: Layout, out: Path) -> bool:
    with console.status("checking"):
        findings = check(layout)
    if findings:
        for finding in findings[:20]:
            console.print(str(finding), style="red", markup=False)
        console.print(f"the layout breaks {len(findings)} rules and was not written; please report this with the job folder")
        return False
    with console.status("drawing"):
        numbers = figures(layout)
        write_layout(out / "layout.json", layout, numbers)
        files = [out / "layout.json", *write_reports(layout, out, numbers)]
    print_summary(layout, numbers, console)
    console.print("Open: " + ", ".join(str(file) for file in files if file.suffix != ".svg"), soft_wrap=True, markup=False)
    return True


def write_reports(layout: Layout, out: Path, numbers: dict | None = None) -> list[Path]:
    """Write report.html and a picture of every hide that is cut; give back the files."""
    numbers = numbers or figures(layout)
    files = [write_report(layout, numbers, out)]
    for row in numbers["hides"]:
        if row["cut"]:
            files += save(draw_hide(layout, row["hide"], row), out / f"hide-{row['hide']}")
    return files


def run_compare(folder: Path, seconds: float, seed: int) -> None:
    """Plan on each hide alone and on all; print the table and write out/compare.png."""
    job = read_job(folder)
    from .compare import compare, why

    get_ready()
    with progress_bar() as bar:
        task = bar.add_task("comparing", total=len(job.hides) + 1)
        choices = compare(job, seconds, seed, lambda name: bar.update(task, advance=1, description=f"planning on {name}"), WORKERS)
    if not choices:
        console.print(why(choices))
        return
    currency = job.workshop.prices.currency
    table = Table(box=SIMPLE)
    table.add_column("hides", min_width=18, overflow="fold")
    for name in ("parts", f"cost {currency}", "dm2 used", "of hide", "of used"):
        table.add_column(name, justify="right", no_wrap=True)
    rows = []
    for choice in choices:
        total, wanted = choice.figures["total"], sum(choice.layout.wanted.values())
        placed = len(choice.layout.placements)
        table.add_row(
            "\n+ ".join(choice.hides or (choice.name,)), f"{placed} of {wanted}", str(choice.cost),
            f"{total['consumed_mm2'] / MM2_PER_DM2:.1f}", f"{total['yield_of_hide']:.1%}", f"{total['yield_of_consumed']:.1%}",
        )
        rows.append(
            {
                "name": choice.name, "placed": placed, "wanted": wanted, "yield_of_consumed": total["yield_of_consumed"],
                "consumed_mm2": total["consumed_mm2"], "cost": choice.cost, "currency": currency, "best": choice is choices[0],
            }
        )
    console.print(table)
    console.print("Used: the hides cut less the offcuts kept. The last two columns: the parts' share of the hides cut, and of what is used.")
    console.print(why(choices), soft_wrap=True, markup=False)
    files = save(draw_compare(rows), folder / "out" / "compare")
    console.print(f"Open: {files[0]}", soft_wrap=True, markup=False)


def run_export(layout: Layout, folder: Path) -> bool:
    """Write cut-ready files; false when every hide with parts was refused, or when the referee finds a fault."""
    from .laser.export import export

    findings = check(layout)
    if findings:
        console.print(f"nothing written: the layout breaks {len(findings)} rules, first: {findings[0]}", soft_wrap=True, markup=False)
        return False
    result = export(layout, folder)
    for text in (*result.warnings, *result.refusals):
        console.print(text, style="yellow", soft_wrap=True, markup=False)
    for file in result.files:
        console.print(str(file), soft_wrap=True, markup=False)
    return bool(result.files)
