"""What was read of an instrument's past, kept in memory for as long as nothing was written on it.

Nothing here is the only copy of anything, and nothing is handed out without asking the database first
whether it is still so: another process may have written meanwhile.

All pasts together take at most MOST_BYTES (20 MB), give or take three tenths: what a class of two hundred
does in a lesson, or one bench in many years. An entry takes half a kilobyte, an assessment about fifty.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from random import choice, shuffle
from threading import Lock
from typing import Any, Generic, TypeVar

from webapp.setups.journal import Entry, Journal
from webapp.setups.states import Assessment
from webapp.store import entries, setups
from webapp.store.engine import Session
from webapp.store.entries import JournalMark
from webapp.store.setups import PastMark, SetupRow

# With less room than a class needs, each step reads its whole instrument again.
MOST_BYTES = 20_000_000
# As measured (tests/pages/test_kept_pages.py holds it against the truth): an empty past; a setup with its
# journal; an entry with its own words and its share of what finds it in its journal; an assessment, which
# brings its belief; whatever else is worked out.
PAST_BYTES, SETUP_BYTES, ENTRY_BYTES, ASSESSMENT_BYTES, OTHER_BYTES = 1_000, 500, 450, 50_000, 4_000
MOST_WORKED_OUT = 16
Found = TypeVar("Found")


@dataclass
class Past:
    """An instrument's setups, newest first, and their journals (none for one without an entry).

    `size_bytes` is about what it takes in memory, with what was worked out of it.
    """

    mark: PastMark
    rows: Sequence[SetupRow]
    journals: Mapping[str, Journal]
    marks: Mapping[str, JournalMark]
    size_bytes: int = field(init=False)
    _worked_out: dict[Hashable, tuple[Hashable, Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._reckon()

    def before(self, row: SetupRow) -> tuple[Journal, ...]:
        """The journals of the setups that began before this one, oldest first."""
        earlier = (one.id for one in reversed(self.rows) if one.started_at < row.started_at)
        return tuple(self.journals[name] for name in earlier if name in self.journals)

    def grown(self, setup_id: str, added: Sequence[Entry]) -> Past:
        """This past with entries that were just written to one of its setups."""
        mine, far = self.journals.get(setup_id), self.marks.get(setup_id)
        journal = Journal.of((*(mine.entries if mine else ()), *added))
        newest = max(entry.id for entry in added)
        before = far.entries if far else 0
        mark = self.mark._replace(entries=self.mark.entries + len(added), newest=newest)
        marks = {**self.marks, setup_id: JournalMark(before + len(added), newest)}
        return Past(mark, self.rows, {**self.journals, setup_id: journal}, marks)

    def once(self, what: Hashable, work: Callable[[], Found], when: Hashable = None) -> Found:
        """What `work` makes of this past; `what` names all else that it depends on, but for `when`: of each
        thing only the newest is kept."""
        kept = self._worked_out.get(what)
        if kept is not None and kept[0] == when:
            found: Found = kept[1]
            return found
        found = work()
        if len(self._worked_out) >= MOST_WORKED_OUT:
            self._worked_out.clear()
        self._worked_out[what] = when, found
        self._reckon()
        return found

    def let_go(self) -> int:
        """Forgets what was worked out of it, but not what was read; returns about how many bytes that was."""
        before = self.size_bytes
        self._worked_out.clear()
        self._reckon()
        return before - self.size_bytes

    def _reckon(self) -> None:
        read = PAST_BYTES + SETUP_BYTES * len(self.rows) + ENTRY_BYTES * self.mark.entries
        judged = [isinstance(found, Assessment) for _, found in list(self._worked_out.values())]
        self.size_bytes = read + sum(ASSESSMENT_BYTES if one else OTHER_BYTES for one in judged)


def hashed_once(value: Any) -> int:
    """The hash of a frozen dataclass, kept in it: as its `__hash__`, where much hangs on it, and it is looked
    for again and again."""
    here = vars(value)
    if "_hash" not in here:
        here["_hash"] = hash(tuple(here[one.name] for one in fields(value)))
    found: int = here["_hash"]
    return found


class Latest(Generic[Found]):
    """What was worked out lately: the newest `most` of it, by all that it depends on."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._found: OrderedDict[Hashable, Found] = OrderedDict()

    def of(self, what: Hashable, work: Callable[[], Found]) -> Found:
        """What `work` makes; `what` names all that it depends on."""
        with self._lock:
            if what in self._found:
                self._found.move_to_end(what)
                return self._found[what]
        made = work()
        with self._lock:
            self._found[what] = made
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return made


class KeptPasts:
    """The pasts of instruments that were used, as many as there is room for."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most, self._lock = most_bytes, Lock()
        self._pasts: dict[tuple[str, str], Past] = {}

    @property
    def size_bytes(self) -> int:
        """About what all of it takes in memory."""
        return sum(past.size_bytes for past in list(self._pasts.values()))

    def of(self, session: Session, bench_id: str, instrument_id: str, mark: PastMark) -> Past:
        """The instrument's past, which was found to have this mark just now, in the same session."""
        name = bench_id, instrument_id
        with self._lock:
            past = self._pasts.get(name)
            if past is not None and past.mark == mark:
                return past
        past = _read(session, bench_id, instrument_id, mark, past)
        self._keep(name, past)
        return past

    def grow(self, past: Past, bench_id: str, row: SetupRow, added: Sequence[Entry]) -> Past:
        """Keeps the past with what was just written. Where somebody else wrote meanwhile, it is not what the
        database will say, and so it is read again the next time."""
        grown = past.grown(row.id, added)
        self._keep((bench_id, row.instrument_id), grown)
        return grown

    def _keep(self, name: tuple[str, str], past: Past) -> None:
        with self._lock:
            self._pasts[name] = past
            self._make_room_for(name)

    def _make_room_for(self, name: tuple[str, str]) -> None:
        """Forgets any others, not the oldest: of a bench that is looked at from end to end and is a little
        larger than the room, each instrument would be forgotten just before its turn. First what was worked
        out of them: that is made anew in a moment, while a belief is folded from the first entry again once
        the entries are others."""
        held = self.size_bytes
        others = [other for other in self._pasts if other != name] if held > self._most else []
        shuffle(others)
        for other in others:
            if held <= self._most:
                return
            held -= self._pasts[other].let_go()
        while held > self._most and len(self._pasts) > 1:
            gone = self._pasts.pop(choice([other for other in self._pasts if other != name]))
            held -= gone.size_bytes


def _read(session: Session, bench_id: str, instrument_id: str, mark: PastMark, before: Past | None) -> Past:
    """Reads what is new; a journal that goes no further than it did is the one it was."""
    rows = setups.list_for(session, bench_id, instrument_id)
    marks = entries.marks(session, bench_id, instrument_id)
    same = {} if before is None else {
        name: before.journals[name] for name, far in marks.items() if before.marks.get(name) == far
    }  # fmt: skip
    new = marks.keys() - same.keys()
    read = entries.journals(session, bench_id, instrument_id, new) if new else {}
    if before is not None:
        read = {name: _with_known(one, before.journals.get(name)) for name, one in read.items()}
    return Past(mark, rows, same | read, marks)


def _with_known(journal: Journal, before: Journal | None) -> Journal:
    """A journal that grew, with the very entries that it had before: a belief goes on from what was folded of
    them (setups/belief/fold.py), where it would begin anew with others that say the same."""
    if before is None:
        return journal
    known = {entry.id: entry for entry in before.entries}
    return Journal.of(known[one.id] if known.get(one.id) == one else one for one in journal.entries)
