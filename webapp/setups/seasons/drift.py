"""What the neck does by itself through the seasons: the player's turns taken out, the air laid beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from webapp.physics.drift import COMMON_LAG_DAYS, Air
from webapp.physics.drift_fit import DAYS_PER_YEAR, DriftData, DriftFit, Estimate, fit_drift, thinned
from webapp.physics.wood import moisture_content
from webapp.setups.air_log.daily import Conditions, DailyAir, air_of, conditions, day_number, noon
from webapp.setups.case import Case
from webapp.setups.dates import day_near
from webapp.setups.geometry import changed
from webapp.setups.journal import Entry
from webapp.setups.seasons import words as season_words
from webapp.setups.seasons.data import OverTime, drift_data, over_time
from webapp.setups.seasons.words import Expected, Movement, sentences
from webapp.setups.slots import RELIEF, Slot, slot_label

# Nothing is foretold for a place where the last step is no surer than this.
UNREAD_STEP_MM = 1.0
# How far back the last turn of the seasons is looked for.
SEASON_DAYS = 400
# So far ahead, in steps of so much.
AHEAD_DAYS, AHEAD_STEP_DAYS = 182, 14


@dataclass(frozen=True)
class DriftPoint:
    """One reading, said the standard way: as measured, and with the player's own turns taken out, mm.

    `by_itself` is what it would have read had nothing been turned since the first reading; a range stays one.
    `wood_percent` is the moisture of the wood then, where known.
    """

    measured: Entry
    by_itself: Entry
    at: datetime
    wood_percent: float | None

    @property
    def measured_mm(self) -> float:
        assert self.measured.value is not None
        return self.measured.value

    @property
    def by_itself_mm(self) -> float:
        assert self.by_itself.value is not None
        return self.by_itself.value


@dataclass(frozen=True)
class Mark:
    """Something turned, to be marked on the time axis."""

    at: datetime
    words: tuple[str, ...]


@dataclass(frozen=True)
class AirPoint:
    """One day's humidity for the chart beneath, and the moisture of the wood that follows it."""

    at: datetime
    humidity_percent: float
    wood_percent: float | None


@dataclass(frozen=True)
class Foretold:
    """What one day ahead should read, mm, in air as it was a year before that day."""

    at: datetime
    value: Estimate


@dataclass(frozen=True)
class Drift:
    """The whole answer for one place: both series, the marks, the air, the fit, and what it says in words.

    Without a fit `missing` says what it would take. `now` is what the place should read at this
    moment, and `wood_now_percent` how moist the wood is, where the air of these days is known. `ahead` is the
    coming half year, from now on, where the air of a year ago is known too.
    """

    slot: Slot
    label: str
    points: tuple[DriftPoint, ...]
    marks: tuple[Mark, ...]
    air: tuple[AirPoint, ...]
    missing: tuple[str, ...]
    fit: DriftFit | None = None
    season: Movement | None = None
    expected: tuple[Expected, ...] = ()
    now: Estimate | None = None
    ahead: tuple[Foretold, ...] = ()
    wood_now_percent: float | None = None
    sentences: tuple[str, ...] = ()


def drift_of(case: Case, slot: Slot, daily: DailyAir) -> Drift:
    """The drift of relief or of one string's height, from all the case's journals and the days' air."""
    if not slot.over_neck:
        raise ValueError("only relief and string height drift with the seasons")
    days = conditions(case.journals, daily)
    air, found = air_of(days), over_time(case, slot)
    data = drift_data(case, found)
    missing = _missing(case, found, air)
    fit = None if missing else fit_drift(thinned(data.where(air.known(data.days))), air)
    drift = Drift(
        slot=slot,
        label=slot_label(case.spec, slot),
        points=_points(found, data, air, fit),
        marks=tuple(Mark(step.at, step.words) for step in found.steps),
        air=_air_points(days, air, fit),
        missing=missing,
        wood_now_percent=_number(float(air.wood(COMMON_LAG_DAYS, np.array([day_number(case.now)]))[0])),
    )
    return drift if fit is None else _told(case, drift, fit, found, air)


def _told(case: Case, drift: Drift, fit: DriftFit, found: OverTime, air: Air) -> Drift:
    """With what the fit says; nothing ahead is said where nobody can tell what the last turn did."""
    season = _season(case, fit, found, air)
    told = not found.steps or fit.moved(np.eye(len(fit.sizes))[-1]).half <= UNREAD_STEP_MM
    expected = _expected(case, fit, found, air) if told else ()
    now = fit.predicted_at(day_number(case.now)) if told else None
    ahead = tuple(_ahead(case.now, fit)) if now else ()
    drift = replace(drift, fit=fit, season=season, expected=expected, now=now, ahead=ahead)
    words = sentences(case.say, drift.slot, drift.label, fit, season, expected, found.readings)
    return replace(drift, sentences=words)


