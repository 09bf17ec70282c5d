"""Trace rendered photos of 12 megapixels whose truth is known: how near, how often refused, how fast, how much memory.

    python tests/benchmarks/photos.py FOLDER [--first 0] [--count 48] [--workers 1]

Every photo is drawn by lot (see ``varied`` in tests/trace/render.py) and kept in FOLDER, so that a second run only
traces. Each is traced in a process of its own, so that seconds (with what is imported on first use) and memory are its
own. With one worker the times are those of a machine with nothing else to do. Some photos cannot be traced well by
anything (leather of the floor's colour, a lone sheet of paper under a bent lens): they ought to be refused.
"""

from __future__ import annotations

import argparse
import json
import pickle
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "trace")]

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
    print("photo  what                                    area %   p95 mm  worst mm  said mm    s    MB")
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

    from nesting.files.errors import FileError
    from nesting.trace import trace_photo

    photo, truth = _paths(folder, seed)
    settings, outline, *_ = pickle.loads(truth.read_bytes())
    row = {"seed": seed, "what": f"{settings['floor']}, {settings['reference']} x {settings['sheets']}"}
    started = time.perf_counter()
    reference = settings["reference"] if settings["reference"] == "letter" else "auto"
    try:
        trace = trace_photo(photo, reference=reference)
    except FileError as fault:
        trace, row["refused"] = None, f"{fault.place}: {fault.value}"
    row["seconds"] = time.perf_counter() - started
    row["megabytes"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if trace is not None:
        from shapes import distances_mm, lay_upon

        away = distances_mm(lay_upon(trace.outline, outline), outline)
        row |= {
            "area": trace.outline.area / outline.area - 1, "near": float(np.quantile(away, 0.95)), "far": float(away.max()),
            "said": trace.expected_error_mm, "size": settings["hide_mm"],
        }  # fmt: skip
    print(json.dumps(row))


def _good(row: dict) -> bool:
    # The bars are for a hide of 1.2 m; a smaller one is held to the same mm, and to the share of its area.
    scale = max(1.0, row["size"] / 1200)
    return abs(row["area"]) < AREA and row["near"] < NEAR_MM * scale and row["far"] < FAR_MM * scale


def _print(row: dict) -> None:
    start = f"{row['seed']:5d}  {row['what']:38s}"
    end = f"{row['seconds']:5.1f} {row['megabytes']:5.0f}"
    if "area" in row:
        middle = f"{100 * row['area']:+7.3f} {row['near']:8.2f} {row['far']:8.2f} {row['said']:8.1f}  "
        print(start + middle + end + ("" if _good(row) else "  WRONG"), flush=True)
    else:
        print(f"{start}refused: {row['refused'][:60]:60s}" + end, flush=True)


def _summary(rows: list[dict]) -> None:
    traced = [row for row in rows if "area" in row]
    print(f"\n{len(rows)} photos, {len(rows) - len(traced)} refused, {sum(not _good(row) for row in traced)} wrong")
    if traced:
        areas = 100 * np.abs([row["area"] for row in traced])
        print(f"area error: median {np.median(areas):.3f} % (bar 0.3), worst {areas.max():.2f} % (bar 1)")
        print(f"95 % of the outline: worst {max(row['near'] for row in traced):.2f} mm (bar {NEAR_MM:g} on 1.2 m)")
        print(f"greatest distance: worst {max(row['far'] for row in traced):.2f} mm (bar {FAR_MM:g} on 1.2 m)")
        held = np.mean([row["near"] < row["said"] for row in traced])
        print(f"95 % of the outline nearer than the expected error: {100 * held:.0f} % of the traces")
    print(f"seconds: median {np.median([row['seconds'] for row in rows]):.1f}, worst {max(row['seconds'] for row in rows):.1f} (bar {SECONDS:g})")
    print(f"peak memory: worst {max(row['megabytes'] for row in rows):.0f} MB (bar {MEGABYTES:.0f})")


if __name__ == "__main__":
    main()
