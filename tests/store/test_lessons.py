from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import Engine

from webapp.store import benches, instruments, lessons, setups, sqlite
from webapp.store.engine import open_store, reading, writing
from webapp.store.errors import AlreadyRecorded, NotFound, Stale
from webapp.store.keys import hashed
from webapp.store.migrate import config

NOW = datetime(2026, 4, 3, 12, 0, tzinfo=UTC)
SEED = b"the links' key"


class School:
    """A teacher's bench with a lesson, and students who begin it."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        with writing(engine) as session:
            self.bench, self.other = benches.make(session, NOW), benches.make(session, NOW)
            self.lesson = lessons.add(session, self.bench, "form", "first", 60, NOW, SEED)

    def student(self, finished: bool = True) -> tuple[str, str]:
        """The student's bench and setup."""
        with writing(self.engine) as session:
            bench = benches.make(session, NOW)
            instrument = instruments.add(session, bench, "form", "{}")
            setup = setups.start(session, bench, instrument, "form", NOW)
            lessons.bind(session, bench, setup, self.lesson)
            if finished:
                setups.finish(session, bench, setup, 1, NOW)
        return bench, setup

    def token(self, seed: bytes = SEED) -> str:
        with reading(self.engine) as session:
            return lessons.token_of(session, self.bench, self.lesson, seed)

    def opened(self, token: str) -> str | None:
        with reading(self.engine) as session:
            row = lessons.open_by(session, token)
            return None if row is None else row.id

    def hand_in(self, bench: str, setup: str, name: str = "Ann") -> None:
        with writing(self.engine) as session:
            lessons.hand_in(session, bench, setup, name, "{}", NOW)

    def handed(self) -> list[str]:
        with reading(self.engine) as session:
            return [row.name for row in lessons.hand_ins_for(session, self.bench, self.lesson)]


@pytest.fixture
def school(engine: Engine) -> School:
    return School(engine)


def test_the_link_can_be_shown_again_though_only_its_hash_is_kept(school: School, engine: Engine) -> None:
    token = school.token()
    assert len(token) * 6 >= 160
    assert school.opened(token) == school.lesson
    assert school.token() == token
    with engine.connect() as connection:
        kept = repr(connection.exec_driver_sql("SELECT * FROM lesson").fetchall())
    assert token not in kept
    for other in ("", token[:-1], token.swapcase(), hashed(token), school.lesson):
        assert school.opened(other) is None, other


def test_without_its_key_the_link_still_works_but_is_not_shown(school: School) -> None:
    assert school.token(b"another key") == ""
    assert school.opened(school.token()) == school.lesson


def test_a_new_link_replaces_the_old_one(school: School, engine: Engine) -> None:
    old = school.token()
    with writing(engine) as session:
        lessons.renew_link(session, school.bench, school.lesson, SEED)
    assert school.opened(old) is None
    assert school.token() != old and school.opened(school.token()) == school.lesson


def test_the_same_form_makes_one_lesson(school: School, engine: Engine) -> None:
    with writing(engine) as session, pytest.raises(AlreadyRecorded) as again:
        lessons.add(session, school.bench, "form", "twice", 60, NOW, SEED)
    assert again.value.recorded_id == school.lesson


def test_a_change_makes_a_version_unless_another_was_quicker(school: School, engine: Engine) -> None:
    with writing(engine) as session:
        lessons.revise(session, school.bench, school.lesson, "second", 20, 1, NOW + timedelta(hours=1))
        row = lessons.get(session, school.bench, school.lesson)
        assert (row.version, row.sheet_json, row.students) == (2, "second", 20)
        assert (row.created_at, row.changed_at) == (NOW, NOW + timedelta(hours=1))
        with pytest.raises(Stale):
            lessons.revise(session, school.bench, school.lesson, "third", 20, 1, NOW)
        lessons.revise(session, school.bench, school.lesson, "second", 30, 2, NOW)
        assert lessons.get(session, school.bench, school.lesson).version == 2


def test_a_setup_follows_the_lesson_until_it_is_finished(school: School, engine: Engine) -> None:
    bench, done = school.student()
    other, going_on = school.student(finished=False)
    with writing(engine) as session:
        lessons.revise(session, school.bench, school.lesson, "second", 60, 1, NOW)
        assert lessons.sheet_for_setup(session, bench, done) == "first"
        assert lessons.sheet_for_setup(session, other, going_on) == "second"
        with pytest.raises(NotFound):
            lessons.sheet_for_setup(session, other, done)


def test_a_setup_of_no_lesson_has_none(school: School, engine: Engine) -> None:
    with writing(engine) as session:
        instrument = instruments.add(session, school.bench, "form", "{}")
        setup = setups.start(session, school.bench, instrument, "form", NOW)
        assert lessons.sheet_for_setup(session, school.bench, setup) is None
        setups.finish(session, school.bench, setup, 1, NOW)
        with pytest.raises(NotFound):
            lessons.hand_in(session, school.bench, setup, "Ann", "{}", NOW)


