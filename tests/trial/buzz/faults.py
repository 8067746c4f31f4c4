"""One cause of buzz, planted in an instrument that played clean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.trial.buzz.board import Array, Board, Note
from tests.trial.buzz.sound import Rng, sound


@dataclass(frozen=True)
class Planted:
    """What is wrong, and what rattles of it. `fret` is the uneven one, `tired` the old strings."""

    cause: str
    board: Board
    rattles: frozenset[Note]
    fret: int | None = None
    tired: frozenset[int] = frozenset()

    @property
    def key(self) -> str:
        """The cause as a finder should name it."""
        return "uneven_fret" if self.cause in ("high_fret", "worn_fret") else self.cause


# Nobody looks for the cause of less than so many notes.
LEAST = {"nut_low": 1, "high_fret": 2, "worn_fret": 2, "technique": 2}
LEAST_OTHERS = 3


def plant(cause: str, rng: Rng, string: str) -> Planted:
    """Draw until the planted cause is heard enough to be looked for."""
    while True:
        board, bow = sound(rng, string)
        found = CAUSES[cause](rng, board, bow)
        if len(found.rattles) >= LEAST.get(cause, LEAST_OTHERS):
            return replace(found, cause=cause)


def _by_the_frets(board: Board, fret: int | None = None) -> Planted:
    return Planted("", board, board.rattles(), fret)


def _too_low(rng: Rng, board: Board, bow: Array) -> Planted:
    """The strings let down: all, one, or more and more towards one side."""
    way, by = rng.random(), rng.uniform(0.4, 1.1)
    one, side = int(rng.choice(board.strings)), rng.random() < 0.5
    for number in board.strings:
        across = (number - 1) / (len(board.strings) - 1)
        share = 1.0 if way < 0.5 else float(number == one) if way < 0.8 else across if side else 1 - across
        board = board.at_height(number, board.height(number) - by * share)
    return _by_the_frets(board)


def _too_straight(rng: Rng, board: Board, bow: Array) -> Planted:
    wanted = board.kind.bands.relief_target[0] - rng.uniform(0.08, 0.40)
    return _by_the_frets(board.bent(bow, wanted - board.relief(), keep_heights=rng.random() < 0.5))


def _too_bowed(rng: Rng, board: Board, bow: Array) -> Planted:
    wanted = board.kind.bands.relief_target[1] + rng.uniform(0.15, 0.7)
    return _by_the_frets(board.bent(bow, wanted - board.relief(), keep_heights=True))


def _nut_low(rng: Rng, board: Board, bow: Array) -> Planted:
    """One slot or two cut too deep, now and then all."""
    count = int(rng.choice([1, 2, len(board.strings)], p=[0.6, 0.25, 0.15]))
    for number in rng.choice(board.strings, count, replace=False):
        board = board.at_nut_gap(int(number), rng.uniform(0.0, 0.2))
    return _by_the_frets(board)


def _high_fret(rng: Rng, board: Board, bow: Array) -> Planted:
    fret = int(rng.integers(2, board.kind.frets + 1))
    return _by_the_frets(board.risen(_at_one(rng, board, fret, rng.uniform(0.06, 0.32))), fret)


def _worn_fret(rng: Rng, board: Board, bow: Array) -> Planted:
    """Fingers wear the lower frets more."""
    fret = int(min(rng.integers(1, board.kind.frets), rng.integers(1, board.kind.frets)))
    return _by_the_frets(board.risen(_at_one(rng, board, fret, -rng.uniform(0.06, 0.32))), fret)


def _at_one(rng: Rng, board: Board, fret: int, by_mm: float) -> Callable[[int, int], float]:
    """A fret that is off right across, or most under one string and less beside it."""
    across, middle = rng.random() < 0.5, int(rng.integers(len(board.strings)))

    def rise(index: int, at: int) -> float:
        share = 1.0 if across else np.exp(-((index - middle) ** 2) / 0.8)
        return float(by_mm * share * (at == fret))

    return rise


def _upper_board(rng: Rng, board: Board, bow: Array) -> Planted:
    """The board past the joint swells, turns up, or drops away behind a crest: smooth lines of
    millimetres, not of frets."""
    kind, x = board.kind, board.x
    way, by = rng.random(), rng.uniform(0.12, 0.45)
    top = x[kind.joint] + rng.uniform(-0.2, 0.6) * (x[-1] - x[kind.joint])
    wide = rng.uniform(0.05, 0.11) * kind.scale_mm
    swell = np.exp(-(((x - top) / wide) ** 2))
    up = np.clip((x - x[kind.joint - 1]) / (x[-1] - x[kind.joint - 1]), 0, None) ** rng.uniform(1.0, 1.6)
    crest = np.where(x < x[kind.joint], np.exp(-(((x - x[kind.joint]) / wide) ** 2)), 1 - 2 * up)
    line = by * (swell if way < 0.4 else up if way < 0.7 else crest)
    found = _by_the_frets(board.risen(lambda index, fret: float(line[fret])))
    # Where a single fret is all that rattles, nobody could call it a stretch of board.
    return found if len({fret for _, fret in found.rattles}) > 1 else replace(found, rattles=frozenset())


def _loose(rng: Rng, board: Board, bow: Array) -> Planted:
    """A saddle that rattles under its string, a part that hums at one pitch, or one that open strings
    shake."""
    way, one = rng.random(), int(rng.choice(board.strings))
    frets, strings = board.kind.frets, board.kind.strings
    if way < 0.5:
        often = rng.uniform(0.3, 0.9)
        notes = {(one, fret) for fret in range(frets + 1) if rng.random() < often}
    elif way < 0.85:
        pitches = {number: strings[board.index(number)].semitones for number in board.strings}
        pitch = int(rng.integers(min(pitches.values()) + 5, max(pitches.values()) + frets - 11))
        at = {(number, pitch - low) for number, low in pitches.items() if 0 <= pitch - low <= frets}
        notes = {note for note in at if rng.random() < 0.9}
    else:
        notes = {(number, 0) for number in board.strings if rng.random() < 0.6}
    return Planted("", board, frozenset(notes))


def _old_string(rng: Rng, board: Board, bow: Array) -> Planted:
    """Dents and dirt: notes here and there on one string or on the whole set."""
    every, one, often = rng.random() < 0.6, int(rng.choice(board.strings)), rng.uniform(0.1, 0.3)
    tired = frozenset(board.strings if every else [one])
    notes = {(n, fret) for n in tired for fret in range(board.kind.frets + 1) if rng.random() < often}
    return Planted("", board, frozenset(notes), tired=tired)


def _technique(rng: Rng, board: Board, bow: Array) -> Planted:
    """A few notes pressed badly, anywhere on the board."""
    count = int(rng.integers(2, 7))
    notes = {(int(rng.choice(board.strings)), int(rng.integers(1, board.kind.frets))) for _ in range(count)}
    return Planted("", board, frozenset(notes))


CAUSES: dict[str, Callable[[Rng, Board, Array], Planted]] = {
    "too_low": _too_low,
    "too_straight": _too_straight,
    "too_bowed": _too_bowed,
    "nut_low": _nut_low,
    "high_fret": _high_fret,
    "worn_fret": _worn_fret,
    "upper_board": _upper_board,
    "loose": _loose,
    "old_string": _old_string,
    "technique": _technique,
}
