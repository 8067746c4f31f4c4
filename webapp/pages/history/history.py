"""An instrument's history: its setups, and every reading of one place through all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from math import inf
from typing import Annotated, TypeVar

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import Response

from webapp.drawings.over_time.chart import ChartPoint, line_chart
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import fine, units_for
from webapp.pages.visit.case_loading import LoadedInstrument, LoadedSetup, load_all
from webapp.pages.visit.visit import Onlooker, Visiting
from webapp.physics.numbers import on_screen
from webapp.setups import dates
from webapp.setups.csv_text import TYPE, Cell, csv_text
from webapp.setups.journal import Entry
from webapp.setups.past.history import Event, Newest, Series, Taken, newest_by_check, series, touched
from webapp.setups.say import Say
from webapp.setups.slots import RELIEF, NoSuchSlot, Slot, all_slots, parse_slot
from webapp.trade.words import Check, label

router = APIRouter()

SETUPS_SHOWN = 30
READ_IN_SHOWN = 100
Skip = Annotated[int, Query(ge=0, le=1_000_000)]

COLUMNS = (
    "at", "value", "from", "to", "unit", "as_read", "typed", "typed_unit", "tool", "way", "verdict",
    "kept_so", "struck_out", "turned", "setup",
)  # fmt: skip


Some = TypeVar("Some")


@dataclass(frozen=True)
class Paging:
    """A long list, a page at a time, the newest first."""

    home: str
    skip: int
    shown: int
    count: int

    def of(self, everything: Sequence[Some]) -> Sequence[Some]:
        return everything[self.skip : self.skip + self.shown]

    @property
    def older(self) -> str:
        """Where the next older ones are; empty where there are none."""
        after = self.skip + self.shown
        return f"{self.home}?skip={after}" if after < self.count else ""

    @property
    def newer(self) -> str:
        """Where the newer ones are; empty on the first page."""
        before = max(0, self.skip - self.shown)
        return "" if not self.skip else f"{self.home}?skip={before}" if before else self.home


@dataclass(frozen=True)
class HistoryPage:
    """Every setup, and what was last read at every place."""

    instrument: LoadedInstrument
    setups: Sequence[LoadedSetup]
    paging: Paging
    checks: tuple[tuple[str, tuple[Newest, ...]], ...]
    say: Say
    shared_at: str = ""

    @property
    def runs(self) -> tuple[tuple[LoadedSetup, ...], ...]:
        """Setups one by one, and quick checks that followed on one another together."""
        by_sort = groupby(self.setups, key=lambda setup: setup.quick and not setup.new_strings)
        found: list[tuple[LoadedSetup, ...]] = []
        for checks, some in by_sort:
            found += [tuple(some)] if checks else [(setup,) for setup in some]
        return tuple(found)

    def series_path(self, slot: Slot) -> str:
        """Where every reading of one place is seen; within the share where this page is one."""
        return f"{self.shared_at or f'/instruments/{self.instrument.id}/history'}/{slot.key}"

    def day(self, at: datetime) -> str:
        return dates.day(at)

    def short_day(self, at: datetime) -> str:
        return dates.short_day(at)

    def value(self, row: Newest) -> str:
        """What was read, or what is believed of a place that was moved since; empty where all is struck."""
        if row.reading is None or row.state is None:
            return ""
        if row.state.measured:
            return self.say.reading(row.reading.standard)
        is_cents = row.slot.is_cents
        return self.say.cents(round(row.state.value)) if is_cents else self.say.length(row.state.value)

    def checks_of(self, setup: LoadedSetup) -> int:
        """How many checks this instrument has."""
        return sum(1 for check in setup.assessment.checks.values() if check.here)


@dataclass(frozen=True)
class SeriesPage:
    """One place in time."""

    instrument: LoadedInstrument
    series: Series
    title: str
    chart: Drawing | None
    paging: Paging
    say: Say
    shared_at: str = ""

    @property
    def newest(self) -> Event | None:
        """The last reading that still counts; none on a page of older ones."""
        counted = (e for e in reversed(self.series.events) if e.reading is not None and not e.struck)
        return None if self.paging.skip else next(counted, None)

    @property
    def same_how(self) -> str:
        """How all were read, where all were read alike and in the unit that is shown."""
        read = [event.reading for event in self.series.events if event.reading is not None]
        if any(self.origin(taken) for taken in read) or len({taken.how for taken in read}) != 1:
            return ""
        return read[0].how

    def short_day(self, at: datetime) -> str:
        return dates.short_day(at)

    def clock(self, at: datetime) -> str:
        return dates.clock(at)

    def value(self, taken: Taken) -> str:
        return self.say.reading(taken.standard)

    def origin(self, taken: Taken) -> str:
        """What was read and typed, where the value shown does not say it already."""
        entry = taken.entry
        parts = [f"read {self.say.reading(taken.entry)}"] if taken.converted else []
        if entry.unit != "cents" and entry.unit != self.say.unit.value and entry.typed:
            parts.append(f"typed {on_screen(entry.typed)}{_unit_left_out(entry.typed, entry.unit)}")
        elif entry.typed and not any(c.isdecimal() for c in entry.typed):
            parts.append(f"answer “{entry.typed}”")
        return ", ".join(parts)

    def band(self, low: float, high: float) -> str:
        return (self.say.cents_band if self.series.slot.is_cents else self.say.band)(low, high)

    def setup_path(self, event: Event) -> str:
        if self.shared_at:
            return ""
        return f"/setups/{event.setup_id}" + ("/report" if event.finished else "")


def _unit_left_out(typed: str, unit: str) -> str:
    """The unit of a number that was typed without one; a bare fraction is inches."""
    if typed.strip("0123456789.,/+- "):
        return ""
    return " in" if "/" in typed else f" {unit}"


@router.get("/instruments/{instrument_id}/history")
def show(instrument_id: str, visit: Visiting, skip: Skip = 0) -> Response:
    return visit.render("pages/history/history.html", history_page(visit, instrument_id, skip=skip))


def history_page(visit: Onlooker, instrument_id: str, shared_at: str = "", skip: int = 0) -> HistoryPage:
    """The page's context; `shared_at` is the share's address where it is seen through one."""
    instrument, setups = load_all(visit, instrument_id)
    found = _newest(visit, instrument, setups) if setups and skip == 0 else {}
    checks = tuple((_title(check), found[check]) for check in Check if found.get(check))
    home = shared_at or f"/instruments/{instrument_id}/history"
    paging = Paging(home, skip, SETUPS_SHOWN, len(setups))
    if skip and not paging.of(setups):
        raise HTTPException(404)
    return HistoryPage(instrument, paging.of(setups), paging, checks, visit.say, shared_at)


def _newest(
    visit: Onlooker, instrument: LoadedInstrument, setups: Sequence[LoadedSetup]
) -> dict[Check, tuple[Newest, ...]]:
    past = setups[0].past
    lessons = tuple(setup.lesson_json for setup in setups) if past.mark.taught else ()
    what = ("newest", instrument.row.spec_json, lessons)
    return visit.once(past, what, lambda: newest_by_check(setups))


@router.get("/instruments/{instrument_id}/history/{slot_key}.csv")
def series_csv(instrument_id: str, slot_key: str, visit: Visiting) -> Response:
    """All of it as a table for a spreadsheet, struck-out readings and turns too; mm and cents."""
    instrument, setups = load_all(visit, instrument_id)
    found = series(setups, _slot(slot_key, instrument, setups))
    if found is None:
        raise HTTPException(404)
    headers = {"Content-Disposition": f'attachment; filename="{slot_key}.csv"'}
    return Response(csv_text(COLUMNS, map(_csv_row, found.events)), media_type=TYPE, headers=headers)


def _csv_row(event: Event) -> tuple[Cell, ...]:
    struck = "yes" if event.struck else ""
    if event.reading is None:
        return event.at, *(None,) * 11, struck, event.turned, event.setup_id
    taken = event.reading
    entry = taken.entry
    unit = "cents" if entry.unit == "cents" else "mm"
    said = ("", "") if event.struck else (taken.said, "yes" if event.kept else "")
    how = (entry.value, entry.typed, entry.unit, taken.tool, taken.way)
    return event.at, *figures(taken.standard), unit, *how, *said, struck, "", event.setup_id


def figures(reading: Entry) -> tuple[float | None, float | None, float | None]:
    """The number that was read; of a range none, but its two ends, of which one may be open."""
    low, high = reading.detail.get("low"), reading.detail.get("high")
    return (reading.value, None, None) if low is None and high is None else (None, low, high)


@router.get("/instruments/{instrument_id}/history/{slot_key}")
def show_series(instrument_id: str, slot_key: str, visit: Visiting, skip: Skip = 0) -> Response:
    page = series_page(visit, instrument_id, slot_key, skip=skip)
    return visit.render("pages/history/series.html", page)


def series_page(
    visit: Onlooker, instrument_id: str, slot_key: str, shared_at: str = "", skip: int = 0
) -> SeriesPage:
    """The page's context; 404 for a place where nothing was ever read."""
    instrument, setups = load_all(visit, instrument_id)
    slot = _slot(slot_key, instrument, setups)
    if not any(slot.key in setup.journal.ever_read for setup in setups):
        raise HTTPException(404)
    past = touched(setups, slot)
    home = shared_at or f"/instruments/{instrument_id}/history"
    paging = Paging(f"{home}/{slot.key}", skip, READ_IN_SHOWN, len(past))
    newest = next((setup for setup in setups if slot in all_slots(setup.spec)), None)
    found = series(paging.of(past), slot, newest)
    if found is None:
        raise HTTPException(404)
    title = found.label if slot == RELIEF else f"{_title(slot.check)}: {found.label}"
    return SeriesPage(instrument, found, title, _chart(visit, found, title), paging, visit.say, shared_at)


