"""A hand-in in words: what a teacher sees of a student's setup."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.lengths import Unit
from webapp.setups.lessons.hand_in import HandedCheck, HandedPlace, HandIn
from webapp.setups.say import Say, capital
from webapp.setups.verdicts import Word
from webapp.trade.words import label


@dataclass(frozen=True)
class PlaceSeen:
    """One reading in words; no value where nothing was read."""

    label: str
    value: str
    word: str
    mark: str
    kept: bool


@dataclass(frozen=True)
class CheckSeen:
    """One check in words: its verdict, and the reading that speaks for it."""

    name: str
    word: str
    mark: str
    kept: bool
    telling: str
    places: tuple[PlaceSeen, ...]


def seen_checks(what: HandIn, say: Say) -> tuple[CheckSeen, ...]:
    return tuple(seen(done, say) for done in what.checks)


def seen(done: HandedCheck, say: Say) -> CheckSeen:
    return CheckSeen(
        name=capital(label(done.check)),
        word=done.said,
        mark=_mark(done),
        kept=done.kept,
        telling=_telling(done, say),
        places=tuple(seen_place(place, say) for place in done.places),
    )


def seen_place(place: HandedPlace, say: Say) -> PlaceSeen:
    return PlaceSeen(place.label, _value(place, say), place.said, place.word.value, place.kept)


def _mark(done: HandedCheck) -> str:
    """The questions without readings have words of their own, with marks of the verdicts."""
    if done.word is Word.GOOD or done.places:
        return done.word.value
    return (Word.TOO_LOW if done.word is Word.TOO_LOW else Word.NOT_MEASURED).value


def _telling(done: HandedCheck, say: Say) -> str:
    """The reading behind the verdict: '0.70 mm'; and where, if one of several is off."""
    place = done.telling
    if place is None or place.value is None or (len(done.places) > 1 and done.word is Word.GOOD):
        return ""
    value = _value(place, say)
    return value if len(done.places) == 1 else f"{value} {short(place.label)}"


def short(label: str) -> str:
    """A place for a narrow column: 'G, fret 12', 'Bridge, bass'."""
    return label.replace(" string", "").replace(" pickup", "").replace(" side", "")


def _value(place: HandedPlace, say: Say) -> str:
    if place.value is None:
        return ""
    return say.range(place.value, place.low, place.high, place.unit == "cents")


def bare(value: str, say: Say) -> str:
    """A value without the unit that the head of its column names."""
    return value.replace(" cents", "").replace(f" {unit_of(False, say)}", "") if value else value


def unit_of(is_cents: bool, say: Say) -> str:
    """The unit of a whole column; in 64ths each figure carries its own."""
    return "cents" if is_cents else "" if say.unit is Unit.sixty_fourths else say.unit.value
