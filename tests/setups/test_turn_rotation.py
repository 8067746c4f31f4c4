"""The one rule from a signed turn to clockwise or not. tests/drawings shows that the advice says the same."""

import pytest

from tests.setups.journals import spec_of
from webapp.setups.journal import Part, Turn
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.words import Rotation, Side

ALL = [
    Turn(Part.ROD, 1),
    Turn(Part.SADDLE_HEIGHT, 3, string=2),
    Turn(Part.SADDLE_HEIGHT, 3, side=Side.BASS),
    Turn(Part.SADDLE_POSITION, 3, string=2),
    Turn(Part.PICKUP_HEIGHT, 3, pickup=1, side=Side.BASS),
    Turn(Part.SPRINGS, 2),
]


@pytest.mark.parametrize("turn", ALL, ids=lambda turn: turn.part.value)
def test_back_is_the_other_way_round(turn: Turn) -> None:
    spec = spec_of("electric_6_floating")
    back = Turn(turn.part, -turn.eighths, turn.string, turn.pickup, turn.side)
    assert rotation_of(spec, back) is rotation_of(spec, turn).other


def test_a_saddle_climbs_its_own_screw_and_a_post_is_screwed_out() -> None:
    spec = spec_of("electric_6_floating")
    assert rotation_of(spec, ALL[1]) is Rotation.CLOCKWISE
    assert rotation_of(spec, ALL[2]) is Rotation.ANTICLOCKWISE


@pytest.mark.parametrize("turn", [Turn(Part.ROD, 0), Turn(Part.NUT, 1), Turn(Part.STRINGS, 1)])
def test_where_nothing_turns_there_is_no_way_round(turn: Turn) -> None:
    with pytest.raises(ValueError):
        rotation_of(spec_of(), turn)
