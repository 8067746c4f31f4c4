"""What is kept in memory is never other than what the database says, whoever wrote it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from random import Random

import pytest
from sqlalchemy import Engine

from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, lessons, setups
from webapp.store.engine import reading, writing
from webapp.store.errors import NotFound
from webapp.trade.words import Check
from webapp.web.kept import KeptPasts, Latest, Past

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
LESSON = '{"title": "T"}'


class Shop:
    """Two processes, each with what it keeps, on one instrument in one database."""

    def __init__(self, engine: Engine, seed: int = 0) -> None:
        self.engine, self.chance, self.count = engine, Random(seed), 0
        self.processes = [KeptPasts(), KeptPasts()]
        with writing(engine) as session:
            self.bench, self.other = benches.make(session, NOON), benches.make(session, NOON)
            self.instrument = instruments.add(session, self.bench, "make", "{}")
            self.lesson = lessons.add(session, self.bench, "lesson", LESSON, 5, NOON, b"seed")
        self.setups: list[str] = []
        self.open: list[str] = []

    def told(self, process: KeptPasts, bench: str = "") -> Past:
        bench = bench or self.bench
        with reading(self.engine) as session:
            _, mark = setups.stands(session, bench, self.instrument)
            return process.of(session, bench, self.instrument, mark)

    def begin(self) -> None:
        self.count += 1
        at = NOON + timedelta(minutes=self.count)
        with writing(self.engine, self.bench) as session:
            self.setups.append(setups.start(session, self.bench, self.instrument, f"s{self.count}", at))
        self.open.append(self.setups[-1])

    def finish(self) -> None:
        if self.open:
            setup = self.open.pop(self.chance.randrange(len(self.open)))
            with writing(self.engine, self.bench) as session:
                setups.finish(session, self.bench, setup, 1, NOON + timedelta(days=1))

    def teach(self) -> None:
        if self.open:
            with writing(self.engine, self.bench) as session:
                lessons.bind(session, self.bench, self.chance.choice(self.open), self.lesson)

    def write(self, *, grow: bool = False) -> None:
        """An entry or two, as a page writes them: the process that wrote them keeps them at once."""
        if not self.open:
            return
        self.count += 1
        process, setup = self.chance.choice(self.processes), self.chance.choice(self.open)
        before = self.told(process)
        if grow and self.chance.random() < 0.5:
            # Somebody else is quicker.
            self._append(setup, [self._new()])
            self.count += 1
        new = [self._new() for _ in range(self.chance.choice((1, 1, 2)))]
        added = self._append(setup, new)
        row = next(row for row in before.rows if row.id == setup)
        process.grow(before, self.bench, row, added)

    def _append(self, setup: str, new: list[Entry]) -> list[Entry]:
        with writing(self.engine, self.bench) as session:
            return entries.append(session, self.bench, setup, f"f{self.count}", {}, new, NOON)

    def _new(self) -> Entry:
        value = self.chance.uniform(-1, 3)
        detail = {"hold": 1, "words": ("ä", None, 0.25), "deep": {"part": "rod"}}
        where = EntryKind.READING, Check.RELIEF, "relief"
        return Entry(*where, value, "mm", f"{value:g}", "feeler", 0.02, detail)


def compare(shop: Shop) -> None:
    truth = shop.told(KeptPasts())
    for process in shop.processes:
        kept = shop.told(process)
        assert kept.rows == truth.rows and kept.journals == truth.journals and kept.mark == truth.mark


@pytest.mark.parametrize("seed", range(4))
def test_whoever_writes_what_both_processes_see_it(engine: Engine, seed: int) -> None:
    shop = Shop(engine, seed)
    deeds: list[Callable[[], None]] = [shop.begin, shop.finish, shop.teach]
    deeds += [shop.write] * 4 + [lambda: shop.write(grow=True)] * 2
    shop.begin()
    for _ in range(25):
        shop.chance.choice(deeds)()
        compare(shop)


def test_what_did_not_change_is_not_read_again(engine: Engine) -> None:
    shop = Shop(engine)
    shop.begin()
    shop.write()
    process = shop.processes[0]
    first = shop.told(process)
    assert shop.told(process) is first
    shop.write()
    later = shop.told(process)
    assert later is not first and later.mark.entries > first.mark.entries


def test_only_the_journal_that_grew_is_another(engine: Engine) -> None:
    shop = Shop(engine)
    shop.begin()
    shop.write()
    shop.finish()
    process = shop.processes[0]
    first = shop.told(process)
    shop.begin()
    shop.write()
    later = shop.told(process)
    assert later.journals[shop.setups[0]] is first.journals[shop.setups[0]]
    assert later.before(later.rows[0]) == (first.journals[shop.setups[0]],)


def test_a_journal_that_another_process_went_on_with_has_the_entries_it_had(engine: Engine) -> None:
    shop = Shop(engine)
    shop.begin()
    shop.write()
    process = shop.processes[0]
    (first,) = shop.told(process).journals.values()
    shop.count += 1
    shop._append(shop.setups[0], [shop._new(), shop._new()])
    (later,) = shop.told(process).journals.values()
    assert len(later.entries) == len(first.entries) + 2
    assert all(one is other for one, other in zip(first.entries, later.entries, strict=False))


def test_what_was_worked_out_goes_before_what_was_read(engine: Engine) -> None:
    shops = [Shop(engine, seed) for seed in range(3)]
    for shop in shops:
        shop.begin()
        shop.write()
    process = KeptPasts(6_000)
    first = [shop.told(process) for shop in shops]
    assert process.size_bytes <= 6_000
    for past in first:
        past.once("a", lambda: 1)
        past.once("b", lambda: 2)
    assert process.size_bytes > 6_000
    shops[0].write()
    shops[0].told(process)
    assert process.size_bytes <= 6_000
    # What the others read is there as it was; what followed from it, for one of them at least, is not.
    assert [shop.told(process) for shop in shops[1:]] == first[1:]
    assert any(past.once("a", lambda: 3) == 3 for past in first[1:])


def test_another_bench_is_told_nothing(engine: Engine) -> None:
    shop = Shop(engine)
    shop.begin()
    shop.write()
    process = shop.processes[0]
    assert shop.told(process).journals
    with pytest.raises(NotFound):
        shop.told(process, shop.other)
    assert shop.told(process).journals


def test_no_more_is_kept_than_there_is_room_for(engine: Engine) -> None:
    shops = [Shop(engine, seed) for seed in range(3)]
    for shop in shops:
        shop.begin()
        for _ in range(3):
            shop.write()
    process = KeptPasts(most_bytes=max(shop.told(KeptPasts()).size_bytes for shop in shops) + 1)
    first = [shop.told(process) for shop in shops]
    again = [shop.told(process) for shop in reversed(shops)]
    # The newest is there still; the one before it had to go for it.
    assert again[0] is first[2] and again[1] is not first[1]
    assert again[1].journals == first[1].journals


def test_a_bench_a_little_larger_than_the_room_is_kept_for_the_most_part(engine: Engine) -> None:
    shops = [Shop(engine, seed) for seed in range(12)]
    for shop in shops:
        shop.begin()
        shop.write()
    needed = sum(shop.told(KeptPasts()).size_bytes for shop in shops)
    process = KeptPasts(most_bytes=needed * 5 // 6)
    looks = [[shop.told(process) for shop in shops] for _ in range(10)]
    pairs = [pair for before, after in pairwise(looks) for pair in zip(before, after, strict=True)]
    assert all(one.journals == other.journals for one, other in pairs)
    # Were the oldest forgotten, none would ever be there still.
    assert len(pairs) / 3 < sum(one is other for one, other in pairs) < len(pairs)


def test_what_follows_from_a_past_is_worked_out_once_and_not_for_ever(engine: Engine) -> None:
    shop = Shop(engine)
    shop.begin()
    past, worked = shop.told(KeptPasts()), list[int]()
    for _ in range(2):
        assert past.once("one", lambda: worked.append(1) or "found") == "found"
    assert worked == [1]
    assert past.once("one", lambda: "later", when=1) == "later"
    assert past.once("one", lambda: "again", when=1) == "later"
    for number in range(100):
        past.once(number, str)
    assert past.once("one", lambda: "anew", when=1) == "anew"


def test_the_latest_few_are_kept() -> None:
    latest, worked = Latest[str](2), list[str]()

    def ask(what: str) -> str:
        return latest.of(what, lambda: worked.append(what) or what.upper())

    assert [ask(what) for what in "abaca"] == ["A", "B", "A", "C", "A"]
    assert worked == ["a", "b", "c"]
    ask("b")
    assert worked == ["a", "b", "c", "b"]
