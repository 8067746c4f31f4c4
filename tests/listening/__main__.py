"""Runs the listening trial and prints its table: ``python -m tests.listening --seed 1 --count 10 --jobs 2``.

``--buzz`` tries strings that strike the frets, ``--sampled`` sampled instruments (with FluidSynth there).
``--only NUMBER:LABEL:DAMAGE`` runs one take and prints what it gave.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

from tests.listening import rattle, sampled
from tests.listening.damage import av
from tests.listening.report import table
from tests.listening.trial import jobs, one


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.listening")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=6, help="takes of each string at each damage")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--sampled", action="store_true", help="sampled instruments instead")
    parser.add_argument("--buzz", action="store_true", help="strings over frets instead")
    parser.add_argument("--only", default="")
    asked = parser.parse_args(words)
    if asked.sampled:
        print(
            f"seed {asked.seed}, FluidSynth: {', '.join(font.name for font in sampled.FONTS) or 'not here'}\n"
        )
        print(sampled.table(asked.seed, asked.count))
        return
    if asked.buzz:
        print(f"seed {asked.seed}\n\n{rattle.table(asked.seed, asked.count)}")
        return
    if asked.only:
        number, label, damage = asked.only.split(":")
        print(one((asked.seed, int(number), label, damage)))
        return
    todo = jobs(asked.seed, asked.count)
    if asked.jobs == 1:
        scores = [one(job) for job in todo]
    else:
        with ProcessPoolExecutor(asked.jobs) as pool:
            scores = list(pool.map(one, todo, chunksize=4))
    codecs = "AAC and Opus" if av else "no codec (PyAV is not installed)"
    print(f"seed {asked.seed}, {len(scores)} takes, {codecs}\n")
    print(table(scores))


if __name__ == "__main__":
    main()
