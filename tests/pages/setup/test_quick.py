"""The quick check: one screen, the same judging, kept with the rest."""

from __future__ import annotations

import pytest

from tests.pages.conftest import Player, plain


@pytest.fixture
def bass(player: Player) -> str:
    return player.once("bass_4_34 made", lambda: player.make("bass_4_34"))


def check(player: Player, bass: str, **filled: object) -> str:
    """Send a quick check; returns its result page's address."""
    location: str = player.fill(f"{bass}/quick", **filled).headers["location"]
    return location


def test_a_good_quick_check_says_so_and_stands_in_the_history(player: Player, bass: str) -> None:
    result = check(
        player, bass, relief="0.3", height_4="2.5", height_1="2.0", temperature="21", humidity="45"
    )
    assert "All is well" in player.get(result).text
    history = plain(player.get(f"{bass}/history").text)
    assert "Quick check" in history and "0.30 mm" in history


def test_what_has_moved_is_judged_and_shows_on_the_card(player: Player, bass: str) -> None:
    result = plain(player.get(check(player, bass, relief="0.75")).text)
    assert "Something has moved" in result and "Too much bow" in result and "too much bow" in result
    card = plain(player.get(bass).text)
    assert "too much bow" in card and "Not set up yet" in card


def test_a_card_reads_a_range_here_too(player: Player, bass: str) -> None:
    page = f"{bass}/quick?relief_tool=card"
    form = player.form(page, f"{bass}/quick")
    assert (form["relief_tool"], form["relief_card_kind"]) == ("card", "business")
    assert form["height_tool"] == "ruler"
    answer = player.post(f"{bass}/quick", {**form, "relief": "two", "height_4": "2.5", "height_step": "1"})
    result = plain(player.get(answer.headers["location"]).text)
    assert "0.60 to 0.90 mm" in result and "2.50 mm" in result
    # The next one starts from the same card and the same ruler.
    again = player.form(f"{bass}/quick")
    assert (again["relief_tool"], again["height_step"]) == ("card", "1")
    sent = {**again, "relief": "soup"}
    assert "Choose one of the answers" in plain(player.post(f"{bass}/quick", sent, 422).text)


def test_one_tool_is_changed_and_the_other_stays(player: Player, bass: str) -> None:
    html = player.get(f"{bass}/quick?relief_tool=ear&height_tool=gauge").text
    assert f'href="{bass}/quick?relief_tool=card&amp;height_tool=gauge"' in html
    assert f'href="{bass}/quick?relief_tool=ear&amp;height_tool=feeler"' in html


def test_the_result_is_what_is_believed_of_the_instrument(player: Player, bass: str) -> None:
    """What was read in setups before counts: a reading far from it is doubted, and asked for once more."""
    setup = player.begin(bass)
    player.fill(f"{setup}/read/relief", value="0.3")
    player.fill(f"{setup}/read/height.1", value="2.2")
    player.fill(f"{setup}/finish")
    result = plain(player.get(check(player, bass, height_1="2.2", height_tool="gauge")).text)
    assert "good" in result and "All is well" in result
    result = plain(player.get(check(player, bass, height_1="4.2", height_tool="gauge")).text)
    assert "Something has moved" in result and "measure again" in result
    # Read so twice, it is believed.
    result = plain(player.get(check(player, bass, height_1="4.2", height_tool="gauge")).text)
    assert "too high" in result and "measure again" not in result


def test_a_floating_bridge_is_read_at_its_outer_strings(player: Player) -> None:
    html = player.get(f"{player.make('electric_6_floating')}/quick").text
    assert 'name="height_6"' in html and 'name="height_1"' in html and "height_level" not in html


def test_it_does_not_hide_a_setup_under_way(player: Player, bass: str) -> None:
    player.begin(bass)
    check(player, bass, relief="0.3")
    assert "Setup under way" in plain(player.get(bass).text)


def test_fahrenheit_is_kept_as_celsius(player: Player, bass: str) -> None:
    result = check(player, bass, relief="0.3", temperature="70", degrees="f", humidity="45")
    assert player.get(result)
    player.fill(f"{bass}/quick", status=422, relief="0.3", temperature="70", degrees="c")


def test_the_drift_is_kept_in_words(player: Player, bass: str) -> None:
    result = check(player, bass, drift_4="-12", drift_1="3")
    setup = "/setups/" + result.rsplit("/", 1)[1]
    words = plain(player.get(f"{setup}/journal").text)
    assert "Tuning drift" in words and "E string −12 cents; G string +3 cents" in words


@pytest.mark.parametrize(
    ("filled", "sentence"),
    [
        ({}, "Read at least one thing"),
        ({"relief": "much"}, "as"),
        ({"relief": "12"}, "12 thou"),
        ({"height_4": "1e9"}, "That is not a length"),
        ({"height_4": "0"}, "A height is more than 0"),
        ({"relief": "0.3", "humidity": "150"}, "relative humidity in percent"),
        ({"relief": "0.3", "temperature": "warm"}, "the temperature"),
        ({"relief": "0.3", "drift_4": "flat"}, "Type the cents"),
        ({"relief": "0.3", "age": "ancient"}, "how old the strings are"),
    ],
)
def test_bad_input_is_refused_beside_its_field(
    player: Player, bass: str, filled: dict[str, object], sentence: str
) -> None:
    answer = player.fill(f"{bass}/quick", status=422, **filled)
    assert sentence in plain(answer.text)
    assert 'id="errors"' in answer.text
    for value in filled.values():
        if value != "ancient":
            assert f'value="{value}"' in answer.text
    assert "Quick check" not in plain(player.get(f"{bass}/history").text).replace("Quick check ·", "")


def test_sent_twice_is_recorded_once(player: Player, bass: str) -> None:
    form = {**player.form(f"{bass}/quick"), "relief": "0.3"}
    player.post(f"{bass}/quick", form)
    assert "recorded already" in player.post(f"{bass}/quick", form, 409).text
    assert player.get(f"{bass}/history").text.count("<small>Quick check</small>") == 1
