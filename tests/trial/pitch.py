"""How far out of tune a fretted note is: lengths from the geometry, and the pull that pressing down adds."""

from __future__ import annotations

from math import hypot, log2

from tests.trial.kinds import Gauge

STEEL_PA = 203e9
OCTAVE_CENTS = 1200.0


def stiffness(gauge: Gauge, scale_mm: float) -> float:
    """E A / T of the tuned string: how much of its pull a strain of 1 would add; no unit."""
    area = 3.14159265 / 4 * (gauge.core_mm / 1000) ** 2
    pull_n = 4.0 * (scale_mm / 1000) ** 2 * gauge.pitch_hz**2 * gauge.weight_kg_m
    return STEEL_PA * area / pull_n


def error_cents(
    fret: int,
    fret_at: tuple[float, float],
    nut: tuple[float, float],
    saddle: tuple[float, float],
    stiff: float,
    finger_mm: float,
) -> float:
    """Fretted note against its place above the tuned open string, cents; sharp is plus.

    Points are (along, up) in mm: the fret's top, the string at the nut and at the saddle. Pressing takes
    the string down to the fret and a little behind it, which costs `finger_mm` of length. Pitch goes as the
    root of the pull over the sounding length.
    """
    open_mm = hypot(saddle[0] - nut[0], saddle[1] - nut[1])
    sounding = hypot(saddle[0] - fret_at[0], saddle[1] - fret_at[1])
    behind = hypot(fret_at[0] - nut[0], fret_at[1] - nut[1])
    strain = (sounding + behind + finger_mm - open_mm) / open_mm
    return OCTAVE_CENTS * (log2(open_mm / sounding) + 0.5 * log2(1.0 + stiff * strain)) - 100.0 * fret
