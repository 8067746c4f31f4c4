"""Numbers as the bench says them: lengths in the player's unit, turns in eighths."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from webapp.physics.lengths import Unit, format_length

SMALL_MM = 1.0
_PARTS = {1: "an eighth of a turn", 2: "a quarter turn", 4: "half a turn", 6: "three quarters of a turn"}


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

    @staticmethod
    def cents(cents: float) -> str:
        """A tuning error with its sign: '+4 cents', '-2.5 cents'."""
        rounded = round(cents, 1) + 0.0
        return f"{rounded:+g} cents" if rounded else "0 cents"

    @staticmethod
    def turns(eighths: int) -> str:
        """An amount without its sign: 'an eighth of a turn', '1 3/8 turns'."""
        eighths = abs(eighths)
        if eighths in _PARTS:
            return _PARTS[eighths]
        whole, rest = divmod(Fraction(eighths, 8), 1)
        if not whole:
            return f"{rest} of a turn"
        number = f"{whole} {rest}" if rest else f"{whole}"
        return f"{number} turn" if number == "1" else f"{number} turns"
