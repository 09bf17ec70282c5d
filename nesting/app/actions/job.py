"""Actions on a job folder: what a plan needs to know, the plan proved and written."""

from __future__ import annotations

import contextlib
import math
import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple, TypeVar

from ...atomic import written_anew
from ...costs.figures import Figures, figures
from ...errors import FileError
from ...files.layout import as_written, read_stated, write_layout
from ...files.marks import read_mark
from ...leather.few import few_readings
from ...model import Hide, Layout, Workshop, units
from ...planning.long_parts import KNIFE, REFUSE, TWO_LOADS, told
from ...planning.plan import SoFar
from ...planning.prepare import Prepared, prepare
from ...planning.settings import coverage
from ...referee.burning import prove_files
from ...referee.findings import Findings
from ...referee.reasons import untrue_reasons
from ...referee.rules import check
from ..proof import SEAL, Proved, job_folder, prove
from . import shop
from .going_on import GoingOn, Settled
from .questions import questions

PLANNED = ("layout.json", "report.html", "hide-*", "cutting-guide-*", "cut")
"""Names in ``out/`` of what belongs to a layout; a comparison is looked at, and planned on, after it."""
DRAWN = ("report.html", "hide-*", "cutting-guide-*")
"""What of them is drawn again."""
MARKED = ("report.html", "cut/*.svg", "cut/*.dxf", "cut/*.html", "cut/*.pdf")
"""What in ``out/`` carries the mark of its layout."""

Time = TypeVar("Time", float, float | None)
AFTER_SHARE, AFTER_S = 0.25, 4.0
"""Share of a plan's time, and seconds at most, kept for what comes after the search (measured with
tests/benchmarks/finish.py)."""
LEAST_SHARE = 0.25
"""Share of a plan's time that the search has at least, however long it took to read the folder."""


@dataclass(frozen=True)
class Written:
    """A layout proved and written with its report and pictures; nothing is written where there are findings.

    ``layout`` is as its file has it; ``kept`` is where the run before it went.
    """

    layout: Layout
    findings: Findings
    figures: Figures | None = None
    files: tuple[Path, ...] = ()
    kept: Path | None = None


@dataclass(frozen=True)
class Checked:
    """What was found in a layout, the files beside it that are of another, and what of the job folder it was made from
    has changed since, in words."""

    file: Path
    findings: Findings
    stale: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()


def prepare_folder(folder: Path, only: Sequence[str] = ()) -> Prepared:
    """Read a job folder, as its stock book has it where there is one, and look at it before the search.

    Raises
    ------
    FileError
        For a fault in a file, a hide that is not there, or a bed smaller than every part ordered.
    """
    job = shop.job_of(folder)
    known = [hide.id for hide in job.hides]
    for name in only:
        if name not in known:
            raise FileError(folder / "hides", "--hide", name, f"give one of {', '.join(known)}")
    prepared = prepare(job, only or None)
    if prepared.wishes and not prepared.fitting and all(part.how == REFUSE for part in told(prepared)):
        machine = job.workshop.machine
        least = min(prepared.parts.values(), key=lambda part: part.outline.area)
        raise FileError(
            folder / "workshop.toml",
            "machine",
            f"usable bed {machine.usable_words}",
            f"no ordered part fits it with the margin along knife lines, not even {least.name}: check bed_width_mm, "
            "bed_height_mm and bed_margin_mm, or cut by hand",
        )
    return prepared


WHOLE = 0.995
"""A share of a hide that is told as all of it."""


