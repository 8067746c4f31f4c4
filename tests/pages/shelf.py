"""Puts a journal that was written in a test into the store, as if it had been recorded page by page."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from sqlalchemy import Engine

from tests.setups.journals import Bench
from webapp.store import benches, entries, instruments, setups
from webapp.store.engine import writing

_FORMS = count(1)


def shelve(engine: Engine, bench: Bench, instrument: str = "", finished: bool = True) -> tuple[str, str]:
    """Keep the bench's journal as one setup; returns the ids of its instrument and of the setup."""
    with writing(engine) as session:
        owner = benches.get_or_create_local_bench(session).id
        form = f"shelf{next(_FORMS)}"
        instrument = instrument or instruments.add(session, owner, form, bench.spec.model_dump_json())
        begun = bench.entries[0].at if bench.entries else bench.now
        setup = setups.start(session, owner, instrument, form, begun)
        kept: dict[int, int] = {}
        for entry in bench.entries:
            new = replace(entry, voids=kept[entry.voids] if entry.voids else None)
            made = entries.append(session, owner, setup, f"{form}.{entry.id}", {}, [new], entry.at)
            kept[entry.id] = made[0].id
        if finished:
            version = instruments.get(session, owner, instrument).version
            setups.finish(session, owner, setup, version, bench.now)
    return instrument, setup
