"""Ways to cut the same orders, side by side."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from pydantic import Field

from . import jobs
from .limits import DEFAULT
from .plan import Asked, Name, bench_of
from .work import Task

router = APIRouter(prefix="/api")
Side = Annotated[float, Field(ge=10, le=1e5)]


class CompareAsked(Asked):
    """A comparison: as the options of `nesting compare`."""

    by: Literal["hides", "settings", "bed", "gaps", "patterns"] = "hides"
    beds: Annotated[list[tuple[Side, Side]], Field(max_length=10)] = []
    gaps: Annotated[list[Annotated[float, Field(ge=0, le=100)]], Field(max_length=10)] = []
    patterns: Annotated[list[tuple[Name, Name]], Field(max_length=10)] = []
    seconds: Annotated[float, Field(ge=DEFAULT.least_seconds, le=DEFAULT.most_seconds)] = 60.0
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 0


@router.post("/compare")
def begin_compare(request: Request, asked: CompareAsked) -> dict[str, Any]:
    """Plan the same orders in several ways."""
    bench = bench_of(request)
    bench.idle()
    if bench.works.running("compare"):
        raise HTTPException(409, "a comparison is under way")

    def heard(task: Task, word: str, data: Any) -> None:
        task.told[word] = data
        bench.hub.tell("task", task.words())

    def after(task: Task) -> None:
        if task.outcome == "done":
            # as JSON from the process that made them: layouts are large
            bench.compared, task.answer = task.answer, None

    drawings = bench.desk.patterns()
    if unknown := {name for pair in asked.patterns for name in pair} - set(drawings):
        raise HTTPException(404, f"there is no drawing {sorted(unknown)[0]}")
    if asked.by in ("gaps", "patterns") and not getattr(asked, asked.by):
        raise HTTPException(400, "say what to compare with")
    given = asked.model_dump() | {"patterns": [(drawings[old], drawings[new]) for old, new in asked.patterns]}
    return bench.works.begin("compare", jobs.compare, bench.folder, given, heard=heard, after=after).words()


@router.post("/compare/stop")
def stop_compare(request: Request) -> dict[str, Any]:
    """End the comparison under way with the ways it has."""
    return bench_of(request).stop("compare")


@router.get("/compare")
def compared(request: Request) -> Response:
    """What the last comparison came to."""
    found = bench_of(request).compared
    if found is None:
        raise HTTPException(404, "nothing was compared yet")
    return Response(found, media_type="application/json")
