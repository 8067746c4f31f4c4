"""Plays a class of students, or one phone, against a Benchside that is started for it; prints what came out.

    .venv/bin/python -m tests.load                  200 students for five minutes, on PostgreSQL
    .venv/bin/python -m tests.load --form phone     one phone for a minute, on SQLite
    .venv/bin/python -m tests.load --form contest   the class without thinking, in turns with a bare route

It ends with 0 if nothing went wrong, however quick or slow it was. `--help` lists what can be changed.
"""

from __future__ import annotations

import asyncio
import signal
import sys
from contextlib import ExitStack

import psutil

from tests.load.bare import BareHouse
from tests.load.contest import contest, recorded, told_turns
from tests.load.house import House, NotStarted, at_home, hosted, kept_forms, started
from tests.load.options import Options, read_options
from tests.load.playing import play
from tests.load.told import told


def main() -> int:
    options = read_options()
    # Both ways of stopping it take everything down that it started, also where a shell had it ignore one.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, lambda *_: signal.raise_signal(signal.SIGINT))
    try:
        return run(options)
    except NotStarted as reason:
        print(f"load: {reason}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped; everything that was started for it is gone.", file=sys.stderr)
        return 130


def run(options: Options) -> int:
    """The whole run; whatever happens, nothing of it stays behind."""
    _say(options)
    with ExitStack() as stack:
        opened = at_home() if options.form == "phone" else hosted(options.workers, options.kept)
        house, database = stack.enter_context(opened)
        # The first to be done on the way out: nobody interrupts the tidying up.
        stack.callback(lambda: signal.signal(signal.SIGINT, signal.SIG_IGN))
        if database is not None and options.form == "contest":
            return _contest(options, house, database)
        came = asyncio.run(play(options, house, database))
        house.stop()
        lost = len(set(came.tally.kept) - kept_forms(house.store))
        for line in told(came, lost, house.troubles()):
            print(line, flush=True)
    return 1 if came.tally.faults or lost else 0


def _contest(options: Options, house: House, database: psutil.Process) -> int:
    answers = asyncio.run(recorded(house))
    bare = BareHouse(house.folder, house.database, house.workers, house.kept, answers=answers)
    with started(bare):
        turns, tallies = asyncio.run(contest(options, house, bare, database))
    for line in told_turns(turns):
        print(line, flush=True)
    faults = [fault for tally in tallies for fault in tally.faults]
    for fault in faults[:3]:
        print(f"  error: {fault}", flush=True)
    return 1 if faults else 0


def _say(options: Options) -> None:
    if options.form == "phone":
        print(f"One phone on SQLite, for {options.seconds} s.", flush=True)
        return
    if options.form == "contest":
        print(
            f"{options.students} students of one lesson, nobody thinking, and a bare route, in turns of "
            f"{options.turn_s:g} s each, once all came in ({options.joining_s:.0f} s); "
            f"{options.workers} workers each, PostgreSQL.",
            flush=True,
        )
        return
    behind = "all from one address" if options.one_address else "each from an address of their own"
    connections = "kept connections" if options.kept else "a fresh connection for each request"
    print(
        f"{options.students} students of {options.lessons} lesson(s), {behind}, for {options.seconds} s "
        f"({options.joining_s:.0f} s of them coming in), {options.steps_per_s:g} steps a second, "
        f"{connections}; {options.workers} workers on PostgreSQL.",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
