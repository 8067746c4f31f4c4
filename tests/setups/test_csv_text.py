"""CSV for spreadsheets."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.setups.csv_text import csv_text


def read(text: str) -> list[list[str]]:
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text[1:], newline="")))


@pytest.mark.parametrize(
    "evil",
    ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "-0.1 mm", "+1",
     " +1", "\u00a0+1", "\u200b=1", "\ufeff@x", "  \t-1+2", "\x0b=1", "\u2003=1", "\u2212A1"],
)  # fmt: skip
def test_nothing_can_be_taken_for_a_formula(evil: str) -> None:
    assert read(csv_text(["a"], [[evil]]))[1] == [f"'{evil}"]


@pytest.mark.parametrize("plain", ["-3", "-0.25", "3/32", "E string", "2 - 3", "", "0,5"])
def test_ordinary_words_and_numbers_stay(plain: str) -> None:
    assert read(csv_text(["a", "b"], [[plain, "x"]]))[1] == [plain, "x"]


def test_numbers_times_and_nothing() -> None:
    at = datetime(2025, 3, 1, 10, tzinfo=timezone(timedelta(hours=1)))
    row = [0.1 + 0.2, 3, None, at, date(2025, 3, 1), -0.5]
    assert read(csv_text(list("abcdef"), [row]))[1] == [
        "0.3", "3", "", "2025-03-01T09:00:00Z", "2025-03-01", "-0.5",
    ]  # fmt: skip
    assert csv_text(["a"], []).endswith("a\r\n")
    assert at.astimezone(UTC).hour == 9


@given(st.lists(st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\0")), min_size=1))
def test_whatever_was_typed_can_be_read_again(cells: list[str]) -> None:
    (_, row) = read(csv_text(["x"] * len(cells), [cells]))
    assert [cell.removeprefix("'") for cell in row] == [cell.removeprefix("'") for cell in cells]
