"""Who may ask the page for anything: nobody from outside this machine unless asked for, and no other site's page."""

from __future__ import annotations

import asyncio
import hmac
import ipaddress
import secrets
import socket
import threading
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

from .limits import DEFAULT

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "bench"
OPEN = ("/enter", "/static/page.css", "/static/tokens.css")
"""What may be asked for before the passcode was given."""
UPLOADS = ("/api/photos", "/api/drawings")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Passcode:
    """The passcode of this run, and the tokens of those who gave it."""

    def __init__(self) -> None:
        self.text = "".join(secrets.choice("0123456789") for _ in range(DEFAULT.passcode_digits))
        self._tokens: set[str] = set()
        self._lock, self._wrong = threading.Lock(), -1e9

    def enter(self, given: str) -> str | None:
        """A token for who gives the passcode; None where it is wrong, or a wrong one was given a moment ago."""
        with self._lock:
            now = time.monotonic()
            if now - self._wrong < DEFAULT.wrong_pause_s:
                return None
            if not hmac.compare_digest(given.strip().encode(), self.text.encode()):
                self._wrong = now
                return None
            token = secrets.token_urlsafe(32)
            self._tokens.add(token)
            return token

    def knows(self, token: str) -> bool:
        """Whether a token is of somebody who gave it."""
        return any(hmac.compare_digest(token.encode(), one.encode()) for one in self._tokens)


class Guard:
    """Stands before the page's own app and lets by what may be asked.

    Parameters
    ----------
    app : App
    passcode : Passcode, optional
        Asked of everybody where the page is open to the home network.
    """

    def __init__(self, app: App, passcode: Passcode | None = None) -> None:
        self.app, self.passcode = app, passcode

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        refused = self._refused(scope, headers)
        if refused is not None:
            await _answer(send, *refused)
            return
        most = DEFAULT.photo_bytes if scope["path"] in UPLOADS else DEFAULT.body_bytes
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > most:
            await _answer(send, 413, f"at most {most // 1024**2} MB")
            return
        seen = 0

        async def bounded() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > most:
                # whoever says another length than it sends is cut off
                return {"type": "http.disconnect"}
            return message

        begun = False

        async def shielded(message: Message) -> None:
            nonlocal begun
            begun = True
            if message["type"] == "http.response.start":
                there = {name.decode("latin-1").lower() for name, _ in message["headers"]}
                more = [(name, value) for name, value in _HEADERS.items() if name not in there]
                message["headers"] = [*message["headers"], *((n.encode(), v.encode()) for n, v in more)]
            await send(message)

        try:
            await self.app(scope, bounded, shielded)
        except asyncio.CancelledError:
            # the bench is closed, and waits for no answer: it ends here, with nothing said in the terminal
            if begun:
                await send({"type": "http.response.body", "body": b""})
            else:
                await _answer(send, 503, "the bench was closed: open it again")

    def _refused(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if not self._own(host, scope):
            return 421, "this page answers to its own address only"
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{host}":
            return 403, "asked from another page"
        if scope["method"] not in ("GET", "HEAD") and origin is None:
            return 403, "say where this is asked from (Origin)"
        if headers.get("sec-fetch-site") in ("cross-site", "same-site") and scope["path"] != "/":
            return 403, "asked from another page"
        if self.passcode is not None and scope["path"] not in OPEN and not self._entered(headers):
            return (401, "give the passcode first") if scope["path"] != "/" else (303, "/enter")
        return None

    def _own(self, host: str, scope: Scope) -> bool:
        """Whether a page was asked for by this server's own address, so that no other name leads here."""
        port = (scope.get("server") or ("", 0))[1]
        name, _, given = host.rpartition(":")
        if given != str(port):
            return False
        if name in ("127.0.0.1", "localhost"):
            return True
        if self.passcode is None:
            return False
        if name.lower() in (socket.gethostname().lower(), f"{socket.gethostname().lower()}.local"):
            return True
        try:
            return ipaddress.ip_address(name.strip("[]")).is_private
        except ValueError:
            return False

    def _entered(self, headers: dict[str, str]) -> bool:
        assert self.passcode is not None
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and self.passcode.knows(cookie.value)


async def _answer(send: Send, status: int, text: str) -> None:
    headers: Iterable[tuple[str, str]] = {**_HEADERS, "content-type": "text/plain; charset=utf-8"}.items()
    if status == 303:
        headers = [*headers, ("location", text)]
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [(name.encode(), value.encode()) for name, value in headers],
        }
    )
    await send({"type": "http.response.body", "body": text.encode()})
