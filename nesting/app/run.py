"""What each command does, with its progress and its words for the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.box import SIMPLE
from rich.table import Table

from ..costs.figures import figures
from ..errors import FileError
from ..files.job import read_job
from ..files.layout import write_layout
from ..model import MM2_PER_DM2, Layout
from ..referee.rules import check
from ..report.table import print_summary
from ..workers import cores
from .earlier import earlier_plan
from .terminal.console import console, get_ready, progress_bar

if TYPE_CHECKING:
    from ..engine import Progress
    from ..planning.prepare import Prepared


def run_plan(
    folder: Path,
    seconds: float | None,
    iterations: int | None = None,
    seed: int = 0,
    only: list[str] | None = None,
    settings: int | None = None,
) -> Layout | None:
    """Plan a job folder, prove the layout, write it with its report and pictures; None when the referee found faults."""
    job = read_job(folder)
    from ..engine.stop import Stop
    from ..planning.plan import plan
    from ..planning.prepare import prepare

    known = [hide.id for hide in job.hides]
    for name in only or ():
        if name not in known:
            raise FileError(folder / "hides", "--hide", name, f"give one of {', '.join(known)}")
    prepared = prepare(job, only or None)
    _refuse_tiny_bed(prepared, folder)
    for line in _before(prepared):
        console.print(line, style="yellow" if line.startswith("note") else None, soft_wrap=True, markup=False)
    count = len(prepared.wishes)
    get_ready()
    with progress_bar() as bar:
        task = bar.add_task(f"placing {count} parts", total=1.0)

        def show(run: Progress) -> None:
            text = f"{run.placed} of {run.of} parts, {run.consumed_mm2 / MM2_PER_DM2:.1f} dm2 used"
            bar.update(task, description=text, completed=run.share)

        stop = Stop(seconds=seconds, iterations=iterations)
        layout = plan(job, stop, seed, prepared=prepared, settings=settings, progress=show)
    for line in _settings_used(layout, prepared, settings):
        console.print(line, soft_wrap=True, markup=False)
    return layout if _write(layout, folder / "out") else None


def _refuse_tiny_bed(prepared: Prepared, folder: Path) -> None:
    if prepared.wishes and not prepared.fitting:
        machine = prepared.job.workshop.machine
        least = min(prepared.parts.values(), key=lambda part: part.outline.area)
        raise FileError(
            folder / "workshop.toml",
            "machine",
            f"usable bed {machine.usable_words}",
            f"no ordered part fits it with its edge margin, not even {least.name}: check bed_width_mm, bed_height_mm "
            "and bed_margin_mm, or cut by hand",
        )


def _before(prepared: Prepared) -> list[str]:
    """What to know before the search: faults of the hides, parts too big for the bed, the settings chosen and why."""
    from ..planning.settings import coverage

    workshop = prepared.job.workshop
    lines = [f"note: {warning}" for warning in prepared.warnings]
    lines += [
        f"note: part {name} of {product} with its edge margin is bigger than the usable bed of "
        f"{workshop.machine.usable_words}: it is left out; cut it by hand or on a bigger bed"
        for product, name in prepared.too_big
    ]
    for item in prepared.hides:
        shares = [
            coverage(item.hide, item.map, item.settings[:n], workshop.confidence)
            for n in range(1, 1 + len(item.settings))
        ]
        for number, (setting, share) in enumerate(zip(item.settings, shares)):
            does = f"{setting.name} cuts clean from {setting.thinnest_mm:.2f} to {setting.thickest_mm:.2f} mm"
            if number == 0:
                lines.append(
                    f"hide {item.hide.id}: {item.map.source}; setting {does}, {share:.0%} of the hide, the most of any"
                )
            else:
                lines.append(f"    one setting more, {does}, would add {share - shares[number - 1]:.0%} of the hide")
    return lines


def _settings_used(layout: Layout, prepared: Prepared, asked: int | None) -> list[str]:
    """Which settings a hide is burnt with and why, where there was a choice."""
    lines = []
    left = sum(not unplaced.filler for unplaced in layout.unplaced)
    for item in prepared.hides:
        used = [
            s
            for s in layout.settings_on(item.hide.id)
            if any(layout.setting_of(p) == s for p in layout.on(item.hide.id))
        ]
        if len(item.settings) < 2 or not used:
            continue
        counts = [f"{s.name} ({sum(layout.setting_of(p) == s for p in layout.on(item.hide.id))} parts)" for s in used]
        if len(used) > 1:
            why = "as asked" if asked else "ordered parts would be left out with one"
            lines.append(f"hide {item.hide.id} is burnt with {len(used)} settings, {' and '.join(counts)}: {why}")
        elif asked is None:
            why = (
                "a second finds room for none of the parts left out" if left else "it has room for all that is ordered"
            )
            lines.append(
                f"hide {item.hide.id} is burnt with one setting, {used[0].name}: {why}, and a change-over takes time"
            )
    return lines


def _write(layout: Layout, out: Path) -> bool:
    with console.status("checking"):
        findings = check(layout)
    if findings:
        for finding in findings[:20]:
            console.print(str(finding), style="red", markup=False)
        console.print(
            f"the layout breaks {len(findings)} rules and was not written; please report this with the job folder"
        )
        return False
    from ..report.write import write_reports

    with console.status("drawing"):
        numbers = figures(layout)
        write_layout(out / "layout.json", layout, numbers)
        files = [out / "layout.json", *write_reports(layout, out, numbers)]
    print_summary(layout, numbers, console)
    console.print(
        "Open: " + ", ".join(str(file) for file in files if file.suffix != ".svg"), soft_wrap=True, markup=False
    )
    return True


_MORE = {
    "settings": {"changes": lambda choice: choice.changeovers},
    "bed": {"panels": lambda choice: len(choice.layout.panels)},
}
"""What else the table of a comparison counts."""


def run_compare(folder: Path, seconds: float, seed: int, by: str = "hides") -> None:
    """Plan on each hide alone and on all, by ``settings`` with one, two and three, or for the ``bed`` and without its limit;
    print the table and draw it."""
    job = read_job(folder)
    from ..costs.choices import compare, compare_bed, compare_settings, why, why_bed, why_settings
    from ..engine.stop import Stop
    from ..planning.prepare import prepare
    from ..report.drawing import draw_compare, save

    _refuse_tiny_bed(prepare(job, ()), folder)
    each = Stop(seconds=seconds)
    get_ready()
    with progress_bar() as bar:
        task = bar.add_task("comparing", total={"settings": 3, "bed": 2}.get(by, len(job.hides) + 1))

        def told(name: str) -> None:
            bar.update(task, advance=1, description=f"planning: {name}")

        if by == "hides":
            planned = earlier_plan(folder, job)
            choices = compare(job, each, seed, workers=cores(), progress=told, planned=planned)
        else:
            other = compare_settings if by == "settings" else compare_bed
            choices = other(job, each, seed, workers=cores(), progress=told)
    reason = {"hides": why, "settings": why_settings, "bed": why_bed}[by](choices)
    if not choices:
        console.print(reason)
        return
    currency = job.workshop.prices.currency
    # whether more settings are worth the change-overs is for the maker to say
    best = choices[0] if by == "hides" else None
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    table.add_column({"settings": "settings a hide"}.get(by, by), min_width=16, overflow="fold")
    for name in ("parts", f"cost {currency}", "dm2 used", "of hide", "of used", *_MORE.get(by, {})):
        table.add_column(name, justify="right", no_wrap=True)
    for choice in choices:
        total, wanted, placed = (
            choice.figures["total"],
            sum(choice.layout.wanted.values()),
            len(choice.layout.placements),
        )
        table.add_row(
            "\n+ ".join(choice.hides or (choice.name,)) if by == "hides" else choice.name,
            f"{placed} of {wanted}",
            str(choice.cost),
            f"{total['consumed_mm2'] / MM2_PER_DM2:.1f}",
            f"{total['yield_of_hide']:.1%}",
            f"{total['yield_of_consumed']:.1%}",
            *(str(count(choice)) for count in _MORE.get(by, {}).values()),
        )
    console.print(table)
    console.print("Used: the hides cut less the offcuts kept. Shares: the parts of the hides cut, and of what is used.")
    if by == "settings":
        console.print(
            "Parts: fillers too. Changes: how often the setting changes while a panel is burnt, engraving and cutting."
        )
    console.print(reason, soft_wrap=True, markup=False)
    files = save(draw_compare(choices, best), folder / "out" / ("compare" if by == "hides" else f"compare-{by}"))
    console.print(f"Open: {files[0]}", soft_wrap=True, markup=False)
