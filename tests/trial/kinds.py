"""The instruments of the trial: sizes, strings, and the trade's bands for them. Typed anew, in mm."""

from __future__ import annotations

from dataclasses import dataclass

INCH_MM = 25.4
Band = tuple[float, float]


@dataclass(frozen=True)
class Gauge:
    """One string: its open note in semitones from A4, its thickness and what of it is the core, inches.

    Cores are round figures for round-wound steel, as found with a caliper; a plain string is all core.
    """

    semitones: int
    inches: float
    core_inches: float

    @property
    def pitch_hz(self) -> float:
        return float(440.0 * 2.0 ** (self.semitones / 12))

    @property
    def core_mm(self) -> float:
        return self.core_inches * INCH_MM

    @property
    def weight_kg_m(self) -> float:
        """Steel core, and a wrap that fills four fifths of what is left."""
        core, whole = (
            7850.0 * 3.14159265 / 4 * (d * INCH_MM / 1000) ** 2 for d in (self.core_inches, self.inches)
        )
        return core + 0.8 * (whole - core)


@dataclass(frozen=True)
class Bands:
    """Usual and target bands, mm. Heights at 12, held at 1, at the bass and the treble string."""

    relief_usual: Band
    relief_target: Band
    bass_usual: Band
    bass_target: Band
    treble_usual: Band
    treble_target: Band
    nut_usual: Band

    def height(self, across: float, usual: bool) -> Band:
        """The band of a string that lies `across` (0 bass string, 1 treble string)."""
        bass = self.bass_usual if usual else self.bass_target
        treble = self.treble_usual if usual else self.treble_target
        low, high = (b + across * (t - b) for b, t in zip(bass, treble, strict=True))
        return low, high


@dataclass(frozen=True)
class Kind:
    """A family's ordinary instrument. Strings bass side first; `bridge` saddles, posts or one_piece."""

    key: str
    family: str
    scale_mm: float
    frets: int
    joint: int
    radius_mm: float
    spacing_nut_mm: float
    spacing_bridge_mm: float
    strings: tuple[Gauge, ...]
    bridge: str
    pickups: tuple[str, ...]
    often: float

    @property
    def bands(self) -> Bands:
        return BANDS[self.family]

    @property
    def is_bass(self) -> bool:
        return self.family.startswith("bass")

    @property
    def standard(self) -> tuple[int, int, int]:
        """Held, pressed, gap: how this family says its relief."""
        return (1, 13, 7) if self.is_bass else (1, self.joint, 7)

    @property
    def high_fret(self) -> int:
        """Where the second reading of the intonation is taken."""
        return min(19, self.frets, self.joint + 5)

    @property
    def pluck_mm(self) -> float:
        """Where the string is plucked, from the saddle."""
        return {"bass": 110.0, "bass_short": 100.0, "electric": 90.0, "acoustic": 110.0}[self.family]

    def across(self, index: int) -> float:
        return index / (len(self.strings) - 1)


BANDS = {
    "bass": Bands((0.08, 0.65), (0.15, 0.45), (1.5, 3.6), (2.0, 3.0), (1.2, 3.0), (1.6, 2.5), (0.15, 0.70)),
    "bass_short": Bands(
        (0.06, 0.60), (0.12, 0.40), (1.4, 3.4), (1.9, 2.8), (1.1, 2.9), (1.5, 2.4), (0.15, 0.70)
    ),
    "electric": Bands(
        (0.04, 0.40), (0.10, 0.28), (1.1, 2.6), (1.5, 2.1), (0.8, 2.1), (1.1, 1.7), (0.10, 0.65)
    ),
    "acoustic": Bands(
        (0.04, 0.45), (0.10, 0.30), (1.7, 3.3), (2.1, 2.8), (1.2, 2.6), (1.5, 2.2), (0.10, 0.65)
    ),
}

# Gap to the pressed string, usual, at the bass and the treble end.
PICKUP_USUAL: dict[tuple[bool, str], tuple[Band, Band]] = {
    (True, "single"): ((1.5, 4.0), (1.2, 3.6)),
    (True, "dual"): ((1.5, 4.0), (1.2, 3.6)),
    (False, "single"): ((1.5, 3.6), (1.2, 3.2)),
    (False, "dual"): ((1.2, 3.4), (0.9, 3.0)),
}

_B0, _E1 = Gauge(-46, 0.130, 0.026), Gauge(-41, 0.105, 0.024)
_A1, _D2, _G2 = Gauge(-36, 0.085, 0.022), Gauge(-31, 0.065, 0.020), Gauge(-26, 0.045, 0.018)
_FOUR = (_E1, _A1, _D2, _G2)
_FIVE = (_B0, *_FOUR)
_BASS_SIX = (*_FIVE, Gauge(-21, 0.032, 0.016))
_SIX = (
    Gauge(-29, 0.046, 0.018),
    Gauge(-24, 0.036, 0.016),
    Gauge(-19, 0.026, 0.014),
    Gauge(-14, 0.017, 0.017),
    Gauge(-10, 0.013, 0.013),
    Gauge(-5, 0.010, 0.010),
)
_SEVEN = (Gauge(-34, 0.059, 0.020), *_SIX)
_ACOUSTIC = (
    Gauge(-29, 0.053, 0.020),
    Gauge(-24, 0.042, 0.018),
    Gauge(-19, 0.032, 0.016),
    Gauge(-14, 0.024, 0.014),
    Gauge(-10, 0.016, 0.016),
    Gauge(-5, 0.012, 0.012),
)


def _inches(radius: float) -> float:
    return radius * INCH_MM


_ALL = (
    Kind("bass_4_34", "bass", 863.6, 20, 16, _inches(9.5), 33, 57, _FOUR, "saddles", ("single",) * 2, 0.24),
    Kind("bass_4_35", "bass", 889.0, 24, 16, _inches(12), 33, 57, _FOUR, "saddles", ("single",) * 2, 0.07),
    Kind(
        "bass_4_short", "bass_short", 762.0, 20, 16, _inches(9.5), 32, 54, _FOUR, "saddles", ("single",), 0.08
    ),
    Kind("bass_5_34", "bass", 863.6, 21, 16, _inches(12), 38, 72, _FIVE, "saddles", ("single",) * 2, 0.11),
    Kind("bass_5_35", "bass", 889.0, 24, 16, _inches(16), 38, 72, _FIVE, "saddles", ("dual",) * 2, 0.07),
    Kind("bass_6_34", "bass", 863.6, 24, 16, _inches(16), 45, 85, _BASS_SIX, "saddles", ("dual",) * 2, 0.05),
    Kind(
        "electric_6",
        "electric",
        647.7,
        22,
        16,
        _inches(9.5),
        35,
        52.5,
        _SIX,
        "saddles",
        ("single",) * 3,
        0.15,
    ),
    Kind(
        "electric_6_posts", "electric", 628.0, 22, 16, _inches(12), 35, 51, _SIX, "posts", ("dual",) * 2, 0.11
    ),
    Kind(
        "electric_7", "electric", 647.7, 24, 17, _inches(16), 41, 63, _SEVEN, "saddles", ("dual",) * 2, 0.05
    ),
    Kind("acoustic_6", "acoustic", 645.0, 20, 14, _inches(16), 37, 55, _ACOUSTIC, "one_piece", (), 0.07),
)
KINDS = {kind.key: kind for kind in _ALL}
POST_SPACING_MM = 74.0
