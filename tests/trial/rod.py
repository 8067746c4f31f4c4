"""The trial's truss rod: so much relief an eighth, dead play on turning back, creep, and an end."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, floor

DONE, NO_ROOM, WILL_NOT_MOVE = "done", "no_room", "will_not_move"
SETTLING_HOURS = 2.5  # nine tenths of the creep are over after six hours


@dataclass
class Rod:
    """Turns are in eighths, plus tightens and takes relief out (of a reversed rod: lets it in).

    response_mm   relief taken out by an eighth that grips
    play          eighths that do nothing after turning back; `slack` is where in them it lies
    creep         the share that comes over the hours; `to_come_mm` is still on its way
    room_tighter, room_looser   eighths left to either end of its thread; `seized` does not move at all
    """

    response_mm: float
    play: float
    creep: float
    room_tighter: float
    room_looser: float
    seized: bool = False
    slack: float = 0.0
    moved_mm: float = 0.0
    to_come_mm: float = 0.0

    @property
    def works(self) -> bool:
        return not self.seized and self.response_mm > 0

    def room(self, eighths: float) -> float:
        return self.room_tighter if eighths > 0 else self.room_looser

    def turn(self, eighths: float) -> tuple[float, str]:
        """Turn as far as it goes: what was turned, and how it ended."""
        if self.seized:
            return 0.0, WILL_NOT_MOVE
        sign = 1.0 if eighths > 0 else -1.0
        room = self.room(eighths)
        stopped = abs(eighths) > room + 0.3
        made = sign * (floor(room + 0.3) if stopped else abs(eighths))
        self.room_tighter -= made
        self.room_looser += made
        self._grip(made)
        return made, NO_ROOM if stopped else DONE

    def _grip(self, made: float) -> None:
        """The thread takes up its play first."""
        at = self.slack + made
        self.slack = min(max(at, 0.0), self.play)
        effect = -(at - self.slack) * self.response_mm
        self.moved_mm += effect * (1.0 - self.creep)
        self.to_come_mm += effect * self.creep

    def wait(self, hours: float) -> None:
        comes = self.to_come_mm * (1.0 - exp(-hours / SETTLING_HOURS))
        self.moved_mm += comes
        self.to_come_mm -= comes