def _slot(key: str, instrument: LoadedInstrument, setups: Sequence[LoadedSetup]) -> Slot:
    """A place of this instrument as it is or ever was; else 404."""
    for spec in (instrument.spec, *(setup.spec for setup in setups)):
        try:
            return parse_slot(key, spec)
        except NoSuchSlot:
            continue
    raise HTTPException(404)


def _title(check: Check) -> str:
    words = label(check)
    return words[0].upper() + words[1:]


def _chart(visit: Onlooker, found: Series, title: str) -> Drawing | None:
    """The valid readings in the player's unit, each leading to its line in the table."""
    if not found.valid:
        return None
    is_cents, bands = found.slot.is_cents, found.bands
    units = fine(units_for(visit.unit.value), bands.target.high)
    per_mm, name, places = (1.0, "cents", 1) if is_cents else (units.per_mm, units.label, units.places)
    points = [_point(visit.say, taken, per_mm) for taken in found.valid]
    target = (bands.target.low * per_mm, bands.target.high * per_mm)
    usual = (bands.usual.low * per_mm, bands.usual.high * per_mm)
    drawing = line_chart(points, target, usual, name, f"{title} over time", places=places)
    converted = dict.fromkeys(dates.short_day(t.entry.at) for t in found.valid if t.converted)
    if not converted:
        return drawing
    return replace(drawing, note=f"Converted from another way of reading: {', '.join(converted)}.")


def _point(say: Say, taken: Taken, per_mm: float) -> ChartPoint:
    return ChartPoint(
        at=taken.entry.at.astimezone(),
        value=taken.value * per_mm,
        label=taken.said + (", converted" if taken.converted else ""),
        href=f"#entry-{taken.entry.id}",
        said=say.reading(taken.standard),
        reach=reach_of(taken.standard, per_mm),
    )


def reach_of(reading: Entry, per_mm: float) -> tuple[float, float] | None:
    """A range as a chart draws it, in the chart's unit; None for a number."""
    value, low, high = figures(reading)
    if value is not None:
        return None
    return -inf if low is None else low * per_mm, inf if high is None else high * per_mm
