"""How one place is decided about: what is believed, what was read and moved, how far to turn a screw."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from webapp.physics.mixture import Floats, Mixture
from webapp.setups.belief.places import Threads
from webapp.setups.belief.standing import Standing
from webapp.setups.case import Case
from webapp.setups.journal import KEPT, NO_ROOM, WAY, Entry
from webapp.setups.say import Say
from webapp.setups.slots import RELIEF, Slot
from webapp.setups.states import Advice
from webapp.trade.ranges import Bands
from webapp.trade.words import Check

# So little is a gain where a place is surely off.
TRIAL_GAIN = 0.002
# Readings longer ago than a night belong to another sitting.
SITTING = timedelta(hours=10)


@dataclass(frozen=True)
class View:
    """What deciding about one place looks at. `fresh`: it was read in this setup and nothing moved it
    since."""

    slot: Slot
    bands: Bands
    standing: Standing
    reading: Entry | None
    moved_by: Entry | None
    doubted: bool
    accepted: bool
    reads: int
    reads_since: int
    passed: bool

    @property
    def mean(self) -> float:
        return self.standing.mean

    @property
    def give(self) -> float:
        return self.standing.give

    @cached_property
    def _chances(self) -> tuple[float, ...]:
        return self.standing.chances(self.bands.usual, self.bands.target)

    @property
    def usual(self) -> float:
        return self._chances[0]

    @property
    def target(self) -> float:
        return self._chances[1]

    @property
    def is_off(self) -> bool:
        """Whether it lies outside the usual band more likely than not: before that, nobody is sent to a
        repairer."""
        return self.usual < 0.5

    @property
    def could_tell(self) -> bool:
        """Whether another reading might still narrow what is believed."""
        return self.standing.moments[1] > self.bands.usual.width / 26

    @property
    def fresh(self) -> bool:
        return self.reading is not None and self.moved_by is None


@dataclass(frozen=True)
class Answer:
    """The advice for a place, and what its turn gains in use; 0 where there is none. `heard`: the ear asks
    for it, whatever the gauge says."""

    advice: Advice
    gain: float = 0.0
    heard: bool = False

    def tried_on(self, view: View, worth: float) -> Answer:
        """Where only little may be turned at once, a place that is surely off is turned on as long as that
        gains anything: a weak rod or spring gets there by many small steps."""
        if view.usual < 0.5 and self.gain > TRIAL_GAIN:
            return replace(self, gain=max(self.gain, worth + TRIAL_GAIN))
        return self

    def turn_worth(self, worth: float) -> bool:
        return self.advice.turn is not None and self.gain > worth


def view_of(case: Case, slot: Slot) -> View:
    """A place as it stands now; looked at once a case."""
    kept: dict[Slot, View] = case.worked.setdefault("views", {})
    if slot not in kept:
        kept[slot] = _view_of(case, slot)
    return kept[slot]


def _view_of(case: Case, slot: Slot) -> View:
    stands, bands, belief = case.standing(slot), case.bands(slot), case.belief
    readings = case.journal.readings(slot.key)
    reading = readings[-1] if readings else None
    moved_by = belief.moved.get(slot.key)
    since = [r for r in readings if _after_the_last_move(case, slot, r)]
    return View(
        slot=slot,
        bands=bands,
        standing=stands,
        reading=reading,
        moved_by=moved_by,
        doubted=slot.key in belief.doubted,
        accepted=reading is not None and kept_since(case, slot.key, reading.id),
        reads=sum(1 for r in readings if r.at >= case.now - SITTING),
        reads_since=len(since),
        passed=reading is not None and _passed(case, slot, reading),
    )


def _passed(case: Case, slot: Slot, reading: Entry) -> bool:
    """Whether the setup went on to a later check after this reading: what only time and its neighbours
    moved since is not gone back to for a little. What one form recorded together was no going on."""
    if "newest" not in case.worked:
        case.worked["newest"] = {e.check: e.at for e in sorted(case.journal.live, key=lambda e: e.at)}
    newest: Mapping[Check, datetime] = case.worked["newest"]
    return any(at > reading.at and _PLACE[check] > _PLACE[slot.check] for check, at in newest.items())


_PLACE = {check: place for place, check in enumerate(Check)}


def _after_the_last_move(case: Case, slot: Slot, reading: Entry) -> bool:
    return case.journal.moved_since(slot, reading) is None


def kept_since(case: Case, place: str, entry_id: int) -> bool:
    """Whether the player said 'I like it so' after that entry."""
    return any(o.id > entry_id and o.detail.get("answer") == KEPT for o in case.journal.observations(place))


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
