"""One instrument as it stands now, for the pages that look closer at it."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.case_loading import LoadedInstrument, load_instrument, load_setups, standing_case
from webapp.pages.visit.dates import day
from webapp.pages.visit.visit import Onlooker
from webapp.setups.case import Case
from webapp.setups.journal import EntryKind
from webapp.setups.say import capital
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.tryout.clearance_map import touch_keys, touch_label


@dataclass(frozen=True)
class Closer:
    """The newest description, and all that was ever read of it."""

    instrument: LoadedInstrument
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
        """The day of the newest reading; empty where nothing was read."""
        read = [entry.at for entry in self.case.journal.live if entry.kind is EntryKind.READING]
        return day(max(read)) if read else ""

    @property
    def strings(self) -> tuple[tuple[str, str], ...]:
        """Strings to choose from, bass side first."""
        spec = self.case.spec
        return tuple((str(n), string_label(spec, n)) for n in string_numbers(spec))

    @property
    def touches(self) -> tuple[tuple[str, str], ...]:
        """Touches to choose from."""
        return tuple((key, capital(touch_label(key))) for key in touch_keys(self.case))


def load_closer(visit: Onlooker, instrument_id: str) -> Closer:
    """The instrument with its newest readings; 404 where this bench has none such.

    A finished setup was judged by the description of its day; here the newest one counts, so that a touch
    found since is used. Readings of a board with other frets or strings say nothing about this one.
    """
    instrument = load_instrument(visit, instrument_id)
    return Closer(instrument, standing_case(visit, instrument, load_setups(visit, instrument_id)))
