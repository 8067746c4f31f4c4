"""One string as it is believed to stand, and where its saddle starts: neck, saddle, nut, pluck."""

from __future__ import annotations

from dataclasses import dataclass, replace

from webapp.physics.clearance import CleanSwing, clean_swing
from webapp.physics.intonation import cents_per_mm
from webapp.physics.neck import Neck
from webapp.physics.strings import detour_mm, stretch_cents
from webapp.setups.case import Case
from webapp.setups.geometry import distance_of, neck_under, neck_with_relief
from webapp.setups.slots import height_slot, nut_slot, string_numbers
from webapp.setups.strings.tension import load_on


@dataclass(frozen=True)
class StringSetting:
    """What the clearance of one string depends on, mm.

    `relief_mm` is read the family's standard way, `action_mm` at 12 held at 1, `nut_gap_mm` is the open
    string's gap over fret 1; `nut_known` tells whether that was ever read.
    """

    number: int
    neck: Neck
    relief_mm: float
    action_mm: float
    nut_gap_mm: float
    pluck_mm: float
    nut_known: bool = False

    @property
    def saddle_mm(self) -> float:
        """Height of the string at the saddle over the body-end plane."""
        return self.neck.saddle_for_action(self.action_mm)

    @property
    def nut_mm(self) -> float:
        """Height of the string at the nut over the fret line there."""
        return self.neck.nut_for_gap(self.nut_gap_mm, self.saddle_mm)

    @property
    def clean(self) -> CleanSwing:
        """The largest open-string swing that touches nothing on fretted notes, and what it touches first."""
        return clean_swing(self.neck, self.saddle_mm, self.pluck_mm)


def heights_known(case: Case) -> bool:
    """Whether any string's height was read: they lean on one another, so one tells of all."""
    return any(height_slot(n).key in case.belief.read for n in string_numbers(case.spec))


def setting_of(case: Case, number: int) -> StringSetting:
    """The string as it is believed to stand; until anything is read, the middle of its target stands in."""
    slot = height_slot(number)
    known = heights_known(case)
    return StringSetting(
        number=number,
        neck=neck_under(case.spec, number, case.neck.curvature_per_mm),
        relief_mm=case.relief_mm,
        action_mm=case.standing(slot).mean if known else case.bands(slot).target.middle,
        nut_gap_mm=case.nut_gap_mm(number),
        pluck_mm=case.pluck_mm,
        nut_known=nut_slot(number).key in case.belief.read,
    )


def settings_of(case: Case) -> tuple[StringSetting, ...]:
    """Every string, bass side first."""
    return tuple(setting_of(case, number) for number in string_numbers(case.spec))


def with_relief(case: Case, setting: StringSetting, relief_mm: float, action_mm: float) -> StringSetting:
    """The string over a neck with another relief (standard way), at the action that it has there."""
    way = case.relief_standard
    neck = neck_with_relief(case.spec, relief_mm, way.hold, way.press, way.gap)
    under = neck_under(case.spec, setting.number, neck.curvature_per_mm)
    return replace(setting, neck=under, relief_mm=relief_mm, action_mm=action_mm)


def with_action(setting: StringSetting, action_mm: float) -> StringSetting:
    """The same neck with another action at 12, held at 1."""
    return replace(setting, action_mm=action_mm)


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
