"""One string as it is believed to stand: the neck under it, its saddle, its nut, where it is plucked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from webapp.physics.clearance import CleanSwing, clean_swing
from webapp.physics.neck import Neck
from webapp.setups.case import Case
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.slots import height_slot, nut_slot, string_numbers


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
