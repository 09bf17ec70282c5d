"""The whole job on an invented workshop, one command."""

from __future__ import annotations

import time
from pathlib import Path

from ..errors import FileError
from ..files.job import copy_job
from .stopping import keeping

PHOTO_FACTS = {"nominal_mm": 1.5, "tannage": "vegetable", "colour": "natural", "price": "58.00"}


def demo_folder() -> Path:
    """The demo workshop: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    return package / "demo_data" if (package / "demo_data").exists() else package.parent / "data"


def run_demo(to: Path, seconds: float) -> None:
    """Copy the demo workshop (files already there are kept), trace its photo, plan, check, compare and export."""
    with keeping(lambda: f"stopped; what was written until now is in {to}", good=False):
        _steps(to, seconds)


def _steps(to: Path, seconds: float) -> None:
    from .terminal.bed import run_export
    from .terminal.console import console, say
    from .terminal.hides import run_trace
    from .terminal.job import run_compare, run_plan

    started = time.monotonic()
    photos = {path.name for path in (demo_folder() / "photos").glob("*.jpg")}
    if (to / "workshop.toml").exists() and not any((to / "photos" / name).exists() for name in photos):
        mend = "give a new folder, so that the demo's files do not mix with yours"
        raise FileError("--to", str(to), "holds a job of its own", mend)
    copy_job(demo_folder(), to)
    photo = next((to / "photos").glob("*.jpg"))
    console.rule("1. Trace the photo")
    run_trace(photo, to / "hides" / f"{photo.stem}.json", facts=PHOTO_FACTS)
    console.rule("2. Plan the week")
    layout = run_plan(to, seconds)
    if layout is None:
        raise SystemExit(1)
    console.rule("3. Compare the hides")
    run_compare(to, seconds / 2, 0)
    console.rule("4. Export for the laser")
    run_export(layout, to / "out" / "cut", to)
    console.rule(f"done in {time.monotonic() - started:.0f} s")
    say(
        f"Open {to / 'out' / 'report.html'} first; the pictures are {to / 'out'}/hide-*.png, the traced photo "
        f"{to / 'hides'}/{photo.stem}-check.png, the files for the laser {to / 'out' / 'cut'}/*.svg with their job "
        "cards, cards.pdf."
    )