def notes_before(prepared: Prepared) -> list[str]:
    """What to know before the search: faults of the hides, parts too big for the bed, the settings chosen and why."""
    workshop = prepared.job.workshop
    usable = workshop.machine.usable_mm
    fed = not all(map(math.isfinite, usable))
    bed = workshop.machine.usable_words if fed else units.size_words(*usable, workshop.units)
    lines = [f"note: {warning}" for warning in (workshop.first_guesses(), *prepared.warnings) if warning]
    lines += [
        f"{'note: ' if part.how == REFUSE else ''}part {part.part} of {part.product}, "
        f"{units.size_words(*part.size_mm, workshop.units)}, is bigger than the usable bed of {bed}"
        f"{' and too long for two loads' if part.for_two and part.how == KNIFE else ''}: {BIGGER[part.how]}"
        for part in told(prepared)
    ]
    lines += [f"note: {question}" for question in questions(prepared)]
    lines += _by_knife(prepared)
    for item in prepared.hides:
        shares = [
            coverage(item.hide, item.map, item.settings[:n], workshop.confidence)
            for n in range(1, 1 + len(item.settings))
        ]
        for number, (setting, share) in enumerate(zip(item.settings, shares)):
            window = units.thickness_words((setting.thinnest_mm, setting.thickest_mm), workshop.units)
            does = f"{setting.name} cuts clean from {window}"
            if number == 0:
                lines.append(
                    f"hide {item.hide.id}: {item.map.source}; setting {does}, {share:.0%} of the hide, the most of any"
                )
            else:
                lines.append(f"    one setting more, {does}, would add {share - shares[number - 1]:.0%} of the hide")
        # where all of it is cut clean nothing is kept out
        refuses = item.hide.laser_safe and workshop.settings and item.map.known and max(shares, default=0.0) < WHOLE
        if refuses and (few := few_readings(item.hide, workshop.thickness_spread_mm)):
            lines.append(f"note: {few}")
    return lines


def _by_knife(prepared: Prepared) -> list[str]:
    """What may come to be cut by knife though there is leather to burn, and nobody said that it may."""
    burnt = [item.hide for item in prepared.open if item.setting]
    cold = [item.hide for item in prepared.open if not item.hide.laser_safe]
    wishes = [prepared.wishes[index] for index in prepared.fitting]
    # what must match a part that is burnt lies with it
    bound = {wish.match for wish in wishes if wish.match and wish.kind.burn}
    products, hides = list[str](), list[str]()
    for wish in wishes:
        if wish.product.burn is None and wish.match not in bound and any(map(wish.kind.allows, burnt)):
            on = [hide.id for hide in cold if wish.kind.allows(hide)]
            products += [wish.product.name] if on else []
            hides += on
    if not hides:
        return []
    return [
        f"note: {', '.join(dict.fromkeys(products))} may lie on {', '.join(dict.fromkeys(hides))} too, which is not "
        "burnt: what lies there is cut by knife; burn = true in products.toml keeps a product on leather to burn"
    ]


BIGGER = {
    KNIFE: "it is cut by knife with a paper template, before all else, and its place is kept free",
    TWO_LOADS: "it is burnt in two loads, the leather moved on between them",
    REFUSE: 'it is left out; longer = "knife" or "two loads" of an ordered product in products.toml lets it in',
}
"""What becomes of a part that is bigger than the bed."""


def to_search(seconds: Time, gone_s: float = 0.0) -> Time:
    """What is left for the search of the time that a plan is to take, when some of it is gone already; the rest is for
    proof, costs and pictures."""
    if seconds is None:
        return None
    return max(seconds - gone_s - min(AFTER_SHARE * seconds, AFTER_S), LEAST_SHARE * seconds)


def write_plan(
    layout: Layout, out: Path, told: Callable[[str], None] = lambda step: None, known: Figures | None = None
) -> Written:
    """Prove a layout, and write it with its report and pictures where it is sound, all of it or nothing.

    What is in the folder of an older layout goes to ``earlier/DATE-TIME`` there.

    Parameters
    ----------
    layout : Layout
    out : Path
    told : callable, optional
        Called with the name of each step as it begins.
    known : dict, optional
        The figures of the layout as it is written, where they are worked out already.

    Returns
    -------
    Written
    """
    from ...report.write import write_reports

    told("checking")
    # proved and costed is what stands in the file
    layout = as_written(layout, out / "layout.json")
    findings = check(layout)
    if findings:
        return Written(layout, findings)
    told("drawing")
    numbers = known or figures(layout)
    with written_anew(out, PLANNED) as new:
        file = new.path / "layout.json"
        write_layout(file, layout, numbers, hasty=True)
        files = (file, *write_reports(layout, new.path, numbers, findings=findings))
    shop.planned(out.parent, layout)
    return Written(layout, findings, numbers, tuple(out / file.relative_to(new.path) for file in files), new.kept)


def write_settled(settled: Settled, out: Path, told: Callable[[str], None] = lambda step: None) -> Written:
    """The same of what a plan that went on from a layout came to: one that stands in its file already is left as it
    is, with all that was made of it."""
    if not settled.stays:
        return write_plan(settled.layout, out, told, settled.figures)
    _right_for_now(out)
    files = tuple(file for pattern in ("layout.json", *DRAWN) for file in sorted(out.glob(pattern)))
    return Written(settled.layout, Findings(), settled.figures, files)


