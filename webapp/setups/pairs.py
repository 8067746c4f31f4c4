"""Before/after pairs: two readings with nothing but one kind of turn between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from webapp.setups.journal import Entry, EntryKind, Journal, Part


@dataclass(frozen=True)
class Pair:
    """The last reading before some turns and the last one after them, with the turns' sum in eighths."""

    before: Entry
    after: Entry
    eighths: int


def pairs(
    journal: Journal, slot_key: str, counts: Callable[[Entry], bool], spoils: Callable[[Entry], bool]
) -> Iterator[Pair]:
    """Pairs of readings of one slot around adjustments that `counts`, with none that `spoils` between.

    Of several readings before or after, the last one counts: the neck had longest to settle.
    """
    before: Entry | None = None
    after: Entry | None = None
    eighths = 0
    for entry in journal.live:
        if entry.kind is EntryKind.READING and entry.slot == slot_key and entry.value is not None:
            before, after = (entry, None) if not eighths else (before, entry)
        elif entry.kind is EntryKind.ADJUSTMENT and spoils(entry):
            yield from _pair(before, after, eighths)
            before, after, eighths = None, None, 0
        elif entry.kind is EntryKind.ADJUSTMENT and counts(entry):
            if after is not None:
                yield from _pair(before, after, eighths)
                before, after, eighths = after, None, 0
            eighths += entry.turn.eighths
    yield from _pair(before, after, eighths)


def _pair(before: Entry | None, after: Entry | None, eighths: int) -> Iterator[Pair]:
    if before is not None and after is not None and eighths:
        yield Pair(before, after, eighths)


def is_part(*parts: Part) -> Callable[[Entry], bool]:
    """Whether an adjustment is of one of these parts."""
    return lambda entry: entry.turn.part in parts
