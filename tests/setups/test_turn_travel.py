from __future__ import annotations

from datetime import UTC, datetime

import pytest

from webapp.setups.case import Case
from webapp.setups.journal import Journal, Part, Turn
from webapp.setups.turn_travel import travel_mm
from webapp.trade.content import Trade


@pytest.mark.parametrize(
    ("part", "change", "travel"),
    [
        # Worked for a scale of 863.6 mm: 1 mm of height at 12, held at 1, takes 2.126 mm at the saddle.
        (Part.SADDLE_HEIGHT, -1.0, 2.126),
        (Part.SADDLE_HEIGHT, 0.5, 1.063),
        # And 1 mm of the saddle's way is 2.00 cents at fret 12.
        (Part.SADDLE_POSITION, 8.0, 4.0),
    ],
)
def test_how_far_a_screw_takes_its_saddle(trade: Trade, part: Part, change: float, travel: float) -> None:
    case = Case(trade.kinds["bass_4_34"].spec, trade, Journal.of([]), datetime(2026, 3, 1, tzinfo=UTC))
    assert travel_mm(case, Turn(part, 8, string=4), change) == pytest.approx(travel, abs=0.01)


@pytest.mark.parametrize("turn", [Turn(Part.ROD, 1), Turn(Part.SADDLE_HEIGHT, 2)])
def test_what_moves_no_saddle_of_one_string_has_no_way_to_tell(trade: Trade, turn: Turn) -> None:
    case = Case(trade.kinds["bass_4_34"].spec, trade, Journal.of([]), datetime(2026, 3, 1, tzinfo=UTC))
    assert travel_mm(case, turn, 1.0) is None