def _right_for_now(out: Path) -> None:
    os.utime(out / "layout.json")


class Stopped(NamedTuple):
    """What became of a run that was stopped, in words, and of what it went on from."""

    words: str
    settled: Settled


def keep_stopped(so_far: SoFar, out: Path, going_on: GoingOn | None = None) -> Stopped | None:
    """Prove and write the best layout of a run that was stopped, without report and pictures, or leave the one at hand
    where that is no better; None where there is nothing to keep."""
    found = so_far.layout()
    if found is None:
        return None
    settled = Settled(found) if going_on is None else going_on.settled(found, quick=True)
    layout = settled.layout
    if settled.stays:
        _right_for_now(out)
        return Stopped(f"stopped; {settled.words}", settled)
    if check(layout):
        return None
    with written_anew(out, PLANNED) as new:
        write_layout(new.path / "layout.json", layout, {}, hasty=True)
    # where leather was cut meanwhile, the book says so when a load of this layout is to be cut
    with contextlib.suppress(FileError):
        shop.planned(out.parent, layout)
    placed = len(layout.placements)
    before = f"; the run before is in {new.kept}" if new.kept else ""
    return Stopped(
        f"stopped; kept the best so far ({placed} of {placed + len(layout.unplaced)} parts) in {out / 'layout.json'}: "
        f"nesting report {out / 'layout.json'} draws it{before}",
        settled,
    )


def check_file(path: Path) -> Checked:
    """Prove a layout from its file alone, its figures and reasons too, and compare it with the job folder around it; of
    a folder the layout in it, tell files beside it that are of another, and prove its files to burn where all are its
    own."""
    from ...costs.again import worked_out_again

    if not path.is_dir():
        out, file = None, path
    else:
        out = path / "out" if (path / "out" / "layout.json").exists() else path
        file = out / "layout.json"
    stated = read_stated(file)
    proved = prove(stated, job_folder(file))
    findings, layout = [*proved.findings], stated.layout
    if not any(finding.what != SEAL for finding in findings):
        if stated.figures and stated.sealed is not None:
            findings = [*worked_out_again(layout, stated.figures), *findings]
        findings = [*untrue_reasons(layout), *findings]
    stale = _stale(out, layout) if out is not None else ()
    if out is not None and not findings and not stale:
        findings = prove_files(layout, out / "cut")
    return Checked(file, Findings(findings), stale, proved.changes)


def _stale(out: Path, layout: Layout) -> tuple[str, ...]:
    stale = []
    for file in (file for pattern in MARKED for file in sorted(out.glob(pattern))):
        found = read_mark(file)
        if found != layout.mark:
            of = f"of layout {found}" if found else "without the mark of a layout"
            again = "report" if file.suffix == ".html" and file.parent == out else "export"
            stale.append(
                f"{file} is {of}, not of {layout.mark}: do not use it; "
                f"run nesting {again} {out / 'layout.json'}, or delete it"
            )
    return tuple(stale)


def write_reports_again(file: Path) -> tuple[Proved, list[Path]]:
    """Write the report and pictures of a layout file again, beside it; what is wrong with the layout heads the page."""
    from ...report.write import write_reports

    stated = read_stated(file)
    proved = prove(stated, job_folder(file))
    folder = Path(os.path.realpath(file.parent))
    if Path.cwd().is_relative_to(folder):
        # whoever stands in the folder would lose it
        return proved, write_reports(stated.layout, file.parent, findings=proved.findings)
    with written_anew(file.parent, DRAWN, keep=False) as new:
        files = write_reports(stated.layout, new.path, findings=proved.findings)
    return proved, [file.parent / path.name for path in files]


def at_prices(layout: Layout, workshop: Workshop, hides: Iterable[Hide]) -> Layout | None:
    """A layout as it would be had it been planned with the prices of now, of the workshop and of the hides that are
    still there; None where they are the same, or in another currency."""
    if workshop.prices.currency != layout.workshop.prices.currency:
        return None
    prices = {hide.id: hide.price for hide in hides}
    priced = tuple(replace(hide, price=prices.get(hide.id, hide.price)) for hide in layout.hides)
    now = replace(layout.workshop, prices=workshop.prices, extras=workshop.extras)
    same = now == layout.workshop and all(one.price == other.price for one, other in zip(priced, layout.hides))
    return None if same else replace(layout, workshop=now, hides=priced)
