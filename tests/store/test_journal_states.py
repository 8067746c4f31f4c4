"""Whatever is done to a journal, in whatever order, what was recorded once stays as it was recorded."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from tests.store.kept_entries import kept_entries
from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, setups
from webapp.store.engine import open_store, reading, writing
from webapp.store.errors import AlreadyRecorded, Finished, StoreError
from webapp.trade.words import Check

SLOTS = st.sampled_from(["relief", "height.1", "height.2"])
VALUES = st.floats(-100, 100)
FORMS = st.sampled_from([f"form{i}" for i in range(12)])


class Journal(RuleBasedStateMachine):
    made = Bundle("made")

    @initialize()
    def open(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.engine = open_store(Path(self.folder.name) / "bench.sqlite3")
        self.known: dict[int, Entry] = {}
        self.forms: set[str] = set()
        self.finished = False
        with writing(self.engine) as session:
            self.bench = benches.get_or_create_local_bench(session).id
            self.instrument = instruments.add(session, self.bench, "make", "{}")
            self.setup = setups.start(session, self.bench, self.instrument, "begin")

    @rule(target=made, form=FORMS, slot=SLOTS, value=VALUES, late=st.booleans())
    def record(self, form: str, slot: str, value: float, late: bool) -> int:
        seen = {slot: 0 if late else self.newest(slot)}
        return self.send(form, seen, Entry(EntryKind.READING, Check.HEIGHT, slot, value, typed=repr(value)))

    @rule(target=made, form=FORMS, slot=SLOTS, value=VALUES, old=made)
    def correct(self, form: str, slot: str, value: float, old: int) -> int:
        return self.send(form, {}, Entry(EntryKind.READING, Check.HEIGHT, slot, value, voids=old or None))

    @rule()
    def finish(self) -> None:
        try:
            with writing(self.engine) as session:
                setups.finish(session, self.bench, self.setup, 1, datetime.now(UTC))
            assert not self.finished
            self.finished = True
        except Finished:
            assert self.finished

    @rule()
    def restart(self) -> None:
        self.engine.dispose()
        self.engine = open_store(Path(self.folder.name) / "bench.sqlite3")

    def newest(self, slot: str) -> int:
        return max((row.id for row in self.known.values() if row.slot == slot), default=0)

    def send(self, form: str, seen: dict[str, int], new: Entry) -> int:
        """Returns the new entry's id, or 0 when it was refused."""
        stale = any(self.newest(slot) > last for slot, last in seen.items())
        try:
            with writing(self.engine) as session:
                (made,) = entries.append(
                    session, self.bench, self.setup, form, seen, [new], datetime.now(UTC)
                )
        except StoreError as refused:
            assert stale or self.finished or form in self.forms
            assert isinstance(refused, AlreadyRecorded) == (form in self.forms)
            return 0
        assert not stale and not self.finished and form not in self.forms
        self.forms.add(form)
        row = self.journal()[-1]
        assert row == made and replace(row, id=0, at=new.at) == new
        self.known[row.id] = row
        return row.id

    def journal(self) -> list[Entry]:
        with reading(self.engine) as session:
            return kept_entries(session, self.bench, self.setup)

    @invariant()
    def nothing_is_lost_or_changed(self) -> None:
        if hasattr(self, "engine"):
            assert self.journal() == [self.known[number] for number in sorted(self.known)]

    def teardown(self) -> None:
        if hasattr(self, "engine"):
            self.engine.dispose()
            self.folder.cleanup()


Journal.TestCase.settings = settings(max_examples=15, stateful_step_count=20, deadline=None)
TestJournal = Journal.TestCase
