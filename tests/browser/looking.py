"""What is looked at on every page: its address, its width, the size of what a finger must hit."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

from tests.addresses import follow, links, shape

# The pages of a setup at their fullest; whatever else links lead to is looked at as well, one of each shape.
CHECKS = ("start", "relief", "height", "nut", "intonation", "pickups", "playtest")
READS = (
    "relief", "relief?tool=card", "height", "height.3", "nut?tool=card", "nut.4?tool=card", "intonation",
    "intonation?tool=needle", "intonation.2.high", "pickups", "pickups.1.bass",
)  # fmt: skip
QUESTIONS = ("start", "buzz", "cause", "ear", "playtest")
LEAST_TARGET_PX = 44

# A label counts for the box inside it; an input too small to see is hit by its label.
TOO_SMALL = """least => [...document.querySelectorAll(
    "button, .button, .list a, summary, select, textarea, input[type=text], label.choice, .board label, "
    + ".top a, .tools a"
  )].filter(e => e.checkVisibility() && !e.matches(".vh, .vh *"))
    .map(e => [e, e.getBoundingClientRect()])
    .filter(([e, r]) => r.width < least - 0.5 || r.height < least - 0.5)
    .map(([e, r]) => `${e.outerHTML.slice(0, 90)} ${r.width.toFixed(1)} x ${r.height.toFixed(1)}`)"""


# Elements with words in them, of kinds not looked at yet. A kind is what the style sheet goes by: the name,
# classes and state of an element and of the two that it is in.
NEW_KINDS = """looked => {
    const states = ["type", "aria-current", "role", "disabled"];
    const state = e => states.filter(name => e.hasAttribute(name)).map(name => name + e.getAttribute(name));
    const own = e => e ? [e.tagName, ...e.classList, ...state(e)].join(".") : "";
    const kind = e => [e, e.parentElement, e.parentElement.parentElement].map(own).join(" < ");
    const words = e => [...e.childNodes].some(node => node.nodeType === Node.TEXT_NODE && node.data.trim());
    const coloured = e => words(e) || e.matches("input, select, textarea");
    const seen = new Set(looked);
    window.newKinds = [...document.querySelectorAll("body *")].filter(e => coloured(e) && !seen.has(kind(e)));
    return [...new Set(window.newKinds.map(kind))];
}"""
ALL_BUT_CONTRAST = """axe.run({resultTypes: ["violations"], rules: {"color-contrast": {enabled: false}}})
    .then(found => found.violations)"""
CONTRAST = """axe.run({include: window.newKinds}, {runOnly: ["color-contrast"], resultTypes: ["violations"]})
    .then(found => found.violations)"""


def pages_of(page: Page) -> list[str]:
    """Every kind of page of the demo bench, as far as links lead."""
    start = ["/", "/no/such/page", *pages_of_setup(under_way(page))]
    return follow(start, lambda path: html_of(page, path), 1)


def under_way(page: Page) -> str:
    """A setup of the demo bench that is not finished."""
    homes = links(page.request.get("/").text(), '/instruments/[^/"]+')
    histories = (page.request.get(f"{home}/history").text() for home in homes if shape(home).endswith("*"))
    return next(setup for history in histories for setup in links(history, '/setups/[^/"]+'))


def html_of(page: Page, path: str) -> str | None:
    """What is to be looked at there; a file to keep is not."""
    answer = page.request.get(path)
    kept = "attachment" in answer.headers.get("content-disposition", "")
    return None if kept or "html" not in answer.headers.get("content-type", "") else answer.text()


def pages_of_setup(setup: str) -> list[str]:
    """Every kind of page of the wizard."""
    return [
        setup,
        *(f"{setup}/check/{check}" for check in CHECKS),
        *(f"{setup}/read/{slot}" for slot in READS),
        *(f"{setup}/adjust/{slot}" for slot in ("relief", "height.4")),
        *(f"{setup}/ask/{name}" for name in QUESTIONS),
        *(f"{setup}/{name}" for name in ("log", "journal", "finish", "report")),
    ]


def unfold(page: Page) -> None:
    """Open everything that is folded away, so that it is looked at too."""
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")


# The kinds of element whose colours were looked at already, and were well.
_well_coloured: set[str] = set()


def violations(page: Page) -> list[str]:
    """What axe finds amiss; of colours, which cost most, where there is a kind of element that was not looked
    at before: in light and in the dark."""
    page.evaluate(AXE_SCRIPT)
    found: list[dict[str, Any]] = page.evaluate(ALL_BUT_CONTRAST)
    if new := page.evaluate(NEW_KINDS, list(_well_coloured)):
        for scheme in ("dark", "light"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found += page.evaluate(CONTRAST)
    if not found:
        _well_coloured.update(new)
    return [f"{v['id']}: {v['nodes'][0]['html'][:160]} ({len(v['nodes'])})" for v in found]


def scrolls_sideways(page: Page) -> list[str]:
    """The widths, of a common and of a narrow phone, at which the page is wider than its screen."""
    wide = []
    for width in (360, 390):
        page.set_viewport_size({"width": width, "height": 844})
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            wide.append(f"wider than {width} px")
    return wide


def too_small(page: Page) -> list[str]:
    """What a finger could miss."""
    found: list[str] = page.evaluate(TOO_SMALL, LEAST_TARGET_PX)
    return found
