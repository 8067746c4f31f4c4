"""The air in the room: typed by hand, and imported from a logger's file in three steps."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
import tracemalloc
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from sqlalchemy import Engine, text
from starlette.testclient import TestClient

import webapp
from tests.conftest import on_sqlite
from tests.forked import PATIENCE_S
from tests.pages.conftest import Form, Player, plain
from webapp.pages.air import import_work as air_work
from webapp.pages.air import importing
from webapp.pages.visit import uploads
from webapp.setups.air_log.csv_reading import BadRow, LoggedRow, Plan
from webapp.setups.air_log.dates import DateOrder
from webapp.setups.bench_file.schema import AirDay
from webapp.store import benches
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.air_log.imports import JobState
from webapp.store.engine import open_store, reading, writing
from webapp.web import guard
from webapp.web.state import AppState

ISO = "Time,Temp (°C),Humidity (%)\n2026-01-01 10:00,20,40\n2026-01-01 11:00,22,50\n2026-01-02 10:00,21,60\n"
AMBIGUOUS = "When;Temp °F;Hum\n03/04/2026 10:00;68;40,5\n03/05/2026 10:00;69,8;50\n"
BROKEN = "Time,Temp,Hum\n" + "".join(f"31/02/2025 1{n}:00,20,40\n" for n in range(3))
PLAN = Plan("utf-8", ",", 1, 0, None, 1, 2, False, DateOrder.DAY)


def send(player: Player, raw: str | bytes, name: str = "log.csv", status: int = 303) -> httpx.Response:
    content = raw.encode() if isinstance(raw, str) else raw
    files = {"file": (name, content, "text/csv")}
    answer = player.client.post("/air/import", files=files, follow_redirects=False)
    assert answer.status_code == status, plain(answer.text)
    return answer


def upload(player: Player, raw: str | bytes, name: str = "log.csv") -> str:
    """Step one; returns the import's page."""
    return str(send(player, raw, name).headers["location"])


def start(player: Player, job: str, status: int = 303, **chosen: object) -> httpx.Response:
    """Step two: press the button that imports, accepting what is guessed but for what is chosen."""
    return player.fill(job, status, do="start", **chosen)


def wait(player: Player, job: str) -> str:
    """The words of the page when the import has ended."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        page = player.get(job).text
        if 'hx-trigger="every 1s"' not in page:
            return plain(page)
        time.sleep(0.05)
    raise AssertionError("the import does not end")


def bring(player: Player, raw: str | bytes, **chosen: object) -> str:
    """All three steps, accepting what is guessed but for what is chosen; returns the last page's words."""
    job = upload(player, raw)
    start(player, job, **chosen)
    return wait(player, job)


def app_of(player: Player) -> AppState:
    served = player.client.app
    assert isinstance(served, FastAPI)
    state = served.state.bench_app
    assert isinstance(state, AppState)
    return state


def days(player: Player) -> list[AirDay]:
    state = app_of(player)
    with reading(state.engine) as session:
        bench = benches.local_bench(session)
        assert bench is not None
        return air.days(session, bench.id)


def kept_files(player: Player) -> list[str]:
    folder = app_of(player).settings.folder / "imports"
    return [one.name for one in folder.iterdir()] if folder.exists() else []


def test_the_bench_leads_to_the_air(player: Player) -> None:
    assert 'href="/air"' in player.get("/").text
    assert "Nothing is known of the last 30 days yet" in player.get("/air").text


def test_today_is_typed_and_shown(player: Player) -> None:
    player.fill("/air", temperature="21,5", humidity="46 %")
    page = plain(player.get("/air").text)
    assert "46 % 21.5 °C" in page and "(typed)" in page
    player.fill("/air", temperature="70 F", humidity="45")
    (one,) = days(player)
    assert (one.temperature_c, one.humidity_percent, one.source) == (
        pytest.approx(21.111, abs=1e-3),
        45.0,
        "typed",
    )


@pytest.mark.parametrize(
    "temperature, humidity, sentences",
    [
        ("", "", ["Type the temperature in the room", "Type the humidity that the hygrometer shows"]),
        ("warm", "45", ["“warm” is not a temperature."]),
        ("70", "45", ["70 °C cannot be right; −40 to 60 °C can be kept."]),
        ("21", "145", ["145 % cannot be right; humidity goes from 0 to 100 %."]),
    ],
)
def test_what_is_mistyped_stays_there_with_its_sentence(
    player: Player, temperature: str, humidity: str, sentences: list[str]
) -> None:
    answer = player.fill("/air", 422, temperature=temperature, humidity=humidity)
    for sentence in sentences:
        assert plain(answer.text).count(sentence) == 2  # in the summary and beside the field
    assert Form(answer.text, "/air").fields["temperature"] == temperature
    assert Form(answer.text, "/air").fields["humidity"] == humidity
    assert days(player) == []


