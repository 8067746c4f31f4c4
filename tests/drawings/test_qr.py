"""The square code, read back by a reader that is not ours."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import segno
import zxingcpp
from numpy.typing import NDArray

from webapp.drawings.qr import QUIET_ZONE, qr_svg, qr_text

LINKS = ["http://192.168.1.23:8765/pair/7KQ2-9MXD-0WTR", "https://bench.example.org/pair/AAAA-BBBB-CCCC"]


def read_back(modules: NDArray[np.uint8]) -> str:
    """What a camera sees: each module some pixels wide."""
    found = zxingcpp.read_barcode(np.kron(modules, np.ones((6, 6), dtype=np.uint8)))
    assert found is not None
    return str(found.text)


def painted(svg: str) -> NDArray[np.uint8]:
    """The square's modules, from the strokes of the one path that draws it: 0 dark, 255 light."""
    root = ElementTree.fromstring(svg)
    width, height = (int(size) for size in root.attrib["viewBox"].split()[2:])
    modules = np.full((height, width), 255, dtype=np.uint8)
    x = y = 0.0
    for sign, across, down in re.findall(r"([Mmh])(-?[\d.]+)(?:[ ,]?(-?[\d.]+))?", root[1].attrib["d"]):
        if sign == "h":
            modules[int(y), int(x) : int(x) + int(across)] = 0
            x += float(across)
        elif sign == "M":
            x, y = float(across), float(down)
        else:
            x, y = x + float(across), y + float(down)
    return modules


@pytest.mark.parametrize("link", LINKS)
def test_the_drawn_square_holds_the_link(link: str) -> None:
    assert read_back(painted(qr_svg(link))) == link


@pytest.mark.parametrize("link", LINKS)
def test_the_square_in_the_terminal_holds_the_link(link: str) -> None:
    halves = {" ": (0, 0), "▀": (255, 0), "▄": (0, 255), "█": (255, 255)}
    lines = [re.sub(r"\x1b\[[\d;]*m", "", line) for line in qr_text(link).splitlines() if line.strip()]
    rows = [[halves[sign][half] for sign in line] for line in lines for half in (0, 1)]
    assert read_back(np.array(rows, dtype=np.uint8)) == link


def test_the_square_has_its_quiet_margin_and_no_script_or_style() -> None:
    svg = qr_svg(LINKS[0])
    modules = painted(svg)
    edge = QUIET_ZONE
    assert (modules[:edge] == 255).all() and (modules[:, :edge] == 255).all()
    assert (modules[-edge:] == 255).all() and (modules[:, -edge:] == 255).all()
    assert modules.shape[0] == segno.make_qr(LINKS[0], error="m").symbol_size(border=edge)[0]
    assert not re.search(r"style|script|href|on\w+=", svg)
