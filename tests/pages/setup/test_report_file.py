"""The report as a file: whole in itself, and leading nowhere."""

from __future__ import annotations

import re

from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench
from webapp.setups.journal import Part
from webapp.trade.words import Check

NASTY = "Attic “bass” & <b>co</b>/../x"


def reported(player: Player, engine: Engine) -> tuple[str, str]:
    """The page and the file of one setup's report."""
    bench = Bench(BASS, name=NASTY).start()
    bench.reading("relief", 0.7)
    bench.turn(Part.ROD, 2)
    bench.read(Check.RELIEF, Check.HEIGHT)
    bench.note("A note")
    _, setup = shelve(engine, bench)
    answer = player.get(f"/setups/{setup}/report.html")
    name = answer.headers["content-disposition"]
    assert name == 'attachment; filename="attic-bass-b-co-b-x-2025-03-01.html"'
    page = player.get(f"/setups/{setup}/report").text
    assert f'href="/setups/{setup}/report.html"' in page
    return page, answer.text


def body(html: str) -> str:
    return html[html.index("<h1") : html.index("</main>")]


def test_the_file_says_what_the_page_says(player: Player, engine: Engine) -> None:
    page, file = reported(player, engine)
    said = plain(body(file))
    for words in (
        "0.70",
        "Rod: tightened a quarter turn",
        "A note",
        "no substitute for a qualified repairer",
    ):
        assert words in said or words in plain(file)
    assert body(file).count("<svg") == body(page).count("<svg") >= 2
    tables = re.findall(r"<table>.*?</table>", file, re.S)
    assert tables == re.findall(r"<table>.*?</table>", page, re.S)


def test_nothing_in_it_asks_for_anything(player: Player, engine: Engine) -> None:
    _, file = reported(player, engine)
    assert not re.search(r"<(script|link|iframe|img|object|form)\b", file)
    assert not re.search(r"\b(src|srcset|action|hx-\w+)=", file)
    assert not [href for href in re.findall(r'href="([^"]*)"', file) if not href.startswith("#")]
    (style,) = re.findall(r"<style>(.*?)</style>", file, re.S)
    assert "@import" not in style and ".drawing" in style and ".report" in style
    # The hatchings stand in the file itself.
    assert all(f'id="{name}"' in file for name in re.findall(r"url\(#([\w-]+)\)", style))
    assert style.count("url(") == style.count("url(#")
    assert "default-src 'none'" in file
    assert NASTY not in file and "&lt;b&gt;co" in file


def test_anothers_report_is_not_there(player: Player) -> None:
    player.get("/setups/nothere/report.html", 404)
