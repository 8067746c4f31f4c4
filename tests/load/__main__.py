"""Plays a class of students, or one phone, against a Benchside that is started for it; prints what came out.

    .venv/bin/python -m tests.load                  200 students for five minutes, on PostgreSQL
    .venv/bin/python -m tests.load --form phone     one phone for a minute, on SQLite

It ends with 0 if nothing went wrong, however quick or slow it was. `--help` lists what can be changed.
"""

from __future__ import annotations

import asyncio
import signal
import sys
from contextlib import ExitStack

from tests.load.house import NotStarted, at_home, hosted, kept_forms
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
        opened = hosted(options.workers, options.kept) if options.form == "class" else at_home()
        house, database = stack.enter_context(opened)
        # The first to be done on the way out: nobody interrupts the tidying up.
        stack.callback(lambda: signal.signal(signal.SIGINT, signal.SIG_IGN))
        came = asyncio.run(play(options, house, database))
        house.stop()
        lost = len(set(came.tally.kept) - kept_forms(house.store))
        for line in told(came, lost, house.troubles()):
            print(line, flush=True)
    return 1 if came.tally.faults or lost else 0


def _say(options: Options) -> None:
    if options.form == "phone":
        print(f"One phone on SQLite, for {options.seconds} s.", flush=True)
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
