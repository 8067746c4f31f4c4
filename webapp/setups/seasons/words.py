"""The seasons in words: what the fit says, and what is missing before it can say anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from webapp.physics.drift_fit import DriftFit, Estimate
from webapp.physics.numbers import PLACES, Unit, format_length, say_number
from webapp.setups.dates import LONG_MONTHS
from webapp.setups.say import Say, capital
from webapp.setups.seasons.data import Read
from webapp.setups.slots import RELIEF, Slot
from webapp.setups.states import Word, said, word_of
from webapp.trade.ranges import Bands
from webapp.trade.words import Check

_AUTUMN, _WINTER = (8, 9, 10, 11, 12), (12, 1, 2, 3, 4)


@dataclass(frozen=True)
class Expected:
    """What to expect once the wood has settled in such an air; `beyond` what was ever read on it."""

    temperature_c: float
    humidity_percent: float
    value: Estimate
    beyond: bool


@dataclass(frozen=True)
class Movement:
    """How far the neck moved by itself from one day to another, mm, as fitted."""

    start: date
    end: date
    change: Estimate

    @property
    def when(self) -> str:
        """'last winter, from October to February'; where that is no winter, the months alone."""
        months = f"from {LONG_MONTHS[self.start.month - 1]} to {LONG_MONTHS[self.end.month - 1]}"
        if self.start.month == self.end.month:
            months = f"within {LONG_MONTHS[self.start.month - 1]}"
        winter = self.start.month in _AUTUMN and self.end.month in _WINTER
        return f"last winter, {months}," if winter else f"{months}"


@dataclass(frozen=True)
class Outlook:
    """What becomes of a place that is left alone: in a sentence, what to expect, and the verdict on that."""

    sentence: str
    expect: str
    word: Word
    said: str


def outlook(
    say: Say, check: Check, bands: Bands, now: Estimate, ahead: Sequence[tuple[datetime, Estimate]]
) -> Outlook:
    """Of the time ahead, what lies furthest from the middle of the target; without any, of today."""
    middle = bands.target.middle
    at, far = max(ahead, key=lambda one: abs(one[1].value - middle), default=(None, now))
    word = word_of(far.value, bands)
    verdict, give = said(check, word), say.length(far.half).rsplit(" ", 1)[0]
    if at is None or at == ahead[0][0]:
        expect = f"About {say.length(far.value)} now, give or take {give}"
    else:
        expect = f"Expect {say.length(far.value)} in {_month(at)}, give or take {give}"
    if at is None:
        sentence = f"Probably {verdict} today"
    elif word is Word.GOOD:
        sentence = f"Left alone, it stays good until {_month(ahead[-1][0])}"
    elif word_of(ahead[0][1].value, bands) is word:
        sentence = f"Probably {verdict} already"
    else:
        first = next(day for day, value in ahead if word_of(value.value, bands) is word)
        sentence = f"Left alone, {verdict} by {_month(first)}"
    return Outlook(sentence, expect, word, verdict)


def _month(at: datetime) -> str:
    return LONG_MONTHS[at.astimezone().month - 1]


NO_SPREAD = (
    "The air has hardly changed between these readings. Read again when it is clearly drier or damper."
)


def too_few(found: int, least: int, days: int) -> str:
    """Too few readings."""
    have = {0: "There is no reading", 1: "There is one reading"}.get(found, f"There are {found} readings")
    return f"{have} so far. It takes at least {least}, over {days} days or more."


def no_air(told: int, found: int) -> str:
    """Readings enough, but too few with the air beside them."""
    with_air = {0: "none of them has", 1: "only one has"}.get(told, f"only {told} have")
    return (
        f"There are {found} readings, but {with_air} the air’s humidity beside it. Note it at every check, "
        "or import a data logger’s file."
    )


def too_short(found: int, least: int) -> str:
    """Readings enough, too close together."""
    days = "1 day" if found == 1 else f"{found} days"
    return f"These readings span {days}. It takes {least} days or more to see the air at work."


def sentences(
    say: Say,
    slot: Slot,
    label: str,
    fit: DriftFit,
    season: Movement | None,
    ahead: Sequence[Expected],
    readings: Sequence[Read],
) -> tuple[str, ...]:
    """Everything the fit has to say, the most useful first; lengths in the player's unit."""
    what = "relief" if slot == RELIEF else "height"
    told = [_slope(say, what, fit.slope)]
    if season is not None:
        # What a whole winter did says more than what each percent does.
        told.insert(0 if season.change.clear else 1, _season(say, what, season))
    told += [_ahead(say, one) for one in ahead]
    if fit.per_year.clear:
        more = "gains" if fit.per_year.value > 0 else "loses"
        told.append(f"Besides, it {more} about {say.length(abs(fit.per_year.value))} a year in any air.")
    told.append(_lag(fit))
    told.append(_basis(label, slot, readings))
    return tuple(told)


