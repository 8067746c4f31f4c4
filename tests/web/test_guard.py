from __future__ import annotations

import asyncio
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi import FastAPI, Request
from fastapi.testclient import TestClient
from starlette.responses import Response
from starlette.types import Message, Receive, Scope, Send

from webapp.web.guard import BODY_LIMIT, FORM_LIMIT, KNOCK_LIMIT, UPLOADS, UPLOADS_EACH, Guard, Hosts
from webapp.web.settings import Settings

HERE = "http://localhost:8765"


def app_with(settings: Settings) -> FastAPI:
    """The least app that changes something, behind the real guard."""
    app = FastAPI()
    app.add_middleware(Guard, settings=settings)
    app.state.changes = 0

    @app.get("/")
    async def look() -> dict[str, int]:
        return {"changes": app.state.changes}

    @app.post("/")
    async def change(request: Request) -> dict[str, int]:
        form = await request.form()
        app.state.changes += 1
        return {"fields": len(form)}

    return app


@pytest.fixture
def client() -> Iterator[TestClient]:
    with TestClient(app_with(Settings(Path("unused"))), base_url=HERE) as made:
        yield made


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1:8765", "[::1]:8765", "LOCALHOST:8765"])
def test_its_own_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["localhost", "localhost:80", "localhost:8766", "elsewhere.example:8765", "testserver", "",
     "localhost:8765.elsewhere.example", "elsewhere.example@localhost:8765", "192.168.1.2:8765"],
)  # fmt: skip
def test_other_names_are_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 400
    assert "not one that Benchside answers to" in answer.text


def test_on_every_address_a_bare_address_is_answered_but_no_foreign_name() -> None:
    hosts = Hosts(Settings(Path("unused"), host="0.0.0.0", extra_hosts=("shed.local",)))
    for good in ("192.168.1.2:8765", "[fe80::1]:8765", "shed.local:8765", "localhost:8765"):
        assert hosts.allows(good), good
    for bad in ("192.168.1.2", "192.168.1.2:80", "shed.example:8765", "a@192.168.1.2:8765", "1.2.3.4:x", "["):
        assert not hosts.allows(bad), bad


def test_on_port_80_the_port_may_be_left_out() -> None:
    hosts = Hosts(Settings(Path("unused"), port=80))
    assert hosts.allows("localhost") and hosts.allows("localhost:80")


@pytest.mark.parametrize(
    "evidence",
    [
        {"Origin": HERE},
        {"Origin": HERE.upper()},
        {"Sec-Fetch-Site": "same-origin"},
        {"Origin": HERE, "Sec-Fetch-Site": "same-origin"},
        {"Origin": HERE, "Sec-Fetch-Site": "none"},
    ],
)
def test_its_own_pages_may_change_things(client: TestClient, evidence: dict[str, str]) -> None:
    assert client.post("/", data={"a": "1"}, headers=evidence).status_code == 200
    assert client.get("/").json() == {"changes": 1}


