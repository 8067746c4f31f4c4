"""Coming in: by the printed link, by a code; and what a browser without a key meets."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, keyed
from tests.pages.conftest import Form, plain
from webapp.pages.visit.visit import guessed_name
from webapp.store import benches, keys, rates, ways_in
from webapp.store.engine import reading, writing

PHONE = "Mozilla/5.0 (Linux; Android 15; Pixel) Mobile Safari"


@pytest.fixture
def app(client: TestClient) -> FastAPI:
    assert isinstance(client.app, FastAPI)
    return client.app


@pytest.fixture
def stranger(app: FastAPI) -> TestClient:
    """A browser without a key, on another address than ours."""
    headers = {"Origin": ORIGIN, "User-Agent": PHONE}
    return TestClient(app, base_url=ORIGIN, headers=headers, follow_redirects=False, client=("10.0.0.8", 1))


def browser(app: FastAPI, address: str) -> TestClient:
    """A browser without a key, at an address of its own."""
    headers = {"Origin": ORIGIN}
    return TestClient(app, base_url=ORIGIN, headers=headers, follow_redirects=False, client=(address, 1))


def entry(engine: Engine) -> str:
    with writing(engine) as session:
        own = benches.get_or_create_local_bench(session).id
        return f"/enter/{ways_in.make_entry(session, own, datetime.now(UTC))}"


def pairing(engine: Engine) -> str:
    with writing(engine) as session:
        own = benches.get_or_create_local_bench(session).id
        return ways_in.make_pairing(session, own, datetime.now(UTC)).code


def names(engine: Engine) -> list[str]:
    with reading(engine) as session:
        own = benches.local_bench(session)
        return [] if own is None else [key.device_name for key in keys.list_for(session, own.id)]


def test_without_a_key_a_page_says_how_to_get_in(stranger: TestClient) -> None:
    for path in ("/", "/instruments/new", "/setups/anything", "/phone", "/devices"):
        answer = stranger.get(path)
        assert answer.status_code == 401
        words = plain(answer.text)
        assert "You need a key" in words and "benchside link" in words and "Use your phone" in words
        assert 'href="/pair"' in answer.text


@pytest.mark.parametrize("cookie", ["", "x", "é", "a" * 5000, "null", "0"])
def test_a_made_up_key_is_none(app: FastAPI, stranger: TestClient, cookie: str) -> None:
    value = f"{app.state.bench_app.cookie}={cookie}".encode()
    assert stranger.get("/", headers=[(b"Cookie", value)]).status_code == 401  # type: ignore[arg-type]


def test_looking_at_the_link_uses_nothing_up_and_the_button_does(
    engine: Engine, stranger: TestClient
) -> None:
    link = entry(engine)
    for _ in range(3):
        page = stranger.get(link)
        assert page.status_code == 200 and "set-cookie" not in page.headers
        assert page.text.count("<button") == 1 and f'action="{link}"' in page.text
    assert stranger.head(link).status_code in (200, 405)
    answer = stranger.post(link)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert stranger.get("/").status_code == 200


def test_the_link_works_once(engine: Engine, app: FastAPI, stranger: TestClient) -> None:
    link = entry(engine)
    stranger.post(link)
    other = TestClient(app, base_url=ORIGIN, headers={"Origin": ORIGIN})
    answer = other.post(link)
    assert answer.status_code == 410 and "benchside link" in answer.text
    assert "set-cookie" not in answer.headers
    assert stranger.post(link).headers["location"] == "/"  # a second press of the same button does no harm


def test_a_device_that_is_in_goes_straight_on_and_leaves_the_link_good(
    engine: Engine, client: TestClient, stranger: TestClient
) -> None:
    link = entry(engine)
    assert client.get(link, follow_redirects=False).headers["location"] == "/"
    assert stranger.post(link).status_code == 303


def test_the_cookie_is_out_of_scripts_reach_and_lasts(
    engine: Engine, app: FastAPI, stranger: TestClient
) -> None:
    cookie = stranger.post(entry(engine)).headers["Set-Cookie"]
    name, _, rest = cookie.partition("=")
    assert name == app.state.bench_app.cookie and name.startswith("benchside_")
    assert {"HttpOnly", "Path=/", "SameSite=lax", f"Max-Age={400 * 86400}"} <= set(rest.split("; "))
    assert "Domain" not in cookie and "Secure" not in cookie  # plain http takes no Secure cookie


def test_two_benchsides_on_one_computer_do_not_take_each_others_cookie(
    engine: Engine, app: FastAPI, stranger: TestClient
) -> None:
    assert app.state.bench_app.cookie != "benchside_"
    stranger.cookies.set("benchside_anotherstore", "whatever")
    stranger.post(entry(engine))
    assert stranger.get("/").status_code == 200


def test_a_browser_in_daily_use_is_never_forgotten(engine: Engine, client: TestClient) -> None:
    assert "set-cookie" not in client.get("/").headers
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE device_key SET last_used_at = '2026-01-01T00:00:00.000000+00:00'")
    assert "set-cookie" in client.get("/").headers
    assert "set-cookie" not in client.get("/").headers


def test_coming_in_again_takes_the_key_before_it_back(engine: Engine, client: TestClient) -> None:
    before = dict(client.cookies)
    with writing(engine) as session:
        other = benches.make(session, datetime.now(UTC))
        link = f"/enter/{ways_in.make_entry(session, other, datetime.now(UTC))}"
    assert "opens another bench now" in plain(client.get(link).text)
    client.post(link)
    assert dict(client.cookies) != before
    assert names(engine) == []


def test_many_wrong_links_are_too_many(engine: Engine, stranger: TestClient) -> None:
    answers = [stranger.post(f"/enter/{n}").status_code for n in range(rates.ENTERING.each + 1)]
    assert answers == [410] * rates.ENTERING.each + [429]
    assert stranger.post("/enter/again").status_code == 429


def test_a_good_link_and_code_open_whatever_others_mistyped(engine: Engine, app: FastAPI) -> None:
    wrong = {"code": "AAAA-BBBB-CCCC", "device_name": "x"}
    for door in range(rates.ENTERING.together // rates.ENTERING.each):
        there = browser(app, f"10.0.1.{door}")
        for n in range(rates.ENTERING.each):
            there.post(f"/enter/{n}")
            there.get(f"/back/{n}")
            there.post("/pair", data=wrong)
    pupil, mine = browser(app, "10.0.1.0"), browser(app, "10.0.2.1")
    assert mine.post("/enter/wrong").status_code == 429
    assert mine.post("/pair", data=wrong).status_code == 429
    assert mine.post("/back/wrong").status_code == 429
    # From an address of its own, and from the one that did it: in a school they are the same.
    for one in (mine, pupil):
        assert one.post(entry(engine)).status_code == 303
        one.cookies.clear()
        assert one.post("/pair", data={**wrong, "code": pairing(engine)}).status_code == 303
        one.cookies.clear()
        with writing(engine) as session:
            own = benches.get_or_create_local_bench(session).id
            secret = keys.make_key(session, own, "back", datetime.now(UTC))
        assert one.get(f"/back/{secret}").status_code == 200
        assert one.post(f"/back/{secret}").status_code == 303


def test_a_phone_pairs_by_the_link_under_the_name_it_is_given(engine: Engine, stranger: TestClient) -> None:
    code = pairing(engine)
    page = stranger.get(f"/pair/{code}")
    form = Form(page.text, "/pair").fields
    assert form == {"code": code, "device_name": "Phone"}
    answer = stranger.post("/pair", data={**form, "device_name": "Dirty phone"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert set(names(engine)) == {"A test", "Dirty phone"}


def test_a_phone_without_a_camera_types_the_code(engine: Engine, stranger: TestClient) -> None:
    code = pairing(engine)
    form = Form(stranger.get("/pair").text, "/pair").fields
    typed = code.lower().replace("-", " ")
    assert stranger.post("/pair", data={**form, "code": typed}).status_code == 303


@pytest.mark.parametrize(
    "filled, sentence",
    [
        ({"code": "", "device_name": "Phone"}, "Type the code that the other device shows."),
        ({"code": "AAAA-BBBB-CCCC", "device_name": "Phone"}, "That code is not right, or no longer good."),
        ({"code": "AAAA-BBBB-CCCC", "device_name": " "}, "Give this device a name"),
        ({"code": "A" * 41, "device_name": "Phone"}, "That is too long; 40 characters at most."),
        ({"code": "AAAA", "device_name": "P" * 61}, "That is too long; 60 characters at most."),
        ({}, "Type the code"),
    ],
)
def test_a_wrong_code_is_said_beside_its_field(
    stranger: TestClient, filled: dict[str, str], sentence: str
) -> None:
    answer = stranger.post("/pair", data=filled)
    assert answer.status_code == 422 and sentence in plain(answer.text)
    kept = Form(answer.text, "/pair").fields
    assert {name: kept[name] for name in filled} == filled
    assert "set-cookie" not in answer.headers


def test_five_wrong_tries_lock_the_code(engine: Engine, stranger: TestClient) -> None:
    code = pairing(engine)
    for _ in range(5):
        assert stranger.post("/pair", data={"code": code[:-1] + "-", "device_name": "x"}).status_code == 422
    assert stranger.post("/pair", data={"code": code, "device_name": "x"}).status_code == 422
    assert names(engine) == ["A test"]


def test_many_wrong_codes_are_too_many_from_one_address_and_not_from_another(
    engine: Engine, app: FastAPI, stranger: TestClient
) -> None:
    wrong = {"code": "AAAA-BBBB-CCCC", "device_name": "x"}
    answers = [stranger.post("/pair", data=wrong).status_code for _ in range(rates.PAIRING.each + 1)]
    assert answers == [422] * rates.PAIRING.each + [429]
    assert browser(app, "10.0.0.9").post("/pair", data=wrong).status_code == 422


def test_a_code_full_of_markup_stays_text(stranger: TestClient) -> None:
    page = stranger.get("/pair/%22%3E%3Cscript%3E")
    assert "<script>" not in page.text.replace('<script src="/static', "")
    assert "&lt;script&gt;" in page.text


@pytest.mark.parametrize(
    "agent, name",
    [
        (PHONE, "Phone"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Mobile/15E148", "Phone"),
        ("Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) Mobile/15E148", "Tablet"),
        ("Mozilla/5.0 (Linux; Android 14; SM-X200) Safari", "Tablet"),
        ("Mozilla/5.0 (X11; Linux x86_64) Firefox", "Computer"),
        ("", "Computer"),
    ],
)
def test_a_device_gets_a_likely_name(agent: str, name: str) -> None:
    assert guessed_name(agent) == name
    assert guessed_name(agent, is_here=True) == "Benchside’s own computer"


def test_a_key_of_another_bench_shows_that_bench(engine: Engine, app: FastAPI) -> None:
    with writing(engine) as session:
        other = benches.make(session, datetime.now(UTC), unit="in")
    with keyed(app, other) as visitor:
        assert 'value="in" id="field-unit-2" checked' in visitor.get("/").text
