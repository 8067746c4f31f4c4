"""The data as a command finds it: to be served by this process alone, or beside a Benchside that runs."""

from __future__ import annotations

import logging
import sys
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine

from webapp.command.serving import prepare_folder
from webapp.store import backups, lock, postgres
from webapp.store.engine import Place, Session, open_beside, open_store, writing
from webapp.store.errors import InUse, Unusable
from webapp.store.trouble import CANNOT
from webapp.web.settings import Settings

LOG = logging.getLogger("benchside")
LOOK_EVERY_S = 3600
NO_COPY: tuple[type[Exception], ...] = (*CANNOT, Unusable)


def place_of(settings: Settings) -> Place:
    """Where this start's data is kept; raises Unusable for an address that is none."""
    return postgres.read_url(settings.database_url) if settings.database_url else settings.database


@contextmanager
def to_serve(settings: Settings) -> Iterator[Engine]:
    """The store, opened, upgraded, and a file of it copied once a day. Raises InUse for a second start."""
    place = place_of(settings)
    prepare_folder(settings.folder)
    if not isinstance(place, Path):
        with _opened(place) as engine:
            yield engine
        return
    with lock.hold(place, settings.address), _opened(place) as engine:
        if not settings.demo:
            _copy_daily(place)
        yield engine


@contextmanager
def _opened(place: Place) -> Iterator[Engine]:
    engine = open_store(place)
    try:
        yield engine
    finally:
        engine.dispose()


@contextmanager
def beside(settings: Settings) -> Iterator[Session]:
    """The data, whether the app runs on it or not; what is done is kept whole or not at all."""
    place = place_of(settings)
    prepare_folder(settings.folder)
    with ExitStack() as held:
        yield held.enter_context(_session(place, held))


def _session(place: Place, held: ExitStack) -> AbstractContextManager[Session]:
    """A file that nobody serves is opened as for serving it; while it is held, nobody begins to."""
    if isinstance(place, Path):
        try:
            held.enter_context(lock.hold(place))
        except InUse:
            engine = open_beside(place)
            held.callback(engine.dispose)
            return writing(engine)
    engine = open_store(place)
    held.callback(engine.dispose)
    return writing(engine)


def _copy_daily(path: Path) -> None:
    """Today's copy now, and each day's while it runs. Without room for one, it is served all the same."""
    try:
        backups.daily(path, datetime.now(UTC))
    except NO_COPY as problem:
        print(f"benchside: today's copy of the data could not be made: {problem}", file=sys.stderr)
    threading.Thread(target=_keep_copying, args=(path,), daemon=True, name="copies").start()


def _keep_copying(path: Path) -> None:
    while True:
        threading.Event().wait(LOOK_EVERY_S)
        try:
            backups.daily(path, datetime.now(UTC))
        except NO_COPY:
            LOG.exception("today's copy of the data could not be made")
