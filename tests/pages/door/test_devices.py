"""A second device: the code that is shown for it, the list of devices, and taking a key back."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, cookies_of, keyed
from tests.pages.conftest import Player, plain
from webapp.app import create_app
from webapp.drawings.qr import qr_svg
from webapp.store import rates
from webapp.trade.content import Trade
from webapp.web.settings import Settings

SHED = "http://192.168.1.23:8765/"


@pytest.fixture
def home(engine: Engine, trade: Trade, tmp_path: Path) -> FastAPI:
    """Listening on the home network, with an address that the test knows."""
    settings = Settings(tmp_path, host="0.0.0.0", phone=True, phone_address="192.168.1.23")
    return create_app(settings, trade, engine)


@pytest.fixture
def laptop(home: FastAPI) -> Iterator[Player]:
    with keyed(home, device="Laptop") as client:
        yield Player(client)


def paired(home: FastAPI, link: str, name: str = "Phone") -> Player:
    phone = TestClient(home, base_url=SHED, headers={"Origin": SHED.rstrip("/")})
    Player(phone).fill(link.removeprefix(SHED[:-1]), action="/pair", device_name=name)
    return Player(phone)


def shown(page: str) -> tuple[str, str]:
    """The link and the code on the page."""
    link = re.search(r'class="pair-link">([^<]+)<', page)
    code = re.search(r'class="pair-code">([^<]+)<', page)
    assert link and code
    return link[1], code[1]


def test_looking_makes_no_code_and_the_button_does(laptop: Player, engine: Engine) -> None:
    assert "pair-code" not in laptop.get("/phone").text
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM way_in").scalar() == 0
    laptop.post("/phone", {})
    link, code = shown(laptop.get("/phone").text)
    assert link == f"{SHED}pair/{code}"
    assert shown(laptop.get("/phone").text) == (link, code)


def test_the_square_holds_the_link_that_stands_beside_it(laptop: Player) -> None:
    laptop.post("/phone", {})
    page = laptop.get("/phone").text
    assert qr_svg(shown(page)[0]) in page


def test_a_phone_that_paired_sees_the_same_bench_until_it_is_unpaired(home: FastAPI, laptop: Player) -> None:
    bass = laptop.make("bass_4_34", name="Old blue")
    laptop.post("/phone", {})
    phone = paired(home, shown(laptop.get("/phone").text)[0])
    assert "Old blue" in phone.get("/").text
    assert "That device is in" in laptop.get("/phone").text
    page = laptop.get("/devices").text
    assert "Phone in use now" in plain(page) and "Laptop This device" in plain(page)
    action = re.search(r'Phone</b>.*?action="(/devices/[^"]+)"', page, re.DOTALL)
    assert action
    laptop.post(action[1], {})
    phone.get(bass, 401)
    phone.post(f"{bass}/setups", {"form_id": "x"}, 401)
    assert "Phone" not in plain(laptop.get("/devices").text).split("Devices", 2)[2].split("Use your")[0]


def test_a_phone_may_unpair_the_laptop_and_leave_itself(home: FastAPI, laptop: Player) -> None:
    laptop.post("/phone", {})
    phone = paired(home, shown(laptop.get("/phone").text)[0])
    page = phone.get("/devices").text
    own = re.search(r'This device.*?action="(/devices/[^"]+)"', page, re.DOTALL)
    assert own
    answer = phone.post(own[1], {})
    assert answer.headers["location"] == "/" and "Max-Age=0" in answer.headers["set-cookie"]
    assert not phone.client.cookies
    phone.get("/", 401)
    laptop.get("/")


def test_a_name_full_of_markup_stays_text(home: FastAPI, laptop: Player) -> None:
    name = "<img src=x onerror=alert(1)> & \"'{{ 7*7 }}"
    laptop.post("/phone", {})
    paired(home, shown(laptop.get("/phone").text)[0], name)
    page = laptop.get("/devices").text
    assert "<img" not in page and "49" not in plain(page)
    assert name in html.unescape(page)


def test_a_new_code_puts_the_shown_one_out_of_date(home: FastAPI, laptop: Player) -> None:
    laptop.post("/phone", {})
    old, _ = shown(laptop.get("/phone").text)
    laptop.post("/phone", {})
    new, _ = shown(laptop.get("/phone").text)
    assert old != new
    phone = TestClient(home, base_url=SHED, headers={"Origin": SHED.rstrip("/")})
    data = {"code": old.rpartition("/")[2], "device_name": "Phone"}
    assert phone.post("/pair", data=data, follow_redirects=False).status_code == 422


def test_a_locked_and_an_old_code_are_not_shown(home: FastAPI, laptop: Player, engine: Engine) -> None:
    laptop.post("/phone", {})
    _, code = shown(laptop.get("/phone").text)
    phone = TestClient(home, base_url=SHED, headers={"Origin": SHED.rstrip("/")})
    for _ in range(5):
        phone.post("/pair", data={"code": code[:-1], "device_name": "x"})
    assert "it is locked" in laptop.get("/phone").text
    laptop.post("/phone", {})
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE way_in SET expires_at = '2026-01-01T00:00:00.000000+00:00'")
    assert "too old" in laptop.get("/phone").text


def test_codes_are_not_made_without_end(laptop: Player, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rates, "CODES", replace(rates.CODES, each=6))
    for _ in range(rates.CODES.each):
        laptop.post("/phone", {})
    assert "Too many tries" in laptop.post("/phone", {}, 429).text


def test_on_plain_http_the_page_says_what_that_means_and_over_https_it_does_not(
    laptop: Player, engine: Engine, trade: Trade, tmp_path: Path
) -> None:
    assert "read along" in laptop.get("/phone").text
    files = {"tls_cert": Path("cert"), "tls_key": Path("key")}
    home = Settings(tmp_path, host="0.0.0.0", phone_address="192.168.1.23")
    secure = create_app(replace(home, **files), trade, engine)  # type: ignore[arg-type]
    client = TestClient(
        secure, base_url="https://127.0.0.1:8765", headers={"Origin": "https://127.0.0.1:8765"}
    )
    client.cookies.update(cookies_of(secure))
    page = client.get("/phone")
    assert page.status_code == 200 and "read along" not in page.text
    client.post("/phone")
    assert shown(client.get("/phone").text)[0].startswith("https://192.168.1.23:8765/pair/")


def test_where_no_phone_can_reach_it_the_page_says_what_to_type(player: Player) -> None:
    page = player.get("/phone").text
    assert "listens to this computer only" in page and "benchside --phone" in page
    assert "<form" not in page


def test_without_a_network_the_page_says_so(
    engine: Engine, trade: Trade, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("webapp.web.settings.home_addresses", lambda: ())
    app = create_app(Settings(tmp_path, host="0.0.0.0"), trade, engine)
    assert "in no network just now" in keyed(app).get("/phone").text


def test_other_addresses_are_offered_too(
    engine: Engine, trade: Trade, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("webapp.web.settings.home_addresses", lambda: ("192.168.1.23", "10.0.0.5"))
    app = create_app(Settings(tmp_path, host="0.0.0.0"), trade, engine)
    with keyed(app) as client:
        client.post("/phone")
        page = plain(client.get("/phone").text)
    assert "http://192.168.1.23:8765/pair" in page
    assert "If that address does not answer, try http://10.0.0.5:8765/pair." in page


def test_hosted_the_code_leads_to_the_served_name(engine: Engine, trade: Trade, tmp_path: Path) -> None:
    settings = replace(
        Settings(tmp_path, extra_hosts=("bench.example.org",)), hosted=True, proxies=("10.0.0.1",)
    )
    app = create_app(settings, trade, engine)
    client = TestClient(
        app, base_url="https://bench.example.org", headers={"Origin": "https://bench.example.org"}
    )
    client.cookies.update(cookies_of(app))
    client.post("/phone")
    assert shown(client.get("/phone").text)[0].startswith("https://bench.example.org/pair/")


def test_the_bench_leads_to_both_pages(player: Player) -> None:
    page = player.get("/").text
    assert 'href="/phone"' in page and 'href="/devices"' in page
    assert ORIGIN not in page