def test_a_file_comes_in_by_three_steps(player: Player) -> None:
    job = upload(player, ISO)
    page = player.get(job)
    assert Form(page.text, job).fields == {
        "delimiter": "comma", "time": "0", "clock": "", "temperature": "1", "degrees": "c",
        "humidity": "2",
    }  # fmt: skip
    assert "2026-01-02 10:00" in page.text and "In the dates" not in page.text
    assert days(player) == []
    start(player, job)
    assert "3 readings were added , 1 Jan 2026 to 2 Jan 2026." in wait(player, job)
    assert [(one.day, one.temperature_c, one.humidity_percent, one.rows) for one in days(player)] == [
        (date(2026, 1, 1), pytest.approx(21.0), pytest.approx(45.0), 2),
        (date(2026, 1, 2), pytest.approx(21.0), pytest.approx(60.0), 1),
    ]
    assert kept_files(player) == []
    assert "log.csv" in player.get("/air").text


def test_the_same_file_twice_adds_nothing_and_is_told_before(player: Player) -> None:
    bring(player, ISO)
    before = days(player)
    job = upload(player, ISO, "copy.csv")
    assert "This very file was imported on" in player.get(job).text
    start(player, job)
    assert "Nothing was added. Every reading of this file was there already" in wait(player, job)
    assert days(player) == before
    assert "copy.csv" not in player.get("/air").text


def test_files_that_overlap_count_each_reading_once(player: Player) -> None:
    bring(player, ISO)
    page = bring(player, ISO + "2026-01-02 12:00,23,70\n")
    assert "1 reading was added" in page and "3 were there already, and count once." in page
    assert days(player)[1].humidity_percent == pytest.approx(65.0)


def test_the_last_thirty_days_are_drawn_and_tabled(player: Player) -> None:
    now = datetime.now().replace(microsecond=0)
    lines = [f"{now - timedelta(days=n):%Y-%m-%d %H:%M:%S},20,{30 + n}" for n in range(40)]
    bring(player, "Time,Temp,Hum\n" + "\n".join(lines))
    page = player.get("/air").text
    assert "(30 days)" in page and page.count("<tr>") == 31
    assert "Humidity over the last 30 days" in page and "Your logger has today already" in page


def test_the_order_of_day_and_month_is_asked_where_it_cannot_be_known(player: Player) -> None:
    job = upload(player, AMBIGUOUS)
    page = plain(player.get(job).text)
    assert "Day first: “03/04/2026 10:00” is 3 Apr 2026" in page
    assert "Month first: “03/04/2026 10:00” is 4 Mar 2026" in page
    refused = start(player, job, 422)
    assert "Choose whether the day or the month comes first." in refused.text
    start(player, job, order="month")
    wait(player, job)
    assert [(one.day, round(one.temperature_c, 2)) for one in days(player)] == [
        (date(2026, 3, 4), 20.0),
        (date(2026, 3, 5), 21.0),
    ]


def test_the_example_of_a_date_is_one_that_tells_the_orders_apart(player: Player) -> None:
    job = upload(player, "When,Temp,Hum\n01/01/2026 10:00,20,40\n02/01/2026 10:00,20,40\n")
    page = plain(player.get(job).text)
    assert "Day first: “02/01/2026 10:00” is 2 Jan 2026" in page
    assert "Month first: “02/01/2026 10:00” is 1 Feb 2026" in page


def test_a_column_is_chosen_once_and_each_is_chosen(player: Player) -> None:
    job = upload(player, ISO)
    assert "This column is chosen twice" in start(player, job, 422, humidity="1").text
    answer = start(player, job, 422, time="", humidity="9")
    assert "Choose the column that holds the date." in answer.text
    assert "Choose the column that holds the humidity." in answer.text
    assert days(player) == []


def test_columns_may_be_cut_elsewhere(player: Player) -> None:
    job = upload(player, "a;b;c,d,e\n2026-01-01;20;40,41,1\n")
    first = Form(player.get(job).text, job).fields["delimiter"]
    other = "comma" if first == "semicolon" else "semicolon"
    again = player.get(f"{job}?delimiter={other}")
    assert Form(again.text, job).fields["delimiter"] == other
    assert player.get(f"{job}?delimiter=nonsense").status_code == 200


