"""The strings page: the pull, another set beside it, putting it on, and the weights of a packet."""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Player, plain


@pytest.fixture
def bass(player: Player) -> str:
    """The page of a four-string bass."""
    return player.once("bass_4_34 made", lambda: player.make("bass_4_34"))


def strings(player: Player, instrument: str, **asked: str) -> str:
    """The words of the strings page."""
    query = "&".join(f"{name}={value}" for name, value in asked.items())
    return plain(player.get(f"{instrument}/strings" + (f"?{query}" if query else "")).text)


def put_on(player: Player, instrument: str, status: int = 303, **asked: str) -> str:
    """Compare, then press the button; returns where that leads, or the page that answers."""
    query = "&".join(f"{name}={value}" for name, value in asked.items())
    path = f"{instrument}/strings"
    form = player.form(f"{path}?{query}", path)
    # The comparing form has the same action; a browser sends only the form of the button.
    answer = player.post(path, {**form}, status)
    return answer.headers.get("location", "") if status == 303 else plain(answer.text)


def read_relief(player: Player, setup: str, value: str) -> None:
    player.fill(f"{setup}/read/relief", value=value)


def test_the_card_leads_to_the_strings(player: Player, bass: str) -> None:
    assert f'href="{bass}/strings"' in player.get(bass).text


def test_the_pull_of_each_string_and_in_all_in_three_units(player: Player, bass: str) -> None:
    page = strings(player, bass)
    assert "191 N 42.8 lbf · 19.4 kgf" in page  # the .045 at G2 on 34 in
    assert "Together they pull 799 N 179.7 lbf · 81.5 kgf" in page
    assert "0.045 in wound weight published" in page and "as a string maker prints them" in page
    assert "within about 6 %: E string, A string, D string." in page


@pytest.mark.parametrize("kind", ["bass_5_34", "bass_4_short", "electric_7", "acoustic_6", "classical_6"])
def test_every_family_has_its_page_and_something_to_compare(player: Player, kind: str) -> None:
    instrument = player.make(kind)
    html = player.get(f"{instrument}/strings").text
    keys = re.findall(r'<option value="([a-z0-9_]+)"', html)
    one = next(key for key in keys if re.fullmatch(r"(bass|electric|acoustic|classical)_\d_\w+", key))
    assert "What the neck will do" in strings(player, instrument, set=one, tuning="tone_down")


def test_two_sets_side_by_side(player: Player, bass: str) -> None:
    page = strings(player, bass, set="bass_4_light", tuning="present")
    assert "Light, 40 to 100" in page
    assert "a little softer" in page or "softer" in page
    assert "Less pull: less relief. By how much, this neck has not shown yet." in page
    assert "was E1" not in page
    assert "was E1" in strings(player, bass, set="present", tuning="tone_down")


def test_comparing_records_nothing(player: Player, bass: str) -> None:
    before = player.get(f"{bass}/edit").text
    strings(player, bass, set="bass_4_heavy", tuning="lowest_down")
    assert re.findall(r'name="version" value="(\d+)"', player.get(f"{bass}/edit").text) == re.findall(
        r'name="version" value="(\d+)"', before
    )
    assert "0.105 in" in strings(player, bass)


def test_the_same_set_changes_nothing_and_cannot_be_put_on(player: Player, bass: str) -> None:
    page = strings(player, bass, set="bass_4_medium", tuning="usual")
    assert "about the same to the fingers" in page
    assert "stays about the same, so the relief should too" in page
    assert "I put these on" not in page


def test_own_gauges_and_notes(player: Player, bass: str) -> None:
    asked = {"set": "own", "tuning": "own", "gauge_1": "0.040", "note_1": "a2", "gauge_unit": "in"}
    page = strings(player, bass, **asked)
    assert "Your own gauges · Your own notes" in page
    assert "A2 was G2" in page and "0.040 in" in page


@pytest.fixture
def twelve(player: Player) -> str:
    """The page of a twelve-string guitar."""
    return player.once("acoustic_12 made", lambda: player.make("acoustic_12"))


