"""Where the trade finds saddles standing when an instrument plays in tune."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, Bench
from webapp.setups.strings.string_setting import starting_places


@pytest.mark.practice
def test_saddles_stand_a_few_millimetres_behind_the_scale_length() -> None:
    for kind in (BASS, GUITAR, ACOUSTIC):
        for place in starting_places(Bench(kind).case()):
            assert 0.2 < place.back_mm < 6.5


@pytest.mark.practice
def test_the_saddle_line_steps_back_where_a_plain_string_follows_a_wound_one() -> None:
    guitar = {place.number: place.back_mm for place in starting_places(Bench(GUITAR).case())}
    assert guitar[6] > guitar[5] > guitar[4] < guitar[3] > guitar[2] > guitar[1]
    acoustic = {place.number: place.back_mm for place in starting_places(Bench(ACOUSTIC).case())}
    assert acoustic[6] > acoustic[5] > acoustic[4] > acoustic[3] < acoustic[2] > acoustic[1]
