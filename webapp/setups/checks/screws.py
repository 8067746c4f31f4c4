"""How far to turn a screw: the eighths that use the belief best, and how that is said."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from webapp.physics.mixture import Floats, Mixture
from webapp.setups.belief.neck import Threads
from webapp.setups.case import Case
from webapp.setups.journal import NO_ROOM, WAY, Entry
from webapp.setups.say import Say
from webapp.setups.slots import RELIEF, Slot

# Parts of the straight way to the target that are tried.
PARTS = (0.3, 0.5, 0.7, 0.8, 0.9, 1.0, 1.1)
# Five whole turns: more than that is measured in between.
MOST_EIGHTHS = 40
# So many places from one straight way to the other are tried.
BETWEEN = 6


def best_eighths(
    uses: Callable[[Floats], Floats], *straights: float, most: int = MOST_EIGHTHS
) -> tuple[int, float]:
    """Signed eighths with the best use, and what they gain over none; 0 where nothing gains.

    `uses` answers for several eighths at once; each of `straights` would take one mean to its target's
    middle: what lies between them is tried too.
    """
    tried = {round(straight * part) for straight in straights for part in PARTS}
    tried |= {round(straight) + step for straight in straights for step in (-2, -1, 1, 2)}
    least, width = min(straights), max(straights) - min(straights)
    tried |= {round(least + width * step / BETWEEN) for step in range(BETWEEN + 1)} if width else set()
    eighths = [0, *sorted({max(-most, min(most, e)) for e in tried} - {0}, key=abs)]
    gains = uses(np.array(eighths, dtype=float))
    best = int(np.argmax(gains > gains.max() - 1e-9))
    return eighths[best], float(gains[best] - gains[0])


def rows_turned(row: Floats, pitch: int, per_pitch: float, eighths: Floats) -> Floats:
    """The rows (c, d) of a value after so many eighths: each adds the pitch's share of a turn."""
    rows = np.tile(row, (len(eighths), 1))
    rows[:, pitch] = per_pitch * eighths / 8
    return rows


def thread_chance(mixture: Mixture, threads: Threads, mark: int, split: bool) -> float:
    """How surely the screws' thread is known: the chance of the likeliest one."""
    if not split:
        return float(threads.chances.max())
    classes = mixture.marks[:, mark]
    return max(float(mixture.weights[classes == one].sum()) for one in set(classes.tolist()))


def screw_basis(known: bool, told: bool) -> str:
    """What a forecast of a screw rests on."""
    if not known:
        return "an ordinary thread; this one is not known yet"
    return "the screw’s thread" if told else "the thread that these screws have shown"


def no_room(case: Case, slot: Slot, eighths: int) -> bool:
    """Whether the player said that it can go no further that way, and has not turned it since."""
    said = [o for o in case.journal.observations(slot.key) if o.detail.get("answer") == NO_ROOM]
    if not said or any(t.turn.own(slot) and t.id > said[-1].id for t in case.journal.turns):
        return False
    way = said[-1].detail.get(WAY)
    if not way:
        return True
    backwards = _went_the_other_way(case, slot, said[-1], way)
    return ((way > 0) == (eighths > 0)) is not backwards


def _went_the_other_way(case: Case, slot: Slot, said: Entry, way: int) -> bool:
    """Whether what is read since shows that the screw met its end after a turn the wrong way round."""
    before = [r for r in case.journal.readings(slot.key) if r.id < said.id]
    if not before:
        return False
    seen, stands = case.belief.standard(slot, before[-1]), case.standing(slot)
    change = stands.mean - (seen.low + seen.high) / 2
    # A saddle that is raised raises its string; back, it flattens it; rod, springs and pickups close a gap.
    meant = way if slot.over_neck and slot != RELIEF else -way
    return change * meant < 0 and stands.give < abs(change) < math.inf


def now_words(say: Say, eighths: int, known: bool) -> str:
    """'a quarter turn'; where more will follow, 'one turn for now'."""
    return say.turns(eighths) if known else f"{say.turns(eighths)} for now"
