"""How a reading comes out: the tools a player owns, their steps, their scatter, and the player's slips."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.trial.world import World

Array = NDArray[np.float64]
Rng = np.random.Generator
# One reading's scatter about the truth, mm (of the tuner: cents, the finger's share included).
SIGMA = {"feeler": 0.015, "gauge": 0.06, "ruler": 0.10, "card": 0.03, "ear": 0.06, "tuner": 1.5}
FEELER_STEP_MM, RULER_STEP_MM = 0.05, 0.5
CARD_MM = 0.30
EAR_BOUNDS_MM = (0.10, 0.45)
# The part of that scatter, as variance, which sits in the tool itself and comes out alike each time.
TOOL_SHARE = 0.2
CARD_WORDS = ("none", "one", "two", "more")
EAR_WORDS = ("no_click", "slight", "a_lot")


@dataclass(frozen=True)
class Reading:
    """What is put down: a number with the tool's division, or a word. `slip` is for the score alone."""

    method: str
    value: float | None
    answer: str | None
    step: float | None
    slip: bool = False

    def __str__(self) -> str:
        said = self.answer if self.value is None else f"{self.value:g}"
        return f"{said} by {self.method}{' (a slip)' if self.slip else ''}"


@dataclass(frozen=True)
class Kit:
    """What lies on this player's bench, and how true it is."""

    relief: str
    height: str
    nut: str
    gauge_step_mm: float
    tuner_step_cents: float
    card_mm: float
    bias: dict[str, float]
    noise: float
    slips: float

    def tool_for(self, check: str, offered: list[str]) -> str:
        """The player's own tool where it is among those offered, else the first that is."""
        own = {"relief": self.relief, "height": self.height, "nut": self.nut, "intonation": "tuner"}.get(
            check
        )
        pickups = self.height if self.height != "feeler" else "ruler"
        own = own or pickups
        return own if own in offered else offered[0]

    def step(self, method: str) -> float | None:
        """The tool's division: mm, of a tuner cents; None where it gives words."""
        return {
            "feeler": FEELER_STEP_MM,
            "gauge": self.gauge_step_mm,
            "ruler": RULER_STEP_MM,
            "tuner": self.tuner_step_cents,
        }.get(method)

    def read(
        self, rng: Rng, check: str, method: str, truth: float, neighbour: float, words: list[str]
    ) -> Reading:
        """Read a true value, mm or cents. `neighbour` is what the string beside it would have shown.

        `words` are the answers that the method allows; empty for a number.
        """
        sigma = SIGMA[method] * self.noise
        value = truth + sigma * (
            np.sqrt(TOOL_SHARE) * self.bias[method] + np.sqrt(1 - TOOL_SHARE) * rng.normal()
        )
        slip = bool(rng.random() < self.slips)
        kind, sign = int(rng.integers(4)), 1.0 if rng.random() < 0.5 else -1.0
        if words:
            at = self._word(method, float(value), len(words))
            if slip:
                other = at + int(sign)
                at = other if 0 <= other < len(words) else at - int(sign)
            return Reading(method, None, words[at], None, slip)
        if slip:
            value = _slipped(check, float(value), neighbour, kind, sign)
        step = self.step(method) or 0.05
        steps = np.round(value / step)
        value = float(steps * step) if method == "tuner" else max(float(steps * step), 0.0)
        return Reading(method, round(value, 4) + 0.0, None, step, slip)

    def _word(self, method: str, value: float, count: int) -> int:
        if method == "ear":
            return int(np.searchsorted(EAR_BOUNDS_MM, value))
        bounds = self.card_mm * (np.array([1.0, 2.0, 3.0]) if count == 4 else np.array([0.8, 1.6]))
        return int(np.searchsorted(bounds, value))


def _slipped(check: str, value: float, neighbour: float, kind: int, sign: float) -> float:
    """A wrong line or another string; with cents also the wrong side of the needle."""
    if check == "intonation":
        return (-value, neighbour, value + 10.0 * sign, value + 20.0 * sign)[kind]
    if check == "relief":
        return abs(value + (0.1, 0.2, 0.5, 1.0)[kind] * sign)
    return (value + 1.0 * sign, value + 0.5 * sign, neighbour, value + 1.0 * sign)[kind]


def kit_of(seed: int, index: int, world: World) -> Kit:
    """What the player of this instrument owns."""
    rng = np.random.default_rng([seed, index, 1])
    relief, height, fine, tuner = rng.random(4)
    tool = world.relief_tool or ("feeler" if relief < 0.6 else "card" if relief < 0.9 else "ear")
    return Kit(
        relief=tool,
        height="gauge" if height < 0.5 else "ruler" if height < 0.9 else "feeler",
        nut="feeler" if tool == "feeler" else "card",
        gauge_step_mm=0.1 if fine < 0.6 else 0.05,
        tuner_step_cents=1.0 if tuner < 0.6 else 0.5,
        card_mm=float(rng.normal(CARD_MM, 0.01)),
        bias={method: float(rng.normal()) for method in SIGMA},
        noise=world.noise,
        slips=world.slips,
    )
