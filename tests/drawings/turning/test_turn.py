"""Which way and how far: the picture says what the words say, for every part, kind and sign."""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import atan2, degrees, hypot
from typing import Any

import pytest

from tests.drawings.conftest import Judge
from tests.drawings.gallery.paint import figure
from tests.drawings.gallery.turn import pictures
from tests.setups.journals import BASS, GUITAR, POSTS, Bench, all_kinds, spec_of
from webapp.drawings.shapes import Circle, Drawing, Path, Plain, Polyline, Rect, Text
from webapp.drawings.turning.dial import Dial, Drive, Turning, amount, drive_of, steps_of
from webapp.drawings.turning.rod_turn import easing_drawing, thick_is_right
from webapp.drawings.turning.turn import saddle_work_drawing, turn_drawing
from webapp.drawings.units import INCH
from webapp.setups.journal import Part, Turn
from webapp.setups.say import Say
from webapp.setups.slots import parse_slot, slots_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import (
    BridgeType,
    Check,
    Fitting,
    PickupAdjust,
    RodNut,
    Rotation,
    ScrewHeads,
    Side,
)

PICTURES = dict(pictures())
TALLEST, HEAVIEST = 190, 5 * 1024
ARC = re.compile(r"M(\S+) (\S+)A(\S+) \S+ 0 ([01]) ([01]) (\S+) (\S+)")


def of_kind(drawing: Drawing, kind: str) -> list[Plain]:
    return [shape for shape in drawing.flat() if shape.kind == kind]


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in drawing.flat() if isinstance(shape, Text)]


def ways_drawn(shapes: Iterable[Plain]) -> list[Rotation]:
    """The way round of every thick arc, and its arrowhead must lie on ahead of it."""
    found = []
    for shape in shapes:
        if isinstance(shape, Path) and shape.kind == "do-line":
            sweep = ARC.fullmatch(shape.d)
            assert sweep is not None
            # In a picture whose y points down, sweep 1 goes clockwise.
            found.append(Rotation.CLOCKWISE if sweep[5] == "1" else Rotation.ANTICLOCKWISE)
    return found


@pytest.mark.parametrize("name", PICTURES)
def test_every_turn_fits_its_paper(name: str, on_paper: Judge, no_overlap: Judge) -> None:
    drawing = PICTURES[name]
    on_paper(drawing)
    no_overlap(drawing)
    assert drawing.height <= TALLEST
    assert len(figure(drawing).encode()) <= HEAVIEST


# The picture and the words


# What to read off the middle of its target so that a screw should be turned up, and down.
OFF = {
    "relief": (0.5, -0.35),
    "height": (-0.8, 0.9),
    "level": (1.6, -1.6),
    "intonation": (10.0, -10.0),
    "pickups": (2.0, -1.2),
}
CHANGED: dict[str, tuple[str, dict[str, Any]]] = {
    **{kind: (kind, {}) for kind in all_kinds()},
    "rod anticlockwise": (BASS, {"rod": {"tightens": Rotation.ANTICLOCKWISE, "nut_at": RodNut.BODY}}),
    "heads in front": (GUITAR, {"bridge": {"intonation_heads": ScrewHeads.FRONT}}),
    "pickups in rings": (BASS, {"pickups": {"adjust": PickupAdjust.RING}}),
    "pickups in the body": (POSTS, {"pickups": {"adjust": PickupAdjust.BODY}}),
}


def turned_places(spec: InstrumentSpec) -> dict[str, str]:
    """The places whose advice is a turn on this instrument, each with its row of OFF."""
    has = spec.fittings
    own = Fitting.HEIGHT_SCREWS in has or Fitting.POSTS in has
    ends = ("height.1", f"height.{spec.string_count}") if own else ()
    wanted = {
        "relief": Fitting.ROD in has and "relief",
        "height.level": Fitting.SPRINGS in has and "level",
        **{place: own and "height" for place in ends},
        "intonation.2.12": Fitting.INTONATION_SCREWS in has and "intonation",
        "pickups.1.bass": Fitting.PICKUPS in has and "pickups",
    }
    return {place: row for place, row in wanted.items() if row}


