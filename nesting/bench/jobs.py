"""What tasks do in processes of their own: each calls an action, and tells how far it is."""

from __future__ import annotations

import contextlib
import json
import os
import threading
import time
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from ..app.actions.going_on import GoingOn, Settled
from ..errors import FileError
from ..model import Layout
from ..workers import Channel
from .limits import DEFAULT
from .work import Line


def ready(line: Line) -> None:
    """Compile the engine, which takes up to half a minute the first time ever."""
    from ..engine import warm_up

    warm_up()


def search(line: Line, folder: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Plan a job folder as `nesting plan` does, telling of each better layout; stopped, it draws the best so far."""
    from ..app.actions.hands import kept_of
    from ..app.actions.job import keep_stopped, notes_before, prepare_folder, to_search, write_settled
    from ..app.actions.shop import take_in
    from ..engine import Cancel, Progress, Stop, begin_warming, half_warm, warm_up
    from ..files.layout import layout_to_dict
    from ..planning.plan import SoFar, plan
    from .shapes import of_layout

    cancel, drawn, told, ending = Cancel(), [0.0], [0.0], threading.Lock()

    def stop() -> None:
        # at once, as Ctrl-C does: what is drawn of it can wait
        cancel.cancel()
        while so_far.make is None:
            time.sleep(0.05)
        if ending.acquire(blocking=False):
            done = keep_stopped(so_far, folder / "out", going_on)
            line.leave({"total": None, "kept": ""} | ({} if done is None else _of(done.settled)))

    line.say("step", "reading")
    begin_warming()
    taken = take_in(folder)
    prepared = prepare_folder(folder, asked["hides"])
    kept = kept_of(prepared, folder, resume=asked["resume"], fresh=asked["fresh"], compared=asked["compared"])
    how = {name: asked[name] for name in ("seed", "settings", "partial")}
    file, going_on = folder / "out" / "layout.json", None
    if kept is not None and kept.loose:
        going_on = GoingOn(prepared, kept, file, **how)
    line.say("notes", [*taken.done, *taken.notes, *notes_before(prepared)])
    line.say("dropped", [] if kept is None else [f"{part.name}: {why}" for part, why in kept.dropped])
    line.say("step", "warming")
    warm_up(first=True)

    def show(layout: Layout) -> None:
        drawn[0] = time.monotonic()
        # the picture is made here as well, so that the page's own process has nothing to work out
        line.say("layout", (json.dumps(layout_to_dict(layout)).encode(), json.dumps(of_layout(layout)).encode()))

    def better() -> None:
        if time.monotonic() - drawn[0] >= DEFAULT.layout_every_s and (layout := so_far.layout()) is not None:
            show(layout)

    def progress(run: Progress) -> None:
        now = time.monotonic()
        if now - told[0] >= DEFAULT.progress_every_s or run.share >= 1:
            told[0] = now
            better()
            line.say("progress", {"seconds": run.seconds, "share": run.share, "placed": run.placed, "of": run.of})

    so_far = SoFar(better)
    line.on_stop(stop)
    how |= {"prepared": prepared, "workers": asked["workers"], "kept": kept, "so_far": so_far}
    if half_warm():
        plan(prepared.job, Stop(seconds=0.0, cancel=cancel), explain=False, **how)
        warm_up(cancel=cancel)
    line.say("step", "searching")
    stop_at = Stop(seconds=to_search(asked["seconds"]), cancel=cancel)
    layout = plan(prepared.job, stop_at, progress=progress, **how)
    if not ending.acquire(blocking=False):
        threading.Event().wait()  # the other thread writes what there is, and ends this process
    settled = Settled(layout) if going_on is None else going_on.settled(layout)
    if settled.taken:
        show(layout)
    written = write_settled(settled, folder / "out", lambda step: line.say("step", step))
    if written.figures is None:
        faults = [str(finding) for finding in written.findings[:20]]
        raise FileError(folder, "layout", f"breaks {len(written.findings)} rules", f"report this: {'; '.join(faults)}")
    # as it is in the file, so that the page's own process need not read that
    line.say("view", _view(written.layout, written.figures))
    return {"total": written.figures["total"], "kept": str(written.kept or "")} | _of(settled)


def _of(settled: Settled) -> dict[str, Any]:
    return {"better": settled.taken, "words": settled.words}


def _view(layout: Layout, figures: Mapping[str, Any]) -> bytes:
    """A layout as it is drawn, JSON."""
    from .shapes import of_layout

    return json.dumps(of_layout(layout, dict(figures))).encode()


def priced(channel: Channel) -> None:
    """Give the figures of each layout that comes, the newest first; asked for beside a search, at its leisure."""
    from ..costs.figures import figures
    from ..files.layout import layout_from_dict

    with contextlib.suppress(OSError):
        os.nice(5)
    while True:
        seconds, content = channel.receive()
        while channel.waiting():
            seconds, content = channel.receive()
        layout = layout_from_dict(json.loads(content), "layout")
        channel.send((seconds, figures(layout)["total"]))


def compare(line: Line, folder: Path, asked: Mapping[str, Any]) -> bytes:
    """Plan the orders in several ways, as `nesting compare` does; each way with its layout to draw, JSON."""
    from ..app.actions.comparing import Against, compare_folder
    from ..app.actions.job import prepare_folder, to_search
    from ..engine import Cancel, Stop, warm_up
    from .shapes import of_layout

    cancel = Cancel()
    line.on_stop(cancel.cancel)
    prepared = prepare_folder(folder)
    warm_up()
    done = compare_folder(
        prepared,
        folder,
        Stop(seconds=to_search(asked["seconds"]), cancel=cancel),
        asked["seed"],
        Against(asked["by"], tuple(map(tuple, asked["beds"])), tuple(asked["gaps"]), tuple(asked["patterns"])),
        progress=lambda name: line.say("step", name),
    )
    ways = [
        {
            "name": choice.name,
            "hides": list(choice.hides),
            "planned": choice.planned,
            "whole": choice.whole,
            "wanted": choice.wanted,
            "cost": str(choice.cost),
            "changeovers": choice.changeovers,
            "panels": len(choice.layout.panels),
            "total": choice.figures["total"],
            "saved": None if saved is None else str(saved),
            "layout": of_layout(choice.layout),
        }
        for choice, saved in zip(done.choices, done.saved)
    ]
    rate = {"weeks": done.rate.weeks, "known": any(done.saved)}
    found = {
        "by": asked["by"],
        "why": done.why,
        "rate": rate,
        "currency": prepared.job.workshop.prices.currency,
        "ways": ways,
    }
    return json.dumps(found).encode()


def make(line: Line, folder: Path, seconds: float) -> dict[str, Any]:
    """Find out what could be made of the offcuts on the shelf, as `nesting make` does."""
    from ..app.actions.making import why_not_made
    from ..book.book import Book
    from ..book.making import could_make
    from ..engine import warm_up
    from ..files.job import read_making
    from ..files.layout import layout_to_dict
    from .shapes import of_layout

    line.on_stop(_leave)
    book = Book(folder)
    workshop, products = read_making(folder)
    offcuts = [book.shape(row) for row in book.hides(("shelf",)) if row.parent is not None]
    order = f"stock {book.today()}"
    warm_up()
    found = could_make(workshop, products, offcuts, order, seconds, progress=lambda product: line.say("step", product))
    rows = [
        {
            "product": one.product,
            "pieces": one.pieces,
            "price": str(one.price),
            "cost": str(one.cost),
            "margin": str(one.margin),
            "layout": layout_to_dict(one.layout),
        }
        for one in found
    ]
    shown = [row | {"layout": of_layout(one.layout)} for row, one in zip(rows, found)]
    made = {one.product for one in found}
    lacking = [product for product in products if product.name not in made]
    unkept = [one.name for one in book.unkept(products)]
    why = list(why_not_made(workshop, lacking, offcuts, unkept)) if offcuts and lacking else []
    return {"rows": rows, "view": json.dumps({"offcuts": len(offcuts), "rows": shown, "why": why}).encode()}


def take_made(line: Line, folder: Path, row: Mapping[str, Any]) -> dict[str, Any]:
    """Order what could be made for stock, its layout being the one at hand."""
    from ..app.actions.making import take_made
    from ..book.making import CouldMake
    from ..files.layout import layout_from_dict

    layout = layout_from_dict(row["layout"], "layout")
    made = CouldMake(row["product"], row["pieces"], Decimal(row["price"]), Decimal(row["cost"]), layout)
    written = take_made(folder, made)
    return {"findings": [str(finding) for finding in written.findings]}


def draw(line: Line, folder: Path) -> dict[str, Any]:
    """Write report and pictures of the layout at hand again; gives its figures, and the mark of the layout they are
    of."""
    from ..app.actions.job import write_reports_again
    from ..costs.figures import figures
    from ..files.layout import read_layout

    file = folder / "out" / "layout.json"
    line.on_stop(_leave)
    layout = read_layout(file)
    numbers = figures(layout)
    write_reports_again(file)
    return {"mark": layout.mark, "figures": numbers, "view": _view(layout, numbers)}


def today(line: Line, folder: Path) -> str | None:
    """What the layout at hand costs at the prices of now."""
    from ..app.actions.job import at_prices
    from ..costs.figures import figures
    from ..files.job import read_job
    from ..files.layout import read_layout

    line.on_stop(_leave)
    job = read_job(folder)
    layout = at_prices(read_layout(folder / "out" / "layout.json"), job.workshop, job.hides)
    return None if layout is None else str(figures(layout)["total"]["cost"])


def _leave() -> None:
    from ..atomic import clear_begun

    clear_begun()
    os._exit(0)


def export(line: Line, folder: Path, kind: str, spread_heat: bool, frame: bool) -> dict[str, Any]:
    """Write files to burn and job cards of the layout at hand, as `nesting export` does."""
    from ..app.actions.bed import export_layout
    from ..files.layout import read_layout

    layout = read_layout(folder / "out" / "layout.json")
    done = export_layout(layout, folder / "out" / "cut", folder, kind=kind, spread_heat=spread_heat, frame=frame)
    return {
        "findings": [str(finding) for finding in done.findings],
        "notes": [*done.warnings, *done.refusals, *([str(done.orders_fault)] if done.orders_fault else [])],
        "files": [path.name for path in (*done.burnt, *done.guides, *done.cards, *(t.file for t in done.templates))],
    }


def trace(
    line: Line,
    photo: Path,
    output: Path,
    given: Mapping[str, Any],
    facts: Mapping[str, Any],
    answers: Mapping[str, list[int]],
) -> dict[str, Any]:
    """Trace a photo to a hide file, as `nesting trace` does."""
    from ..app.actions.hides import trace_photo
    from ..tracing import Hints, Reference

    line.on_stop(_leave)
    _bounded(8 * DEFAULT.decode_s)
    done = trace_photo(
        photo,
        output,
        facts,
        answers=dict(answers),
        forget=given["forget"],
        reference=Reference(given["reference"], given["corners"], None, given["lengths"]),
        shown=Hints(inside=given["inside"], outside=given["outside"], rough=given["rough"]),
    )
    traced = done.trace
    return {
        "hide": output.stem,
        "reference": traced.reference,
        "expected_error_mm": traced.expected_error_mm,
        "notes": list(traced.notes),
    }


def _bounded(seconds: int) -> None:
    """So much processor time and memory may this process take, where the system can say so."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (DEFAULT.decode_bytes, DEFAULT.decode_bytes))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))


def looked_at(line: Line, work: Callable[..., Any], *given: Any) -> Any:
    """Do something with what somebody uploaded, with little memory and processor time to take."""
    _bounded(DEFAULT.decode_s)
    try:
        return work(*given)
    except MemoryError:
        raise FileError("upload", "file", "takes too much memory", "give a smaller one") from None


def photo(folder: Path, stem: str, content: bytes) -> dict[str, Any]:
    """See that it is a photo, and write it as it came."""
    from io import BytesIO

    from PIL import Image, ImageOps

    from ..atomic import write_bytes

    Image.MAX_IMAGE_PIXELS = DEFAULT.photo_pixels
    try:
        with Image.open(BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as picture:
            kind = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp"}[str(picture.format)]
            if picture.width * picture.height > DEFAULT.photo_pixels:
                raise ValueError("too many pixels")
            size = ImageOps.exif_transpose(picture).size
    except MemoryError:
        raise
    except Exception as error:  # whatever a broken picture makes its reader raise
        mend = "give the photo as the camera took it: JPEG, PNG or WebP"
        raise FileError("photo", "file", str(error)[:60], mend) from None
    write_bytes(folder / f"{stem}{kind}", content)
    return {"photo": f"{stem}{kind}", "size": size}


def drawing(source: Path, target: Path) -> dict[str, Any]:
    """Make a pattern of a drawing."""
    from ..app.actions.begin import bring_pattern

    done = bring_pattern(source, target)
    return {"name": target.stem, "told": list(done.drawing.told), "guessed": done.drawing.guessed}
