"""How far the relief of this neck goes with the strings' pull: from its own readings, else only which way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import hypot, sqrt

from webapp.physics.strings import LoadChange
from webapp.setups.case import Case
from webapp.setups.convert import relief_factor, relief_way
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.say import Say

# What a recorded change of strings says of the pull, in its entry's detail.
LOAD_BEFORE, LOAD_AFTER = "load_before_n", "load_after_n"
# And that the strings themselves stayed on, tuned to other notes.
SAME_STRINGS = "same_strings"
# A change of pull below this share is within the spread of strings.
LEAST_SHARE = 0.01


@dataclass(frozen=True)
class PullPair:
    """Relief before and after a change of pull with the rod left alone: N gained, mm gained, its error."""

    newton: float
    relief_mm: float
    error_mm: float


@dataclass(frozen=True)
class ReliefPull:
    """What this neck has shown: mm of relief per N of pull, with its error, from so many changes."""

    mm_per_n: float
    error_mm_per_n: float
    pairs: int

    @property
    def clear(self) -> bool:
        """Whether the readings show more than their own error."""
        return abs(self.mm_per_n) > self.error_mm_per_n


@dataclass
class _Walk:
    """The newest undisturbed reading, the changes of pull since, and the newest reading after them."""

    before: Entry | None = None
    after: Entry | None = None
    newton: float = 0.0
    share: float = 0.0


def pull_pairs(case: Case) -> tuple[PullPair, ...]:
    """Every before/after pair of relief around changes of strings whose pull is known, oldest first."""
    return tuple(
        _pair(case, found.before, found.after, found.newton)
        for found in _walks(case.journals, case.trade.practice.time.strings)
        if found.before is not None and found.after is not None and abs(found.share) >= LEAST_SHARE
    )


def relief_per_newton(case: Case) -> ReliefPull | None:
    """Least squares through nothing-for-nothing over the pairs of all setups; None where there is no pair."""
    pairs = pull_pairs(case)
    if not pairs:
        return None
    weights = [1 / pair.error_mm**2 for pair in pairs]
    across = sum(w * p.newton**2 for w, p in zip(weights, pairs, strict=True))
    slope = sum(w * p.newton * p.relief_mm for w, p in zip(weights, pairs, strict=True)) / across
    misses = sum(w * (p.relief_mm - slope * p.newton) ** 2 for w, p in zip(weights, pairs, strict=True))
    # Pairs that disagree by more than their tools' errors make the answer that much less sure.
    scatter = sqrt(max(1.0, misses / (len(pairs) - 1))) if len(pairs) > 1 else 1.0
    return ReliefPull(slope, scatter / sqrt(across), len(pairs))


def _walks(journals: Sequence[Journal], same_season: timedelta) -> Iterator[_Walk]:
    walk = _Walk()
    for entry in (e for journal in journals for e in _in_time(journal)):
        if entry.kind is EntryKind.READING and entry.slot == "relief" and entry.value is not None:
            if walk.newton and walk.before is not None and entry.at - walk.before.at <= same_season:
                walk.after = entry
            else:
                yield from _closed(walk)
                walk = _Walk(before=entry)
        elif entry.kind is EntryKind.ADJUSTMENT and entry.turn.part in (Part.ROD, Part.STRINGS):
            yield from _closed(walk)
            known = _gained(entry)
            walk = _next(walk, *known) if known else _Walk()
    yield from _closed(walk)


def _in_time(journal: Journal) -> list[Entry]:
    return sorted(journal.live, key=lambda entry: journal.stands_for(entry).id)


def _closed(walk: _Walk) -> Iterator[_Walk]:
    if walk.after is not None:
        yield walk


def _next(walk: _Walk, newton: float, share: float) -> _Walk:
    """After a change of known pull: the pull adds up until relief is read again."""
    if walk.after is not None:
        return _Walk(before=walk.after, newton=newton, share=share)
    return _Walk(before=walk.before, newton=walk.newton + newton, share=walk.share + share)


def _gained(entry: Entry) -> tuple[float, float] | None:
    """N gained, and as a share of the pull before; None for a turn of the rod or a set nobody named."""
    before, after = entry.detail.get(LOAD_BEFORE), entry.detail.get(LOAD_AFTER)
    if entry.turn.part is not Part.STRINGS or not before or not after:
        return None
    return float(after) - float(before), float(after) / float(before) - 1


def _pair(case: Case, before: Entry, after: Entry, newton: float) -> PullPair:
    (was, error), (now, other) = _standard(case, before), _standard(case, after)
    return PullPair(newton, now - was, hypot(error, other))


def _standard(case: Case, entry: Entry) -> tuple[float, float]:
    factor = relief_factor(case.spec, relief_way(entry, case.relief_standard), case.relief_standard)
    assert entry.value is not None
    return entry.value * factor, (entry.error or case.trade.practice.doubt.unstated_mm) * abs(factor)


@dataclass(frozen=True)
class ReliefForecast:
    """Where the relief will go: in words, by how much where this neck has shown it, and on what grounds."""

    words: str
    amount: str = ""
    rests_on: str = ""


def relief_forecast(change: LoadChange, shown: ReliefPull | None, say: Say) -> ReliefForecast:
    """The direction for any neck; the amount only from this neck's own readings."""
    goes = change.relief_goes
    if goes == 0:
        return ReliefForecast(
            "The pull on the neck stays about the same, so the relief should too.",
            rests_on="Less than 1 % of the pull is within the spread from one string to the next.",
        )
    pull = "More pull" if goes > 0 else "Less pull"
    usual = "more relief" if goes > 0 else "less relief"
    if shown is None:
        return ReliefForecast(f"{pull}: {usual}. By how much, this neck has not shown yet.", rests_on=_LATER)
    if not shown.clear:
        return ReliefForecast(
            f"{pull}: {usual}, on most necks. This neck’s own readings do not show it clearly yet.",
            rests_on=_count(shown),
        )
    moved_mm, error_mm = shown.mm_per_n * change.change_n, shown.error_mm_per_n * abs(change.change_n)
    return ReliefForecast(
        f"{pull}: {'more' if moved_mm > 0 else 'less'} relief.",
        f"{say.length(abs(moved_mm))} {'more' if moved_mm > 0 else 'less'}, "
        f"give or take {say.length(error_mm)}",
        _count(shown),
    )


_LATER = (
    "Read relief shortly before and after you change strings here, with the rod left alone, "
    "and the next forecast says how much."
)


def _count(shown: ReliefPull) -> str:
    changes = "one change of strings" if shown.pairs == 1 else f"{shown.pairs} changes of strings"
    return f"From the readings before and after {changes} on this neck."
