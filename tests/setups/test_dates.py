"""Days as they are said; nearby ones without their year."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from webapp.setups.dates import day_near

NOW = datetime(2026, 11, 28, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("days", "words"),
    [(0, "28 November"), (69, "5 February"), (-20, "8 November"), (400, "2 January 2028")],
)
def test_only_a_far_day_has_its_year(days: int, words: str) -> None:
    assert day_near(NOW + timedelta(days=days), NOW) == words


def test_no_two_days_of_one_name_are_both_near() -> None:
    near = [day_near(NOW + timedelta(days=n), NOW) for n in range(-365, 366)]
    unsaid = [words for words in near if not words[-4:].isdecimal()]
    assert len(unsaid) == len(set(unsaid)) > 300
