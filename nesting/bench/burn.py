"""At the laser: files to burn, job cards, guides."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from typing import Any, Literal

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from . import jobs
from .plan import Asked, bench_of, cut_for, turns_of
from .state import Bench
from .work import Task

router = APIRouter(prefix="/api")
_KINDS = {
    ".png": "image/png",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".dxf": "application/octet-stream",
    ".html": "text/html; charset=utf-8",
}
LOOK = "default-src 'none'; img-src 'self'; style-src 'self' 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'"
"""Of the page around a guide, which says in its own style how large that is printed."""
_SIZE = re.compile(rb'<svg[^>]* width="([0-9.]+)mm" height="([0-9.]+)mm"')
_SANDBOX = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'"


class ExportAsked(Asked):
    """Files to burn: as the options of `nesting export`."""

    kind: Literal["svg", "dxf"] = "svg"
    spread_heat: bool = False
    frame: bool = False


@router.post("/export")
def begin_export(request: Request, asked: ExportAsked) -> dict[str, Any]:
    """Write files to burn and job cards of the layout at hand."""
    bench = bench_of(request)
    bench.idle()
    bench.layout()
    if bench.works.running("export"):
        raise HTTPException(409, "they are being written")

    def after(task: Task) -> None:
        if task.outcome == "done" and not task.answer["findings"]:
            bench.burn_notes[cut_for(bench)] = task.answer["notes"]
        bench.hub.tell("changed", {"what": "made"})

    given = (bench.folder, asked.kind, asked.spread_heat, asked.frame)
    return bench.works.begin("export", jobs.export, *given, after=after).words()


@router.get("/made")
def made(request: Request) -> dict[str, Any]:
    """The files of the layout at hand to take away, by what they are, and when those to burn were written (seconds
    since 1970)."""
    bench = bench_of(request)
    rows, written = [], 0.0
    for name, path in bench.desk.made().items():
        if path.parent.name == "cut":
            guide = name.endswith("-guide.svg")
            kind = (
                "guide"
                if guide
                else "cards"
                if name.startswith("cards")
                else "template"
                if name.endswith("-templates.pdf")
                else "burn"
            )
        else:
            kind = "report" if name.endswith(".html") else "picture"
        if kind == "burn":
            written = max(written, path.stat().st_mtime)
        rows.append({"name": name, "kind": kind, "bytes": path.stat().st_size})
    return {"files": rows, "written": written or None}


@router.get("/burn.zip", response_model=None)
def all_to_burn(request: Request) -> Response:
    """All that was written to burn: the files of every load, guides, templates and cards; where the knife goes; and
    the report with the pictures it shows, and what every order costs."""
    from ..report.costs_list import NAME, costs_list

    bench = bench_of(request)
    made = bench.desk.made()
    paths = [path for path in made.values() if path.parent.name == "cut"]
    if not paths:
        raise HTTPException(404, "there is no such file: write the files to burn again")
    report = made["report.html"].read_text("utf-8") if "report.html" in made else ""
    for path in made.values():
        beside = path.parent.name != "cut"
        if beside and (path.name.startswith(("cutting-guide-", "report.")) or f'src="{path.name}"' in report):
            paths.append(path)
    _, figures = bench.layout()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in paths:
            archive.write(path, path.name)
        if figures.get("costs"):
            archive.writestr(NAME, costs_list(figures))
    headers = {"content-disposition": 'attachment; filename="to-burn.zip"'}
    return Response(packed.getvalue(), media_type="application/zip", headers=headers)


@router.get("/made/{name}")
def made_file(request: Request, name: str, take: bool = False) -> Response:
    """One of them, to look at or, with ``take``, to keep."""
    path = bench_of(request).desk.made().get(name)
    if path is None:
        raise HTTPException(404, "there is no such file: write the files to burn again")
    kind = _KINDS.get(path.suffix, "application/octet-stream")
    headers = {"content-security-policy": _SANDBOX} if path.suffix in (".html", ".svg") else {}
    if take:
        headers["content-disposition"] = f'attachment; filename="{path.name}"'
    return Response(path.read_bytes(), media_type=kind, headers=headers)


@dataclass(frozen=True)
class Guide:
    """A guide to look at and print: ``bed`` or ``knife``, what it is about, and its true size."""

    kind: str
    about: str
    size_mm: tuple[float, float]

    @property
    def large(self) -> bool:
        """Whether it goes on no sheet of A4 or letter paper."""
        return min(self.size_mm) > 210.0 or max(self.size_mm) > 279.0


def turn_of(bench: Bench, name: str) -> dict[str, Any] | None:
    """When the load of a guide is burnt and what waits for it; None where that is not known, or it is burnt."""
    if not bench.planned() or cut_for(bench) != bench.layout()[0].mark:
        return None
    named = {f"{turn['hide']}-panel-{turn['panel']}-": turn for turn in turns_of(bench)}
    return named.get(max((stem for stem in named if name.startswith(stem)), key=len, default=""))


def guide(bench: Bench, name: str) -> Guide | None:
    """The guide of a name; None where there is none."""
    path = bench.desk.made().get(name)
    if path is None:
        return None
    if name.endswith("-guide.svg") and (found := _SIZE.search(path.read_bytes()[:2000])):
        about = name.removesuffix("-guide.svg").replace("-panel-", " / ")
        return Guide("bed", about, (float(found[1]), float(found[2])))
    if name.startswith("cutting-guide-") and path.suffix == ".png":
        from PIL import Image

        with Image.open(path, formats=("PNG",)) as opened:
            dots = [max(float(one), 1.0) for one in opened.info.get("dpi", (96, 96))]
            size = 25.4 * opened.size[0] / dots[0], 25.4 * opened.size[1] / dots[1]
        return Guide("knife", path.stem.removeprefix("cutting-guide-"), size)
    return None
