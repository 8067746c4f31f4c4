"""Strings: notes and pitches, weight, tension, and how much sharper a note goes when pressed down.

The ideal string: ``f = sqrt(T / mu) / (2 L)``. Source: M. Mersenne, Harmonie universelle, 1636; OpenStax,
University Physics Volume 1, 2016, section 16.3.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

STEEL_DENSITY_KG_M3 = 7850.0  # music wire, ASTM A228: 0.284 lb/in3
STEEL_MODULUS_PA = 203e9  # music wire, ASTM A228: data sheets say 190 to 207 GPa
ROUND_WRAP_PACKING = math.pi / 4  # round wire laid side by side fills pi/4 of its layer
POUND_PER_INCH_KG_M = 0.45359237 / 0.0254  # exact: 1 lb = 0.45359237 kg, 1 in = 25.4 mm
_A4_NUMBER = 69
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NOTE = re.compile(r"([A-G])([#b]?)([0-8])")
_NOTE_MARKS = str.maketrans({"♯": "#", "♭": "b"})


def note_number(note: str) -> int:
    """Semitone number of a note, A4 = 69, C4 = 60: ``"E1"`` 28, ``"C#3"`` 49, ``"Bb0"`` 22.

    A letter A to G, then ``#`` or ``b`` or nothing, then the octave 0 to 8. Raises ``ValueError``.
    """
    found = _NOTE.fullmatch(note.strip().translate(_NOTE_MARKS))
    if found is None:
        raise ValueError(f"“{note}” is not a note: a letter A to G, perhaps # or b, then 0 to 8, as in Bb0")
    letter, accidental, octave = found.groups()
    return 12 * (int(octave) + 1) + _STEPS[letter] + {"#": 1, "b": -1, "": 0}[accidental]


def pitch_hz(note: str, a4_hz: float = 440.0) -> float:
    """Frequency of a note in twelve-tone equal temperament, Hz: ``a4 * 2**((number - 69) / 12)``.

    Raises ``ValueError`` for a text that is no note, or a reference that is not above 0. Source: ISO 16:1975
    for A4; the scale, CRC Handbook of Chemistry and Physics, section 14, Musical Scales.
    """
    _above_zero(a4_hz, "the reference pitch", "Hz")
    return float(a4_hz * 2.0 ** ((note_number(note) - _A4_NUMBER) / 12))


def plain_density_kg_m(gauge_mm: float, density_kg_m3: float = STEEL_DENSITY_KG_M3) -> float:
    """Weight per metre of a plain string, kg/m: ``rho * pi * d**2 / 4``. Raises ``ValueError`` at 0.

    Source: volume of a cylinder.
    """
    _above_zero(gauge_mm, "the gauge", "mm")
    return density_kg_m3 * math.pi * (gauge_mm / 1000) ** 2 / 4


def wound_density_kg_m(
    gauge_mm: float,
    core_mm: float,
    wrap_density_kg_m3: float = STEEL_DENSITY_KG_M3,
    packing: float = ROUND_WRAP_PACKING,
    core_density_kg_m3: float = STEEL_DENSITY_KG_M3,
) -> float:
    """Weight per metre of a wound string, kg/m: its core plus a wrap that fills ``packing`` of the rest.

    ``gauge_mm`` is the outer diameter, ``packing`` above 0 up to 1. An estimate: where the set's
    published unit weight is known, use that. Raises ``ValueError`` for a core not under the gauge.
    Source: none; our model. Wire of diameter w side by side has the area ``pi * w**2 / 4`` in each ``w**2``.
    """
    if not 0 < core_mm < gauge_mm:
        raise ValueError("the core must be thicker than 0 mm and thinner than the string")
    if not 0 < packing <= 1:
        raise ValueError("the packing must lie above 0 and up to 1")
    core = plain_density_kg_m(core_mm, core_density_kg_m3)
    full = plain_density_kg_m(gauge_mm, wrap_density_kg_m3) - plain_density_kg_m(core_mm, wrap_density_kg_m3)
    return core + packing * full


def density_from_unit_weight(pounds_per_inch: float) -> float:
    """Weight per metre, kg/m, from a published unit weight in lb/in (above 0, else ``ValueError``).

    Source: international yard and pound agreement, 1959; NIST SP 811, 2008, appendix B.8.
    """
    _above_zero(pounds_per_inch, "the unit weight", "lb/in")
    return pounds_per_inch * POUND_PER_INCH_KG_M


def tension_n(linear_density_kg_m: float, scale_mm: float, pitch_hz: float) -> float:
    """Tension that tunes a string, N: ``T = 4 L**2 f**2 mu``. Raises ``ValueError`` at 0 or below.

    Source: the ideal string above, solved for T; in pounds and inches it is the ``UW (2 L F)**2 / 386.4``
    that string makers print.
    """
    _above_zero(linear_density_kg_m, "the weight per metre", "kg/m")
    _above_zero(scale_mm, "the scale length", "mm")
    _above_zero(pitch_hz, "the pitch", "Hz")
    return 4 * (scale_mm / 1000) ** 2 * pitch_hz**2 * linear_density_kg_m


@dataclass(frozen=True)
class LoadChange:
    """Load on the neck of two sets or tunings, N: more load bows the neck forward, so more relief."""

    before_n: float
    after_n: float

    @property
    def change_n(self) -> float:
        """Load gained, N."""
        return self.after_n - self.before_n

    @property
    def relief_goes(self) -> int:
        """+1 relief goes up, -1 down, 0 stays: less than 1 % of the load is within the spread of strings."""
        if abs(self.change_n) < 0.01 * self.before_n:
            return 0
        return 1 if self.change_n > 0 else -1


def load_change(before_n: Iterable[float], after_n: Iterable[float]) -> LoadChange:
    """Compare two sets by the sum of their tensions, N."""
    return LoadChange(sum(before_n), sum(after_n))


def detour_mm(scale_mm: float, along_mm: float, down_mm: float) -> float:
    """Length a straight string gains when it is pressed ``down_mm`` at ``along_mm`` from the nut, mm.

    Two straight legs less the straight line: ``hypot(x, d) + hypot(L - x, d) - L``. Raises ``ValueError``
    for a place that is not between nut and saddle. Source: Pythagoras; the same geometry in Varieschi and
    Gower, 2009, arXiv:0906.0127, section II.B.
    """
    if not 0 < along_mm < scale_mm:
        raise ValueError("the string must be pressed between the nut and the saddle")
    # hypot(a, d) - a without cancelling: d^2 / (hypot(a, d) + a)
    legs = (along_mm, scale_mm - along_mm)
    return sum(down_mm**2 / (math.hypot(leg, down_mm) + leg) for leg in legs)


def stretch_cents(
    tension_n: float,
    scale_mm: float,
    longer_mm: float,
    core_mm: float,
    modulus_pa: float = STEEL_MODULUS_PA,
) -> float:
    """How much sharper a string sounds when stretched by ``longer_mm``, cents.

    Tension rises by ``E * A_core * dl / L`` and the pitch by half that in proportion, taken exactly:
    ``600 * log2(1 + dT / T)``. Only the core carries the load; ``scale_mm`` is the length that
    stretches. Raises ``ValueError`` for values not above 0, or a string let slack. Source: Hooke's law on the
    ideal string, as in D. R. Grimes, String theory: the physics of string-bending and other electric guitar
    techniques, PLoS ONE 9 (2014) e102088, doi:10.1371/journal.pone.0102088.
    """
    _above_zero(tension_n, "the tension", "N")
    _above_zero(scale_mm, "the scale length", "mm")
    _above_zero(core_mm, "the core", "mm")
    area_m2 = math.pi * (core_mm / 1000) ** 2 / 4
    gained = modulus_pa * area_m2 * longer_mm / scale_mm
    _above_zero(tension_n + gained, "the tension left", "N")
    return 600 * math.log2(1 + gained / tension_n)


def _above_zero(value: float, what: str, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{what} must be above 0 {unit}")
