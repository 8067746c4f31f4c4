"""What one sitting came to: counts, faults of the advice, and the true state in the end."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.trial.hands import Step
from tests.trial.instrument import Instrument
from tests.trial.places import is_usual
from tests.trial.player import Look, Sitting
from tests.trial.reach import PASS_EIGHTHS, Reach

MOST_AT_ONCE = 2  # eighths of the rod: a quarter turn


@dataclass(frozen=True)
class EndState:
    """The truth after a night: bands of section "usual", cents of the 12th and the high fret of every string.

    A one-piece saddle's heights and cents are nobody's to turn; they are left out of `all_right`.
    """

    relief: bool
    heights: bool
    cents_5: bool
    all_right: bool
    cents_12: tuple[float, ...]
    cents_high: tuple[float, ...]
    pickup_sides: tuple[bool, ...]
    rattles: int


def end_state(instrument: Instrument) -> EndState:
    strings = instrument.strings
    relief = is_usual(instrument, "relief")
    heights = all(is_usual(instrument, f"height.{string}") for string in strings)
    at_12 = tuple(instrument.cents(string, 12) for string in strings)
    high = tuple(instrument.cents(string, instrument.kind.high_fret) for string in strings)
    cents_5 = all(abs(cents) <= 5.0 for cents in at_12)
    fixed = instrument.bridge.kind == "one_piece"
    right = relief and (fixed or (heights and cents_5))
    sides = tuple(
        is_usual(instrument, f"pickups.{number + 1}.{side}")
        for number in range(len(instrument.pickups))
        for side in ("bass", "treble")
    )
    return EndState(relief, heights, cents_5, right, at_12, high, sides, len(instrument.rattles()))


@dataclass(frozen=True)
class Counts:
    """How much work it was. `turns` leave pickups out, `readings` nut and pickups."""

    turns: int
    pickup_turns: int
    readings: int
    nut_readings: int
    pickup_readings: int
    boards: int
    rests: int
    steps: int
    by_check: dict[str, tuple[int, int]]
    turns_against: int
    rod_at_once: bool
    rod_net: int


def counts(steps: list[Step]) -> Counts:
    turns = [step for step in steps if step.do == "turn"]
    reads = [step for step in steps if step.do == "read"]
    rod = [step for step in turns if step.part == "rod"]
    checks = ("relief", "height", "nut", "intonation", "pickups")
    return Counts(
        turns=sum(step.part != "pickup" for step in turns),
        pickup_turns=sum(step.part == "pickup" for step in turns),
        readings=sum(step.check not in ("nut", "pickups") for step in reads),
        nut_readings=sum(step.check == "nut" for step in reads),
        pickup_readings=sum(step.check == "pickups" for step in reads),
        boards=sum(step.do == "board" for step in steps),
        rests=sum(step.do == "rest" for step in steps),
        steps=len(steps),
        by_check={
            check: (sum(s.check == check for s in turns), sum(s.check == check for s in reads))
            for check in checks
        },
        turns_against=sum(step.wrong for step in turns if step.part != "pickup"),
        rod_at_once=any(abs(step.asked) > MOST_AT_ONCE for step in rod),
        rod_net=_most_net(steps),
    )


def _most_net(steps: list[Step]) -> int:
    """The furthest that the rod was taken one way in one go: a night's rest begins anew."""
    net = furthest = 0
    for step in steps:
        if step.do == "rest":
            net = 0
        elif step.do == "turn" and step.part == "rod":
            net += step.made
        furthest = max(furthest, abs(net))
    return furthest


@dataclass(frozen=True)
class Result:
    """One pass over one instrument, by the seat or by the recipe."""

    index: int
    kind: str
    relief_tool: str
    height_tool: str
    faulty: bool
    reach: Reach
    start: EndState
    end: EndState
    counts: Counts
    ended: bool = True
    looks: tuple[Look, ...] = ()
    rod_called_dead: bool = False
    false_repairers: int = 0
    repairers: tuple[str, ...] = ()
    rod_dead: bool = False
    dead_named: bool = False
    seconds: float = 0.0
    failure: str = ""
    words: dict[str, str] = field(default_factory=dict)
    room_left: bool = True

    @property
    def can_be(self) -> bool:
        """Whether all of it could be had: the rod and the bridge reach, and the saddles still had room where
        the 12ths were off at the end (right heights and relief need other places than those at the start)."""
        return self.reach.all and self.room_left

    @property
    def never_ended(self) -> bool:
        return not self.ended and not self.failure

    @property
    def rod_net_over(self) -> bool:
        return self.counts.rod_net > PASS_EIGHTHS


def advice_faults(sitting: Sitting, reach: Reach, end: EndState) -> dict[str, object]:
    """What was said of repairers: of the rod, and of everything else."""
    of_rod = [false for slot, _, false in sitting.repairers if slot.split(".")[0] in ("relief", "rod")]
    others = [false for slot, _, false in sitting.repairers if slot.split(".")[0] not in ("relief", "rod")]
    dead = not reach.rod_works and not end.relief
    return {
        "rod_called_dead": any(of_rod),
        "false_repairers": sum(others),
        "repairers": tuple(slot for slot, _, _ in sitting.repairers),
        "rod_dead": dead,
        "dead_named": dead and bool(of_rod),
    }
