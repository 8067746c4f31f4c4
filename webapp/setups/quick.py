"""What happens between setups, kept in journals of their own: quick checks, and strings that were put on."""

from __future__ import annotations

from collections.abc import Iterable

from webapp.setups.journal import Journal
from webapp.setups.slots import RELIEF, Slot, outer_heights
from webapp.trade.spec import InstrumentSpec

DRIFT_PLACE = "drift"


def quick_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """What a quick check reads, and what the seasons watch: relief and the two outer strings' heights."""
    return (RELIEF, *outer_heights(spec))


def joined(journals: Iterable[Journal]) -> Journal:
    """The journals of one instrument as one: how it stands after all that was ever read and turned."""
    return Journal.of(entry for journal in journals for entry in journal.entries)
