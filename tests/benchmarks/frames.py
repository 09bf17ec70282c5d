"""How smoothly the page moves: frames a second while a part is dragged and the picture zoomed, 500 parts on one hide.

    python tests/benchmarks/frames.py FOLDER [--parts 500] [--seconds 5]

A job is written into FOLDER: the demo's workshop, its largest hide three times as long and as wide, key fobs for it.
It is planned once, the page served and opened in Chromium. There a part is dragged about and the wheel turned, one
event a frame, for so many seconds each; told are frames a second, in the middle and of the slowest twentieth, and how
many parts lay in the picture. Nothing else should run on the machine meanwhile.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
from dataclasses import replace
from pathlib import Path

from shapely.affinity import scale

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "data"), str(ROOT / "tests" / "helpers")]

from bench_page import bench_page
from browser import chromium, opened
from demo_hides import known_hides

from nesting.app.terminal.job import run_plan
from nesting.atomic import write_text
from nesting.files.hides import write_hide

TIMES = """async ([seconds, event]) => {
  const stage = document.querySelector(".stage"), box = stage.querySelector("svg").getBoundingClientRect();
  const act = new Function("stage", "box", "turn", event), times = [];
  const end = performance.now() + seconds * 1000;
  for (let turn = 0, last = performance.now(); last < end; turn++) {
    act(stage, box, turn);
    const now = await new Promise(requestAnimationFrame);
    times.push(now - last);
    last = now;
  }
  return times.slice(5);
}"""
WHEEL = """stage.dispatchEvent(new WheelEvent("wheel", {deltaY: turn % 60 < 30 ? -30 : 30,
  clientX: box.x + box.width / 2, clientY: box.y + box.height / 2, bubbles: true, cancelable: true}))"""
MOVE = """stage.dispatchEvent(new PointerEvent("pointermove", {pointerId: 1, pointerType: "mouse", bubbles: true,
  clientX: box.x + box.width * (0.5 + 0.3 * Math.sin(turn / 20)), clientY: box.y + box.height / 2}))"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--parts", type=int, default=500)
    parser.add_argument("--seconds", type=float, default=5.0, help="of dragging, and of zooming")
    options = parser.parse_args()
    if not options.folder.exists():
        make(options.folder, options.parts)
        run_plan(options.folder, 0.0)
    with bench_page(options.folder) as page, chromium() as browser, opened(browser, page) as tab:
        tab.wait_for_selector(".canvas .part")
        print(f"{tab.locator('.canvas .part').count()} parts in the picture")
        told("zooming", tab.evaluate(TIMES, [options.seconds, WHEEL]))
        box = tab.locator(".canvas .part").nth(options.parts // 2).bounding_box()
        tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        tab.mouse.down()
        tab.mouse.move(box["x"] + box["width"] / 2 + 20, box["y"], steps=4)
        told("dragging", tab.evaluate(TIMES, [options.seconds, MOVE]))
        print("said of the part dragged:", tab.locator(".verdict").inner_text())
        tab.mouse.up()
        tab.wait_for_timeout(3000)


def make(folder: Path, parts: int) -> None:
    """Write a job of so many small parts and one hide they all lie on."""
    hide = max(known_hides(), key=lambda one: one.outline.area)
    for name in ("workshop.toml", "products.toml"):
        write_text(folder / name, (ROOT / "data" / name).read_text())
    shutil.copytree(ROOT / "data" / "patterns", folder / "patterns")
    large = scale(hide.outline, 3, 3, origin=(0, 0))
    readings = tuple(replace(one, x=one.x * 3, y=one.y * 3) for one in hide.readings)
    write_hide(folder / "hides" / "large.json", replace(hide, id="large", outline=large, zones=(), readings=readings,
                                                       backbone=None))  # fmt: skip
    write_text(folder / "orders.csv", f"order,product,quantity\n1,key fob,{parts}\n")


def told(what: str, times: list[float]) -> None:
    slow = statistics.mean(sorted(times)[-max(1, len(times) // 20) :])
    print(f"{what}: {1000 / statistics.median(times):.0f} frames a second, {1000 / slow:.0f} in the slowest twentieth")


if __name__ == "__main__":
    main()
