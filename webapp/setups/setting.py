"""One string over the board as it stands: the neck under it, its saddle, its nut, where it is plucked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from webapp.physics.clearance import CleanSwing, clean_swing
from webapp.physics.neck import Neck
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, height_between, height_way
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.slots import Slot, string_numbers
from webapp.trade.words import Check


@dataclass(frozen=True)
class StringSetting:
    """What the clearance of one string depends on, mm.

    `relief_mm` is read the family's standard way, `action_mm` at 12 held at 1, `nut_gap_mm` is the open
    string's gap over fret 1. `measured` names which of relief, height and nut were read on this
    instrument; the others stand at the middle of their targets.
    """

    number: int
    neck: Neck
    relief_mm: float
    action_mm: float
    nut_gap_mm: float
    pluck_mm: float
    measured: frozenset[Check] = frozenset()

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


def setting_of(case: Case, number: int) -> StringSetting:
    """The string as last read; where something was not read, the middle of its target stands in."""
    slot = Slot(Check.HEIGHT, string=number)
    reading = case.journal.newest_reading(slot.key)
    measured = {Check.RELIEF} if case.relief_known else set()
    if reading is None or reading.value is None:
        action = case.bands(slot).target.middle
    else:
        measured.add(Check.HEIGHT)
        k, nut_gap = case.neck.curvature_per_mm, case.nut_gap_mm(number)
        way = height_way(reading)
        action = height_between(case.spec, number, reading.value, way, STANDARD_HEIGHT, k, nut_gap)
    if case.journal.newest_reading(f"nut.{number}") is not None:
        measured.add(Check.NUT)
    return StringSetting(
        number=number,
        neck=neck_under(case.spec, number, case.neck.curvature_per_mm),
        relief_mm=case.relief_mm,
        action_mm=action,
        nut_gap_mm=case.nut_gap_mm(number),
        pluck_mm=case.pluck_mm,
        measured=frozenset(measured),
    )


def settings_of(case: Case) -> tuple[StringSetting, ...]:
    """Every string, bass side first."""
    return tuple(setting_of(case, number) for number in string_numbers(case.spec))


def with_relief(case: Case, setting: StringSetting, relief_mm: float) -> StringSetting:
    """The same saddle over a neck with another relief (standard way): the action moves too."""
    way = case.relief_standard
    neck = neck_with_relief(case.spec, relief_mm, way.hold, way.press, way.gap)
    under = neck_under(case.spec, setting.number, neck.curvature_per_mm)
    return replace(setting, neck=under, relief_mm=relief_mm, action_mm=under.action(setting.saddle_mm))


def with_action(setting: StringSetting, action_mm: float) -> StringSetting:
    """The same neck with another action at 12, held at 1."""
    return replace(setting, action_mm=action_mm)
