"""What becomes of a neck that is left alone, in one sentence."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from webapp.physics.drift_fit import Estimate
from webapp.physics.numbers import Unit
from webapp.setups.say import Say
from webapp.setups.seasons.words import outlook
from webapp.setups.states import Word
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check

BANDS = Bands(
    target=Band(low=0.15, high=0.45), usual=Band(low=0.08, high=0.65), plausible=Band(low=-1, high=2)
)
START = datetime(2026, 10, 12, 12, tzinfo=UTC)


def of(mm: float) -> Estimate:
    return Estimate(mm, mm - 0.05, mm + 0.05)


def told(*values: float, unit: Unit = Unit.mm) -> tuple[str, str, Word]:
    """The first value today, each of the others four weeks later."""
    ahead = [(START + timedelta(weeks=4 * n), of(mm)) for n, mm in enumerate(values)]
    found = outlook(Say(unit), Check.RELIEF, BANDS, of(values[0]), ahead)
    return found.sentence, found.expect, found.word


def test_the_month_is_named_in_which_it_leaves_its_target_the_worst_way() -> None:
    assert told(0.40, 0.50, 0.60, 0.69, 0.66) == (
        "Left alone, too much bow by January",
        "Expect 0.69 mm in January, give or take 0.05",
        Word.TOO_HIGH,
    )
    assert told(0.30, 0.20, 0.14)[0] == "Left alone, a touch straight by December"


def test_what_stays_in_its_target_is_said_to() -> None:
    sentence, expect, word = told(0.30, 0.36, 0.33)
    assert sentence == "Left alone, it stays good until December" and word is Word.GOOD
    assert expect == "Expect 0.36 mm in November, give or take 0.05"


def test_what_is_off_already_is_not_foretold() -> None:
    assert told(0.60, 0.50)[:2] == ("Probably a touch bowed already", "About 0.60 mm now, give or take 0.05")
    assert told(0.50, 0.60)[:2] == (
        "Probably a touch bowed already",
        "Expect 0.60 mm in November, give or take 0.05",
    )


def test_without_the_air_of_a_year_ago_only_today_is_told() -> None:
    found = outlook(Say(), Check.RELIEF, BANDS, of(0.7), [])
    assert (found.sentence, found.said) == ("Probably too much bow today", "too much bow")
    assert found.expect == "About 0.70 mm now, give or take 0.05"


def test_it_is_said_in_the_players_unit() -> None:
    assert told(0.30, 0.36, unit=Unit.thou)[1] == "Expect 14 thou in November, give or take 2"
