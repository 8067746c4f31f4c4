"""How a drawing writes lengths: the player's unit, short inside the drawing, in full in its description."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.numbers import MM_PER_INCH, MM_PER_UNIT, PLACES, Unit, say_number
from webapp.setups.say import SMALL_MM


@dataclass(frozen=True)
class Units:
    label: str
    per_mm: float
    places: int
    signed: bool = False

    def number(self, mm: float) -> str:
        """Short, for columns: no unit, at most about four characters (.094 rather than 0.094)."""
        value = mm * self.per_mm
        if self.signed:
            return say_number(round(value, self.places), plus=True)
        places = max(0, self.places - (1 if abs(value) >= 9.995 else 0))
        text = f"{value:.{places}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        if self.places >= 3 and abs(value) < 1:
            text = text.replace("0.", ".", 1)
        return text.replace("-", "\N{MINUS SIGN}")

    def with_unit(self, number: str) -> str:
        """A number that is written already: '2.4 mm', '+4 cents', '±1 cent'."""
        alone = self.signed and number[1:] == "1"
        return f"{number} {self.label.removesuffix('s') if alone else self.label}"

    def full(self, mm: float) -> str:
        """With the unit, for sentences."""
        if self.signed:
            return self.with_unit(self.number(mm))
        text = f"{mm * self.per_mm:.{self.places}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        return f"{text} {self.label}".replace("-", "\N{MINUS SIGN}")

    def band(self, low_mm: float, high_mm: float) -> str:
        if self.signed:
            return f"{self.number(low_mm)} to {self.number(high_mm)} {self.label}"
        return f"{self.full(low_mm).removesuffix(f' {self.label}')} to {self.full(high_mm)}"


MM, INCH, THOU, SIXTY_FOURTHS = (
    Units(unit.value, 1 / MM_PER_UNIT[unit], PLACES[unit])
    for unit in (Unit.mm, Unit.inch, Unit.thou, Unit.sixty_fourths)
)


# What is read in cents takes the place of the millimetres, and has a sign: flat or sharp.
CENTS = Units("cents", 1.0, 1, signed=True)


def units_for(unit: str) -> Units:
    """The Units for a unit's key: "mm", "in", "thou" or "64ths"; anything else is millimetres."""
    return {u.label: u for u in (MM, INCH, THOU, SIXTY_FOURTHS)}.get(str(unit), MM)


def fine(units: Units, largest_mm: float) -> Units:
    """The Units for a place whose bands end at `largest_mm`: in 64ths, where small things vanish, thou."""
    return THOU if units.label == SIXTY_FOURTHS.label and abs(largest_mm) < SMALL_MM else units


def long_length(mm: float, units: Units) -> str:
    """A length along the neck: whole millimetres, or inches to a hundredth whatever inch unit is used."""
    return f"{mm:.0f} mm" if units.label == "mm" else f"{mm / MM_PER_INCH:.2f} in"
