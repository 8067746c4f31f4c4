from __future__ import annotations

import csv
import io
import re

import pytest
from starlette.testclient import TestClient

from tests.pages.conftest import plain
from tests.pages.school import School


@pytest.fixture
def school(client: TestClient) -> School:
    return School(client.app, written={"only": ("relief", "height")})  # type: ignore[arg-type]


def names(page: str) -> list[str]:
    """The students in the order of the table."""
    return re.findall(r'<tr><th scope="row"><a [^>]*>([^<]+)</a>', page)


def rows(page: str) -> dict[str, str]:
    """Each student's line in words."""
    lines = re.findall(r"<tr><th.*?</tr>", page, re.DOTALL)
    return {names(line)[0]: plain(line) for line in lines if names(line)}


def test_the_sheet_shows_each_hand_in_per_check_with_verdict_and_reading(school: School) -> None:
    school.hand_in("Bob", relief="0.9", height_4="2.6", height_1="4.4")
    school.hand_in("Ann", relief="0.3")
    page = school.teacher.get(f"{school.home}/sheet").text
    found = rows(page)
    assert list(found) == ["Ann", "Bob"]
    assert "good 0.30" in found["Ann"] and "not measured" in found["Ann"]
    assert "too much bow 0.90" in found["Bob"] and "4.40 G" in found["Bob"]
    assert "Relief, mm" in plain(page) and "Nut" not in plain(page)


def test_it_can_be_sorted_by_name_and_by_any_check(school: School) -> None:
    for name, relief in (("Ann", "0.3"), ("Bob", "0.9"), ("Cy", "0.5")):
        school.hand_in(name, relief=relief)
    home = f"{school.home}/sheet"
    assert names(school.teacher.get(home).text) == ["Ann", "Bob", "Cy"]
    by_relief = school.teacher.get(f"{home}?sort=relief").text
    assert names(by_relief) == ["Bob", "Cy", "Ann"]
    assert by_relief.count("aria-sort") == 1
    assert f'href="{home}?sort=height"' in by_relief and f'href="{home}"' in by_relief
    assert names(school.teacher.get(f"{home}?sort=%3Cscript%3E").text) == ["Ann", "Bob", "Cy"]


def test_one_check_shows_every_reading(school: School) -> None:
    school.hand_in("Ann", height_4="2.6", height_1="2.0")
    page = school.teacher.get(f"{school.home}/sheet?check=height").text
    assert "E, mm" in plain(page) and "good 2.60" in rows(page)["Ann"] and "good 2.00" in rows(page)["Ann"]
    whole = school.teacher.get(f"{school.home}/sheet").text
    for odd in ("pickups", "start", "%3Cb%3E"):
        assert school.teacher.get(f"{school.home}/sheet?check={odd}").text == whole


def test_it_points_at_what_most_get_wrong(school: School) -> None:
    for name, relief in (("Ann", "0.8"), ("Bob", "0.9"), ("Cy", "0.3")):
        school.hand_in(name, relief=relief)
    assert "<b>Relief: too much bow at 2 of 3.</b>" in school.teacher.get(f"{school.home}/sheet").text


def test_one_hand_in_is_shown_whole_and_can_be_taken_off(school: School) -> None:
    student, setup = school.hand_in("Ann", relief="0.9")
    sheet = f"{school.home}/sheet"
    found = re.search(rf'href="({sheet}/[\w-]+)"', school.teacher.get(sheet).text)
    assert found
    page = plain(school.teacher.get(found[1]).text)
    assert "0.90 mm" in page and "too much bow" in page and "Nothing was turned." in page
    student.get(found[1], 404)
    student.post(f"{found[1]}/remove", {}, 404)
    school.teacher.fill(found[1], action=f"{found[1]}/remove")
    assert "Nothing is handed in" in school.teacher.get(sheet).text
    school.teacher.get(found[1], 404)
    student.get(f"{setup}/report")


def test_a_hand_in_says_nothing_but_verdicts_readings_and_turns(school: School) -> None:
    student, setup = school.student("My secret bass")
    student.fill(f"{setup}/read/relief", value="0.9")
    student.fill("/air", humidity="38.7", temperature="17")
    student.fill(f"{setup}/log", note="Dear diary")
    student.fill(f"{setup}/finish")
    student.fill(f"{setup}/hand-in", name="Ann")
    own = student.get(f"{setup}/report").text
    assert "Dear diary" in own and "My secret bass" in student.get("/").text
    assert "39 %" in plain(student.get("/air").text)
    sheet = f"{school.home}/sheet"
    found = re.search(rf'href="({sheet}/[\w-]+)"', school.teacher.get(sheet).text)
    assert found
    for page in (sheet, f"{sheet}?check=relief", f"{sheet}.csv", found[1]):
        text = school.teacher.get(page).text
        assert "Ann" in text and ("0.9" in text or "too much bow" in text)
        assert not any(kept in text for kept in ("diary", "secret", "38.7", "39 %", setup.rpartition("/")[2]))


def test_a_hand_in_belongs_to_its_lesson(school: School) -> None:
    school.hand_in("Ann", relief="0.3")
    sheet = school.teacher.get(f"{school.home}/sheet").text
    found = re.search(r"/sheet/([\w-]+)", sheet)
    other = school.write(title="Another")
    assert found
    school.teacher.get(f"{other}/sheet/{found[1]}", 404)
    school.teacher.post(f"{other}/sheet/{found[1]}/remove", {}, 404)


def test_the_csv_can_be_opened_without_harm(school: School) -> None:
    school.hand_in("=HYPERLINK(1)", relief="-0.2")
    school.hand_in("Ann", relief="0.3", height_4="2.6")
    answer = school.teacher.get(f"{school.home}/sheet.csv?sort=relief")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="class-sheet.csv"'
    first, second = csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline=""))
    assert (first["Name"], first["Relief, mm"], first["Relief"]) == ("'=HYPERLINK(1)", "-0.2", "too straight")
    assert (second["Name"], second["String height: E string, mm"]) == ("Ann", "2.6")


def test_lengths_are_in_the_teachers_unit(school: School) -> None:
    school.hand_in("Ann", relief="0.3")
    school.teacher.fill("/", action="/units", unit="thou")
    page = school.teacher.get(f"{school.home}/sheet").text
    assert "Relief, thou" in plain(page) and "good 12" in rows(page)["Ann"]


def test_what_happens_on_a_students_bench_later_changes_nothing(school: School) -> None:
    student, setup = school.hand_in("Ann", relief="0.3")
    before = school.teacher.get(f"{school.home}/sheet").text
    instrument = re.search(r"/instruments/[\w-]{12}", student.get("/").text)
    assert instrument
    student.fill(f"{instrument[0]}/edit", name="Another name")
    again = student.begin(instrument[0])
    student.fill(f"{again}/read/relief", value="0.9")
    assert school.teacher.get(f"{school.home}/sheet").text == before
