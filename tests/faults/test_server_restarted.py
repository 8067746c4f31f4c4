"""PostgreSQL goes away while four clients write, and comes back: the app goes on by itself."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.support import House, Writer, assert_each_once, note, write_through
from tests.pages.conftest import Form, plain
from tests.postgres import Server, running


@pytest.fixture
def own_server(postgres: Server) -> Iterator[Server]:
    """One that keeps its promises, and that nobody else is using."""
    with running(durable=True) as server:
        yield server


@pytest.fixture
def hosted(own_server: Server, tmp_path: Path) -> Iterator[House]:
    folder = tmp_path / "data"
    folder.mkdir()
    house = House(folder, own_server.new_database())
    yield house
    house.kill()


def test_it_goes_on_and_loses_nothing(hosted: House, own_server: Server) -> None:
    setups = hosted.fill(4)
    hosted.start()
    writers = [Writer(hosted.browser(), setup, f"w{n}", 40) for n, setup in enumerate(setups)]
    due = [30, 80]

    def trouble(acknowledged: int) -> None:
        if due and acknowledged >= due[0]:
            due.pop(0)
            own_server.stop()
            time.sleep(0.7)
            own_server.start()

    write_through(hosted, writers, trouble)
    assert due == []
    assert_each_once(hosted, writers)


def test_what_was_typed_stays_on_the_page_until_it_can_be_saved(hosted: House, own_server: Server) -> None:
    (setup,) = hosted.fill(1)
    hosted.start()
    browser, path = hosted.browser(), f"/setups/{setup}/log"
    form = note("0.35 mm, I think & <hope>")
    own_server.stop()
    refusal = browser.post(path, data=form)
    assert refusal.status_code == 503 and refusal.headers["retry-after"] == "5"
    assert "nothing is lost" in plain(refusal.text) and "0.35 mm, I think &amp; &lt;hope&gt;" in refusal.text
    page = browser.get(f"/setups/{setup}")
    assert page.status_code == 503 and "What you saved before is safe." in page.text
    own_server.start()
    assert browser.post(path, data=Form(refusal.text, path).fields).status_code == 303
    assert hosted.notes(setup) == [form["note"]]
