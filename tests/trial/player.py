"""A player who obeys: sits down to anything with next, read, turn, board, answer, wait and state."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from tests.trial.answers import answers
from tests.trial.hands import Hands, Step, Where
from tests.trial.instrument import Instrument
from tests.trial.places import is_usual, truth

MOST_STEPS = 400
# State is looked at now and then on the way, and at the end.
LOOK_EVERY = 9


class SeatLike(Protocol):
    """What a setup looks like to the one who sits down to it."""

    def next(self) -> dict[str, Any]: ...
    def read(
        self, slot: str, method: str, value: float | None = None, answer: str | None = None,
        step: float | None = None,
    ) -> object: ...  # fmt: skip
    def turn(self, slot: str, eighths: int, outcome: str = "done") -> object: ...
    def board(self, marks: list[tuple[int, int]]) -> object: ...
    def answer(self, name: str, choices: list[str]) -> object: ...
    def wait(self, hours: float) -> object: ...
    def state(self) -> dict[str, dict[str, Any]]: ...


@dataclass(frozen=True)
class Look:
    """One line of the seat's state beside the truth at that moment."""

    slot: str
    at_end: bool
    value: float
    give_or_take: float
    usual: float | None
    settled: bool
    word: str
    true: float
    truly_usual: bool


@dataclass
class Sitting:
    """One pass of one player: whether it came to its end, and what the state said on the way."""

    ended: bool = False
    looks: list[Look] = field(default_factory=list)
    repairers: list[tuple[str, str, bool]] = field(default_factory=list)
    words: dict[str, str] = field(default_factory=dict)


def obey(
    seat: SeatLike,
    hands: Hands,
    is_false_repairer: Callable[[Instrument, str], bool],
    tell: Callable[[str], None] | None = None,
) -> Sitting:
    """Do as told until it is finished, or 400 steps are over. `tell` gets a line for every step."""
    sitting = Sitting()
    for number in range(MOST_STEPS):
        ask = seat.next()
        if ask["do"] == "finish":
            sitting.ended = True
            break
        if ask["do"] == "repairer":
            slot = str(ask.get("slot", ""))
            sitting.repairers.append(
                (slot, str(ask.get("why", "")), is_false_repairer(hands.instrument, slot))
            )
        _ACTS[ask["do"]](seat, hands, ask)
        if tell:
            tell(f"{number:3d} {line(hands.steps[-1])}{_expected(ask)}")
        if number % LOOK_EVERY == LOOK_EVERY - 1:
            sitting.looks += looks(seat, hands.instrument, at_end=False)
    sitting.looks += looks(seat, hands.instrument, at_end=True)
    sitting.words = {slot: str(said.get("word", "")) for slot, said in seat.state().items()}
    return sitting


def _read(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    slot = ask["slot"]
    methods = {method["key"]: list(method.get("answers") or []) for method in ask["methods"]}
    reading = hands.read(slot, where(ask), methods)
    seat.read(slot, reading.method, value=reading.value, answer=reading.answer, step=reading.step)


def where(ask: Mapping[str, Any]) -> Where:
    """The place of a reading; a pickup and its side may stand in the slot's name alone."""
    name, *rest = ask["slot"].split(".")
    pickup, side = ask.get("pickup"), ask.get("side")
    if name == "pickups":
        pickup, side = pickup or int(rest[0]), side or rest[1]
    return Where(
        ask.get("check") or name,
        ask.get("string"),
        ask.get("fret"),
        ask.get("hold"),
        ask.get("press"),
        ask.get("gap"),
        pickup,
        side,
    )


def _turn(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    name, *rest = ask["slot"].split(".")
    string, pickup, side = ask.get("string"), ask.get("pickup"), ask.get("side")
    if ask["part"] == "pickup":
        pickup, side = pickup or int(rest[0]), side or rest[1]
    if ask["part"].startswith("saddle") and string is None and rest and not side:
        string = int(rest[0])
    step = hands.turn(ask["slot"], ask["part"], int(ask["eighths"]), string, side, pickup)
    seat.turn(ask["slot"], step.made, outcome=step.ended)


def _board(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    seat.board(hands.board())


def _question(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    choices = [one if isinstance(one, str) else one["key"] for one in ask["choices"]]
    ticked = answers(hands, str(ask["name"]), choices)
    hands.steps.append(Step("question", str(ask["name"]), note=f"{ticked} of {choices}"))
    seat.answer(ask["name"], ticked)


def _rest(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    hands.wait(float(ask["hours"]))
    seat.wait(float(ask["hours"]))


def _repairer(seat: SeatLike, hands: Hands, ask: Mapping[str, Any]) -> None:
    """Nothing to do but to note it: the seat goes on by itself once it has said so."""
    hands.steps.append(Step("repairer", str(ask.get("slot", "")), note=str(ask.get("why", ""))))


_ACTS: dict[str, Callable[[SeatLike, Hands, Mapping[str, Any]], None]] = {
    "read": _read,
    "turn": _turn,
    "board": _board,
    "question": _question,
    "rest": _rest,
    "repairer": _repairer,
}


def looks(seat: SeatLike, instrument: Instrument, at_end: bool) -> list[Look]:
    """What the state shows of each place that has a value, beside the truth."""
    found = []
    for slot, said in seat.state().items():
        value, give, true = said.get("value"), said.get("give_or_take"), truth(instrument, slot)
        if value is None or not give or true is None:
            continue
        found.append(
            Look(
                slot,
                at_end,
                float(value),
                float(give),
                said.get("usual"),
                bool(said.get("settled")),
                str(said.get("word", "")),
                true,
                is_usual(instrument, slot),
            )  # fmt: skip
        )
    return found


def line(step: Step) -> str:
    """One step in words."""
    if step.do == "turn":
        done = (
            "" if step.ended == "done" and step.made == step.asked else f", made {step.made:+d}: {step.ended}"
        )
        against = " AGAINST" if step.wrong else ""
        return f"turn {step.part} ({step.slot}) {step.asked:+d}/8{done}; {step.note}{against}"
    said = f" {step.reading}" if step.reading else ""
    return f"{step.do} {step.slot}{said}; {step.note}"


def _expected(ask: Mapping[str, Any]) -> str:
    expected = ask.get("expected")
    if not expected:
        return ""
    pairs: Iterable[Any] = expected.values() if isinstance(expected, Mapping) else [expected]
    said = ", ".join(f"{value:.2f} +- {give:.2f}" for value, give in list(pairs)[:2])
    return f" [expected {said}]"
