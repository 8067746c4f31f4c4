"""The report as the player reads it."""

from __future__ import annotations

import re

from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, CLASSICAL, Bench
from webapp.physics.numbers import Unit
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
    assert "Relief 0.72 too much bow 0.30 good read while the rod was settling 0.15 to 0.45" in rows(html)


def test_it_says_what_was_turned_and_what_goes_to_a_repairer(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert "Rod: tightened ⅜ of a turn in 2 steps." in words
    assert "Saddle height: E string lowered half a turn." in words
    high = r"G string: nut slot high, about 0\.(79|80) mm, give or take 0\.0\d over fret 1\."
    assert re.search(high, words)
    assert "A string: buzzes only when fretted at 9." in words
    assert "Stiff saddle screw." in words


def test_it_repeats_the_cautions_and_says_it_is_no_substitute(player: Player, engine: Engine) -> None:
    bench = worked_on()
    words = plain(report(player, engine, bench)).replace("&#39;", "'")
    missing = [c.key for c in bench.trade.cautions_for(bench.spec, "report") if c.text not in words]
    assert missing == []
    assert "no substitute for a qualified repairer" in words


def test_the_drawings_are_in_it_with_the_same_numbers(player: Player, engine: Engine) -> None:
    html = report(player, engine, worked_on())
    assert re.findall(r'<svg[^>]*aria-label="([^"]*)"', html) == [
        "Bass, 4 strings, 34 in from the front, to scale",
        "Before and after",
        "The strings over fret 12, held at fret 1",
        "The neck from the side",
        "Notes that buzzed",
    ]
    texts = re.findall(r"<desc>(.*?)</desc>", html, re.S)
    whole, moved, section, side, _ = texts
    assert "Nut: for a repairer." in whole and "Relief: good." in whole
    assert "Relief: 0.72 mm" in moved and "then 0.30 mm" in moved
    gap = re.search(r"String E, 2.67 mm thick: (2\.\d\d) mm over the fret", section)
    assert gap is not None and 2.5 <= float(gap[1]) <= 2.75
    relief = re.search(r"the relief over fret 7 is (0\.\d\d) mm", side)
    assert relief is not None and 0.25 <= float(relief[1]) <= 0.35


def test_the_next_dates_are_named(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert re.search(r"You, from \d\d:\d\d on \d+ March 2025: read the relief once more", words)
    assert re.search(r"look again about \d+ (May|June) 2025", words)


def test_an_unfinished_setup_says_so_at_the_top(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on(), finished=False))
    assert words.index("Not finished yet.") < words.index("was off") < words.index("Every number")
    assert "look again" not in words
    assert "Not finished" not in plain(report(player, engine, worked_on()))


def test_a_stopped_setup_says_why_and_draws_nothing(player: Player, engine: Engine) -> None:
    html = report(player, engine, Bench(CLASSICAL).start("crack"), finished=False)
    assert "repairer" in plain(html[html.index("<h1") : html.index("What was turned")])
    assert html.count('class="drawing"') == 1
    assert "Pickups not on this instrument" in plain(html)


def test_a_reading_kept_outside_its_band_says_so(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.6)
    bench.keep("relief")
    assert "Relief 0.60 kept a touch bowed 0.15 to 0.45" in rows(report(player, engine, bench))


def test_what_was_moved_since_says_what_is_expected_of_it(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.5)
    bench.reading("height.4", 2.5)
    bench.turn(Part.ROD, 2)
    told = rows(report(player, engine, bench))
    assert any(
        re.fullmatch(r"Relief 0\.50 a touch bowed expected 0\.[34]\d good 0.15 to 0.45", row) for row in told
    )
    assert any(re.fullmatch(r"E 2\.50 good expected 2\.\d\d 2\.\d\d to [23]\.\d\d", row) for row in told)


def test_a_range_is_said_as_a_range(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.75, method="card", answer="two", low=0.6, high=0.9)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.45, method="card", answer="one", low=0.3, high=0.6)
    told = next(row for row in rows(report(player, engine, bench)) if row.startswith("Relief"))
    assert told.startswith("Relief 0.60 to 0.90 cannot tell with this tool 0.30 to 0.60")


def test_it_says_first_what_is_right_and_what_is_not_and_who_does_it(player: Player, engine: Engine) -> None:
    bench = worked_on()
    words = plain(report(player, engine, bench))
    assert words.index("Not everything was done.") < words.index("was off") < words.index("What is left")
    left = words[words.index("What is left") : words.index("What was turned")]
    assert re.search(r"Repairer: G string: nut slot high, about 0\.\d\d mm", left)
    assert "Left undone: Intonation, not measured" in left and "Relief" not in left.replace(
        "read the relief", ""
    )
    assert "plays well" not in words.lower()


def test_the_facts_at_the_top_are_those_of_the_tables(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    # The relief was off at first, of 1 + 4 + 4 places; a nut slot is off now; the rod twice, a saddle once.
    assert "was off 1 of 9 places" in words and "The other 7 are under Every number." in words
    assert "turned 3 times, 2 kinds of part" in words
    assert "left 5 for a repairer and you" in words


def test_a_setup_that_ended_well_says_so_first(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.read(Check.RELIEF, Check.HEIGHT)
    bench.buzz()
    bench.read(Check.NUT, Check.INTONATION, Check.PICKUPS)
    bench.observe("pickups.ear", heard=[])
    bench.observe("playtest", symptoms=[], signed=True)
    words = plain(report(player, engine, bench))
    assert words.index("Plays well. Everything is right.") < words.index("was off 0 of 21 places")
    assert "turned 0 nothing" in words and "left 0 nothing" in words
    assert "What is left" not in words and "What was off" not in words


def test_a_play_test_signed_with_faults_is_not_good(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    symptom = bench.trade.playtest[0].symptoms[0]
    bench.observe("playtest", symptoms=[symptom.key], signed=True)
    words = plain(report(player, engine, bench))
    left = words[words.index("What is left") : words.index("What was turned")]
    assert symptom.label in left.replace("&#39;", "'") and "Plays well" not in words


def test_a_finished_setup_is_said_a_year_later_as_it_was(player: Player, engine: Engine) -> None:
    """The seasons make every reading less sure: that is no news of a setup that is long finished."""
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    assert "Relief: good." in report(player, engine, bench)


def test_a_converted_reading_says_from_what(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.53, hold=1, press=20, gap=8)
    way = "held at 1, pressed at 20, gap at 8; feeler gauge"
    row = f"Relief 0.30 converted from 0.53 mm, {way} good 0.15 to 0.45"
    assert row in rows(report(player, engine, bench))


def test_figures_come_in_the_players_unit(player: Player, engine: Engine) -> None:
    _, setup = shelve(engine, worked_on())
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        benches.set_unit(session, bench.id, Unit.thou.value)
    html = player.get(f"/setups/{setup}/report").text
    assert any(row.startswith("Relief 28 too much bow 12 good") for row in rows(html))
    assert re.search(r"(99|10\d) thou over the fret", html)


def test_a_setup_that_is_not_there_is_404(player: Player) -> None:
    player.get("/setups/nothere/report", status=404)
