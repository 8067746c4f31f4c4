"""What is due on an instrument, when and why. Pure: journals and drift in, an ordered list out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from webapp.physics.numbers import say_number
from webapp.setups.air_log.daily import day_number
from webapp.setups.case import Case
from webapp.setups.journal import OF_NO_CHECK, START_PLACE, Entry, EntryKind, Part
from webapp.setups.say import capital
from webapp.setups.seasons.drift import Drift
from webapp.setups.slots import RELIEF
from webapp.setups.states import Act, Assessment, SlotState, Word, said, word_of
from webapp.setups.strings.relief_pull import SAME_STRINGS
from webapp.trade.practice import DueSheet
from webapp.trade.words import Check, label

_WORSE = {Word.GOOD: 0, Word.TOUCH_LOW: 1, Word.TOUCH_HIGH: 1, Word.TOO_LOW: 2, Word.TOO_HIGH: 2}

REVIEW = "review"
# So many places are named where several are off.
MOST_TOLD = 3


@dataclass(frozen=True)
class Due:
    """Something to do: from when on, why in a sentence, and the check it belongs to.

    `key` names the sort of it, the same for as long as it is due: one instrument has each only once. `off`
    says in short what is out of its target; it comes before all else.
    """

    when: datetime
    why: str
    check: Check
    key: str
    off: str = ""

    @property
    def rank(self) -> tuple[bool, datetime]:
        """What comes first has the least."""
        return not self.off, self.when

    @property
    def sets_up(self) -> bool:
        """Whether it takes a setup, and not a look."""
        return bool(self.off) or self.key == REVIEW

    def is_due(self, now: datetime) -> bool:
        """Whether it is time."""
        return self.when <= now


def due_of(
    case: Case,
    drifts: Sequence[Drift] = (),
    last_setup_at: datetime | None = None,
    stands: Assessment | None = None,
) -> tuple[Due, ...]:
    """Everything that is due on the case's instrument, now or later: what is off, then the earliest first.

    `drifts` are the answers of the seasons, for the air; `last_setup_at` is when a setup was last finished;
    `stands` is the judged case where what it finds off is wanted too.
    """
    off = tuple(_out_of_target(case, stands)) if stands else ()
    checks = {due.check for due in off}
    moved = (due for due in _moved(case, drifts) if due.check not in checks)
    found = [*off, *_settling(case), *_strings(case), *moved]
    if last_setup_at is not None:
        found.append(_review(case, last_setup_at))
    return tuple(sorted(found, key=lambda due: due.rank))


def _out_of_target(case: Case, stands: Assessment) -> Iterator[Due]:
    """What was read out of its target, where a turn of the player's own could put it right."""
    for check, state in stands.checks.items():
        off = [one for one in state.slots if state.here and _can_be_put_right(one)]
        read = [one.reading.at for one in off if one.reading is not None]
        if read:
            told = [f"{one.label}: {one.said}, {case.say.reading(one.reading)}" for one in off if one.reading]
            more = [f"and {len(told) - MOST_TOLD} more"] if len(told) > MOST_TOLD else []
            short = f"{capital(label(check))}: {state.said}"
            yield Due(min(read), f"{'; '.join(told[:MOST_TOLD] + more)}.", check, f"off.{check.value}", short)


def _can_be_put_right(state: SlotState) -> bool:
    return state.measured and state.verdict.word.is_off and state.wants is Act.DECIDE


def _review(case: Case, last_setup_at: datetime) -> Due:
    days = case.trade.due.review_days
    why = f"{say_number(days)} days after the last setup: the season has turned."
    return Due(last_setup_at + timedelta(days=days), why, OF_NO_CHECK, REVIEW)


def _settling(case: Case) -> Iterator[Due]:
    """The rod was turned, and relief not read since it settled."""
    turns = [
        at for at, entry in _dated(case) if entry.kind is EntryKind.ADJUSTMENT and entry.turn.part is Part.ROD
    ]
    if not turns:
        return
    hours = case.trade.belief.rod.settle_hours
    settled = max(turns) + timedelta(hours=hours)
    read = (e for at, e in _dated(case) if at >= settled and e.kind is EntryKind.READING)
    if not any(entry.slot == RELIEF.key for entry in read):
        why = f"The rod was turned and takes about {say_number(hours)} hours to settle"
        yield Due(settled, f"{why}: read the relief once more.", RELIEF.check, "settled")


def strings_due_at(case: Case) -> datetime | None:
    """When the strings will have done their time; None where nothing was ever said about their age."""
    born = _strings_born(case)
    return None if born is None else born + timedelta(days=case.trade.due.string_days[case.family])


