"""Action that compares ways to cut the same orders: hides, settings, beds, gaps, drawings; and what they would save."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from ...atomic import write_text
from ...book.book import Book
from ...costs.choices import (
    Choice,
    Choices,
    compare,
    compare_bed,
    compare_settings,
    compare_ways,
    why,
    why_bed,
    why_settings,
    with_bed,
    with_gap,
)
from ...costs.yearly import WEEKS_A_YEAR, Rate, saved_a_year, why_ways
from ...engine import Stop
from ...errors import FileError
from ...files.layout import write_layout
from ...files.products import read_products
from ...model import MM2_PER_DM2, Job, Layout
from ...planning.prepare import Prepared
from ...workers import Cluster
from ..earlier import earlier_plan
from .hands import COMPARED, kept_of


@dataclass(frozen=True)
class Against:
    """What is compared: ``hides`` (each alone, all together, sets that could be better, and the plan at hand),
    ``settings`` (up to one, two and three a hide), or the job as it is with others: of a ``bed`` (by width and height,
    mm; without any, one that has no end), of other ``gaps`` (mm), or with ``patterns`` changed (one of the
    folder, and the drawing in its place, each a way by itself)."""

    by: str = "hides"
    beds: tuple[tuple[float, float], ...] = ()
    gaps: tuple[float, ...] = ()
    patterns: tuple[tuple[Path, Path], ...] = ()


HIDES = Against()
"""The question asked most: which hides to cut."""


@dataclass(frozen=True)
class Compared:
    """Ways to cut the same orders, what each would save a year against the ``base`` (None where it cannot be told),
    what follows in words, and the files written where there are any: the picture first, then lists."""

    choices: Choices
    saved: tuple[Decimal | None, ...]
    rate: Rate
    why: str
    files: tuple[Path, ...] = ()
    base: Choice | None = None

    def year(self, number: int) -> str:
        """What a way would save a year, in words: an amount, or how many pieces fewer it makes."""
        saved, choice = self.saved[number], self.choices[number]
        if saved is not None:
            return f"{saved:+}" if saved else "0"
        fewer = 0 if self.base is None else self.base.whole - choice.whole
        return f"{fewer} fewer" if fewer > 0 else "-"

    @property
    def picture(self) -> Path | None:
        """Its picture, PNG."""
        return self.files[0] if self.files else None


def compare_folder(
    prepared: Prepared,
    folder: Path,
    stop: Stop,
    seed: int = 0,
    against: Against = HIDES,
    workers: int | Cluster | None = None,
    progress: Callable[[str], None] | None = None,
) -> Compared:
    """Plan the orders of a job folder in several ways, set them side by side, and write picture and lists of them.

    Parameters
    ----------
    prepared : Prepared
    folder : Path
    stop : Stop
        The seconds are for all of it.
    seed : int
    against : Against, optional
    workers : int or Cluster, optional
    progress : callable, optional
        Called with the name of each plan as it begins.

    Returns
    -------
    Compared

    Raises
    ------
    FileError
        When a drawing cannot take the place of another.
    """
    job, rate, by = prepared.job, rate_of(folder, prepared.job), against.by
    told_first: list[str] = []
    how: dict[str, Any] = {"workers": workers, "progress": progress}
    if by == "hides":
        planned, kept = earlier_plan(folder, job), kept_of(prepared, folder)
        choices = compare(job, stop, seed, planned=planned, prepared=prepared, kept=kept, **how)
    elif by == "settings":
        choices = compare_settings(job, stop, seed, kept=kept_of(prepared, folder), **how)
    elif by == "bed" and not against.beds:
        choices = compare_bed(job, stop, seed, **how)
    else:
        others = _others(folder, job, against)
        same = [name for name, other in others if by == "patterns" and _cut_alike(job, other)]
        told_first += [f"{name}: nothing that is cut has changed, so there is nothing to compare." for name in same]
        ways = [(_as_it_is(job, by), job), *(way for way in others if way[0] not in same)]
        if same and len(ways) == 1:
            return Compared(Choices(), (), rate, " ".join(told_first))
        choices = compare_ways(ways, stop, seed, shared=by != "patterns", **how)
    base = next((choice for choice in choices if choice.planned), None) if by == "hides" else next(iter(choices), None)
    saved = tuple(None if base is None else saved_a_year(choice, base, rate) for choice in choices)
    reasons = {"hides": why, "settings": why_settings, "bed": why_bed}
    told = why_ways(choices, rate) if by not in reasons or against.beds else reasons[by](choices)
    if by != "hides" and choices:
        told = " ".join(filter(None, (*told_first, told, _short_search(earlier_plan(folder, job), choices[0]))))
    done = Compared(choices, saved, rate, told, base=base)
    return replace(done, files=_written(done, folder / "out", by)) if choices else done


def _cut_alike(job: Job, other: Job) -> bool:
    """Whether two jobs cut the same lines and ask the same of leather, whatever is engraved."""

    def cut(of: Job) -> list[Any]:
        blank: dict[str, Any] = {"engrave": (), "engrave_how": (), "folds": (), "curves": None}
        return [
            (product.name, sorted((replace(part, **blank) for part in product.parts), key=lambda part: part.name))
            for product in of.products
        ]

    return cut(job) == cut(other)


def _short_search(planned: Layout | None, first: Choice) -> str:
    """What to know where the plan at hand makes more pieces than the search found for the job as it is."""
    whole = 0 if planned is None else sum(piece.whole for piece in planned.pieces() if not piece.filler)
    if whole <= first.whole:
        return ""
    return (
        f"The plan at hand makes {whole} of {first.wanted}: here every way, {first.name} too, is searched anew in the "
        "same short time, so that they can be set side by side with each other, not with the plan at hand."
    )


def rate_of(folder: Path, job: Job) -> Rate:
    """How many pieces are ordered a week: by the stock book where there is one with orders, else by the job's list."""
    fillers = {product.name for product in job.products if product.filler}
    if Book.there(folder):
        pieces, weeks = Book(folder).rates()
        if pieces:
            return Rate({name: count for name, count in pieces.items() if name not in fillers}, weeks)
    sums: dict[str, Fraction] = {}
    for line in job.orders:
        if line.product not in fillers:
            sums[line.product] = sums.get(line.product, Fraction(0)) + line.quantity
    return Rate(sums)


