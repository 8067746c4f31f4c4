"""An instrument's description in words, each length in the unit it was typed in: 34 in stays 34 in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from webapp.physics.numbers import MM_PER_INCH, LengthError, Unit, parse_length, say_number, write_number
from webapp.setups.journal import Part, Turn
from webapp.trade.content import Trade
from webapp.trade.spec import NO_SCREW, UNKNOWN, BridgeSpec, InstrumentSpec
from webapp.trade.words import RodType, label

TENTH_OF_A_MICRON = 4  # decimals of a mm; finer is the noise of turning inches into mm


def tidy(mm: float) -> float:
    """A length as it is kept: 34 in is 863.6 mm, not 863.5999999999999."""
    return round(mm, TENTH_OF_A_MICRON)


def typed_length(spec: InstrumentSpec, name: str, unit_name: str) -> tuple[str, Unit, float] | None:
    """What was typed into a field, its unit, and the mm it says; None where nothing usable was kept."""
    text = spec.typed.get(name)
    if text is None:
        return None
    try:
        unit = Unit(spec.typed.get(unit_name, Unit.mm.value))
        return text, unit, tidy(parse_length(text, unit, 0.0, 1e6).mm)
    except (LengthError, ValueError):
        return None


def is_round_inches(mm: float) -> bool:
    """Whether the length is a whole number of thous, as lengths meant in inches are."""
    return tidy(float(inches(mm)) * MM_PER_INCH) == tidy(mm)


def inches(mm: float) -> str:
    """Inches to the thou, without needless zeros: 34, 25.5, 0.045."""
    return _short(mm / MM_PER_INCH, 3)


def millimetres(mm: float) -> str:
    """Millimetres without needless zeros: 650, 1.09."""
    return _short(mm, TENTH_OF_A_MICRON)


def _short(value: float, places: int) -> str:
    return write_number(value, places).rstrip("0").rstrip(".")


def as_typed(spec: InstrumentSpec, name: str, mm: float) -> str:
    """A length of the description: in inches where it was typed so, or is round in them and was not typed."""
    typed = typed_length(spec, name, f"{name}_unit")
    in_inches = typed is None or typed[2] != mm or typed[1] is not Unit.mm
    return f"{inches(mm)} in" if in_inches and is_round_inches(mm) else f"{millimetres(mm)} mm"


@dataclass(frozen=True)
class Fact:
    """One line of what is known of the instrument; `assumed` where nobody has said so."""

    name: str
    text: str
    assumed: bool = False


def facts(spec: InstrumentSpec, trade: Trade) -> tuple[Fact, ...]:
    """The instrument in short."""
    kind = trade.kinds[spec.kind]
    pickups = ", ".join(f"{p.position.value} ({label(p.type)})" for p in spec.pickups)
    frets = f"{spec.fret_count}, neck meets the body at {spec.joint_fret}"
    rows: tuple[tuple[str, str, tuple[str, ...]], ...] = (
        ("Kind", kind.name, ()),
        ("Hand", "left-handed" if spec.left_handed else "", ()),
        ("Touch", touch_words(spec), ()),
        ("Scale", scale_words(spec), ("scale_bass_mm", "scale_treble_mm")),
        ("Frets", frets, ("fret_count", "joint_fret")),
        ("Board", _board(spec), ("radius_nut_mm", "radius_end_mm")),
        ("Strings", " ".join("/".join(one.note for one in s.course) for s in spec.strings), ("strings",)),
        ("Gauges", _gauges(spec), ("strings",)),
        ("Truss rod", _rod(spec), ("rod",)),
        ("Bridge", _bridge(spec.bridge, trade), ("bridge",)),
        ("Pickups", pickups or "none", ("pickups",)),
    )
    return tuple(Fact(name, text, is_assumed(spec, trade, *parts)) for name, text, parts in rows if text)


def is_assumed(spec: InstrumentSpec, trade: Trade, *parts: str) -> bool:
    """Whether parts of the description are still as their kind filled them in, and nobody confirmed them."""
    kind = trade.kinds[spec.kind].spec
    return spec.assumed and bool(parts) and all(getattr(spec, p) == getattr(kind, p) for p in parts)


def touch_words(spec: InstrumentSpec) -> str:
    """How hard the player plays, in words."""
    return "your own, found by test" if spec.own_swing else spec.touch.value


def scale_words(spec: InstrumentSpec) -> str:
    """The scale length, or both of fanned frets."""
    bass = as_typed(spec, "scale", spec.scale_bass_mm)
    if not spec.is_multiscale:
        return bass
    return f"{bass} bass side, {as_typed(spec, 'scale_treble', spec.scale_treble_mm)} treble side"


def in_short(spec: InstrumentSpec) -> str:
    """What it is in a few words: '4 strings, 34 in'."""
    paired = any(string.partner for string in spec.strings)
    scale = as_typed(spec, "scale", spec.scale_bass_mm)
    if spec.is_multiscale:
        scale = f"{scale} to {as_typed(spec, 'scale_treble', spec.scale_treble_mm)}"
    return f"{spec.string_count} {'pairs of strings' if paired else 'strings'}, {scale}"


def _board(spec: InstrumentSpec) -> str:
    if spec.radius_nut_mm is None or spec.radius_end_mm is None:
        return "flat"
    nut = as_typed(spec, "radius_nut", spec.radius_nut_mm)
    if spec.radius_nut_mm == spec.radius_end_mm:
        return f"radius {nut}"
    return f"radius {nut} at the nut, {as_typed(spec, 'radius_end', spec.radius_end_mm)} at the end"


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


def _bridge(bridge: BridgeSpec, trade: Trade) -> str:
    threads = (("height", bridge.height_thread), ("intonation", bridge.intonation_thread))
    known = [f"{what} screws {trade.threads[key].name}" for what, key in threads if key in trade.threads]
    return ", ".join((label(bridge.type), *known))


def assumed_of(spec: InstrumentSpec, trade: Trade, turn: Turn) -> Iterator[str]:
    """What a turn rests on that nobody has confirmed: which way the part goes, and its thread."""
    bridge = spec.bridge
    if turn.part is Part.ROD and is_assumed(spec, trade, "rod"):
        yield f"the rod tightens {spec.rod.tightens.value}"
    thread = ""
    if turn.part in (Part.SADDLE_HEIGHT, Part.SADDLE_POSITION) and is_assumed(spec, trade, "bridge"):
        thread = bridge.height_thread if turn.part is Part.SADDLE_HEIGHT else bridge.intonation_thread
    if turn.pickup is not None and is_assumed(spec, trade, "pickups"):
        thread = spec.pickups[turn.pickup - 1].thread
    if thread not in ("", UNKNOWN, NO_SCREW):
        yield f"the thread is {trade.threads[thread].name}"
    if turn.part is Part.SADDLE_POSITION and is_assumed(spec, trade, "bridge"):
        yield f"the screws’ heads are {label(bridge.intonation_heads)}"
    if turn.part is Part.SADDLE_HEIGHT and spec.radius_nut_mm and is_assumed(spec, trade, "radius_nut_mm"):
        yield f"the board’s {_board(spec)}"
