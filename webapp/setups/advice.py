"""The shape of an answer: what a place's state means, what to turn, and what to expect after it."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.setups.journal import Turn


@dataclass(frozen=True)
class Forecast:
    """What the next reading should show, give or take half of a 90 % interval, and what that rests on.

    Millimetres the family's standard way, or cents.
    """

    value: float
    give: float
    basis: str


@dataclass(frozen=True)
class Advice:
    """What a place's state means and what to do about it, in the order of doing.

    `turn` is there when the player can turn something; `repairer` holds the words to take to a repairer. An
    answer with neither needs no hand at all. `outcomes` are what may happen instead of the turn.
    """

    means: str
    do: tuple[str, ...] = ()
    turn: Turn | None = None
    forecast: Forecast | None = None
    then: str = ""
    repairer: str = ""
    outcomes: tuple[str, ...] = ()
