"""Your data: the files that leave the bench, and those that come in."""

from __future__ import annotations

import csv
import io
import json
import re
import threading
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.bench_files import bench, entry, instrument, sent, setup, version
from tests.setups.journals import BASS, Bench
from webapp.app import create_app
from webapp.pages.data import bench_file as bench_file_page
from webapp.pages.data.bench_file import MOST_BYTES, NO_FILE, TOO_LARGE
from webapp.setups.bench_file.faults import MOST_SETUPS
from webapp.setups.bench_file.schema import BenchFile
from webapp.store import benches
from webapp.store.engine import open_store, writing
from webapp.trade.content import Trade
from webapp.web import turns
from webapp.web.settings import Settings

SAVES = "attachment; filename="


def used(engine: Engine) -> None:
    one = Bench(BASS).start()
    one.correct(one.reading("relief", 3.0), 0.3)
    shelve(engine, one)


def other_bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.make(session, datetime.now(UTC))


def upload(player: Player, data: bytes, status: int = 303, name: str = "copy.json") -> httpx.Response:
    answer = player.client.post("/data/import", files={"file": (name, data)}, follow_redirects=False)
    assert answer.status_code == status, plain(answer.text)[:500]
    return answer


def table(html: str) -> dict[str, tuple[int, int, int]]:
    """Added, here already, left out, by what it is."""
    found = {}
    for row in re.findall(r"<tr><th scope=\"row\">(.*?)</tr>", html, re.S):
        name, *numbers = plain(row).strip().rsplit(" ", 3)
        found[name.strip()] = tuple(int(n.replace(",", "")) for n in numbers)
    return found  # type: ignore[return-value]


def test_the_page_says_what_there_is_and_leads_to_every_file(player: Player, engine: Engine) -> None:
    used(engine)
    page = player.get("/data")
    assert "Entries 3" in plain(page.text)
    files = re.findall(r'href="(/data/[^"]+)"', page.text)
    assert files == ["/data/bench.json", "/data/schema.json", "/data/tables.zip", "/data/import"]
    for path in files[:3]:
        assert player.get(path).headers["content-disposition"].startswith(SAVES)
    assert 'href="/data"' in player.get("/").text


def test_the_copy_comes_in_on_another_computer_and_goes_out_the_same(
    player: Player, engine: Engine, trade: Trade, tmp_path: Path
) -> None:
    used(engine)
    copy = player.get("/data/bench.json")
    assert copy.headers["content-type"] == "application/json"
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    other = open_store(folder / "bench.sqlite3")
    with keyed(create_app(Settings(data_dir=folder), trade, other)) as client:
        elsewhere = Player(client)
        report = upload(elsewhere, copy.content).headers["location"]
        page = elsewhere.get(report).text
        assert "Taken in" in plain(page)
        assert table(page) == {
            "Instruments": (1, 0, 0), "Descriptions of them": (1, 0, 0), "Setups": (1, 0, 0),
            "Entries": (3, 0, 0), "Days of air": (0, 0, 0),
        }  # fmt: skip
        assert elsewhere.get("/data/bench.json").text == copy.text
        again = elsewhere.get(upload(elsewhere, copy.content).headers["location"]).text
        assert "All of it was here already" in plain(again)
        assert table(again)["Entries"] == (0, 3, 0)
        for path in re.findall(r'href="(/instruments/[^"/]+)"', elsewhere.get("/").text):
            if not path.endswith("/new"):
                assert "0.30 mm" in plain(elsewhere.get(f"{path}/history").text)
    other.dispose()


def test_what_is_left_out_is_told_with_its_reason(player: Player) -> None:
    upload(player, sent(bench(instrument())))
    mixed = bench(
        instrument(entries=[entry("e1", 1, typed="other"), entry("e9", 3)]),
        instrument("lute", versions=[version(kind="lute", name="Old lute")]),
    )
    page = player.get(upload(player, sent(mixed)).headers["location"])
    words = plain(page.text)
    assert "Old lute: Its kind, “lute”, is not known to this Benchside." in words
    assert "Bass, 4 strings, 34 in, 1 May 2024: An entry says something else here." in words
    assert table(page.text) == {
        "Instruments": (0, 1, 1), "Descriptions of them": (0, 1, 1), "Setups": (0, 1, 1),
        "Entries": (1, 0, 3), "Days of air": (0, 0, 0),
    }  # fmt: skip