def test_a_pair_pulls_with_both_its_strings(player: Player, twelve: str) -> None:
    page = strings(player, twelve)
    assert "E2/E3 0.047 in wound weight estimated 0.027 in wound weight estimated" in page
    assert "within about 5 %: E string (6), A string," in page
    # The thicker string alone pulls 91 N, its octave 120 N.
    assert "211 N" in page and "91 N" not in page


def test_a_pair_is_tuned_and_strung_together(player: Player, twelve: str) -> None:
    page = strings(player, twelve, set="acoustic_12_12", tuning="tone_down")
    assert "D2/D3 was E2/E3" in page and "0.052 in 0.030 in" in page
    put_on(player, twelve, set="acoustic_12_12", tuning="tone_down")
    card = plain(player.get(twelve).text)
    assert "D2/D3 G2/G3 C3/C4 F3/F4 A3/A3 D4/D4" in card
    assert "0.052/0.030 0.042/0.020" in card
    assert "I put these on" not in strings(player, twelve, set="acoustic_12_12", tuning="present")


def test_own_gauges_and_notes_of_a_pair(player: Player, twelve: str) -> None:
    asked = {"set": "own", "tuning": "own", "gauge_6b": "0.024", "note_4b": "d3", "gauge_unit": "in"}
    assert "0.047 in 0.024 in" in strings(player, twelve, **asked)
    put_on(player, twelve, **asked)
    card = plain(player.get(twelve).text)
    assert "D3/D3" in card and "0.047/0.024" in card
    assert player.form(f"{twelve}/edit")["gauge_6b"] == "0.024"


def test_a_pairs_second_string_is_the_thinner_here_too(player: Player, twelve: str) -> None:
    page = player.get(f"{twelve}/strings?set=own&tuning=present&gauge_6b=0.060&gauge_unit=in", 422)
    assert "no thicker than the first" in plain(page.text) and 'value="0.060"' in page.text


def test_what_was_mistyped_stays_and_is_answered_with_a_sentence(player: Player, bass: str) -> None:
    asked = "set=own&tuning=own&gauge_1=thin&gauge_unit=in&note_2=H2"
    answer = player.get(f"{bass}/strings?{asked}", 422)
    page = plain(answer.text)
    assert "String 2: type its note and octave" in page and "Please check" in page
    assert 'value="thin"' in answer.text and 'value="H2"' in answer.text
    assert "<details open><summary>My own" in answer.text


def test_gauges_in_the_wrong_unit_are_asked_about_once(player: Player, bass: str) -> None:
    answer = player.get(f"{bass}/strings?set=own&tuning=present&gauge_unit=mm", 422)
    page = plain(answer.text)
    assert "These gauges cannot be in mm. Are they in inches?" in page
    assert page.count("outside what this can be") == 0
    taken = strings(player, bass, set="own", tuning="present", gauge_unit="mm", gauge_unit_take="in")
    assert "about the same to the fingers" in taken


@pytest.mark.parametrize("asked", ["set=nothing", "tuning=nothing", "set=bass_5_light", "tuning=open_g"])
def test_what_is_not_offered_is_refused(player: Player, bass: str, asked: str) -> None:
    assert "Choose a" in plain(player.get(f"{bass}/strings?{asked}", 422).text)


def test_an_instrument_that_is_not_here(player: Player) -> None:
    for path in ("strings", "strings/weights"):
        player.get(f"/instruments/nothing-such/{path}", 404)
        player.post(f"/instruments/nothing-such/{path}", {}, 404)


def test_put_on_without_a_setup_changes_the_description(player: Player, bass: str) -> None:
    where = put_on(player, bass, set="bass_4_heavy", tuning="lowest_down")
    assert where == f"{bass}/strings?put_on=1"
    assert "moved what was measured before: start a setup" in plain(player.get(where).text)
    page = strings(player, bass)
    assert "0.110 in" in page and "D1" in page and "E1" not in page
    assert 'value="0.110"' in player.get(f"{bass}/edit").text


