from __future__ import annotations

import html
import io
import json
import logging
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from tests.pages.conftest import Player, plain
from tests.pages.school import CHECKS, School, browser
from webapp.app import create_app
from webapp.setups.lessons.lesson_file import FILE_BYTES
from webapp.store import lessons, rates
from webapp.store.engine import reading, writing
from webapp.trade.content import Trade
from webapp.web.log import start_log
from webapp.web.settings import Settings

MARKUP = "<script>alert(1)</script>"


@pytest.fixture
def school(client: TestClient) -> School:
    return School(client.app)  # type: ignore[arg-type]


def test_a_lesson_is_written_from_a_kind_and_read_by_its_link(client: TestClient) -> None:
    school = School(
        client.app,  # type: ignore[arg-type]
        written={
            "title": "Spring setup", "intro": "Work **slowly**.", "notes_relief": "Hold it *so*.",
            "relief_target_low": "0.2", "relief_target_high": "12 thou", "only": ("relief", "nut"),
        },
    )  # fmt: skip
    assert school.home in school.teacher.get("/lessons").text
    for page in (school.teacher.get(school.home).text, browser(school.app).get(school.link).text):
        assert "<strong>slowly</strong>" in page and "Hold it <em>so</em>." in page
        words = plain(page)
        assert "Spring setup" in words and "target 0.20 to 0.30 mm" in words
        assert "Nut" in words and "Pickups" not in words


def test_the_form_shows_again_what_was_typed(school: School) -> None:
    home = school.write(relief_target_high="12 thou", notes_nut="a\nb", students="12", only=("relief", "nut"))
    form = school.teacher.form(f"{home}/edit")
    assert form["relief_target_high"] == "12 thou" and form["relief_target_low"] == "0.15"
    assert form["notes_nut"].strip() == "a\nb" and form["students"] == "12"
    assert [check for check in CHECKS if f"in_{check}" in form] == ["relief", "nut"]


@pytest.mark.parametrize("unit", ["mm", "in", "thou", "64ths"])
def test_the_form_can_be_sent_as_it_is_in_every_unit(school: School, unit: str) -> None:
    for kind in ("bass_4_34", "electric_6", "classical_6"):
        school.teacher.fill("/", action="/units", unit=unit)
        school.kind = kind
        home = school.write()
        school.teacher.fill(f"{home}/edit")


@pytest.mark.parametrize(
    "filled, field, told",
    [
        ({"title": " "}, "title", "Give the lesson a title."),
        ({"title": "x" * 81}, "title", "80 characters at most"),
        ({"intro": "x" * 4001}, "intro", "4000 characters at most"),
        ({"students": "0"}, "students", "from 1 to 200"),
        ({"students": "many"}, "students", "from 1 to 200"),
        ({"relief_target_low": ""}, "relief_target_low", "Relief, held at 1"),
        ({"relief_target_low": "12"}, "relief_target_low", "Did you mean 12 thou"),
        ({"relief_target_low": "0.5", "relief_target_high": "0.2"}, "relief_target_high", "not be lower"),
        ({"relief_target_high": "0.9"}, "relief_target_high", "must lie within the usual band"),
        ({"relief_target_low": "0.01"}, "relief_target_low", "must lie within the usual band"),
        ({"intonation_12_usual_low": "-99"}, "intonation_12_usual_low", "between −60 and 60 cents"),
        ({"intonation_12_usual_low": "flat"}, "intonation_12_usual_low", "cents that the tuner shows"),
    ],
)
def test_what_is_wrong_gets_a_sentence_beside_its_field(
    school: School, filled: dict[str, object], field: str, told: str
) -> None:
    for path, action in (("/lessons/new?kind=bass_4_34", "/lessons/new"), (f"{school.home}/edit", None)):
        answer = school.teacher.fill(path, 422, action=action, **{"title": "Kept", **filled})
        assert told in plain(answer.text)
        assert f'href="#field-{field}"' in answer.text and f'id="err-{field}"' in answer.text
        for name, value in filled.items():
            assert html.escape(str(value)) in answer.text, name


