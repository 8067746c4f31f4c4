"""The commands that look after the data: backup, restore, doctor, move."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

from webapp.command.opening import place_of
from webapp.command.serving import CannotStart, prepare_folder
from webapp.store import backups, lock, postgres, sqlite
from webapp.store.engine import Place, name_of, open_store
from webapp.store.errors import Unusable
from webapp.store.trouble import CANNOT
from webapp.store.upkeep import doctor, move, restore
from webapp.web.settings import Settings

SERVERS_WORK = (
    "copies of a database on a server are the server's own work (pg_dump, pg_restore); "
    "`benchside move --from ADDRESS --to FILE` also makes a file of it."
)


def make_backup(given: argparse.Namespace) -> None:
    """A copy of the data under a name of the player's own, also while the app runs."""
    source, target = _file_of(given.settings), given.file.expanduser().absolute()
    if not source.exists():
        raise CannotStart(f"there is no data in {source.parent} yet.")
    if target.exists():
        raise CannotStart(f"there is a file {target} already; choose another name.")
    try:
        sqlite.check_file(source)
        backups.copy_to(source, target)
    except CANNOT as problem:
        raise CannotStart(
            f"the copy {target} could not be made ({problem}); nothing is left of it."
        ) from problem
    print(f"Copied to {target}")


def put_back(given: argparse.Namespace) -> None:
    """A copy in the data's place; what was there is kept aside."""
    path = _file_of(given.settings)
    prepare_folder(path.parent)
    try:
        with lock.hold(path):
            done = restore.restore(path, given.file.expanduser().absolute(), datetime.now(UTC))
            # Brings an older copy up to date at once, so that whatever is wrong is said here.
            open_store(path).dispose()
    except CANNOT as problem:
        raise CannotStart(f"{given.file} could not be put back ({problem}).") from problem
    print(f"Put back: {given.file}")
    if done.aside is not None:
        print(f"What was there before is kept in {done.aside}")


def why_damaged(place: Place) -> str:
    """What is damaged in a file of ours, and what to do, as a sentence; empty where nothing is found."""
    if not isinstance(place, Path) or not place.exists():
        return ""
    found = [one for one in doctor.examine(place, datetime.now(UTC)) if "restore" in one.todo]
    return f"{found[0].what} {found[0].todo}" if found else ""


def examine(given: argparse.Namespace) -> int:
    """Says how the data is and what there is to do; the exit code is 1 where there is something."""
    place = place_of(given.settings)
    if isinstance(place, Path):
        findings = doctor.examine(place, datetime.now(UTC))
    else:
        findings = doctor.examine_server(place)
    for finding in findings:
        print(f"{'To do' if finding.todo else 'Good '}  {finding.what}")
        if finding.todo:
            print(f"       -> {finding.todo}")
    return int(any(finding.todo for finding in findings))


def move_all(given: argparse.Namespace) -> None:
    """A whole database to another place, every row compared."""
    source, target = _place(given.source), _place(given.target)
    if isinstance(source, Path) and not source.is_file():
        raise CannotStart(f"there is no file {source}.")
    with ExitStack() as held:
        for file in (place for place in (source, target) if isinstance(place, Path)):
            prepare_folder(file.parent)
            held.enter_context(lock.hold(file))
        old = open_store(source)
        held.callback(old.dispose)
        new = open_store(target)
        held.callback(new.dispose)
        moved = move.move(old, new, name_of(target))
    for one in moved:
        print(f"{one.table:20} {one.rows:9}  {one.digest[:16]}")
    print(f"Moved to {name_of(target)}; every row was compared. {name_of(source)} is as it was.")
    print("Lesson links stay the same as long as the data folder's file links.key goes along.")


def _place(words: str) -> Place:
    return postgres.read_url(words) if "://" in words else Path(words).expanduser().absolute()


def _file_of(settings: Settings) -> Path:
    place = place_of(settings)
    if not isinstance(place, Path):
        raise Unusable(SERVERS_WORK)
    return place
