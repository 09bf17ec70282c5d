"""What the bed costs in leather: the same orders planned with its limit and without, proved, and set side by side.

    python tests/benchmarks/panels.py --demo data [--bed 600x400] [--seconds 60] [--workers 2]
    python tests/benchmarks/panels.py --hides FOLDER --name shoes [--bed 600x400] [--seconds 60] [--workers 2]

Hides are instances as in hides.py. Both plans get the same time. Yields are the parts' share of the leather consumed
(hide less offcuts) and of the hides that are cut.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path

from hides import convert

from nesting.costs.choices import with_bed
from nesting.costs.figures import figures
from nesting.costs.limits import DEFAULT
from nesting.engine import Stop, warm_up
from nesting.files.job import read_job
from nesting.files.layout import write_layout
from nesting.model import Job
from nesting.planning.plan import plan
from nesting.referee.rules import check


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--demo", type=Path, help="a job folder")
    parser.add_argument("--hides", type=Path, help="a folder of instances")
    parser.add_argument("--name", default="shoes", help="which of the instances")
    parser.add_argument("--bed", default="600x400", help="usable bed, mm")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument(
        "--to", type=Path, default=Path(tempfile.mkdtemp(prefix="panels-")), help="where the layouts go"
    )
    options = parser.parse_args()
    warm_up()
    bed = tuple(float(side) for side in options.bed.split("x"))
    jobs = {"demo": options.demo} if options.demo else {}
    if options.hides:
        jobs[options.name] = convert(
            json.loads((options.hides / f"{options.name}.json").read_text()), options.to / options.name
        )
    print(
        f"{'job':<8}{'bed':>12}{'placed':>12}{'of hides':>10}{'of consumed':>13}{'panels':>8}{'lines':>7}"
        f"{'seconds':>9}  referee"
    )
    for name, folder in jobs.items():
        job = read_job(folder)
        free, bound = (
            measure(name, with_bed(job, *size), options) for size in ((DEFAULT.no_bed_mm, DEFAULT.no_bed_mm), bed)
        )
        lost = {key: 100 * (free[key] - bound[key]) for key in ("yield_of_hide", "yield_of_consumed")}
        print(
            f"{name}: the bed costs {lost['yield_of_hide']:.1f} points of the hides and "
            f"{lost['yield_of_consumed']:.1f} of the leather consumed"
        )


def measure(name: str, job: Job, options) -> dict:
    """Plan a job, prove the layout, print a line of figures and give the totals."""
    layout = plan(job, Stop(seconds=options.seconds), options.seed, workers=options.workers)
    numbers, faults = figures(layout), check(layout)
    total, machine = numbers["total"], job.workshop.machine
    placed = f"{len(layout.placements)}/{total['wanted']}"
    bed = "none" if machine.bed_width_mm >= DEFAULT.no_bed_mm else f"{machine.bed_width_mm:g}x{machine.bed_height_mm:g}"
    write_layout(options.to / f"{name}-{bed}.json", layout, numbers)
    print(
        f"{name:<8}{bed:>12}{placed:>12}{total['yield_of_hide']:>10.2%}"
        f"{total['yield_of_consumed']:>13.2%}{len(layout.panels):>8}{len(layout.cuts):>7}{layout.seconds:>9.0f}  "
        + ("sound" if not faults else f"{len(faults)} faults: {faults[0]}"),
        flush=True,
    )
    return total


if __name__ == "__main__":
    main()
