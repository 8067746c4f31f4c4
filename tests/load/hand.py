"""What a player types: mostly what an instrument in good order reads, now and then something that is off."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

# In mm and cents.
GOOD = {
    "relief": (0.2, 0.4), "height": (2.1, 2.4), "nut": (0.3, 0.45),
    "intonation": (-1.2, 1.2), "pickups": (2.1, 2.5),
}  # fmt: skip
OFF = {
    "relief": (0.6, 0.9), "height": (3.2, 4.2), "nut": (0.55, 0.7),
    "intonation": (5, 9), "pickups": (1.6, 1.8),
}  # fmt: skip
READY = ("clean", "strings", "tuned", "position")
NOTES = ("4:5", "4:6", "4:7")
OFTEN_OFF = 0.12
OFTEN_BUZZES = 0.3
ANSWERS: dict[str, dict[str, object]] = {
    "ask/start": {"done": READY},
    "ask/buzz": {"clear": "yes"},
    "ask/cause": {"asked_loose": "no", "asked_technique": "no", "asked_neighbour": "unsure"},
    "ask/playtest": {"sign": "yes"},
}


@dataclass
class Hand:
    """One setup's readings. `always_buzzes` is for a player who marks notes each time."""

    chance: random.Random
    always_buzzes: bool = False
    _times: Counter[str] = field(default_factory=Counter)
    _at_12: dict[str, float] = field(default_factory=dict)

    def fill(self, place: str, fields: Mapping[str, str]) -> dict[str, object]:
        """What to type at a place ("read/height"), over what its form says already."""
        act, _, name = place.partition("/")
        if act == "read":
            slots = fields["rows"].split() if "rows" in fields else [name]
            names = {slot: slot.replace(".", "_") if "rows" in fields else "value" for slot in slots}
            return {name: self._read(slot) for slot, name in names.items()}
        if act == "adjust":
            return {"action": "turn" if any(one.startswith("said") for one in fields) else "keep"}
        self._times[place] += 1
        if place == "ask/buzz" and self._times[place] == 1 and self._buzzes():
            return {"buzz": NOTES}
        return ANSWERS.get(place, {})

    def _read(self, slot: str) -> str:
        self._times[slot] += 1
        return self._reading(slot, is_first=self._times[slot] == 1)

    def _buzzes(self) -> bool:
        return self.always_buzzes or self.chance.random() < OFTEN_BUZZES

    def _reading(self, slot: str, *, is_first: bool) -> str:
        """What was off is in order when it is read again: it was turned meanwhile."""
        check, _, where = slot.partition(".")
        string = where.partition(".")[0]
        if check == "intonation" and where.endswith(".high"):
            # A saddle that is in the wrong place shows at the high fret about twice as much as at 12.
            return f"{2 * self._at_12.get(string, 0) + self.chance.uniform(-0.5, 0.5):.1f}"
        low, high = (OFF if is_first and self.chance.random() < OFTEN_OFF else GOOD)[check]
        value = self.chance.uniform(low, high)
        if check == "intonation":
            self._at_12[string] = value
            return f"{value:.1f}"
        return f"{value:.2f}"