def _slope(say: Say, what: str, slope: Estimate) -> str:
    if not slope.clear:
        low, high = _fine(say, abs(slope.low)), _fine(say, abs(slope.high))
        return (
            f"No clear pull of the air on the {what} so far: for each percent of moisture gained it may lose "
            f"up to {low} or gain up to {high}."
        )
    way = "lost" if slope.value < 0 else "gained"
    return (
        f"About {_fine(say, abs(slope.value))} more {what} for each percent of moisture {way}, "
        f"give or take {_fine(say, slope.half)}."
    )


def _fine(say: Say, mm: float) -> str:
    """A slope is smaller than any reading: one more decimal, and never in 64ths."""
    unit = Unit.thou if say.unit is Unit.sixty_fourths else say.unit
    return format_length(mm, unit, PLACES[unit] + 1)


def _season(say: Say, what: str, season: Movement) -> str:
    when = capital(season.when)
    if not season.change.clear:
        return f"{when} it moved too little by itself to tell: {say.length(season.change.half)} or less."
    verb = "gained" if season.change.value > 0 else "lost"
    far = say.length(abs(season.change.value))
    return f"{when} it {verb} {far} of {what} by itself, give or take {say.length(season.change.half)}."


def _ahead(say: Say, one: Expected) -> str:
    humidity, temperature = say_number(one.humidity_percent), say_number(one.temperature_c)
    told = (
        f"At {humidity} % humidity and {temperature} °C, once the wood has settled, "
        f"expect {say.length(one.value.value)}, give or take {say.length(one.value.half)}."
    )
    return f"{told} That is beyond any air it was read in." if one.beyond else told


def _lag(fit: DriftFit) -> str:
    if not fit.lag_told:
        return "The wood is taken to follow the air by the usual few weeks: these readings cannot tell yet."
    days = fit.lag.value
    words = f"{say_number(days, 0)} days" if days < 11 else f"{say_number(days / 7, 0)} weeks"
    return f"The wood follows the air with a lag of about {words}."


def _basis(label: str, slot: Slot, readings: Sequence[Read]) -> str:
    span = (readings[-1].at - readings[0].at).days
    long = f"{round(span / 30.44)} months" if span >= 120 else f"{span} days"
    place = "" if slot == RELIEF else f" of the {label} at fret 12, held at 1"
    return f"From {len(readings)} readings{place} over {long}, your own turns taken out. Right 9 times in 10."


# Less than this nobody need think about: of a place, and of the wood's moisture.
HARDLY_MM, HARDLY_PERCENT = 0.02, 0.3


def by_the_air(say: Say, slot: Slot, label: str, since: str, change: Estimate) -> str:
    """How far the air has moved a place since a day."""
    what = "relief" if slot == RELIEF else f"height at the {label}"
    if not change.clear or abs(change.value) < HARDLY_MM:
        return f"Since {since} the air has moved it by next to nothing."
    give = say.length(change.half)
    far = f"{say.length(abs(change.value))} {'more' if change.value > 0 else 'less'}"
    return f"Since {since} the air made about {far} {what}, give or take {give}."


def by_the_wood(since: str, percent: float) -> str:
    """The same for a neck whose own ways are not known yet: how far its wood's moisture has moved."""
    if abs(percent) < HARDLY_PERCENT:
        return f"The wood is about as moist as it was on {since}: it is not the air."
    way, far = "taken up" if percent > 0 else "lost", say_number(abs(percent), 1)
    moved = f"Since {since} the wood has {way} about {far} % of moisture"
    return f"{moved}; how far this neck follows is not known yet."
