"""A teacher and three students, each in a browser of their own, run a lesson to a class sheet."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.looking import scrolls_sideways, too_small, unfold, violations
from tests.browser.story import FEELER, HEIGHTS, Player
from tests.browser.support import Complaints, NewPage, Server

LEFT_OUT = ("String height", "Intonation", "Pickups", "Play test")


def fit(page: Page) -> None:
    """The page as it stands is fit for everyone, for a phone, and for a dim workshop."""
    unfold(page)
    assert violations(page) + scrolls_sideways(page) + too_small(page) == [], page.url


def write_a_lesson(teacher: Player, complaints: Complaints) -> str:
    """Relief and nut, with a target and a note of the teacher's own; returns the link."""
    page = teacher.page
    page.goto("/")
    teacher.follow("Lessons")
    teacher.follow("Write a lesson")
    teacher.sees("For which kinds?")
    fit(page)
    page.get_by_role("checkbox", name="Bass, 4 strings, 34 in").check()
    teacher.press("Continue")
    teacher.sees("New lesson")
    fit(page)
    teacher.field("Title").fill("Relief and nut")
    teacher.field("What you say first").fill("Work **slowly**.\n\n<b>No</b> hurry.")
    for name in LEFT_OUT:
        page.get_by_role("checkbox", name=name).uncheck()
    teacher.field("Relief, held at 1, pressed at 13, gap at 7, target to").fill("2")
    complaints.expected_statuses.add(422)
    teacher.press("Save lesson")
    teacher.reads("Please check")
    fit(page)
    teacher.field("Relief, held at 1, pressed at 13, gap at 7, target to").fill("0.40")
    page.get_by_label("Your notes").nth(1).fill("Mind the *capo*.")
    teacher.press("Save lesson")
    teacher.sees("Relief and nut")
    teacher.reads("target 0.15 to 0.40 mm")
    fit(page)
    page.get_by_role("button", name="Copy the link").click()
    expect(page.get_by_role("button", name=re.compile("^(Copied|Selected: copy it now)$"))).to_be_visible()
    link = page.locator("#link").inner_text().strip()
    assert page.evaluate("getSelection().toString().trim()") == link
    return link


def begin(student: Player, link: str, name: str) -> str:
    """Open the link, get a bench, get ready; returns the link to come back."""
    page = student.page
    page.goto(link)
    student.reads("Work slowly.")
    student.reads("<b>No</b> hurry.")
    student.follow("Do this on my instrument")
    student.field("Name of your instrument").fill(name)
    student.press("Begin")
    student.sees("Keep this link to come back")
    back = page.locator("#link").inner_text().strip()
    student.follow("Continue")
    student.get_ready()
    return back


def do(student: Player, relief: str, nut: str) -> None:
    """The lesson's readings, kept as they are, to the end."""
    student.is_on("Relief")
    student.reads("Mind the capo.")
    student.measure("Relief", FEELER, relief)
    if float(relief) > 0.4:
        student.press("I like it so")
    student.measure_all("Nut", dict.fromkeys(HEIGHTS, nut))
    student.reads("Finish this setup")
    student.press("Finish this setup")
    student.reads("not in this lesson")


def hand_in(student: Player, name: str) -> None:
    student.follow("Hand in")
    student.sees("Hand in")
    student.field("Your name").fill(name)
    student.press("Hand in")
    student.sees("Handed in")


def test_a_teacher_and_three_students_run_a_lesson_to_a_class_sheet(
    new_page: NewPage, server: Server, complaints: Complaints, tmp_path: Path
) -> None:
    teacher = Player(new_page(server))
    link = write_a_lesson(teacher, complaints)
    assert re.fullmatch(rf"{server.url}/lesson/[\w-]+", link)

    students = [Player(new_page(server, keyed=False, javascript=script)) for script in (True, True, False)]
    backs = [begin(student, link, f"Bass {n}") for n, student in enumerate(students)]
    fit(students[0].page)
    for student, relief in zip(students, ("0.9", "0.8", "0.3"), strict=True):
        do(student, relief, "0.4")
    for student, name in zip(students, ("Ann", "=Bob", "Zoe <i>"), strict=True):
        hand_in(student, name)
    fit(students[0].page)

    teacher.page.reload()
    teacher.follow("Class sheet 3 handed in; 3 of at most 60 students have begun")
    teacher.sees("Class sheet")
    teacher.reads("Relief: too much bow at 2 of 3.")
    names = teacher.page.locator("tbody th")
    expect(names).to_have_text(["=Bob", "Ann", "Zoe <i>"])
    fit(teacher.page)
    teacher.page.get_by_role("link", name="Relief, mm").click()
    expect(teacher.page.locator("tbody tr").last).to_contain_text("Zoe")
    with teacher.page.expect_download() as download:
        teacher.follow("Take it along as CSV")
    download.value.save_as(tmp_path / "sheet.csv")
    text = (tmp_path / "sheet.csv").read_text(encoding="utf-8-sig")
    assert [row["Name"] for row in csv.DictReader(io.StringIO(text))] == ["'=Bob", "Ann", "Zoe <i>"]

    students[0].press("Take it back")
    students[0].sees("Hand in")
    teacher.page.reload()
    expect(names).to_have_count(2)

    elsewhere = Player(new_page(server, keyed=False))
    elsewhere.page.goto(backs[0])
    elsewhere.press("Open my bench")
    elsewhere.sees("The bench")
    elsewhere.reads("Bass 0")
    assert "Bass 1" not in elsewhere.page.content()


def test_thirty_stand_on_one_screen(new_page: NewPage, server: Server, complaints: Complaints) -> None:
    teacher = Player(new_page(server))
    link = write_a_lesson(teacher, complaints)
    home = teacher.page.url
    student = Player(new_page(server, keyed=False))
    begin(student, link, "A bass")
    # The rest is the same over and over, so it is sent without being looked at.
    for number in range(30):
        page = student.page.request.get(f"{link}/start").text()
        token = re.search(r'name="form_id" value="([^"]+)"', page)
        assert token
        sent = {"form_id": token[1], "name": f"Bass {number}"}
        origin = {"Origin": server.url}
        went = student.page.request.post(f"{link}/start", form=sent, headers=origin, max_redirects=0)
        setup = went.headers["location"].removesuffix("/next")
        student.page.request.post(f"{server.url}{setup}/finish", form={"form_id": "x"}, headers=origin)
        name = {"name": f"Student number {number}"}
        student.page.request.post(f"{server.url}{setup}/hand-in", form=name, headers=origin)
    wide = new_page(server, viewport={"width": 1440, "height": 1000})
    wide.goto(f"{home}/sheet")
    rows = wide.locator("tbody tr")
    expect(rows).to_have_count(30)
    last = rows.last.bounding_box()
    assert last is not None and last["y"] + last["height"] <= 1000
    assert wide.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    narrow = new_page(server)
    narrow.goto(f"{home}/sheet")
    narrow.locator(".scroll").evaluate("box => { box.scrollLeft = 200; }")
    name = narrow.locator("tbody th").first.bounding_box()
    assert name is not None and name["x"] >= 0
