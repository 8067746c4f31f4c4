"""The portrait of every kind, and of instruments that no kind begins with; marks, whereabouts and maps."""

from __future__ import annotations

from collections.abc import Iterator

from tests.setups.journals import spec_of, the_trade
from webapp.drawings.marks import REPAIRER
from webapp.drawings.portrait.instrument_map import MapPlace, instrument_map
from webapp.drawings.portrait.portrait import PlaceMark, portrait, units_per_mm
from webapp.drawings.portrait.whereabouts import whereabouts
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import INCH
from webapp.setups.states import Word
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, RodAccess, RodNut


def others() -> dict[str, InstrumentSpec]:
    """What no kind begins with: fanned frets, no head, the rod's nut at the body's end, many strings."""
    return {
        "fanned": spec_of("bass_5_35", scale_bass_mm=914.0, scale_treble_mm=850.0),
        "headless": spec_of("bass_5_34", headless=True),
        "headless_rod_at_body": spec_of("electric_7", headless=True, rod={"nut_at": RodNut.BODY}),
        "rod_at_body": spec_of("electric_6", rod={"nut_at": RodNut.BODY, "access": RodAccess.NECK_OFF}),
        "rod_in_hole": spec_of("acoustic_6", rod={"nut_at": RodNut.BODY}),
        "floating_bass": spec_of("bass_4_34", bridge={"type": BridgeType.FLOATING}),
        "short_scale_guitar": spec_of(
            "electric_6", scale_bass_mm=578.0, scale_treble_mm=578.0, fret_count=24
        ),
        "acoustic_bass": spec_of(
            "bass_4_34", bridge={"type": BridgeType.ONE_PIECE}, pickups=(), joint_fret=14
        ),
    }


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Name and drawing."""
    specs = {key: kind.spec for key, kind in the_trade().kinds.items()} | others()
    for key, spec in specs.items():
        yield f"lying-{key}", portrait(spec)
        yield f"map-{key}", instrument_map(spec, _places(spec))
    bass, guitar = specs["bass_4_34"], specs["electric_6_posts"]
    yield "lying-left-handed", portrait(spec_of("bass_4_34", left_handed=True))
    left = spec_of("electric_6_posts", left_handed=True)
    yield "map-left-handed", instrument_map(left, _places(left), units=INCH)
    yield "map-of-four", instrument_map(bass, _places(bass)[:4])
    yield "map-of-eight", instrument_map(guitar, _eight(guitar))
    marks = (
        PlaceMark("nut.3", Word.TOO_LOW, "Nut, A: too low", "/nut"),
        PlaceMark("rod", REPAIRER, "The rod: for a repairer", "/rod"),
        PlaceMark("relief", Word.TOUCH_HIGH, "Relief: a touch bowed"),
        PlaceMark("height", Word.GOOD, "Height: good"),
        PlaceMark("saddle.1", Word.NOT_MEASURED, "Intonation, G: not measured"),
    )
    yield "marked", portrait(bass, marks)
    scale = 1 / units_per_mm([bass, guitar])
    yield "one-scale", portrait(guitar, marks, scale)
    yield from _where(specs)


def _where(specs: dict[str, InstrumentSpec]) -> Iterator[tuple[str, Drawing]]:
    asked = (
        ("bass_4_34", "rod", "the rod’s nut"), ("rod_in_hole", "rod", "the rod’s nut, in the hole"),
        ("headless", "rod", "the rod’s nut"), ("headless_rod_at_body", "rod", "the rod’s nut"),
        ("bass_4_34", "saddle.2", "the D saddle"), ("fanned", "saddle.5", "the low B saddle"),
        ("electric_6_posts", "post.treble", "the thin strings’ post"),
        ("electric_6_floating", "post.bass", "the thick strings’ post"),
        ("bass_4_34", "pickup.middle.bass", "this end of the pickup"),
        ("classical_6", "nut.5", "A, at the nut"),
        ("acoustic_12", "saddle", "one saddle for all the strings"),
    )  # fmt: skip
    for key, place, label in asked:
        yield f"where-{key}-{place}", whereabouts(specs[key], place, label)
    yield "where-left-handed", whereabouts(spec_of("bass_4_34", left_handed=True), "saddle.4", "the E saddle")


def _places(spec: InstrumentSpec) -> list[MapPlace]:
    places = [
        MapPlace("strings", "Strings", "4 months old", Word.GOOD, "/strings"),
        MapPlace("nut.3", "Nut", "A 0.08 mm", Word.TOO_LOW, "/nut"),
        MapPlace("relief", "Relief", "0.60 mm", Word.TOUCH_HIGH, "/relief", "a touch bowed"),
        MapPlace("height", "Height at 12", "2.5–3.0 mm", Word.GOOD, "/height"),
        MapPlace("saddle.1", "Intonation", "−2 to +9 cents", Word.TOO_HIGH, "/intonation", "sharp"),
    ]
    if spec.pickups:
        place = f"pickup.{spec.pickups[-1].position.value}"
        places.append(MapPlace(place, "Pickups", "2.0–2.5 mm", Word.EXPECTED, "/pickups"))
    return places


def _eight(spec: InstrumentSpec) -> list[MapPlace]:
    return [
        *_places(spec),
        MapPlace("rod", "Rod", "", REPAIRER, "/rod"),
        MapPlace("joint", "Play test", "", Word.NOT_MEASURED, "/playtest"),
    ]
