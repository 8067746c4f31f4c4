"""What is due: on its page, on the bench, on the card, and in a calendar."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, GUITAR, Bench
from webapp.setups.journal import Part

NOW = datetime.now(UTC)


def setup_ago(engine: Engine, days: float, name: str, kind: str = BASS, *, rod: bool = False) -> str:
    """An instrument that was set up with new strings so many days ago; returns its address."""
    bench = Bench(kind, name=name)
    bench.now = NOW - timedelta(days=days)
    bench.start()
    bench.turn(Part.STRINGS)
    if rod:
        bench.reading("relief", 0.7)
        bench.turn(Part.ROD, 1)
    instrument, _ = shelve(engine, bench)
    return f"/instruments/{instrument}"


def items(html: str) -> list[tuple[str, str]]:
    found = re.findall(r'<li><a href="([^"]*)">(.*?)</a></li>', html, re.S)
    return [(href, plain(words).strip()) for href, words in found]


def test_an_empty_bench_has_nothing_due(player: Player) -> None:
    assert "Nothing on the bench yet" in plain(player.get("/due").text)
    player.make(BASS)
    page = player.get("/due").text
    assert "Nothing is known yet" in plain(page) and "/due.ics" not in page


def test_what_is_due_stands_before_what_comes_later(player: Player, engine: Engine) -> None:
    fresh, old = setup_ago(engine, 1, "Fresh bass"), setup_ago(engine, 400, "Old bass")
    page = player.get("/due").text
    now, later = page.split("<h2>Later</h2>")
    assert items(now) == [
        (old, "Old bass: a setup 90 days after the last setup: the season has turned."),
        (f"{old}/strings", "Old bass: new strings The strings are about 13 months old: try a new set."),
    ]
    told = items(later)
    assert [href for href, _ in told] == [fresh, f"{fresh}/strings"]
    day = (NOW + timedelta(days=89)).astimezone()
    assert f"{day.day} {day:%B} {day.year} : 90 days after" in told[0][1]
    assert 'href="/due"' in player.get("/").text


def test_the_bench_is_in_order_of_what_is_due_and_says_the_first_reason(
    player: Player, engine: Engine
) -> None:
    setup_ago(engine, 1, "Fresh bass")
    never = player.make(GUITAR, name="New guitar")
    setup_ago(engine, 400, "Old bass")
    page = plain(player.get("/").text)
    assert page.index("Old bass") < page.index("Fresh bass") < page.index("New guitar")
    assert "A setup is due." in page
    day = (NOW + timedelta(days=89)).astimezone()
    assert f"Look again on {day.day} {day:%B}." in page
    assert " due" not in plain(player.get(never).text)


def test_the_card_says_what_is_due(player: Player, engine: Engine) -> None:
    words = plain(player.get(setup_ago(engine, 400, "Old bass")).text)
    assert "A setup is due 90 days after the last setup" in words
    assert "New strings are due The strings are about 13 months old" in words
    assert "Nothing is due." in plain(player.get(setup_ago(engine, 1, "Fresh bass")).text)


def test_what_is_off_comes_first_on_the_bench_and_among_what_is_due(player: Player, engine: Engine) -> None:
    setup_ago(engine, 400, "Old bass")
    bowed = player.make(BASS, name="Bowed bass")
    player.fill(f"{bowed}/quick", relief="0.75")
    bench = player.get("/").text
    assert bench.index("Bowed bass") < bench.index("Old bass") and "Relief: too much bow." in plain(bench)
    first, _ = items(player.get("/due").text)[0]
    assert first == bowed
    assert [event["SUMMARY"] for event in events(player.get("/due.ics").text)][0].endswith(
        "put the relief right"
    )


def test_a_settling_rod_is_said_once(player: Player, engine: Engine) -> None:
    home = setup_ago(engine, 0.01, "Turned bass", rod=True)
    words = plain(player.get(home).text)
    assert "Read relief again on" in words and "The rod was turned and takes" not in words
    assert "the rod was turned and takes about" in plain(player.get("/due").text)
    assert (f"{home}/quick") in [href for href, _ in items(player.get("/due").text)]


def test_no_setup_is_due_while_one_is_under_way(player: Player, engine: Engine) -> None:
    home = setup_ago(engine, 400, "Old bass")
    player.begin(home)
    words = plain(player.get("/due").text)
    assert "a setup" not in words and "new strings" in words


def test_what_is_taken_off_the_bench_is_never_due(player: Player, engine: Engine) -> None:
    home = setup_ago(engine, 400, "Old bass")
    player.post(f"{home}/archive", {})
    assert "Old bass" not in player.get("/due").text
    assert " due" not in plain(player.get(home).text)
    assert "VEVENT" not in player.get("/due.ics").text


def events(text: str) -> list[dict[str, str]]:
    unfolded = text.replace("\r\n ", "")
    blocks = re.findall(r"BEGIN:VEVENT\r\n(.*?)END:VEVENT", unfolded, re.S)
    return [dict(line.split(":", 1) for line in block.strip().split("\r\n")) for block in blocks]


def test_the_calendar_has_the_same_days(player: Player, engine: Engine) -> None:
    fresh, old = setup_ago(engine, 1, "Fresh; bass"), setup_ago(engine, 400, "Old bass")
    answer = player.get("/due.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert answer.headers["content-disposition"] == 'attachment; filename="benchside.ics"'
    told = events(answer.text)
    assert len(told) == 4
    today = datetime.now().astimezone().date()
    assert told[0]["DTSTART;VALUE=DATE"] == f"{today:%Y%m%d}"  # overdue: it stands on today
    assert told[0]["UID"] == f"{old.rpartition('/')[2]}.review@benchside"
    assert told[2]["SUMMARY"] == "Fresh\\; bass: a setup"
    due = (NOW + timedelta(days=89)).astimezone().date()
    assert told[2]["DTSTART;VALUE=DATE"] == f"{due:%Y%m%d}"
    assert told[2]["URL"] == f"http://127.0.0.1:8765{fresh}"


def test_the_calendar_names_things_the_same_every_time(player: Player, engine: Engine) -> None:
    home = setup_ago(engine, 1, "Fresh bass")
    setup_ago(engine, 400, "Old bass")
    first = [event["UID"] for event in events(player.get("/due.ics").text)]
    player.fill(f"{home}/quick", relief="0.3")
    assert [event["UID"] for event in events(player.get("/due.ics").text)] == first
    assert len(set(first)) == 4
