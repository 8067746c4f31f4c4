"""An instrument's own description: string numbers, fanned frets, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from webapp.trade.load import load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.tools import Choice
from webapp.trade.words import (
    BridgeType,
    Check,
    Family,
    PickupAdjust,
    PickupPosition,
    PickupType,
    RodAccess,
    RodNut,
    RodType,
    Side,
    Touch,
    Turn,
    label,
)

BASS = load_trade(Path(__file__).parents[2] / "content").kinds["bass_4_34"].spec


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
        {"colour": "red"},
    ],
)
def test_what_cannot_be_is_refused(fields: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        changed(**fields)


def test_a_choice_is_worth_its_cards() -> None:
    assert Choice(key="two", label="Two", cards=2, error_mm=0.05).size_mm(0.28) == pytest.approx(0.56)
    assert Choice(key="slight", label="Slight", value_mm=0.25, error_mm=0.15).size_mm(0.28) == 0.25


def test_every_word_has_a_label_without_underscores() -> None:
    words = (Check, Family, Touch, PickupType, PickupAdjust, PickupPosition, RodType, RodNut, RodAccess)
    for enum in (*words, Turn, BridgeType, Side):
        for word in enum:
            assert label(word) and "_" not in label(word)


def test_turns_have_opposites() -> None:
    assert Turn.CLOCKWISE.other is Turn.ANTICLOCKWISE
    assert Turn.ANTICLOCKWISE.other is Turn.CLOCKWISE
