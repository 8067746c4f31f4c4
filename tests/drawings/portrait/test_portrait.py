"""The portrait: true to the description, mirrored for the left hand, and its words say the same numbers."""

from dataclasses import replace
from math import hypot
from typing import Any

import pytest

from tests.drawings.conftest import Judge
from tests.drawings.gallery.paint import figure
from tests.drawings.gallery.portrait import others, pictures
from tests.setups.journals import spec_of, the_trade
from webapp.drawings.marks import REPAIRER, mark
from webapp.drawings.portrait.instrument_map import MapPlace, instrument_map
from webapp.drawings.portrait.outline import Build, build_of
from webapp.drawings.portrait.portrait import PlaceMark, lying, portrait, standing, units_per_mm
from webapp.drawings.portrait.whereabouts import RING, whereabouts
from webapp.drawings.shapes import Circle, Drawing, Line, LinkedShape, Path, Polyline, Rect, Text, extent
from webapp.drawings.units import INCH
from webapp.setups.states import Word
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, RodNut, RodType

SPECS = {key: kind.spec for key, kind in the_trade().kinds.items()} | others()
DRAWN = dict(pictures())
EACH_SPEC = pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS)
EACH_DRAWING = pytest.mark.parametrize("drawing", DRAWN.values(), ids=DRAWN)


@EACH_SPEC
@pytest.mark.practice
def test_frets_lie_where_the_rule_of_17_817_puts_them(spec: InstrumentSpec) -> None:
    """The bench's own rule: each fret takes a 17.817th of the string that is left."""
    whole = lying(spec)
    nut, saddle = whole.point("nut")[0], whole.point("saddle")[0]
    left = saddle - nut
    for fret in range(1, spec.fret_count + 1):
        left -= left / 17.817
        assert saddle - whole.point(f"fret.{fret}")[0] == pytest.approx(left, abs=0.01)


@EACH_SPEC
@pytest.mark.parametrize("draw", [lying, standing])
def test_lengths_and_spacings_keep_one_scale(spec: InstrumentSpec, draw: Any) -> None:
    whole = draw(spec)
    many, per_mm = spec.string_count, whole.view.per_mm
    assert _apart(whole.point("nut"), whole.point("saddle")) == pytest.approx(
        per_mm * (spec.scale_bass_mm + spec.scale_treble_mm) / 2
    )
    if not spec.is_multiscale:
        assert _apart(whole.point("nut.1"), whole.point(f"nut.{many}")) == pytest.approx(
            per_mm * spec.spacing_nut_mm
        )
        assert _apart(whole.point("saddle.1"), whole.point(f"saddle.{many}")) == pytest.approx(
            per_mm * spec.spacing_bridge_mm
        )
    # A fanned string runs from its own nut to its own saddle.
    for number in (1, many):
        nut, saddle = whole.point(f"nut.{number}"), whole.point(f"saddle.{number}")
        along = 1 if whole.view.standing else 0
        assert saddle[along] - nut[along] == pytest.approx(per_mm * spec.scale_of(number))


@EACH_SPEC
def test_the_body_begins_about_the_joint_and_holds_the_bridge(spec: InstrumentSpec) -> None:
    whole = lying(spec)
    body = next(s for s in whole.shapes if isinstance(s, Path) and s.kind == "body").box
    joint, saddle = whole.point("joint")[0], whole.point("saddle")[0]
    assert joint == pytest.approx(whole.point(f"fret.{spec.joint_fret}")[0])
    assert abs(body[0] - joint) < 0.05 * whole.width
    assert saddle < body[2] - 12 and body[2] <= whole.width
    assert saddle - joint < body[2] - body[0]


@EACH_SPEC
def test_it_has_as_many_frets_strings_and_tuners_as_it_should(spec: InstrumentSpec) -> None:
    whole = standing(spec)
    paths = [s for s in whole.shapes if isinstance(s, Path)]
    frets = next(s for s in paths if s.kind == "thin")
    assert frets.d.count("M") == spec.fret_count
    wires = sum(s.d.count("M") for s in paths if s.kind.startswith("wire"))
    assert wires == sum(len(string.course) for string in spec.strings)
    assert len(whole.outline.tuners()) == (0 if spec.headless else wires)


def test_pickups_stand_clear_of_the_board_and_the_bridge() -> None:
    for spec in SPECS.values():
        outline = lying(spec).outline
        for pickup in spec.pickups:
            places = [a for part in outline.pickup_parts(pickup) for a, _ in part]
            slant = abs(outline.along(0, 1) - outline.along(0, 0)) * 2
            assert min(places) > outline.board_end - slant - 8 and max(places) < outline.saddle() + slant


