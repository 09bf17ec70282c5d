"""The shop on the page: the shelf, orders and their state, yield and money over time, what to buy and what to make."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import Response
from pydantic import Field

from ..app.actions import shop
from ..book.book import Book
from ..book.money import Spent, Yield
from ..book.shelf import money
from ..book.tables import BookOrder, ShelfHide
from ..errors import FileError
from ..files.hides import read_hide
from ..model import Hide, Product, Workshop, units
from . import jobs, shapes
from .limits import DEFAULT
from .plan import Asked, Name, bench_of
from .work import Task

router = APIRouter(prefix="/api/shop")


def _book(request: Request) -> Book:
    folder = bench_of(request).folder
    if not Book.there(folder):
        raise HTTPException(404, "there is no stock book yet")
    return Book(folder)


@router.get("")
def shop_in_short(request: Request) -> dict[str, Any]:
    """Whether there is a stock book, and its last steps, the newest first."""
    folder = bench_of(request).folder
    if not Book.there(folder):
        return {"there": False, "steps": []}
    steps = Book(folder).steps(DEFAULT.steps_told)
    return {"there": True, "steps": [{"at": step.at, "words": step.words} for step in steps]}


@router.post("/begin")
def begin(request: Request) -> dict[str, Any]:
    """Begin a stock book with the hides and orders that are there."""
    bench = bench_of(request)
    if Book.there(bench.folder):
        raise HTTPException(409, "there is a stock book already")
    with bench.desk.lock:
        taken = shop.begin(bench.folder)
    return _changed(request, taken)


@router.post("/look")
def look_again(request: Request) -> dict[str, Any]:
    """Take new hides and orders of the folder in."""
    _book(request)
    bench = bench_of(request)
    with bench.desk.lock:
        taken = shop.take_in(bench.folder)
    return _changed(request, taken) if taken.done else _words(request, taken)


@router.post("/undo")
def undo(request: Request) -> dict[str, Any]:
    """Take the last step back, with the files it wrote."""
    bench = bench_of(request)
    bench.idle()
    book = _book(request)
    with bench.desk.lock:
        step = book.undo()
    if step is None:
        raise HTTPException(409, "there is nothing to take back")
    return _changed(request) | {"words": step.words}


def _changed(request: Request, taken: shop.TakenIn = shop.NOTHING) -> dict[str, Any]:
    bench_of(request).hub.tell("changed", {"what": "all"})
    return _words(request, taken)


def _words(request: Request, taken: shop.TakenIn) -> dict[str, Any]:
    home = f"{bench_of(request).folder}/"
    return {
        "done": [one.replace(home, "") for one in taken.done],
        "notes": [one.replace(home, "") for one in taken.notes],
    }


# the shelf


@router.get("/shelf")
def shelf(
    request: Request,
    find: Annotated[str, Query(max_length=200)] = "",
    start: Annotated[int, Query(ge=0, le=10**6)] = 0,
    gone: bool = False,
) -> dict[str, Any]:
    """Hides and offcuts, so many at a time; of all those whose name, code or kind holds ``find``."""
    book = _book(request)
    rows = book.hides(("cut", "retired") if gone else ("shelf", "opened"))
    wanted = find.casefold().split()
    found = [row for row in rows if all(word in _told(row) for word in wanted)]
    left = book.left_mm2()
    shown = found[start : start + DEFAULT.shelf_rows]
    return {
        "rows": [_lying(request, book, row) | {"left_mm2": left.get(row.id, row.area_mm2)} for row in shown],
        "count": len(found),
        "area_mm2": sum(left.get(row.id, row.area_mm2) for row in found),
        "offcuts": sum(row.parent is not None for row in found),
        "next": start + len(shown) if start + len(shown) < len(found) else None,
    }


def _lying(request: Request, book: Book, row: ShelfHide) -> dict[str, Any]:
    """A row of the shelf, made again only after the book or its hide was changed."""
    bench = bench_of(request)
    files = [*bench.book_files(), book.folder / row.file]
    return bench.once(("lying", row.id), files, lambda: _hide(request, book, row))


def _told(row: ShelfHide) -> str:
    return f"{row.name} {row.code} {shop.kind_words(row)} {row.supplier}".casefold()


def _hide(request: Request, book: Book, row: ShelfHide) -> dict[str, Any]:
    file = book.folder / row.file
    try:
        shape: dict[str, Any] | None
        shape = bench_of(request).once(("shape", file), (file,), lambda: _outline(read_hide(file)))
    except FileError:
        shape = None
    parent = book.parent_of(row)
    short = shape is not None and row.bought_mm2 is not None and book.short_measure(row.name)
    return {
        "name": row.name,
        "code": row.code,
        "kind": shop.kind_words(row),
        "state": "offcut" if row.state == "shelf" and row.parent else row.state,
        "parent": None if parent is None else parent.name,
        "area_mm2": row.area_mm2,
        "largest_mm": [row.wide_mm, row.high_mm],
        "thickness_mm": row.thickness_mm,
        "price": None if row.price is None else str(money(row.price, book.currency)),
        "supplier": row.supplier,
        "bought_mm2": row.bought_mm2,
        "short": bool(short and short.surely),
        "since": row.added[:10],
        "why": row.why,
        "here": row.file == f"hides/{row.name}.json",
        "shape": shape,
    }


def _outline(hide: Hide) -> dict[str, Any]:
    outline = hide.outline
    across = max(outline.bounds[2] - outline.bounds[0], outline.bounds[3] - outline.bounds[1])
    rings = [ring.simplify(across / DEFAULT.thumbnail_steps) for ring in (outline.exterior, *outline.interiors)]
    holes = [shapes.points(ring, 1) for ring in rings[1:]]
    return {"outline": shapes.points(rings[0], 1), "holes": holes, "tint": shapes.tinted(hide.colour)}


class Bought(Asked):
    """What was bought, as it is typed; what is empty stays as it is."""

    name: Name
    supplier: Name = ""
    measure: Name = ""
    price: Name = ""


@router.post("/bought")
def bought(request: Request, asked: Bought) -> dict[str, Any]:
    """Say where a hide was bought, by which measure, for how much."""
    book = _book(request)
    area = units.area_mm2(asked.measure) if asked.measure.strip() else None
    price = units.money(asked.price, book.currency) if asked.price.strip() else None
    with bench_of(request).desk.lock:
        book.bought([asked.name], supplier=asked.supplier.strip() or None, bought_mm2=area, price=price)
    return _changed(request)


class Retired(Asked):
    """A hide to take off the shelf, and why."""

    name: Name
    why: Name = ""


@router.post("/retire")
def retire(request: Request, asked: Retired) -> dict[str, Any]:
    """Take a hide off the shelf for good."""
    book = _book(request)
    with bench_of(request).desk.lock:
        book.retire(asked.name, asked.why.strip())
    return _changed(request)


@router.post("/back")
def put_back(request: Request, asked: Retired) -> dict[str, Any]:
    """Give up what is still planned on a hide that is cut in part: what is left goes back to the shelf."""
    bench = bench_of(request)
    bench.idle()
    book = _book(request)
    with bench.desk.lock:
        done = book.put_back(asked.name)
    return _changed(request) | {"offcuts": list(done.offcuts)}


@router.get("/labels")
def labels(request: Request, name: Annotated[list[Name], Query(max_length=500)] = []) -> Response:  # noqa: B006
    """Labels of hides to print, of all on the shelf without any named."""
    _book(request)
    with tempfile.TemporaryDirectory(prefix="nesting-") as made:
        file = shop.write_labels_of(bench_of(request).folder, name, Path(made) / "labels.pdf")
        return Response(file.read_bytes(), media_type="application/pdf")


@router.get("/short/{name}")
def short_note(request: Request, name: str) -> Response:
    """A note to the supplier about a hide that is smaller than it was sold."""
    _book(request)
    with tempfile.TemporaryDirectory(prefix="nesting-") as made:
        _, file = shop.write_short_note(bench_of(request).folder, name, Path(made) / "note.pdf")
        if file is None:
            raise HTTPException(404, "it is not short for sure")
        return Response(file.read_bytes(), media_type="application/pdf")


# orders


@router.get("/orders")
def orders(request: Request, every: bool = False) -> dict[str, Any]:
    """Order lines and their state: those still to be made, and the last that are cut; or the last of all."""
    book = _book(request)
    most = DEFAULT.order_rows
    rows = book.orders(None, most) if every else [*book.orders(most=most), *book.orders(("cut",), most)]
    return {"rows": list(map(_order, rows)), "most": most if len(rows) >= most else None}


def _order(row: BookOrder) -> dict[str, Any]:
    return {
        "order": row.name,
        "product": row.product,
        "quantity": row.quantity,
        "made": row.made,
        "planned": row.planned,
        "spoiled": row.spoiled,
        "state": row.state,
        "due": None if row.due is None else row.due.isoformat(),
        "note": row.note,
        "unmade": shop.unmade_words(row),
    }


class Done(Asked):
    """An order line that is done, or is not after all."""

    order: Name
    product: Name
    done: bool = True


@router.post("/orders/done")
def set_done(request: Request, asked: Done) -> dict[str, Any]:
    """Say that an order line is done: handed over, sold, or not wanted any more."""
    book = _book(request)
    with bench_of(request).desk.lock:
        book.set_done(asked.order, asked.product, asked.done)
    return _changed(request)


# money


@router.get("/money")
def money_and_yield(request: Request) -> dict[str, Any]:
    """Yield and money month by month, and by product and supplier."""
    book, bench = _book(request), bench_of(request)
    return bench.once("money", [*bench.book_files(), *bench.making_files()], lambda: _money(book, *bench.making()))


def _money(book: Book, workshop: Workshop, products: Sequence[Product]) -> dict[str, Any]:
    kept = {row.name: row for row in book.yields("month")}
    return {
        "months": [
            {"name": row.name, "spent": str(row.spent), "worth": str(row.worth)}
            | {"yield": kept[row.name].of_consumed if row.name in kept else None}
            for row in book.months()
        ],
        "products": [_spent(row) for row in book.spent(workshop, products)],
        "suppliers": [_yield(row) for row in book.yields("supplier")],
        "hides": [_yield(row) for row in book.yields("hide")[-DEFAULT.hides_told :]],
    }


def _spent(row: Spent) -> dict[str, Any]:
    kinds = ("name", "pieces", "leather", "scrap", "doubt", "spoiled", "begun", "total", "each", "price", "margin")
    told = {kind: getattr(row, kind) for kind in kinds}
    told["work"] = row.masking + row.machine + row.labour
    told["other"] = sum(row.rows.values(), 0 * row.total)
    return {name: value if value is None or isinstance(value, int) else str(value) for name, value in told.items()}


def _yield(row: Yield) -> dict[str, Any]:
    return {
        "name": row.name,
        "cut_mm2": row.leather_mm2,
        "parts_mm2": row.parts_mm2,
        "offcuts_mm2": row.offcuts_mm2,
        "yield": row.of_consumed,
        "paid": str(row.paid),
        "credit": str(row.credited),
    }


# what to buy, what to make


@router.get("/buy")
def buy(request: Request, weeks: Annotated[int, Query(ge=0, le=520)] = 0) -> dict[str, Any]:
    """Leather to buy for what does not fit and for weeks to come, and offcuts hardly worth keeping."""
    book, bench = _book(request), bench_of(request)
    files = [*bench.book_files(), *bench.making_files()]
    # what is old is so by the day
    key = ("buy", weeks, date.today())
    return bench.once(key, files, lambda: _to_buy(book, bench.making()[1], weeks))


def _to_buy(book: Book, products: Sequence[Product], weeks: int) -> dict[str, Any]:
    return {
        "rows": [
            {
                "kind": one.kind,
                "thickness_mm": one.thickness_mm,
                "pieces": one.pieces,
                "likely_mm2": one.likely_mm2,
                "range_mm2": one.range_mm2,
                "cost": None if one.cost is None else str(one.cost),
            }
            for one in book.to_buy(products, weeks)
        ],
        "unkept": [{"name": one.name, "why": one.why} for one in book.unkept(products)],
    }


class MakeAsked(Asked):
    """A look at what could be made of the offcuts: seconds for each product."""

    seconds: Annotated[float, Field(ge=DEFAULT.least_seconds, le=600)] = 5.0


@router.post("/make")
def begin_make(request: Request, asked: MakeAsked) -> dict[str, Any]:
    """Plan every product on the offcuts, one at a time."""
    bench = bench_of(request)
    _book(request)
    bench.idle()
    if bench.works.running("make"):
        raise HTTPException(409, "that is being found out")

    def heard(task: Task, word: str, data: Any) -> None:
        task.told[word] = data
        bench.hub.tell("task", task.words())

    def after(task: Task) -> None:
        if task.outcome == "done":
            bench.could = task.answer
            task.answer = None

    return bench.works.begin("make", jobs.make, bench.folder, asked.seconds, heard=heard, after=after).words()


@router.get("/make")
def could_make(request: Request) -> Response:
    """What could be made of the offcuts, as last found out, the most earned first."""
    found = bench_of(request).could
    if found is None:
        raise HTTPException(404, "nobody asked yet")
    return Response(found["view"], media_type="application/json")


class Take(Asked):
    """A product to make of the offcuts."""

    product: Name


@router.post("/make/take")
def take(request: Request, asked: Take) -> dict[str, Any]:
    """Order those pieces for stock, their layout being the one at hand."""
    bench = bench_of(request)
    _book(request)
    bench.idle()
    rows = [] if bench.could is None else bench.could["rows"]
    row = next((row for row in rows if row["product"] == asked.product), None)
    if row is None:
        raise HTTPException(404, "find out first what could be made")
    if bench.works.running("take"):
        raise HTTPException(409, "that is being written")

    def after(task: Task) -> None:
        bench.could = None
        bench.hub.tell("changed", {"what": "all"})

    return bench.works.begin("take", jobs.take_made, bench.folder, row, after=after).words()