def read_off(bench: Bench, place: str, off: float) -> None:
    """The check's places read twice in the middle of their targets, but for this one: a bridge's strings all
    go together, and so do a string's two frets."""
    check = Check(place.split(".")[0])
    together = place if place.endswith("level") else {"intonation": "intonation.2.", "height": "height."}.get(
        check.value, place
    )  # fmt: skip
    keys = [s.key for s in slots_of(bench.spec, check) if not s.level or place.endswith("level")]
    for key in keys * 2:
        far = off * (2 if key.endswith("high") else 1) if key.startswith(together) else 0.0
        bench.reading(key, bench.middle(parse_slot(key, bench.spec)) + far)


PLACES = [
    (name, place, sign)
    for name, (kind, changes) in CHANGED.items()
    for place in turned_places(spec_of(kind, **changes))
    for sign in (0, 1)
]


@pytest.mark.parametrize(("name", "place", "sign"), PLACES)
def test_the_picture_turns_the_way_that_the_words_say(name: str, place: str, sign: int) -> None:
    kind, changes = CHANGED[name]
    bench = Bench(kind, **changes)
    off = OFF[turned_places(bench.spec)[place]][sign]
    read_off(bench.up_to(Check(place.split(".")[0])), place, off)
    advice = bench.state(place).advice
    assert advice is not None and advice.turn is not None
    assert (advice.turn.eighths > 0) is (sign == 0)
    [line] = [line for line in advice.do if "clockwise" in line]
    said = Rotation.ANTICLOCKWISE if "anticlockwise" in line else Rotation.CLOCKWISE
    assert rotation_of(bench.spec, advice.turn) is said

    drawing = turn_drawing(bench.spec, advice.turn)
    drawn = ways_drawn(drawing.flat())
    if advice.turn.part is Part.ROD and advice.turn.eighths > 0:
        assert drawn == [said.other, said]  # eased off first
    else:
        assert drawn and set(drawn) == {said}
    assert said.value in texts(drawing) or any(t.startswith(f"{said.value}, ") for t in texts(drawing))
    # One amount, in the line, the title and the picture.
    assert Say.turns(advice.turn.eighths) in line and Say.turns(advice.turn.eighths) in drawing.title
    if said is Rotation.CLOCKWISE:
        assert "anticlockwise" not in drawing.title
    assert said.value in drawing.title and said.value in drawing.description


def test_nothing_is_drawn_for_what_no_screw_moves() -> None:
    spec = spec_of()
    for turn in (Turn(Part.NUT, 1), Turn(Part.STRINGS, 1), Turn(Part.ROD, 0)):
        with pytest.raises(ValueError):
            turn_drawing(spec, turn)


# The dial


@pytest.mark.parametrize("way", list(Rotation))
@pytest.mark.parametrize("eighths", range(1, 8))
def test_the_key_goes_from_twelve_to_where_it_should(way: Rotation, eighths: int) -> None:
    shapes = Dial(100, 100, 40, way, eighths).shapes()
    dashed, solid = (s for s in shapes if isinstance(s, Polyline) and s.kind in ("forecast", "accent-fill")
                     and len(s.points) == 4)  # fmt: skip

    def clock(key: Polyline) -> float:
        x, y = (sum(p[i] for p in key.points) / 4 - 100 for i in (0, 1))
        return degrees(atan2(x, -y)) % 360

    assert clock(dashed) == pytest.approx(0) or clock(dashed) == pytest.approx(360)
    on = 45 * eighths
    assert clock(solid) == pytest.approx(on if way is Rotation.CLOCKWISE else 360 - on)
    [fraction] = [s for s in shapes if isinstance(s, Text)]
    [head] = [s for s in shapes if isinstance(s, Polyline) and len(s.points) == 3]
    tip = head.points[0]
    assert degrees(atan2(tip[0] - 100, 100 - tip[1])) % 360 == pytest.approx(clock(solid))
    assert hypot(tip[0] - 100, tip[1] - 100) > 40  # outside the ring
    assert hypot(fraction.x - tip[0], fraction.y - tip[1]) < 28


