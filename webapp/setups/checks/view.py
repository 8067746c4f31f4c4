"""One place as deciding looks at it: what is believed, what was read and moved; and the answer to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cached_property

from webapp.setups.advice import Advice
from webapp.setups.belief.standing import Standing
from webapp.setups.case import Case
from webapp.setups.journal import KEPT, Entry
from webapp.setups.slots import Slot
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
    """A place as it stands now."""
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
    moved since is not gone back to for a little."""
    if "newest" not in case.worked:
        case.worked["newest"] = {e.check: e.id for e in sorted(case.journal.live, key=lambda e: e.id)}
    newest: Mapping[Check, int] = case.worked["newest"]
    return any(id_ > reading.id and _PLACE[check] > _PLACE[slot.check] for check, id_ in newest.items())


_PLACE = {check: place for place, check in enumerate(Check)}


def _after_the_last_move(case: Case, slot: Slot, reading: Entry) -> bool:
    return case.journal.moved_since(slot, reading) is None


def kept_since(case: Case, place: str, entry_id: int) -> bool:
    """Whether the player said 'I like it so' after that entry."""
    return any(o.id > entry_id and o.detail.get("answer") == KEPT for o in case.journal.observations(place))