def test_a_lesson_of_nothing_is_refused_and_what_is_left_out_is_not_judged(school: School) -> None:
    nothing = {f"in_{check}": "" for check in CHECKS}
    answer = school.teacher.fill(f"{school.home}/edit", 422, **nothing)
    assert "Choose at least one check" in answer.text
    school.teacher.fill(f"{school.home}/edit", **{**nothing, "in_nut": "yes", "relief_target_low": "odd"})


def test_an_unknown_kind_is_told(school: School) -> None:
    assert "no such kind" in school.teacher.get("/lessons/new?kind=zither", 404).text
    assert "no such kind" in school.teacher.post("/lessons/new", {"kind": "zither"}, 422).text


def test_the_same_form_makes_one_lesson_and_an_older_one_is_told(school: School) -> None:
    form = school.teacher.form("/lessons/new?kind=bass_4_34", "/lessons/new")
    made = school.teacher.post("/lessons/new", {**form, "title": "Twice"}).headers["location"]
    answer = school.teacher.post("/lessons/new", {**form, "title": "Twice"}, 409)
    assert "recorded already" in answer.text and f'href="{made}"' in answer.text
    assert plain(school.teacher.get("/lessons").text).count("Twice") == 1
    old = school.teacher.form(f"{school.home}/edit")
    school.teacher.post(f"{school.home}/edit", {**old, "title": "Newer"})
    answer = school.teacher.post(f"{school.home}/edit", {**old, "title": "Older"}, 409)
    assert "changed on another page" in answer.text and "Older" in answer.text
    school.teacher.post(f"{school.home}/edit", {**old, "title": "Older", "version": "2"})


def test_names_and_notes_full_of_markup_stay_text(client: TestClient) -> None:
    school = School(
        client.app,  # type: ignore[arg-type]
        written={"title": MARKUP, "intro": f"{MARKUP} ![x](//e.example/x)", "notes_relief": MARKUP},
    )
    student, setup = school.hand_in(MARKUP, relief="0.3")
    sheet = school.teacher.get(f"{school.home}/sheet").text
    one = re.search(rf'{school.home}/sheet/[\w-]+(?=")', sheet)
    assert one
    pages = [
        *(school.teacher.get(path).text for path in
          ("/lessons", school.home, f"{school.home}/edit", f"{school.home}/print", one[0])),
        sheet,
        browser(school.app).get(school.link).text,
        browser(school.app).get(f"{school.link}/start").text,
        *(student.get(f"{setup}{path}").text for path in
          ("", "/lesson", "/hand-in", "/check/relief", "/read/relief", "/adjust/relief")),
    ]  # fmt: skip
    for page in pages:
        assert "<script>alert" not in page and 'src="//' not in page
        assert html.escape(MARKUP) in page


# the link, and the student's own bench


def test_a_student_gets_a_bench_of_their_own_with_the_lessons_targets_and_notes(client: TestClient) -> None:
    school = School(
        client.app,  # type: ignore[arg-type]
        written={"only": ("relief",), "notes_relief": "Mind the **capo**.", "notes_start": "Wash your hands.",
                 "relief_usual_high": "1.2", "relief_target_low": "0.9", "relief_target_high": "1.1"},
    )  # fmt: skip
    student, setup = school.student("Old red")
    assert "Wash your hands." in student.get(f"{setup}/ask/start").text
    for place in ("read/relief", "check/relief"):
        assert "Mind the <strong>capo</strong>." in student.get(f"{setup}/{place}").text
    student.fill(f"{setup}/read/relief", value="1.0")
    page = plain(student.get(f"{setup}/adjust/relief").text)
    assert "good" in page and "Target 0.90 to 1.10 mm" in page and "Mind the capo" in page
    overview = plain(student.get(setup).text)
    assert overview.count("not in this lesson") == 5 and "First setup" in overview
    assert student.get(f"{setup}/read/nut.1") and student.get(f"{setup}/adjust/nut.1")
    assert "not in this lesson" in plain(student.get(f"{setup}/report").text)
    assert "Old red" in student.get("/").text and "Old red" not in school.teacher.get("/").text


