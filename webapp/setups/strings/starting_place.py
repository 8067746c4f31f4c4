"""Where a saddle starts with new strings, from the stretch of the fretted string."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.intonation import cents_per_mm
from webapp.physics.strings import detour_mm, stretch_cents
from webapp.setups.case import Case
from webapp.setups.geometry import distance_of
from webapp.setups.slots import string_numbers
from webapp.setups.string_setting import setting_of
from webapp.setups.strings.tension import load_on

OCTAVE_FRET = 12


@dataclass(frozen=True)
class StartingPlace:
    """How far behind the scale length a saddle starts, mm, with its error; and in words."""

    number: int
    back_mm: float
    error_mm: float
    words: str
    value: str
    basis: str


def starting_places(case: Case) -> tuple[StartingPlace, ...]:
    """One for each string, bass side first; none for a family whose strings stretch by other rules."""
    if case.family not in case.trade.stretch.families:
        return ()
    tensions = {s.number: s.tension_n for s in load_on(case.spec, case.trade).strings}
    return tuple(_place(case, n, tensions[n]) for n in string_numbers(case.spec))


def _place(case: Case, number: int, tension_n: float) -> StartingPlace:
    back = setback_mm(case, number, tension_n)
    error = back * case.trade.stretch.spread_share
    value = f"{case.say.length(back)}, give or take {case.say.length(error)}"
    words = "Before the first reading, stand the saddle behind the scale length by"
    basis = "the stretch of the pressed string at this height, tension and gauge"
    return StartingPlace(number, back, error, words, value, basis)


def setback_mm(case: Case, number: int, tension_n: float) -> float:
    """How far back the saddle makes up for the stretch at the 12th fret, mm.

    The string is pushed down by its height there and by the finger behind the fret; that lengthens it, and
    its core alone carries the load.
    """
    spec = case.spec
    string, scale = spec.string(number), spec.scale_of(number)
    core_mm = case.trade.string_stock.material(case.family, string.wound).core_of(string.gauge_mm)
    down_mm = setting_of(case, number).action_mm + case.trade.stretch.press_mm
    longer_mm = detour_mm(scale, distance_of(spec, number, OCTAVE_FRET), down_mm)
    sharp_cents = stretch_cents(tension_n, scale, longer_mm, core_mm)
    return sharp_cents / cents_per_mm(scale, OCTAVE_FRET)