def test_another_benchs_lesson_is_not_there(school: School, engine: Engine) -> None:
    _, setup = school.student()
    with writing(engine) as session:
        for act in (
            lambda: lessons.get(session, school.other, school.lesson),
            lambda: lessons.revise(session, school.other, school.lesson, "x", 60, 1, NOW),
            lambda: lessons.token_of(session, school.other, school.lesson, SEED),
            lambda: lessons.renew_link(session, school.other, school.lesson, SEED),
            lambda: lessons.bind(session, school.other, setup, school.lesson),
            lambda: lessons.hand_ins_for(session, school.other, school.lesson),
            lambda: lessons.add(session, "no-such-one", "form", "x", 60, NOW, SEED),
        ):
            with pytest.raises(NotFound):
                act()
        assert lessons.list_for(session, school.other) == []


def test_students_and_setups_are_counted(school: School, engine: Engine) -> None:
    school.student()
    bench, _ = school.student(finished=False)
    with writing(engine) as session:
        instrument = instruments.add(session, bench, "another", "{}")
        lessons.bind(session, bench, setups.start(session, bench, instrument, "another", NOW), school.lesson)
        assert lessons.students_of(session, school.lesson) == 2
        assert lessons.setups_of(session, school.lesson) == 3


def test_a_bench_has_so_many_lessons_at_most(
    school: School, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lessons, "AT_MOST", 1)
    with writing(engine) as session, pytest.raises(lessons.TooManyStudents):
        lessons.add(session, school.bench, "another", "x", 60, NOW, SEED)


# hand-ins


@pytest.mark.parametrize("finished", [False, True])
def test_a_setup_stands_once_on_the_sheet_and_is_taken_back(
    school: School, engine: Engine, finished: bool
) -> None:
    bench, setup = school.student(finished=finished)
    school.hand_in(bench, setup)
    school.hand_in(bench, setup, "Ann again")
    assert school.handed() == ["Ann again"]
    with writing(engine) as session:
        lessons.take_hand_in_back(session, bench, setup)
        lessons.take_hand_in_back(session, bench, setup)
        assert lessons.hand_in_of(session, bench, setup) is None
    assert school.handed() == []
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM hand_in").scalar() == 0
    school.hand_in(bench, setup, "Ann B")
    assert school.handed() == ["Ann B"]


def test_nobody_hands_in_or_takes_back_for_another(school: School, engine: Engine) -> None:
    bench, setup = school.student()
    stranger, _ = school.student()
    school.hand_in(bench, setup)
    with writing(engine) as session:
        for someone in (stranger, school.bench):
            with pytest.raises(NotFound):
                lessons.hand_in(session, someone, setup, "Eve", "{}", NOW)
            with pytest.raises(NotFound):
                lessons.take_hand_in_back(session, someone, setup)
            with pytest.raises(NotFound):
                lessons.hand_in_of(session, someone, setup)
    assert school.handed() == ["Ann"]


def test_a_teacher_takes_a_hand_in_off_their_own_sheet_only(school: School, engine: Engine) -> None:
    bench, setup = school.student()
    school.hand_in(bench, setup)
    with writing(engine) as session:
        (row,) = lessons.hand_ins_for(session, school.bench, school.lesson)
        theirs = lessons.add(session, school.other, "form", "x", 60, NOW, SEED)
        for who, lesson in ((school.other, school.lesson), (school.other, theirs), (school.bench, theirs)):
            with pytest.raises(NotFound):
                lessons.remove_hand_in(session, who, lesson, row.id)
        lessons.remove_hand_in(session, school.bench, school.lesson, row.id)
    assert school.handed() == []


def test_a_lesson_holds_so_many_hand_ins_at_most(
    school: School, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lessons, "PER_STUDENT", 1)
    with writing(engine) as session:
        lessons.revise(session, school.bench, school.lesson, "first", 1, 1, NOW)
    school.hand_in(*school.student())
    with pytest.raises(lessons.Full):
        school.hand_in(*school.student())


def test_setups_from_before_there_were_lessons_are_kept_whole(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite3"
    engine = sqlite.connect(path, foreign_keys=False)
    with engine.execution_options(bench_writes=True).begin() as connection:
        settings = config()
        settings.attributes["connection"] = connection
        command.upgrade(settings, "0003")
    engine.dispose()
    database = sqlite3.connect(path)
    at = "2026-04-03T12:00:00.000000+00:00"
    database.execute("INSERT INTO bench VALUES ('b', ?, 'mm', 0)", (at,))
    database.execute("INSERT INTO instrument VALUES ('i', 'b', ?, 'f', NULL)", (at,))
    database.execute("INSERT INTO setup VALUES ('s', 'i', 'f', ?, NULL, NULL)", (at,))
    rest = "'note', 'start', 'start', NULL, '', 'x', '', NULL, '{}', NULL"
    database.execute(f"INSERT INTO entry VALUES (7, 's', 'f', 0, ?, {rest})", (at,))
    database.commit()
    database.close()
    upgraded = open_store(path)
    with writing(upgraded) as session:
        assert setups.get(session, "b", "s").lesson_id is None
        with pytest.raises(AlreadyRecorded):
            setups.start(session, "b", "i", "f", NOW)
    with upgraded.connect() as connection:
        assert connection.exec_driver_sql("SELECT id, setup_id FROM entry").fetchall() == [(7, "s")]
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall() == []
    upgraded.dispose()
