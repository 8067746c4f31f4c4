"""The bare route answers with what was recorded, and keeps what it says it keeps."""

from __future__ import annotations

from collections.abc import Iterator

import psycopg
import pytest
from starlette.testclient import TestClient

from tests.load.bare import Bare, Exchange, address_of, lay_out
from tests.load.contest import Turn, told_turns
from tests.load.usage import Spent
from tests.postgres import Server

PAGE = b"<p>A page</p>" * 100
ANSWERS = [
    Exchange("GET", "/page", None, 200, [("content-type", "text/html"), ("date", "then")], PAGE),
    Exchange("POST", "/page", "form_id=first", 303, [("location", "/next"), ("content-length", "7")], b""),
]


@pytest.fixture
def database(postgres: Server) -> Iterator[str]:
    url = postgres.new_database(empty=True)
    yield address_of(url)
    postgres.drop(url)


def test_a_page_reads_and_a_step_keeps_a_line(database: str) -> None:
    lay_out(database)
    with TestClient(Bare(ANSWERS, database).app, follow_redirects=False) as client:
        page, step = client.get("/0"), client.post("/1", data={"form_id": "first"})
    assert (page.status_code, page.content, page.headers["content-encoding"]) == (200, PAGE, "gzip")
    assert (step.status_code, step.headers["location"]) == (303, "/next")
    assert "then" not in page.headers.values()
    with psycopg.connect(database) as connection:
        kept = connection.execute("SELECT words FROM bare WHERE words <> 'a line'").fetchall()
    assert kept == [("first",)]


@pytest.mark.parametrize("ours, verdict", [(40, "met"), (39, "NOT MET")])
def test_the_ratio_is_of_all_turns_of_each(ours: int, verdict: str) -> None:
    def turn(name: str, steps: int) -> Turn:
        return Turn(name, steps, Spent(0, (0, 0), 0, 0, 0), Spent(1, (0.5, 0.5), 0.1, 0.1, 2))

    turns = [turn("Benchside", ours - 5), turn("bare", 90), turn("Benchside", ours + 5), turn("bare", 110)]
    last = list(told_turns(turns))[-1]
    assert last.startswith(verdict) and last.endswith(f"{ours}%")
