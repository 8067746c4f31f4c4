"""`benchside keys`: what holds a key to a bench, and taking keys back, for whoever may read the data."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import UTC, datetime

from webapp.command.opening import beside
from webapp.command.serving import CannotStart
from webapp.store import benches, keys, ways_in
from webapp.store.engine import Session
from webapp.store.errors import NotFound
from webapp.store.keys import KeyRow


def look_after(given: argparse.Namespace) -> None:
    """Lists, or takes back what was asked for. No secret is ever printed: only their hashes are kept."""
    now = datetime.now(UTC)
    with beside(given.settings) as session:
        bench_id = _bench(session, given.bench)
        held = keys.list_for(session, bench_id)
        if given.revoke_all:
            told = _all_back(session, bench_id, held, now)
        elif given.revoke:
            told = _one_back(session, bench_id, held, given.revoke, now)
        else:
            told = _listed(held)
    # Not before it is kept.
    for line in told:
        print(line)


def _bench(session: Session, asked: str) -> str:
    """The bench that is meant: the one asked for, or the one of the player's own computer."""
    if not asked:
        instance = benches.get(session)
        if instance is not None and instance.hosted:
            raise CannotStart("this Benchside is hosted: say which bench, with --bench=ID.")
        own = benches.local_bench(session)
        if own is None:
            raise CannotStart("there is no bench here yet.")
        return own.id
    try:
        benches.unit_of(session, asked)
    except NotFound as missing:
        raise CannotStart(f"there is no bench {asked!r} here.") from missing
    return asked


def _listed(held: Sequence[KeyRow]) -> list[str]:
    if not held:
        return ["No device holds a key to this bench. `benchside link` prints a link into it."]
    head = f"{'key':12}  {'made':16}  {'last used':16}  device"
    lines = [f"{key.id:12}  {_time(key.made_at)}  {_time(key.last_used_at)}  {_plain(key)}" for key in held]
    return [head, *lines]


def _one_back(
    session: Session, bench_id: str, held: Sequence[KeyRow], wanted: str, at: datetime
) -> list[str]:
    for key in held:
        if key.id == wanted:
            keys.revoke(session, bench_id, key.id, at)
            return [f"Taken back: {_plain(key)} ({key.id}). The next thing it asks for is refused."]
    raise CannotStart(f"no device of this bench holds a key {wanted!r}; `benchside keys` lists them.")


def _all_back(session: Session, bench_id: str, held: Sequence[KeyRow], at: datetime) -> list[str]:
    for key in held:
        keys.revoke(session, bench_id, key.id, at)
    ways_in.close_all(session, bench_id, at)
    many = "1 key" if len(held) == 1 else f"{len(held)} keys"
    return [
        f"Taken back: {many}, and every link and code into the bench that nobody had used yet.",
        "`benchside link` prints a new link into it.",
    ]


def _time(at: datetime) -> str:
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def _plain(key: KeyRow) -> str:
    """A name was typed on some device: nothing in it may move about in the terminal."""
    return "".join(sign if sign.isprintable() else "?" for sign in key.device_name)
