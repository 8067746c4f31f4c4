"""What the seasons say of an instrument, kept for a while: the fit is too slow to make for every page."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Iterable, Sequence
from datetime import date
from threading import Lock

from webapp.pages.common import Visit
from webapp.pages.loading import LoadedInstrument, LoadedSetup
from webapp.setups.air import DailyAir
from webapp.setups.case import Case
from webapp.setups.due import Due, due_of
from webapp.setups.seasons import Drift, drift_of
from webapp.setups.slots import Slot, string_numbers
from webapp.store import air
from webapp.trade.words import Check

MOST_KEPT = 96
HOURS_GOOD = 6
_kept: OrderedDict[Hashable, Drift] = OrderedDict()
_lock = Lock()


def daily_air(visit: Visit) -> DailyAir:
    """Every day's mean that the bench knows."""
    with visit.reading() as session:
        days = air.days(session, visit.bench_id)
    return {one.day: (one.temperature_c, one.humidity_percent) for one in days}


def drift(visit: Visit, instrument: LoadedInstrument, case: Case, slot: Slot, daily: DailyAir) -> Drift:
    """The drift of one place; made anew when an entry, the air, the description or the hour has changed."""
    key = _key(visit, instrument, case, slot, daily)
    with _lock:
        found = _kept.get(key)
        if found is not None:
            _kept.move_to_end(key)
            return found
    made = drift_of(case, slot, daily)
    with _lock:
        _kept[key] = made
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return made


def _key(
    visit: Visit, instrument: LoadedInstrument, case: Case, slot: Slot, daily: DailyAir
) -> tuple[Hashable, ...]:
    newest = case.journal.entries[-1].id if case.journal.entries else 0
    journal = (newest, len(case.journal.entries))
    hour = (visit.now.date(), visit.now.hour // HOURS_GOOD)
    described = (instrument.id, instrument.row.version)
    return visit.bench_id, *described, *journal, slot.key, *hour, visit.unit, _print_of(daily)


def _print_of(daily: DailyAir) -> int:
    items: Iterable[tuple[date, tuple[float, float]]] = daily.items()
    return hash(tuple(items))


def dues(
    visit: Visit,
    instrument: LoadedInstrument,
    passes: Sequence[LoadedSetup],
    case: Case,
    daily: DailyAir,
) -> tuple[Due, ...]:
    """All that is due on an instrument, the earliest first; `case` is the instrument as it stands."""
    numbers = string_numbers(instrument.spec)
    outer = (Slot(Check.HEIGHT, string=n) for n in dict.fromkeys((numbers[0], numbers[-1])))
    drifts = [drift(visit, instrument, case, slot, daily) for slot in (Slot(Check.RELIEF), *outer)]
    full = [setup.row.finished_at for setup in passes if not setup.quick]
    # While a setup is under way, nobody needs telling that it is time for one.
    last = None if None in full else max((at for at in full if at is not None), default=None)
    return due_of(case, drifts, last)
