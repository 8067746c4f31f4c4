"""Runs the trial and prints its table: ``python -m tests.trial --seed 1 --count 240 --world plain --jobs 2``.

``--only NUMBER --verbose`` replays one instrument, a line a step. ``--seat module:Class`` sits the players
down to another seat; ``--seat ""`` runs the recipe alone.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from time import perf_counter

from tests.trial.report import complaints, table
from tests.trial.run import SEAT, Case, Trial, try_one
from tests.trial.world import WORLDS


def main(words: Sequence[str] | None = None) -> None:
    asked = _asked(words)
    trial = Trial(asked.seed, WORLDS[asked.world], asked.seat, not asked.no_recipe, asked.passes)
    if asked.only is not None:
        case = try_one(trial, asked.only, print if asked.verbose else None)
        for number, result in enumerate(case.passes):
            said = ", ".join(text for _, text in complaints(result)) or "nothing to complain of"
            print(
                f"pass {number + 1}: {said}; {result.counts.turns} turns, {result.counts.readings} readings"
            )
        return
    began = perf_counter()
    cases = many(trial, range(asked.start, asked.start + asked.count), asked.jobs)
    print(
        f"seed {asked.seed}, {asked.count} instruments, world {asked.world}, {perf_counter() - began:.0f} s\n"
    )
    print(table(cases))


def many(trial: Trial, indexes: Sequence[int], jobs: int = 1) -> list[Case]:
    """Try them all, in this process or in several."""
    if jobs <= 1:
        return [try_one(trial, index) for index in indexes]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(partial(try_one, trial), indexes, chunksize=4))


def _asked(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.trial", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=240)
    parser.add_argument("--start", type=int, default=0, help="the first instrument's number")
    parser.add_argument("--world", choices=sorted(WORLDS), default="plain")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--passes", type=int, default=2, help="setups of each instrument, a night between")
    parser.add_argument("--seat", default=SEAT, help="module:Class, or empty for the recipe alone")
    parser.add_argument("--no-recipe", action="store_true")
    parser.add_argument("--only", type=int, help="this instrument alone")
    parser.add_argument("--verbose", action="store_true", help="with --only: a line for every step")
    return parser.parse_args(words)


if __name__ == "__main__":
    main()