def relief_source(player: Player, bass: str) -> str:
    """Where the relief comes from that the clearance map rests on."""
    found = re.search(r"Relief [\d.]+ mm(?: , give or take [\d.]+ mm)? , ([a-z ]+?) Height", plain(
        player.get(f"{bass}/clearance").text))  # fmt: skip
    assert found
    return found[1]


@pytest.fixture
def set_up(player: Player, bass: str) -> str:
    """The bass after a setup."""

    def after() -> str:
        setup = player.begin(bass)
        for place, value in (
            ("relief", "0.3"), ("height.4", "2.6"), ("nut.4", "0.3"), ("intonation.4.12", "1"),
        ):  # fmt: skip
            player.fill(f"{setup}/read/{place}", value=value)
        player.fill(f"{setup}/finish")
        return bass

    return player.once("bass_4_34 set up", after)


def test_put_on_between_setups_what_was_read_is_only_expected(player: Player, set_up: str) -> None:
    assert relief_source(player, set_up) == "measured"
    put_on(player, set_up, set="bass_4_heavy", tuning="present")
    assert relief_source(player, set_up) == "expected after what was changed since"
    card = plain(player.get(set_up).text)
    assert "Last set up on" in card and ", strings changed on" in card and "Start a setup" in card
    assert "Report of the last setup" in card
    player.fill(f"{set_up}/quick", relief="0.3")
    assert relief_source(player, set_up) == "measured"


def test_put_on_between_setups_is_in_the_history_and_moves_nothing_else(player: Player, set_up: str) -> None:
    report = re.search(r"/setups/[\w-]+/report", player.get(set_up).text)
    assert report
    before = player.get(report[0]).text
    put_on(player, set_up, set="bass_4_heavy", tuning="present")
    history = player.get(f"{set_up}/history").text
    assert plain(history).count("Strings changed: Heavy, 50 to 110, tuned to E1 A1 D2 G2") == 1
    assert "Quick check" not in history
    assert "Strings: changed" in plain(player.get(f"{set_up}/history/relief").text)
    assert plain(player.get(report[0]).text) == plain(before)
    file = player.get("/data/bench.json").text
    assert file.count("Strings changed: Heavy") == 1


def test_retuned_between_setups_is_said_so_and_leaves_the_strings_their_age(
    player: Player, set_up: str
) -> None:
    player.fill(f"{set_up}/quick", relief="0.3", age="old")
    due = plain(player.get("/due").text)
    assert ": new strings " in due
    put_on(player, set_up, set="present", tuning="tone_down")
    assert ", retuned on" in plain(player.get(set_up).text)
    assert plain(player.get("/due").text) == due
    put_on(player, set_up, set="bass_4_light", tuning="present")
    assert ", strings changed on" in plain(player.get(set_up).text)
    later = plain(player.get("/due").text)
    assert ": new strings " in later and later != due


def test_put_on_in_a_setup_goes_on_with_it(player: Player, bass: str) -> None:
    setup = player.begin(bass)
    read_relief(player, setup, "0.3")
    assert put_on(player, bass, set="bass_4_light", tuning="present") == setup
    assert "Strings changed: Light, 40 to 100, tuned to E1 A1 D2 G2" in plain(
        player.get(f"{setup}/journal").text
    )
    assert relief_source(player, bass) == "expected after what was changed since"


def test_tuned_lower_with_the_same_strings(player: Player, bass: str) -> None:
    setup = player.begin(bass)
    put_on(player, bass, set="present", tuning="tone_down")
    assert "Tuned to D1 G1 C2 F2" in plain(player.get(f"{setup}/journal").text)


def test_the_button_pressed_twice_puts_them_on_once(player: Player, bass: str) -> None:
    setup = player.begin(bass)
    path = f"{bass}/strings"
    form = player.form(f"{path}?set=bass_4_light&tuning=present", path)
    for _ in range(2):
        assert player.post(path, {**form}).headers["location"] == setup
    assert plain(player.get(f"{setup}/journal").text).count("Strike out") == 1


