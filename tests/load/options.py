"""What can be asked of the load script. It is bounded, and it only plays against a server of its own."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from webapp.store.lessons import STUDENTS_AT_MOST

SECONDS = {"class": 300, "phone": 60, "contest": 100}
TURNS = 4
MOST_STUDENTS, MOST_SECONDS, MOST_STEPS_PER_S, MOST_WORKERS = 1000, 3600, 1000, 8
LONGEST_JOINING_S = 60.0


@dataclass(frozen=True)
class Options:
    """One run. `lessons` are as many classes as the students are shared out to.

    `kept` is whether a connection stays open for the next request, as a browser's own does. `turn_s` is how
    long each turn of a contest is.
    """

    form: str
    students: int
    seconds: int
    steps_per_s: float
    workers: int
    lessons: int
    one_address: bool
    kept: bool
    joining_s: float
    seed: int

    @property
    def turn_s(self) -> float:
        return self.seconds / TURNS


def read_options(arguments: Sequence[str] | None = None) -> Options:
    """Leaves with 2 and a sentence where something is out of bounds."""
    given = _parser().parse_args(arguments)
    seconds = given.seconds or SECONDS[given.form]
    return Options(
        form=given.form,
        students=given.students,
        seconds=seconds,
        steps_per_s=given.steps,
        workers=given.workers,
        lessons=given.lessons or -(-given.students // STUDENTS_AT_MOST),
        one_address=given.addresses == "one",
        kept=given.form == "phone" or given.connections == "kept",
        joining_s=min(given.joining or LONGEST_JOINING_S, seconds / 2 if given.joining else seconds / 5),
        seed=given.seed,
    )


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.load",
        description="Plays a class, or one phone, against a Benchside of its own on this computer.",
    )
    parser.add_argument(
        "--form", choices=tuple(SECONDS), default="class",
        help="a class (default), a phone, or a class without any thinking in contest with a bare route",
    )  # fmt: skip
    parser.add_argument(
        "--students", type=_whole(MOST_STUDENTS), default=200, help="of the class; default 200"
    )
    parser.add_argument(
        "--seconds", type=_whole(MOST_SECONDS),
        help=f"how long; default {SECONDS['class']} for a class, {SECONDS['phone']} for a phone, "
        f"{SECONDS['contest']} for the {TURNS} turns of a contest",
    )  # fmt: skip
    parser.add_argument(
        "--steps", type=_number(MOST_STEPS_PER_S), default=100.0,
        help="forms sent in a second, by all together; default 100",
    )  # fmt: skip
    parser.add_argument("--workers", type=_whole(MOST_WORKERS), default=2, help="of the server; default 2")
    parser.add_argument(
        "--lessons", type=_whole(MOST_STUDENTS),
        help=f"lessons that the students are shared out to; default one for {STUDENTS_AT_MOST}",
    )  # fmt: skip
    parser.add_argument(
        "--addresses", choices=("one", "each"), default="one",
        help="whether all students call from one address, as from a school, or each from one of their own",
    )  # fmt: skip
    parser.add_argument(
        "--connections", choices=("kept", "fresh"), default="kept",
        help="kept open for the next request (default), or a fresh one for each, as some proxies do",
    )  # fmt: skip
    parser.add_argument(
        "--joining", type=_number(MOST_SECONDS), metavar="SECONDS",
        help="over how long the students come in; default a fifth of the time, a minute at most",
    )  # fmt: skip
    parser.add_argument("--seed", type=int, default=7, help="of what the students do; default 7")
    return parser


def _whole(most: int) -> Callable[[str], int]:
    def whole(typed: str) -> int:
        value = int(typed)
        if not 1 <= value <= most:
            raise argparse.ArgumentTypeError(f"from 1 to {most}")
        return value

    return whole


def _number(most: float) -> Callable[[str], float]:
    def number(typed: str) -> float:
        value = float(typed)
        if not 0 < value <= most:
            raise argparse.ArgumentTypeError(f"more than 0, up to {most:g}")
        return value

    return number
