"""Short words about an instrument and its newest setup, for the bench and for the instrument's own page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from webapp.pages.instrument.description_values import inches, is_round_inches, millimetres, typed_length
from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.case_loading import LoadedInstrument, LoadedSetup
from webapp.pages.visit.dates import clock, day
from webapp.pages.visit.next_page import next_words
from webapp.physics.lengths import Unit
from webapp.physics.numbers import say_number
from webapp.setups.journal import Part
from webapp.setups.states import Assessment
from webapp.setups.strings.relief_pull import SAME_STRINGS
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import RodType, label


@dataclass(frozen=True)
class InstrumentStanding:
    """How an instrument's newest setup stands."""

    under_way: bool = False
    sentence: str = "Not set up yet"
    next_words: str = ""
    next_href: str = ""
    read_relief: str = ""
    repairer: tuple[str, ...] = ()


def standing(passes: Sequence[LoadedSetup], now_standing: Assessment, now: datetime) -> InstrumentStanding:
    """What to say of an instrument: its setups, newest first, and how it stands after all of them."""
    full = [setup for setup in passes if not setup.quick]
    repairer = tuple(item.text for item in now_standing.repairer)
    relief = relief_words(now_standing.read_relief_at, now)
    if not full:
        return InstrumentStanding(read_relief=relief, repairer=repairer)
    setup = full[0]
    found = setup.assessment
    if setup.row.finished_at is not None:
        sentence = f"Last set up on {day(setup.row.finished_at)}"
        newest = passes[0]
        if newest.quick and newest.row.finished_at is not None:
            sentence += f", {_between(newest)} on {day(newest.row.finished_at)}"
        return InstrumentStanding(False, sentence, "", "", relief, repairer)
    sentence = f"Setup under way since {day(setup.row.started_at)}"
    path = setup_path(setup.id, "next")
    return InstrumentStanding(True, sentence, next_words(found.next), path, relief, repairer)


def _between(quick: LoadedSetup) -> str:
    """What was done between setups."""
    strings = quick.journal.last_turn(Part.STRINGS)
    if strings is None:
        return "quick check"
    return "retuned" if strings.detail.get(SAME_STRINGS) else "strings changed"


def relief_words(at: datetime | None, now: datetime) -> str:
    """When relief should be read once more after the rod was turned; empty where it need not be."""
    if at is None:
        return ""
    if at <= now:
        return "The rod has settled: read relief again"
    return f"Read relief again on {day(at)}, after {clock(at)}"


@dataclass(frozen=True)
class Fact:
    """One line of what is known of the instrument."""

    name: str
    text: str


def facts(instrument: LoadedInstrument, kind_name: str) -> tuple[Fact, ...]:
    """The instrument in short."""
    spec = instrument.spec
    pickups = ", ".join(f"{p.position.value} ({label(p.type)})" for p in spec.pickups)
    rows = (
        ("Kind", kind_name),
        ("Touch", touch_words(spec)),
        ("Scale", _scale(spec)),
        ("Frets", f"{spec.fret_count}, neck meets the body at {spec.joint_fret}"),
        ("Board", _board(spec)),
        ("Strings", " ".join("/".join(one.note for one in string.course) for string in spec.strings)),
        ("Gauges", _gauges(spec)),
        ("Truss rod", _rod(spec)),
        ("Bridge", label(spec.bridge.type)),
        ("Pickups", pickups or "none"),
    )
    return tuple(Fact(name, text) for name, text in rows)


def touch_words(spec: InstrumentSpec) -> str:
    """How hard the player plays, in words."""
    return "your own, found by test" if spec.own_swing else spec.touch.value


def _scale(spec: InstrumentSpec) -> str:
    bass = _as_typed(spec, "scale", spec.scale_bass_mm)
    if not spec.is_multiscale:
        return bass
    return f"{bass} bass side, {_as_typed(spec, 'scale_treble', spec.scale_treble_mm)} treble side"


def _board(spec: InstrumentSpec) -> str:
    if spec.radius_nut_mm is None or spec.radius_end_mm is None:
        return "flat"
    nut = _as_typed(spec, "radius_nut", spec.radius_nut_mm)
    if spec.radius_nut_mm == spec.radius_end_mm:
        return f"radius {nut}"
    return f"radius {nut} at the nut, {_as_typed(spec, 'radius_end', spec.radius_end_mm)} at the end"


def _gauges(spec: InstrumentSpec) -> str:
    gauges = [[one.gauge_mm for one in string.course] for string in spec.strings]
    if all(is_round_inches(mm) for course in gauges for mm in course):
        return (
            " ".join("/".join(say_number(float(inches(mm)), 3) for mm in course) for course in gauges) + " in"
        )
    return " ".join("/".join(say_number(mm, 2) for mm in course) for course in gauges) + " mm"


def _rod(spec: InstrumentSpec) -> str:
    if spec.rod.type is RodType.NONE:
        return label(spec.rod.type)
    key = f", {spec.rod.key_size} key" if spec.rod.key_size else ""
    return f"{label(spec.rod.type)}, nut at the {spec.rod_nut_end}, tightens {spec.rod.tightens.value}{key}"


def _as_typed(spec: InstrumentSpec, name: str, mm: float) -> str:
    """A length in the unit it was typed in, so that 34 in stays 34 in."""
    typed = typed_length(spec, name, f"{name}_unit")
    in_inches = typed is None or typed[2] != mm or typed[1] is not Unit.mm
    return f"{inches(mm)} in" if in_inches and is_round_inches(mm) else f"{millimetres(mm)} mm"
