"""Describing an instrument: a mistake gets its sentence beside the field, and nothing typed is lost."""

from __future__ import annotations

import re
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Engine

from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import Walk
from webapp.pages.instrument.description_reading import form_values, read_spec
from webapp.pages.instrument.string_rows import resized, row_count
from webapp.pages.visit.forms import FormReader
from webapp.setups.description import facts
from webapp.store import instruments
from webapp.store.benches import get_or_create_local_bench
from webapp.store.engine import writing
from webapp.trade.content import Trade, load_trade
from webapp.trade.spec import InstrumentSpec, OneString, OwnSwing
from webapp.trade.words import Family, ScrewHeads, Touch
from webapp.web.settings import assets

NEW = "/instruments/new"
KINDS = sorted(path.stem for path in (assets().content / "kinds").glob("*.toml"))


def untyped(spec: InstrumentSpec) -> InstrumentSpec:
    return spec.model_copy(update={"typed": {}})


def read(trade: Trade, kind: str, **filled: str) -> tuple[InstrumentSpec | None, FormReader]:
    form = FormReader({**form_values(trade.kinds[kind].spec), **filled})
    return read_spec(form, trade, trade.kinds[kind]), form


def error_beside(html: str, name: str) -> str:
    found = re.search(rf'id="err-{name}">(.*?)</p>', html, re.DOTALL)
    return unescape(plain(found[1])).strip() if found else ""


# --- kinds ---


def test_every_kind_is_offered(player: Player, trade: Trade) -> None:
    page = player.get(NEW).text
    for key, kind in trade.kinds.items():
        assert f'<option value="{key}">{kind.name}</option>' in page


def test_a_new_instrument_asks_for_little_and_shows_what_it_assumed(player: Player, trade: Trade) -> None:
    assert set(player.form(NEW)) == {"form_id", "name", "kind", "touch"}
    filled = {"kind": "bass_5_35", "name": "Low one", "touch": "firm", "left_handed": "on"}
    made = player.post(NEW, {"form_id": "f", **filled}).headers["location"]
    path = made.removesuffix("/assumed")
    page = plain(player.get(made).text)
    for words in ("Scale 35 in assumed", "Frets 2", "Truss rod", "Bridge", "Touch firm Scale", "left-handed"):
        assert words in page
    assert "Touch firm assumed" not in page and page.count(" assumed") >= 7
    assert f'href="{path}/edit"' in player.get(made).text
    assert player.get(path).text.count(">assumed<") >= 7


def test_what_was_corrected_or_saved_is_no_longer_assumed(player: Player) -> None:
    path = player.make("bass_4_34", name="Old blue")
    player.fill(f"{path}/edit")
    assert ">assumed<" not in player.get(path).text
    assert player.get(f"{path}/assumed").url.path == path


def test_what_changed_by_other_ways_is_no_longer_assumed(trade: Trade) -> None:
    spec = trade.kinds["bass_4_34"].spec.model_copy(update={"assumed": True})
    assert {fact.name for fact in facts(spec, trade) if not fact.assumed} == {"Kind", "Touch"}
    lighter = spec.strings[0].model_copy(update={"gauge_mm": 2.5})
    other = spec.model_copy(update={"strings": (lighter, *spec.strings[1:])})
    told = {fact.name for fact in facts(other, trade) if not fact.assumed}
    assert told == {"Kind", "Touch", "Strings", "Gauges"}


def test_a_turn_says_what_it_assumes_and_where_to_correct_it(player: Player) -> None:
    path = player.make("bass_4_34")
    walk = Walk(player, player.begin(path), {"relief": ["0.9"]}).until("adjust/relief")
    page = player.get(f"{walk.setup}/adjust/relief").text
    assert f'Assumed: the rod tightens clockwise. <a href="{path}/edit">' in page
    player.fill(f"{path}/edit", rod_tightens="anticlockwise")
    page = player.get(f"{walk.setup}/adjust/relief").text
    assert "Assumed:" not in page and "Tighten a quarter turn: anticlockwise" in page


