"""How a reading is taken: every kind and method has its drawing; places, proportions and words are true."""

import re
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drawings.conftest import Judge
from tests.drawings.gallery.reading import (
    COMMON,
    checks_of,
    pictures,
    reading_of,
    spec_of,
    trade,
)
from webapp.drawings.reading.answers import answer_pictures, needle_deg
from webapp.drawings.reading.measure import Reading, reading_drawing
from webapp.drawings.reading.neck_front import front_view
from webapp.drawings.reading.nut_board import nut_from_the_board
from webapp.drawings.shapes import WIDTH, Circle, Drawing, Line, Path, Rect, Text, extent
from webapp.drawings.units import INCH
from webapp.physics.frets import fret_position
from webapp.setups.slots import height_slot
from webapp.trade.words import Check

PICTURES = dict(pictures())
LONG = [method for method in trade().methods if not method.choices]
FELT = [method for method in trade().methods if method.choices]


def texts(drawing: Drawing) -> set[str]:
    return {s.text for s in drawing.flat() if isinstance(s, Text)}


def of_kind(drawing: Drawing, kind: str) -> list[object]:
    return [s for s in drawing.flat() if s.kind == kind]


def draw(check: Check, method: str = "feeler", kind: str = COMMON, **more: object) -> Drawing:
    return reading_drawing(reading_of(kind, check, method, **more))


@pytest.mark.parametrize("name", PICTURES)
def test_every_drawing_is_on_the_paper_and_readable(name: str, on_paper: Judge, no_overlap: Judge) -> None:
    on_paper(PICTURES[name])
    no_overlap(PICTURES[name])


def test_every_drawing_is_low_enough_to_leave_room_for_the_field() -> None:
    assert max(drawing.height for drawing in PICTURES.values()) <= 215


@pytest.mark.parametrize("method", trade().methods, ids=lambda m: f"{m.check}-{m.key}")
@pytest.mark.parametrize("kind", trade().kinds)
def test_every_method_of_the_content_has_its_drawing(kind: str, method: object, on_paper: Judge) -> None:
    check, key = method.check, method.key  # type: ignore[attr-defined]
    if check in checks_of(kind):
        drawing = draw(check, key, kind)
        on_paper(drawing)
        assert of_kind(drawing, "disc") and drawing.title and drawing.description


def test_each_tool_looks_like_itself() -> None:
    looks = {
        (m.check, m.tool): sorted({s.kind for s in draw(m.check, m.key).flat()})
        for m in trade().methods
        if m.check is Check.RELIEF or m.check is Check.NUT
    }
    for check in (Check.RELIEF, Check.NUT):
        own = [tuple(kinds) for (of, tool), kinds in looks.items() if of is check and tool != "card"]
        assert len(set(own)) == len(own)
    one, two = (draw(Check.RELIEF, "card", value_mm=mm) for mm in (0.3, 0.6))
    assert len(of_kind(one, "card-edge")) == 0 and len(of_kind(two, "card-edge")) == 1


def test_steps_stand_in_the_order_of_the_hand_over_their_frets() -> None:
    drawing = draw(Check.RELIEF)
    assert {"1", "2", "3", "hold 1", "slide 7", "press 13", "E string", "fret 7"} <= texts(drawing)
    ends = [s.points[-1][0] for s in drawing.flat() if s.kind == "leader" and s.points[-1][1] < 32]  # type: ignore[union-attr]
    spec = spec_of(COMMON)
    at = [fret_position(spec.scale_bass_mm, fret) for fret in (1, 7, 13)]
    # One scale along the neck.
    assert (ends[1] - ends[0]) / (at[1] - at[0]) == pytest.approx((ends[2] - ends[1]) / (at[2] - at[1]))


def test_the_neck_seen_from_the_front_has_one_scale_both_ways() -> None:
    spec = spec_of(COMMON)
    view = front_view(spec, -24, 480, 32, tallest=40)
    apart = view.string_y(spec.string_count, 0) - view.string_y(1, 0)
    assert apart / spec.spacing_nut_mm == pytest.approx((view.fret_x(12) - view.fret_x(0)) / view.fret_mm(12))
    assert view.fret_mm(12) == pytest.approx(spec.scale_bass_mm / 2)


