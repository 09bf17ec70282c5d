"""The week's orders, what the workshop makes, and the drawings it is made from."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse
from pydantic import Field
from tomlkit.exceptions import TOMLKitError

from ..app.actions.begin import Brought, answer_colour, listed_text, relabel
from ..errors import FileError
from ..files.book import changed_text
from ..files.orders import ASKING, HEADER, HEADINGS, day_of, orders_rows, orders_text
from ..files.pattern_svg import write_pattern
from ..files.patterns import Drawing, read_drawing
from ..files.source import read_toml
from . import jobs, shapes
from .desk import safe_name
from .plan import Asked, By, Name, bench_of
from .state import Bench
from .work import Task

router = APIRouter(prefix="/api")
Cell = Annotated[str, Field(max_length=2000)]
DRAWINGS = (".svg", ".dxf", ".pdf")


class Rows(Asked):
    """The table of orders, every cell as it is typed."""

    rows: Annotated[list[dict[Cell, Cell]], Field(max_length=5000)]


@router.get("/orders")
def orders(request: Request) -> dict[str, Any]:
    """The table of orders as it is typed, and what is wrong with it."""
    return _orders(bench_of(request))


def _orders(bench: Bench) -> dict[str, Any]:
    file = bench.folder / "orders.csv"
    draft = bench.desk.store.draft("orders.csv")
    faults: list[FileError] = []
    rows: list[dict[str, str]] = []
    content = draft if draft is not None else file.read_bytes() if file.is_file() else b""
    try:
        with tempfile.TemporaryDirectory(prefix="nesting-") as made:
            copy = Path(made) / "orders.csv"
            copy.write_bytes(content)
            try:
                rows = orders_rows(copy) if content else []
            except FileError as error:
                raise bench.desk.as_ours(error, copy.parent) from None
        if content:
            bench.desk.proved(file, content)
    except FileError as error:
        faults = list(error.all)
    steps = bench.desk.steps(file)
    return {
        "columns": [*HEADER, *ASKING],
        "headings": HEADINGS,
        "rows": rows,
        "faults": [{"place": fault.place, "value": str(fault.value), "mend": fault.mend} for fault in faults],
        "draft": draft is not None,
        "products": [row["name"] for row in _products(bench)],
        "undo": bool(steps and steps.at > 0),
        "redo": bool(steps and steps.at < steps.last),
    }


@router.put("/orders")
def write_orders(request: Request, asked: Rows) -> dict[str, Any]:
    """Write the table of orders; what cannot be written is kept as a draft and told."""
    bench = bench_of(request)
    known = (*HEADER, *ASKING)
    rows = [{name: row.get(name, "") for name in known} for row in asked.rows]
    rows = [row for row in rows if any(cell.strip() for cell in row.values())]
    for row in rows:
        row["due"] = str(day_of(row["due"]) or row["due"])
    try:
        bench.desk.change(bench.folder / "orders.csv", orders_text(rows).encode())
    except FileError:
        return _orders(bench)
    bench.hub.tell("changed", {"what": "orders"})
    return _orders(bench)


@router.post("/orders/step")
def step_orders(request: Request, asked: By) -> dict[str, Any]:
    """Undo or do again."""
    bench = bench_of(request)
    bench.step(bench.folder / "orders.csv", asked.by)
    bench.hub.tell("changed", {"what": "orders"})
    return _orders(bench)


# what the workshop makes


def _products(bench: Bench) -> list[dict[str, Any]]:
    """The products as their file has them, whatever is wrong there."""
    try:
        rows = read_toml(bench.folder / "products.toml").get("product")
    except FileError:
        return []
    found = [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    return [row | {"name": str(row.get("name", ""))} for row in found]


@router.get("/products")
def products(request: Request) -> JSONResponse:
    """What the workshop makes, with the drawing of each, and drawings that nothing is made of."""
    bench = bench_of(request)
    drawings = {
        # the workshop says what colours and names mean
        name: bench.once(("drawing", path), (path, bench.folder / "workshop.toml"), partial(_look_at, bench, path))
        for name, path in bench.desk.patterns().items()
    }
    steps = bench.desk.steps(bench.folder / "products.toml")
    found = {
        "products": [
            {
                "name": row["name"],
                "pattern": Path(str(row.get("pattern", ""))).stem,
                "same_hide": row.get("same_hide", "no"),
                "filler": row.get("filler", False),
                "same_lot": row.get("same_lot", False),
                "partial": row.get("partial", False),
                "flesh_out": row.get("flesh_out", False),
                "burn": row.get("burn"),
                "longer": row.get("longer", "knife"),
                "price": row.get("price"),
                "parts": [
                    {
                        "name": part.get("name", ""),
                        "count": part.get("count", 1),
                        "grade": part.get("grade", "A"),
                        "direction": part.get("direction", "free"),
                        "tolerance_deg": part.get("tolerance_deg", 0.0),
                        "thickness_mm": part.get("thickness_mm"),
                        "mirrored_twin": part.get("mirrored_twin", False),
                    }
                    for part in row.get("part", [])
                    if isinstance(part, dict)
                ],
            }
            for row in _products(bench)
        ],
        "drawings": drawings,
        "undo": bool(steps and steps.at > 0),
        "redo": bool(steps and steps.at < steps.last),
    }
    return JSONResponse(found)


def _look_at(bench: Bench, path: Path) -> dict[str, Any]:
    """A drawing as it is drawn, or what is wrong with it."""
    try:
        return _drawn(_read(bench, path)) | {"fault": None}
    except FileError as error:
        return {"parts": [], "guessed": False, "told": [], "asked": [], "fault": str(error)}


def _read(bench: Bench, path: Path) -> Drawing:
    workshop = bench.workshop()
    return read_drawing(path, labels=workshop.drawings if workshop else {})


def _drawn(drawing: Drawing) -> dict[str, Any]:
    return {
        "parts": shapes.of_parts(drawing.parts),
        "guessed": drawing.guessed,
        "told": list(drawing.told),
        "asked": [{"colour": colour, "count": count} for colour, count in drawing.asked_colours.items()],
    }


class ProductKey(Asked):
    """One key of a product or of a part of it, and its new value; nothing takes it out."""

    product: Annotated[int, Field(ge=0, le=1000)]
    part: Annotated[int, Field(ge=0, le=1000)] | None = None
    key: Literal[
        "name", "same_hide", "filler", "price", "count", "grade", "direction", "tolerance_deg", "thickness_mm",
        "mirrored_twin", "same_lot", "partial", "flesh_out", "burn", "longer",
    ]  # fmt: skip
    value: bool | Annotated[float, Field(ge=-1e6, le=1e6)] | Cell | None = None


@router.post("/products")
def change_product(request: Request, asked: ProductKey) -> JSONResponse:
    """Change what is asked of a product or of one of its parts."""
    bench = bench_of(request)
    file = bench.folder / "products.toml"
    place: list[str | int] = ["product", asked.product]
    place += [] if asked.part is None else ["part", asked.part]
    value: object = asked.value
    if isinstance(value, float) and value.is_integer() and asked.key == "count":
        value = int(value)
    if isinstance(value, str) and asked.key == "thickness_mm" and not value.strip():
        value = None
    bench.desk.change(file, _with(file, [*place, asked.key], value))
    bench.hub.tell("changed", {"what": "products"})
    return products(request)


def _with(file: Path, place: list[str | int], value: object) -> bytes:
    try:
        return changed_text(file, place, value).encode()
    except TOMLKitError as error:
        raise FileError(file, "file", error, "put its tables in the plain form of the README") from None


@router.delete("/products/{number}")
def remove_product(request: Request, number: int) -> JSONResponse:
    """Take a product off the list; its drawing stays."""
    bench = bench_of(request)
    file = bench.folder / "products.toml"
    if not 0 <= number < len(_products(bench)):
        raise HTTPException(404, "there is no such product")
    bench.desk.change(file, _with(file, ["product", number], None))
    bench.hub.tell("changed", {"what": "products"})
    return products(request)


@router.post("/products/step")
def step_products(request: Request, asked: By) -> JSONResponse:
    """Undo or do again."""
    bench = bench_of(request)
    bench.step(bench.folder / "products.toml", asked.by)
    bench.hub.tell("changed", {"what": "products"})
    return products(request)


# drawings


@router.post("/drawings")
async def bring(request: Request, name: Name) -> dict[str, Any]:
    """Bring a drawing in: its lines as they are understood, and a product made of it."""
    bench = bench_of(request)
    ending = Path(name).suffix.lower()
    if ending not in DRAWINGS:
        raise HTTPException(415, f"give a drawing that ends with {', '.join(DRAWINGS)}")
    content = await request.body()
    if not content:
        raise HTTPException(400, "the file is empty")
    stem = safe_name(name, bench.desk.patterns())
    kept = tempfile.TemporaryDirectory(prefix="nesting-")
    source = Path(kept.name) / f"{stem}{ending}"
    source.write_bytes(content)
    target = bench.folder / "patterns" / f"{stem}.svg"

    def after(task: Task) -> None:
        kept.cleanup()
        if task.outcome == "done":
            try:
                _list(bench, target)
            except FileError as error:
                task.answer["unlisted"] = str(error)
            bench.hub.tell("changed", {"what": "products"})
        else:
            task.faults = [fault.replace(str(source), name) for fault in task.faults]

    task = bench.works.begin("drawing", jobs.looked_at, jobs.drawing, source, target, subject=stem, after=after)
    return task.words()


@router.post("/drawings/{name}/list")
def list_drawing(request: Request, name: str) -> JSONResponse:
    """Make a product of a drawing that nothing is made of yet."""
    bench = bench_of(request)
    _list(bench, _pattern(bench, name))
    bench.hub.tell("changed", {"what": "products"})
    return products(request)


def _list(bench: Bench, path: Path) -> None:
    file = bench.folder / "products.toml"
    text = file.read_text("utf-8") if file.is_file() else ""
    bench.desk.change(file, listed_text(text, Brought(path, path, read_drawing(path))).encode())


class LineAsked(Asked):
    """One line of a part, and what it is."""

    part: Annotated[int, Field(ge=0, le=1000)]
    kind: Literal["cutout", "stitch", "engrave", "fold"]
    number: Annotated[int, Field(ge=0, le=100_000)]
    label: Literal["cutout", "stitch", "engrave", "engrave fill", "engrave line", "fold", ""]


@router.post("/drawings/{name}/line")
def label_line(request: Request, name: str, asked: LineAsked) -> dict[str, Any]:
    """Say what a line of a drawing is."""
    bench = bench_of(request)
    path = _pattern(bench, name)
    with bench.desk.changing(path):
        drawing = relabel(path, asked.part, asked.kind, asked.number, asked.label)
    bench.hub.tell("changed", {"what": "products"})
    return _drawn(drawing)


class ColourAsked(Asked):
    """A colour of lines that are asked about, and what they are."""

    colour: Annotated[str, Field(pattern="^#[0-9a-f]{6}$")]
    label: Literal["cutout", "stitch", "engrave", ""]


@router.post("/drawings/{name}/colour")
def label_colour(request: Request, name: str, asked: ColourAsked) -> dict[str, Any]:
    """Say what all lines of a colour are that is asked about."""
    bench = bench_of(request)
    path = _pattern(bench, name)
    with bench.desk.changing(path):
        drawing = answer_colour(path, asked.colour, asked.label)
    bench.hub.tell("changed", {"what": "products"})
    return _drawn(drawing)


@router.post("/drawings/{name}/agree")
def agree(request: Request, name: str) -> dict[str, Any]:
    """Agree to what the lines of a drawing without labels are taken for."""
    bench = bench_of(request)
    path = _pattern(bench, name)
    with bench.desk.changing(path):
        drawing = replace(_read(bench, path), asked=())
        write_pattern(path, drawing)
    bench.hub.tell("changed", {"what": "products"})
    return _drawn(drawing)


@router.post("/drawings/{name}/step")
def step_drawing(request: Request, name: str, asked: By) -> dict[str, Any]:
    """Undo or do again."""
    bench = bench_of(request)
    bench.step(_pattern(bench, name), asked.by)
    bench.hub.tell("changed", {"what": "products"})
    return {"done": True}


def _pattern(bench: Bench, name: str) -> Path:
    path = bench.desk.patterns().get(name)
    if path is None:
        raise HTTPException(404, "there is no such drawing")
    return path
