"""Runs the buzz trial and prints its tables: ``python -m tests.trial.buzz --seed 1 --count 400 --jobs 2``.

``--string modes`` plucks another string than the one on the grid; ``--unasked`` leaves the questions
unanswered.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from time import perf_counter

import numpy as np

from tests.trial.buzz.faults import CAUSES, plant
from tests.trial.buzz.finder import asked
from tests.trial.buzz.player import told
from tests.trial.buzz.report import Result, table
from tests.trial.buzz.sound import STRINGS
from tests.trial.world import WORLDS


@dataclass(frozen=True)
class Trial:
    """One seed under one set of conditions; instrument number i has cause i of the list, round and round."""

    seed: int
    string: str = "grid"
    mismarked: float = 0.05
    world: str = "plain"
    ask: bool = True

    def one(self, index: int) -> Result:
        rng = np.random.default_rng([self.seed, index, 7])
        planted = plant(list(CAUSES)[index % len(CAUSES)], rng, self.string)
        known = told(planted, rng, self.seed, index, self.mismarked, WORLDS[self.world])
        causes = asked(known if self.ask else replace(known, answers={}))
        return Result(planted.cause, planted.key, tuple((c.key.value, c.score) for c in causes))


def many(trial: Trial, count: int, jobs: int = 1) -> list[Result]:
    """The first so many instruments of a seed, in this process or in several."""
    if jobs <= 1:
        return [trial.one(index) for index in range(count)]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(partial(trial.one), range(count), chunksize=10))


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.trial.buzz", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--string", choices=STRINGS, default="grid")
    parser.add_argument("--world", choices=sorted(WORLDS), default="plain", help="how the tools are")
    parser.add_argument("--mismarked", type=float, default=0.05, help="share of notes marked wrongly")
    parser.add_argument("--unasked", action="store_true", help="leave the questions unanswered")
    asks = parser.parse_args(words)
    began = perf_counter()
    trial = Trial(asks.seed, asks.string, asks.mismarked, asks.world, not asks.unasked)
    results = many(trial, asks.count, asks.jobs)
    print(f"seed {asks.seed}, string {asks.string}, {perf_counter() - began:.0f} s\n")
    print(table(results))


if __name__ == "__main__":
    main()