def test_a_bad_file_is_refused_with_a_sentence_and_nothing_comes_in(player: Player) -> None:
    before = player.get("/data/bench.json").text
    for data, sentence in (
        (b"hello", "it is not JSON"),
        (b"{}", "not a bench of Benchside"),
        (sent(bench() | {"version": 9}), "made by a newer Benchside"),
        (sent(bench(instrument(entries=[entry("e", 1, value="x")]))), "entry 1, value"),
    ):
        answer = upload(player, data, 422)
        assert sentence in plain(answer.text)
        assert 'aria-invalid="true"' in answer.text and 'id="errors"' in answer.text
    assert player.get("/data/bench.json").text == before


def test_no_file_is_asked_for(player: Player) -> None:
    assert NO_FILE in plain(upload(player, b"", 422, name="").text)
    assert NO_FILE in plain(player.post("/data/import", {"file": "text"}, 422).text)


def test_a_file_that_is_too_large_is_refused_before_it_is_read(player: Player) -> None:
    taken = 0

    def body() -> object:
        nonlocal taken
        for _ in range(3):
            taken += 1
            yield b"x" * 1000

    headers = {"Content-Length": str(MOST_BYTES + 1), "Content-Type": "multipart/form-data; boundary=b"}
    answer = player.client.post("/data/import", content=body(), headers=headers)  # type: ignore[arg-type]
    assert answer.status_code == 413 and TOO_LARGE in plain(answer.text)


def test_a_file_that_hides_its_size_is_counted_as_it_comes(player: Player) -> None:
    head = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.json"\r\n\r\n'

    def body() -> object:
        yield head
        for _ in range(MOST_BYTES // 1_000_000 + 1):
            yield b" " * 1_000_000

    headers = {"Content-Type": "multipart/form-data; boundary=b"}
    answer = player.client.post("/data/import", content=body(), headers=headers)  # type: ignore[arg-type]
    assert answer.status_code == 413 and TOO_LARGE in plain(answer.text)


def test_the_report_of_an_import_belongs_to_its_bench(player: Player, client: TestClient) -> None:
    place = upload(player, sent(bench(instrument()))).headers["location"]
    player.get("/data/import/nothere", 404)
    player.get("/data/import/..%2Fbench", 404)
    state = client.app.state.bench_app  # type: ignore[attr-defined]

    with keyed(client.app, other_bench(state.engine)) as stranger:  # type: ignore[arg-type]
        assert stranger.get(place).status_code == 404
        assert json.loads(stranger.get("/data/bench.json").text)["instruments"] == []


def test_the_tables_are_a_zip_of_csv(player: Player, engine: Engine) -> None:
    used(engine)
    with zipfile.ZipFile(io.BytesIO(player.get("/data/tables.zip").content)) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
        text = packed.read("entries.csv").decode("utf-8-sig")
    assert names == ["read me.txt", "instruments.csv", "setups.csv", "entries.csv", "air.csv"]
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [(r["kind"], r["value"], r["struck_out"]) for r in rows][1:] == [
        ("reading", "3", "yes"), ("reading", "0.3", ""),
    ]  # fmt: skip


def test_the_schema_is_the_models_own(player: Player) -> None:
    told = player.get("/data/schema.json").json()
    assert told["title"] == "A bench of Benchside, version 1"
    assert told["required"] == ["format", "version"]
    assert set(told["properties"]) == set(BenchFile.model_fields)


def test_one_file_of_a_bench_at_a_time_and_the_row_has_an_end(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    came, go_on = threading.Event(), threading.Event()

    def slow(*told: object) -> str:
        came.set()
        assert go_on.wait(30)
        return ""

    monkeypatch.setattr(bench_file_page, "why_unfit", slow)
    data = sent(bench(instrument()))
    first = threading.Thread(target=upload, args=(player, data))
    first.start()
    assert came.wait(30)
    said = upload(player, data, 409)
    assert "being taken in already" in plain(said.text)
    app = player.client.app.state.bench_app  # type: ignore[attr-defined]
    monkeypatch.setattr(app.turns, "_most", 1)
    monkeypatch.setattr(app.turns, "_in", {"another bench"})
    assert "Many files are being taken in just now" in plain(upload(player, data, 503).text)
    go_on.set()
    first.join(30)


def test_a_file_of_too_many_setups_is_told_how_many(player: Player) -> None:
    many = [setup(f"s{n}", n) for n in range(MOST_SETUPS + 1)]
    said = upload(player, sent(bench(instrument(setups=many, entries=[]))), 422)
    assert "This file holds 3,001 setups, and at most 3,000 are taken in at once." in plain(said.text)


def test_a_stop_ends_the_judging_and_nothing_comes_in(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopping = threading.Event()
    stopping.set()
    monkeypatch.setattr(turns, "STOPPING", stopping)
    upload(player, sent(bench(instrument())), 503)
    assert json.loads(player.get("/data/bench.json").content)["instruments"] == []
