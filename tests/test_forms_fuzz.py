"""Every form, filled with what nobody should type: none fails, and nothing typed becomes markup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from tests.pages.conftest import Player
from tests.world import World, routes_of
from webapp.app import create_app
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets

MARKUP = "<script>alert(1)</script>"
ODD = (
    "", " ", "0", "-0", "-1", "1e999", "NaN", "inf", "9" * 400, "٣,٤", "½", "1/0", "0/0", "2.4 mm", "3/32 in",
    MARKUP, "\"'><svg onload=1>", "' OR 1=1 --", "{{ 7*7 }}", "%00", "\x00", "\u202e", "\r\nSet-Cookie: a=b",
    "../../etc/passwd", "x" * 3000, "null", "[]", "{", "relief", "on", "2026-13-45", "99999999999999999999",
)  # fmt: skip
ENDINGS = ("/finish", "/archive")


def quick(examples: int) -> settings:
    """The same examples each time: a failure here is one that anyone can see again."""
    return settings(max_examples=examples, deadline=None, derandomize=True, database=None)


@dataclass
class Forms(HTMLParser):
    """The forms of a page: where each goes, what its fields are called, and what they offer."""

    found: dict[tuple[str, str], dict[str, list[str]]] = field(default_factory=dict)
    fields: dict[str, list[str]] | None = None
    menu: str = ""

    def __post_init__(self) -> None:
        super().__init__()

    @classmethod
    def of(cls, page: str) -> dict[tuple[str, str], dict[str, list[str]]]:
        reader = cls()
        reader.feed(page)
        return reader.found

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        name = a.get("name") or ""
        if tag == "form":
            self.fields = self.found.setdefault(
                ((a.get("method") or "get").upper(), a.get("action") or ""), {}
            )
        elif self.fields is None:
            return
        elif tag == "option" and self.menu:
            self.fields[self.menu].append(a.get("value") or "")
        elif tag in ("input", "button", "select", "textarea") and name:
            self.menu = name if tag == "select" else self.menu
            self.fields.setdefault(name, [])
            if a.get("value"):
                self.fields[name].append(a["value"] or "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.fields = None
        elif tag == "select":
            self.menu = ""


Target = tuple[str, str, dict[str, list[str]]]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("odd")
    engine = open_store(folder / "bench.sqlite3")
    world = World(
        create_app(
            Settings(folder, host="0.0.0.0", phone_address="192.168.1.23"),
            load_trade(assets().content),
            engine,
        )
    )
    with TestClient(world.app, base_url=str(world.own.base_url), headers=dict(world.own.headers),
                    raise_server_exceptions=False) as made:  # fmt: skip
        made.cookies.update(dict(world.own.cookies))
        made.app_state = world  # type: ignore[attr-defined]
        yield made
    engine.dispose()


@pytest.fixture(scope="module")
def forms(client: TestClient) -> list[Target]:
    """Every form that any page shows, found by opening every page."""
    world: World = client.app_state  # type: ignore[attr-defined]
    found: dict[tuple[str, str], dict[str, list[str]]] = {}
    own_key = ""
    pages = [world.address(path) for method, path in routes_of(world.app.routes) if method == "GET"]
    idle = Player(client).make("bass_4_34", name="Idle")
    for page in [
        *pages,
        idle,
        f"/setups/{world.names['free_setup_id']}/hand-in",
        "/lessons/new?kind=bass_4_34",
        "/instruments/new?kind=bass_4_34",
        f"{idle}/strings?set=bass_4_heavy&tuning=present",
    ]:
        text = client.get(page).text
        found |= {(method, action or page): fields for (method, action), fields in Forms.of(text).items()}
        if page == "/devices":
            own_key = text.split("This device")[1].split('action="')[1].split('"')[0]
    return [(*place, fields) for place, fields in sorted(found.items()) if place[1] != own_key]


def test_every_route_that_takes_a_form_is_tried(client: TestClient, forms: list[Target]) -> None:
    world: World = client.app_state  # type: ignore[attr-defined]
    shown = [action.partition("?")[0] for method, action, _ in forms if method == "POST"]
    taken = {path for method, path in routes_of(world.app.routes) if method == "POST"}
    untried = {path for path in taken if not any(re.fullmatch(like(path), action) for action in shown)}
    assert untried == set()


def like(path: str) -> str:
    return re.sub(r"{\w+}", "[^/]+", path)


def filled(fields: dict[str, list[str]]) -> st.SearchStrategy[list[tuple[str, str]]]:
    """Each field left out, as offered, odd, or twice; and a field that the form does not have."""
    odd = st.one_of(st.sampled_from(ODD), st.text(max_size=20))
    pairs = []
    for name, offered in fields.items():
        usual = st.sampled_from(offered) if offered else odd
        value = st.one_of(usual, odd)
        pairs.append(st.lists(st.tuples(st.just(name), value), max_size=2))
    stray = st.lists(st.tuples(st.text(max_size=10), odd), max_size=1)
    return st.tuples(*pairs, stray).map(lambda some: [pair for one in some for pair in one])


def send(client: TestClient, method: str, action: str, pairs: list[tuple[str, str]]) -> None:
    body = urlencode(pairs, errors="replace")
    if method == "GET":
        answer = client.get(f"{action.partition('?')[0]}?{body[:6000]}", follow_redirects=False)
    else:
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        answer = client.post(action, content=body, headers=kind, follow_redirects=False)
    judge(answer.status_code, answer.text, dict(answer.headers), (method, action, pairs))


def judge(status: int, text: str, headers: dict[str, str], sent: object) -> None:
    assert status < 500, (status, sent)
    assert status != 401, sent
    assert MARKUP not in text and "<svg onload" not in text, sent
    assert "Traceback" not in text and "sqlalchemy" not in text, sent
    assert "a=b" not in headers.get("set-cookie", ""), sent


@quick(180)
@given(data=st.data())
def test_nothing_typed_into_a_form_is_a_failure(
    client: TestClient, forms: list[Target], data: st.DataObject
) -> None:
    lasting = [form for form in forms if not form[1].endswith(ENDINGS)]
    method, action, fields = data.draw(st.sampled_from(lasting))
    send(client, method, action, data.draw(filled(fields)))


@quick(60)
@given(
    data=st.data(),
    body=st.binary(max_size=200),
    kind=st.sampled_from(
        ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "multipart/form-data",
         "application/json", "text/plain; charset=no-such", ""]
    ),
)  # fmt: skip
def test_no_body_is_a_failure(
    client: TestClient, forms: list[Target], data: st.DataObject, body: bytes, kind: str
) -> None:
    posts = [form for form in forms if form[0] == "POST" and not form[1].endswith(ENDINGS)]
    _, action, _ = data.draw(st.sampled_from(posts))
    wrapped = data.draw(
        st.sampled_from([body, b'--x\r\nContent-Disposition: form-data; name="value"\r\n\r\n' + body])
    )
    answer = client.post(action, content=wrapped, headers={"Content-Type": kind}, follow_redirects=False)
    judge(answer.status_code, answer.text, dict(answer.headers), (action, kind, wrapped))


@quick(60)
@given(data=st.data(), blank=st.one_of(st.sampled_from(ODD[:-1]), st.text(min_size=1, max_size=12)))
def test_no_address_is_a_failure(client: TestClient, data: st.DataObject, blank: str) -> None:
    world: World = client.app_state  # type: ignore[attr-defined]
    paths = sorted({path for method, path in routes_of(world.app.routes) if method == "GET" and "{" in path})
    path = data.draw(st.sampled_from(paths))
    odd = dict.fromkeys(data.draw(st.sets(st.sampled_from(sorted(world.names)))), blank)
    address = "/".join(urlencode({"": part})[1:] for part in world.address(path, **odd).split("/"))
    answer = client.get(address, follow_redirects=False)
    judge(answer.status_code, answer.text, dict(answer.headers), address)


@quick(10)
@given(data=st.data())
def test_nor_is_the_end_of_it_all(client: TestClient, forms: list[Target], data: st.DataObject) -> None:
    method, action, fields = data.draw(st.sampled_from([form for form in forms if form[1].endswith(ENDINGS)]))
    send(client, method, action, data.draw(filled(fields)))


def test_and_the_bench_is_still_there(client: TestClient) -> None:
    assert client.get("/").status_code == 200
