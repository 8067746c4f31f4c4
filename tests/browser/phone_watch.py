"""What a page's visitor notices: when it stands, what moves, how long a tap waits, what the line carries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import CDPSession, Page

# A session of shifts ends after a quiet second, and lasts five at most; its worst counts.
SESSION_GAP_MS, SESSION_MS = 1000, 5000
# The browser tells of no interaction that was quicker than this.
LEAST_TOLD_MS = 16

# It runs before the page's own scripts. A tap that leaves the page is kept for the page that comes. What a
# tap brought is timed up to its paint: a swapped part, or the largest thing of a new page.
WATCH = """(() => {
  const seen = { lcp_ms: 0, lcp_of: "", shifts: [], taps: [], swapped_ms: 0, left: [], came_ms: 0 };
  let tapped_ms = 0, left_at_ms = 0;
  const of = (node) => !node ? "?" : (node.localName || node.nodeName) + (node.id ? "#" + node.id : "")
    + (typeof node.className === "string" && node.className ? "." + node.className.split(" ").join(".") : "");
  const take = {
    "largest-contentful-paint": (e) => { seen.lcp_ms = e.startTime; seen.lcp_of = of(e.element); },
    "layout-shift": (e) => seen.shifts.push({ at_ms: e.startTime, score: e.value, by_hand: e.hadRecentInput,
      of: e.sources.map((s) => of(s.node)).join(" ") }),
    "event": (e) => { if (e.interactionId) seen.taps.push({ id: e.interactionId, ms: e.duration }); },
  };
  const watching = Object.keys(take).map((type) => {
    const all = (entries) => entries.forEach((e) => take[e.entryType](e));
    const observer = new PerformanceObserver((list) => all(list.getEntries()));
    observer.observe({ type, buffered: true, durationThreshold: 16 });
    return () => all(observer.takeRecords());
  });
  addEventListener("click", (e) => { tapped_ms = e.timeStamp; }, true);
  document.addEventListener("htmx:after:swap", () => requestAnimationFrame(() => setTimeout(() => {
    seen.swapped_ms = performance.now() - tapped_ms;
  })));
  window.phoneSeen = () => {
    watching.forEach((rest) => rest());
    seen.came_ms = performance.timeOrigin + seen.lcp_ms - left_at_ms;
    return seen;
  };
  if (location.protocol === "about:") return;
  const left = JSON.parse(sessionStorage.getItem("phone-report") || "null");
  if (left) { seen.left = left.taps; left_at_ms = left.at_ms; }
  addEventListener("pagehide", () => {
    watching.forEach((rest) => rest());
    const at_ms = performance.timeOrigin + tapped_ms;
    sessionStorage.setItem("phone-report", JSON.stringify({ taps: seen.taps, at_ms }));
  });
})()"""
# What had to come over the line before the page could be painted at all.
BLOCKING = (
    "performance.getEntriesByType('resource')"
    ".filter(e => e.renderBlockingStatus === 'blocking' && e.transferSize > 0).length"
)
# Not responseStart: Chromium holds the answer back only after it has noted that.
FIRST_ANSWER = (
    "(() => { const n = performance.getEntriesByType('navigation')[0];"
    " return { page_ms: n.responseEnd, painted_ms:"
    " (performance.getEntriesByName('first-contentful-paint')[0] || {}).startTime || 0 }; })()"
)
TWO_FRAMES = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))))"


@dataclass(frozen=True)
class Shift:
    """Something moved on the page."""

    at_ms: float
    score: float
    by_hand: bool
    of: str


@dataclass
class Line:
    """What came over the line since it was last emptied; what the browser had kept did not."""

    requests: int = 0
    bytes: int = 0
    _kept: set[str] = field(default_factory=set)

    def watch(self, cdp: CDPSession) -> None:
        cdp.on("Network.requestServedFromCache", lambda told: self._kept.add(told["requestId"]))
        cdp.on("Network.responseReceived", self._answered)
        cdp.on("Network.loadingFinished", self._finished)

    def empty(self) -> None:
        self.requests = self.bytes = 0

    def _answered(self, told: dict[str, Any]) -> None:
        if told["response"].get("fromDiskCache"):
            self._kept.add(told["requestId"])

    def _finished(self, told: dict[str, Any]) -> None:
        if told["requestId"] not in self._kept:
            self.requests += 1
            self.bytes += int(told["encodedDataLength"])


@dataclass(frozen=True)
class Seen:
    """What was noticed of one page so far.

    `left_ms` is the wait of the tap by which the page before was left, `came_ms` the time from that tap to
    this page's largest paint; `swapped_ms` is from a tap to the paint of the part that it brought.
    """

    lcp_ms: float
    lcp_of: str
    shifts: tuple[Shift, ...]
    taps_ms: dict[int, float]
    left_ms: float
    came_ms: float
    swapped_ms: float

    @property
    def cls(self) -> float:
        """As browsers count it: what follows a tap within half a second was wanted."""
        return worst_session(shift for shift in self.shifts if not shift.by_hand)


def seen(page: Page) -> Seen:
    told = page.evaluate("phoneSeen()")
    return Seen(
        told["lcp_ms"],
        told["lcp_of"],
        tuple(Shift(**one) for one in told["shifts"]),
        worst_of_each(told["taps"]),
        max((tap["ms"] for tap in told["left"]), default=LEAST_TOLD_MS),
        told["came_ms"],
        told["swapped_ms"],
    )


def worst_of_each(events: Iterable[dict[str, float]]) -> dict[int, float]:
    """One tap is several events: its longest counts."""
    worst: dict[int, float] = {}
    for event in events:
        number = int(event["id"])
        worst[number] = max(worst.get(number, 0.0), event["ms"])
    return worst


def worst_session(shifts: Iterable[Shift]) -> float:
    """Cumulative layout shift: the sum of the worst burst of shifts."""
    worst = total = 0.0
    began_ms = last_ms = float("-inf")
    for shift in sorted(shifts, key=lambda one: one.at_ms):
        if shift.at_ms - last_ms > SESSION_GAP_MS or shift.at_ms - began_ms > SESSION_MS:
            total, began_ms = 0.0, shift.at_ms
        last_ms = shift.at_ms
        total += shift.score
        worst = max(worst, total)
    return worst
