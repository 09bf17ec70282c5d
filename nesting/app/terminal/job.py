"""What the commands about a job folder say: plan, check, report, compare."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from rich.box import SIMPLE
from rich.table import Table

from ...costs.choices import Choice
from ...engine import Cancel, Progress, Stop, half_warm
from ...laser.export import refusal
from ...model import Layout, counted, units
from ...planning.kept import Kept
from ...planning.plan import SoFar, plan
from ...planning.prepare import Prepared
from ...report.table import print_summary
from ...report.words import area_units, areas
from ...workers import Cluster
from ..actions import job
from ..actions.comparing import HIDES, Against, Compared, compare_folder
from ..actions.going_on import GoingOn, Settled
from ..actions.hands import settled as settled_by_hand
from ..actions.shop import take_in
from ..stopping import keeping, look
from .console import begin_ready, console, get_ready, progress_bar, say
from .hands import say_kept
from .shop import say_taken

MOST_FINDINGS = 20
"""More are told by their number only: the first show what is wrong."""


def run_plan(
    folder: Path,
    seconds: float | None,
    iterations: int | None = None,
    seed: int = 0,
    only: Sequence[str] = (),
    settings: int | None = None,
    workers: int | Cluster | None = None,
    partial: bool = False,
    kept_of: Callable[[Prepared], Kept | None] = lambda prepared: None,
    begun: float | None = None,
) -> Layout | None:
    """Plan a job folder, prove the layout and write it with its report; None when the referee found faults.

    ``kept_of`` tells what stays of an earlier layout; ``begun`` is when the command began, by the monotonic clock.
    """
    begin_ready()
    say_taken(take_in(folder))
    prepared = job.prepare_folder(folder, only)
    kept = kept_of(prepared)
    for line in job.notes_before(prepared):
        say(line, "yellow" if line.startswith("note") else None)
    if kept is not None:
        say_kept(kept, folder)
    if isinstance(workers, Cluster):
        say(f"searching with {counted(workers.workers, 'worker')} of the cluster at {workers.address}")
    gone_s = _since(begun)
    get_ready(first=True)
    out, so_far, cancel = folder / "out", SoFar(look), Cancel()
    how = {"seed": seed, "settings": settings, "workers": workers, "partial": partial, "kept": kept, "so_far": so_far}
    going_on = None
    if kept is not None and kept.loose:
        going_on = GoingOn(prepared, kept, out / "layout.json", seed=seed, settings=settings, partial=partial)

    def finish() -> str | None:
        done = job.keep_stopped(so_far, out, going_on)
        return None if done is None else done.words

    with keeping(finish, lambda: so_far.make is not None, cancel.cancel):
        if half_warm():
            first = _searched(prepared, Stop(seconds=0.0, cancel=cancel), explain=False, **how)
            look()
            placed = f"a first layout has {len(first.placements)} of {len(prepared.wishes)} parts"
            get_ready(text=f"{placed}; compiling the rest of the engine, this once, before the search goes on")
        stop = Stop(seconds=job.to_search(seconds, gone_s), iterations=iterations, cancel=cancel)
        layout = _searched(prepared, stop, **how)
        so_far.make = lambda: layout
        look()
        with console.status("checking") as status:
            settled = going_on.settled(layout) if going_on is not None else Settled(layout)
            written = job.write_settled(settled, out, status.update)
    layout = written.layout
    if written.figures is None:
        for finding in written.findings[:MOST_FINDINGS]:
            say(finding, "red")
        say(
            f"the layout breaks {len(written.findings)} rules and was not written; "
            "please report this with the job folder"
        )
        return None
    with keeping(lambda: f"stopped; all of the plan is written to {out}"):
        print_summary(written.figures, console, first=layout.workshop.units, layout=layout)
        for line in _settings_used(layout, prepared, settings):
            say(line)
        if settled.words:
            say(settled.words)
        if kept is not None and (moved := kept.moved(layout)):
            say(f"{counted(len(moved), 'part')} that held lie elsewhere now; nesting pin keeps parts where they are")
        if kept is not None and (out_now := kept.left_out(layout)):
            names = ", ".join(f"{p.order} {p.product} {p.piece}" for p in out_now[:MOST_FINDINGS])
            say(f"left out now, though it had a place before: {names}", "yellow")
        if written.kept is not None:
            say(f"The run before is kept in {written.kept}, its files to burn too: nesting export writes new ones.")
        say("Open: " + ", ".join(str(file) for file in written.files if file.suffix != ".svg"))
        if isinstance(workers, Cluster) and (lost := workers.lost):
            here = "this machine" if lost == workers.workers else "the others"
            say(f"{counted(lost, 'worker')} of the cluster dropped out; {here} did the rest", "yellow")
        refused = {hide.id: refusal(hide, layout) for hide in layout.hides if layout.on(hide.id)}
        for hide, why in refused.items():
            if why:
                say(f"hide {hide}: no file to burn: {why}", "yellow")
        if not all(refused.values()):
            say(f"Next: nesting export {out / 'layout.json'} (writes the files to burn and job cards)")
        elif refused:
            say(f"Next: nesting templates {out / 'layout.json'} (writes paper templates to cut by knife)")
    return layout


def _since(begun: float | None) -> float:
    return 0.0 if begun is None else time.monotonic() - begun


def _searched(prepared: Prepared, stop: Stop, **how: Any) -> Layout:
    """Search, with a bar that tells how far it is."""
    with progress_bar() as bar:
        task = bar.add_task(f"placing {len(prepared.wishes)} parts", total=1.0)

        def show(run: Progress) -> None:
            used = units.area_words(run.consumed_mm2, prepared.job.workshop.units).partition(" (")[0]
            text = f"{run.placed} of {run.of} parts, {used} used"
            bar.update(task, description=text, completed=run.share)

        return plan(prepared.job, stop, prepared=prepared, progress=show, **how)


def run_check(path: Path) -> bool:
    """Prove a layout from its file alone and tell every fault, of a folder also every file of another; whether none."""
    done = job.check_file(path)
    for line in (*done.findings, *done.stale):
        say(line)
    for change in done.changes:
        say(f"note: {change}", "yellow")
    findings = done.findings
    say(f"{done.file}: {len(findings)} faults" if findings else f"{done.file}: every rule holds")
    return not findings and not done.stale


def run_report(file: Path) -> bool:
    """Write the report and pictures of a layout again, beside its file; whether it is sound."""
    proved, files = job.write_reports_again(file)
    if proved.findings:
        say(f"{files[0]}: {unsound(proved.findings)}", "red")
        return False
    for path in files:
        say(path)
    for change in proved.changes:
        say(f"note: {change}", "yellow")
    return True


def unsound(findings: Sequence[object]) -> str:
    """One line about a layout that breaks rules."""
    return f"the layout breaks {counted(len(findings), 'rule')} and must not be cut, first: {findings[0]}"


_MORE: dict[str, dict[str, Callable[[Choice], int]]] = {
    "settings": {"changes": lambda choice: choice.changeovers},
    "bed": {"panels": lambda choice: len(choice.layout.panels)},
}
"""What else the table of a comparison counts."""


def run_compare(
    folder: Path,
    seconds: float,
    seed: int,
    against: Against = HIDES,
    workers: int | Cluster | None = None,
    begun: float | None = None,
) -> None:
    """Plan the same orders in several ways; print the table."""
    begin_ready()
    prepared, by = job.prepare_folder(folder), against.by
    stop = Stop(seconds=job.to_search(seconds, _since(begun)), cancel=Cancel())
    get_ready()
    with progress_bar() as bar:
        # how many sets of hides are worth a plan shows only on the way
        plans = {"hides": None, "settings": 3}.get(by, max(2, 1 + len(against.beds + against.gaps + against.patterns)))
        task = bar.add_task("comparing", total=plans)

        def told(name: str) -> None:
            bar.update(task, advance=1, description=f"planning: {name}")

        done = compare_folder(prepared, folder, stop, seed, against, workers, told)
    if done.files:
        console.print(_table(done, by, prepared.job.workshop.prices.currency))
        say(
            "Pieces: ordered and whole. Cost: of these, as if no filler were cut. Used: the hides cut less the offcuts "
            "kept. Shares: the parts of the hides cut, and of what is used."
        )
        if any(done.saved):
            base = "the plan at hand" if by == "hides" else "the first"
            ways = zip(done.choices, done.saved)
            each = [f"{choice.name} {saved:+}" for choice, saved in ways if saved and by in _MORE]
            told_year = "; ".join([f"what it would save against {base}, {done.rate}", *each])
            fewer = " A way that makes fewer pieces than that saves nothing." if _some_make_fewer(done) else ""
            say(f"A year: {told_year}. Searches differ by a little, too.{fewer}")
        if by == "hides":
            say("The best first: urgent orders count before others, then money.")
        if by == "settings":
            say("Changes: how often the setting changes while a panel is burnt, engraving and cutting.")
    say(done.why)
    if done.choices.untried:
        more = counted(done.choices.untried, "more set")
        say(f"note: {more} of hides could be better and had no turn in the time given: --seconds gives more", "yellow")
    if done.choices and by not in ("hides", "settings") and settled_by_hand(folder):
        say("note: each was planned as if nothing were pinned or burnt", "yellow")
    if by == "hides" and done.choices and not done.choices[0].planned:
        say(f"To cut it so: nesting plan {folder} --compared")
    if done.files:
        say(f"Open: {', '.join(map(str, done.files))}")


def _some_make_fewer(done: Compared) -> bool:
    return done.base is not None and any(choice.whole < done.base.whole for choice in done.choices)


def _table(done: Compared, by: str, currency: str) -> Table:
    # where more is counted there is no room for another column
    choices, year = done.choices, any(done.saved) and by not in _MORE
    more, first = _MORE.get(by, {}), choices[0].layout.workshop.units
    unit = area_units(first)[0]
    table = Table(box=SIMPLE, collapse_padding=True, pad_edge=False)
    table.add_column({"settings": "settings a hide"}.get(by, by), min_width=16, overflow="fold")
    for name in ("pieces", f"cost {currency}", f"{unit} used", "of hide", "of used", *more, *["a year"][:year]):
        table.add_column(name, justify="right", no_wrap=True)
    for number, choice in enumerate(choices):
        total = choice.figures["total"]
        table.add_row(
            _hides(choice) if by == "hides" else choice.name,
            f"{choice.whole} of {choice.wanted}",
            str(choice.cost),
            areas(total["consumed_mm2"], first)[0],
            f"{total['yield_of_hide']:.1%}",
            f"{total['yield_of_consumed']:.1%}",
            *(str(count(choice)) for count in more.values()),
            *[done.year(number)][:year],
        )
    return table


def _hides(choice: Choice) -> str:
    return "\n+ ".join(choice.hides or (choice.name,)) + ("\n(the plan at hand)" if choice.planned else "")


def _settings_used(layout: Layout, prepared: Prepared, asked: int | None) -> list[str]:
    """Which settings a hide is burnt with and why, where there was a choice."""
    lines = []
    left = any(not unplaced.filler for unplaced in layout.unplaced)
    for item in prepared.hides:
        burnt = [layout.setting_of(placement) for placement in layout.on(item.hide.id)]
        used = [setting for setting in layout.settings_on(item.hide.id) if setting in burnt]
        if len(item.settings) < 2 or not used:
            continue
        counts = [f"{setting.name} ({burnt.count(setting)} parts)" for setting in used]
        if len(used) > 1:
            why = "as asked" if asked else "ordered parts would be left out with one"
            lines.append(f"hide {item.hide.id} is burnt with {len(used)} settings, {' and '.join(counts)}: {why}")
        elif asked is None:
            room = "it has room for all that is ordered"
            why = "a second finds room for none of the parts left out" if left else room
            lines.append(
                f"hide {item.hide.id} is burnt with one setting, {used[0].name}: {why}, and a change-over takes time"
            )
    return lines
