"""How Benchside feels on a slow phone: a report, not a test.

    .venv/bin/python -m tests.browser.phone_report [--runs 5] [--more]

Each run is a new copy of one filled bench and a real server; each page is opened with nothing kept by the
browser (cold), then again (warm), and is then used. The server is warm and shares the computer with the
browser, so nothing else should run meanwhile.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

import httpx
from playwright.sync_api import Browser, CDPSession, Page, ViewportSize, sync_playwright

from tests.browser import phone_watch
from tests.browser.conftest import ARGUMENTS, PHONE, chromium_path
from tests.browser.phone_bench import STUDENTS, Places, filled
from tests.browser.phone_watch import Line, Seen, worst_session
from tests.browser.support import Server
from tests.forked import free_port

RUNS = 3
LATENCY_MS, DOWN_KBIT, UP_KBIT, SLOWER = 150, 1600, 750, 4
PROFILE = (
    f"slow 4G ({LATENCY_MS} ms for each answer, {DOWN_KBIT / 1000:g} Mbit/s down, {UP_KBIT} kbit/s up), "
    f"processor slowed {SLOWER} times, {PHONE['width']} x {PHONE['height']} at 3, touch"
)
GOALS = {"lcp_ms": 1500.0, "cls": 0.05, "inp_ms": 200.0}
QUIET_MS = 700

Hands = Callable[["Phone"], None]


@dataclass
class Phone:
    """A page on the slow phone, and what its use cost. `taps` are those of one page, by what they were."""

    page: Page
    taps: dict[str, float] = field(default_factory=dict)
    told: set[int] = field(default_factory=set)
    shown_ms: float = 0.0
    swap_cls: float = 0.0
    moved: list[str] = field(default_factory=list)

    def tap(self, words: str, target: str) -> None:
        """A finger on something that stays on this page."""
        place = self.page.locator(target).first
        place.scroll_into_view_if_needed()
        place.tap()
        self._note(words)

    def type(self, words: str, text: str) -> None:
        for letter in text:
            self.page.keyboard.press(letter)
        self._note(words)

    def send(self, words: str, target: str) -> None:
        """Press what saves: the tap, the swap of the page that comes, and what moved with it."""
        before = len(phone_watch.seen(self.page).shifts)
        self.page.evaluate("document.getElementById('main').dataset.old = 'yes'")
        self.page.locator(target).first.tap()
        self.page.wait_for_selector("#main:not([data-old])")
        self.page.wait_for_timeout(QUIET_MS)
        found = phone_watch.seen(self.page)
        self.shown_ms = found.swapped_ms
        # All of it, also what browsers forgive so soon after a tap.
        self.swap_cls = worst_session(found.shifts[before:])
        self.moved = [f"{shift.score:.4f} {shift.of}" for shift in found.shifts[before:]]
        self._note(words)

    def leave(self, words: str, target: str) -> None:
        """A tap on a link: the old page answers it, the new one is waited for."""
        place = self.page.locator(target).first
        place.scroll_into_view_if_needed()
        old = self.page.url
        place.tap()
        self.page.wait_for_url(lambda url: url != old)
        self.page.wait_for_timeout(QUIET_MS)
        found = phone_watch.seen(self.page)
        self.taps[words], self.shown_ms = found.left_ms, found.came_ms

    def _note(self, words: str) -> None:
        """The longest of the interactions since the last note."""
        self.page.evaluate(phone_watch.TWO_FRAMES)
        self.page.wait_for_timeout(60)
        found = phone_watch.seen(self.page).taps_ms
        new = [ms for number, ms in found.items() if number not in self.told]
        self.told |= set(found)
        self.taps[words] = max(new, default=phone_watch.LEAST_TOLD_MS)


def use_bench(phone: Phone) -> None:
    phone.tap("open More", "summary:has-text('More')")
    phone.tap("choose inches", "label.choice:has([value=in])")
    phone.tap("choose mm", "label.choice:has([value=mm])")
    phone.send("keep the unit", "button:has-text('Keep this unit')")


def use_reading(value: str) -> Hands:
    def use(phone: Phone) -> None:
        phone.tap("tap the field", "#field-value")
        phone.type("type the reading", value)
        phone.tap("a little more", "[data-step='1']")
        phone.tap("open How to measure", "summary:has-text('How to measure')")
        phone.send("Record", "button:has-text('Record')")

    return use


def use_buzz(phone: Phone) -> None:
    for fret in (5, 6, 7):
        phone.tap(f"a note at fret {fret}", f"label:has([value='4:{fret}'])")
    phone.send("These buzz", "button:has-text('These buzz')")


def use_history(phone: Phone) -> None:
    phone.leave("a reading", "h3 ~ .list a")


def use_series(phone: Phone) -> None:
    phone.tap("the newest point", ".d-link >> nth=-1")


def use_sheet(phone: Phone) -> None:
    phone.leave("sort by relief", "th a:has-text('Relief')")


HANDS: dict[str, tuple[str, Hands]] = {
    "bench": ("", use_bench),
    "step: relief": ("relief", use_reading("0.3")),
    "step: height": ("height", use_reading("2.2")),
    "step: buzz board": ("buzz", use_buzz),
    "history": ("history", use_history),
    "history: relief": ("series", use_series),
    "class sheet": ("sheet", use_sheet),
}


@dataclass
class Row:
    """The runs of one page, one way."""

    page_ms: list[float] = field(default_factory=list)
    lcp_ms: list[float] = field(default_factory=list)
    cls: list[float] = field(default_factory=list)
    kilobytes: list[float] = field(default_factory=list)
    requests: list[float] = field(default_factory=list)
    blocking: list[float] = field(default_factory=list)
    inp_ms: list[float] = field(default_factory=list)
    inp_of: list[str] = field(default_factory=list)
    swap_cls: list[float] = field(default_factory=list)
    shown_ms: list[float] = field(default_factory=list)
    more: list[str] = field(default_factory=list)

    def loaded(self, found: Seen, line: Line, page: Page) -> None:
        first = page.evaluate(phone_watch.FIRST_ANSWER)
        if first["page_ms"] < LATENCY_MS:
            raise RuntimeError(f"the line was not slowed: {page.url} answered in {first['page_ms']:.0f} ms")
        self.page_ms.append(first["page_ms"])
        self.lcp_ms.append(found.lcp_ms)
        self.kilobytes.append(line.bytes / 1000)
        self.requests.append(line.requests)
        self.blocking.append(page.evaluate(phone_watch.BLOCKING))
        self.more.append(
            f"page there after {first['page_ms']:.0f} ms, first paint {first['painted_ms']:.0f} ms, "
            f"largest paint {found.lcp_ms:.0f} ms ({found.lcp_of})"
        )
        self.more += [f"moved on load {shift.score:.4f} {shift.of}" for shift in found.shifts]

    def used(self, phone: Phone) -> None:
        slowest = max(phone.taps, key=lambda words: phone.taps[words])
        self.inp_ms.append(phone.taps[slowest])
        self.inp_of.append(slowest)
        self.shown_ms.append(phone.shown_ms)
        self.swap_cls.append(phone.swap_cls)
        self.more.append(", ".join(f"{words} {ms:.0f} ms" for words, ms in phone.taps.items()))
        self.more += [f"moved with the swap {moved}" for moved in phone.moved]


Rows = dict[tuple[str, str], Row]


@contextmanager
def on_the_phone(browser: Browser, server: Server) -> Iterator[tuple[Page, Line]]:
    """A new page of a browser that has kept nothing, on the slow line."""
    screen = ViewportSize(width=PHONE["width"], height=PHONE["height"])
    context = browser.new_context(
        base_url=server.url, viewport=screen, device_scale_factor=3, has_touch=True, is_mobile=True
    )
    for name, value in server.cookies().items():
        context.add_cookies([{"name": name, "value": value, "url": server.url}])
    page = context.new_page()
    page.add_init_script(phone_watch.WATCH)
    line = Line()
    cdp = context.new_cdp_session(page)
    line.watch(cdp)
    slow_down(cdp)
    yield page, line
    context.close()


def slow_down(cdp: CDPSession) -> None:
    cdp.send("Network.enable")
    speeds = {"downloadThroughput": DOWN_KBIT * 125, "uploadThroughput": UP_KBIT * 125}
    cdp.send("Network.emulateNetworkConditions", {"offline": False, "latency": LATENCY_MS, **speeds})
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})


def one_page(browser: Browser, server: Server, name: str, path: str, use: Hands, rows: Rows) -> None:
    with on_the_phone(browser, server) as (page, line):
        for way in ("cold", "warm"):
            page.goto("about:blank")
            line.empty()
            page.goto(path)
            page.wait_for_timeout(QUIET_MS)
            found = phone_watch.seen(page)
            row = rows[name, way]
            row.loaded(found, line, page)
            if way == "warm":
                phone = Phone(page)
                use(phone)
                row.used(phone)
                found = phone_watch.seen(page)
            row.cls.append(found.cls)


def one_run(browser: Browser, data: Path, places: Places, rows: Rows) -> None:
    server = Server(data, free_port(), demo=True)
    server.start()
    paths = {name: getattr(places, place) if place else "/" for name, (place, _) in HANDS.items()}
    try:
        with httpx.Client(base_url=server.url, cookies=server.cookies(), timeout=30) as client:
            for path in paths.values():
                client.get(path).raise_for_status()
        for name, (_, use) in HANDS.items():
            one_page(browser, server, name, paths[name], use, rows)
    finally:
        server.stop()


HEAD = (
    f"{'page':<17} {'cache':<5} {'page ms':>7} {'LCP ms':>13} {'CLS':>7} {'kB':>5} {'requests':>8}"
    f" {'blocking':>8} {'INP ms':>10} {'swap CLS':>8} {'next ms':>7}  slowest tap"
)


def marked(value: float, goal: str, digits: int = 0) -> str:
    return f"{value:.{digits}f}{'!' if value > GOALS[goal] else ' '}"


def told(name: str, way: str, row: Row) -> str:
    """One line of the table."""
    lcp = f"{marked(median(row.lcp_ms), 'lcp_ms')}({max(row.lcp_ms):.0f})"
    line = f"{name:<17} {way:<5} {median(row.page_ms):>7.0f} {lcp:>13} {marked(median(row.cls), 'cls', 3):>7}"
    line += f" {median(row.kilobytes):>5.1f} {median(row.requests):>8.0f} {median(row.blocking):>8.0f}"
    if not row.inp_ms:
        return line
    inp = f"{marked(median(row.inp_ms), 'inp_ms')}({max(row.inp_ms):.0f})"
    slowest = row.inp_of[row.inp_ms.index(max(row.inp_ms))]
    # Where nothing was saved and no page was left, nothing came.
    came = f"{median(row.shown_ms):>7.0f}" if any(row.shown_ms) else f"{'-':>7}"
    return f"{line} {inp:>10} {median(row.swap_cls):>8.3f} {came}  {slowest}"


def others() -> str:
    """How busy the computer is with other things, where it can tell."""
    return f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"


def tell(rows: Rows, version: str, runs: int, more: bool) -> None:
    lcp_ms, most_cls, inp_ms = (f"{GOALS[goal]:g}" for goal in ("lcp_ms", "cls", "inp_ms"))
    print(f"Chromium {version}; {PROFILE}.")
    print(f"{STUDENTS} students on the class sheet. Median of {runs} runs, the worst in brackets.")
    print(f"Goals: LCP <= {lcp_ms} ms, CLS <= {most_cls}, INP <= {inp_ms} ms; what misses is marked !.")
    print("page: until the whole HTML is there; blocking: files that came and that the paint waited for;")
    print("next: from the tap that saves or leads on to the paint of what comes.")
    print(f"Chromium does not slow the making of a connection: that is {LATENCY_MS} ms more for a cold page,")
    print(f"and {LATENCY_MS} more where several files block, which come by connections of their own.\n")
    print(HEAD)
    for (name, way), row in rows.items():
        print(told(name, way, row))
        for line in row.more if more else ():
            print(f"    {line}")


def main() -> None:
    reads = argparse.ArgumentParser(description="How Benchside feels on a slow phone.")
    reads.add_argument("--runs", type=int, default=RUNS, help=f"how often (default {RUNS})")
    reads.add_argument("--more", action="store_true", help="every run: what was painted, tapped, moved")
    asked = reads.parse_args()
    path = chromium_path()
    if path is None:
        reads.exit(1, "No Chromium was found.\n")
    rows: Rows = defaultdict(Row)
    print(f"Other load on {os.cpu_count()} cores at the start: {others()}.", flush=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        places = filled(Path(folder) / "filled")
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        for number in range(asked.runs):
            data = Path(folder) / f"run{number}"
            shutil.copytree(Path(folder) / "filled", data)
            one_run(browser, data, places, rows)
        tell(rows, browser.version, asked.runs, asked.more)
        browser.close()


if __name__ == "__main__":
    main()
