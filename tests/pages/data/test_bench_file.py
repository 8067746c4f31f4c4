"""Your data: the files that leave the bench, and those that come in."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import threading
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.forked import PATIENCE_S
from tests.keyed import holding, keyed
from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.bench_files import bench, entry, instrument, sent, setup, version
from tests.setups.journals import BASS, Bench
from webapp.app import create_app
from webapp.pages.data import import_work
from webapp.pages.data.bench_file import MOST_BYTES, NO_FILE, TOO_LARGE
from webapp.pages.visit import uploads
from webapp.setups.bench_file.faults import MOST_SETUPS
from webapp.setups.bench_file.schema import BenchFile
from webapp.store import benches
from webapp.store.engine import open_store, writing
from webapp.store.lock import hold
from webapp.trade.content import Trade
from webapp.web.settings import Settings
from webapp.web.state import AppState

GOES_ON = 'hx-trigger="every 1s"'
SAVES = "attachment; filename="


def used(engine: Engine) -> None:
    one = Bench(BASS).start()
    one.correct(one.reading("relief", 3.0), 0.3)
    shelve(engine, one)


def app_of(player: Player) -> AppState:
    found = player.client.app.state.bench_app  # type: ignore[attr-defined]
    assert isinstance(found, AppState)
    return found


def bench_of(player: Player) -> str:
    with writing(app_of(player).engine) as session:
        return benches.get_or_create_local_bench(session).id


def other_bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.make(session, datetime.now(UTC))


def send(player: Player, data: bytes, status: int = 303, name: str = "copy.json") -> httpx.Response:
    answer = player.client.post("/data/import", files={"file": (name, data)}, follow_redirects=False)
    assert answer.status_code == status, plain(answer.text)[:500]
    return answer


def ended(player: Player, place: str) -> str:
    """The page of an import, when it is over; each look is what a phone's page does."""
    until = time.monotonic() + PATIENCE_S
    while GOES_ON in player.get(f"{place}/progress").text:
        assert time.monotonic() < until
        time.sleep(0.05)
    return player.get(place).text


def taken(player: Player, data: bytes) -> str:
    """The page that says what came in, or why nothing did."""
    return ended(player, send(player, data).headers["location"])


def instruments_of(player: Player) -> list[Any]:
    found = json.loads(player.get("/data/bench.json").content)["instruments"]
    assert isinstance(found, list)
    return found


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
        page = taken(elsewhere, copy.content)
        assert "Taken in" in plain(page)
        assert table(page) == {
            "Instruments": (1, 0, 0), "Descriptions of them": (1, 0, 0), "Setups": (1, 0, 0),
            "Entries": (3, 0, 0), "Days of air": (0, 0, 0),
        }  # fmt: skip
        assert elsewhere.get("/data/bench.json").text == copy.text
        again = taken(elsewhere, copy.content)
        assert "All of it was here already" in plain(again)
        assert table(again)["Entries"] == (0, 3, 0)
        for path in re.findall(r'href="(/instruments/[^"/]+)"', elsewhere.get("/").text):
            if not path.endswith("/new"):
                assert "0.30 mm" in plain(elsewhere.get(f"{path}/history").text)
    other.dispose()


def test_what_is_left_out_is_told_with_its_reason(player: Player) -> None:
    taken(player, sent(bench(instrument())))
    mixed = bench(
        instrument(entries=[entry("e1", 1, typed="other"), entry("e9", 3)]),
        instrument("lute", versions=[version(kind="lute", name="Old lute")]),
    )
    page = taken(player, sent(mixed))
    words = plain(page)
    assert "Old lute: Its kind, “lute”, is not known to this Benchside." in words
    assert "Bass, 4 strings, 34 in, 1 May 2024: An entry says something else here." in words
    assert table(page) == {
        "Instruments": (0, 1, 1), "Descriptions of them": (0, 1, 1), "Setups": (0, 1, 1),
        "Entries": (1, 0, 3), "Days of air": (0, 0, 0),
    }  # fmt: skip


def test_a_bad_file_is_refused_with_a_sentence_and_nothing_comes_in(player: Player) -> None:
    before = player.get("/data/bench.json").text
    bad = sent(
        bench(instrument(entries=[entry("e", 1), *(entry(f"e{n}", n, value="x") for n in range(2, 9))]))
    )
    page = plain(taken(player, bad))
    assert "Nothing was taken in" in page and "entry 2, value" in page and "And 2 more like these." in page
    assert player.get("/data/bench.json").text == before
    assert "Taken in" in plain(taken(player, sent(bench(instrument()))))


def test_no_file_is_asked_for(player: Player) -> None:
    assert NO_FILE in plain(send(player, b"", 422, name="").text)
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


def test_a_file_that_did_not_arrive_whole_is_asked_for_again(player: Player) -> None:
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    answer = player.client.post("/data/import", content=b"--y\r\nno", headers=headers)
    assert answer.status_code == 422 and "did not arrive whole" in answer.text


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
    place = send(player, sent(bench(instrument()))).headers["location"]
    ended(player, place)
    player.get("/data/import/nothere", 404)
    player.get("/data/import/AAAAAAAAAAAA", 404)
    player.get("/data/import/AAAAAAAAAAAA/progress", 404)
    player.get("/data/import/..%2Fbench", 404)
    state = client.app.state.bench_app  # type: ignore[attr-defined]

    with keyed(client.app, other_bench(state.engine)) as stranger:  # type: ignore[arg-type]
        assert stranger.get(place).status_code == stranger.get(f"{place}/progress").status_code == 404
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


