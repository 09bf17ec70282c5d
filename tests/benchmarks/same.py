"""Tell whether a change left every layout and trace bit for bit as it was: run it before and after, and compare.

    python tests/benchmarks/same.py --benchmarks FOLDER --photos FOLDER > before.txt

The demo is planned with iterations, as is ``shoes`` on a bed of 600 x 400 mm; two strips are packed; ten photos are
traced. Photos are drawn by lot and kept in their folder, so that a second run only traces. A line says what was done, a
hash of the answer, and figures to read. Parts of it may be named: demo, shoes, strips, photos.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "helpers")]

from hides import convert
from render import render, varied
from strips import strip_problem

import nesting
from nesting.app.demo import demo_folder
from nesting.costs.choices import with_bed
from nesting.engine import Stop, solve, warm_up
from nesting.errors import FileError
from nesting.tracing import suggest_flaws

DEMO = ((0, 30, 1), (1, 60, 1), (0, 40, 2))
"""Seed, iterations and workers of each plan."""
SHOES = ((0, 60, 1), (0, 60, 2))
STRIPS, STRIP_ITERATIONS = ("albano", "shirts"), 40
FIRST_PHOTO, PHOTOS, QUALITY = 5000, 10, 70


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("parts", nargs="*", help="demo, shoes, strips, photos; all by default")
    parser.add_argument("--benchmarks", type=Path, help="holds hides/ and strips/, for shoes and strips")
    parser.add_argument("--photos", type=Path, help="where photos are kept")
    options = parser.parse_args()
    warm_up()
    works = {"demo": _demo, "shoes": _shoes, "strips": _strips, "photos": _photos}
    for part in options.parts or works:
        for row in works[part](options):
            print(part, *row, flush=True)


def _demo(_options) -> Iterator[tuple]:
    job = nesting.read_job(demo_folder())
    for seed, iterations, workers in DEMO:
        yield seed, iterations, workers, *_planned(job, seed, iterations, workers)


def _shoes(options) -> Iterator[tuple]:
    instance = json.loads((options.benchmarks / "hides" / "shoes.json").read_text())
    with tempfile.TemporaryDirectory() as folder:
        job = with_bed(nesting.read_job(convert(instance, Path(folder) / "shoes")), 600, 400)
    for seed, iterations, workers in SHOES:
        yield seed, iterations, workers, *_planned(job, seed, iterations, workers)


def _planned(job, seed: int, iterations: int, workers: int) -> tuple:
    layout = nesting.plan(job, Stop(iterations=iterations), seed, workers=workers)
    rows = [
        (*placement.key, placement.hide, placement.panel, placement.setting, placement.outline.wkb_hex)
        for placement in layout.placements
    ]
    panels = [(panel.id, panel.hide, panel.polygon.wkb_hex) for panel in layout.panels]
    left = [(unplaced.order, unplaced.part, unplaced.piece, unplaced.copy) for unplaced in layout.unplaced]
    cuts = [(cut.hide, *map(float, (*cut.start, *cut.end))) for cut in layout.cuts]
    return _hash((rows, panels, left, cuts, layout.iterations)), len(rows), len(panels)


def _strips(options) -> Iterator[tuple]:
    for name in STRIPS:
        problem, _, _ = strip_problem(json.loads((options.benchmarks / "strips" / f"{name}.json").read_text()))
        for workers in (1, 2):
            found = solve(problem, Stop(iterations=STRIP_ITERATIONS), 1, workers=workers)
            poses = [(pose.container, pose.x, pose.y, pose.angle_deg) for pose in found.poses if pose]
            yield name, workers, _hash([tuple(map(float, pose)) for pose in poses]), f"{found.consumed_mm2:.1f}"


def _photos(options) -> Iterator[tuple]:
    options.photos.mkdir(parents=True, exist_ok=True)
    for seed in range(FIRST_PHOTO, FIRST_PHOTO + PHOTOS):
        photo, settings = options.photos / f"{seed}.jpg", varied(seed)
        if not photo.exists():
            render(**settings).save(photo, QUALITY)
        reference = settings["reference"] if settings["reference"] == "letter" else "auto"
        try:
            yield seed, *_traced(photo, reference)
        except FileError as refusal:
            outline = getattr(refusal, "outline", None)
            yield seed, _hash((refusal.place, str(refusal.value), outline and outline.wkb_hex)), "refused"


def _traced(photo: Path, reference: str) -> tuple:
    trace = nesting.trace(photo, reference=reference)
    flaws = suggest_flaws(trace.straight, trace.outline, trace.to_pixels, trace.mm_per_pixel, trace.marks)
    shapes = [shape.wkb_hex for shape in (trace.outline, *trace.references_mm, *trace.marks, *trace.unsure)]
    found = [(flaw.polygon.wkb_hex, flaw.grade, flaw.kind, float(flaw.confidence)) for flaw in flaws]
    numbers = tuple(map(float, (trace.expected_error_mm, trace.mm_per_pixel)))
    return _hash((shapes, found, numbers, trace.straight.tobytes())), f"{trace.expected_error_mm:.2f} mm"


def _hash(value: object) -> str:
    return hashlib.sha256(repr(value).encode()).hexdigest()[:20]


if __name__ == "__main__":
    main()
