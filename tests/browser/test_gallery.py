"""Every drawing as a browser paints it: as it was kept, and no words over one another or out of the frame."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from tests.drawings.gallery import KEPT, all_pictures, grey, kept_file
from tests.drawings.gallery.grey import Grey
from tests.drawings.gallery.paint import page_of, painted
from webapp.drawings.shapes import Drawing, Line

# Of sixteen greys. Another release of the browser softens edges a little differently; a line that moved
# leaves a row of points clearly darker and another clearly lighter; a lost wash changes many points a little.
CLEARLY, SLIGHTLY = 6, 2
FEW_POINTS, SLIGHT_SHARE = 5, 0.004
LEAST_PX = 12.9
# Left, top, right, bottom of every text in the drawing's own units (its line box cut to what the letters
# fill), and its size on the screen.
TEXTS = """() => [...document.querySelectorAll("section")].map(section => {
  const svg = section.querySelector("svg.drawing"), frame = svg.viewBox.baseVal;
  const texts = [...svg.querySelectorAll("text")].map(text => {
    const box = text.getBBox(), size = parseFloat(getComputedStyle(text).fontSize);
    const base = text.y.baseVal[0].value;
    const middle = getComputedStyle(text).dominantBaseline === "central";
    const top = base - size * (middle ? 0.5 : 0.78);
    return {words: text.textContent, left: box.x, right: box.x + box.width, top, bottom: top + size,
            size: size * svg.getBoundingClientRect().width / frame.width};
  });
  return [section.dataset.name, {width: frame.width, height: frame.height, texts}];
})"""


@pytest.fixture(scope="module")
def drawings() -> dict[str, Drawing]:
    return all_pictures()


@pytest.fixture
def canvas(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    yield page
    page.close()


def differs(picture: Grey, kept: Grey) -> str:
    """What makes it another picture; nothing if it is the same."""
    if picture.shape != kept.shape:
        return f"was {kept.shape[1]} x {kept.shape[0]}, is {picture.shape[1]} x {picture.shape[0]}"
    apart = np.abs(picture.astype(int) - kept)
    clear, slight = int((apart >= CLEARLY).sum()), int((apart >= SLIGHTLY).sum())
    same = clear <= FEW_POINTS and slight <= max(FEW_POINTS, SLIGHT_SHARE * apart.size)
    return "" if same else f"{clear} points clearly, {slight} slightly other"


def test_every_drawing_is_as_it_was_kept(canvas: Page, drawings: dict[str, Drawing]) -> None:
    wrong = []
    for name, picture in painted(canvas, drawings).items():
        file = kept_file(name)
        reason = differs(picture, grey.read(file)) if file.exists() else "is new"
        wrong += [f"{name}: {reason}"] if reason else []
    assert not wrong, "look at them, then python -m tests.drawings.gallery --all\n" + "\n".join(wrong)
    assert {f.name for f in KEPT.glob("*.png")} == {kept_file(name).name for name in drawings}


def test_one_moved_line_is_seen(canvas: Page) -> None:
    """The comparison itself: short or long, level, upright or slanting, one line moved by 1.5 px fails."""
    lines = [Line(20, 20, 30, 20), Line(40, 10, 40, 20, "thin"), Line(60, 60, 300, 40), Line(10, 80, 350, 80)]

    def drawn(moved: int | None) -> Drawing:
        shapes = [
            Line(s.x1 + 1.5, s.y1 + 1.5, s.x2 + 1.5, s.y2 + 1.5, s.kind) if i == moved else s
            for i, s in enumerate(lines)
        ]
        return Drawing(360, 100, tuple(shapes), "", "")

    pictures = painted(canvas, {str(i): drawn(i) for i in range(len(lines))} | {"kept": drawn(None)})
    for moved in range(len(lines)):
        assert differs(pictures[str(moved)], pictures["kept"])
    assert not differs(painted(canvas, {"again": drawn(None)})["again"], pictures["kept"])


@pytest.mark.parametrize("width", [390, 320])
def test_no_words_meet_or_leave_the_frame(canvas: Page, drawings: dict[str, Drawing], width: int) -> None:
    canvas.set_viewport_size({"width": width, "height": 844})
    canvas.set_content(page_of(drawings))
    wrong = []
    for name, found in canvas.evaluate(TEXTS):
        for text in found["texts"]:
            inside = text["left"] >= -0.6 and text["right"] <= found["width"] + 0.6
            inside = inside and text["top"] >= -0.6 and text["bottom"] <= found["height"] + 0.6
            wrong += [] if inside else [f"{name}: “{text['words']}” leaves the frame"]
            wrong += (
                [] if text["size"] >= LEAST_PX else [f"{name}: “{text['words']}” is {text['size']:.1f} px"]
            )
        for a, b in combinations(found["texts"], 2):
            across = min(a["right"], b["right"]) - max(a["left"], b["left"])
            down = min(a["bottom"], b["bottom"]) - max(a["top"], b["top"])
            if across > 0.5 and down > 1.0:
                wrong.append(f"{name}: “{a['words']}” and “{b['words']}” meet")
    assert not wrong, "\n".join(wrong)
