"""Numbers and turns as the bench says them: lengths in the player's unit, turns in eighths."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.numbers import Unit, format_length, say_count, say_number
from webapp.setups.journal import Entry, Part, Turn

SMALL_MM = 1.0
_PARTS = {1: "an eighth of a turn", 2: "a quarter turn", 4: "half a turn", 6: "three quarters of a turn"}
_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")


@dataclass(frozen=True)
class Say:
    """Writes numbers for one player: `unit` is their preferred unit of length."""

    unit: Unit = Unit.mm

    def length(self, mm: float) -> str:
        """A length: '2.40 mm', '0.094 in', '6/64 in', '12 thou'."""
        # A feeler gauge's steps vanish in 64ths, so small lengths are said in thou there.
        small = self.unit is Unit.sixty_fourths and abs(mm) < SMALL_MM
        return format_length(mm, Unit.thou if small else self.unit)

    def band(self, low_mm: float, high_mm: float) -> str:
        """A band of lengths, the unit once: '2.00 to 3.00 mm'."""
        low, high = self.length(low_mm), self.length(high_mm)
        suffix = " " + high.rsplit(" ", 1)[-1]
        return f"{low.removesuffix(suffix)} to {high}"

    def reading(self, entry: Entry) -> str:
        """What a reading showed, as the range that it is: '2.40 mm', '0.30 to 0.60 mm', 'more than 0.90 mm'.

        In cents likewise: '+4 cents', '−8 to −2.5 cents', 'more than 8 cents flat'.
        """
        assert entry.value is not None
        ends = entry.detail.get("low"), entry.detail.get("high")
        return self.range(entry.value, *ends, entry.unit == "cents")

    def range(self, value: float, low: float | None, high: float | None, is_cents: bool) -> str:
        """The same where there is no entry any more: `value` stands where neither end is known."""
        if low is not None and high is not None:
            return self.cents_band(low, high) if is_cents else self.band(low, high)
        if low is not None:
            return f"more than {say_number(low)} cents sharp" if is_cents else f"more than {self.length(low)}"
        if high is not None:
            flat = f"more than {say_number(-high)} cents flat"
            return flat if is_cents else f"less than {self.length(high)}"
        return self.cents(value) if is_cents else self.length(value)

    def about(self, mm: float, give_mm: float) -> str:
        """'about 0.42 mm, give or take 0.06'."""
        give = self.length(give_mm).rsplit(" ", 1)[0]
        return f"about {self.length(mm)}, give or take {give}"

    def about_cents(self, cents: float, give: float) -> str:
        """'about +4 cents, give or take 2'."""
        return f"about {self.cents(round(cents))}, give or take {max(1, round(give))}"

    @staticmethod
    def number(value: float, places: int | None = None) -> str:
        """A bare number: '440', '−0.5'."""
        return say_number(value, places)

    @staticmethod
    def count(count: int) -> str:
        """How many: '12,345'."""
        return say_count(count)

    @staticmethod
    def cents(cents: float) -> str:
        """A tuning error with its sign: '+4 cents', '−2.5 cents', '+1 cent'."""
        shown = round(cents, 1)
        return f"{say_number(shown, plus=True)} {'cent' if abs(shown) == 1 else 'cents'}"

    @staticmethod
    def cents_band(low: float, high: float) -> str:
        """A band of tuning errors, the unit once: '−2.5 to +2.5 cents'."""
        ends = (say_number(round(end, 1), plus=True) for end in (low, high))
        return f"{' to '.join(ends)} cents"

    @staticmethod
    def turns(eighths: int) -> str:
        """An amount without its sign: 'an eighth of a turn', '1⅜ turns'."""
        eighths = abs(eighths)
        if eighths in _PARTS:
            return _PARTS[eighths]
        if eighths < 8:
            return f"{mixed(eighths)} of a turn"
        return f"{mixed(eighths)} turn{'s' if eighths > 8 else ''}"


def mixed(eighths: int) -> str:
    """So many eighths as a mixed number without its sign: '⅜', '1⅝', '2'."""
    whole, rest = divmod(abs(eighths), 8)
    return f"{whole or ''}{_EIGHTHS[rest]}" or "0"


def capital(words: str) -> str:
    """Words with a capital at the start; the rest as it is."""
    return words[:1].upper() + words[1:]


# What plus and minus mean for each part, in the words of the bench.
VERBS: dict[Part, tuple[str, str]] = {
    Part.ROD: ("Tightened", "Loosened"),
    Part.SADDLE_HEIGHT: ("Raised", "Lowered"),
    Part.SADDLE_POSITION: ("Moved back", "Moved toward the nut"),
    Part.PICKUP_HEIGHT: ("Raised", "Lowered"),
    Part.SPRINGS: ("Tightened", "Loosened"),
}


def turn_words(say: Say, turn: Turn) -> str:
    """'Tightened an eighth of a turn'; without eighths, what was done."""
    if turn.part in VERBS and turn.eighths:
        return f"{VERBS[turn.part][0 if turn.eighths > 0 else 1]} {say.turns(turn.eighths)}"
    return {Part.STRINGS: "Strings changed", Part.NUT: "Nut slot worked on"}.get(turn.part, "Worked on")