def test_the_teacher_never_sees_a_students_bench(school: School) -> None:
    student, setup = school.student()
    instrument = re.search(r"/instruments/[\w-]{12}", student.get("/").text)
    assert instrument
    for path in (setup, f"{setup}/report", f"{setup}/hand-in", f"{setup}/lesson", instrument[0]):
        school.teacher.get(path, 404)
    for path in (school.home, f"{school.home}/edit", f"{school.home}/sheet", f"{school.home}/sheet.csv",
                 f"{school.home}/file", f"{school.home}/print"):  # fmt: skip
        student.get(path, 404)
    assert school.home not in student.get("/lessons").text
    for path in ("/link", "/edit"):
        student.post(f"{school.home}{path}", {}, 404)


def test_one_who_has_a_bench_does_it_there(school: School) -> None:
    student, _ = school.student("First bass")
    page = student.get(f"{school.link}/start").text
    assert "opens a bench already" in page
    went = student.fill(f"{school.link}/start", name="Second bass")
    assert re.fullmatch(r"/setups/[\w-]{12}/next", went.headers["location"])
    assert "set-cookie" not in went.headers
    assert {"First bass", "Second bass"} <= set(re.findall(r"\w+ bass", student.get("/").text))


def test_a_form_sent_twice_by_one_who_has_a_bench_counts_once(school: School) -> None:
    student, _ = school.student("First bass")
    form = {**student.form(f"{school.link}/start"), "name": "Second bass"}
    first = student.post(f"{school.link}/start", form).headers["location"]
    assert student.post(f"{school.link}/start", form).headers["location"] == first
    assert student.get("/").text.count("<b>Second bass</b>") == 1


def begin_form(school: School, name: str = "Old red") -> dict[str, str]:
    """What a browser without a key sends when its button is pressed."""
    return {**browser(school.app).form(f"{school.link}/start"), "name": name}


def tapped(school: School, form: dict[str, str]) -> tuple[Player, str]:
    """One press of the button by a browser that holds no key (yet): it, and the setup it was led to."""
    player = browser(school.app)
    went = player.post(f"{school.link}/start", form).headers["location"]
    return player, f"/setups/{went.rpartition('=')[2]}"


def benches_of(school: School) -> int:
    with reading(school.app.state.bench_app.engine) as session:
        return lessons.students_of(session, school.home.rpartition("/")[2])


def test_a_button_pressed_twice_without_a_key_makes_one_bench(client: TestClient) -> None:
    """The browser throws the first answer away, with its key: it must get in with the second."""
    school = School(client.app, written={"students": "1"})  # type: ignore[arg-type]
    form = begin_form(school)
    first, setup = tapped(school, form)
    second, again = tapped(school, form)
    assert again == setup and benches_of(school) == 1
    assert second.get("/").text.count("<b>Old red</b>") == 1
    second.get(setup)
    assert back_link(second)
    first.get("/", 401)
    devices = second.get("/devices").text
    assert devices.count("<b>Link to come back</b>") == 1 and devices.count("<li>") == 2


def test_two_presses_at_the_same_moment_make_one_bench(school: School) -> None:
    form = begin_form(school)
    with ThreadPoolExecutor(4) as pool:
        went = list(pool.map(lambda _: tapped(school, form)[1], range(4)))
    assert len(set(went)) == 1 and benches_of(school) == 1


