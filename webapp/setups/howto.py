"""What to do with the hands, in two lines, for one slot and one way of reading it."""

from __future__ import annotations

from webapp.setups.case import Case
from webapp.setups.convert import HeightWay, ReliefWay
from webapp.setups.slots import Slot, pickup_label, string_label, string_numbers
from webapp.trade.words import Check, Side


def relief_lines(case: Case, way: ReliefWay, method: str) -> tuple[str, str]:
    """Hold, press, and what to slide or tap."""
    name = string_label(case.spec, len(case.spec.strings))
    first = f"Hold the {name} down at fret {way.hold} and press it down at fret {way.press}."
    second = {
        "card": f"Slide a card under it over fret {way.gap}. How many fit without lifting it?",
        "ear": f"Tap the string over fret {way.gap}. How much does it move before it clicks?",
    }.get(method, f"Find the thickest blade that slides under it over fret {way.gap} without lifting it.")
    return first, second


def height_lines(case: Case, slot: Slot, way: HeightWay) -> tuple[str, str]:
    """Capo or open, and where the ruler stands."""
    assert slot.string is not None
    held = (
        "Leave the string open."
        if way.hold == 0
        else f"Hold the string down at fret {way.hold} (a capo does it)."
    )
    name = string_label(case.spec, slot.string)
    return held, f"Measure from the top of fret {way.gap} to the underside of the {name}."


def nut_lines(case: Case, slot: Slot, method: str) -> tuple[str, str]:
    """Open string over the first fret."""
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    first = f"Leave the {name} open; press nothing."
    if method == "card":
        return first, "Slide a card between fret 1 and the string. How does it fit?"
    return first, "Measure from the top of fret 1 to the underside of the string."


def intonation_lines(case: Case, slot: Slot, fret: int) -> tuple[str, str]:
    """Tune, fret, read."""
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    return (
        f"Tune the open {name} exactly, just before you read.",
        f"Play it at fret {fret}, pressing as you always do, and read how far off the tuner shows it.",
    )


def pickup_lines(case: Case, slot: Slot) -> tuple[str, str]:
    """Last fret, then over the pickup."""
    assert slot.pickup is not None
    numbers = string_numbers(case.spec)
    name = string_label(case.spec, numbers[0] if slot.side is Side.BASS else numbers[-1])
    return (
        f"Press the {name} down at the last fret ({case.spec.fret_count}).",
        f"Measure from the top of the {pickup_label(case.spec, slot.pickup).lower()} "
        "(its pole, if it stands out) to the underside of the string.",
    )


def heading(case: Case, slot: Slot) -> str:
    """The page's heading: what is read."""
    if slot.check is Check.RELIEF:
        return "Relief"
    if slot.check is Check.PICKUPS:
        assert slot.pickup is not None and slot.side is not None
        return f"{pickup_label(case.spec, slot.pickup)}, {slot.side.value} side"
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    return {
        Check.HEIGHT: f"Height of the {name}",
        Check.NUT: f"{name} at the nut",
        Check.INTONATION: f"{name} at fret {case.intonation_fret(slot)}",
    }[slot.check]