def test_without_a_name_it_is_called_by_its_kind(player: Player, trade: Trade) -> None:
    path = player.make("electric_6")
    assert player.form(f"{path}/edit")["name"] == trade.kinds["electric_6"].name


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("name", "x" * 81, "80 characters at most"),
        ("kind", "", "Choose the nearest kind"),
        ("kind", "lute", "Choose the nearest kind"),
        ("touch", "gentle", "Choose how hard you play"),
    ],
)
def test_a_mistake_in_a_new_instrument(player: Player, name: str, text: str, sentence: str) -> None:
    page = player.fill(f"{NEW}?kind=bass_4_34", 422, NEW, **{"name": "Kept", name: text}).text
    assert sentence in error_beside(page, name)
    assert "Nothing on the bench yet" in player.get("/").text


def test_a_left_handed_one_is_said_to_be_so(player: Player) -> None:
    path = player.make("bass_4_34", left_handed="on")
    assert "Hand left-handed" in plain(player.get(path).text)
    fields = player.form(f"{path}/edit")
    assert fields.pop("left_handed") == "on"
    player.post(f"{path}/edit", fields)
    assert "left-handed" not in player.get(path).text


@pytest.mark.parametrize("kind", KINDS)
def test_a_form_saved_as_it_was_filled_in_is_the_kind_itself(trade: Trade, kind: str) -> None:
    spec, form = read(trade, kind)
    assert form.errors == []
    assert spec is not None and untyped(spec) == trade.kinds[kind].spec
    # ... and editing it shows the same texts again.
    assert form_values(spec) == form_values(trade.kinds[kind].spec)


@pytest.mark.parametrize("kind", KINDS)
def test_editing_and_saving_unchanged_makes_no_new_version(player: Player, kind: str) -> None:
    path = player.make(kind)
    player.fill(f"{path}/edit")
    before = player.form(f"{path}/edit")
    player.post(f"{path}/edit", dict(before))
    assert player.form(f"{path}/edit") == before


def test_a_family_without_pickups_is_asked_for_none(player: Player, trade: Trade) -> None:
    assert "pickup_1_type" not in player.form(f"{player.make('acoustic_6')}/edit")
    spec, _ = read(trade, "acoustic_6", pickup_1_type="single")
    assert spec is not None and spec.pickups == ()


# --- what is typed wrong ---

BAD = [
    ("name", "", "Give it a name"),
    ("name", "   ", "Give it a name"),
    ("name", "x" * 81, "80 characters at most"),
    ("touch", "gentle", "Choose how hard you play"),
    ("scale", "", "Nothing was typed"),
    ("scale", "long", "That is not a length"),
    ("scale", "1e9", "That is not a length"),
    ("scale", "1000000000", "is outside what this can be"),
    ("scale", "-34", "is outside what this can be"),
    ("scale", "34 kg", "is no unit used here"),
    ("scale", "34 mm", "is outside what this can be"),
    ("scale_treble", "20", "differ by more than 150 mm"),
    ("scale_treble", "short", "That is not a length"),
    ("frets", "", "a whole number from 12 to 36"),
    ("frets", "20.5", "a whole number from 12 to 36"),
    ("frets", "1e9", "a whole number from 12 to 36"),
    ("frets", "-20", "a whole number from 12 to 36"),
    ("joint", "21", "There are only 20 frets"),
    ("joint", "0", "a whole number from 5 to 36"),
    ("board", "bent", "Choose the shape of the board"),
    ("radius_nut", "", "Nothing was typed"),
    ("radius_nut", "0", "is outside what this can be"),
    ("string_count", "0", "a whole number from 3 to 12"),
    ("string_count", "99", "a whole number from 3 to 12"),
    ("string_count", "5", "The list has 4 strings. Press Change to make it 5."),
    ("note_4", "", "String 4: type its note and octave"),
    ("note_4", "H1", "String 4: type its note and octave"),
    ("note_1", "G", "String 1: type its note and octave"),
    ("note_1", "G99", "String 1: type its note and octave"),
    ("gauge_2", "", "Nothing was typed"),
    ("gauge_2", "thick", "That is not a length"),
    ("gauge_2", "-0.065", "is outside what this can be"),
    ("gauge_2", "1e9", "That is not a length"),
    ("wound_3", "braided", "Choose whether string 3 is wound or plain"),
    ("spacing_nut", "330", "is outside what this can be"),
    ("spacing_bridge", "wide", "That is not a length"),
    ("a4", "", "from 390 to 470 Hz"),
    ("a4", "4400", "from 390 to 470 Hz"),
    ("a4", "-440", "from 390 to 470 Hz"),
    ("rod_type", "three_way", "Choose the kind of truss rod"),
    ("rod_tightens", "", "Choose which way the rod tightens"),
    ("rod_key", "k" * 41, "40 characters at most"),
    ("note_3b", "H3", "String 3b: type its note and octave"),
    ("gauge_3b", "0.095", "String 3b: type its note and octave"),
    ("bridge_type", "rope", "Choose the kind of bridge"),
    ("intonation_heads", "under", "Choose the side on which the screws"),
    ("height_thread", "M99", "Choose a thread"),
    ("pickup_1_type", "laser", "Choose what pickup 1 is"),
    ("pickup_2_position", "headstock", "Choose where pickup 2 sits"),
    ("pickup_2_thread", "M99", "Choose a thread"),
]


