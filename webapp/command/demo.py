"""Fills the demo bench, once, with the invented stories that content/demo.toml describes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from sqlalchemy import Engine

from webapp.setups.bench_file.schema import AirDay
from webapp.setups.invented.story import Story, TellingSetup, demo_air, tell
from webapp.setups.journal import Entry
from webapp.store import benches, entries, instruments, setups
from webapp.store.air_log import days as air
from webapp.store.engine import Session, writing
from webapp.trade.content import Trade

CLOSED_AFTER = timedelta(minutes=2)
LOGGED_ROWS = 24


def fill(engine: Engine, trade: Trade, now: datetime) -> None:
    """Puts the demo's instruments, their past and their air on an empty bench; a filled one is left alone."""
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session, is_demo=True)
        if instruments.list_all(session, bench.id, archived=True):
            return
        daily = demo_air(trade, now)
        logged = (AirDay(day, t, h, LOGGED_ROWS, air.LOGGED) for day, (t, h) in daily.items())
        air.add_days(session, bench.id, logged)
        for number, told in enumerate(trade.demo.instrument):
            _add(session, bench.id, f"demo-{number}", tell(trade, told, daily, now))


def _add(session: Session, bench_id: str, form_id: str, story: Story) -> None:
    instrument_id = instruments.add(session, bench_id, form_id, story.spec.model_dump_json())
    for number, told in enumerate(story.setups):
        setup_id = setups.start(session, bench_id, instrument_id, f"demo-{number}", told.started_at)
        for step, (at, made) in enumerate(_forms(told)):
            entries.append(session, bench_id, setup_id, f"demo-{step}", {}, made, at)
        if told.finished:
            setups.finish(session, bench_id, setup_id, 1, told.entries[-1].at + CLOSED_AFTER)


def _forms(told: TellingSetup) -> Iterator[tuple[datetime, Sequence[Entry]]]:
    """What was sent together: a quick check is one form, in a setup every entry is its own."""
    if told.quick:
        yield told.entries[-1].at, told.entries
        return
    for at, some in groupby(told.entries, key=lambda entry: entry.at):
        yield at, list(some)
