"""The drawings of an instrument, from its newest readings."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench
from webapp.setups.journal import Part
from webapp.trade.words import Check


def texts(html: str) -> list[str]:
    """The drawings' text alternatives."""
    return re.findall(r"<desc>(.*?)</desc>", html, re.S)


def measured(engine: Engine) -> str:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    bench.read(Check.HEIGHT)
    bench.reading("height.4", 2.5)
    return shelve(engine, bench, finished=False)[0]


def test_at_fret_12_the_readings_are_drawn_as_measured(player: Player, engine: Engine) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings").text
    assert "From the readings up to 1 March 2025." in plain(html)
    across, along = texts(html)
    assert "String E, gauge 2.67 mm: gap 2.50 mm, target 2.00 to 3.00 mm: good." in across
    assert "should read" not in across
    assert "runs 2.50 mm over fret 12 and ends 3.57 mm over" in along
    assert "the relief over fret 7 is 0.30 mm" in along
    assert "Not measured yet" not in plain(html)


def test_at_another_fret_they_are_computed_and_say_so(player: Player, engine: Engine) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings?fret=17").text
    assert "a forecast, not a reading" in plain(html)
    assert "The strings over fret 17, held at fret 1, computed" in html
    # The same straight string from fret 1 to its saddle at 3.571 mm, over the straight of the body end.
    pattern = r"String E, gauge 2.67 mm: not measured, target [^,]*, should read ([\d.]+) mm"
    (gap,) = re.findall(pattern, texts(html)[0])
    scale, saddle, k = 863.6, 3.571, 7.4433e-6
    first, joint, there = (scale * (1 - 2 ** (-fret / 12)) for fret in (1, 16, 17))
    start = k * (joint - first) ** 2
    straight = start + (saddle - start) * (there - first) / (scale - first)
    assert float(gap) == pytest.approx(straight, abs=0.006)


def test_over_the_first_fret_the_nut_is_drawn(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.reading("nut.4", 0.45)
    instrument, _ = shelve(engine, bench)
    html = player.get(f"/instruments/{instrument}/drawings?fret=1").text
    assert "String E, gauge 2.67 mm: gap 0.45 mm" in texts(html)[0]
    assert "gap at the nut of the A string" in plain(html)


def test_a_fret_at_which_the_height_was_read_shows_the_reading(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3)
    bench.reading("height.4", 3.0, hold=1, gap=20)
    instrument, _ = shelve(engine, bench)
    html = player.get(f"/instruments/{instrument}/drawings?fret=20").text
    assert "String E, gauge 2.67 mm: gap 3.00 mm" in texts(html)[0]


@pytest.mark.parametrize("kind", [BASS, GUITAR, CLASSICAL])
def test_nothing_measured_is_drawn_at_target_and_says_so(player: Player, kind: str) -> None:
    home = player.make(kind)
    html = player.get(f"{home}/drawings").text
    assert "Not measured yet: drawn at target." in plain(html)
    across, along = texts(html)
    assert "gap" not in across and across.count("not measured") == across.count("gauge")
    assert "Not measured yet, drawn at target: relief, height of the E string" in along


def test_it_looks_back_to_the_last_setup_that_measured_anything(player: Player, engine: Engine) -> None:
    instrument = measured(engine)
    later = Bench(BASS)
    later.wait(days=90)
    shelve(engine, later.start(), instrument, finished=False)
    words = plain(player.get(f"/instruments/{instrument}/drawings").text)
    assert "From the readings up to 1 March 2025." in words


def test_every_fret_can_be_drawn(player: Player, engine: Engine) -> None:
    path = f"/instruments/{measured(engine)}/drawings"
    for fret in range(1, 21):
        assert f"The strings over fret {fret}" in player.get(f"{path}?fret={fret}").text


@pytest.mark.parametrize("fret", ["0", "21", "-1", "1e9", "twelve", "", "7.5"])
def test_a_fret_that_is_not_there_is_answered_beside_the_field(
    player: Player, engine: Engine, fret: str
) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings?fret={fret}", status=422).text
    assert plain(html).count("The fret to draw: a whole number from 1 to 20.") == 2
    assert "The strings over fret 12" in html


def test_an_instrument_that_is_not_there_is_404(player: Player) -> None:
    player.get("/instruments/nothere/drawings", status=404)


def test_what_was_turned_since_is_drawn_as_expected(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 2.5)
    bench.turn(Part.SADDLE_HEIGHT, -8, string=4)
    instrument, _ = shelve(engine, bench, finished=False)
    across = texts(player.get(f"/instruments/{instrument}/drawings").text)[0]
    # One turn of M3 is 0.5 mm at the saddle, 0.235 at the 12th.
    pattern = r"String E, gauge [^:]*: not measured, target [^,]*, should read ([\d.]+) mm"
    (expected,) = re.findall(pattern, across)
    assert float(expected) == pytest.approx(2.5 - 0.235, abs=0.04)
    assert across.count("should read") == 1
