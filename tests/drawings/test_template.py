"""The one template: valid XML, everything escaped, no inline style, sizes as the layout reckons them."""

import re
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from tests.drawings.gallery.reading import reading_of
from webapp.drawings.board.board import BuzzMark, buzz_drawing
from webapp.drawings.board.section import SectionString, cross_section
from webapp.drawings.over_time.chart import ChartPoint, line_chart
from webapp.drawings.reading.measure import reading_drawing
from webapp.drawings.reading.side import SideString, neck_side
from webapp.drawings.shapes import GROWN, TEXT_SIZE, Drawing
from webapp.physics.neck import Neck
from webapp.trade.words import Check

TOP = Path(__file__).resolve().parents[2]
CSS = (TOP / "static" / "drawing.css").read_text(encoding="utf-8")
SVG = "{http://www.w3.org/2000/svg}"
NASTY = "<script>alert(\"1\")</script> & 'co'"
NECK = Neck.from_relief(863.6, 16, 20, 0.3)
READ = (
    (Check.RELIEF, "feeler"),
    (Check.HEIGHT, "ruler"),
    (Check.INTONATION, "tuner"),
    (Check.PICKUPS, "gauge"),
)
STRINGS = [SectionString(NASTY, -10, 2.0, 2.4, 2.0, 3.0), SectionString("1", 10, 1.0, None, 2.0, 3.0)]
DRAWINGS = [
    cross_section(240, STRINGS, fret=12, title=NASTY),
    neck_side([SideString(NASTY, NECK, 3.6)], (1, 13, 7), title=NASTY),
    *(reading_drawing(reading_of("bass_4_34", check, method)) for check, method in READ),
    buzz_drawing(863.6, 20, ["E1", NASTY], [BuzzMark(1, fret) for fret in range(5)]),
    line_chart(
        [
            ChartPoint(datetime(2024, 1, 1, tzinfo=UTC), 0.3, NASTY, '/x?"><b>'),
            ChartPoint(datetime(2025, 1, 1, tzinfo=UTC), 0.3, "", measured=False),
        ],
        (0.1, 0.4),
        (0.05, 0.6),
        "mm",
        NASTY,
    ),
]


def render(drawing: Drawing) -> str:
    env = Environment(loader=FileSystemLoader(TOP / "templates"), autoescape=True, undefined=StrictUndefined)
    page = env.from_string('{% from "parts/visit/drawing.html" import drawing %}{{ drawing(d) }}')
    return page.render(d=drawing)


@pytest.mark.parametrize("drawing", DRAWINGS, ids=range(len(DRAWINGS)))
def test_valid_svg_with_its_words(drawing: Drawing) -> None:
    figure = ElementTree.fromstring(render(drawing))
    svg = figure.find(f"{SVG}svg")
    assert svg is not None and svg.get("class") == "drawing"
    assert svg.findtext(f"{SVG}title") == drawing.title
    assert svg.findtext(f"{SVG}desc") == drawing.description
    assert (svg.get("viewBox") or "").split()[:3] == ["0", "0", "360"]
    drawn = [e for e in svg.iter() if (e.get("class") or "").startswith("d-") and e.tag != f"{SVG}a"]
    assert len(drawn) == len(list(drawing.flat()))
    if drawing.caption:
        assert figure.findtext("figcaption") == drawing.caption


@pytest.mark.parametrize("drawing", DRAWINGS, ids=range(len(DRAWINGS)))
def test_nothing_slips_through(drawing: Drawing) -> None:
    markup = render(drawing)
    assert "<script" not in markup and "<b>" not in markup
    assert " style=" not in markup and " on" not in re.sub(r">[^<]*<|\"[^\"]*\"", "", markup)
    assert "nan" not in re.findall(r'"([^"]*)"', markup) and "inf" not in re.findall(r'"([^"]*)"', markup)


def test_a_drawing_with_links_is_not_an_image() -> None:
    figure = ElementTree.fromstring(render(DRAWINGS[-1]))
    svg = figure.find(f"{SVG}svg")
    assert svg is not None and svg.get("role") == "group"
    link = svg.find(f"{SVG}a")
    assert link is not None and link.get("href") == '/x?"><b>' and NASTY in (link.get("aria-label") or "")
    other = ElementTree.fromstring(render(DRAWINGS[0])).find(f"{SVG}svg")
    assert other is not None and other.get("role") == "img"


def test_every_look_has_its_ink() -> None:
    kinds = {shape.kind for drawing in DRAWINGS for shape in drawing.flat()}
    # "ink" is what every line is without a rule of its own, "label" every text.
    missing = {kind for kind in kinds - {"ink", "label"} if not re.search(rf"\.d-{kind}(?![\w-])", CSS)}
    assert not missing


def test_text_sizes_agree_with_the_stylesheet_and_are_readable() -> None:
    def size(selector: str) -> float | None:
        rule = re.search(rf"{selector} \{{[^}}]*font-size: calc\(([\d.]+)px \* var\(--grow, 1\)\)", CSS)
        return float(rule[1]) if rule else None

    for kind, reckoned in TEXT_SIZE.items():
        assert (size(rf"\.d-{kind}") or size(r"\.drawing text")) == reckoned >= 13
    grown = re.search(r"@media \(max-width: 22\.5em\) \{ \.drawing \{ --grow: ([\d.]+); \} \}", CSS)
    assert grown is not None and float(grown[1]) == GROWN
