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
    assert "Relief 0.72 too much bow 0.30 good read while the rod was settling" in rows(html)
    assert "target 0.15 to 0.45 mm, usual 0.08 to 0.65 mm" in rows(html)


def test_it_says_what_was_turned_and_what_goes_to_a_repairer(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert "Rod: tightened 3/8 of a turn in 2 steps." in words
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
        "The strings over fret 12, held at fret 1",
        "The neck from the side",
        "Notes that buzzed",
    ]
    texts = re.findall(r"<desc>(.*?)</desc>", html, re.S)
    gap = re.search(r"String E, 2.67 mm thick: (2\.\d\d) mm over the fret", texts[0])
    assert gap is not None and 2.5 <= float(gap[1]) <= 2.75
    relief = re.search(r"the relief over fret 7 is (0\.\d\d) mm", texts[1])
    assert relief is not None and 0.25 <= float(relief[1]) <= 0.35


def test_the_next_dates_are_named(player: Player, engine: Engine) -> None:
    words = plain(report(player, engine, worked_on()))
    assert "Still to come: read the relief once more, when the rod has settled, from" in words
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
    assert "Relief 0.60 kept a touch bowed" in rows(report(player, engine, bench))


def test_what_was_moved_since_says_what_is_expected_of_it(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.5)
    bench.reading("height.4", 2.5)
    bench.turn(Part.ROD, 2)
    told = rows(report(player, engine, bench))
    assert any(re.fullmatch(r"Relief 0\.50 a touch bowed expected 0\.[34]\d good", row) for row in told)
    assert any(re.fullmatch(r"E string 2\.50 good expected 2\.\d\d", row) for row in told)


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
    assert words.index("How it stands") < words.index("For a repairer") < words.index("Measured before")
    standing = words[words.index("How it stands") : words.index("For a repairer")]
    assert "good Relief" in standing and "Not everything was done." in standing
    assert "Nut, G string a repairer too high" in standing
    assert "Intonation left undone not measured" in standing
    assert "well set up" not in words.lower()


def test_a_play_test_signed_with_faults_is_not_good(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    symptom = bench.trade.playtest[0].symptoms[0]
    bench.observe("playtest", symptoms=[symptom.key], signed=True)
    words = plain(report(player, engine, bench))
    standing = words[words.index("How it stands") : words.index("Measured before")]
    assert symptom.label in standing.replace("&#39;", "'")
    assert "Play test" not in standing.partition("good ")[2].partition("Relief")[0]


def test_a_finished_setup_is_said_a_year_later_as_it_was(player: Player, engine: Engine) -> None:
    """The seasons make every reading less sure: that is no news of a setup that is long finished."""
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    words = plain(report(player, engine, bench))
    assert "good Relief" in words[words.index("How it stands") :]


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
    assert any(row.startswith("Relief 28 too much bow 12 good") for row in rows(html))
    assert re.search(r"(99|10\d) thou over the fret", html)


def test_a_setup_that_is_not_there_is_404(player: Player) -> None:
    player.get("/setups/nothere/report", status=404)
