"""How readings are taken: every method on every kind, the nut, the neck from the side, the answers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path

from webapp.drawings.reading.answers import answer_pictures
from webapp.drawings.reading.measure import Reading, reading_drawing
from webapp.drawings.reading.nut_board import nut_from_the_board
from webapp.drawings.reading.side import SideString, neck_side
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import INCH
from webapp.setups.geometry import neck_with_relief
from webapp.setups.slots import RELIEF, Slot, height_slot, nut_slot, pickup_slot, string_label, tuned_slot
from webapp.trade.content import Trade, load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, Side

CONTENT = Path(__file__).resolve().parents[3] / "content"
WIDEST, COMMON = "bass_6_34", "bass_4_34"
# A target for each check; the drawings follow whatever they are given.
TARGETS: Mapping[Check, tuple[float, float]] = {
    Check.RELIEF: (0.15, 0.45),
    Check.HEIGHT: (2.0, 3.0),
    Check.NUT: (0.25, 0.5),
    Check.PICKUPS: (2.0, 3.0),
    Check.INTONATION: (0.0, 0.0),
}


@lru_cache(maxsize=1)
def trade() -> Trade:
    return load_trade(CONTENT)


def spec_of(kind: str, left_handed: bool = False) -> InstrumentSpec:
    """The instrument that a kind starts with."""
    return trade().kinds[kind].spec.model_copy(update={"left_handed": left_handed})


def place_of(spec: InstrumentSpec, check: Check) -> Slot:
    """One place of a check, on the thickest string."""
    thickest = spec.string_count
    places = {
        Check.RELIEF: RELIEF,
        Check.HEIGHT: height_slot(thickest),
        Check.NUT: nut_slot(thickest),
        Check.INTONATION: tuned_slot(thickest),
        Check.PICKUPS: pickup_slot(len(spec.pickups), Side.BASS),
    }
    return places[check]


def way_of(spec: InstrumentSpec, check: Check) -> dict[str, int]:
    press = min(13, spec.joint_fret)
    ways = {
        Check.RELIEF: {"hold": 1, "press": press, "gap": 7},
        Check.HEIGHT: {"hold": 1, "gap": 12},
        Check.INTONATION: {"fret": 12},
    }
    return ways.get(check, {})


def checks_of(kind: str) -> list[Check]:
    """The checks that have something to read on a kind."""
    return [check for check in TARGETS if check is not Check.PICKUPS or spec_of(kind).pickups]


def reading_of(kind: str, check: Check, method: str, left_handed: bool = False, **more: object) -> Reading:
    """One reading as a kind's own instrument gives it."""
    spec = spec_of(kind, left_handed)
    told = {"slot": place_of(spec, check), "way": way_of(spec, check), "target": TARGETS[check], **more}
    return Reading(spec, method=method, **told)  # type: ignore[arg-type]


def side_of(kind: str, left_handed: bool = False, relief: float = 0.3) -> Drawing:
    spec = spec_of(kind)
    frets = (1, min(13, spec.joint_fret), 7)
    strings = []
    for number, height in ((spec.string_count, 2.5), (1, 1.9)):
        neck = neck_with_relief(spec, relief, *frets, number)
        strings.append(SideString(string_label(spec, number), neck, neck.saddle_for_action(height)))
    return neck_side(strings, frets, left_handed=left_handed)


def _readings() -> Iterator[tuple[str, Reading]]:
    for kind in trade().kinds:
        for check in checks_of(kind):
            method = trade().methods_for(check)[0]
            yield f"reading-{kind}-{check}", reading_of(kind, check, method.key)
    for method in trade().methods:
        yield f"method-{method.check}-{method.key}", reading_of(COMMON, method.check, method.key)
    thin = {"slot": height_slot(1), "value_mm": 1.6}
    for kind in ("electric_6", COMMON):
        yield f"thin-{kind}", reading_of(kind, Check.HEIGHT, "ruler", **thin)
    last = {"way": {"hold": 1, "press": 20, "gap": 8}}
    yield "relief-last-fret", reading_of(COMMON, Check.RELIEF, "feeler", **last)
    yield "relief-back-bow", reading_of(COMMON, Check.RELIEF, "feeler", value_mm=-0.25)
    yield "relief-largest", reading_of(COMMON, Check.RELIEF, "feeler", value_mm=2.0)
    yield "relief-left-handed", reading_of(COMMON, Check.RELIEF, "card", left_handed=True, value_mm=0.6)
    yield "relief-by-finger", reading_of(COMMON, Check.RELIEF, "card", capo=False)
    yield "height-by-finger", reading_of("acoustic_12", Check.HEIGHT, "ruler", capo=False, left_handed=True)
    yield "relief-too-thick", reading_of(COMMON, Check.RELIEF, "card", card_mm=0.76)
    yield "height-open-inches", reading_of(
        COMMON, Check.HEIGHT, "ruler", way={"hold": 0, "gap": 12}, units=INCH, marks_mm=0.396875, value_mm=2.8
    )  # fmt: skip
    yield "height-all", reading_of(WIDEST, Check.HEIGHT, "gauge", together=True, marks_mm=0.1)
    yield "height-largest", reading_of(COMMON, Check.HEIGHT, "ruler", value_mm=8.0)
    yield "height-last-fret", reading_of(COMMON, Check.HEIGHT, "ruler", way={"hold": 1, "gap": 20})
    yield "nut-left-handed", reading_of("electric_7", Check.NUT, "feeler", left_handed=True)
    treble = {"slot": pickup_slot(1, Side.TREBLE), "value_mm": 1.5}
    yield "pickup-treble", reading_of("electric_6", Check.PICKUPS, "ruler", **treble)
    tuned = {"way": {"fret": 19}, "together": True, "value_cents": -7.0}
    yield "intonation-both", reading_of(COMMON, Check.INTONATION, "tuner", **tuned)
    yield (
        "intonation-left-handed",
        reading_of(COMMON, Check.INTONATION, "tuner", left_handed=True, value_cents=4),
    )


def _unusual() -> Iterator[tuple[str, Reading]]:
    """Fanned frets, and a neck without a head."""
    fanned = spec_of(COMMON).model_copy(update={"scale_treble_mm": 812.8})
    headless = spec_of("electric_6").model_copy(update={"headless": True})
    for name, spec in (("fanned", fanned), ("headless", headless)):
        for check, method in ((Check.RELIEF, "feeler"), (Check.NUT, "gauge"), (Check.INTONATION, "tuner")):
            slot, way = place_of(spec, check), way_of(spec, check)
            yield f"{name}-{check}", Reading(spec, slot, method, way, target=TARGETS[check])


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Every drawing by its name."""
    for name, reading in (*_readings(), *_unusual()):
        yield name, reading_drawing(reading)
    for method in trade().methods:
        for key, drawing in answer_pictures(method, spec_of(COMMON).string(4)).items():
            yield f"answer-{method.check}-{method.key}-{key}", drawing
    for kind in trade().kinds:
        spec = spec_of(kind)
        yield f"nut-{kind}", nut_from_the_board(spec, spec.string_count - 1, 0.08, (0.25, 0.5))
        yield f"side-{kind}", side_of(kind)
    yield "nut-too-high", nut_from_the_board(spec_of("electric_6", True), 1, 0.9, (0.2, 0.4))
    yield "side-left-handed", side_of(COMMON, left_handed=True)
    yield "side-back-bow", side_of(COMMON, relief=-0.25)