@pytest.mark.parametrize(("name", "text", "sentence"), BAD, ids=[f"{n}={t[:12]}" for n, t, _ in BAD])
def test_a_mistake_gets_its_sentence_and_everything_typed_stays(
    player: Player, name: str, text: str, sentence: str
) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    filled = {"name": "Bert's bass", "note_2": "D#2", "spacing_bridge": "58,5", "rod_key": "5 mm", name: text}
    answer = player.fill(edit, 422, **filled)
    page = answer.text
    # A second string that has only a gauge is told beside its note.
    beside = name.replace("gauge_3b", "note_3b")
    assert sentence in error_beside(page, beside)
    assert 'id="errors"' in page and f'href="#field-{beside}"' in page
    fields = Form(page, edit).fields
    selects = {"wound_3", "rod_type", "rod_tightens", "bridge_type", "height_thread", "touch", "board"}
    chosen = selects | {"intonation_heads", "pickup_1_type", "pickup_2_position", "pickup_2_thread"}
    kept = {field: typed for field, typed in filled.items() if field not in chosen}
    assert {field: fields[field] for field in kept} == kept
    assert player.form(edit)["spacing_bridge"] == "57"


def test_the_section_with_the_mistake_is_open(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, joint="33").text
    assert re.search(r'<li id="neck"><details open>', page)
    assert re.search(r'<li id="bridge"><details>', page)


def test_a_posted_form_without_its_fields_is_only_told_what_is_missing(player: Player) -> None:
    page = player.post(f"{player.make('bass_4_34')}/edit", {}, 422)
    assert "Give it a name" in page.text and "Number of strings" in page.text


def test_a_string_that_is_not_there_is_not_kept(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, note_5="B0", gauge_5="0.13", wound_5="wound").text
    assert error_beside(page, "string_count") == "! The list has 5 strings. Press Change to make it 4."
    assert Form(page, edit).fields["note_5"] == "B0"


# --- lengths ---


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [("34", "in", 863.6), ("863,6", "mm", 863.6), ("86.36 cm", "in", 863.6), ('34 1/4"', "mm", 869.95)],
)
def test_a_length_is_kept_as_it_was_typed(trade: Trade, text: str, unit: str, mm: float) -> None:
    spec, form = read(trade, "bass_4_34", scale=text, scale_unit=unit)
    assert form.errors == [] and spec is not None
    assert spec.scale_bass_mm == spec.scale_treble_mm == mm
    assert spec.typed["scale"] == text
    assert form_values(spec)["scale"] == text


@pytest.mark.parametrize(
    ("name", "text", "unit", "meant"),
    [
        ("scale", "34", "mm", "34 in"),
        ("scale", "863.6", "in", "863.6 mm"),
        ("radius_nut", "9.5", "mm", "9.5 in"),
        ("radius_nut", "241", "in", "241 mm"),
        ("spacing_nut", "33", "in", "33 mm"),
    ],
)
def test_another_units_usual_size_is_asked_about(
    player: Player, name: str, text: str, unit: str, meant: str
) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    filled = {name: text, f"{name}_unit": unit}
    page = player.fill(edit, 422, **filled).text
    assert f"Did you mean {meant}" in error_beside(page, name)
    assert f'name="{name}_take" value="{meant}"' in page
    sent = {**Form(page, edit).fields, f"{name}_take": meant}
    path = player.post(edit, sent).headers["location"]
    assert player.form(f"{path}/edit")[name] == meant