def test_the_same_form_is_no_way_in_for_another_name_or_later(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = begin_form(school)
    _, setup = tapped(school, form)
    for typed in ({"name": "New blue"}, {"form_id": "made-up"}):
        other, theirs = tapped(school, form | typed)
        assert theirs != setup
        other.get(setup, 404)
    monkeypatch.setattr(lessons, "SAME_FORM", timedelta(0))
    late, theirs = tapped(school, form)
    assert theirs != setup
    late.get(setup, 404)


def test_the_form_that_lets_in_again_is_kept_as_a_hash_only(school: School) -> None:
    form = begin_form(school)
    player, _ = tapped(school, form)
    file = player.get("/data/bench.json").text
    assert "Old red" in file and form["form_id"] not in file


def test_pressing_again_and_again_comes_to_an_end(school: School) -> None:
    form = begin_form(school)
    tapped(school, form)
    lesson = school.home.rpartition("/")[2]
    with writing(school.app.state.bench_app.engine) as session:
        for _ in range(lessons.AGAIN.each):
            rates.count(session, lessons.AGAIN, lesson, datetime.now(UTC))
    answer = browser(school.app).post(f"{school.link}/start", form, 429)
    assert "Very many are beginning" in answer.text


def test_an_instrument_needs_a_name(school: School) -> None:
    nobody = browser(school.app)
    for name in ("", "  ", "\x00"):
        answer = nobody.fill(f"{school.link}/start", 422, name=name)
        assert "Give your instrument a name" in answer.text
    nobody.get("/", 401)


def test_a_link_that_leads_to_no_lesson_is_told_and_so_is_a_replaced_one(school: School) -> None:
    old = school.link
    student, setup = school.student()
    school.teacher.fill(school.home, action=f"{school.home}/link")
    assert school.link != old
    nobody = browser(school.app)
    pages = [nobody.get(path, 404).text for path in (old, "/lesson/x", f"{old}/start")]
    pages.append(nobody.post(f"{old}/start", {"name": "A bass"}, 404).text)
    assert len(set(pages)) == 1 and "There is no lesson here" in pages[0]
    student.get(setup)
    nobody.get(school.link)


def test_the_links_pages_go_into_no_index(school: School) -> None:
    for path in (school.link, f"{school.link}/start"):
        answer = browser(school.app).get(path)
        assert answer.headers["X-Robots-Tag"] == "noindex, nofollow"
        assert '<meta name="robots" content="noindex, nofollow">' in answer.text


def test_a_lesson_takes_so_many_students(client: TestClient) -> None:
    school = School(client.app, written={"students": "1"})  # type: ignore[arg-type]
    school.student()
    late = browser(school.app)
    answer = late.fill(f"{school.link}/start", 403, name="Late bass")
    assert "as many students as it takes" in answer.text and "Late bass" in answer.text
    late.get("/", 401)
    # The teacher may try their own lesson all the same, and make room.
    school.teacher.fill(f"{school.link}/start", name="My own")
    school.teacher.fill(f"{school.home}/edit", students="3")
    late.fill(f"{school.link}/start", name="Late bass")


def test_the_last_place_goes_to_one_of_several_at_once(client: TestClient) -> None:
    school = School(client.app, written={"students": "1"})  # type: ignore[arg-type]
    link, forms = f"{school.link}/start", [begin_form(school, f"Bass {number}") for number in range(4)]

    def press(form: dict[str, str]) -> int:
        return int(browser(school.app).client.post(link, data=form, follow_redirects=False).status_code)

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(press, forms)) == [303, 403, 403, 403]
    assert benches_of(school) == 1


