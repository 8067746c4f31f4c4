"""The seasons of an instrument: what the neck does by itself, drawn, in words, as a table and as CSV."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from webapp.drawings.over_time.season_chart import (
    Ahead,
    AirValue,
    SeasonPoint,
    SeasonSeries,
    SeasonTurn,
    season_chart,
)
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import Units, fine, units_for
from webapp.pages.history.history import figures, reach_of
from webapp.pages.visit.addresses import adjust_path, instrument_path, setup_path
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    LoadedSetup,
    load_all,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.visit import Onlooker, Visit, Visiting
from webapp.setups import dates
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.case import Case
from webapp.setups.csv_text import TYPE, csv_text
from webapp.setups.journal import Entry, EntryKind, quick_slots
from webapp.setups.seasons.drift import Drift, DriftPoint, drift_of
from webapp.setups.seasons.due import Due, due_of
from webapp.setups.seasons.words import Outlook, outlook
from webapp.setups.slots import RELIEF, NoSuchSlot, Slot, height_slot, parse_slot, slot_label, string_numbers
from webapp.setups.states import Word
from webapp.store.air_log import days as air
from webapp.trade.words import label

HOURS_GOOD = 6


def daily_air(visit: Onlooker) -> DailyAir:
    """Every day's mean that the bench knows."""
    return visit.app.air.of((visit.bench_id, visit.air_mark), lambda: _read(visit))


def _read(visit: Onlooker) -> DailyAir:
    with visit.reading() as session:
        days = air.days(session, visit.bench_id)
    return {one.day: (one.temperature_c, one.humidity_percent) for one in days}


def drift(visit: Onlooker, instrument: LoadedInstrument, case: Case, slot: Slot, daily: DailyAir) -> Drift:
    """The drift of one place; made anew when an entry, the air, the description or the hour has changed."""
    return visit.app.drifts.of(_key(visit, instrument, case, slot), lambda: drift_of(case, slot, daily))


