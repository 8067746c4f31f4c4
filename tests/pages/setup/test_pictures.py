"""The pictures of a place: they follow what is typed, and say how far a screw takes its saddle."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from tests.pages.conftest import Player, plain
from webapp.pages.setup.pictures import travel_mm
from webapp.setups.case import Case
from webapp.setups.journal import Journal, Part, Turn
from webapp.trade.content import Trade


def test_the_picture_follows_what_is_typed_and_leaves_alone_what_cannot_be_read(player: Player) -> None:
    at = f"{player.begun('bass_4_34')}/read/relief/picture"
    words = plain(player.get(f"{at}?tool=feeler&value=0.6&value_unit=mm").text)
    assert "this gap 0.60 mm" in words and "now 0.60" in words
    assert "this gap .024 in" not in words
    for typed in ("", "0.", "one finger", "-", "9" * 400, "<b>", "nan"):
        answer = player.client.get(at, params={"tool": "feeler", "value": typed, "value_unit": "mm"})
        assert answer.status_code in (200, 204) and "<b>" not in answer.text


@pytest.mark.parametrize(
    ("part", "now", "after", "travel"),
    [
        # Worked for a scale of 863.6 mm: 1 mm of height at 12, held at 1, takes 2.126 mm at the saddle.
        (Part.SADDLE_HEIGHT, 3.0, 2.0, 2.126),
        (Part.SADDLE_HEIGHT, 1.5, 2.0, 1.063),
        # And 1 mm of the saddle's way is 2.00 cents at fret 12.
        (Part.SADDLE_POSITION, -9.0, -1.0, 4.0),
    ],
)
def test_how_far_a_screw_takes_its_saddle(
    trade: Trade, part: Part, now: float, after: float, travel: float
) -> None:
    case = Case(trade.kinds["bass_4_34"].spec, trade, Journal.of([]), datetime(2026, 3, 1, tzinfo=UTC))
    state: Any = SimpleNamespace(value=now, advice=SimpleNamespace(forecast=SimpleNamespace(value=after)))
    assert travel_mm(case, state, Turn(part, 8, string=4)) == pytest.approx(travel, abs=0.01)
