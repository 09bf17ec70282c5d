"""Jobs with outlines of many points: how long each command takes, and how soon it ends when it is asked to.

    python tests/benchmarks/fine.py FOLDER [--name coaster-4000] [--seconds 1] [--stops 4] [--limit 120]

FOLDER is where the jobs are made, on the workshop of the demo. A row says what a command took beside the seconds of its
search, its memory, and how it ended; with --stops each command is also sent SIGINT at so many moments spread over its
time, and the slowest end is told.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
ORDERS = "order,product,quantity,due,priority,thread,note\n"
COMMANDS = ("look", "plan", "check", "export")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--name", action="append", help="only this job (may be given again)")
    parser.add_argument("--seconds", type=float, default=1.0, help="of the search of a plan")
    parser.add_argument("--stops", type=int, default=0, help="moments at which each command is sent SIGINT")
    parser.add_argument("--limit", type=float, default=120.0, help="seconds after which a command is given up")
    options = parser.parse_args()
    print(f"{'job':<18}{'command':<9}{'s':>7}{'MB':>7}{'status':>8}{'slowest stop s':>16}", flush=True)
    for name, make in JOBS.items():
        if options.name and name not in options.name:
            continue
        folder = options.folder / name
        shutil.rmtree(folder, ignore_errors=True)
        make(folder)
        for command in COMMANDS:
            words = _words(command, folder, options.seconds)
            took, memory, status = run(words, options.limit)
            searched = options.seconds if command == "plan" else 0.0
            stops = [stop(words, took * (n + 0.5) / options.stops) for n in range(options.stops)]
            slowest = f"{max(stops):>16.1f}" if stops else ""
            print(f"{name:<18}{command:<9}{took - searched:>7.1f}{memory:>7.0f}{status:>8}{slowest}", flush=True)
            if stops and command in ("plan", "export"):
                run(words, options.limit)
            if status not in ("0", "1"):
                break


def _words(command: str, folder: Path, seconds: float) -> list[str]:
    layout = folder / "out" / "layout.json"
    rest = {
        "look": [str(folder)],
        "plan": [str(folder), "--seconds", f"{seconds:g}", "--workers", "1"],
        "check": [str(layout)],
        "export": [str(layout)],
    }[command]
    return [sys.executable, "-m", "nesting", command, *rest]


def _start(words: list[str]) -> subprocess.Popen:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)


def run(words: list[str], limit: float) -> tuple[float, float, str]:
    """Seconds, peak memory in MB and status of a command; it is killed at the limit."""
    began, process, memory = time.monotonic(), _start(words), 0.0
    while process.poll() is None:
        memory = max(memory, _peak_mb(process.pid))
        if time.monotonic() - began > limit:
            process.kill()
            process.communicate()
            return time.monotonic() - began, memory, "given up"
        time.sleep(0.02)
    _, said = process.communicate()
    if process.returncode:
        print(*said.strip().splitlines()[-2:], sep="\n")
    return time.monotonic() - began, memory, str(process.returncode)


def stop(words: list[str], after: float) -> float:
    """Seconds from SIGINT, sent so long after its start, to the end of a command; 0 when it had ended before."""
    process = _start(words)
    time.sleep(after)
    if process.poll() is not None:
        return 0.0
    began = time.monotonic()
    process.send_signal(signal.SIGINT)
    try:
        process.communicate(timeout=30)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
    return time.monotonic() - began


def _peak_mb(pid: int) -> float:
    try:
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


def coaster(points: int, waves: int = 24, radius: float = 50.0) -> np.ndarray:
    """A round thing with a scalloped edge, its points a few microns off as those of a drawing are."""
    turn = np.linspace(0, 2 * math.pi, points, endpoint=False)
    noise = np.random.default_rng(points).uniform(-0.003, 0.003, points)
    reach = radius + 0.02 * radius * np.sin(waves * turn) + noise * min(1.0, 4000 / points)
    return np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None] + 1.1 * radius


def hide_outline(points: int, zigzag: float = 0.0, size: tuple[float, float] = (1100.0, 760.0)) -> np.ndarray:
    """The edge of a hide, wavy, and of teeth so many mm long."""
    turn = np.linspace(0, 2 * math.pi, points, endpoint=False)
    reach = 0.5 + 0.03 * np.sin(5 * turn) + 0.01 * np.sin(23 * turn)
    edge = np.column_stack([size[0] * np.cos(turn), size[1] * np.sin(turn)]) * reach[:, None]
    teeth = zigzag * (np.arange(points) % 2)
    return edge * (1 - teeth / np.hypot(*edge.T))[:, None] + np.array(size) / 2


def job(folder: Path, parts: list[np.ndarray], hide: np.ndarray, pieces: int) -> None:
    """A job folder of one product of these parts, for one hide."""
    (folder / "patterns").mkdir(parents=True)
    (folder / "hides").mkdir()
    shutil.copy(ROOT / "data" / "workshop.toml", folder / "workshop.toml")
    rows = ['[[product]]\nname = "set"\npattern = "patterns/set.svg"\n']
    groups = []
    for number, part in enumerate(parts):
        rows.append(f'[[product.part]]\nname = "part-{number}"\ngrade = "C"\n')
        path = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in part) + "Z"
        groups.append(f'<g id="part-{number}"><path id="outline-{number}" d="{path}"/></g>')
    (folder / "products.toml").write_text("\n".join(rows))
    size = max(float(part.max()) for part in parts) + 10
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" viewBox="0 0 {size} {size}">'
    (folder / "patterns" / "set.svg").write_text(head + "".join(groups) + "</svg>")
    (folder / "orders.csv").write_text(ORDERS + f"1,set,{pieces},2026-12-01,1,,\n")
    data = {
        "format": "nesting-hide",
        "version": 1,
        "id": "fine",
        "outline": np.round(hide, 4).tolist(),
        "nominal_mm": 1.5,
        "tannage": "vegetable",
        "price": "60 EUR",
        "zones": [{"grade": "D", "kind": "scar", "polygon": (coaster(200) + 300).tolist()}],
    }
    (folder / "hides" / "fine.json").write_text(json.dumps(data))


JOBS = {
    "coaster-1000": lambda folder: job(folder, [coaster(1000)], hide_outline(300), 20),
    "coaster-4000": lambda folder: job(folder, [coaster(4000)], hide_outline(300), 20),
    "coaster-20000": lambda folder: job(folder, [coaster(20_000)], hide_outline(300), 20),
    "zigzag-100000": lambda folder: job(folder, [coaster(100)], hide_outline(100_000, 2.0), 20),
    "parts-and-hide": lambda folder: job(
        folder,
        [coaster(20_000, 5 + n, 30 + 4 * n) for n in range(10)],
        hide_outline(199_000),
        2,
    ),
}
"""How each job folder is made."""


if __name__ == "__main__":
    main()