def test_one_gauge_in_another_unit_is_asked_about(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, gauge_1="45").text
    assert "Did you mean 45 thou (1.14 mm)?" in error_beside(page, "gauge_1")
    sent = {**Form(page, edit).fields, "gauge_1_take": "45 thou"}
    assert "0.045 in" in player.get(player.post(edit, sent).headers["location"]).text


def test_a_whole_set_in_another_unit_is_asked_about_once(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, gauge_unit="mm").text
    assert error_beside(page, "gauge_unit") == "! These gauges cannot be in mm. Are they in inches?"
    assert page.count("cannot be in mm") == 2  # in the summary and beside the list
    sent = {**Form(page, edit).fields, "gauge_unit_take": "in"}
    path = player.post(edit, sent).headers["location"]
    assert "0.105 0.085 0.065 0.045 in" in player.get(path).text
    assert player.form(f"{path}/edit")["gauge_unit"] == "in"


def test_a_suggestion_taken_up_stays_when_something_else_is_wrong(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, scale="34", scale_unit="mm", scale_take="34 in", joint="").text
    assert Form(page, edit).fields["scale"] == "34 in"


def test_fanned_frets_and_a_compound_board(trade: Trade) -> None:
    spec, form = read(
        trade, "bass_5_34", scale="35", scale_treble="33", board="compound", radius_nut="10", radius_end="16"
    )
    assert form.errors == [] and spec is not None
    assert (spec.scale_bass_mm, spec.scale_treble_mm) == (889.0, 838.2)
    assert (spec.radius_nut_mm, spec.radius_end_mm) == (254.0, 406.4)
    values = form_values(spec)
    assert (values["scale_treble"], values["board"], values["radius_end"]) == ("33", "compound", "16")


def test_a_flat_board_asks_for_no_radius(trade: Trade) -> None:
    spec, form = read(trade, "bass_4_34", board="flat", radius_nut="nonsense")
    assert form.errors == [] and spec is not None and spec.radius_nut_mm is None


@pytest.mark.parametrize(("typed", "kept"), [("e1", "E1"), ("B♭0", "Bb0"), (" c # 3 ", "C#3")])
def test_notes_are_read_kindly(trade: Trade, typed: str, kept: str) -> None:
    spec, form = read(trade, "bass_4_34", note_3=typed)
    assert form.errors == [] and spec is not None and spec.string(3).note == kept


@pytest.mark.parametrize(("typed", "hertz"), [("442", 442.0), ("441,5", 441.5), ("440 Hz", 440.0)])
def test_the_reference_pitch_is_read_kindly(trade: Trade, typed: str, hertz: float) -> None:
    spec, _ = read(trade, "bass_4_34", a4=typed)
    assert spec is not None and spec.a4_hz == hertz


# --- floating bridges, bridges on posts, no headstock ---


@pytest.mark.parametrize(("text", "unit", "mm"), [("4,5", "mm", 4.5), ("0", "mm", 0.0), ("1/8", "in", 3.175)])
def test_how_a_floating_bridge_sits_when_it_is_level(trade: Trade, text: str, unit: str, mm: float) -> None:
    spec, form = read(trade, "electric_6_floating", level=text, level_unit=unit, intonation_heads="front")
    assert form.errors == [] and spec is not None
    assert spec.bridge.level_mm == mm and spec.bridge.intonation_heads is ScrewHeads.FRONT
    values = form_values(spec)
    assert (values["level"], values["level_unit"], values["intonation_heads"]) == (text, unit, "front")


def test_a_bridge_that_its_maker_wants_parallel_says_nothing(trade: Trade) -> None:
    spec, _ = read(trade, "electric_6_floating", level=" ")
    assert spec is not None and spec.bridge.level_mm is None
    # What belongs to springs is not kept of a bridge without any.
    spec, form = read(trade, "electric_6", level="4 furlongs")
    assert form.errors == [] and spec is not None and spec.bridge.level_mm is None


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("-1", "is outside what this can be"), ("high", "That is not a length"), ("25", "Did you mean 25 thou")],
)
def test_a_level_that_cannot_be_opens_the_bridge(player: Player, text: str, sentence: str) -> None:
    edit = f"{player.make('electric_6_floating')}/edit"
    page = player.fill(edit, 422, level=text, level_unit="mm").text
    assert sentence in error_beside(page, "level")
    assert Form(page, edit).fields["level"] == text
    assert re.search(r'<li id="bridge"><details open>', page)


