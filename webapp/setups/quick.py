"""What happens between setups, kept in journals of their own: quick checks, and strings that were put on."""

from __future__ import annotations

from collections.abc import Iterable

from webapp.setups.journal import Entry, Journal
from webapp.setups.slots import Slot, slot_groups
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check

START_PLACE = "start"
DRIFT_PLACE = "drift"
QUICK = "quick"


def quick_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """What a quick check reads: relief and the two outer strings' heights."""
    return (Slot(Check.RELIEF), *slot_groups(spec, Check.HEIGHT)[0])


def is_quick_answer(entry: Entry) -> bool:
    """Whether a start answer, or a change of strings, was given between setups."""
    return entry.detail.get(QUICK) is True


def is_quick(journal: Journal) -> bool:
    """Whether this journal is a quick check or a change of strings, not a setup."""
    return any(is_quick_answer(entry) for entry in (*journal.observations(START_PLACE), *journal.turns))


def joined(journals: Iterable[Journal]) -> Journal:
    """The journals of one instrument as one: how it stands after all that was ever read and turned."""
    return Journal.of(entry for journal in journals for entry in journal.entries)
