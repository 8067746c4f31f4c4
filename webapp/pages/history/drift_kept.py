"""What the seasons say of an instrument, kept for a while: the fit is too slow to make for every page."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from webapp.pages.visit.case_loading import LoadedInstrument, LoadedSetup
from webapp.pages.visit.visit import Onlooker
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.case import Case
from webapp.setups.quick import quick_slots
from webapp.setups.seasons.drift import Drift, drift_of
from webapp.setups.seasons.due import Due, due_of
from webapp.setups.slots import Slot
from webapp.store.air_log import days as air

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
        last = None if None in full else max((at for at in full if at is not None), default=None)
        return due_of(case, drifts, last)

    if not passes:
        return work()
    return visit.once(passes[0].past, ("dues", instrument.row.spec_json, visit.air_mark), work)