@pytest.mark.parametrize(("kind", "strings"), [("bass_5_34", 5), ("electric_6", 6), ("electric_7", 7)])
@pytest.mark.parametrize("bridge", ["two_post", "floating"])
def test_a_bridge_on_posts_under_any_number_of_strings(
    trade: Trade, kind: str, strings: int, bridge: str
) -> None:
    posts = {"height_thread": "M8", "post_spacing": "92", "post_spacing_unit": "mm"}
    spec, form = read(trade, kind, bridge_type=bridge, **posts)
    assert form.errors == [] and spec is not None
    assert (spec.string_count, spec.bridge.type.value, spec.bridge.height_thread) == (strings, bridge, "M8")
    assert spec.bridge.post_spacing_mm == 92.0
    values = form_values(spec)
    assert (values["bridge_type"], values["post_spacing"]) == (bridge, "92")


def test_an_instrument_without_a_headstock_is_told_of_none(player: Player) -> None:
    path = player.make("bass_5_34", headless="on")
    assert player.form(f"{path}/edit")["headless"] == "on"
    card, form = plain(player.get(path).text), plain(player.get(f"{path}/edit").text)
    assert "nut at the nut end" in card and "at the headstock" not in card
    assert "At the nut end" in form and "At the headstock" not in form
    fields = player.form(f"{path}/edit")
    del fields["headless"]  # as a box that is not ticked is sent
    player.post(f"{path}/edit", fields)
    assert "nut at the headstock" in plain(player.get(path).text)


