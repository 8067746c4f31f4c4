"""A setup's journal as the store has it."""

from __future__ import annotations

from webapp.setups.journal import Entry, Journal
from webapp.store import entries, setups
from webapp.store.engine import Session


def kept_entries(session: Session, bench_id: str, setup_id: str) -> list[Entry]:
    """Voided entries too, oldest first; raises NotFound where this bench has no such setup."""
    instrument = setups.get(session, bench_id, setup_id).instrument_id
    return list(entries.journals(session, bench_id, instrument).get(setup_id, Journal(())).entries)
