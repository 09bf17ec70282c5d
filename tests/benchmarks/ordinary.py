"""Trace rendered photos of the ordinary kind, nothing answered: how many give a hide, whether the stated error holds,
how much is kept out by doubt, and whether leather that parts may lie on is leather.

    python tests/benchmarks/ordinary.py FOLDER [--first 0] [--count 60] [--parts] [--by studio] [--kind 'one A4']

Every photo is drawn by lot (see ``ordinary`` in tests/helpers/render.py, or, with ``--by studio``, tests/helpers/
studio.py, another renderer that shares nothing with the first) and kept in FOLDER. With ``--parts`` as many tags as
find room are planned on each traced hide, and it is told how many reach outside the true hide, or into a true hole.
What was measured is kept in FOLDER too, line by line: a run that was ended goes on where it was, and ``--anew`` forgets
it, as is needed when the code has changed.
"""

from __future__ import annotations

import argparse
import json
import pickle
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "helpers")]

EDGE_MM, QUALITY, NARROW_MM, PLAN_SECONDS = 3.0, 75, 3.0, 4.0
"""Edge margin of the workshop; of the JPEG; holes and slits narrower than this are not held against a part;
and how long a plan is searched."""
KINDS = ("one A4", "two A4", "markers")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--parts", action="store_true")
    parser.add_argument("--by", choices=("render", "studio"), default="render")
    parser.add_argument("--kind", choices=KINDS)
    parser.add_argument("--anew", action="store_true")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    log = given.folder / f"{given.by}-{'planned' if given.parts else 'traced'}.jsonl"
    if given.anew:
        log.unlink(missing_ok=True)
    known = [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []
    done = {row["seed"]: row for row in known}
    rows = []
    for seed in range(given.first, given.first + given.count):
        if given.kind not in (None, KINDS[seed % 3]):
            continue
        if seed not in done:
            done[seed] = _one(given.folder, seed, given.parts, given.by)
            with log.open("a") as file:
                file.write(json.dumps(done[seed]) + "\n")
        rows.append(done[seed])
        print(_words(rows[-1]), flush=True)
    _summary(rows)


def _photo(folder: Path, seed: int, by: str = "render") -> tuple[Path, Polygon, dict]:
    from render import ordinary, render

    name = f"{seed:04d}" if by == "render" else f"{by}-{seed:04d}"
    photo, truth = folder / f"{name}.jpg", folder / f"{name}.truth"
    if not truth.exists() and by == "studio":
        from studio import photograph

        settings, outline = photograph(seed, photo)
        truth.write_bytes(pickle.dumps((settings, outline)))
    elif not truth.exists():
        settings = ordinary(seed)
        scene = render(**settings)
        # half of them without what the camera notes
        scene.save(photo, QUALITY, settings["focal"] if seed // 3 % 2 else None)
        truth.write_bytes(pickle.dumps((settings, scene.outline, scene.camera, scene.reference_mm)))
    settings, outline, *_ = pickle.loads(truth.read_bytes())
    return photo, outline, settings


def _one(folder: Path, seed: int, parts: bool, by: str) -> dict:
    from shapes import distances_mm, lay_upon

    from nesting.errors import FileError
    from nesting.leather.regions import clear_of_edge, cost_of_doubt
    from nesting.model import Hide
    from nesting.tracing import trace

    photo, truth, settings = _photo(folder, seed, by)
    row = {"seed": seed, "kind": KINDS[seed % 3], "size": settings["hide_mm"]}
    start = time.perf_counter()
    try:
        traced = trace(photo)
    except FileError as fault:
        return row | {"refused": f"{fault.place}: {fault.value}", "seconds": time.perf_counter() - start}
    row["seconds"] = time.perf_counter() - start
    laid = lay_upon(traced.outline, truth)
    away = distances_mm(laid, truth)
    along = shapely.get_coordinates(_motion(laid, traced.outline)(shapely.segmentize(laid.exterior, 2.0)))
    hide = Hide("h", traced.outline, error=traced.error, doubts=traced.doubts)
    cost = cost_of_doubt(hide, 0.0)
    to_truth = _motion(traced.outline, laid)
    open_truth = truth.buffer(NARROW_MM / 2).buffer(-NARROW_MM / 2)
    loose = to_truth(clear_of_edge(hide, EDGE_MM)).difference(open_truth)
    row |= {
        "near": float(np.quantile(away, 0.95)),
        "far": float(away.max()),
        "said": traced.expected_error_mm,
        "places": float(np.mean(away[: len(along)] <= traced.error.at(along))),
        "area": traced.outline.area / truth.area - 1,
        "error_share": cost.error_mm2 / truth.area,
        "doubt_share": sum(cost.doubts_mm2.values()) / truth.area,
        "doubts": len(traced.doubts),
        "loose": loose.area,
        "wide": 2 * shapely.maximum_inscribed_circle(loose).length if loose.area else 0.0,
        "where": [round(at) for at in loose.representative_point().coords[0]] if loose.area else None,
    }
    return row | (_planned(hide, open_truth, to_truth) if parts else {})


def _motion(before: Polygon, after: Polygon):
    """What turns and moves one outline onto the other."""
    from shapes import turned

    a, b = (np.asarray(one.exterior.coords) for one in (before, after))
    along, onto = (one[len(one) // 2] - one[0] for one in (a, b))
    turn = np.arctan2(along[0] * onto[1] - along[1] * onto[0], along @ onto)
    return lambda shape: shapely.transform(shape, lambda at: turned(at - a[0], turn) + b[0])


def _planned(hide, truth: Polygon, to_truth) -> dict:
    """How many tags were planned on a hide, and how many of them leave the true one."""
    from dataclasses import replace

    from nesting.engine.stop import Stop
    from nesting.model import Job, Machine, Margins, OrderLine, Part, Product, Setting, Workshop
    from nesting.planning.plan import plan

    setting = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)
    margins = Margins(kerf_mm=0.2, gap_mm=1.0, edge_mm=EDGE_MM, flaw_mm=1.0)
    workshop = Workshop(Machine("laser", 3000, 3000, 40), (setting,), margins, thickness_spread_mm=0.1)
    tag = Part("tag", Polygon([(0, 0), (90, 0), (90, 50), (45, 60), (0, 50)]))
    hide = replace(hide, nominal_mm=1.5, tannage="vegetable")
    many = max(1, int(0.75 * hide.outline.area / tag.outline.area))
    job = Job(workshop, (Product("tag", (tag,)),), (hide,), (OrderLine("A", "tag", many, None),))
    layout = plan(job, Stop(seconds=PLAN_SECONDS))
    out = [to_truth(one.outline).difference(truth).area for one in layout.placements]
    return {"parts": len(out), "outside": sum(area > 0 for area in out), "worst": max(out, default=0.0)}


def _words(row: dict) -> str:
    start = f"{row['seed']:5d} {row['kind']:8s} {row['size']:5.0f} mm {row['seconds']:5.1f} s"
    if "refused" in row:
        return f"{start}  refused: {row['refused']}"
    return (
        f"{start}  95 % within {row['near']:5.2f}, worst {row['far']:5.1f}, said {row['said']:5.2f} mm,"
        f" {row['places']:.0%} of places as stated;"
        f" area {100 * row['area']:+.2f} %; kept out {100 * row['error_share']:.1f} + {100 * row['doubt_share']:.1f} %,"
        f" {row['doubts']} doubts; loose {row['loose']:.1f} mm2, {row['wide']:.1f} wide {row['where'] or ''}"
        + (f"; {row['outside']} of {row['parts']} parts outside, {row['worst']:.2f} mm2" if "parts" in row else "")
    )


def _summary(rows: list[dict]) -> None:
    for kind in (*KINDS, "all"):
        some = [row for row in rows if kind in (row["kind"], "all")]
        given = [row for row in some if "near" in row]
        if not given:
            continue
        held = np.mean([row["near"] <= row["said"] for row in given])
        times = np.median([row["said"] / row["near"] for row in given])
        kept = np.median([row["error_share"] + row["doubt_share"] for row in given])
        loose = sum(row["wide"] > 0.1 for row in given)
        print(
            f"{kind}: {len(given)} of {len(some)} give a hide; stated error holds in {held:.0%}, median"
            f" {times:.1f} times too large, at {np.mean([row['places'] for row in given]):.0%} of places; kept out,"
            f" median {100 * kept:.1f} %; doubts, median {np.median([row['doubts'] for row in given]):.0f};"
            f" leather that is none in {loose}; seconds, median {np.median([row['seconds'] for row in some]):.1f}"
        )
    parts = [row for row in rows if "parts" in row]
    if parts:
        print(f"parts: {sum(row['outside'] for row in parts)} of {sum(row['parts'] for row in parts)} outside")


if __name__ == "__main__":
    main()