@pytest.mark.parametrize(
    "raw, sentence",
    [
        (b"", "This file is empty."),
        (bytes(range(256)) * 20, "This is not a text file"),
        (bytes(range(128, 256)) * 20, "The letters of this file cannot be read."),
        (b"PK\x03\x04", "This is a spreadsheet or a packed file, not a CSV."),
        (b"Time,Temp\n2026-01-01 10:00,21\n", "A column is missing: this file has only 2."),
        (b"A letter\nto you\n", "No readings were found in this file."),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_at_once(player: Player, raw: bytes, sentence: str) -> None:
    answer = send(player, raw, status=422)
    assert plain(answer.text).count(sentence) == 2
    assert kept_files(player) == []


def test_a_form_without_a_file_says_so(player: Player) -> None:
    answer = player.client.post("/air/import", files={"other": ("", b"")}, follow_redirects=False)
    assert answer.status_code == 422 and "Choose the CSV file that the logger made." in answer.text
    assert player.client.post("/air/import", data={"file": "words"}).status_code == 422


def test_where_no_line_is_good_the_lines_are_listed_and_columns_can_be_chosen_again(player: Player) -> None:
    job = upload(player, BROKEN)
    start(player, job, order="day")
    page = wait(player, job)
    assert "Not one line of this file could be used" in page
    assert (
        "3 of 3 lines" in page
        and "2 “31/02/2025 10:00” is not a day of the calendar with the day first." in page
    )
    player.post(job, {"do": "again"})
    assert Form(player.get(job).text, job).fields["order"] == "day"


def test_bad_lines_are_counted_and_the_first_hundred_shown(player: Player) -> None:
    page = bring(player, ISO + "soon,20,40\n" * 150)
    assert "3 readings were added" in page and "150 of 153 lines; here are the first 100." in page
    assert page.count("“soon” is not a date that can be read.") == 100


def test_a_date_in_the_future_is_a_bad_line(player: Player) -> None:
    tomorrow = datetime.now() + timedelta(days=1)
    page = bring(player, ISO + f"{tomorrow:%Y-%m-%d %H:%M},20,40\n")
    assert "is in the future." in page and len(days(player)) == 2


def test_an_import_can_be_taken_out_again(player: Player) -> None:
    job = upload(player, ISO)
    start(player, job)
    wait(player, job)
    player.post(job, {"do": "take_out"})
    assert "Taken out again." in plain(player.get(job).text)
    assert days(player) == [] and "log.csv" not in player.get("/air").text
    assert "has moved on" in player.post(job, {"do": "take_out"}, 409).text


def test_what_cannot_be_meant_is_refused(player: Player) -> None:
    job = upload(player, ISO)
    player.post(job, {"do": "dance"}, 422)
    player.post("/air/import/nowhere", {"do": "start"}, 404)
    player.get("/air/import/nowhere", 404)
    player.get("/air/import/nowhere/progress", 404)


def test_a_file_that_is_no_longer_kept_is_asked_for_again(player: Player) -> None:
    job = upload(player, ISO)
    air_work.kept_file(app_of(player), job.rpartition("/")[2]).unlink()
    assert "The uploaded file is no longer kept. Choose it again." in player.get(job, 410).text


def test_uploads_that_nobody_came_back_to_are_swept_away(player: Player) -> None:
    job = upload(player, ISO)
    path = air_work.kept_file(app_of(player), job.rpartition("/")[2])
    assert path.stat().st_mode & 0o777 == 0o600
    old = time.time() - 25 * 3600
    os.utime(path, (old, old))
    upload(player, AMBIGUOUS)
    assert not path.exists() and len(kept_files(player)) == 1


def test_files_that_wait_are_bounded_in_number_and_in_bytes(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = [upload(player, ISO + f"2026-01-03 10:00,2{n},50\n") for n in range(air_work.FILES_OF_A_BENCH + 3)]
    assert len(kept_files(player)) == air_work.FILES_OF_A_BENCH
    assert player.client.get(jobs[-1]).status_code == 200
    assert "no longer kept" in plain(player.client.get(jobs[0]).text)
    monkeypatch.setattr(air_work, "BYTES_OF_A_BENCH", 2 * len(ISO) + 60)
    upload(player, ISO)
    assert len(kept_files(player)) == 2
    monkeypatch.setattr(air_work, "FILES_OF_ALL", 1)
    last = upload(player, AMBIGUOUS)
    (kept,) = kept_files(player)
    assert last.rpartition("/")[2] in str(kept)


def test_what_a_killed_process_left_is_swept_too(player: Player) -> None:
    upload(player, ISO)
    app = app_of(player)
    left = app.settings.folder / "imports" / "half.part"
    left.write_text("half")
    old = time.time() - 2 * 3600
    os.utime(left, (old, old))
    uploads.sweep(uploads.folder_of(app.settings))
    assert not left.exists() and len(kept_files(player)) == 1


def test_a_full_disk_is_said(player: Player, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(importing, "spool", full)
    assert "is the disk of this computer full?" in send(player, ISO, status=507).text


class Gate:
    """Holds an import in the middle of its file until it is let on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.reached, self.open = threading.Event(), threading.Event()
        real = air_work.rows

        def slow(*told: Any) -> Iterator[LoggedRow | BadRow]:
            for count, row in enumerate(real(*told)):
                if count == 2:
                    self.reached.set()
                    assert self.open.wait(PATIENCE_S)
                yield row

        monkeypatch.setattr(air_work, "rows", slow)
        monkeypatch.setattr(air_work, "BEAT_SECONDS", -1.0)
        monkeypatch.setattr(air_work, "ROWS_BETWEEN_LOOKS", 1)

    def let_on(self) -> None:
        self.open.set()
        for thread in threading.enumerate():
            if thread.name == "import":
                thread.join(PATIENCE_S)


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    gate = Gate(monkeypatch)
    yield gate
    gate.let_on()


def test_progress_is_seen_with_and_without_script(player: Player, gate: Gate) -> None:
    job = upload(player, ISO)
    start(player, job)
    assert gate.reached.wait(PATIENCE_S)
    page = player.get(job).text
    assert f'hx-get="{job}/progress"' in page and 'hx-trigger="every 1s"' in page
    assert f'href="{job}">Look again</a>' in page and "2 lines read" in page
    assert "A file is being imported." in player.get("/air").text
    part = player.get(f"{job}/progress").text
    assert "<html" not in part and part.lstrip().startswith('<div id="job"') and "2 lines read" in part
    gate.let_on()
    part = player.get(f"{job}/progress").text
    assert "every 1s" not in part and "3 readings were added" in plain(part)


def test_a_cancelled_import_leaves_the_bench_as_it_was(player: Player, gate: Gate) -> None:
    job = upload(player, ISO)
    start(player, job)
    assert gate.reached.wait(PATIENCE_S)
    player.post(job, {"do": "cancel"})
    gate.let_on()
    assert "Cancelled. Nothing was added." in plain(player.get(job).text)
    assert days(player) == []
    player.post(job, {"do": "again"})
    start(player, job)
    assert "3 readings were added" in wait(player, job)


def test_one_import_at_a_time_and_the_same_form_twice_is_one(player: Player, gate: Gate) -> None:
    first, second = upload(player, ISO), upload(player, AMBIGUOUS)
    fields = {**player.form(first), "do": "start"}
    player.post(first, fields)
    assert "has moved on" in player.post(first, fields, 409).text
    assert "Another file is being imported." in start(player, second, 409, order="day").text
    gate.let_on()
    start(player, second, order="day")
    wait(player, second)
    assert len(days(player)) == 4


def test_an_import_that_goes_wrong_says_so_and_adds_nothing(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(*_: object) -> Iterator[LoggedRow | BadRow]:
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr(air_work, "rows", wrong)
    assert "Something went wrong on this side, so nothing was added." in bring(player, ISO)
    assert days(player) == []


def test_an_import_whose_process_is_killed_leaves_the_bench_as_it_was(
    player: Player, engine: Engine, tmp_path: Path
) -> None:
    """A process of its own reads half the file and is killed; the next look says so."""
    job = upload(player, ISO)
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        imports.begin(session, bench, job.rpartition("/")[2], "{}", datetime.now(UTC))
    address = engine.url.render_as_string(hide_password=False)
    on_server = engine.dialect.name == "postgresql"
    place = f"make_url({address!r})" if on_server else "settings.database"
    worker = textwrap.dedent(f"""
        import sys, time
        from pathlib import Path
        from types import SimpleNamespace
        from webapp.pages.air import import_work as air_work
        from webapp.web.settings import Settings
        from webapp.setups.air_log.csv_reading import Plan
        from webapp.setups.air_log.dates import DateOrder
        from sqlalchemy import make_url
        from webapp.store.engine import connect
        real = air_work.rows
        def slow(*told):
            for count, row in enumerate(real(*told)):
                if count == 2:
                    print("half way", flush=True)
                    time.sleep(60)
                yield row
        air_work.rows, air_work.BEAT_SECONDS, air_work.ROWS_BETWEEN_LOOKS = slow, -1.0, 1
        settings = Settings(Path({str(tmp_path)!r}))
        app = SimpleNamespace(engine=connect({place}), settings=settings)
        plan = Plan("utf-8", ",", 1, 0, None, 1, 2, False, DateOrder.DAY)
        air_work.run(app, {bench!r}, {job.rpartition("/")[2]!r}, plan)
    """)
    root = Path(webapp.__file__).parent.parent
    with subprocess.Popen(
        [sys.executable, "-c", worker], stdout=subprocess.PIPE, text=True, cwd=root
    ) as process:
        assert process.stdout is not None and process.stdout.readline() == "half way\n"
        assert "2 lines read" in player.get(job).text
        process.send_signal(signal.SIGKILL)
    assert "2 lines read" in player.get(job).text  # it may still be at work, for all that anyone knows
    with engine.begin() as connection:
        long_ago = (datetime.now(UTC) - timedelta(minutes=1)).isoformat(timespec="microseconds")
        connection.execute(text("UPDATE import_job SET seen_at = :at"), {"at": long_ago})
    assert "Cut off. Benchside was stopped while it read the file, so nothing was added." in plain(
        player.get(job).text
    )
    assert days(player) == []
    player.post(job, {"do": "again"})
    start(player, job)
    assert "3 readings were added" in wait(player, job)


def test_two_gigabytes_are_refused_before_they_are_read(client: TestClient) -> None:
    answers: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        raise AssertionError("nothing of it may be read")

    async def answer(message: Any) -> None:
        answers.append(message)

    scope = {
        "type": "http", "method": "POST", "path": "/air/import", "raw_path": b"/air/import", "scheme": "http",
        "query_string": b"", "http_version": "1.1", "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 8765),
        "headers": [(b"host", b"127.0.0.1:8765"), (b"origin", b"http://127.0.0.1:8765"),
                    (b"content-type", b"multipart/form-data; boundary=x"),
                    (b"content-length", b"2147483648")],
    }  # fmt: skip
    client.portal.call(client.app, scope, receive, answer)
    assert answers[0]["status"] == 413
    assert b"This file is larger than 64 MB." in b"".join(one.get("body", b"") for one in answers)


def test_a_body_without_a_length_is_cut_at_the_limit(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(guard.UPLOADS, "/air/import", (200_000, "Too large."))
    sent = 0

    def endless() -> Iterator[bytes]:
        nonlocal sent
        yield b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
        for _ in range(100):
            sent += 10_000
            yield b"2026-01-01 10:00,20,40\n" * 435

    answer = client.post(
        "/air/import", content=endless(), headers={"Content-Type": "multipart/form-data; boundary=x"}
    )
    assert answer.status_code == 413
    assert "This file is larger than 64 MB. Export a shorter time" in answer.text


def test_other_places_keep_their_smaller_limit(client: TestClient) -> None:
    answer = client.post("/air", content=b"a" * 1_000_001)
    assert answer.status_code == 413 and "1 MB" in answer.text


def test_a_file_that_did_not_arrive_whole_is_asked_for_again(client: TestClient) -> None:
    answer = client.post(
        "/air/import", content=b"--y\r\nno", headers={"Content-Type": "multipart/form-data; boundary=x"}
    )
    assert answer.status_code == 422 and "did not arrive whole" in answer.text


def test_twenty_thousand_lines_are_read_right_and_in_little_memory(player: Player) -> None:
    began = datetime(2025, 1, 1)
    lines = ["Time,Temp,Hum"]
    for n in range(20_000):
        lines.append(f"{began + timedelta(minutes=10 * n)},{20 + n % 7 / 10:.1f},{40 + n % 13}")
    raw = ("\n".join(lines) + "\n").encode()
    app = app_of(player)
    job = upload(player, raw).rpartition("/")[2]
    with writing(app.engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        imports.begin(session, bench, job, "{}", datetime.now(UTC))
    tracemalloc.start()
    air_work.run(app, bench, job, PLAN)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    with reading(app.engine) as session:
        row = imports.get(session, bench, job)
    assert (row.state, row.rows_done, row.rows_new, row.bad) == (JobState.DONE, 20_000, 20_000, 0)
    assert peak < 8_000_000, peak
    found = days(player)
    assert len(found) == 139 and found[0].rows == 144
    assert found[0].temperature_c == pytest.approx(sum(20 + n % 7 / 10 for n in range(144)) / 144)
    assert found[0].humidity_percent == pytest.approx(sum(40 + n % 13 for n in range(144)) / 144)


@on_sqlite
def test_a_reopened_store_has_the_same_air(player: Player) -> None:
    bring(player, ISO)
    before, database = days(player), app_of(player).settings.database
    again = open_store(database)
    with reading(again) as session:
        bench = benches.local_bench(session)
        assert bench is not None and air.days(session, bench.id) == before
    again.dispose()
