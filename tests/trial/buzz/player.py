"""What the player of a planted instrument hands over: readings by their tools, marks on a board, and
answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tests.trial.buzz.board import Board, Note
from tests.trial.buzz.faults import Planted
from tests.trial.buzz.sound import Rng
from tests.trial.tools import CARD_WORDS, EAR_WORDS, Kit, Reading, kit_of
from tests.trial.world import World

# How often an answer is true, and how often all inner strings, the nut, and the tuning were read at all.
TRUE_ANSWER, INNER_READ, NUT_READ, TUNING_READ = 0.9, 0.8, 0.85, 0.5
AGES = ("fresh", "weeks", "months", "old", "unknown")
AGE_ODDS = {False: (0.3, 0.3, 0.2, 0.1, 0.1), True: (0.0, 0.05, 0.35, 0.5, 0.1)}
# A saddle's place and the nut's end, cents at the 12th; what a tired string adds anywhere.
SADDLE_CENTS, HIGH_CENTS, TIRED_CENTS = 5.0, 1.5, 5.0
QUESTIONS = ("loose", "technique", "neighbour")


@dataclass(frozen=True)
class Told:
    """Everything a finder may know. Slots as in the journal; `answers` by the question's name."""

    kind: str
    age: str
    readings: tuple[tuple[str, Reading], ...]
    marks: tuple[Note, ...]
    answers: dict[str, str]


def told(planted: Planted, rng: Rng, seed: int, index: int, mismarked: float, world: World) -> Told:
    """The player's side of a planted instrument. `mismarked` is the share of notes marked wrongly."""
    board = planted.board
    return Told(
        board.kind.key,
        str(rng.choice(AGES, p=AGE_ODDS[bool(planted.tired)])),
        tuple(_readings(planted, rng, kit_of(seed, index, world))),
        tuple(sorted(marked(board, planted.rattles, rng, mismarked))),
        answers(planted, rng),
    )


def marked(board: Board, rattles: frozenset[Note], rng: Rng, mismarked: float) -> set[Note]:
    """The marks: of the notes that rattle a few are missed, and about as many of all marks lie on notes
    that do not."""
    notes = [(number, fret) for number in board.strings for fret in range(board.kind.frets + 1)]
    heard = {note for note in notes if note in rattles and rng.random() >= mismarked}
    quiet = [note for note in notes if note not in rattles]
    stray = rng.binomial(max(len(rattles), ROUGHLY), mismarked) if quiet else 0
    heard |= {quiet[int(i)] for i in rng.choice(len(quiet), min(stray, len(quiet)), replace=False)}
    return heard or set(rattles)


ROUGHLY = 20  # a player tries about so many notes twice before marking them


def answers(planted: Planted, rng: Rng) -> dict[str, str]:
    """True nine times in ten."""
    truth = {
        "loose": planted.cause == "loose",
        "technique": planted.cause == "technique",
        "neighbour": _beside(planted.board, planted.rattles),
    }
    return {name: "yes" if truth[name] is (rng.random() < TRUE_ANSWER) else "no" for name in QUESTIONS}


def _beside(board: Board, rattles: frozenset[Note]) -> bool:
    """Whether most of the fretted notes that rattle do so on a neighbouring string too."""
    fretted = [(number, fret) for number, fret in rattles if fret]
    both = [
        any((near, at) in rattles for near in (number - 1, number + 1) for at in (fret - 1, fret, fret + 1))
        for number, fret in fretted
    ]
    return sum(both) * 2 > len(both)


def _readings(planted: Planted, rng: Rng, kit: Kit) -> Iterable[tuple[str, Reading]]:
    board = planted.board
    yield "relief", _relief(board, rng, kit)
    inner = rng.random() < INNER_READ
    for number in reversed(board.strings):
        if inner or number in (1, len(board.strings)):
            beside = board.height(number - 1 if number > 1 else number + 1)
            yield f"height.{number}", kit.read(rng, "height", kit.height, board.height(number), beside, [])
    if rng.random() < NUT_READ:
        words = list(CARD_WORDS) if kit.nut == "card" else []
        for number in reversed(board.strings):
            gap = max(board.height(number, 0, 1), 0.0)
            yield f"nut.{number}", kit.read(rng, "nut", kit.nut, gap, gap, words)
    if rng.random() < TUNING_READ:
        yield from _tuning(planted, rng, kit)


def _relief(board: Board, rng: Rng, kit: Kit) -> Reading:
    words = {"card": list(CARD_WORDS), "ear": list(EAR_WORDS)}.get(kit.relief, [])
    relief = board.relief()
    return kit.read(rng, "relief", kit.relief, relief, relief, words)


def _tuning(planted: Planted, rng: Rng, kit: Kit) -> Iterable[tuple[str, Reading]]:
    kind = planted.board.kind
    times = (2.0 ** (kind.high_fret / 12) - 1.0) / (2.0 - 1.0)
    for number in reversed(planted.board.strings):
        at_12 = rng.normal(0.0, SADDLE_CENTS)
        at_high = times * at_12 + rng.normal(0.0, HIGH_CENTS)
        wild = TIRED_CENTS if number in planted.tired else 0.0
        for role, cents in (("12", at_12), ("high", at_high)):
            truth = float(cents + rng.normal(0.0, 1.0) * wild)
            yield f"intonation.{number}.{role}", kit.read(rng, "intonation", "tuner", truth, truth, [])
