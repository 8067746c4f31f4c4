"""What is due on an instrument, when and why. Pure: journals and drift in, an ordered list out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from webapp.setups.case import Case
from webapp.setups.checks import start
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.seasons import Drift
from webapp.setups.verdicts import Word, judge
from webapp.trade.words import Check

QUICK = "quick"
_WORSE = {Word.GOOD: 0, Word.TOUCH_LOW: 1, Word.TOUCH_HIGH: 1, Word.TOO_LOW: 2, Word.TOO_HIGH: 2}


@dataclass(frozen=True)
class Due:
    """Something to do: from when on, why in a sentence, and the check it belongs to."""

    when: datetime
    why: str
    check: Check

    def is_due(self, now: datetime) -> bool:
        """Whether it is time."""
        return self.when <= now


def is_quick(journal: Journal) -> bool:
    """Whether this journal is a quick check between setups."""
    return any(bool(entry.detail.get(QUICK)) for entry in journal.observations(start.PLACE))


def due_of(
    case: Case, drifts: Sequence[Drift] = (), last_setup_at: datetime | None = None
) -> tuple[Due, ...]:
    """Everything that is due on the case's instrument, now or later, the earliest first.

    `drifts` are the answers of the seasons, for the air; `last_setup_at` is when a setup was last finished.
    """
    found = [*_settling(case), *_strings(case), *_moved(case, drifts)]
    if last_setup_at is not None:
        found.append(_review(case, last_setup_at))
    return tuple(sorted(found, key=lambda due: due.when))


def _review(case: Case, last_setup_at: datetime) -> Due:
    days = case.trade.due.review_days
    why = f"{days:g} days after the last setup: the season has turned."
    return Due(last_setup_at + timedelta(days=days), why, Check.START)


def _settling(case: Case) -> Iterator[Due]:
    """The rod was turned, and relief not read since it settled."""
    turns = [
        at for at, entry in _dated(case) if entry.kind is EntryKind.ADJUSTMENT and entry.turn.part is Part.ROD
    ]
    if not turns:
        return
    hours = case.trade.rod.settle_hours
    settled = max(turns) + timedelta(hours=hours)
    reliefs = (at for at, entry in _dated(case) if entry.kind is EntryKind.READING and entry.slot == "relief")
    if not any(at >= settled for at in reliefs):
        why = f"The rod was turned and takes about {hours:g} hours to settle: read the relief once more."
        yield Due(settled, why, Check.RELIEF)


def _strings(case: Case) -> Iterator[Due]:
    """The strings have done their time, as far as anything was ever said about their age."""
    births = [born for at, entry in _dated(case) if (born := _born(case, at, entry)) is not None]
    if not births:
        return
    # The newest word on it counts: what was changed since, or said since.
    born = births[-1]
    days = case.trade.due.string_days[case.family]
    why = f"The strings are about {_long(days)} old by then: tired strings lose tone and play out of tune."
    if born + timedelta(days=days) <= case.now:
        why = f"The strings are about {_long((case.now - born).days)} old: try a new set."
    yield Due(born + timedelta(days=days), why, Check.START)


def _born(case: Case, at: datetime, entry: Entry) -> datetime | None:
    """When the strings were new, by an answer at the start or by changing them."""
    if entry.kind is EntryKind.ADJUSTMENT:
        return at if entry.turn.part is Part.STRINGS else None
    if entry.kind is not EntryKind.OBSERVATION or entry.slot != start.PLACE:
        return None
    age = case.trade.due.age_days.get(str(entry.detail.get("age")))
    return None if age is None else at - timedelta(days=age)


def _long(days: float) -> str:
    if days < 60:
        return f"{days:.0f} days"
    months = round(days / 30.44)
    return f"{months} months"


def _dated(case: Case) -> list[tuple[datetime, Entry]]:
    """Everything that counts in all journals, oldest first, with the time it stands for."""
    found = ((j.stands_for(e), e) for j in case.journals for e in j.live)
    return [(stands.at, e) for stands, e in sorted(found, key=lambda one: (one[0].at, one[0].id))]


def _moved(case: Case, drifts: Iterable[Drift]) -> Iterator[Due]:
    """The air has moved the neck since a place was last read, out of where it was good."""
    for drift in drifts:
        if not drift.points or case.now - drift.points[-1].at < timedelta(
            days=case.trade.due.look_again_days
        ):
            continue
        why = _left_its_band(case, drift) if drift.now else _moister(case, drift)
        if why:
            yield Due(case.now, why, drift.slot.check)


def _left_its_band(case: Case, drift: Drift) -> str:
    assert drift.now is not None
    bands, expected = case.bands(drift.slot), drift.now.value
    last = judge(drift.points[-1].measured_mm, 0.0, bands).word
    word = judge(expected, 0.0, bands).word
    if _WORSE.get(word, 0) <= _WORSE.get(last, 0):
        return ""
    name = "Relief" if drift.slot.check is Check.RELIEF else f"The height of the {drift.label}"
    about, give = case.say.length(expected), case.say.length(drift.now.half)
    return f"{name} is probably {word.value} by now, about {about}, give or take {give}: the air has changed."


def _moister(case: Case, drift: Drift) -> str:
    """For a neck whose own ways are not known yet: how far the wood's moisture has moved."""
    then, now = drift.points[-1].wood_percent, drift.wood_now_percent
    if drift.slot.check is not Check.RELIEF or then is None or now is None:
        return ""
    moved = now - then
    if abs(moved) <= case.trade.due.moisture_percent:
        return ""
    way = "taken up" if moved > 0 else "lost"
    return f"The wood has {way} about {abs(moved):.1f} percent of moisture since relief was last read."
