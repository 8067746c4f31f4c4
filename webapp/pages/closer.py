"""One instrument as it stands now, for the pages that look closer at it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from webapp.pages.common import Visit
from webapp.pages.dates import day
from webapp.pages.drawings import newest_measured
from webapp.pages.loading import LoadedInstrument, LoadedSetup, load_instrument, load_setups
from webapp.pages.places import instrument_path
from webapp.setups.case import Case
from webapp.setups.clearance_map import touch_keys, touch_label
from webapp.setups.journal import Journal
from webapp.setups.slots import string_label, string_numbers


@dataclass(frozen=True)
class Closer:
    """The newest description, and the readings of the newest setup that has any."""

    instrument: LoadedInstrument
    setup: LoadedSetup | None
    case: Case

    @property
    def id(self) -> str:
        return self.instrument.id

    @property
    def name(self) -> str:
        return self.instrument.spec.name

    @property
    def path(self) -> str:
        return instrument_path(self.id)

    @property
    def read_on(self) -> str:
        """When the setup began whose readings these are; empty where nothing was read."""
        return day(self.setup.row.started_at) if self.setup else ""

    @property
    def strings(self) -> tuple[tuple[str, str], ...]:
        """Strings to choose from, bass side first."""
        spec = self.case.spec
        return tuple((str(n), string_label(spec, n)) for n in string_numbers(spec))

    @property
    def touches(self) -> tuple[tuple[str, str], ...]:
        """Touches to choose from."""
        return tuple((key, touch_label(key).capitalize()) for key in touch_keys(self.case))


def load_closer(visit: Visit, instrument_id: str) -> Closer:
    """The instrument with its newest readings; 404 where this bench has none such.

    A finished setup was judged by the description of its day; here the newest one counts, so that a touch
    found since is used. Readings of a board with other frets or strings say nothing about this one.
    """
    instrument = load_instrument(visit, instrument_id)
    setup = newest_measured(load_setups(visit, instrument_id))
    spec = instrument.spec
    if setup is not None and _alike(setup, instrument):
        return Closer(instrument, setup, replace(setup.case, spec=spec))
    return Closer(instrument, None, Case(spec, visit.trade, Journal(()), visit.now, visit.say))


def _alike(setup: LoadedSetup, instrument: LoadedInstrument) -> bool:
    then, now = setup.spec, instrument.spec
    return then.fret_count == now.fret_count and len(then.strings) == len(now.strings)