@pytest.mark.parametrize(
    "evidence",
    [
        {},
        {"Origin": "null"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "http://localhost:3000"},
        {"Origin": "https://localhost:8765"},
        {"Origin": "http://127.0.0.1:8765"},
        {"Origin": HERE + ".elsewhere.example"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "null", "Sec-Fetch-Site": "same-origin"},
        {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "same-origin"},
        {"Origin": HERE, "Sec-Fetch-Site": "same-site"},
        {"Origin": HERE, "Sec-Fetch-Site": "cross-site"},
        {"Origin": ""},
        {"Referer": HERE + "/"},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_other_pages_may_not(client: TestClient, method: str, evidence: dict[str, str]) -> None:
    answer = client.request(method, "/", headers=evidence)
    assert answer.status_code == 403
    assert "<h1>Nothing was changed</h1>" in answer.text
    assert client.get("/").json() == {"changes": 0}


def test_a_body_that_says_it_is_too_long_is_refused(client: TestClient) -> None:
    answer = client.post("/", content=b"a" * (BODY_LIMIT + 1), headers={"Origin": HERE})
    assert answer.status_code == 413
    assert client.get("/").json() == {"changes": 0}


def test_a_body_that_keeps_coming_is_refused(client: TestClient) -> None:
    def endless() -> Iterator[bytes]:
        yield from (b"a" * 100_000 for _ in range(20))

    form = {"Origin": HERE, "Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post("/", content=endless(), headers=form)
    assert answer.status_code == 413
    assert client.get("/").json() == {"changes": 0}


def test_a_body_of_the_limit_is_taken(client: TestClient) -> None:
    body = b"a=" + b"b" * (FORM_LIMIT - 2)
    form = {"Origin": HERE, "Content-Type": "application/x-www-form-urlencoded"}
    assert client.post("/", content=body, headers=form).json() == {"fields": 1}
    assert client.post("/", content=body + b"b", headers=form).status_code == 413


@pytest.mark.parametrize("path, most", [("/pair", KNOCK_LIMIT), ("/enter/x", KNOCK_LIMIT), *[
    (path, FORM_LIMIT) for path in UPLOADS
]])  # fmt: skip
def test_a_form_of_nothing_but_signs_is_refused_before_it_is_read(
    client: TestClient, path: str, most: int
) -> None:
    form = {"Origin": HERE, "Content-Type": "Application/x-www-form-urlencoded; charset=utf-8"}
    answer = client.post(path, content=b"&" * (most + 1), headers=form)
    assert answer.status_code == 413 and "Nothing was changed" in answer.text


def test_so_many_files_are_on_their_way_at_once() -> None:
    """Each waits for its end; the one too many is turned away, and there is room again when one is in."""
    held: list[asyncio.Event] = []

    async def slow(scope: Scope, receive: Receive, send: Send) -> None:
        held.append(asyncio.Event())
        await held[-1].wait()
        await Response("in")(scope, receive, send)

    guard = Guard(slow, Settings(Path("unused")))

    async def send_one(who: str) -> int:
        headers = [(b"host", b"localhost:8765"), (b"origin", HERE.encode())]
        scope = {
            "type": "http", "method": "POST", "path": "/air/import", "query_string": b"", "scheme": "http",
            "headers": headers, "client": (who, 1),
        }  # fmt: skip
        statuses = []

        async def receive() -> Message:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Message) -> None:
            if message["type"] == "http.response.start":
                statuses.append(message["status"])

        await guard(scope, receive, send)
        return int(statuses[0])

    async def crowd() -> list[int]:
        first = [asyncio.create_task(send_one("10.0.0.1")) for _ in range(UPLOADS_EACH)]
        await asyncio.sleep(0.01)
        refused = [await send_one("10.0.0.1")]
        other = asyncio.create_task(send_one("10.0.0.2"))
        await asyncio.sleep(0.01)
        for one in held:
            one.set()
        taken = [await one for one in (*first, other)]
        again = asyncio.create_task(send_one("10.0.0.1"))
        await asyncio.sleep(0.01)
        held[-1].set()
        return [*refused, *taken, await again]

    # In a thread of its own: a browser of another test may keep a loop running in this one.
    with ThreadPoolExecutor(1) as thread:
        answers = thread.submit(lambda: asyncio.run(crowd())).result()
    assert answers == [503, *[200] * (UPLOADS_EACH + 2)]


@pytest.mark.parametrize("path, status", [("/", 200), ("/nowhere", 404)])
def test_every_answer_tells_the_browser_to_be_careful(client: TestClient, path: str, status: int) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    policy = answer.headers["Content-Security-Policy"].split("; ")
    assert policy[0] == "default-src 'none'"
    assert {"script-src 'self'", "style-src 'self'", "form-action 'self'", "base-uri 'none'"} <= set(policy)
    assert "object-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert not any("unsafe" in rule or "*" in rule for rule in policy)
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert "camera=()" in answer.headers["Permissions-Policy"]
    assert answer.headers["Cache-Control"] == "no-store"


def test_refusals_carry_the_headers_too(client: TestClient) -> None:
    for answer in (client.get("/", headers={"Host": "elsewhere.example"}), client.post("/")):
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_two_hosts_or_two_origins_are_refused(client: TestClient) -> None:
    twice = [("Host", "localhost:8765"), ("Host", "elsewhere.example")]
    assert client.get("/", headers=twice).status_code == 400  # type: ignore[arg-type]
    origins = [("Origin", HERE), ("Origin", "https://elsewhere.example")]
    assert client.post("/", headers=origins).status_code == 403  # type: ignore[arg-type]


def test_a_refused_name_is_told_the_fix_and_not_read_back(client: TestClient) -> None:
    answer = client.get("/", headers={"Host": "<b>elsewhere</b>.example"})
    assert answer.headers["Content-Type"] == "text/html; charset=utf-8"
    assert "Open http://127.0.0.1:8765/ instead" in answer.text and "--name" in answer.text
    assert "elsewhere" not in answer.text


HOSTED = Settings(Path("unused"), extra_hosts=("bench.example.org",), hosted=True, proxies=("10.0.0.1",))


def test_hosted_only_the_names_given_are_answered() -> None:
    hosts = Hosts(HOSTED)
    for good in ("bench.example.org", "bench.example.org:443", "BENCH.example.org"):
        assert hosts.allows(good), good
    for bad in ("localhost:8765", "127.0.0.1:8765", "bench.example.org:8765", "example.org", "10.0.0.1", ""):
        assert not hosts.allows(bad), bad


def test_a_name_may_be_given_with_its_port() -> None:
    hosts = Hosts(replace(HOSTED, extra_hosts=("bench.example.org:8443",)))
    assert hosts.allows("bench.example.org:8443")
    assert not hosts.allows("bench.example.org") and not hosts.allows("bench.example.org:443")


def test_over_https_the_port_may_be_left_out_where_it_is_the_usual_one() -> None:
    files = {"tls_cert": Path("cert"), "tls_key": Path("key")}
    assert Hosts(Settings(Path("unused"), port=443, **files)).allows("localhost")  # type: ignore[arg-type]
    assert not Hosts(Settings(Path("unused"), port=80, **files)).allows("localhost")  # type: ignore[arg-type]


def test_hosted_plain_http_is_refused_and_https_is_kept() -> None:
    with TestClient(app_with(HOSTED), base_url="http://bench.example.org") as plain:
        answer = plain.get("/")
        assert answer.status_code == 400 and "X-Forwarded-Proto" in answer.text
    with TestClient(app_with(HOSTED), base_url="https://bench.example.org") as secure:
        answer = secure.get("/")
        assert answer.status_code == 200
        assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        own = {"Origin": "https://bench.example.org"}
        assert secure.post("/", headers=own).status_code == 200
        assert secure.post("/", headers={"Origin": "http://bench.example.org"}).status_code == 403


def test_at_home_no_browser_is_told_to_insist_on_https(client: TestClient) -> None:
    assert "Strict-Transport-Security" not in client.get("/").headers
