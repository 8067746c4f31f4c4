"""The hosted form: whose word is taken about the caller, and what is written down."""

from __future__ import annotations

import io
import json
import logging
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from webapp.app import create_app
from webapp.store import benches, ways_in
from webapp.store.engine import writing
from webapp.trade.content import load_trade
from webapp.web.log import OneLine, start_log
from webapp.web.settings import Settings, assets

NAME = "bench.example.org"
AGENT = {"User-Agent": "Mozilla/5.0 (iPhone) Mobile", "Origin": f"https://{NAME}"}


@pytest.fixture
def app(engine: Engine, tmp_path: Path) -> FastAPI:
    settings = Settings(tmp_path, extra_hosts=(NAME,), hosted=True, proxies=("10.0.0.0/24",))
    return create_app(settings, load_trade(assets().content), engine)


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    loggers = [logging.getLogger(name) for name in ("benchside", "uvicorn")]
    before = [(log.handlers, log.propagate, log.level) for log in loggers]
    stream = io.StringIO()
    start_log(stream)
    yield stream
    for log, (handlers, propagate, level) in zip(loggers, before, strict=True):
        log.handlers, log.propagate = handlers, propagate
        log.setLevel(level)


def lines(written: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in written.getvalue().splitlines()]


def through_proxy(app: FastAPI, address: str = "10.0.0.7", scheme: str = "http") -> TestClient:
    return TestClient(app, base_url=f"{scheme}://{NAME}", headers=AGENT, client=(address, 40000))


FORWARDED = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}


def test_a_trusted_proxy_says_who_calls_and_how(app: FastAPI, written: io.StringIO) -> None:
    assert through_proxy(app).get("/", headers=FORWARDED).status_code == 401
    (answered,) = lines(written)
    assert (answered["client"], answered["status"], answered["route"]) == ("203.0.113.9", 401, "/")


def test_a_caller_cannot_put_words_into_the_proxys_mouth(app: FastAPI, written: io.StringIO) -> None:
    forged = {**FORWARDED, "X-Forwarded-For": "127.0.0.1, 203.0.113.9"}
    through_proxy(app).get("/", headers=forged)
    assert lines(written)[-1]["client"] == "203.0.113.9"


@pytest.mark.parametrize("header", ["X-Forwarded-Proto", "Forwarded", "X-Forwarded-Host", "X-Real-IP"])
def test_nobody_else_is_believed(app: FastAPI, written: io.StringIO, header: str) -> None:
    said = {"X-Forwarded-Proto": "https", "Forwarded": f"proto=https;host={NAME}",
            "X-Forwarded-Host": NAME, "X-Real-IP": "127.0.0.1"}[header]  # fmt: skip
    stranger = through_proxy(app, "198.51.100.4")
    assert stranger.get("/", headers={header: said}).status_code == 400
    assert lines(written)[-1]["client"] == "198.51.100.4"


def test_at_home_forwarded_headers_mean_nothing(engine: Engine, tmp_path: Path, written: io.StringIO) -> None:
    app = create_app(Settings(tmp_path), load_trade(assets().content), engine)
    here = TestClient(app, base_url="http://127.0.0.1:8765", client=("127.0.0.1", 1))
    assert here.post("/units", headers={**FORWARDED, "Origin": "https://127.0.0.1:8765"}).status_code == 403
    assert lines(written)[-1]["client"] == "127.0.0.1"


def test_the_log_tells_what_happened_and_no_secret(
    app: FastAPI, engine: Engine, written: io.StringIO
) -> None:
    with writing(engine) as session:
        bench = benches.make(session, datetime.now(UTC))
        code = ways_in.make_entry(session, bench, datetime.now(UTC))
        pairing = ways_in.make_pairing(session, bench, datetime.now(UTC)).code
    with through_proxy(app, scheme="https") as browser:
        browser.get(f"/enter/{code}?code={code}", headers={"Referer": f"https://{NAME}/enter/{code}"})
        assert browser.post(f"/enter/{code}").status_code == 200
        browser.get(f"/pair/{pairing}")
        browser.post("/pair", data={"code": "AAAA-AAAA-AAAA", "device_name": "x"})
        browser.get(f"/nowhere/{code}")
        browser.get(f"/enter/{code}/more")
        secret = next(iter(browser.cookies.values()))
    whole = written.getvalue()
    for hidden in (code, pairing, secret, "AAAA-AAAA"):
        assert hidden not in whole
    said = [(line["what"], line.get("route"), line.get("status")) for line in lines(written)]
    assert ("came in", None, None) in said and ("answered", "/enter/{code}", 303) in said
    assert ("answered", "/pair/{code}", 200) in said and ("answered", "(none)", 404) in said
    refused = next(line for line in lines(written) if line["what"] == "refused")
    assert refused["why"] == "wrong pairing code" and refused["client"]
    home = next(line for line in lines(written) if line.get("route") == "/")
    assert home["bench"] == bench and home["key"]


def test_a_failure_is_counted_and_its_inside_is_not_told(app: FastAPI, written: io.StringIO) -> None:
    @app.get("/test/broken")
    def broken() -> None:
        raise RuntimeError("inside\nout")

    with TestClient(app, base_url=f"https://{NAME}", headers=AGENT, raise_server_exceptions=False) as browser:
        answer = browser.get("/test/broken")
    assert answer.status_code == 500 and "inside" not in answer.text
    (answered,) = lines(written)
    assert answered["status"] == 500 and answered["route"] == "/test/broken"


def test_nothing_that_is_logged_can_begin_a_line_of_its_own() -> None:
    try:
        raise RuntimeError("one\ntwo")
    except RuntimeError:
        record = logging.LogRecord("benchside", 20, "", 0, "a\nb\u2028c", None, sys.exc_info())
    record.client = "1.2.3.4\n{}"
    told = OneLine().format(record)
    assert len(told.splitlines()) == 1
    read = json.loads(told)
    assert read["what"] == "a\nb\u2028c" and read["client"] == "1.2.3.4\n{}" and "two" in read["trace"]


def test_the_cookie_is_for_https_only_and_for_this_host_only(app: FastAPI, engine: Engine) -> None:
    with writing(engine) as session:
        code = ways_in.make_entry(session, benches.make(session, datetime.now(UTC)), datetime.now(UTC))
    with through_proxy(app, scheme="https") as browser:
        cookie = browser.post(f"/enter/{code}", follow_redirects=False).headers["Set-Cookie"]
    assert cookie.startswith("__Host-benchside_")
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=lax"} <= set(cookie.split("; "))
    assert "Domain" not in cookie


def test_hosted_no_bench_is_made_by_itself(app: FastAPI, engine: Engine) -> None:
    with through_proxy(app, scheme="https") as browser:
        assert browser.get("/").status_code == 401
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM bench").scalar() == 0
