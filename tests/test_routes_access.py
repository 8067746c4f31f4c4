"""Who gets what from where: every route the app has, asked in every way, against one table.

A route without a row fails. A row is read like this: to whom the page belongs 200, without a key 401, with
another bench's key 404, called by a foreign name 400, by a foreign page 403.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.keyed import ORIGIN
from tests.world import UNNAMED, World, as_named, routes_of
from webapp.app import create_app
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets


class Answers(NamedTuple):
    """Statuses. `own` is what the bench's own key gets (for a form: sent empty).

    A token is tried in the place of a key; the student is one who began a lesson of the bench's.
    """

    own: int
    no_key: int
    other_key: int
    share_token: int
    lesson_token: int
    student_key: int
    wrong_host: int
    foreign_origin: int
    null_origin: int


def page(own: int = 200, other_key: int = 404) -> Answers:
    """A page of the bench. Reading is refused to nobody who has the key, wherever the link stood."""
    return Answers(own, 401, other_key, 401, 401, other_key, 400, own, own)


def form(own: int = 422, other_key: int = 404) -> Answers:
    """A form of the bench: taken from its own pages only."""
    return Answers(own, 401, other_key, 401, 401, other_key, 400, 403, 403)


def open_form(own: int, no_key: int) -> Answers:
    """A form for everybody; `no_key` is what it answers to somebody who holds none."""
    return Answers(own, no_key, own, no_key, no_key, own, 400, 403, 403)


OPEN_PAGE = Answers(200, 200, 200, 200, 200, 200, 400, 200, 200)

TABLE: dict[str, Answers] = {
    "GET /": page(other_key=200),
    "GET /air": page(other_key=200),
    "POST /air": form(other_key=422),
    "GET /air/import": page(other_key=200),
    "POST /air/import": form(other_key=422),
    "GET /air/import/{job_id}": page(),
    "POST /air/import/{job_id}": form(),
    "GET /air/import/{job_id}/progress": page(),
    "GET /back/{secret}": OPEN_PAGE,
    "POST /back/{secret}": open_form(410, 410),
    "GET /come-back": page(other_key=200),
    "POST /come-back": form(303, other_key=303),
    "GET /data": page(other_key=200),
    "GET /data/bench.json": page(other_key=200),
    "GET /data/import": page(other_key=200),
    "POST /data/import": form(other_key=422),
    "GET /data/import/{token}": page(),
    "GET /data/import/{token}/progress": page(),
    "GET /data/schema.json": page(other_key=200),
    "GET /data/tables.zip": page(other_key=200),
    "GET /devices": page(other_key=200),
    "POST /devices/{key_id}/unpair": form(303),
    "GET /due": page(other_key=200),
    "GET /due.ics": page(other_key=200),
    "GET /enter/{code}": OPEN_PAGE,
    "POST /enter/{code}": open_form(303, 410),
    "GET /instruments/new": page(other_key=200),
    "POST /instruments/new": form(other_key=422),
    "GET /instruments/{instrument_id}": page(),
    "GET /instruments/{instrument_id}/archive": page(),
    "POST /instruments/{instrument_id}/archive": form(303),
    "GET /instruments/{instrument_id}/assumed": page(),
    "GET /instruments/{instrument_id}/clearance": page(),
    "GET /instruments/{instrument_id}/drawings": page(),
    "GET /instruments/{instrument_id}/edit": page(),
    "POST /instruments/{instrument_id}/edit": form(),
    "GET /instruments/{instrument_id}/history": page(),
    "GET /instruments/{instrument_id}/history/{slot_key}": page(),
    "GET /instruments/{instrument_id}/history/{slot_key}.csv": page(),
    "GET /instruments/{instrument_id}/low": page(),
    "GET /instruments/{instrument_id}/quick": page(),
    "POST /instruments/{instrument_id}/quick": form(),
    "GET /instruments/{instrument_id}/quick/{setup_id}": page(),
    "GET /instruments/{instrument_id}/seasons": page(),
    "GET /instruments/{instrument_id}/seasons.csv": page(),
    "POST /instruments/{instrument_id}/setups": form(303),
    "GET /instruments/{instrument_id}/share": page(),
    "POST /instruments/{instrument_id}/share": form(),
    "GET /instruments/{instrument_id}/strings": page(),
    "POST /instruments/{instrument_id}/strings": form(303),
    "GET /instruments/{instrument_id}/strings/weights": page(),
    "POST /instruments/{instrument_id}/strings/weights": form(409),
    "GET /instruments/{instrument_id}/touch": page(),
    "POST /instruments/{instrument_id}/touch": form(),
    "GET /instruments/{instrument_id}/what-if": page(),
    "GET /lesson/{token}": OPEN_PAGE,
    "GET /lesson/{token}/start": OPEN_PAGE,
    "POST /lesson/{token}/start": open_form(422, 422),
    "GET /lessons": page(other_key=200),
    "GET /lessons/import": page(other_key=200),
    "POST /lessons/import": form(other_key=422),
    "GET /lessons/new": page(other_key=200),
    "POST /lessons/new": form(other_key=422),
    "GET /lessons/{lesson_id}": page(),
    "GET /lessons/{lesson_id}/edit": page(),
    "POST /lessons/{lesson_id}/edit": form(),
    "GET /lessons/{lesson_id}/file": page(),
    "POST /lessons/{lesson_id}/link": form(303),
    "GET /lessons/{lesson_id}/print": page(),
    "GET /lessons/{lesson_id}/sheet": page(),
    "GET /lessons/{lesson_id}/sheet.csv": page(),
    "GET /lessons/{lesson_id}/sheet/{hand_in_id}": page(),
    "POST /lessons/{lesson_id}/sheet/{hand_in_id}/remove": form(303),
    "GET /pair": OPEN_PAGE,
    "POST /pair": open_form(422, 422),
    "GET /pair/{code}": OPEN_PAGE,
    "GET /phone": page(other_key=200),
    "POST /phone": form(303, other_key=303),
    "GET /setups/{setup_id}": page(),
    "GET /setups/{setup_id}/adjust/{slot_key}": page(),
    "POST /setups/{setup_id}/adjust/{slot_key}": form(),
    "GET /setups/{setup_id}/ask/{name}": page(),
    "POST /setups/{setup_id}/ask/{name}": form(),
    "GET /setups/{setup_id}/causes": page(),
    "GET /setups/{setup_id}/check/{check}": page(),
    "GET /setups/{setup_id}/finish": page(),
    "POST /setups/{setup_id}/finish": form(303),
    "GET /setups/{setup_id}/hand-in": page(),
    "POST /setups/{setup_id}/hand-in": form(),
    "POST /setups/{setup_id}/hand-in/take-back": form(303),
    "GET /setups/{setup_id}/intonation/{number}": page(),
    "POST /setups/{setup_id}/intonation/{number}": form(),
    "GET /setups/{setup_id}/journal": page(),
    "POST /setups/{setup_id}/journal": form(409),
    "GET /setups/{setup_id}/lesson": page(),
    "GET /setups/{setup_id}/listen/{what}": page(),
    "POST /setups/{setup_id}/listen/{what}": form(),
    "GET /setups/{setup_id}/log": page(),
    "POST /setups/{setup_id}/log": form(),
    "GET /setups/{setup_id}/next": page(303),
    "GET /setups/{setup_id}/read/{slot_key}": page(),
    "POST /setups/{setup_id}/read/{slot_key}": form(),
    "GET /setups/{setup_id}/read/{slot_key}/picture": page(204),
    "GET /setups/{setup_id}/report": page(),
    "GET /setups/{setup_id}/report.html": page(),
    "GET /setups/{setup_id}/share": page(),
    "POST /setups/{setup_id}/share": form(),
    "GET /shared/{token}": OPEN_PAGE,
    "GET /shared/{token}/{slot_key}": OPEN_PAGE,
    "GET /shares": page(other_key=200),
    "GET /shares/{share_id}": page(),
    "POST /shares/{share_id}/revoke": form(303),
    "GET /static/{file}": OPEN_PAGE,
    "GET /takes/{take_id}": page(),
    "POST /takes/{take_id}": form(),
    "GET /takes/{take_id}/progress": page(),
    # In this take there is nothing to hear; one with a sound has a test of its own.
    "GET /takes/{take_id}/sound": page(404),
    "GET /tools": page(other_key=200),
    "POST /tools": form(303, other_key=303),
    "POST /units": form(other_key=422),
}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    folder = tmp_path_factory.mktemp("two benches")
    engine = open_store(folder / "bench.sqlite3")
    yield create_app(Settings(folder), load_trade(assets().content), engine)
    engine.dispose()


@pytest.fixture(scope="module")
def world(app: FastAPI) -> World:
    return World(app)


def asked(client: TestClient, route: str, address: str, **headers: str) -> int:
    method = route.split()[0]
    answer = client.request(method, address, headers=headers, follow_redirects=False)
    return answer.status_code


def without_key(world: World, token: str = "") -> TestClient:
    """A browser that holds no key, or a token where the key would be."""
    client = TestClient(world.app, base_url=ORIGIN, headers={"Origin": ORIGIN})
    if token:
        client.cookies.set(world.app.state.bench_app.cookie, token)
    return client


def answers(world: World, route: str) -> Answers:
    address = world.address(route.split()[1])
    return Answers(
        no_key=asked(without_key(world), route, address),
        other_key=asked(world.other, route, address),
        share_token=asked(without_key(world, world.names["share_token"]), route, address),
        lesson_token=asked(without_key(world, world.names["lesson_token"]), route, address),
        student_key=asked(world.student, route, address),
        wrong_host=asked(world.own, route, address, Host="elsewhere.example:8765"),
        foreign_origin=asked(world.own, route, address, Origin="http://127.0.0.1:3000"),
        null_origin=asked(world.own, route, address, Origin="null"),
        own=asked(world.own, route, address),
    )


def test_every_route_answers_as_the_table_says(world: World) -> None:
    # Pages first: a form that is sent may change what a page shows.
    routes = sorted({f"{method} {path}" for method, path in routes_of(world.app.routes)})
    assert [route for route in routes if UNNAMED in world.address(route.split()[1])] == []  # see World.names
    found = {route: answers(world, route) for route in routes}
    without_a_row = [f"{route}: {tuple(found[route])}" for route in routes if route not in TABLE]
    assert without_a_row == []
    assert {route: tuple(told) for route, told in found.items()} == {
        route: tuple(told) for route, told in TABLE.items()
    }


def test_another_benchs_things_are_not_there(world: World) -> None:
    """Each id of an address in turn is one of another bench, the rest and the key are one's own."""
    tried = 0
    for method, path in routes_of(world.app.routes):
        for blank in re.findall(r"{(\w+_id)}", as_named(path)):
            address = world.address(path, **{blank: world.other_names[blank]})
            answer = world.own.request(method, address, follow_redirects=False)
            assert answer.status_code == 404, (method, path, blank, answer.status_code)
            assert "Nothing here" in answer.text
            tried += 1
    assert tried > 40


def test_what_is_not_there_is_no_different_from_what_is_anothers(world: World) -> None:
    theirs = world.own.get(f"/instruments/{world.other_names['instrument_id']}")
    nobodys = world.own.get("/instruments/AAAAAAAAAAAA")
    assert (theirs.status_code, theirs.text) == (nobodys.status_code, nobodys.text)


def test_only_pages_and_forms_are_served(world: World) -> None:
    assert {method for method, _ in routes_of(world.app.routes)} == {"GET", "POST"}
    for method in ("PUT", "PATCH", "DELETE", "TRACE", "OPTIONS"):
        assert world.own.request(method, "/").status_code in (403, 405)