@pytest.mark.parametrize(
    ("eighths", "steps", "says"),
    [(1, (1,), "⅛ turn"), (-6, (6,), "¾ turn"), (8, (8,), "1 turn"), (11, (11,), "1⅜ turns"),
     (16, (16,), "2 turns"), (-52, (48, 4), "6½ turns"), (40, (40,), "5 turns")],
)  # fmt: skip
def test_over_two_turns_the_whole_ones_come_first(eighths: int, steps: tuple[int, ...], says: str) -> None:
    assert steps_of(eighths) == steps and sum(steps_of(eighths)) == abs(eighths)
    assert amount(eighths) == says
    shapes, _ = Turning(Rotation.CLOCKWISE, eighths).column(100, 0, 140)
    assert sum(s.kind == "disc" for s in shapes) == abs(eighths) // 8
    assert len(ways_drawn(shapes)) == len(steps)
    now = [s.text for s in shapes if isinstance(s, Text) and s.text.endswith(" now")]
    assert bool(now) is (abs(eighths) > 16)


def test_twenty_turns_are_twenty_pips_and_two_screws_alike_are_two_dials() -> None:
    drawing = turn_drawing(spec_of(), Turn(Part.SADDLE_POSITION, -160, string=3))
    assert sum(isinstance(s, Circle) and s.kind == "disc" for s in drawing.flat()) == 20
    both = turn_drawing(spec_of(), Turn(Part.SADDLE_HEIGHT, 2, string=3))
    assert len(ways_drawn(both.flat())) == 2 and "both alike" in texts(both)
    assert len(of_kind(both, "ruling")) == 2  # the "="


@pytest.mark.parametrize(
    ("key", "drive"),
    [("4 mm hex", Drive.HEX), ("5/16 in socket", Drive.NUT), ("flat screwdriver", Drive.SLOT),
     ("Cross, size 1", Drive.CROSS), ("", Drive.UNKNOWN)],
)  # fmt: skip
def test_the_head_is_drawn_as_its_key_says(key: str, drive: Drive) -> None:
    assert drive_of(key) is drive


# The rod


@pytest.mark.parametrize("tightens", list(Rotation))
def test_easing_off_is_a_picture_of_its_own_before_the_turn(tightens: Rotation) -> None:
    spec = spec_of(rod={"tightens": tightens})
    drawing = easing_drawing(spec, 2)
    assert ways_drawn(drawing.flat()) == [tightens.other, tightens]
    numbers = [s for s in drawing.flat() if isinstance(s, Text) and s.kind == "disc-number"]
    assert [s.text for s in numbers] == ["1", "2"] and numbers[0].x < numbers[1].x
    assert [t for t in texts(drawing) if t[-1] in "⅛n" and len(t) > 8][:2] == ["ease off ⅛", "then ¼ on"]
    easing, turning = drawing.description.split("2:")
    assert f"ease off an eighth of a turn, {tightens.other.value}" in easing
    assert f"a quarter turn, {tightens.value}" in turning
    with pytest.raises(ValueError):
        easing_drawing(spec, -1)


@pytest.mark.parametrize("left_handed", [False, True])
@pytest.mark.parametrize(("nut_at", "right"), [(RodNut.HEADSTOCK, True), (RodNut.BODY, False)])
def test_the_thick_side_is_named_where_it_is(nut_at: RodNut, right: bool, left_handed: bool) -> None:
    spec = spec_of(rod={"nut_at": nut_at}, left_handed=left_handed)
    drawing = turn_drawing(spec, Turn(Part.ROD, 1))
    thick, thin = (
        next(s for s in drawing.flat() if isinstance(s, Text) and s.text == t) for t in ("thick", "thin")
    )
    strings = sorted(
        (s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "block"), key=lambda s: s.cx
    )
    assert thick_is_right(spec) is (right is not left_handed)
    assert (thick.x > thin.x) is (right is not left_handed)
    assert (strings[-1].r > strings[0].r) is (right is not left_handed)
    # The instrument is mirrored; which way the screw turns is not.
    assert ways_drawn(drawing.flat()) == [Rotation.ANTICLOCKWISE, Rotation.CLOCKWISE]