def age_key(sheet: DueSheet, old: timedelta) -> str:
    """The answer at the start that fits strings of this age best."""
    days = old / timedelta(days=1)
    return min(sheet.age_days, key=lambda key: abs(sheet.age_days[key] - days))


def strings_age(case: Case) -> str:
    """The answer at the start that fits the strings by now; empty where nothing is known of their age."""
    born = _strings_born(case)
    return "" if born is None else age_key(case.trade.due, case.now - born)


def _strings_born(case: Case) -> datetime | None:
    """When the strings were new: changed then, or said to be so old.

    An answer is coarse, so it only counts where it contradicts what is known: perhaps they were changed
    and nobody wrote it down.
    """
    sheet, born = case.trade.due, None
    for at, entry in _dated(case):
        if entry.kind is EntryKind.ADJUSTMENT and entry.turn.part is Part.STRINGS:
            born = born if entry.detail.get(SAME_STRINGS) else at
        elif entry.kind is EntryKind.OBSERVATION and entry.slot == START_PLACE:
            key = str(entry.detail.get("age"))
            if key in sheet.age_days and (born is None or age_key(sheet, at - born) != key):
                born = at - timedelta(days=sheet.age_days[key])
    return born


def _strings(case: Case) -> Iterator[Due]:
    """The strings have done their time, or will have."""
    at = strings_due_at(case)
    if at is None:
        return
    days = case.trade.due.string_days[case.family]
    if at <= case.now:
        old = days + (case.now - at).days
        yield Due(at, f"The strings are about {_long(old)} old: try a new set.", OF_NO_CHECK, "strings")
    else:
        why = f"The strings will be about {_long(days)} old: tired strings lose tone and play out of tune."
        yield Due(at, why, OF_NO_CHECK, "strings")


def _long(days: float) -> str:
    if days < 60:
        return f"{say_number(days, 0)} days"
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
            yield Due(case.now, why, drift.slot.check, f"moved.{drift.slot.key}")


def _left_its_band(case: Case, drift: Drift) -> str:
    assert drift.now is not None and drift.fit is not None
    bands, last = case.bands(drift.slot), drift.fit.predicted_at(day_number(drift.points[-1].at))
    word = word_of(drift.now.value, bands)
    if last is None or _WORSE[word] <= _WORSE[word_of(last.value, bands)]:
        return ""
    name = "Relief" if drift.slot == RELIEF else f"The height of the {drift.label}"
    about = case.say.about(drift.now.value, drift.now.half)
    return f"{name}: probably {said(drift.slot.check, word)} by now, {about}. The air has changed."


def _moister(case: Case, drift: Drift) -> str:
    """For a neck whose own ways are not known yet: how far the wood's moisture has moved."""
    then, now = drift.points[-1].wood_percent, drift.wood_now_percent
    if drift.slot != RELIEF or then is None or now is None:
        return ""
    moved = now - then
    if abs(moved) <= case.trade.due.moisture_percent:
        return ""
    way, far = "taken up" if moved > 0 else "lost", say_number(abs(moved), 1)
    return f"The wood has {way} about {far} percent of moisture since relief was last read."


FOLD_OCTETS = 75
PRODUCT = "-//Benchside//When to look again//EN"


@dataclass(frozen=True)
class DayEvent:
    """Something on one day. `uid` is the same each time it is told, so that a calendar updates it."""

    uid: str
    day: date
    summary: str
    description: str
    url: str


def calendar_text(name: str, events: Iterable[DayEvent], stamp: datetime) -> str:
    """The whole file; `stamp` is when it was made, with zone."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT}",
        "CALSCALE:GREGORIAN",
        f"X-WR-CALNAME:{escaped(name)}",
        *(line for event in events for line in _event(event, stamp)),
        "END:VCALENDAR",
    ]
    return "".join(f"{folded(line)}\r\n" for line in lines)


def _event(event: DayEvent, stamp: datetime) -> list[str]:
    return [
        "BEGIN:VEVENT",
        f"UID:{escaped(event.uid)}",
        f"DTSTAMP:{stamp.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
        f"SUMMARY:{escaped(event.summary)}",
        f"DESCRIPTION:{escaped(event.description)}",
        f"URL:{event.url}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def escaped(text: str) -> str:
    """A TEXT value (section 3.3.11): no control characters, and its own signs behind a backslash."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    text = "".join(c for c in text if c == "\n" or (c >= " " and c != "\x7f"))
    for sign, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(sign, written)
    return text


def folded(line: str) -> str:
    """A content line in pieces of at most 75 octets (section 3.1), never within a character."""
    pieces, size = [""], 0
    for character in line:
        octets = len(character.encode())
        if size + octets > FOLD_OCTETS:
            pieces.append("")
            size = 1  # the blank that says it goes on
        pieces[-1] += character
        size += octets
    return "\r\n ".join(pieces)
