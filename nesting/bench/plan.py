"""Planning on the page: a search with its live picture, and a layout settled by hand."""

from __future__ import annotations

import contextlib
import json
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from ..app.actions import hands
from ..app.actions.hands import Which
from ..app.actions.job import at_prices, keep_stopped
from ..book.book import Book
from ..errors import FileError, ModelError
from ..files.layout import layout_from_dict, write_layout
from ..model import PartKey, Spot
from ..planning.plan import SoFar
from ..workers import Channel, Gone, Helpers, cores
from . import jobs, shapes
from .desk import LAYOUT
from .limits import DEFAULT
from .state import Bench, Live
from .work import Task

router = APIRouter(prefix="/api")

Name = Annotated[str, Field(max_length=200)]
Key = Annotated[str, Field(max_length=1000)]
Far = Annotated[float, Field(ge=-20_000, le=20_000)]


class Asked(BaseModel):
    """What a body of a request may hold: nothing unknown, no endless numbers."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class PlanAsked(Asked):
    """A search: as the options of `nesting plan`."""

    seconds: Annotated[float, Field(ge=DEFAULT.least_seconds, le=DEFAULT.most_seconds)] = 30.0
    hides: Annotated[list[Name], Field(max_length=1000)] = []
    resume: bool = False
    compared: bool = False
    fresh: bool = False
    partial: bool = False
    settings: Annotated[int, Field(ge=1, le=3)] | None = None
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 0


class Keys(Asked):
    """Parts by their keys."""

    keys: Annotated[list[Key], Field(min_length=1, max_length=10_000)]
    stay: bool = True


class Pose(Asked):
    """A part, and where somebody lays it."""

    key: Key
    hide: Name
    x: Far
    y: Far
    angle: Annotated[float, Field(ge=-3600, le=3600)]


class Panels(Asked):
    """A panel that is burnt, or is not after all."""

    hide: Name
    panel: Name
    done: bool = True


class One(Asked):
    """One part by its key."""

    key: Key


class By(Asked):
    """So many steps on, or back below 0."""

    by: Annotated[int, Field(ge=-1, le=1)]


def bench_of(request: Request) -> Bench:
    """The bench of a request."""
    found: Bench = request.app.state.bench
    return found


@router.get("/layout", response_model=None)
def layout_at_hand(request: Request) -> Response:
    """The layout at hand, to draw."""
    bench = bench_of(request)
    view, steps = bench.view(), bench.desk.steps(bench.desk.layout)
    cut = cut_for(bench)
    more = {
        "undo": bool(steps and steps.at > 0),
        "redo": bool(steps and steps.at < steps.last),
        "cut_for": cut,
        "told": _told(bench, cut),
        "turns": turns_of(bench),
        "today": _today(bench),
        "curve": bench.desk.store.last_curve(),
    }
    return Response(view[:-1] + b", " + json.dumps(more).encode()[1:], media_type="application/json")


def _told(bench: Bench, cut: str | None) -> list[str]:
    """What was told of the files to burn at hand, or of it what the layout says again once the bench was closed."""
    from ..laser.export import not_written

    if cut is None or cut in bench.burn_notes:
        return bench.burn_notes.get(cut, [])
    refusals, warnings = not_written(bench.layout()[0])
    return [*warnings, *refusals]


def turns_of(bench: Bench) -> list[dict[str, Any]]:
    """The panels still to be cut in the order in which to burn them, and which orders wait for each, by the orders as
    they are now."""
    return bench.once("turns", [*bench.files(), *bench.book_files(), bench.desk.layout], lambda: _in_turn(bench))


def _in_turn(bench: Bench) -> list[dict[str, Any]]:
    from ..app.actions.bed import lines_now
    from ..laser.turns import turns

    layout, _ = bench.layout()
    lines, _ = lines_now(layout, bench.folder)
    return [
        {
            "hide": turn.hide,
            "panel": turn.panel,
            "number": turn.number,
            "of": turn.of,
            "waiting": [{"order": one.order, "due": one.due and one.due.isoformat()} for one in turn.waiting],
            "lines": turn.lines,
        }
        for turn in turns(layout, lines)
    ]


def _today(bench: Bench) -> dict[str, Any] | None:
    """What the layout at hand costs at the prices of now, its ``cost`` None until that is worked out; None where prices
    are still those it was planned with."""
    if not bench.once("other prices", [*bench.files(), bench.desk.layout], lambda: _other_prices(bench)):
        return None

    def after(task: Task) -> None:
        bench.today = stamp, task.answer
        bench.hub.tell("changed", {"what": "layout"})

    stamp = bench.stamp()
    known, cost = bench.today
    if known != stamp and bench.works.running("today") is None:
        bench.works.begin("today", jobs.today, bench.folder, after=after)
    return {"cost": cost if known == stamp else None}


def _other_prices(bench: Bench) -> bool:
    workshop, (layout, figures) = bench.workshop(), bench.layout()
    hides = []
    for name in bench.desk.hides():
        with contextlib.suppress(FileError):
            hides.append(bench.hide(name))
    return bool(figures) and workshop is not None and at_prices(layout, workshop, hides) is not None


def cut_for(bench: Bench) -> str | None:
    """The mark of the layout that the files to burn at hand are of."""
    from ..files.marks import read_mark

    for name, path in bench.desk.made().items():
        if path.parent.name == "cut" and name.endswith((".svg", ".dxf")):
            return read_mark(path)
    return None


@router.get("/search", response_model=None)
def search_under_way(request: Request) -> Response:
    """The best layout of the search under way, to draw, and its curve; 404 where none is."""
    live = bench_of(request).live
    if live is None:
        raise HTTPException(404, "no search is under way")
    told = json.dumps({"curve": live.curve, "version": live.version})
    body = told[:-1].encode() + b', "layout": ' + (live.view or b"null") + b"}"
    return Response(body, media_type="application/json")


@router.post("/plan")
def begin_plan(request: Request, asked: PlanAsked) -> dict[str, Any]:
    """Begin a search for where every part goes."""
    bench = bench_of(request)
    bench.idle()
    if asked.fresh and (asked.resume or asked.compared):
        raise HTTPException(400, "go on from a layout, or heed nothing of it")
    bench.notes.clear()
    given = asked.model_dump() | {"workers": cores()}
    live = bench.live = Live(bench.desk.store.begin_search("plan", given))
    prices = _Prices(bench, live)

    def heard(task: Task, word: str, data: Any) -> None:
        if word == "layout":
            (live.layout, live.view), live.version = data, live.version + 1
            bench.desk.store.keep_search(live.number, layout=live.layout)
            prices.ask(float(task.told.get("seconds", 0.0)), data[0])
            bench.hub.tell("better", {"version": live.version})
        elif word == "progress":
            task.told |= data
            _point(live, data)
            bench.hub.tell("progress", data)
        elif word == "view":
            bench.drawn(data)
        else:
            task.told[word] = data
            bench.hub.tell("task", task.words())

    def after(task: Task) -> None:
        prices.close()
        _over(bench, live, task)

    task = bench.works.begin("plan", jobs.search, bench.folder, given, heard=heard, after=after)
    return task.words()


class _Prices:
    """Works the figures of better layouts out beside a search, so that the curve has money and yield too."""

    def __init__(self, bench: Bench, live: Live) -> None:
        self._helpers, self._bench, self._live = Helpers(), bench, live
        self._channel: Channel | None = None

    def ask(self, seconds: float, layout: bytes) -> None:
        if self._channel is None:
            self._channel = self._helpers.start(jobs.priced)
        try:
            self._channel.send((seconds, layout))
        except Gone:
            return
        for at, total in self._helpers.hear():
            keys = ("cost", "yield_of_consumed", "pieces_whole", "pieces_wanted", "consumed_mm2")
            point = {"seconds": at} | {key: total[key] for key in keys}
            _point(self._live, point)
            self._bench.hub.tell("priced", point)

    def close(self) -> None:
        self._helpers.end(*self._helpers.channels)


def _point(live: Live, data: dict[str, Any]) -> None:
    live.curve.append(data)
    if len(live.curve) > DEFAULT.most_points:
        live.curve[:] = live.curve[::2]


def _over(bench: Bench, live: Live, task: Task) -> None:
    """A search is over: what it came to is in the folder; of one that was lost, the best so far is."""
    store, file = bench.desk.store, bench.desk.layout
    if task.outcome == "lost" and live.layout is not None:
        task.told["kept"] = _keep(bench, live.layout)
    stopped = task.outcome == "done" and task.answer["total"] is None
    if task.outcome == "done" and not stopped:
        total, seconds = task.answer["total"], float(task.told.get("seconds", 0.0))
        keys = ("cost", "yield_of_consumed", "pieces_whole", "pieces_wanted", "consumed_mm2")
        _point(live, {"seconds": seconds} | {key: total[key] for key in keys})
    store.keep_search(live.number, curve=live.curve)
    store.end_search(live.number, task.outcome)
    if file.is_file() and task.outcome in ("done", "lost"):
        # so that it can be undone as well
        content = file.read_bytes()
        store.add_step(LAYOUT, content, content)
    bench.live = None
    if stopped and file.is_file():
        draw_again(bench)
    bench.hub.tell("changed", {"what": "layout"})


def _keep(bench: Bench, content: bytes) -> str:
    """Write the best layout of a search that ended before it could do so itself; what to say of it."""
    layout = layout_from_dict(json.loads(content), bench.desk.layout)
    so_far = SoFar()
    so_far.make = lambda: layout
    with bench.desk.lock:
        kept = keep_stopped(so_far, bench.folder / "out")
    if kept is None:
        return ""
    draw_again(bench)
    return f"{len(layout.placements)} of {len(layout.placements) + len(layout.unplaced)}"


def take_up(bench: Bench) -> None:
    """Keep the best of searches that were broken off with the program that ran them."""
    try:
        broken = bench.desk.store.broken_off()
        for number, kind, content in broken:
            if kind == "plan" and content is not None:
                try:
                    note = {"parts": _keep(bench, content)}
                except FileError as fault:
                    note = {"fault": str(fault)}
                bench.notes += [note] if any(note.values()) else []
            bench.desk.store.end_search(number, "lost")
    finally:
        bench.taking_up = False
    if broken:
        bench.hub.tell("changed", {"what": "layout"})


@router.post("/plan/stop")
def stop_plan(request: Request) -> dict[str, Any]:
    """End the search under way with the best it has."""
    return bench_of(request).stop("plan")


def draw_again(bench: Bench) -> None:
    """Work the figures of the layout at hand out and draw its report again, once nothing more is changed."""
    task = bench.works.running("draw")
    if task is not None:
        bench.works.stop(task)

    def after(task: Task) -> None:
        drawn, task.answer = task.answer, None
        if task.outcome == "done":
            with bench.desk.lock:
                stated = bench.stated()
                if stated.layout.mark == drawn["mark"]:
                    before = bench.desk.layout.read_bytes()
                    write_layout(bench.desk.layout, stated.layout, drawn["figures"], hasty=True)
                    bench.desk.store.amend(LAYOUT, before, bench.desk.layout.read_bytes())
                    bench.written(replace(stated, figures=drawn["figures"]))
                    bench.drawn(drawn["view"])
                    bench.hub.tell("changed", {"what": "layout"})

    bench.works.begin("draw", jobs.draw, bench.folder, after=after)


def _key(text: str) -> PartKey:
    key = shapes.key_of(text)
    if key is None:
        raise HTTPException(404, "there is no such part")
    return key


def _which(key: PartKey) -> Which:
    order, product, part, piece, copy, mirrored = key
    return Which(order, part, product, piece, copy, "", mirrored)


@router.post("/parts/pin")
def pin(request: Request, asked: Keys) -> dict[str, Any]:
    """Pin parts where they lie, or let them go."""
    bench = bench_of(request)
    bench.idle()
    keys = {_key(text) for text in asked.keys}
    with bench.desk.changing(bench.desk.layout):
        stated = bench.stated()
        if keys - {placement.key for placement in stated.layout.placements}:
            raise HTTPException(404, "it is not placed: load the layout again")
        bench.written(hands.pin_keys(bench.desk.layout, stated, keys, asked.stay))
    return _changed(bench)


@router.post("/parts/try")
def try_pose(request: Request, asked: Pose) -> dict[str, Any]:
    """Whether a part may lie somewhere, and why not."""
    layout, _ = bench_of(request).layout()
    if asked.hide not in {hide.id for hide in layout.hides}:
        raise HTTPException(404, "there is no such hide in the layout")
    try:
        findings = hands.try_move(layout, _key(asked.key), Spot(asked.hide, asked.x, asked.y, asked.angle % 360))
    except ModelError as error:
        return {"may": False, "why": [{"rule": 0, "what": "", "value": str(error.mend), "bound": ""}]}
    return {"may": not findings, "why": [_finding(one) for one in findings]}


def _finding(one: Any) -> dict[str, Any]:
    return {"rule": one.rule, "what": one.what, "who": one.who, "value": one.value, "bound": one.bound}


@router.post("/parts/move")
def move(request: Request, asked: Pose) -> dict[str, Any]:
    """Lay a part elsewhere and pin it there, where every rule still holds."""
    bench = bench_of(request)
    bench.idle()
    layout, _ = bench.layout()
    if asked.hide not in {hide.id for hide in layout.hides}:
        raise HTTPException(404, "there is no such hide in the layout")
    spot = Spot(asked.hide, round(asked.x, 3), round(asked.y, 3), round(asked.angle % 360, 4))
    try:
        with bench.desk.changing(bench.desk.layout):
            after, findings = hands.move_part(bench.desk.layout, bench.stated(), _key(asked.key), spot)
            if not findings:
                bench.written(after)
    except ModelError as error:
        raise HTTPException(409, f"{error.value}: {error.mend}") from None
    if findings:
        return {"may": False, "why": [_finding(one) for one in findings]}
    draw_again(bench)
    return _changed(bench) | {"may": True, "why": []}


@router.post("/parts/spoiled")
def spoiled(request: Request, asked: One) -> dict[str, Any]:
    """A part was spoiled at the machine: it is wanted again, and its panel counts as burnt."""
    bench = bench_of(request)
    bench.idle()
    bench.layout()
    booked = Book.there(bench.folder)
    with bench.desk.lock if booked else bench.desk.changing(bench.desk.layout):
        part, _ = hands.make_again(bench.desk.layout, _which(_key(asked.key)))
    return _changed(bench) | {"part": part.name}


@router.post("/panels/burnt")
def burnt(request: Request, asked: Panels) -> dict[str, Any]:
    """A panel is burnt, or is not after all; where there is a stock book, it is written down there as cut."""
    bench = bench_of(request)
    bench.idle()
    bench.layout()
    name = f"{asked.hide}/{asked.panel}"
    if Book.there(bench.folder):
        with bench.desk.lock:
            told = _cut(Book(bench.folder), (asked.hide, asked.panel), asked.done)
        return _changed(bench) | told
    with bench.desk.changing(bench.desk.layout):
        hands.mark_burnt(bench.desk.layout, [name], asked.done)
    return _changed(bench)


def _cut(book: Book, panel: tuple[str, str], done: bool) -> dict[str, Any]:
    """Write a load down as cut, or take that back where it was the last step."""
    if done:
        return {"offcuts": list(book.cut([panel]).offcuts)}
    last = next(iter(book.steps(1)), None)
    if last is None or last.words != f"cut {'/'.join(panel)}":
        raise HTTPException(409, "other steps came after it: take those back first, in the shop")
    book.undo()
    return {"offcuts": []}


@router.post("/layout/step")
def step(request: Request, asked: By) -> dict[str, Any]:
    """Undo or do again what was done to the layout by hand since its search."""
    bench = bench_of(request)
    bench.idle()
    if Book.there(bench.folder):
        with bench.desk.lock:
            _step_beside(bench, asked.by)
    else:
        bench.step(bench.desk.layout, asked.by)
    draw_again(bench)
    return _changed(bench)


def _step_beside(bench: Bench, by: int) -> None:
    """Undo or do again where there is a stock book: what was cut there is taken back there."""

    def cut() -> set[str]:
        return {one.name for one in bench.stated().layout.burnt}

    before = cut()
    bench.step(bench.desk.layout, by)
    if cut() != before:
        bench.step(bench.desk.layout, -by)
        raise HTTPException(409, "a load was cut since: take that back first, in the shop")


def _changed(bench: Bench) -> dict[str, Any]:
    bench.hub.tell("changed", {"what": "layout"})
    return {"done": True}