@pytest.mark.parametrize(
    ("kind", "changes", "seen"),
    [(BASS, {}, "the head"), (BASS, {"headless": True}, "the nut end"), ("acoustic_6", {}, "the sound hole"),
     (BASS, {"rod": {"nut_at": RodNut.BODY}}, "the body end")],
)  # fmt: skip
def test_from_where_the_rod_is_seen(kind: str, changes: dict[str, Any], seen: str) -> None:
    for eighths in (1, -1):
        drawing = turn_drawing(spec_of(kind, **changes), Turn(Part.ROD, eighths))
        assert f"seen from {seen}" in texts(drawing) and f"seen from {seen}" in drawing.description


def test_what_the_neck_does_follows_the_forecast() -> None:
    spec = spec_of()
    assert "straighter" in texts(turn_drawing(spec, Turn(Part.ROD, 1)))
    assert "more bow" in texts(turn_drawing(spec, Turn(Part.ROD, -1)))
    # A rod that was found to work the other way round.
    wrong = turn_drawing(spec, Turn(Part.ROD, 1), now=0.2, after=0.3)
    assert "more bow" in texts(wrong) and "0.20 mm now, about 0.30 mm after" in wrong.description


# The bridge


@pytest.mark.parametrize("kind", [k for k in all_kinds() if Fitting.HEIGHT_SCREWS in spec_of(k).fittings])
@pytest.mark.parametrize("left_handed", [False, True])
def test_the_saddle_of_this_string_is_ringed(kind: str, left_handed: bool) -> None:
    spec = spec_of(kind, left_handed=left_handed)
    middles = []
    for number in range(1, spec.string_count + 1):
        drawing = turn_drawing(spec, Turn(Part.SADDLE_HEIGHT, 8, string=number))
        [ring] = (s for s in of_kind(drawing, "ring") if isinstance(s, Rect))
        middle = ring.y + ring.h / 2
        screws = [s for s in of_kind(drawing, "disc") if isinstance(s, Circle) and s.cx < 160]
        assert len(screws) == 2 and all(ring.y < s.cy < ring.y + ring.h for s in screws)
        under = [s for s in of_kind(drawing, "ink-fill") if isinstance(s, Rect) and s.y < middle < s.y + s.h]
        assert [s.h for s in under] == [
            pytest.approx(max(0.8, spec.string(number).gauge_mm * _px(drawing, spec)))
        ]
        middles.append(middle)
    # The thin string at the top; a left-handed one is the mirror image.
    assert middles == sorted(middles, reverse=left_handed)


def _px(drawing: Drawing, spec: InstrumentSpec) -> float:
    strings = sorted(s.y + s.h / 2 for s in of_kind(drawing, "ink-fill") if isinstance(s, Rect) and s.w > 100)
    return (strings[-1] - strings[0]) / spec.spacing_bridge_mm


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("kind", [POSTS, "electric_6_floating"])
def test_the_post_of_this_side_is_ringed(kind: str, side: Side) -> None:
    drawing = turn_drawing(spec_of(kind), Turn(Part.SADDLE_HEIGHT, 8, side=side))
    [ring] = (s for s in of_kind(drawing, "ring") if isinstance(s, Circle))
    named = next(s for s in drawing.flat() if isinstance(s, Text) and s.kind == "strong")
    assert named.text == f"{side.value} side" and abs(named.y - ring.cy) < 8
    assert (ring.cy > drawing.height / 2) is (side is Side.BASS)
    both = turn_drawing(spec_of(kind), Turn(Part.SADDLE_HEIGHT, 8))
    assert len([s for s in of_kind(both, "ring") if isinstance(s, Circle)]) == 2


