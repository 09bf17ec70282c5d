"""Leather as it comes in: photos, traces with their doubts, and hides put right by hand."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from pydantic import Field

from ..app.actions import hides as actions
from ..book.book import Book
from ..errors import FileError
from ..files.hides import hide_from_dict, hide_to_dict, read_hide
from ..leather.limits import DEFAULT as LEATHER
from ..model import ANSWERS, units
from . import jobs, shapes
from .desk import as_json, is_safe, safe_name
from .plan import Asked, By, Name, bench_of
from .state import Bench
from .work import Task

router = APIRouter(prefix="/api")
Pixel = Annotated[list[Annotated[float, Field(ge=-1, le=100_000)]], Field(min_length=2, max_length=2)]
Words = Annotated[str, Field(max_length=200)]
_KINDS = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


@router.post("/photos")
async def bring_photo(request: Request, name: Name) -> dict[str, Any]:
    """Bring a photo in: looked at in a process of its own, and kept under a plain name."""
    bench = bench_of(request)
    content = await request.body()
    if not content:
        raise HTTPException(400, "the file is empty")
    stem = safe_name(name, {Path(one).stem: path for one, path in bench.desk.photos().items()})
    task = bench.works.begin(
        "photo", jobs.looked_at, jobs.photo, bench.folder / "photos", stem, content, subject=stem, after=_told(bench)
    )
    return task.words()


def _told(bench: Bench) -> Any:
    def after(task: Task) -> None:
        bench.hub.tell("changed", {"what": "hides"})

    return after


@router.get("/photos/{name}")
def photo(request: Request, name: str) -> Response:
    """A photo as it came."""
    path = bench_of(request).desk.photos().get(name)
    if path is None:
        raise HTTPException(404, "there is no such photo")
    return Response(path.read_bytes(), media_type=_KINDS[path.suffix.lower()])


class TraceAsked(Asked):
    """A trace: as the options of `nesting trace`."""

    photo: Name
    reference: Literal["auto", "markers", "a4", "letter", "card"] = "auto"
    corners: Annotated[list[Pixel], Field(min_length=4, max_length=4)] | None = None
    lengths: Annotated[list[tuple[Pixel, Pixel, Annotated[float, Field(gt=0, le=20_000)]]], Field(max_length=20)] = []
    rough: Annotated[list[Pixel], Field(min_length=3, max_length=500)] | None = None
    inside: Annotated[list[Pixel], Field(max_length=200)] = []
    outside: Annotated[list[Pixel], Field(max_length=200)] = []
    answers: dict[Literal["correct", "cut", "leather", "floor"], Annotated[list[int], Field(max_length=1000)]] = {}
    nominal: Words = ""
    tannage: Words = ""
    colour: Words = ""
    leather: Words = ""
    lot: Words = ""
    price: Words = ""
    forget: bool = False


@router.post("/hides/{name}/trace")
def begin_trace(request: Request, name: str, asked: TraceAsked) -> dict[str, Any]:
    """Trace a photo to a hide of this name; a new name makes a new hide."""
    bench = bench_of(request)
    path = bench.desk.photos().get(asked.photo)
    if path is None:
        raise HTTPException(404, "there is no such photo: bring it in first")
    hides = bench.desk.hides()
    output = hides.get(name) or bench.folder / "hides" / f"{safe_name(name, {})}.json"
    if bench.works.running("trace", output.stem):
        raise HTTPException(409, "it is being traced")
    facts = _facts(bench, asked)
    before = output.read_bytes() if output.is_file() else None

    def after(task: Task) -> None:
        if task.outcome == "done":
            with bench.desk.lock:
                now = output.read_bytes() if output.is_file() else None
                if now != before:
                    bench.desk.store.add_step(f"hides/{output.name}", before, now)
        else:
            task.faults = [_plain(fault, bench.folder) for fault in task.faults]
        bench.hub.tell("changed", {"what": "hides"})

    given = asked.model_dump(include={"reference", "corners", "lengths", "rough", "inside", "outside", "forget"})
    answers = {answer: numbers for answer, numbers in asked.answers.items() if numbers}
    work = (jobs.trace, path, output, given, facts, answers)
    return bench.works.begin("trace", *work, subject=output.stem, after=after).words()


def _plain(fault: str, folder: Path) -> str:
    return fault.replace(f"{folder}/", "")


def _facts(bench: Bench, asked: TraceAsked) -> dict[str, Any]:
    """What somebody typed of a hide, as values."""
    workshop = bench.workshop()
    currency = workshop.prices.currency if workshop else ""
    words: dict[str, Any] = {name: getattr(asked, name).strip() for name in ("colour", "leather", "lot")}
    return {
        "nominal_mm": units.nominal_mm(asked.nominal) if asked.nominal.strip() else None,
        "tannage": units.tannage(asked.tannage) if asked.tannage.strip() else None,
        "price": units.money(asked.price, currency) if asked.price.strip() else None,
        **{name: text or None for name, text in words.items()},
    }


@router.get("/hides/{name}")
def hide(request: Request, name: str) -> dict[str, Any]:
    """A hide to look at and put right: its file, its doubts by what they win, its picture, what is wrong."""
    return _hide(bench_of(request), name)


def _hide(bench: Bench, name: str) -> dict[str, Any]:
    path = _path(bench, name)
    key = f"hides/{path.name}"
    draft, faults = bench.desk.store.draft(key), []
    data: Any = None
    try:
        found = bench.hide(name)
        data, doubts = hide_to_dict(found), shapes.doubts_by_gain(found)
    except FileError as error:
        doubts = []
        faults = [str(fault) for fault in error.all]
    if draft is not None:
        try:
            data = json.loads(draft)
            hide_from_dict(data, path, "")
            faults = []
        except FileError as error:
            faults = list(map(_fault, error.all))
    steps = bench.desk.steps(path)
    trace = data.get("trace") if isinstance(data, dict) else None
    return {
        "name": name,
        "hide": data,
        "tint": shapes.tinted(str(data.get("colour") or "")) if isinstance(data, dict) else None,
        "doubts": doubts,
        "draft": draft is not None,
        "faults": faults,
        "picture": _picture(path, trace),
        "answers": list(ANSWERS),
        "readings_missing": _readings_missing(data),
        "undo": bool(steps and steps.at > 0) or draft is not None,
        "redo": bool(steps and steps.at < steps.last),
    }


def _fault(fault: FileError) -> str:
    """What is wrong with a hide as somebody put it right, in the words of the page."""
    reading = re.fullmatch(r"reading (\d+)", fault.place)
    # of a reading only its place has two numbers for a value
    if reading and str(fault.value).startswith("("):
        return (
            f"thickness reading {reading[1]}: that place is not on the hide: undo takes it back, then touch the leather"
        )
    return f"{fault.place}: {fault.value}: {fault.mend}"


def _readings_missing(data: Any) -> int:
    """How many more readings a hide needs before a map is made of them."""
    readings = data.get("readings") if isinstance(data, dict) else None
    return max(0, LEATHER.fewest_readings - (len(readings) if isinstance(readings, list) else 0))


def _picture(path: Path, trace: Any) -> dict[str, Any] | None:
    """Where the straightened photo lies: left, low, right, high in mm."""
    from PIL import Image

    if not isinstance(trace, dict) or not trace.get("picture") or not trace.get("origin_mm"):
        return None
    picture = path.with_name(f"{path.stem}-straight.jpg")
    if picture.name != trace["picture"] or not picture.is_file():
        return None
    try:
        with Image.open(picture, formats=("JPEG",)) as opened:
            width, high = opened.size
    except (OSError, ValueError, SyntaxError):
        return None
    step, (x, y) = trace["mm_per_pixel"], trace["origin_mm"]
    left, top = x - step / 2, y + step / 2
    return {"box": [left, top - high * step, left + width * step, top], "at": picture.stat().st_mtime_ns // 1_000_000}


@router.get("/hides/{name}/picture")
def straightened(request: Request, name: str) -> Response:
    """The straightened photo of a hide."""
    path = _path(bench_of(request), name)
    picture = path.with_name(f"{path.stem}-straight.jpg")
    if not picture.is_file():
        raise HTTPException(404, "it has no picture")
    return Response(picture.read_bytes(), media_type="image/jpeg")


@router.put("/hides/{name}")
def write_hide(request: Request, name: str, data: dict[str, Any]) -> dict[str, Any]:
    """Write a hide as somebody put it right; what cannot be is kept as a draft and told."""
    bench = bench_of(request)
    path = _path(bench, name)
    try:
        content = as_json(data)
        bench.desk.change(path, content, _readable)
    except FileError:
        return _hide(bench, name)
    except (ValueError, RecursionError):
        raise HTTPException(400, "give the keys of a hide file") from None
    bench.hub.tell("changed", {"what": "hides"})
    return _hide(bench, name)


def _readable(path: Path) -> None:
    read_hide(path, actions.currency_near(path))


@router.post("/hides/{name}/step")
def step_hide(request: Request, name: str, asked: By) -> dict[str, Any]:
    """Undo or do again; undo of what could not be written forgets it."""
    bench = bench_of(request)
    path = _path(bench, name)
    key = f"hides/{path.name}"
    if asked.by < 0 and bench.desk.store.draft(key) is not None:
        bench.desk.store.keep_draft(key, None)
    else:
        bench.step(path, asked.by)
    bench.hub.tell("changed", {"what": "hides"})
    return _hide(bench, name) if path.is_file() else {"gone": True}


class Suggestions(Asked):
    """Suggested flaws by number, and whether they are thrown out."""

    numbers: Annotated[list[Annotated[int, Field(ge=1, le=10_000)]], Field(min_length=1, max_length=10_000)]
    drop: bool = False


@router.post("/hides/{name}/suggestions")
def sort_suggestions(request: Request, name: str, asked: Suggestions) -> dict[str, Any]:
    """Make zones of suggested flaws, or throw them out."""
    bench = bench_of(request)
    path = _path(bench, name)
    with bench.desk.changing(path):
        actions.sort_suggestions(path, asked.numbers, asked.drop)
    bench.hub.tell("changed", {"what": "hides"})
    return _hide(bench, name)


@router.delete("/hides/{name}")
def put_aside(request: Request, name: str) -> dict[str, Any]:
    """Take a hide off the shelf; undo of its page brings it back."""
    bench = bench_of(request)
    path = _path(bench, name)
    book = Book(bench.folder) if Book.there(bench.folder) else None
    if book is not None and any(row.name == name for row in book.hides()):
        with bench.desk.lock:
            book.retire(name)
    else:
        with bench.desk.changing(path):
            path.unlink()
    bench.hub.tell("changed", {"what": "hides"})
    return {"done": True}


@router.post("/shelf/{name}")
def bring_back(request: Request, name: str) -> dict[str, Any]:
    """Bring a hide back that was taken off the shelf."""
    bench = bench_of(request)
    if name in bench.desk.hides() or not is_safe(name) or bench.desk.store.steps(f"hides/{name}.json") is None:
        raise HTTPException(404, "no such hide was taken off")
    bench.desk.step_to(bench.folder / "hides" / f"{name}.json", -1)
    bench.hub.tell("changed", {"what": "hides"})
    return {"done": True}


def _path(bench: Bench, name: str) -> Path:
    path = bench.desk.hides().get(name)
    if path is None:
        raise HTTPException(404, "there is no such hide")
    return path
