"""What happens between setups, kept in journals of their own: quick checks, and strings that were put on."""

from __future__ import annotations

from collections.abc import Iterable

from webapp.setups.journal import Journal
from webapp.setups.slots import Slot, slot_groups
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check

DRIFT_PLACE = "drift"


def quick_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """What a quick check reads, and what the seasons watch: relief and the two outer strings' heights."""
    outer = next(group for group in slot_groups(spec, Check.HEIGHT) if not group[0].level)
    return (Slot(Check.RELIEF), *outer)


def joined(journals: Iterable[Journal]) -> Journal:
    """The journals of one instrument as one: how it stands after all that was ever read and turned."""
    return Journal.of(entry for journal in journals for entry in journal.entries)