def test_held_and_open_strings_are_told_apart() -> None:
    held, opened = (draw(Check.HEIGHT, "ruler", way={"hold": h, "gap": 12}) for h in (1, 0))
    assert "hold 1" in texts(held) and "open" not in texts(held)
    assert "open" in texts(opened) and "Leave the E string open." in opened.description


@pytest.mark.parametrize("value", [0.1, 0.45, 2.0])
def test_the_gap_follows_the_field(value: float) -> None:
    drawing = draw(Check.RELIEF, value_mm=value)
    blade, fret = of_kind(drawing, "blade")[0], of_kind(drawing, "metal")[-2]
    glass = next(s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "ruling")
    assert isinstance(blade, Path)
    _, top, _, bottom = extent(blade)
    domes = [s for s in drawing.flat() if isinstance(s, Path) and s.kind == "metal" and "C" in s.d]
    left, _, right, _ = extent(domes[0])
    assert (bottom - top) / value == pytest.approx((right - left) / 2.4)
    assert f"this gap {value:.2f} mm" in texts(drawing)
    assert f"a gap of {value:.2f} mm" in drawing.description
    assert glass.r == 48 and fret is not None


def test_without_a_value_it_stands_at_the_middle_of_the_target() -> None:
    drawing = draw(Check.RELIEF)
    assert "this gap" in texts(drawing)
    assert "a gap of 0.30 mm" in drawing.description and "0.15 to 0.45 mm" in drawing.description
    assert "no gap" in texts(draw(Check.RELIEF, value_mm=-0.2))


@pytest.mark.parametrize("check", [Check.RELIEF, Check.HEIGHT])
@pytest.mark.parametrize("value", [0.2, 0.6, 2.0])
def test_the_factor_written_is_the_one_drawn(check: Check, value: float) -> None:
    drawing = draw(check, "feeler" if check is Check.RELIEF else "ruler", value_mm=value)
    factor = next(int(m[1]) for t in texts(drawing) if (m := re.fullmatch(r"lines only, × (\d+)", t)))
    assert f"heights {factor} times" in drawing.description
    gap = next(s for s in drawing.flat() if isinstance(s, Line) and s.kind == "gap")
    place = next(s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "accent")
    board = next(s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "board")
    hold, over = reading_of(COMMON, check, "ruler").way["hold"], 7 if check is Check.RELIEF else 12
    # The board begins at the nut: from there to the gap's fret is a known length.
    px = (place.cx - board.x) / fret_position(spec_of(COMMON).scale_bass_mm, over)
    assert abs(gap.y2 - gap.y1) == pytest.approx(value * px * factor)
    assert gap.x1 == pytest.approx(place.cx) and hold == 1


def test_lengths_in_words() -> None:
    words = draw(Check.RELIEF).description
    for part in ("48 mm from the nut", "456 mm from the nut", "287 mm from the nut"):
        assert part in words
    assert "17.00 in from the nut" in draw(Check.HEIGHT, "ruler", units=INCH, value_mm=2.8).description


def test_a_pickup_is_read_where_it_is_with_the_string_pressed_at_the_last_fret() -> None:
    drawing = draw(Check.PICKUPS, "ruler")
    assert {"press 20", "read here", "pickup", "0 stands on the pickup"} <= texts(drawing)
    assert "bridge pickup" in drawing.description.lower() and "fret 20" in drawing.description
    assert "target is 2.00 to 3.00 mm" in drawing.description


def test_intonation_marks_the_sounding_end_and_the_needle_follows() -> None:
    drawing = draw(Check.INTONATION, "tuner", value_cents=-7)
    assert {"tune open", "press 12", "pluck", "flat", "sharp"} <= texts(drawing)
    assert "−7 cents" in drawing.description
    needle = next(s for s in drawing.flat() if isinstance(s, Line) and s.kind == "do-line")
    assert needle.x2 < needle.x1 == WIDTH / 2
    sounding = next(s for s in drawing.flat() if s.kind == "accent-fill" and isinstance(s, Path))
    xs = [float(x) for x in re.findall(r"[ML]([-\d.]+)", sounding.d)]
    whole = [
        float(x)
        for s in of_kind(drawing, "ink-fill")
        if isinstance(s, Path)
        for x in re.findall(r"[ML]([-\d.]+)", s.d)
    ]
    nut, saddle, px = 0.0, spec_of(COMMON).scale_bass_mm, (max(whole) - min(whole))
    assert max(xs) == pytest.approx(max(whole)) and (max(xs) - min(xs)) / px == pytest.approx(
        (saddle - saddle / 2) / (saddle - nut + 22), abs=0.01
    )
    assert needle_deg(0) == 0 and needle_deg(5) == -needle_deg(-5) > 0 and needle_deg(90) == needle_deg(20)