def test_a_ticked_box_stays_ticked_when_something_else_is_wrong(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    assert Form(player.fill(edit, 422, headless="on", joint="x").text, edit).fields["headless"] == "on"
    assert "headless" not in Form(player.fill(edit, 422, joint="x").text, edit).fields


# --- strings in pairs ---


def test_six_pairs_are_on_the_card_and_in_the_form(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    path = player.make("acoustic_12")
    card, form = plain(player.get(path).text), player.get(f"{path}/edit").text
    assert "E2/E3 A2/A3 D3/D4 G3/G4 B3/B3 E4/E4" in card
    assert "0.047/0.027 0.039/0.018 0.030/0.012 0.023/0.008 0.014/0.014 0.010/0.010 in" in card
    assert "E2 A2 D3 G3 B3 E4, in pairs, 0.047 to 0.010 in" in plain(form)
    assert re.search(r"<details open>\s*<summary>Strings in pairs", form)
    assert re.search(r"<details>\s*<summary>Strings in pairs", player.get(edit).text)


def test_a_bass_gains_a_thinner_string_beside_each(trade: Trade) -> None:
    octaves = {f"note_{n}b": note for n, note in ((4, "E2"), (3, "a2"), (2, "D3"), (1, "G3"))}
    gauges = {f"gauge_{n}b": text for n, text in ((4, ".045"), (3, ".035"), (2, ".025"), (1, ".018"))}
    spec, form = read(trade, "bass_4_34", **octaves, **gauges, wound_4b="wound")
    assert form.errors == [] and spec is not None
    assert [[one.note for one in s.course] for s in spec.strings] == [
        ["E1", "E2"], ["A1", "A2"], ["D2", "D3"], ["G2", "G3"],
    ]  # fmt: skip
    assert spec.string(4).partner == OneString(note="E2", gauge_mm=1.143, wound=True)
    assert form_values(spec)["gauge_3b"] == ".035"
    # Taken off again by emptying the two fields.
    emptied = FormReader({**form_values(spec), "note_1b": "", "gauge_1b": ""})
    again = read_spec(emptied, trade, trade.kinds["bass_4_34"], spec)
    assert again is not None and [len(s.course) for s in again.strings] == [2, 2, 2, 1]


def test_the_thicker_string_of_a_pair_comes_first(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, note_2b="D3", gauge_2b="0.07").text
    assert error_beside(page, "gauge_2b") == "! The second string of a course is no thicker than the first."
    assert 'href="#field-gauge_2b">String 2b, gauge. The second' in page
    assert re.search(r"<details open>\s*<summary>Strings in pairs", page)


def test_a_second_string_without_a_gauge_is_asked_for_it(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, note_1b="G3", wound_1b="plain").text
    assert "Nothing was typed" in error_beside(page, "gauge_1b")
    fields = Form(page, edit).fields
    assert (fields["note_1b"], fields["wound_1b"]) == ("G3", "plain")


def test_a_pairs_gauge_in_another_unit_is_asked_about(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, note_1b="G3", gauge_1b="18").text
    assert 'name="gauge_1b_take" value="18 thou"' in page
    sent = {**Form(page, edit).fields, "gauge_1b_take": "18 thou"}
    card = plain(player.get(player.post(edit, sent).headers["location"]).text)
    assert "0.105 0.085 0.065 0.045/0.018 in" in card


def test_pairs_stay_with_their_strings_when_the_number_changes(trade: Trade) -> None:
    kind = trade.kinds["acoustic_12"]
    five = resized(form_values(kind.spec), 5, kind.family)
    assert [five[f"note_{n}b"] for n in (5, 4, 3, 2, 1)] == ["A3", "D4", "G4", "B3", "E4"]
    seven = resized(form_values(kind.spec), 7, kind.family)
    assert (seven["note_7b"], seven["gauge_7b"], seven["note_6b"]) == ("", "", "E3")
    spec = read_spec(FormReader(seven), trade, kind)
    assert spec is not None and [len(s.course) for s in spec.strings] == [1, 2, 2, 2, 2, 2, 2]


def test_a_pickup_is_taken_away_and_another_added(trade: Trade) -> None:
    more = {"pickup_1_type": "none", "pickup_3_type": "dual", "pickup_3_position": "neck"}
    spec, form = read(trade, "bass_4_34", **more)
    assert form.errors == [] and spec is not None
    found = [(p.position.value, p.type.value) for p in spec.pickups]
    assert found == [("bridge", "single"), ("neck", "dual")]


def test_a_touch_found_by_test_is_kept_until_another_is_chosen(trade: Trade) -> None:
    kind = trade.kinds["bass_4_34"]
    before = kind.spec.model_copy(update={"own_swing": OwnSwing(string=4, swing_mm=0.9, error_mm=0.1)})
    values = form_values(before)
    kept = read_spec(FormReader({**values, "name": "Other"}), trade, kind, before)
    assert kept is not None and kept.own_swing == before.own_swing and kept.touch is before.touch
    chosen = read_spec(FormReader({**values, "touch": "firm"}), trade, kind, before)
    assert chosen is not None and chosen.own_swing is None and chosen.touch is Touch.FIRM
    # On another number of strings it would speak of the wrong one.
    more = read_spec(FormReader(resized(values, 5, Family.BASS)), trade, kind, before)
    assert more is not None and more.own_swing is None


def test_a_touch_found_by_test_cannot_be_claimed(trade: Trade) -> None:
    _, form = read(trade, "bass_4_34", touch="own")
    assert form.error("touch") == "Choose how hard you play."


def test_the_pages_speak_of_a_touch_found_by_test(player: Player, engine: Engine, trade: Trade) -> None:
    path = player.make("bass_4_34")
    spec = trade.kinds["bass_4_34"].spec.model_copy(
        update={"own_swing": OwnSwing(string=4, swing_mm=0.9, error_mm=0.1)}
    )
    with writing(engine) as session:
        bench = get_or_create_local_bench(session)
        instruments.revise(session, bench.id, path.rsplit("/", 1)[1], spec.model_dump_json(), 1)
    assert "For your own touch, found by test." in player.get(path).text
    assert player.form(f"{path}/edit")["touch"] == "own"


# --- another number of strings ---


@pytest.mark.parametrize(
    ("kind", "count", "notes"),
    [
        ("bass_4_34", 5, "B0 E1 A1 D2 G2"),
        ("bass_4_34", 6, "B0 E1 A1 D2 G2 C3"),
        ("bass_6_34", 5, "B0 E1 A1 D2 G2"),
        ("bass_5_34", 4, "E1 A1 D2 G2"),
        ("electric_6", 7, "B1 E2 A2 D3 G3 B3 E4"),
        ("electric_7", 8, "F#1 B1 E2 A2 D3 G3 B3 E4"),
        ("electric_7", 6, "E2 A2 D3 G3 B3 E4"),
    ],
)
def test_another_number_of_strings_is_filled_in_sensibly(
    player: Player, kind: str, count: int, notes: str
) -> None:
    filled = {"string_count": str(count), "resize": "1", "name": "Mine", "spacing_nut": "44,4", "joint": "x"}
    path = player.make(kind)
    answer = player.fill(f"{path}/edit", 200, **filled)
    assert answer.headers["HX-Push-Url"] == "false"
    fields = Form(answer.text, f"{path}/edit").fields
    assert " ".join(fields[f"note_{n}"] for n in range(count, 0, -1)) == notes
    assert f"note_{count + 1}" not in fields
    # Nothing else is touched, judged or kept.
    assert (fields["name"], fields["spacing_nut"], fields["joint"]) == ("Mine", "44,4", "x")
    assert player.form(f"{path}/edit")["name"] != "Mine"
    player.post(f"{path}/edit", {**fields, "joint": "16"})
    assert f"Strings {notes} " in plain(player.get(path).text)


def test_an_odd_number_of_strings_is_told_beside_its_field(player: Player) -> None:
    edit = f"{player.make('bass_4_34')}/edit"
    page = player.fill(edit, 422, string_count="two", resize="1").text
    assert "a whole number from 3 to 12" in error_beside(page, "string_count")
    assert Form(page, edit).fields["note_4"] == "E1"


LOADED = load_trade(assets().content)


@given(
    kind=st.sampled_from(KINDS),
    counts=st.lists(st.integers(3, 12), min_size=1, max_size=4),
    unit=st.sampled_from(["in", "mm", "thou", "64ths", "?"]),
)
def test_resizing_always_gives_as_many_rows_as_asked(kind: str, counts: list[int], unit: str) -> None:
    data = {**form_values(LOADED.kinds[kind].spec), "gauge_unit": unit}
    for count in counts:
        data = resized(data, count, Family(LOADED.kinds[kind].family))
        assert row_count(data) == count
        assert data["string_count"] == str(count)


# --- sent twice, and out of date ---


def test_the_same_form_sent_twice_is_recorded_once(player: Player) -> None:
    form = {**player.form(f"{NEW}?kind=bass_4_34", NEW), "name": "Once"}
    path = player.post(NEW, dict(form)).headers["location"]
    again = player.post(NEW, {**form, "name": "Twice"}, 409)
    assert "recorded already" in again.text and f'href="{path}"' in again.text
    assert Form(again.text, NEW).fields["name"] == "Twice"
    page = plain(player.get("/").text)
    assert "Once" in page and "Twice" not in page


def test_an_edit_that_another_page_overtook_is_asked_about_and_then_saved(player: Player) -> None:
    path = player.make("bass_4_34", name="First")
    late = player.form(f"{path}/edit")
    player.fill(f"{path}/edit", name="Second")
    told = player.post(f"{path}/edit", {**late, "name": "Third", "a4": "442"}, 409)
    assert "was changed on another page" in told.text
    fields = Form(told.text, f"{path}/edit").fields
    assert (fields["name"], fields["a4"]) == ("Third", "442")
    assert "Second" in player.get(path).text
    player.post(f"{path}/edit", dict(fields))
    assert "Third" in player.get(path).text


@pytest.mark.parametrize("version", ["", "0", "-1", "9" * 30, "one"])
def test_a_version_that_never_was_is_out_of_date(player: Player, version: str) -> None:
    path = player.make("bass_4_34")
    player.fill(f"{path}/edit", 409, version=version, name="Other")


def test_a_mistake_in_an_edit_changes_nothing(player: Player) -> None:
    path = player.make("bass_4_34", name="Mine")
    page = player.fill(f"{path}/edit", 422, frets="many", name="Yours").text
    assert "a whole number from 12 to 36" in error_beside(page, "frets")
    assert Form(page, f"{path}/edit").fields["name"] == "Yours"
    assert "Mine" in player.get(path).text


@pytest.mark.parametrize("name", ["<b>bold</b>", '" onfocus="x', "Ölaf's 🎸", "{{ page }}"])
def test_any_name_comes_back_as_it_was_typed(player: Player, name: str) -> None:
    path = player.make("bass_4_34", name=name)
    assert player.form(f"{path}/edit")["name"] == name


def test_a_nul_that_no_keyboard_types_is_left_out(player: Player) -> None:
    path = player.make("bass_4_34", name="a\u0000b")
    assert player.form(f"{path}/edit")["name"] == "ab"
