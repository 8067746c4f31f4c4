"""An instrument's own description: string numbers, fanned frets, and what is refused."""

from __future__ import annotations

from math import inf
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from webapp.trade.content import load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.tools import Choice
from webapp.trade.words import (
    BridgeType,
    Check,
    Family,
    Fitting,
    PickupAdjust,
    PickupPosition,
    PickupType,
    RodAccess,
    RodNut,
    RodType,
    Rotation,
    ScrewHeads,
    Side,
    Touch,
    label,
)

BASS = load_trade(Path(__file__).parents[2] / "content").kinds["bass_4_34"].spec


PARTNER = {"note": "E2", "gauge_mm": 0.6, "wound": True}


def changed(**fields: Any) -> InstrumentSpec:
    return InstrumentSpec.model_validate(BASS.model_dump() | fields)


def test_string_one_is_the_thinnest() -> None:
    assert BASS.string(1).note == "G2"
    assert BASS.string(4).note == "E1"
    assert BASS.across(4) == 0
    assert BASS.across(1) == 1
    for number in (0, 5):
        with pytest.raises(IndexError):
            BASS.string(number)


def test_scale_of_each_string_on_fanned_frets() -> None:
    fanned = changed(scale_bass_mm=889.0, scale_treble_mm=838.0)
    assert fanned.is_multiscale and not BASS.is_multiscale
    assert [fanned.scale_of(number) for number in (4, 3, 2, 1)] == pytest.approx([889, 872, 855, 838])


def test_spec_survives_being_stored_as_text() -> None:
    spec = changed(typed={"scale_bass_mm": "34 in"})
    assert InstrumentSpec.model_validate_json(spec.model_dump_json()) == spec


@pytest.mark.parametrize(
    "fields",
    [
        {"joint_fret": 21},
        {"radius_end_mm": None},
        {"scale_bass_mm": 1.0e9},
        {"scale_bass_mm": float("nan")},
        {"scale_treble_mm": 600.0},
        {"fret_count": 11},
        {"strings": BASS.model_dump()["strings"][:2]},
        {"strings": [{"note": "E9", "gauge_mm": 1, "wound": True}] * 4},
        {"strings": [{"note": "E1", "gauge_mm": 0, "wound": True}] * 4},
        {"a4_hz": 500},
        {"name": ""},
        {"touch": "hard"},
        {"bridge": BASS.bridge.model_dump() | {"level_mm": -1}},
        {"bridge": BASS.bridge.model_dump() | {"intonation_heads": "under"}},
        {"strings": [{**PARTNER, "partner": {**PARTNER, "gauge_mm": 0.7}}] * 4},
        {"strings": [{**PARTNER, "partner": {**PARTNER, "note": "E9"}}] * 4},
        {"colour": "red"},
    ],
)
def test_what_cannot_be_is_refused(fields: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        changed(**fields)


def test_a_description_of_before_reads_as_it_was_meant() -> None:
    old = BASS.model_dump(mode="json")
    del old["headless"], old["bridge"]["intonation_heads"], old["bridge"]["level_mm"]
    for string in old["strings"]:
        del string["partner"]
    spec = InstrumentSpec.model_validate(old)
    assert spec == BASS
    assert not spec.headless and spec.bridge.intonation_heads is ScrewHeads.BEHIND
    assert spec.bridge.level_mm is None and all(len(string.course) == 1 for string in spec.strings)


def test_a_course_is_one_string_of_two() -> None:
    spec = changed(strings=[{**BASS.string(4).model_dump(), "partner": PARTNER}, *BASS.strings[1:]])
    assert spec.string_count == 4
    assert [one.note for one in spec.string(4).course] == ["E1", "E2"]
    assert InstrumentSpec.model_validate_json(spec.model_dump_json()) == spec


@pytest.mark.parametrize(
    ("headless", "nut_at", "end"),
    [(False, "headstock", "headstock"), (True, "headstock", "nut end"), (True, "body", "body end")],
)
def test_an_instrument_without_a_headstock_names_none(headless: bool, nut_at: str, end: str) -> None:
    rod = BASS.rod.model_dump() | {"nut_at": nut_at}
    assert changed(headless=headless, rod=rod).rod_nut_end == end


@pytest.mark.parametrize(
    ("bridge", "has"),
    [
        ({"type": "individual", "height_thread": "M3"}, {Fitting.HEIGHT_SCREWS, Fitting.INTONATION_SCREWS}),
        ({"type": "individual", "height_thread": "none"}, {Fitting.INTONATION_SCREWS}),
        ({"type": "two_post", "intonation_thread": "none"}, {Fitting.POSTS}),
        ({"type": "two_post"}, {Fitting.POSTS, Fitting.INTONATION_SCREWS}),
        ({"type": "floating"}, {Fitting.POSTS, Fitting.SPRINGS, Fitting.INTONATION_SCREWS}),
        ({"type": "one_piece"}, set()),
    ],
)
def test_what_a_bridge_has_to_turn(bridge: dict[str, str], has: set[Fitting]) -> None:
    spec = changed(bridge=BASS.bridge.model_dump() | bridge)
    assert spec.fittings - {Fitting.ROD, Fitting.PICKUPS} == has
    assert {Fitting.ROD, Fitting.PICKUPS} <= spec.fittings


def test_an_instrument_without_a_rod_or_pickups_has_none() -> None:
    spec = changed(rod=BASS.rod.model_dump() | {"type": "none"}, pickups=[])
    assert not {Fitting.ROD, Fitting.PICKUPS} & spec.fittings


def test_a_choice_is_worth_its_cards() -> None:
    assert Choice(key="two", label="Two", cards=(2, 3)).range(0.28) == pytest.approx((0.56, 0.84))
    assert Choice(key="none", label="None", cards=(0, 1)).range(0.28) == pytest.approx((-inf, 0.28))
    assert Choice(key="more", label="More", cards=(3, 99)).range(0.28) == pytest.approx((0.84, inf))
    assert Choice(key="slight", label="Slight", low=0.10, high=0.45).range(0.28) == (0.10, 0.45)


def test_every_word_has_a_label_without_underscores() -> None:
    words = (Check, Family, Touch, PickupType, PickupAdjust, PickupPosition, RodType, RodNut, RodAccess)
    for enum in (*words, Rotation, BridgeType, ScrewHeads, Fitting, Side):
        for word in enum:
            assert label(word) and "_" not in label(word)


def test_turns_have_opposites() -> None:
    assert Rotation.CLOCKWISE.other is Rotation.ANTICLOCKWISE
    assert Rotation.ANTICLOCKWISE.other is Rotation.CLOCKWISE
