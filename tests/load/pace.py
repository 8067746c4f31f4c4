"""When the next form is due, and when all is over."""

from __future__ import annotations

import asyncio
import random
import time


class Over(Exception):
    """The time is up."""


class Pace:
    """A schedule of its own for each player: the thinking is between the times at which forms are due.

    A form that is not sent in its time does not move the ones after it: they become due all the same.
    """

    def __init__(self, every_s: float, until_s: float, chance: random.Random) -> None:
        self._every_s, self._until_s, self._chance = every_s, until_s, chance
        self._due_s = time.monotonic() + chance.uniform(0, every_s)

    @property
    def over(self) -> bool:
        return time.monotonic() >= self._until_s

    async def wait(self) -> float:
        """Until the next form is due; returns by how many ms its time had passed already. Raises Over."""
        if self._due_s >= self._until_s or self.over:
            raise Over
        ahead_s = self._due_s - time.monotonic()
        self._due_s += self._every_s * self._chance.uniform(0.5, 1.5)
        # Also without any thinking others have their turn here.
        await asyncio.sleep(max(ahead_s, 0))
        return max(-1000 * ahead_s, 0.0) if self._every_s else 0.0

    async def pause(self, seconds: float) -> None:
        """After something went wrong; what becomes due meanwhile is not made up for."""
        await asyncio.sleep(max(min(seconds, self._until_s - time.monotonic()), 0))
        self._due_s = max(self._due_s, time.monotonic())