def _as_it_is(job: Job, by: str) -> str:
    if by == "bed":
        return f"bed {job.workshop.machine.usable_words}"
    return f"gap {job.workshop.margins.gap_mm:g} mm" if by == "gaps" else "as drawn now"


def _others(folder: Path, job: Job, against: Against) -> list[tuple[str, Job]]:
    """The jobs that the one at hand is held against."""
    if against.by == "bed":
        beds = [with_bed(job, *sides) for sides in against.beds]
        return [(f"bed {other.workshop.machine.usable_words}", other) for other in beds]
    if against.by == "gaps":
        return [(f"gap {gap:g} mm", with_gap(job, gap)) for gap in against.gaps]
    found = []
    for old, new in against.patterns:
        if not new.is_file():
            raise FileError(new, "file", "not found", "give a drawing (SVG) in place of the one in the folder")
        here = folder / "patterns" / old.name
        products = read_products(folder / "products.toml", job.workshop, (old if old.is_file() else here, new))
        found.append((f"{old.name} as {new.name}", replace(job, products=products)))
    return found


def _written(done: Compared, out: Path, by: str) -> tuple[Path, ...]:
    from ...report.drawing import draw_compare, save

    # whether more settings, a larger bed or another drawing is worth it is for the maker to say
    best = done.choices[0] if by == "hides" else None
    name = "compare" if by == "hides" else f"compare-{by}"
    if best is not None:
        write_layout(out / COMPARED, best.layout, best.figures)
    picture = save(draw_compare(done.choices, best, done.saved), out / name)[0]
    rows = [_row(choice, saved) for choice, saved in zip(done.choices, done.saved)]
    stream = io.StringIO()
    lines = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
    lines.writeheader()
    lines.writerows(row | {"hides": " + ".join(row["hides"])} for row in rows)
    data = {
        "format": "nesting-comparison",
        "version": 1,
        "by": by,
        "currency": done.choices[0].layout.workshop.prices.currency,
        "why": done.why,
        "rate": str(done.rate),
        "pieces_a_year": {name: float(WEEKS_A_YEAR * count) for name, count in sorted(done.rate.pieces.items())},
        "ways": rows,
    }
    files = (out / f"compare-{by}.csv", out / f"compare-{by}.json")
    for file, text in zip(files, (stream.getvalue(), json.dumps(data, indent=1, ensure_ascii=False) + "\n")):
        write_text(file, text)
    return (picture, *files)


def _row(choice: Choice, saved: Decimal | None) -> dict[str, Any]:
    total = choice.figures["total"]
    return {
        "way": choice.name,
        "hides": list(choice.hides),
        "pieces_whole": choice.whole,
        "pieces_wanted": choice.wanted,
        "cost": str(choice.cost),
        "used_dm2": round(total["consumed_mm2"] / MM2_PER_DM2, 3),
        "yield_of_hide": round(total["yield_of_hide"], 5),
        "yield_of_used": round(total["yield_of_consumed"], 5),
        "panels": len(choice.layout.panels),
        "changeovers": choice.changeovers,
        "saved_a_year": None if saved is None else str(saved),
    }
