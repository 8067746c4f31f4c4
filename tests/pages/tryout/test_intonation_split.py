"""One string over the whole board, through its page."""

from __future__ import annotations

from tests.pages.conftest import Player, plain


def test_frets_are_recorded_and_split(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = f"{setup}/intonation/4"
    player.fill(page, fret_1="9", fret_5="10", fret_12="12", fret_19="16,5")
    words = plain(player.get(page).text)
    assert "Nut end: every fretted note" in words
    assert "Saddle:" in words
    journal = plain(player.get(f"{setup}/journal").text)
    assert "Intonation, E string, fret 5" in journal


def test_bad_cents_and_no_cents_are_refused_beside_the_field(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = f"{setup}/intonation/4"
    answer = player.fill(page, status=422, fret_1="sharp", fret_5="3")
    assert "Type the cents that the tuner shows" in answer.text
    assert 'value="sharp"' in answer.text and 'value="3"' in answer.text
    assert "at least one fret" in player.fill(page, status=422).text
    assert "too far off" in player.fill(page, status=422, fret_1="1000").text


def test_a_string_that_is_not_there(player: Player) -> None:
    setup = player.begun("bass_4_34")
    player.get(f"{setup}/intonation/5", 404)


def test_the_same_form_twice_is_recorded_once(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = f"{setup}/intonation/4"
    form = {**player.form(page), "fret_12": "4"}
    player.post(page, form)
    assert "recorded already" in player.post(page, form, 409).text
    assert player.get(f"{setup}/journal").text.count('name="strike"') == 1


def test_no_fret_is_asked_for_that_a_hand_cannot_reach(player: Player) -> None:
    setups = (player.begin(player.make(kind)) for kind in ("classical_6", "bass_4_34"))
    classical, bass = (player.form(f"{setup}/intonation/1") for setup in setups)
    # The classical board has 19 frets too, but its body starts at 12.
    assert "fret_12" in classical and "fret_19" not in classical
    assert "fret_19" in bass
