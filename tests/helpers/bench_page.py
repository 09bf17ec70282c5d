"""A bench over a job folder, served in this process, and what asks it for things."""

import contextlib
import json
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass

import uvicorn
from hypothesis import HealthCheck, Phase, given, settings

from nesting.bench.server import Served, _listen, _Server, make_app


@dataclass
class Page:
    """A page that is served."""

    address: str
    served: Served

    def ask(self, method, path, body=None, content=None, **headers):
        """The status, the headers and the body (read as JSON where it is) of an answer; asked from the page itself."""
        data = content if body is None else json.dumps(body).encode()
        given = {"Origin": self.address, "Content-Type": "application/json"} | headers
        given = {name.replace("_", "-"): value for name, value in given.items() if value is not None}
        request = urllib.request.Request(self.address + path, data, given, method=method)
        try:
            answer = urllib.request.build_opener(_Still).open(request, timeout=60)
        except urllib.error.HTTPError as fault:
            answer = fault
        with answer:
            text = answer.read()
            kind = answer.headers.get("content-type", "")
            return answer.status, answer.headers, json.loads(text) if "json" in kind else text

    def get(self, path):
        """The body of an answer that is as it should be."""
        status, _, body = self.ask("GET", path)
        assert status == 200, (status, body)
        return body

    def post(self, path, body=None, method="POST", **more):
        """The body of an answer that is as it should be."""
        status, _, found = self.ask(method, path, {} if body is None and not more else body, **more)
        assert status == 200, (status, found)
        return found

    def done(self, task, seconds=300.0):
        """A task once it is over; the first of all waits until the engine is compiled."""
        end = time.monotonic() + seconds
        while (now := self.get(f"/api/tasks/{task['number']}"))["state"] == "running":
            assert time.monotonic() < end, now
            time.sleep(0.05)
        return now


class _Still(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *given):
        return None


@contextlib.contextmanager
def bench_page(folder, lan=False):
    """Serve the bench over a folder for as long as the block lasts."""
    listening = _listen("127.0.0.1", 0)
    served = make_app(folder, lan)
    server = _Server(
        uvicorn.Config(served.app, log_level="error", access_log=False, lifespan="on", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, args=([listening],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield Page(f"http://127.0.0.1:{listening.getsockname()[1]}", served)
    finally:
        server.should_exit = True
        thread.join(10)


def stands_up_to(page, operation, examples):
    """Whatever fits the description of an operation: no answer to it is a fault of the server."""

    @settings(
        max_examples=examples, deadline=None, derandomize=True, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=operation.as_strategy())
    def asked(case):
        answer = case.call(headers={"Origin": page.address}, timeout=30)
        assert answer.status_code < 500, (case.path, case.body, answer.text[:200])

    asked()