@EACH_SPEC
def test_a_left_handed_one_is_the_mirror_image(spec: InstrumentSpec) -> None:
    right, left = lying(spec), lying(spec.model_copy(update={"left_handed": True}))
    assert right.height == left.height
    for number in range(1, spec.string_count + 1):
        (x, y), mirrored = right.point(f"saddle.{number}"), left.point(f"saddle.{number}")
        assert mirrored == pytest.approx((x, right.height - y))
    thick = f"nut.{spec.string_count}"
    assert right.point(thick)[1] > right.point("nut.1")[1] and left.point(thick)[1] < left.point("nut.1")[1]
    assert standing(spec).point(thick)[0] < standing(spec).point("nut.1")[0]


def test_bodies_follow_the_description() -> None:
    built = {key: build_of(spec) for key, spec in SPECS.items()}
    assert {built[key] for key in built if key.startswith("bass")} == {Build.SOLID_BASS}
    assert {built[key] for key in built if key.startswith("electric")} == {Build.SOLID_GUITAR}
    assert {built[key] for key in ("acoustic_6", "acoustic_12", "acoustic_bass")} == {Build.ACOUSTIC}
    assert built["classical_6"] is Build.CLASSICAL
    short, long = (lying(spec_of("electric_6", joint_fret=fret)).outline for fret in (19, 14))
    assert long.body_length > short.body_length + 40
    small = lying(spec_of("electric_6", scale_bass_mm=578.0, scale_treble_mm=578.0)).outline
    assert small.body_half < short.body_half


def test_posts_stand_as_far_apart_as_it_is_said() -> None:
    spec = spec_of("electric_6_posts", bridge={"post_spacing_mm": 74.0})
    whole = standing(spec)
    bass, treble = whole.point("post.bass"), whole.point("post.treble")
    assert treble[0] - bass[0] == pytest.approx(74.0 * whole.view.per_mm)
    assert bass[1] == treble[1] == pytest.approx(whole.point("saddle")[1])


@pytest.mark.parametrize(
    ("spec", "place"),
    [
        (spec_of("classical_6"), "rod"),
        (spec_of("bass_4_34"), "post.bass"),
        (spec_of("acoustic_6"), "pickup.neck"),
        (spec_of("bass_4_34"), "elbow"),
    ],
)
def test_what_is_not_there_is_not_pointed_at(spec: InstrumentSpec, place: str) -> None:
    with pytest.raises(KeyError):
        lying(spec).point(place)


def test_the_rods_nut_is_where_it_is_reached() -> None:
    for spec in SPECS.values():
        if spec.rod.type is RodType.NONE:
            continue
        whole = lying(spec)
        rod, end = whole.point("rod")[0], whole.point(f"fret.{spec.fret_count}")[0]
        assert rod > end if spec.rod.nut_at is RodNut.BODY else rod < whole.point("nut")[0]
    hole = next(s for s in lying(SPECS["rod_in_hole"]).shapes if isinstance(s, Path) and s.kind == "hole")
    assert hole.box[0] < lying(SPECS["rod_in_hole"]).point("rod")[0] < hole.box[2]


@EACH_DRAWING
def test_every_drawing_is_on_the_paper_readable_and_light(
    drawing: Drawing, on_paper: Judge, no_overlap: Judge
) -> None:
    on_paper(drawing)
    no_overlap(drawing)
    assert len(figure(drawing).encode()) <= 12_500
    svg = figure(drawing)
    assert " style=" not in svg and "nan" not in svg


@EACH_SPEC
def test_the_bare_portrait_is_small(spec: InstrumentSpec) -> None:
    assert len(figure(portrait(spec)).encode()) <= 6000


def test_the_words_say_the_numbers() -> None:
    bass = portrait(spec_of("bass_4_34"), [PlaceMark("relief", Word.TOUCH_HIGH, "Relief: a touch bowed")])
    for words in (
        "solid bass", "Scale 34 in", "20 frets", "fret 16", "4 strings", "33 mm", "57 mm", "middle, bridge",
        "head left", "Relief: a touch bowed.",
    ):  # fmt: skip
        assert words in bass.description
    fanned = portrait(SPECS["fanned"].model_copy(update={"left_handed": True}), units=INCH).description
    assert "left-handed" in fanned and "Scale 914 mm bass side, 850 mm treble side" in fanned
    assert "6 pairs of strings" in portrait(SPECS["acoustic_12"]).description
    assert "without a headstock" in portrait(SPECS["headless"]).description
    where = whereabouts(spec_of("bass_4_34"), "fret.12", "fret 12").description
    assert "Ringed: fret 12, 432 mm behind the nut." in where


