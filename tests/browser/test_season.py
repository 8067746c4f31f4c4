"""A walk through the demo's two years: what is due, the chart by keyboard, a quick check, files to keep."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Request

from tests.browser.looking import scrolls_sideways, violations
from tests.browser.support import NewPage, Server
from tests.forked import free_port


@pytest.fixture
def years(browser: Browser, demo_database: Path, tmp_path: Path) -> Iterator[Server]:
    """A demo bench of its own: something is recorded on it."""
    started = Server(tmp_path / "demo", free_port(), demo_database, demo=True)
    started.start()
    yield started
    started.stop()


def says(page: Page) -> str:
    return page.locator("#point-says").inner_text()


def focused(page: Page) -> str:
    """What a screen reader would say of the place that has the focus."""
    return str(page.evaluate("document.activeElement.getAttribute('aria-label') || ''"))


def test_a_walk_through_the_demo(new_page: NewPage, years: Server, browser: Browser, tmp_path: Path) -> None:
    page = new_page(years)
    page.goto("/")
    page.get_by_role("link", name="When to look").click()
    page.get_by_role("heading", name="due").wait_for()
    first = page.locator(".list a").first
    name = first.inner_text().partition(":")[0]
    home = re.sub("/(quick|strings)$", "", str(first.get_attribute("href")))
    page.goto(home)
    assert page.get_by_role("heading", level=1).inner_text() == name
    page.get_by_role("link", name="Seasons").click()
    page.get_by_role("heading", level=1, name=re.compile("Left alone|Probably")).wait_for()
    page.get_by_text("What the air does to it").click()
    assert "for each percent of moisture" in page.locator(".told").inner_text()
    assert violations(page) == [] and scrolls_sideways(page) == []

    _through_the_chart(page)
    _a_quick_check(page, home)
    _files(page, home, browser, tmp_path)


def _through_the_chart(page: Page) -> None:
    """One stop for Tab, the arrows from point to point, Enter for more of one."""
    chart = page.locator("[data-points]")
    points = chart.locator(".d-link[id]")
    every = chart.locator(".d-link")
    assert points.count() > 20
    assert chart.locator('.d-link[tabindex="0"]').count() == 1
    page.locator(".top .back").focus()
    page.keyboard.press("Tab")
    newest = focused(page)
    assert newest == every.last.get_attribute("aria-label") and says(page) == newest
    seen = [newest]
    for _ in range(every.count() - 1):
        page.keyboard.press("ArrowLeft")
        seen.append(focused(page))
        assert says(page) == seen[-1]
    labels = [point.get_attribute("aria-label") for point in every.all()]
    assert seen == labels[::-1]
    assert all(re.match(r"\d+ \w+ \d{4}: ", words) for words in seen)
    page.keyboard.press("ArrowLeft")
    assert focused(page) == labels[0]
    page.keyboard.press("End")
    assert focused(page) == labels[-1]
    page.keyboard.press("Home")
    target = str(points.first.get_attribute("aria-label"))
    while focused(page) != target:
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_url("**point=*")
    assert focused(page) == target and target in says(page)
    there = page.locator("#point-says").get_by_role("link")
    page.keyboard.press("ArrowRight")
    assert says(page) == focused(page) != target
    page.keyboard.press("ArrowLeft")
    there.click()
    page.get_by_role("heading", level=1).wait_for()
    assert re.search(r"/setups/[^/]+(/report)?$|/quick/[^/]+$", page.url)
    page.go_back()


def _a_quick_check(page: Page, home: str) -> None:
    before = page.locator("[data-points] .d-link[id]").count()
    page.goto(f"{home}/quick?relief_tool=feeler")
    page.locator("main form input[name=relief]").fill("0.3")
    page.get_by_role("textbox", name="Temperature").fill("21")
    page.get_by_role("textbox", name="Humidity").fill("45")
    page.locator("main form .button-main").click()
    page.get_by_text("→ 0.30").first.wait_for()
    page.goto(f"{home}/seasons")
    assert page.locator("[data-points] .d-link[id]").count() == before + 1
    assert "0.30 mm measured" in str(
        page.locator("[data-points] .d-link[id]").last.get_attribute("aria-label")
    )


def _files(page: Page, home: str, browser: Browser, tmp_path: Path) -> None:
    page.goto("/data")
    with page.expect_download() as download:
        page.get_by_role("link", name="Keep a copy").click()
    copy = tmp_path / "copy.json"
    download.value.save_as(copy)
    bench = json.loads(copy.read_text(encoding="utf-8"))
    assert len(bench["instruments"]) == 3 and len(bench["air"]) > 700

    page.goto("/data/import")
    page.locator("#field-file").set_input_files(copy)
    page.get_by_role("button", name="Take it in").click()
    page.get_by_role("heading", name="All of it was here already").wait_for()
    assert violations(page) == [] and scrolls_sideways(page) == []

    page.goto(f"{home}/history")
    page.locator('a[href$="/report"]').first.click()
    page.get_by_role("link", name="keep it as a file").wait_for()
    with page.expect_download() as download:
        page.get_by_role("link", name="keep it as a file").click()
    report = tmp_path / download.value.suggested_filename
    download.value.save_as(report)
    _opens_alone(report, browser)


def _opens_alone(report: Path, browser: Browser) -> None:
    """From the disk, with the network off: the same report, drawn and styled, and nothing asked for."""
    context = browser.new_context(offline=True, viewport={"width": 390, "height": 844})
    page, asked, complaints = context.new_page(), list[str](), list[str]()

    def note(request: Request) -> None:
        asked.append(request.url)

    page.on("request", note)
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(report.as_uri())
    assert asked == [report.as_uri()] and complaints == []
    assert page.get_by_text("Report of a setup").is_visible()
    assert page.get_by_text("no substitute for a qualified repairer").first.is_visible()
    assert page.locator("svg.drawing").count() >= 2
    assert page.evaluate("document.styleSheets[0].cssRules.length") > 100
    assert page.locator("script, link, iframe, img").count() == 0
    assert page.locator("a[href]:not([href^='#'])").count() == 0
    assert scrolls_sideways(page) == [] and violations(page) == []
    context.close()


def test_the_chart_works_without_script(new_page: NewPage, demo_server: Server) -> None:
    page = new_page(demo_server, javascript=False)
    page.goto("/")
    home = next(
        href
        for href in re.findall(r'href="(/instruments/[^"/]+)"', page.content())
        if not href.endswith("/new")
    )
    page.goto(f"{home}/seasons")
    point = page.locator("[data-points] .d-link[id]").nth(10)
    words = str(point.get_attribute("aria-label"))
    point.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**point=*")
    assert words in says(page)
    assert page.locator("[data-points] .d-link[aria-current]").count() == 1
    assert "arrows" not in page.locator("main").inner_text()
    page.locator('[data-points] .d-link[href^="#turn-"]').first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**#turn-*")