@pytest.mark.parametrize("heads", list(ScrewHeads))
@pytest.mark.parametrize("eighths", [-20, 20])
def test_the_saddle_is_drawn_where_it_goes(heads: ScrewHeads, eighths: int) -> None:
    spec = spec_of(bridge={"intonation_heads": heads})
    drawing = turn_drawing(spec, Turn(Part.SADDLE_POSITION, eighths, string=4), travel_mm=1.25, units=INCH)
    [ghost] = (s for s in of_kind(drawing, "ghost") if isinstance(s, Polyline))
    [stands] = (s for s in of_kind(drawing, "metal") if isinstance(s, Polyline))
    moved = ghost.points[0][0] - stands.points[0][0]
    assert moved == pytest.approx(5.0 if eighths > 0 else -5.0)  # four units a mm; the nut is to the left
    way = "back" if eighths > 0 else "toward the nut"
    assert way in texts(drawing) and "0.049 in" in texts(drawing)
    assert f"0.049 in {way}" in drawing.description
    # The head lies outside the saddle's travel, on the side where it is in the spec.
    [head] = (s for s in of_kind(drawing, "disc") if isinstance(s, Rect))
    assert (head.x > stands.points[0][0]) is (heads is ScrewHeads.BEHIND)


@pytest.mark.parametrize("adjust", [PickupAdjust.RING, PickupAdjust.BODY])
@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("left_handed", [False, True])
@pytest.mark.parametrize(("eighths", "now", "after"), [(16, 5.0, 2.5), (-8, 1.0, 2.2)])
def test_the_end_of_the_pickup_that_moves(
    adjust: PickupAdjust, side: Side, left_handed: bool, eighths: int, now: float, after: float
) -> None:
    spec = spec_of(pickups={"adjust": adjust}, left_handed=left_handed)
    turn = Turn(Part.PICKUP_HEIGHT, eighths, pickup=1, side=side)
    drawing = turn_drawing(spec, turn, now=now, after=after)
    [ghost] = (s for s in of_kind(drawing, "ghost") if isinstance(s, Polyline))
    [stands] = (s for s in of_kind(drawing, "metal") if isinstance(s, Polyline))
    (left, right), (ghost_left, ghost_right) = stands.points[:2], ghost.points[:2]
    at_left = (side is Side.BASS) is not left_handed
    moved = ghost_left[1] - left[1] if at_left else ghost_right[1] - right[1]
    stays = ghost_right[1] - right[1] if at_left else ghost_left[1] - left[1]
    assert stays == pytest.approx(0) and (moved < 0) is (eighths > 0)
    [ring] = (s for s in of_kind(drawing, "ring") if isinstance(s, Circle))
    assert (ring.cx < 107) is at_left
    assert f"gap {now:.2f}, then {after:.2f} mm" in texts(drawing)
    assert f"{now:.2f} mm now, about {after:.2f} mm after" in drawing.description


def test_the_springs_draw_the_rear_edge_down() -> None:
    spec = spec_of("electric_6_floating")
    assert "rear edge down" in texts(turn_drawing(spec, Turn(Part.SPRINGS, 2)))
    loosened = turn_drawing(spec, Turn(Part.SPRINGS, -2))
    assert "rear edge up" in texts(loosened) and "both alike" in texts(loosened)
    assert len([s for s in of_kind(loosened, "ring")]) == 2


def test_a_saddle_without_screws_says_what_comes_off_each_end() -> None:
    spec = spec_of("classical_6")
    assert spec.bridge.type is BridgeType.ONE_PIECE
    drawing = saddle_work_drawing(spec, 0.6, -0.3)
    assert {"0.60 mm off", "0.30 mm more"} < set(texts(drawing))
    assert "0.60 mm off at the bass end, 0.30 mm more at the treble end" in drawing.title
    [cut] = of_kind(drawing, "do-line")
    [outline] = (s for s in of_kind(drawing, "block") if isinstance(s, Polyline))
    foot = max(y for _, y in outline.points)
    bass, treble = foot - cut.y1, foot - cut.y2  # type: ignore[union-attr]
    assert bass > 0 > treble and bass == pytest.approx(-2 * treble)
    assert "4 times" in drawing.caption
    assert "as it is" in texts(saddle_work_drawing(spec, 0.05, 0.6))
