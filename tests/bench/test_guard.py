"""Nobody from outside this machine is let in unasked, no other page may ask, and no request leads to another file."""

import asyncio
import http.client
import re

import pytest
from bench_page import bench_page
from small_shop import small_shop

from nesting.bench.guard import Guard, Passcode
from nesting.bench.limits import DEFAULT


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with bench_page(small_shop(tmp_path_factory.mktemp("shop"))) as page:
        yield page


def test_the_page_has_a_policy_that_lets_in_nothing_from_elsewhere(page):
    _, headers, text = page.ask("GET", "/")
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'" and policy["script-src"] == "'self'"
    assert headers["x-content-type-options"] == "nosniff"
    assert not re.search(rb"https?://", text) and b"<script>" not in text


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:1", "localhost", "evil.example:{port}", ""])
def test_another_name_for_this_machine_is_refused(page, host):
    port = page.address.rpartition(":")[2]
    assert page.ask("GET", "/api/bench", Host=host.format(port=port))[0] == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1"])
def test_what_another_page_asks_is_refused(page, origin):
    assert page.ask("POST", "/api/plan/stop", {}, Origin=origin)[0] == 403
    assert page.ask("GET", "/api/bench", Origin=origin)[0] == 403


def test_a_change_that_does_not_say_where_it_is_asked_from_is_refused(page):
    assert page.ask("POST", "/api/plan/stop", {}, Origin=None)[0] == 403


def test_a_link_on_another_site_leads_to_the_page_but_to_nothing_behind_it(page):
    assert page.ask("GET", "/", Sec_Fetch_Site="cross-site")[0] == 200
    assert page.ask("GET", "/api/layout", Sec_Fetch_Site="cross-site")[0] == 403


@pytest.mark.parametrize("kind", ["hides", "photos", "made", "swatches", "static"])
@pytest.mark.parametrize(
    "name", ["..%2f..%2fetc%2fpasswd", "..", "%2e%2e%2fworkshop.toml", "calf.json%00", "/etc/passwd"]
)
def test_no_path_leads_out_of_what_is_listed(page, kind, name):
    where = f"/{'' if kind == 'static' else 'api/'}{kind}/{name}"
    assert page.ask("GET", where)[0] in (404, 405)


def test_what_is_asked_for_is_not_said_back_as_html(page):
    for path in ("/api/hides/<script>alert(1)</script>", "/<img src=x>", "/static/<b>"):
        status, headers, body = page.ask("GET", path.replace("<", "%3C").replace(">", "%3E").replace(" ", "%20"))
        assert status == 404 and "html" not in (headers["content-type"] or "")
        assert "script" not in str(body) and "img" not in str(body)


def test_more_than_the_limit_is_refused_whatever_is_said_of_its_length(page):
    line = http.client.HTTPConnection(page.address.removeprefix("http://"), timeout=20)
    line.putrequest("POST", "/api/plan")
    for name, value in (("Origin", page.address), ("Content-Length", str(DEFAULT.body_bytes + 1))):
        line.putheader(name, value)
    line.endheaders()
    assert line.getresponse().status == 413
    line.close()
    # in pieces, without a length
    line = http.client.HTTPConnection(page.address.removeprefix("http://"), timeout=20)
    pieces = (b" " * (1024 * 1024) for _ in range(2 + DEFAULT.body_bytes // 1024**2))
    try:
        line.request("POST", "/api/plan", pieces, {"Origin": page.address}, encode_chunked=True)
        status = line.getresponse().status
    except (ConnectionError, http.client.HTTPException):
        status = 0
    assert status in (0, 400, 413)
    line.close()


def test_in_the_network_nothing_is_shown_before_the_passcode(tmp_path):
    with bench_page(small_shop(tmp_path), lan=True) as page:
        assert page.ask("GET", "/api/bench")[0] == 401
        status, headers, _ = page.ask("GET", "/")
        assert (status, headers["location"]) == (303, "/enter")
        form = {"Content_Type": "application/x-www-form-urlencoded"}
        assert page.ask("POST", "/enter", content=b"passcode=00", **form)[0] == 401
        # right, but a moment after a wrong one
        code = page.served.passcode.text.encode()
        assert page.ask("POST", "/enter", content=b"passcode=" + code, **form)[0] == 401
        page.served.passcode._wrong = -1e9
        status, headers, _ = page.ask("POST", "/enter", content=b"passcode=" + code, **form)
        assert status == 303
        cookie = headers["set-cookie"].split(";")[0]
        assert "HttpOnly" in headers["set-cookie"] and "samesite=strict" in headers["set-cookie"].lower()
        assert page.ask("GET", "/api/bench", Cookie=cookie)[0] == 200
        assert page.ask("GET", "/api/bench", Cookie=cookie + "x")[0] == 401


def test_only_private_addresses_lead_to_a_page_in_the_network():
    guard = Guard(None, Passcode())
    scope = {"server": ("0.0.0.0", 8420)}
    assert guard._own("192.168.1.7:8420", scope) and guard._own("localhost:8420", scope)
    assert not guard._own("8.8.8.8:8420", scope) and not guard._own("bench.example:8420", scope)
    assert not Guard(None)._own("192.168.1.7:8420", scope)


def test_a_passcode_is_new_every_time_and_long_enough():
    assert len({Passcode().text for _ in range(20)}) == 20
    assert len(Passcode().text) == DEFAULT.passcode_digits >= 8


@pytest.mark.parametrize("begun", [False, True])
def test_an_answer_under_way_when_the_bench_is_closed_ends_without_a_word(begun):
    async def slow(scope, receive, send):
        if begun:
            await send({"type": "http.response.start", "status": 200, "headers": []})
        await asyncio.Event().wait()

    async def closed():
        sent = []

        async def send(message):
            sent.append(message)

        scope = {"type": "http", "path": "/", "method": "GET", "server": ("127.0.0.1", 80)}
        scope["headers"] = [(b"host", b"127.0.0.1:80")]
        task = asyncio.create_task(Guard(slow)(scope, None, send))
        await asyncio.sleep(0)
        task.cancel()
        await task
        return sent

    first, last = asyncio.run(closed())
    assert first["status"] == (200 if begun else 503)
    assert last["type"] == "http.response.body" and not last.get("more_body")
