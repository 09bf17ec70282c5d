"""What lies on the bench: leather, orders, the plan, loads, and what is wrong."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse

from ..app.actions.begin import begin
from ..book.book import Book
from ..errors import FileError
from ..report import tints
from . import shapes
from .limits import DEFAULT
from .plan import Asked, bench_of
from .state import Bench

router = APIRouter(prefix="/api")


@router.get("/bench", response_model=None)
def overview(request: Request) -> JSONResponse:
    """All of the folder in short."""
    bench = bench_of(request)
    begun = (bench.folder / "workshop.toml").is_file()
    workshop = bench.workshop() if begun else None
    hides = _hides(bench)
    faults, as_now = bench.faults_known()
    tasks = [task.words() | {"answer": None} for task in bench.works.tasks.values() if task.state == "running"]
    found = {
        "folder": bench.folder.name,
        "begun": begun,
        "units": "mm" if workshop is None else workshop.units,
        "currency": "" if workshop is None else workshop.prices.currency,
        "settings": 0 if workshop is None else len(workshop.settings),
        "hides": hides,
        "photos": sorted(bench.desk.photos()),
        "untraced": _untraced(bench, hides),
        "wanted": _wanted(bench),
        "faults": faults if begun else [],
        "reading": begun and not as_now,
        "planned": bench.planned(),
        "tasks": tasks,
        "notes": bench.notes,
        "tints": [tints.fill(index) for index in range(tints.COUNT)],
        "stale": _stale(bench),
        "asks": [] if workshop is None else sorted(workshop.untold),
    }
    return JSONResponse(found)


def _wanted(bench: Bench) -> list[dict[str, Any]] | None:
    """What is still to be made by the stock book, and how many pieces of it the layout at hand has; None where there is
    no book."""
    if not Book.there(bench.folder):
        return None
    return bench.once("wanted", bench.book_files(), partial(_open_orders, bench.folder))


def _open_orders(folder: Path) -> list[dict[str, Any]]:
    return [
        {
            "order": row.name,
            "product": row.product,
            "left": row.quantity - row.made,
            "planned": min(row.planned, row.quantity - row.made),
        }
        for row in Book(folder).orders(most=DEFAULT.order_rows)
    ]


def _hides(bench: Bench) -> list[dict[str, Any]]:
    rows = []
    for name, path in bench.desk.hides().items():
        try:
            shown = bench.once(("shown", path), (path,), partial(_shown, bench, name))
            rows.append(shown | {"name": name, "fault": None})
        except FileError as error:
            rows.append({"name": name, "id": name, "fault": str(error)})
    return rows


def _shown(bench: Bench, name: str) -> dict[str, Any]:
    return shapes.of_hide(bench.hide(name))


def _untraced(bench: Bench, hides: list[dict[str, Any]]) -> list[str]:
    """Photos that no hide is of, neither one on the shelf nor one that is cut up or retired."""
    known = {hide.get("photo") for hide in hides}
    gone = {path.stem for folder in ("cut", "retired") for path in bench.folder.glob(f"hides/{folder}/*.json")}
    return [name for name in sorted(bench.desk.photos()) if name not in known and Path(name).stem not in gone]


def _stale(bench: Bench) -> bool:
    """Whether a file of the job is newer than the layout at hand."""
    if not bench.desk.layout.is_file():
        return False
    made = bench.desk.layout.stat().st_mtime_ns
    return any(path.stat().st_mtime_ns > made for path in bench.files() if path.is_file())


class Begin(Asked):
    """What a new folder shows first."""

    inch: bool = False


@router.post("/begin")
def begin_folder(request: Request, asked: Begin) -> dict[str, Any]:
    """Write the files of a folder to start from."""
    bench = bench_of(request)
    if (bench.folder / "workshop.toml").exists():
        raise HTTPException(409, "there is a job in this folder already")
    done = begin(bench.folder, (), "inch" if asked.inch else "mm", sample=False)
    bench.hub.tell("changed", {"what": "all"})
    return {"written": [path.relative_to(bench.folder).as_posix() for path in done.written]}


@router.get("/tasks/{number}")
def task(request: Request, number: int) -> dict[str, Any]:
    """How far some work is, and what it came to."""
    found = bench_of(request).works.tasks.get(number)
    if found is None:
        raise HTTPException(404, "there is no such task")
    return found.words()
