"""Trace rendered photos of 12 megapixels whose truth is known: how near, how often refused, how fast, how much memory.

    python tests/benchmarks/photos.py FOLDER [--first 0] [--count 48] [--workers 1]

Every photo is drawn by lot (see ``varied`` in tests/helpers/render.py) and kept in FOLDER, so that a second run only
traces. Each is traced in a process of its own, so that seconds (with what is imported on first use) and memory are its
own; seconds by the clock are only worth something on a machine with nothing else to do, so the processor's are told
too. Some photos cannot be traced well by anything (leather of the floor's colour, a lone sheet of paper under a bent
lens): they ought to be refused. What is refused for doubt is traced again with the limits lifted, to learn whether it
would have been wrong.
"""

from __future__ import annotations

import argparse
import json
import pickle
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "helpers")]

AREA, NEAR_MM, FAR_MM, SECONDS, MEGABYTES = 0.01, 2.0, 6.0, 4.0, 1000.0
"""The bars: share of the area, 95th percentile and greatest distance on a hide of 1.2 m, and what a trace may take."""
QUALITY = 70


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=48)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--step", choices=("render", "trace"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.step == "render":
        return _render(given.folder, given.first)
    if given.step == "trace":
        return _trace(given.folder, given.first)
    given.folder.mkdir(parents=True, exist_ok=True)
    print("photo  what                            area %   p95 mm worst mm  said mm      s   cpu    MB")
    with ThreadPoolExecutor(given.workers) as pool:
        rows = []
        for row in pool.map(lambda seed: _one(given.folder, seed), range(given.first, given.first + given.count)):
            rows.append(row)
            _print(row)
    _summary(rows)


def _one(folder: Path, seed: int) -> dict:
    if not _paths(folder, seed)[1].exists():
        _run(folder, seed, "render")
    return json.loads(_run(folder, seed, "trace").splitlines()[-1])


def _run(folder: Path, seed: int, step: str) -> str:
    command = [sys.executable, __file__, str(folder), "--first", str(seed), "--step", step]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def _paths(folder: Path, seed: int) -> tuple[Path, Path]:
    return folder / f"{seed:04d}.jpg", folder / f"{seed:04d}.truth"


def _render(folder: Path, seed: int) -> None:
    from render import render, varied

    photo, truth = _paths(folder, seed)
    settings = varied(seed)
    scene = render(**settings)
    scene.save(photo, QUALITY)
    truth.write_bytes(pickle.dumps((settings, scene.outline, scene.camera, scene.marks)))