def _ahead(now: datetime, fit: DriftFit) -> Iterator[Foretold]:
    """From now on, as far as last year's air reaches. The wood follows the air as a first-order filter, so
    what it differs by from a year ago dies away with the lag.
    """
    first = day_number(now)
    times = np.arange(0.0, AHEAD_DAYS + 1, AHEAD_STEP_DAYS)
    now_percent = float(fit.wood(np.array([first]))[0])
    year_ago = fit.wood(first + times - DAYS_PER_YEAR)
    woods = year_ago + (now_percent - year_ago[0]) * np.exp(-times / fit.lag.value)
    for days, percent in zip(times.tolist(), woods.tolist(), strict=True):
        if percent != percent:
            return
        yield Foretold(now + timedelta(days=days), fit.predicted(percent, first + days))


def _missing(case: Case, found: OverTime, air: Air) -> tuple[str, ...]:
    """What is still needed before anything can be said, in words; empty when there is enough."""
    least = case.trade.practice.season
    if len(found.readings) < least.least_readings:
        return (season_words.too_few(len(found.readings), least.least_readings, least.least_days),)
    days = np.array([day_number(read.at) for read in found.readings])
    wood = air.wood(COMMON_LAG_DAYS, days)
    told = ~np.isnan(wood)
    if np.count_nonzero(told) < least.least_readings:
        return (season_words.no_air(int(np.count_nonzero(told)), len(days)),)
    span = float(np.ptp(days[told]))
    if span < least.least_days:
        return (season_words.too_short(round(span), least.least_days),)
    if float(np.ptp(wood[told])) < least.least_moisture_percent:
        return (season_words.NO_SPREAD,)
    return ()


def _points(found: OverTime, data: DriftData, air: Air, fit: DriftFit | None) -> tuple[DriftPoint, ...]:
    if not found.readings:
        return ()
    wood = fit.wood(data.days) if fit else air.wood(COMMON_LAG_DAYS, data.days)
    moved = data.moved @ (fit.sizes if fit else data.sizes[:, 0])
    return tuple(
        DriftPoint(read.standard, _less(read.standard, by_hand), read.at, _number(moisture))
        for read, by_hand, moisture in zip(found.readings, moved.tolist(), wood.tolist(), strict=True)
    )


def _less(reading: Entry, by_hand_mm: float) -> Entry:
    return changed(reading, lambda mm: mm - by_hand_mm)


def _number(value: float) -> float | None:
    return None if value != value else value


def _air_points(days: Sequence[Conditions], air: Air, fit: DriftFit | None) -> tuple[AirPoint, ...]:
    wood = (fit.wood(air.days) if fit else air.wood(COMMON_LAG_DAYS, air.days)).tolist()
    return tuple(
        AirPoint(noon(one.day), one.humidity_percent, _number(moisture))
        for one, moisture in zip(days, wood, strict=True)
    )


def _season(case: Case, fit: DriftFit, found: OverTime, air: Air) -> Movement | None:
    """The deepest drying of the last year that readings stand beside, and what the neck did meanwhile."""
    first, last = day_number(found.readings[0].at), day_number(found.readings[-1].at)
    since = max(first, day_number(case.now) - SEASON_DAYS, float(air.days[0]))
    days = np.arange(np.ceil(since), np.floor(min(last, float(air.days[-1]))) + 1)
    wood = fit.wood(days)
    days, wood = days[~np.isnan(wood)], wood[~np.isnan(wood)]
    if len(days) < 2:
        return None
    fallen = np.maximum.accumulate(wood) - wood
    end = int(fallen.argmax())
    start = int(wood[: end + 1].argmax())
    if fallen[end] < case.trade.practice.season.least_moisture_percent:
        return None
    change = fit.change(float(days[start]), float(days[end]))
    return Movement(date.fromordinal(int(days[start])), date.fromordinal(int(days[end])), change)


def _expected(case: Case, fit: DriftFit, found: OverTime, air: Air) -> tuple[Expected, ...]:
    wood = fit.wood(np.array([day_number(read.at) for read in found.readings]))
    driest, wettest = float(np.nanmin(wood)), float(np.nanmax(wood))
    made, edge = [], case.trade.practice.season.least_moisture_percent
    for room in case.trade.practice.season.ahead:
        moisture = moisture_content(room.temperature_c, room.humidity_percent)
        beyond = not driest - edge <= moisture <= wettest + edge
        value = fit.predicted(moisture, day_number(case.now))
        made.append(Expected(room.temperature_c, room.humidity_percent, value, beyond))
    return tuple(made)


def by_the_air(case: Case, drift: Drift, reading: Entry) -> str:
    """What the air did to a place between the reading before and this one, in a sentence; empty where nothing
    can be said of it."""
    at = next((n for n, point in enumerate(drift.points) if point.measured.id == reading.id), 0)
    if not at:
        return ""
    before, now = drift.points[at - 1], drift.points[at]
    if before.wood_percent is None or now.wood_percent is None:
        return ""
    since = day_near(before.at, case.now)
    if drift.fit is not None:
        change = drift.fit.change(day_number(before.at), day_number(now.at))
        return season_words.by_the_air(case.say, drift.slot, drift.label, since, change)
    if drift.slot != RELIEF:
        return ""
    return season_words.by_the_wood(since, now.wood_percent - before.wood_percent)