def test_a_change_on_another_page_meanwhile_is_said(player: Player, bass: str) -> None:
    path = f"{bass}/strings"
    form = player.form(f"{path}?set=bass_4_light&tuning=present", path)
    put_on(player, bass, set="bass_4_heavy", tuning="present")
    page = plain(player.post(path, {**form}, 409).text)
    assert "changed on another page" in page
    assert "0.110 in" in strings(player, bass)


def test_a_form_that_was_broken_on_the_way_is_refused(player: Player, bass: str) -> None:
    assert "Choose a set" in plain(player.post(f"{bass}/strings", {"set": "x", "tuning": "usual"}, 422).text)


def test_the_neck_says_by_how_much_once_it_has_shown_it(player: Player, bass: str) -> None:
    setup = player.begin(bass)
    read_relief(player, setup, "0.30")
    put_on(player, bass, set="bass_4_heavy", tuning="present")
    read_relief(player, setup, "0.36")
    page = strings(player, bass, set="bass_4_medium", tuning="present")
    assert re.search(r"Less pull: less relief\. expected 0\.06 mm less, give or take 0\.0\d mm", page)
    assert "one change of strings on this neck" in page


class TestPacket:
    def test_weights_are_typed_as_printed_and_used(self, player: Player, bass: str) -> None:
        path = f"{bass}/strings/weights"
        player.fill(path, weight_1="0.00040000 lb/in", weight_4="36.0 g/m")
        page = strings(player, bass)
        assert page.count("weight from the packet") == 2
        assert "205 N" in page  # 0.0004 / 0.0003724 of the published .045
        form = player.form(path)
        assert form["weight_1"] == "0.00040000 lb/in" and form["weight_2"] == ""

    @pytest.mark.parametrize(
        ("typed", "unit", "sentence"),
        [
            ("heavy", "lb/in", "as it is printed"),
            ("6.65", "lb/in", "Is it in g/m?"),
            ("0", "g/m", "more than 0"),
        ],
    )
    def test_what_cannot_be_is_kept_in_the_field(
        self, player: Player, bass: str, typed: str, unit: str, sentence: str
    ) -> None:
        path = f"{bass}/strings/weights"
        answer = player.fill(path, 422, weight_1=typed, weight_unit=unit, weight_2="0.0008 lb/in")
        assert sentence in plain(answer.text)
        assert f'value="{typed}"' in answer.text and 'value="0.0008 lb/in"' in answer.text
        assert "weight from the packet" not in strings(player, bass)

    def test_an_emptied_field_forgets_the_packet(self, player: Player, bass: str) -> None:
        path = f"{bass}/strings/weights"
        player.fill(path, weight_1="0.0004")
        player.fill(path, weight_1="")
        assert "weight from the packet" not in strings(player, bass)

    def test_the_description_does_not_lose_them(self, player: Player, bass: str) -> None:
        path = f"{bass}/strings/weights"
        player.fill(path, weight_1="0.0004", weight_2="14.5 g/m")
        player.fill(f"{bass}/edit", name="Renamed", gauge_2="0.070")
        form = player.form(path)
        assert (form["weight_1"], form["weight_2"]) == ("0.0004", "")
        assert strings(player, bass).count("weight from the packet") == 1

    def test_another_tuning_keeps_them_another_set_does_not(self, player: Player, bass: str) -> None:
        player.fill(f"{bass}/strings/weights", weight_1="0.0004")
        put_on(player, bass, set="present", tuning="half_down")
        assert "weight from the packet" in strings(player, bass)
        put_on(player, bass, set="bass_4_light", tuning="present")
        assert "weight from the packet" not in strings(player, bass)

    def test_a_change_on_another_page_meanwhile_is_said(self, player: Player, bass: str) -> None:
        path = f"{bass}/strings/weights"
        form = player.form(path)
        player.fill(path, weight_1="0.0004")
        answer = player.post(path, {**form, "weight_1": "0.0005"}, 409)
        assert "changed on another page" in plain(answer.text)
        assert 'value="0.0005"' in answer.text