def test_left_handed_is_the_mirror_image() -> None:
    plain, mirrored = (
        next(
            s for s in draw(Check.RELIEF, left_handed=m).flat() if isinstance(s, Circle) and s.kind == "ring"
        )
        for m in (False, True)
    )
    assert (mirrored.cx, mirrored.cy) == pytest.approx((WIDTH - plain.cx, plain.cy))


@pytest.mark.parametrize("method", FELT, ids=lambda m: f"{m.check}-{m.key}")
def test_every_answer_has_its_picture(method: object, on_paper: Judge) -> None:
    found = answer_pictures(method, spec_of(COMMON).string(4), card_mm=0.76)  # type: ignore[arg-type]
    choices = method.choices  # type: ignore[attr-defined]
    assert list(found) == [choice.key for choice in choices]
    assert len({drawing.shapes for drawing in found.values()}) == len(choices)
    for choice in choices:
        on_paper(found[choice.key])
        assert choice.label in found[choice.key].description


def test_a_number_has_no_answers_to_picture() -> None:
    assert all(answer_pictures(method, spec_of(COMMON).string(4)) == {} for method in LONG)


def test_the_card_answers_say_and_show_the_same() -> None:
    found = answer_pictures(trade().method(Check.RELIEF, "card"), spec_of(COMMON).string(4), card_mm=0.3)
    assert [len(of_kind(found[key], "card-edge")) for key in ("one", "two", "more")] == [0, 1, 2]
    assert of_kind(found["none"], "cross")
    assert "0.30 to 0.60 mm" in found["one"].description and "above 0.90 mm" in found["more"].description


def test_the_nut_from_the_board_rings_the_string_and_shows_where_it_belongs() -> None:
    drawing = nut_from_the_board(spec_of(COMMON), 3, 0.08, (0.25, 0.5))
    assert {"E", "A", "D", "G", "A string", "gap now 0.08 mm", "its underside belongs here"} <= texts(drawing)
    assert "0.08 mm over fret 1" in drawing.description and "0.25 to 0.50 mm" in drawing.description
    letter = next(s for s in drawing.flat() if isinstance(s, Text) and s.text == "A")
    ring = next(s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "ring")
    assert ring.cx == pytest.approx(letter.x) and letter.kind == "strong"
    # Strings as thick as they are, at the scale of their spacing.
    cut = [s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "metal"]
    spec = spec_of(COMMON)
    px = (cut[-1].cx - cut[0].cx) / spec.spacing_nut_mm
    assert cut[0].r / 0.88 * 2 == pytest.approx(spec.string(4).gauge_mm * px)


@settings(max_examples=30, deadline=None)
@given(
    kind=st.sampled_from(sorted(trade().kinds)),
    number=st.integers(1, 4),
    value=st.floats(-1, 8),
    low=st.floats(0.05, 3),
    left_handed=st.booleans(),
    hold=st.integers(0, 3),
)
def test_whatever_is_typed_it_stays_on_the_paper(
    kind: str,
    number: int,
    value: float,
    low: float,
    left_handed: bool,
    hold: int,
    on_paper: Judge,
    no_overlap: Judge,
) -> None:
    reading = Reading(
        spec_of(kind, left_handed),
        height_slot(number),
        "ruler",
        {"hold": hold, "gap": 12},
        target=(low, low * 1.4),
        curvature_per_mm=7e-6,
        value_mm=value,
    )
    drawing = reading_drawing(reading)
    on_paper(drawing)
    no_overlap(drawing)


def test_it_is_cheap_enough_to_follow_every_key_stroke() -> None:
    start = process_time()
    for step in range(50):
        draw(Check.HEIGHT, "ruler", value_mm=1 + step / 50)
    # 2 ms each on a quiet computer; four times as much room for a busy one.
    assert (process_time() - start) / 50 < 0.008
