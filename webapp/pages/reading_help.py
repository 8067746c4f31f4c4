"""The help around one reading: two lines, a drawing to scale, where we are, what to expect."""

from __future__ import annotations

from webapp.drawings.measure import (
    height_drawing,
    intonation_drawing,
    nut_drawing,
    pickup_drawing,
    pickup_places,
    relief_drawing,
)
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.common import Visit
from webapp.pages.loading import LoadedSetup
from webapp.pages.reading_form import Ways
from webapp.setups import howto
from webapp.setups.convert import STANDARD_HEIGHT, saddle_from
from webapp.setups.expect import expected_reading
from webapp.setups.geometry import neck_under
from webapp.setups.slots import Slot, slots_of
from webapp.trade.words import Check, label


def progress(setup: LoadedSetup, slot: Slot) -> str:
    """Where we are: 'String height, 2 of 4'."""
    name = label(slot.check)
    slots = slots_of(setup.spec, slot.check)
    words = name[0].upper() + name[1:]
    return f"{words}, {slots.index(slot) + 1} of {len(slots)}" if len(slots) > 1 else words


def lines_for(setup: LoadedSetup, slot: Slot, ways: Ways) -> tuple[str, str]:
    """What to do, in two lines."""
    case = setup.case
    if slot.check is Check.RELIEF:
        return howto.relief_lines(case, ways.relief, ways.method.key)
    if slot.check is Check.HEIGHT:
        return howto.height_lines(case, slot, ways.height)
    if slot.check is Check.NUT:
        return howto.nut_lines(case, slot, ways.method.key)
    if slot.check is Check.INTONATION:
        return howto.intonation_lines(case, slot, ways.fret)
    return howto.pickup_lines(case, slot)


def drawing_for(visit: Visit, setup: LoadedSetup, slot: Slot, ways: Ways) -> Drawing:
    """Where to hold, press and put the gauge, from this instrument's own geometry."""
    case, units = setup.case, units_for(visit.unit.value)
    band = case.bands(slot).target
    number = slot.string or len(setup.spec.strings)
    neck = neck_under(setup.spec, number, case.neck.curvature_per_mm)
    if slot.check is Check.RELIEF:
        way = ways.relief
        return relief_drawing(neck, way.hold, way.press, way.gap, units=units)
    height = case.bands(Slot(Check.HEIGHT, string=number)).target.middle
    saddle_mm = saddle_from(neck, height, STANDARD_HEIGHT, case.nut_gap_mm(number))
    if slot.check is Check.HEIGHT:
        return height_drawing(neck, ways.height.hold, ways.height.gap, saddle_mm, units=units)
    if slot.check is Check.NUT:
        return nut_drawing(neck, saddle_mm=saddle_mm, target=(band.low, band.high), units=units)
    if slot.check is Check.INTONATION:
        return intonation_drawing(neck, (12, ways.fret) if slot.high else (12,), units=units)
    assert slot.pickup is not None
    position = setup.spec.pickups[slot.pickup - 1].position.value
    places = pickup_places(neck.scale_mm, [position])
    return pickup_drawing(neck, places, saddle_mm=saddle_mm, gap_mm=band.middle, units=units)


def expected_words(setup: LoadedSetup, slot: Slot) -> tuple[str, str]:
    """What this reading should show, and what that rests on; empty where nothing is expected."""
    state, say = setup.assessment.slot(slot.key), setup.case.say
    forecast = expected_reading(setup.case, state)
    if forecast is None or slot.high:
        return "", ""
    cents = slot.check is Check.INTONATION
    value = say.cents(forecast.value) if cents else say.length(forecast.value)
    spread = f"{forecast.spread:.0f} cents" if cents else say.length(forecast.spread)
    give = f"give or take {spread}; " if forecast.spread else ""
    return value, f"{give}rests on {forecast.basis}"