def test_so_many_begin_in_an_hour(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    # A class of the largest size may begin, and each of it once more.
    assert lessons.STARTING.each >= 2 * lessons.STUDENTS_AT_MOST
    few = replace(lessons.STARTING, each=2)
    monkeypatch.setattr(lessons, "STARTING", few)
    engine = school.app.state.bench_app.engine
    lesson = school.home.rpartition("/")[2]
    with writing(engine) as session:
        for _ in range(few.each):
            rates.count(session, few, lesson, datetime.now(UTC))
    nobody = browser(school.app)
    answer = nobody.fill(f"{school.link}/start", 429, name="A bass")
    assert "Very many are beginning" in answer.text
    nobody.get("/", 401)


def test_guessing_links_comes_to_an_end(school: School) -> None:
    nobody = browser(school.app)
    for _ in range(lessons.MISSING.each):
        nobody.get("/lesson/guess", 404)
    nobody.get("/lesson/guess", 429)
    # Whoever has the right link gets in, however many in the same school mistyped it.
    nobody.get(school.link)


def test_changes_reach_setups_under_way_and_not_finished_ones(school: School) -> None:
    done, done_setup = school.hand_in("Ann", relief="0.3")
    going, going_setup = school.student()
    going.fill(f"{going_setup}/read/relief", value="0.3")
    school.teacher.fill(
        f"{school.home}/edit", relief_target_low="0.4", relief_usual_low="0.35", notes_relief="Anew"
    )
    assert "too straight" in plain(going.get(f"{going_setup}/adjust/relief").text)
    assert "Anew" in going.get(f"{going_setup}/check/relief").text
    assert "Anew" not in done.get(f"{done_setup}/check/relief").text
    assert "0.15 to 0.45" in plain(done.get(f"{done_setup}/report").text)


# coming back


def back_link(player: Player) -> str:
    found = re.search(r"/back/[\w-]+", player.get("/come-back").text)
    assert found
    return found[0]


def test_the_link_to_come_back_opens_the_bench_again_and_again(school: School) -> None:
    student, setup = school.student("Old red")
    link = back_link(student)
    for _ in range(2):
        elsewhere = browser(school.app)
        assert "Open my bench" in elsewhere.get(link).text
        elsewhere.get("/", 401)
        elsewhere.fill(link)
        assert "Old red" in elsewhere.get("/").text
        elsewhere.get(setup)
        assert back_link(elsewhere) == link
    assert student.client.get(link, follow_redirects=False).headers["location"] == "/"


def test_a_new_link_to_come_back_replaces_the_old_one(school: School) -> None:
    student, _ = school.student()
    old = back_link(student)
    student.fill("/come-back")
    assert back_link(student) != old
    elsewhere = browser(school.app)
    assert "opens nothing" in elsewhere.fill(old, 410).text
    elsewhere.get("/", 401)
    elsewhere.fill(back_link(student))


def test_a_link_to_come_back_is_taken_back_under_devices(school: School) -> None:
    student, _ = school.student()
    link = back_link(student)
    devices = student.get("/devices").text
    action = re.search(r'Link to come back</b>.*?action="([^"]+)"', devices, re.DOTALL)
    assert action
    student.fill("/devices", action=action[1])
    browser(school.app).fill(link, 410)
    assert "/back/" not in student.get("/come-back").text


def test_where_to_go_on_is_ones_own_setup_or_the_bench(school: School) -> None:
    student, setup = school.student()
    _, theirs = school.student()
    assert f'href="{setup}/next"' in student.get(f"/come-back?setup={setup.rpartition('/')[2]}").text
    for other in (theirs.rpartition("/")[2], "//elsewhere.example", ""):
        page = student.get("/come-back", ).text if not other else student.client.get(
            "/come-back", params={"setup": other}).text  # fmt: skip
        assert other == "" or other not in page
        assert '<a class="button button-main" href="/">' in page


# handing in


def test_a_finished_setup_is_handed_in_and_taken_back(school: School) -> None:
    student, setup = school.hand_in("Ann", relief="0.9")
    assert "Ann" in school.teacher.get(f"{school.home}/sheet").text
    page = student.get(f"{setup}/hand-in").text
    assert "Take it back" in page and "0.90 mm" in page
    assert "done more since" not in page and 'id="field-name"' not in page
    student.fill(f"{setup}/hand-in", action=f"{setup}/hand-in/take-back")
    assert "Nothing is handed in" in school.teacher.get(f"{school.home}/sheet").text
    student.fill(f"{setup}/hand-in", name="Ann B")
    assert "Ann B" in school.teacher.get(f"{school.home}/sheet").text


def test_it_is_handed_in_as_far_as_it_is_and_again_when_there_is_more(school: School) -> None:
    student, setup = school.student()
    student.fill(f"{setup}/read/relief", value="0.9")
    assert "Hand in so far" in student.get(f"{setup}/hand-in").text
    student.fill(f"{setup}/hand-in", name="Ann")
    sheet = plain(school.teacher.get(f"{school.home}/sheet").text)
    assert "Ann so far" in sheet and "too much bow 0.90" in sheet
    assert "done more since" not in student.get(f"{setup}/hand-in").text
    student.fill(f"{setup}/read/relief", value="0.7")
    student.fill(f"{setup}/finish")
    page = student.get(f"{setup}/hand-in").text
    assert "You have done more since" in page and 'value="Ann"' in page and "0.70" in page
    assert "0.90" in school.teacher.get(f"{school.home}/sheet").text
    student.fill(f"{setup}/hand-in", name="Ann")
    sheet = plain(school.teacher.get(f"{school.home}/sheet").text)
    assert "so far" not in sheet and "0.70" in sheet and sheet.count("Ann") == 1


def test_a_hand_in_needs_a_name(school: School) -> None:
    student, setup = school.student()
    student.fill(f"{setup}/finish")
    for name, told in ((" ", "Type the name"), ("x" * 61, "60 characters at most")):
        answer = student.fill(f"{setup}/hand-in", 422, name=name)
        assert told in answer.text and 'id="err-name"' in answer.text


def test_a_setup_of_no_lesson_has_nothing_to_hand_in(player: Player) -> None:
    setup = player.begin(player.make("bass_4_34", name="Mine"))
    for path in ("hand-in", "lesson"):
        player.get(f"{setup}/{path}", 404)
    player.post(f"{setup}/hand-in", {"name": "Ann"}, 404)
    player.post(f"{setup}/hand-in/take-back", {}, 404)


def test_handing_in_has_its_limits(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    student, setup = school.student()
    student.fill(f"{setup}/finish")
    monkeypatch.setattr(lessons, "PER_STUDENT", 0)
    assert "as many hand-ins as it takes" in plain(student.fill(f"{setup}/hand-in", 403, name="Ann").text)
    monkeypatch.setattr(lessons, "HANDING_IN", rates.Limit("none", 0, 0, rates.LONGEST_WINDOW))
    assert "Very many are handing in" in student.fill(f"{setup}/hand-in", 429, name="Ann").text


# as a file, on paper, in the log


def send_file(player: Player, content: bytes, status: int = 303) -> str:
    answer = player.client.post(
        "/lessons/import", files={"file": ("lesson.json", content)}, follow_redirects=False
    )
    assert answer.status_code == status
    return answer.headers["location"] if status == 303 else answer.text


def test_a_lesson_goes_to_another_benchside_as_a_file(school: School) -> None:
    filled = {"title": "Taken along", "notes_nut": "Look.", "relief_target_high": "0.4"}
    home = school.write(**filled, only=("relief", "nut"))
    answer = school.teacher.get(f"{home}/file")
    assert answer.headers["content-disposition"] == 'attachment; filename="lesson.json"'
    assert (answer.json()["schema"], answer.json()["version"]) == ("benchside-lesson", 2)
    stranger, _ = school.student()
    copy = send_file(stranger, answer.content)
    assert stranger.get(f"{copy}/file").content == answer.content
    form = stranger.form(f"{copy}/edit")
    assert form["title"] == "Taken along" and form["relief_target_high"] == "0.40"
    school.teacher.get(copy, 404)
    links = {re.search(r"/lesson/[\w-]+", player.get(page).text)[0]  # type: ignore[index]
             for player, page in ((school.teacher, home), (stranger, copy))}  # fmt: skip
    assert len(links) == 2


def test_a_file_of_when_a_lesson_was_for_one_kind_still_comes_in(school: School) -> None:
    kept = json.loads(school.teacher.get(f"{school.home}/file").content)
    (kind,) = kept["lesson"].pop("kinds")
    old = {**kept, "version": 1, "lesson": {**kept["lesson"], "kind": kind}}
    copy = send_file(school.teacher, json.dumps(old).encode())
    assert json.loads(school.teacher.get(f"{copy}/file").content) == kept | {
        "lesson": {**kept["lesson"], "kinds": [kind]}
    }


BOTH = ["bass_4_34", "electric_6"]


def test_a_lesson_for_several_kinds_leaves_each_its_own(school: School) -> None:
    teacher, new = school.teacher, "/lessons/new?kind=bass_4_34&kind=electric_6"
    form = teacher.form(new, "/lessons/new")
    assert form["relief_target_low"] == "" and form["intonation_12_target_low"] == "-3"
    half = {"height_bass_target_low": "1.6", "height_bass_target_high": "2.2"}
    page = teacher.fill(new, 422, "/lessons/new", kind=BOTH, title="Half", **half).text
    assert "Thickest string at fret 12" in page
    bands = {"relief_target_low": "0.2", "relief_target_high": "0.3"}
    bands |= {"relief_usual_low": "0.1", "relief_usual_high": "0.5"}
    made = teacher.fill(new, 303, "/lessons/new", kind=BOTH, title="For both", **bands)
    school.home = made.headers["location"]
    shown = plain(browser(school.app).get(school.link).text)
    assert "For both" in shown and " or " in shown and "0.20 to 0.30" in shown and "Thickest" not in shown
    assert "Choose what it is" in browser(school.app).fill(f"{school.link}/start", 422, name="Mine").text
    for kind, thickest, target in (("bass_4_34", 4, "1.9"), ("electric_6", 6, "1.4")):
        student = browser(school.app)
        went = student.fill(f"{school.link}/start", name="Mine", kind=kind).headers["location"]
        setup = f"/setups/{went.rpartition('=')[2]}"
        student.fill(f"{setup}/read/relief", value="0.25")
        student.fill(f"{setup}/read/height.{thickest}", value="2")
        words = plain(student.get(f"{setup}/report").text)
        assert (
            "0.25 good" in words
            and "0.20 to 0.30" in words
            and re.search(rf"2.00 .{{0,40}}{target}\d to ", words)
        )


def test_a_bad_file_is_told_in_a_sentence(school: School) -> None:
    good = json.loads(school.teacher.get(f"{school.home}/file").content)
    good["lesson"]["kinds"] = [MARKUP[:40]]
    for content, told in (
        (b"", "not a lesson"),
        (b"\x89PNG", "not a lesson"),
        (b" " * (FILE_BYTES + 1), "larger than 256 kB"),
        (json.dumps(good).encode(), "no kind of instrument"),
    ):
        page = send_file(school.teacher, content, 422)
        assert told in plain(page) and 'id="err-file"' in page and "<script>alert" not in page
    assert "Choose a lesson file" in school.teacher.post("/lessons/import", {}, 422).text


def test_the_printed_sheet_has_the_link_twice(school: School) -> None:
    page = school.teacher.get(f"{school.home}/print").text
    assert page.count('class="qr"') == 1 and f"http://127.0.0.1:8765{school.link}" in page


def test_the_link_names_the_address_that_others_can_reach(client: TestClient, trade: Trade) -> None:
    state = client.app.state.bench_app  # type: ignore[attr-defined]
    settings = Settings(state.settings.folder, host="0.0.0.0", phone_address="192.168.1.23")
    school = School(create_app(settings, trade, state.engine))
    page = school.teacher.get(school.home).text
    assert f"http://192.168.1.23:8765{school.link}" in page
    assert "on this computer alone" not in page


def test_no_token_and_no_name_is_logged(school: School) -> None:
    out = io.StringIO()
    logger = logging.getLogger("benchside")
    before = (logger.handlers, logger.level, logger.propagate)
    start_log(out)
    try:
        student, setup = school.hand_in("Ann Onymous", relief="0.3")
        link = back_link(student)
        browser(school.app).fill(link)
    finally:
        logger.handlers, logger.propagate = before[0], before[2]
        logger.setLevel(before[1])
    told = out.getvalue()
    assert "/lesson/{token}/start" in told and "/back/{secret}" in told
    for secret in (school.link.rpartition("/")[2], link.rpartition("/")[2], "Onymous", "=0.3"):
        assert secret not in told
