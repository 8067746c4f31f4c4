"""The layout helpers and the short way of writing numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.drawings.shapes import Drawing, place_row
from webapp.drawings.units import INCH, MM, SIXTY_FOURTHS, THOU, Units, units_for


def test_labels_with_room_stay_where_they_are() -> None:
    assert place_row([50, 150, 300], [40, 40, 40], 0, 360) == pytest.approx([50, 150, 300])


def test_crowded_labels_give_way_evenly() -> None:
    assert place_row([100, 100], [40, 40], 0, 360, 6) == pytest.approx([77, 123])
    assert place_row([0, 0], [40, 40], 0, 360, 6) == pytest.approx([20, 66])


@given(st.lists(st.tuples(st.floats(0, 360), st.floats(5, 30)), max_size=9))
def test_no_row_overlaps(items: list[tuple[float, float]]) -> None:
    items.sort()
    widths = [w for _, w in items]
    places = place_row([x for x, _ in items], widths, 0, 360, 4)
    for i in range(1, len(places)):
        assert places[i] - places[i - 1] >= (widths[i] + widths[i - 1]) / 2 + 4 - 1e-6
    for place, width in zip(places, widths, strict=True):
        assert place - width / 2 >= -1e-6 and place + width / 2 <= 360 + 1e-6


@pytest.mark.parametrize(
    ("units", "mm", "short", "full"),
    [
        (MM, 2.4, "2.40", "2.40 mm"),
        (MM, 12.34, "12.3", "12.34 mm"),
        (MM, -0.2, "−0.20", "−0.20 mm"),
        (MM, -0.001, "0.00", "0.00 mm"),
        (INCH, 2.38125, ".094", "0.094 in"),
        (INCH, -0.254, "−.010", "−0.010 in"),
        (THOU, 0.3048, "12", "12 thou"),
        (SIXTY_FOURTHS, 2.38125, "6.0", "6.0 64ths"),
    ],
)
def test_writing_lengths(units: Units, mm: float, short: str, full: str) -> None:
    assert units.number(mm) == short
    assert units.full(mm) == full
    assert units_for(units.label) == units


def test_the_stretch_is_stated() -> None:
    def caption(stretch: float | None) -> str:
        return Drawing(360, 10, (), "t", "d", stretch, "Note.").caption

    assert caption(100) == "Heights are stretched 100 times. Note."
    assert caption(None) == caption(1) == "Note."
