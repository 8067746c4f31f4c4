"""The shape of an answer to a reading."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.setups.journal import Turn


@dataclass(frozen=True)
class Forecast:
    """What the next reading should show, in the unit and the way of the last one, and what that rests on."""

    value: float
    spread: float
    basis: str


@dataclass(frozen=True)
class Advice:
    """What a reading means and what to do about it.

    `turn` is there when the player can turn something; `repairer` holds the words to take to a repairer.
    An answer with neither needs no hand at all.
    """

    means: str
    do: tuple[str, ...] = ()
    turn: Turn | None = None
    forecast: Forecast | None = None
    then: str = ""
    repairer: str = ""

    @property
    def needs_player(self) -> bool:
        """Whether the setup waits for the player: turn it, or keep it so."""
        return self.turn is not None or (bool(self.do) and not self.repairer)
