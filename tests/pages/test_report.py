"""The report as the player reads it."""

from __future__ import annotations

import re

from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, CLASSICAL, Bench
from webapp.physics.lengths import Unit
from webapp.setups.journal import Part
from webapp.store import benches
from webapp.store.engine import writing
from webapp.trade.words import Check


def worked_on() -> Bench:
    """A bass with too much bow, one high saddle, a high nut slot, some buzz and a note."""
    bench = Bench(BASS).start()
    bench.reading("relief", 0.72)
    bench.turn(Part.ROD, 1)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.3)
    bench.read(Check.HEIGHT)
    bench.reading("height.4", 3.4)
    bench.turn(Part.SADDLE_HEIGHT, -4, string=4)
    bench.reading("height.4", 2.7)
    bench.buzz((3, 9))
    bench.read(Check.NUT)
    bench.reading("nut.1", 0.8)
    bench.note("Stiff saddle screw.")
    return bench


def report(player: Player, engine: Engine, bench: Bench, finished: bool = True) -> str:
    _, setup = shelve(engine, bench, finished=finished)
    return player.get(f"/setups/{setup}/report").text


def rows(html: str) -> list[str]:
    return [plain(row).strip() for row in re.findall(r"<tr>(.*?)</tr>", html, re.S)]


def test_before_and_after_stand_side_by_side_with_their_verdicts(player: Player, engine: Engine) -> None:
    html = report(player, engine, worked_on())
    assert "Relief 0.72 too high 0.30 good read while the rod was settling" in rows(html)
    assert "target 0.15 to 0.45 mm, usual 0.08 to 0.65 mm" in rows(html)


def test_it_says_what_was_turned_and_what_goes_to_a_repairer(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert "Rod: tightened 3/8 of a turn in 2 steps." in words
    assert "Saddle height: E string lowered half a turn." in words
    assert "G string: nut slot high, 0.80 mm over fret 1." in words
    assert "A string: buzzes only when fretted at 9." in words
    assert "Stiff saddle screw." in words


def test_it_repeats_the_cautions_and_says_it_is_no_substitute(player: Player, engine: Engine) -> None:
    bench = worked_on()
    words = plain(report(player, engine, bench)).replace("&#39;", "'")
    missing = [c.key for c in bench.trade.cautions_beside("report") if c.text not in words]
    assert missing == []
    assert "no substitute for a qualified repairer" in words


def test_the_drawings_are_in_it_with_the_same_numbers(player: Player, engine: Engine) -> None:
    html = report(player, engine, worked_on())
    assert re.findall(r'<svg[^>]*aria-label="([^"]*)"', html) == [
        "The strings over fret 12, held at fret 1",
        "The neck from the side, under the E string",
        "Notes that buzzed",
    ]
    texts = re.findall(r"<desc>(.*?)</desc>", html, re.S)
    assert "String E, gauge 2.67 mm: gap 2.70 mm" in texts[0]
    assert "the relief over fret 7 is 0.30 mm" in texts[1]


def test_the_next_dates_are_named(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert "Relief, once the rod has settled: from" in words
    assert re.search(r"Every check: about \d+ (May|June) 2025", words)


def test_an_unfinished_setup_says_so_at_the_top(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on(), finished=False))
    assert words.index("This setup is not finished.") < words.index("Measured before and after")
    assert "Every check: about" not in words
    assert "not finished" not in plain(report(player, engine, worked_on()))


def test_a_stopped_setup_says_why_and_draws_nothing(player: Player, engine: Engine) -> None:
    html = report(player, engine, Bench(CLASSICAL).start("crack"), finished=False)
    assert "This setup was stopped." in plain(html)
    assert 'class="drawing"' not in html
    assert "Pickups not on this instrument" in plain(html)


def test_a_reading_kept_outside_its_band_says_so(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.6)
    bench.keep("relief")
    assert "Relief 0.60 a touch high kept as the player likes it" in rows(report(player, engine, bench))


def test_what_went_out_of_date_keeps_its_number(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    bench.reading("height.4", 2.5)
    bench.turn(Part.ROD, 1)
    assert "E string 2.50 out of date" in rows(report(player, engine, bench))


def test_a_converted_reading_says_from_what(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.53, hold=1, press=20, gap=8)
    row = "Relief 0.30 converted from 0.53 mm, held at 1, pressed at 20, gap at 8; feeler gauge good"
    assert row in rows(report(player, engine, bench))


def test_figures_come_in_the_players_unit(player: Player, engine: Engine) -> None:
    _, setup = shelve(engine, worked_on())
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        benches.set_unit(session, bench.id, Unit.thou.value)
    html = player.get(f"/setups/{setup}/report").text
    assert any(row.startswith("Relief 28 too high 12 good") for row in rows(html))
    assert "gap 106 thou" in html


def test_a_setup_that_is_not_there_is_404(player: Player) -> None:
    player.get("/setups/nothere/report", status=404)