def test_all_of_a_page_share_one_scale() -> None:
    specs = [spec_of("bass_4_34"), spec_of("electric_6"), spec_of("acoustic_6")]
    scale = units_per_mm(specs)
    for spec in specs:
        whole = lying(spec, per_mm=scale)
        assert whole.width <= 360.01
        assert _apart(whole.point("nut"), whole.point("saddle")) == pytest.approx(
            spec.scale_treble_mm * scale
        )
    widths = [max(extent(s)[2] for s in portrait(spec, (), 1 / scale).flat()) for spec in specs]
    assert widths[0] > widths[1] + 60


def test_marks_lead_where_they_should_and_keep_off_each_other() -> None:
    marks = [PlaceMark(p, Word.GOOD, p, f"/{p}") for p in ("rod", "nut", "relief", "height", "saddle")]
    links = [s for s in portrait(spec_of("bass_4_34"), marks).shapes if isinstance(s, LinkedShape)]
    assert [link.href for link in links] == [f"/{m.place}" for m in marks]
    plates = [s for link in links for s in link.shapes if isinstance(s, Circle) and s.kind == "plate"]
    for one, other in zip(plates, plates[1:], strict=False):
        assert _apart((one.cx, one.cy), (other.cx, other.cy)) >= one.r + other.r


def test_no_two_marks_look_alike() -> None:
    looks = {w: mark(w, 0, 0) for w in (*Word, REPAIRER) if w not in (Word.NOT_HERE, Word.NOT_TAUGHT)}
    assert len(set(looks.values())) == len(looks)
    # And not by colour alone: without their kinds they differ too.
    outlines = {tuple(replace(shape, kind="ink") for shape in look) for look in looks.values()}
    assert len(outlines) == len(looks)


@pytest.mark.parametrize("many", range(1, 9))
@EACH_SPEC
def test_boxes_never_overlap_and_can_be_hit(spec: InstrumentSpec, many: int) -> None:
    names = ["strings", "nut", "relief", "height", "joint", "fret.1", "saddle", "saddle.1"][:many]
    places = [MapPlace(n, "Height at 12", "2.5–3.0 mm", Word.TOUCH_HIGH, f"/{n}") for n in names]
    drawing = instrument_map(spec, places)
    links = [s for s in drawing.shapes if isinstance(s, LinkedShape)]
    boxes = sorted(
        (s.y, s.y + s.h) for link in links for s in link.shapes if isinstance(s, Rect) and s.kind == "plate"
    )
    assert len(boxes) == many and {link.href for link in links} == {f"/{n}" for n in names}
    assert all(bottom - top >= 44 for top, bottom in boxes)
    assert all(one[1] < other[0] for one, other in zip(boxes, boxes[1:], strict=False))
    assert boxes[0][0] >= 0 and boxes[-1][1] <= drawing.height
    leaders = [s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "leader"]
    ends = [(line.points[0][1], line.points[-1][1]) for line in leaders]
    assert ends == sorted(ends), "leaders would cross"


def test_a_place_is_ringed_where_it_is_and_the_eye_looks_along_the_rod() -> None:
    for spec, place in (
        (spec_of("bass_4_34"), "rod"),
        (SPECS["rod_in_hole"], "rod"),
        (SPECS["fanned"], "saddle.5"),
    ):
        drawing = whereabouts(spec, place, "here it is")
        ring = next(s for s in drawing.shapes if isinstance(s, Circle) and s.kind == "ring")
        assert ring.r == RING and any(isinstance(s, Text) and s.text == "here it is" for s in drawing.shapes)
        sights = [s for s in drawing.shapes if isinstance(s, Line) and s.kind == "sight"]
        assert len(sights) == (place == "rod")
        if sights and spec.rod.nut_at is RodNut.HEADSTOCK:
            assert sights[0].x1 < sights[0].x2 < ring.cx
        elif sights:
            assert sights[0].x1 > sights[0].x2 > ring.cx


def test_a_one_piece_bridge_of_steel_or_nylon() -> None:
    steel = spec_of("electric_6", bridge={"type": BridgeType.ONE_PIECE}, pickups=())
    assert build_of(steel) is Build.ACOUSTIC


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return hypot(one[0] - other[0], one[1] - other[1])
