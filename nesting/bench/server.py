"""The page's server: put together, started, and ended with everything it began."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import webbrowser
from collections.abc import AsyncIterator, Callable, Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from jinja2 import Environment, PackageLoader, select_autoescape

from ..errors import FileError, ModelError
from . import burn, compare, hides, jobs, orders, overview, plan, shop, workshop
from .desk import Desk
from .guard import COOKIE, App, Guard, Passcode
from .limits import DEFAULT
from .state import Bench
from .store import NAME, Store
from .words import LANGUAGES, chosen, said, words
from .work import Hub, Works

_KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}


@dataclass
class Served:
    """An app to serve, and what it was made of."""

    app: App
    api: FastAPI
    bench: Bench
    passcode: Passcode | None


def make_app(folder: Path, lan: bool = False) -> Served:
    """The app of the page over a job folder; with ``lan`` a passcode stands before it.

    Raises
    ------
    FileError
        When the folder is none, or its memory is damaged or in use.
    """
    if folder.exists() and not folder.is_dir():
        raise FileError(folder, "folder", "not a folder", "give the name of a job folder, or of a new one")
    folder = folder.resolve()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(folder, "folder", error.strerror or error, "give a folder that you may write to") from None
    store, hub = Store(folder / NAME), Hub()
    bench = Bench(folder, Desk(folder, store), hub, Works(hub))

    @contextlib.asynccontextmanager
    async def lasting(app: FastAPI) -> AsyncIterator[None]:
        hub.begin()
        # a proof takes seconds, and the page answers meanwhile
        bench.taking_up = True
        beside = [threading.Thread(target=plan.take_up, args=(bench,), daemon=True)]
        beside.append(threading.Thread(target=bench.keep_up, daemon=True))
        for thread in beside:
            thread.start()
        yield
        bench.leave()
        for thread in beside:
            await asyncio.to_thread(thread.join)
        bench.works.close()
        store.close()

    api = FastAPI(title="bench", docs_url=None, redoc_url=None, lifespan=lasting)
    api.state.bench = bench
    passcode = Passcode() if lan else None
    for part in (overview, plan, orders, hides, burn, compare, shop, workshop):
        api.include_router(part.router)
    _page(api, passcode)

    @api.exception_handler(FileError)
    async def wrong_file(request: Request, error: FileError) -> JSONResponse:
        home = f"{folder}/"
        faults = [
            {"file": fault.file.removeprefix(home), "place": fault.place, "value": str(fault.value), "mend": fault.mend}
            for fault in error.all
        ]
        return JSONResponse({"faults": faults, "detail": faults[0]["mend"]}, 422)

    @api.exception_handler(RequestValidationError)
    async def not_as_described(request: Request, error: RequestValidationError) -> JSONResponse:
        # what was sent is not said back: it may be no JSON at all
        faults = [
            {"file": "", "place": " > ".join(map(str, fault["loc"])), "value": "", "mend": str(fault["msg"])}
            for fault in error.errors()[:20]
        ]
        return JSONResponse({"faults": faults, "detail": faults[0]["mend"]}, 422)

    @api.exception_handler(ModelError)
    async def wrong_value(request: Request, error: ModelError) -> JSONResponse:
        fault = {"file": "", "place": error.thing, "value": str(error.value), "mend": error.mend}
        return JSONResponse({"faults": [fault], "detail": error.mend}, 422)

    return Served(Guard(api, passcode), api, bench, passcode)


def _page(api: FastAPI, passcode: Passcode | None) -> None:
    """The page itself, its files, the words, and what happens as it happens."""
    pages = Environment(loader=PackageLoader("nesting.bench"), autoescape=select_autoescape())
    static = resources.files("nesting.bench") / "static"
    files = {file.name: file.read_bytes() for file in static.iterdir() if Path(file.name).suffix in _KINDS}

    def page(request: Request, name: str, status: int = 200, **more: Any) -> HTMLResponse:
        language = chosen(request.cookies.get("language", ""), request.headers.get("accept-language", ""))
        text = pages.get_template(name).render(language=language, say=words(language), **more)
        return HTMLResponse(text, status)

    @api.get("/", include_in_schema=False)
    def home(request: Request) -> HTMLResponse:
        return page(request, "page.html")

    @api.get("/static/{name}", include_in_schema=False)
    def static_file(name: str) -> Response:
        if name not in files:
            return Response("there is no such file", 404)
        return Response(files[name], media_type=_KINDS[Path(name).suffix])

    @api.get("/look/{name}", include_in_schema=False)
    def look(request: Request, name: str) -> Response:
        """A guide in a window: what it is, as large as fits, and printed at its true size."""
        found = burn.guide(request.app.state.bench, name)
        if found is None:
            return Response("there is no such guide: write the files to burn again", 404)
        wide, high = (f"{side:.0f}" for side in found.size_mm)
        told: dict[str, Any] = {"kind": found.kind, "about": found.about, "wide": wide, "high": high}
        told["turn"] = burn.turn_of(request.app.state.bench, name) if found.kind == "bed" else None
        answer = page(request, "look.html", 200, file=f"/api/made/{name}", large=found.large, **told)
        answer.headers["content-security-policy"] = burn.LOOK
        return answer

    @api.get("/words/{language}")
    def catalogue(language: str) -> JSONResponse:
        if language not in LANGUAGES:
            return JSONResponse({"detail": f"give {' or '.join(LANGUAGES)}"}, 404)
        return JSONResponse({"words": words(language), "said": said(language)})

    @api.get("/enter", include_in_schema=False)
    def enter(request: Request) -> HTMLResponse:
        return page(request, "enter.html", wrong=False)

    @api.post("/enter", include_in_schema=False)
    async def entered(request: Request) -> Response:
        given = (await request.body()).decode(errors="replace").removeprefix("passcode=")
        token = passcode.enter(given) if passcode is not None else None
        if token is None:
            return page(request, "enter.html", 401, wrong=True)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(COOKIE, token, httponly=True, samesite="strict")
        return answer

    @api.get("/api/events", include_in_schema=False)
    async def events(request: Request) -> StreamingResponse:
        hub: Hub = request.app.state.bench.hub

        async def told() -> AsyncIterator[str]:
            ear = hub.listen()
            try:
                yield "retry: 1000\n\n"
                while True:
                    try:
                        yield await asyncio.wait_for(ear.get(), DEFAULT.keep_alive_s)
                    except TimeoutError:
                        yield ": still here\n\n"
            finally:
                hub.leave(ear)

        return StreamingResponse(told(), media_type="text/event-stream")


class _Server(uvicorn.Server):
    """Leaves signals to the command it runs in."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def serve(folder: Path, port: int | None, lan: bool, show: bool, say: Callable[[str], None]) -> None:
    """Serve the page until the command is ended.

    Parameters
    ----------
    folder : Path
    port : int, optional
        The next free one from the usual on, by default.
    lan : bool
        Answer to the home network as well, to whoever gives the passcode that is said.
    show : bool
        Open the browser.
    say : callable
        Told where the page is, and the passcode.

    Raises
    ------
    FileError
        When the port is taken, or as by `make_app`.
    """
    listening = _listen("0.0.0.0" if lan else "127.0.0.1", port)
    number = listening.getsockname()[1]
    served = make_app(folder, lan)
    address = f"http://127.0.0.1:{number}/"
    say(f"The bench is at {address}")
    if served.passcode is not None:
        say(f"In your network: http://{_own_address()}:{number}/   passcode {served.passcode.text}")
        say("Whoever has the passcode can change this folder; close the bench (Ctrl-C) when you are done.")
    else:
        say("Ctrl-C closes it; all you did is kept.")
    config = uvicorn.Config(
        served.app,
        log_level="warning",
        access_log=False,
        lifespan="on",
        server_header=False,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=1,
    )
    server = _Server(config)
    if show:
        webbrowser.open(address)
    served.bench.works.begin("ready", jobs.ready)
    server.run([listening])


def _listen(host: str, port: int | None) -> socket.socket:
    wanted = range(DEFAULT.port, DEFAULT.port + DEFAULT.ports_tried) if port is None else (port,)
    for number in wanted:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, number))
            listening.listen(128)
            return listening
        except OSError:
            listening.close()
    raise FileError("--port", "port", wanted[0], "another program has it: give another with --port")


def _own_address() -> str:
    """This machine's address in its network; asks nobody."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking, contextlib.suppress(OSError):
        asking.connect(("192.0.2.1", 9))
        return str(asking.getsockname()[0])
    return socket.gethostname()