def _key(visit: Onlooker, instrument: LoadedInstrument, case: Case, slot: Slot) -> tuple[Hashable, ...]:
    newest = case.journal.entries[-1].id if case.journal.entries else 0
    journal = (newest, len(case.journal.entries))
    hour = (visit.now.date(), visit.now.hour // HOURS_GOOD)
    described = (instrument.id, instrument.row.version)
    return visit.bench_id, *described, *journal, slot.key, *hour, visit.unit, visit.air_mark


def dues(
    visit: Onlooker,
    instrument: LoadedInstrument,
    passes: Sequence[LoadedSetup],
    case: Case,
    daily: DailyAir,
) -> tuple[Due, ...]:
    """All that is due on an instrument, the earliest first; `case` is the instrument as it stands."""

    def work() -> tuple[Due, ...]:
        drifts = [drift(visit, instrument, case, slot, daily) for slot in quick_slots(instrument.spec)]
        full = [setup.row.finished_at for setup in passes if not setup.quick]
        # While a setup is under way, nobody needs telling that it is time for one.
        if None in full:
            return due_of(case, drifts)
        last = max((at for at in full if at is not None), default=None)
        return due_of(case, drifts, last, standing_assessment(visit, instrument, passes, case))

    if not passes:
        return work()
    return visit.once(passes[0].past, ("dues", instrument.row.spec_json, visit.air_mark), work)


router = APIRouter()

PER_PAGE = 60
TURNS_SHOWN = 30
COLUMNS = (
    "at", "measured_mm", "measured_from_mm", "measured_to_mm", "by_itself_mm", "by_itself_from_mm",
    "by_itself_to_mm", "typed", "typed_unit", "tool", "wood_moisture_percent", "humidity_percent", "setup",
)  # fmt: skip


@dataclass(frozen=True)
class SeasonOf:
    """One place that can be looked at."""

    words: str
    href: str
    chosen: bool


@dataclass(frozen=True)
class SeasonRow:
    """One reading in words."""

    id: int
    when: str
    clock: str
    measured: str
    how: str
    by_itself: str
    air: str
    setup: str
    setup_href: str

    @property
    def words(self) -> str:
        """All of it in one line."""
        air = f"; {self.air}" if self.air else ""
        measured = f"{self.measured} measured, {self.by_itself} by itself"
        return f"{self.when}: {measured}; {self.how}{air}; {self.setup.lower()}"


@dataclass(frozen=True)
class SeasonPage:
    """Everything the page shows. `rows` are one page of the table, newest first."""

    instrument: LoadedInstrument
    title: str
    choices: tuple[SeasonOf, ...]
    drift: Drift
    outlook: Outlook | None
    main: tuple[str, str] | None
    chart: Drawing | None
    point: SeasonRow | None
    turns: tuple[tuple[int, str, str], ...]
    turns_more: int
    rows: tuple[SeasonRow, ...]
    csv_href: str
    newer: str
    older: str
    count: int


@dataclass(frozen=True)
class _Season:
    """What the page and the CSV are made from."""

    visit: Visit
    instrument: LoadedInstrument
    case: Case
    slot: Slot
    drift: Drift
    entries: Mapping[int, tuple[Entry, LoadedSetup]]

    @property
    def path(self) -> str:
        return f"{instrument_path(self.instrument.id)}/seasons"

    def row(self, point: DriftPoint) -> SeasonRow:
        say = self.visit.say
        entry, setup = self.entries[point.measured.id]
        tool = self.visit.trade.tools.get(entry.tool)
        wood = point.wood_percent
        return SeasonRow(
            id=entry.id,
            when=dates.short_day(point.at),
            clock=dates.clock(point.at),
            measured=say.reading(point.measured),
            how=tool.name if tool else entry.tool,
            by_itself=say.reading(point.by_itself),
            air="" if wood is None else f"wood at about {say.number(wood, 1)} % moisture",
            setup="Quick check" if setup.quick else "Setup",
            setup_href=_setup_href(self.instrument.id, setup),
        )


def _setup_href(instrument_id: str, setup: LoadedSetup) -> str:
    if setup.quick:
        return f"{instrument_path(instrument_id)}/quick/{setup.id}"
    return setup_path(setup.id, "report") if setup.finished else setup_path(setup.id)


@router.get("/instruments/{instrument_id}/seasons")
def show(instrument_id: str, visit: Visiting, of: str = "relief", point: int = 0, page: int = 1) -> Response:
    """What the neck does by itself."""
    season, passes = _load(visit, instrument_id, of)
    found = season.drift
    rows = [season.row(one) for one in found.points]
    last = max(1, ceil(len(rows) / PER_PAGE))
    page = min(max(page, 1), last)
    newest_first = rows[::-1]
    more = f"{season.path}?of={of}&page="
    turns = [(n, dates.short_day(m.at), "; ".join(m.words)) for n, m in enumerate(found.marks, 1)]
    context = SeasonPage(
        instrument=season.instrument,
        title=_title(season),
        choices=_choices(season, passes),
        drift=found,
        outlook=_outlook(season),
        main=_main(season, passes),
        chart=_chart(season, rows, point) if found.points else None,
        point=next((row for row in rows if row.id == point), None),
        turns=tuple(turns[: -TURNS_SHOWN - 1 : -1]),
        turns_more=max(0, len(turns) - TURNS_SHOWN),
        rows=tuple(newest_first[(page - 1) * PER_PAGE : page * PER_PAGE]),
        csv_href=f"{season.path}.csv?of={of}",
        newer=f"{more}{page - 1}" if page > 1 else "",
        older=f"{more}{page + 1}" if page < last else "",
        count=len(rows),
    )
    return visit.render("pages/history/season.html", context)


@router.get("/instruments/{instrument_id}/seasons.csv")
def as_csv(instrument_id: str, visit: Visiting, of: str = "relief") -> Response:
    """Every point of the chart; lengths in mm, said the standard way."""
    season, _ = _load(visit, instrument_id, of)
    humidity = {point.at.date(): point.humidity_percent for point in season.drift.air}
    rows = []
    for one in season.drift.points:
        entry, setup = season.entries[one.measured.id]
        of_day = humidity.get(one.at.astimezone(UTC).date())
        told = (entry.typed, entry.unit, entry.tool, one.wood_percent, of_day, setup.id)
        rows.append((one.at, *figures(one.measured), *figures(one.by_itself), *told))
    headers = {"Content-Disposition": f'attachment; filename="{of}-seasons.csv"'}
    return Response(csv_text(COLUMNS, rows), media_type=TYPE, headers=headers)


def _load(visit: Visit, instrument_id: str, of: str) -> tuple[_Season, list[LoadedSetup]]:
    instrument, passes = load_all(visit, instrument_id)
    try:
        slot = parse_slot(of, instrument.spec)
    except NoSuchSlot:
        raise HTTPException(404) from None
    if not slot.over_neck:
        raise HTTPException(404)
    case = standing_case(visit, instrument, passes)
    found = drift(visit, instrument, case, slot, daily_air(visit))
    entries = {entry.id: (entry, setup) for setup in passes for entry in setup.journal.entries}
    return _Season(visit, instrument, case, slot, found, entries), passes


def _title(season: _Season) -> str:
    return "Relief" if season.slot == RELIEF else f"Height, {season.drift.label}"


def _choices(season: _Season, passes: Sequence[LoadedSetup]) -> tuple[SeasonOf, ...]:
    """Relief, and every string whose height was ever read."""
    spec = season.instrument.spec
    read = {
        entry.slot
        for setup in passes
        for entry in setup.journal.live
        if entry.kind is EntryKind.READING and entry.value is not None
    }
    return tuple(
        SeasonOf(slot_label(spec, slot), f"{season.path}?of={slot.key}", slot == season.slot)
        for slot in (RELIEF, *map(height_slot, string_numbers(spec)))
        if slot.key in read or slot in (RELIEF, season.slot)
    )


def _outlook(season: _Season) -> Outlook | None:
    found, case = season.drift, season.case
    if found.now is None:
        return None
    ahead = [(one.at, one.value) for one in found.ahead]
    return outlook(case.say, season.slot.check, case.bands(season.slot), found.now, ahead)


def _main(season: _Season, passes: Sequence[LoadedSetup]) -> tuple[str, str] | None:
    """The one thing to do where it is, or will be, out of target: the words, and where they lead."""
    looks = _outlook(season)
    if looks is None or looks.word is Word.GOOD:
        return None
    key = season.slot.key
    setup = next((one for one in passes if not one.quick and not one.finished), None)
    if setup is not None:
        advice = setup.assessment.slot(key).advice
        if advice is not None and advice.turn is not None:
            part = "the rod" if season.slot == RELIEF else "its screws"
            return f"Turn {part} now", adjust_path(setup.id, key)
    return f"Read {label(season.slot.check)} now", f"{instrument_path(season.instrument.id)}/quick"


def _chart(season: _Season, rows: Sequence[SeasonRow], chosen: int) -> Drawing:
    bands = season.case.bands(season.slot)
    units = fine(units_for(season.visit.unit.value), bands.target.high)
    of = season.slot.key
    points = [
        SeasonPoint(
            at=point.at.astimezone(),
            measured=point.measured_mm * units.per_mm,
            by_itself=point.by_itself_mm * units.per_mm,
            words=row.words,
            href=f"?of={of}&point={row.id}#p-{row.id}",
            id=f"p-{row.id}",
            chosen=row.id == chosen,
            reach=reach_of(point.measured, units.per_mm),
        )
        for point, row in zip(season.drift.points, rows, strict=True)
    ]
    marks = season.drift.marks
    first = max(1, len(marks) - TURNS_SHOWN + 1)
    turns = [
        SeasonTurn(
            at=m.at.astimezone(),
            words=f"{dates.short_day(m.at)}: {'; '.join(m.words)}.",
            href=f"#turn-{max(n, first)}",
            number=n,
        )
        for n, m in enumerate(marks, 1)
    ]
    series = SeasonSeries(
        points,
        turns,
        [AirValue(_here(one.at), one.humidity_percent) for one in season.drift.air],
        _in(units, bands.target.low, bands.target.high),
        _in(units, bands.usual.low, bands.usual.high),
        units.label,
        units.places,
        [
            Ahead(_here(o.at), o.value.value * units.per_mm, o.value.half * units.per_mm)
            for o in season.drift.ahead
        ],
        "in air as it was a year ago",
    )
    return season_chart(series, f"{_title(season)} through the seasons")


def _here(at: datetime) -> datetime:
    return at.astimezone()


def _in(units: Units, low_mm: float, high_mm: float) -> tuple[float, float]:
    return low_mm * units.per_mm, high_mm * units.per_mm