@contextmanager
def turn_of_another(player: Player) -> Iterator[Path]:
    """Meanwhile whatever is sent waits; gives the folder of imports."""
    folder = uploads.folder_of(app_of(player).settings)
    folder.mkdir(exist_ok=True)
    with hold(folder / import_work.TURN):
        yield folder


def test_one_file_of_a_bench_at_a_time(player: Player) -> None:
    data = sent(bench(instrument()))
    with turn_of_another(player):
        place = send(player, data).headers["location"]
        assert "Waiting for its turn" in plain(player.get(place).text)
        said = send(player, data, 409)
        assert "Another file of this bench is being taken in." in plain(said.text)
        assert f'href="{place}"' in said.text and f'href="{place}"' in player.get("/data/import").text
    assert "Taken in" in plain(ended(player, place))
    assert f'href="{place}"' not in player.get("/data/import").text
    assert "All of it was here already" in plain(taken(player, data))


def test_the_row_of_many_benches_has_an_end_and_is_served_in_order(
    player: Player, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_work, "IN_THE_ROW", 3)
    others = [Player(keyed(player.client.app, other_bench(engine))) for _ in range(3)]  # type: ignore[arg-type]
    data, ends = sent(bench(instrument())), list[str]()
    real = import_work.Imports._take_in

    def noted(self: import_work.Imports, token: str) -> None:
        ends.append(token)
        real(self, token)

    monkeypatch.setattr(import_work.Imports, "_take_in", noted)
    with turn_of_another(player) as folder:
        places = [send(one, data).headers["location"] for one in (player, *others[:2])]
        assert "Many files are being taken in just now" in plain(send(others[2], data, 503).text)
        assert len(list(folder.glob("*.bench"))) == 3 and not list(folder.glob("*.part"))
    for one, place in zip((player, *others[:2]), places, strict=True):
        assert "Taken in" in plain(ended(one, place))
    assert [f"/data/import/{token}" for token in ends] == places
    assert "Taken in" in plain(taken(others[2], data))
    assert not list(folder.glob("*.bench"))


def test_another_process_shows_how_far_it_is_and_leaves_it_its_turn(player: Player, trade: Trade) -> None:
    app = app_of(player)
    second = holding(create_app(app.settings, trade, app.engine), dict(player.client.cookies))
    with turn_of_another(player):
        place = send(player, sent(bench(instrument()))).headers["location"]
        assert "Waiting for its turn" in plain(second.get(place).text)
        answer = second.post("/data/import", files={"file": ("b.json", b"{}")}, follow_redirects=False)
        assert answer.status_code == 409
    ended(player, place)
    assert "Taken in" in plain(second.get(place).text)


def test_a_file_of_too_many_setups_is_told_how_many(player: Player) -> None:
    many = [setup(f"s{n}", n) for n in range(MOST_SETUPS + 1)]
    said = plain(taken(player, sent(bench(instrument(setups=many, entries=[])))))
    assert "This file holds 3,001 setups, and at most 3,000 are taken in at once." in said


def test_a_stop_cuts_it_off_and_nothing_comes_in(player: Player, monkeypatch: pytest.MonkeyPatch) -> None:
    stopping = threading.Event()
    stopping.set()
    with monkeypatch.context() as stopped:
        stopped.setattr(import_work, "STOPPING", stopping)
        page = plain(taken(player, sent(bench(instrument()))))
    assert "It was cut off" in page and "send it again" in page
    assert instruments_of(player) == []
    assert "Taken in" in plain(taken(player, sent(bench(instrument()))))


def test_one_that_is_killed_in_the_middle_is_said_to_be_cut_off(player: Player) -> None:
    names = [f"s{n}" for n in range(600)]
    long = sent(
        bench(
            instrument(
                setups=[setup(name, n) for n, name in enumerate(names)],
                entries=[entry("e", n, name) for n, name in enumerate(names)],
            )
        )
    )
    place = send(player, long).headers["location"]
    until = time.monotonic() + PATIENCE_S
    while "Judging" not in player.get(f"{place}/progress").text:
        assert time.monotonic() < until
        time.sleep(0.05)
    (child,) = [one for one in psutil.Process().children() if import_work.CHILD in one.cmdline()]
    child.kill()
    assert "It was cut off" in plain(ended(player, place))
    assert instruments_of(player) == []


def test_one_that_a_killed_process_left_behind_is_said_to_be_cut_off(player: Player) -> None:
    app, token = app_of(player), "left-behind0"
    about = import_work.Import(bench_of(player), "copy.json", time.time(), import_work.Step.JUDGING, 3, 9)
    imports = import_work.Imports(app)
    folder = uploads.folder_of(app.settings)
    folder.mkdir(exist_ok=True)
    (folder / f"{token}.bench").write_bytes(b"{}")
    imports._write(token, about)
    place = f"/data/import/{token}"
    assert "3 of 9" in plain(player.get(place).text) and 'value="33"' in player.get(place).text
    for name, age_s in ((f"{token}.came", import_work.SILENT_S + 1), (f"{token}.bench", 2 * 3600)):
        os.utime(folder / name, (time.time() - age_s, time.time() - age_s))
    assert "It was cut off" in plain(player.get(place).text)
    assert "Taken in" in plain(taken(player, sent(bench(instrument()))))
    assert not list(folder.glob("*.bench"))


def test_so_many_reports_are_kept_and_a_full_disk_is_said(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_work, "MOST_REPORTS", 2)
    for _ in range(3):
        taken(player, b"{}")
    folder = uploads.folder_of(app_of(player).settings)
    assert len(list(folder.glob("*.came"))) == 2

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(import_work, "spool", full)
    assert "is the disk of this computer full?" in plain(send(player, b"{}", 507).text)
