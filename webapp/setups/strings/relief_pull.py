"""Where relief goes with the strings' pull: which way on any neck, how far only where this one showed it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, sqrt

from webapp.physics.mixture import NINETY
from webapp.physics.strings import LoadChange
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Part
from webapp.setups.slots import RELIEF

# What a recorded change of strings says of the pull, in its entry's detail.
LOAD_BEFORE, LOAD_AFTER = "load_before_n", "load_after_n"
# And that the strings themselves stayed on, tuned to other notes.
SAME_STRINGS = "same_strings"


@dataclass(frozen=True)
class ReliefForecast:
    """Where the relief will go: in words, by how much where this neck has shown it, and on what grounds."""

    words: str
    amount: str = ""
    rests_on: str = ""


def relief_forecast(case: Case, change: LoadChange) -> ReliefForecast:
    """The direction for any neck; the amount only from this neck's own readings around changes of strings."""
    goes, say = change.relief_goes, case.say
    if goes == 0:
        return ReliefForecast(
            "The pull on the neck stays about the same, so the relief should too.",
            rests_on="Less than 1 % of the pull is within the spread from one string to the next.",
        )
    words = "More pull: more relief." if goes > 0 else "Less pull: less relief."
    pairs = list(pull_pairs(case))
    if not pairs:
        return ReliefForecast(f"{words} By how much, this neck has not shown yet.", rests_on=_LATER)
    mm_per_n, give = _slope(pairs)
    count = "one change of strings" if len(pairs) == 1 else f"{len(pairs)} changes of strings"
    rests_on = f"From the readings before and after {count} on this neck."
    if mm_per_n <= give:
        return ReliefForecast(f"{words} This neck’s own readings do not show clearly how much.", "", rests_on)
    moved, unsure = abs(mm_per_n * change.change_n), abs(give * change.change_n)
    amount = f"{say.length(moved)} {'more' if goes > 0 else 'less'}, give or take {say.length(unsure)}"
    return ReliefForecast(words, amount, rests_on)


_LATER = (
    "Read relief shortly before and after you change strings here, with the rod left alone, "
    "and the next forecast says how much."
)


def pull_pairs(case: Case) -> Iterator[tuple[float, float, float]]:
    """Around every change of strings of known pull: N gained, mm of relief gained, and its variance.

    Relief must have been read before and after, in the same season and with the rod left alone.
    """
    before: Entry | None = None
    newton = 0.0
    for entry in (entry for journal in case.journals for entry in journal.live):
        if entry.kind is EntryKind.READING and entry.slot == RELIEF.key and entry.value is not None:
            if before is not None and newton and entry.at - before.at <= case.trade.practice.time.strings:
                (then, unsure), (now, as_unsure) = _middle(case, before), _middle(case, entry)
                if isfinite(unsure + as_unsure):
                    yield newton, now - then, unsure + as_unsure
            before, newton = entry, 0.0
        elif entry.kind is EntryKind.ADJUSTMENT and entry.turn.part in (Part.ROD, Part.STRINGS):
            loads = entry.detail.get(LOAD_BEFORE) or 0.0, entry.detail.get(LOAD_AFTER) or 0.0
            if entry.turn.part is Part.ROD or not all(loads):
                before = None
            newton += float(loads[1]) - float(loads[0])


def _middle(case: Case, entry: Entry) -> tuple[float, float]:
    """The middle of what a reading says of the relief, the standard way, and its variance.

    Infinite where the reading has an open end.
    """
    seen = case.belief.standard(RELIEF, entry)
    return (seen.low + seen.high) / 2, seen.sigma**2 + (seen.high - seen.low + seen.step) ** 2 / 12


def _slope(pairs: list[tuple[float, float, float]]) -> tuple[float, float]:
    """Mm of relief for one N, by weighted least squares through nothing for nothing; and half of its 90 %."""
    across = sum(newton**2 / variance for newton, _, variance in pairs)
    slope = sum(newton * moved / variance for newton, moved, variance in pairs) / across
    misses = sum((moved - slope * newton) ** 2 / variance for newton, moved, variance in pairs)
    # Pairs that disagree by more than their tools' errors make the answer that much less sure.
    scatter = sqrt(max(1.0, misses / max(1, len(pairs) - 1)))
    return slope, NINETY * scatter / sqrt(across)