def _trace(folder: Path, seed: int) -> None:
    import resource
    import time

    from nesting.errors import FileError
    from nesting.tracing import TraceLimits, trace

    photo, truth = _paths(folder, seed)
    settings, outline, *_ = pickle.loads(truth.read_bytes())
    sheets = settings["sheets"] if settings["reference"] == "markers" else 1
    row = {
        "seed": seed,
        "what": f"{settings['floor']}, {settings['reference']} x {sheets}",
        "size": settings["hide_mm"],
    }
    reference = settings["reference"] if settings["reference"] == "letter" else "auto"
    started = time.perf_counter()
    try:
        traced = trace(photo, reference=reference, strict=True)
    except FileError as fault:
        traced, row["refused"] = None, f"{fault.place}: {fault.value}"
    row |= {"seconds": time.perf_counter() - started, "cpu": time.process_time()}
    row["megabytes"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if traced is None:
        lifted = TraceLimits(
            least_contrast=0.0,
            astray_share=1.0,
            unsure_share=1.0,
            deepest_mm=1000.0,
            pinched_mm=1000.0,
            unsteady_mm=1000.0,
            error_mm=1000.0,
            area_share=None,
            slit_mm=1000.0,
            blurred_pixels=1000.0,
        )
        with suppress(FileError):
            traced = trace(photo, reference=reference, limits=lifted, strict=True)
    if traced is not None:
        from shapely.geometry import Polygon
        from shapes import distances_mm, lay_upon

        laid = lay_upon(traced.outline, outline)
        away = distances_mm(laid, outline)
        seen, true = ([Polygon(ring) for ring in shape.interiors] for shape in (laid, outline))
        missed = [hole for hole in true if not any(hole.intersects(other) for other in seen)]
        row |= {
            "area": traced.outline.area / outline.area - 1,
            "near": float(np.quantile(away, 0.95)),
            "far": float(away.max()),
            "said": traced.expected_error_mm,
            "false": sum(not any(hole.intersects(other) for other in true) for hole in seen),
            "missed": [round(2 * (hole.area / np.pi) ** 0.5, 1) for hole in missed],
            "holes": len(true),
        }
    print(json.dumps(row))


def _good(row: dict) -> bool:
    # The bars are for a hide of 1.2 m; a smaller one is held to the same mm, and to the share of its area.
    scale = max(1.0, row["size"] / 1200)
    return abs(row["area"]) < AREA and row["near"] < NEAR_MM * scale and row["far"] < FAR_MM * scale


def _print(row: dict) -> None:
    start = f"{row['seed']:5d}  {row['what']:30s}"
    end = f"  {row['seconds']:5.1f} {row['cpu']:5.1f} {row['megabytes']:5.0f}"
    numbers = (
        f"{100 * row['area']:+8.3f} {row['near']:8.2f} {row['far']:8.2f} {row['said']:8.1f}"
        if "area" in row
        else " " * 35
    )
    verdict = ("" if _good(row) else "  WRONG") if "area" in row else ""
    verdict += f"  {row['false']} false holes" if row.get("false") else ""
    verdict += f"  missed holes of {row['missed']} mm" if row.get("missed") else ""
    if "refused" in row:
        verdict = f"  refused: {row['refused'][:60]}" + ("; would be" + verdict if verdict else "")
    print(start + numbers + end + verdict, flush=True)


def _summary(rows: list[dict]) -> None:
    given = [row for row in rows if "refused" not in row]
    doubted = [row for row in rows if "refused" in row and "area" in row]
    wrong, caught = (sum(not _good(row) for row in some) for some in (given, doubted))
    others = len(rows) - len(given) - len(doubted)
    print(f"\n{len(rows)} photos: {len(given)} traced, {len(doubted)} refused for doubt, {others} for other reasons")
    share = caught / max(caught + wrong, 1)
    print(f"wrong answers given: {wrong}; caught by doubt: {caught}, that is {share:.0%} (bar 95 %)")
    if given:
        areas = 100 * np.abs([row["area"] for row in given])
        print(f"area error: median {np.median(areas):.3f} % (bar 0.3), worst {areas.max():.2f} % (bar 1)")
        print(f"95 % of the outline: worst {max(row['near'] for row in given):.2f} mm (bar {NEAR_MM:g} on 1.2 m)")
        print(f"greatest distance: worst {max(row['far'] for row in given):.2f} mm (bar {FAR_MM:g} on 1.2 m)")
        missed = [size for row in given for size in row["missed"]]
        holes, false = (sum(row[name] for row in given) for name in ("holes", "false"))
        print(f"holes: {holes}, missed {len(missed)}, the largest of {max(missed, default=0):g} mm; false ones {false}")
        kept = np.mean([row["near"] < row["said"] for row in given])
        print(f"95 % of the outline nearer than the expected error: {kept:.0%} of the traces")
    for name, bar, what in (
        ("seconds", f" (bar {SECONDS:g})", "seconds"),
        ("cpu", "", "of the processor"),
        ("megabytes", f" (bar {MEGABYTES:g})", "peak MB"),
    ):
        values = [row[name] for row in rows]
        print(f"{what}: median {np.median(values):.1f}, worst {max(values):.1f}{bar}")


if __name__ == "__main__":
    main()
