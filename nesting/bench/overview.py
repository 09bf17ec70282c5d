"""What lies on the bench: leather, orders, the plan, loads, and what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import APIRouter, HTTPException, Request

from ..app.actions.begin import begin
from ..errors import FileError
from . import shapes
from .desk import whole_job
from .plan import Asked, bench_of
from .state import Bench

router = APIRouter(prefix="/api")


@router.get("/bench")
def overview(request: Request) -> dict[str, Any]:
    """All of the folder in short."""
    bench = bench_of(request)
    begun = (bench.folder / "workshop.toml").is_file()
    workshop = bench.workshop() if begun else None
    hides = _hides(bench)
    tasks = [task.words() | {"answer": None} for task in bench.works.tasks.values() if task.state == "running"]
    return {
        "folder": bench.folder.name,
        "begun": begun,
        "units": "mm" if workshop is None else workshop.units,
        "currency": "" if workshop is None else workshop.prices.currency,
        "settings": 0 if workshop is None else len(workshop.settings),
        "hides": hides,
        "photos": sorted(bench.desk.photos()),
        "untraced": _untraced(bench, hides),
        "faults": whole_job_once(bench) if begun else [],
        "planned": bench.desk.layout.is_file(),
        "tasks": tasks,
        "notes": bench.notes,
        "stale": _stale(bench),
    }


def _hides(bench: Bench) -> list[dict[str, Any]]:
    rows = []
    for name in bench.desk.hides():
        try:
            rows.append(shapes.of_hide(bench.hide(name)) | {"name": name, "fault": None})
        except FileError as error:
            rows.append({"name": name, "id": name, "fault": str(error)})
    return rows


def _untraced(bench: Bench, hides: list[dict[str, Any]]) -> list[str]:
    """Photos that no hide is of, neither one on the shelf nor one that is cut up or retired."""
    known = {hide.get("photo") for hide in hides}
    gone = {path.stem for folder in ("cut", "retired") for path in bench.folder.glob(f"hides/{folder}/*.json")}
    return [name for name in sorted(bench.desk.photos()) if name not in known and Path(name).stem not in gone]


def whole_job_once(bench: Bench) -> list[str]:
    """All that is wrong in the folder, found again only after a file of it was changed."""
    files = [bench.folder / name for name in ("workshop.toml", "products.toml", "orders.csv")]
    files += [*bench.desk.hides().values(), *bench.desk.patterns().values()]
    stamp = tuple((str(path), path.stat().st_mtime_ns) for path in files if path.is_file())
    if bench.looked is None or bench.looked[0] != stamp:
        bench.looked = stamp, whole_job(bench.folder)
    return bench.looked[1]


def _stale(bench: Bench) -> bool:
    """Whether a file of the job is newer than the layout at hand."""
    if not bench.desk.layout.is_file():
        return False
    made = bench.desk.layout.stat().st_mtime_ns
    names = ("workshop.toml", "products.toml", "orders.csv")
    files = [*(bench.folder / name for name in names), *bench.desk.hides().values(), *bench.desk.patterns().values()]
    return any(path.stat().st_mtime_ns > made for path in files if path.is_file())


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
