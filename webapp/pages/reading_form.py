"""From the typed reading to one journal entry."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.common import Visit
from webapp.pages.forms import FormReader
from webapp.pages.loading import LoadedSetup
from webapp.physics.lengths import Unit
from webapp.setups.convert import STANDARD_HEIGHT, HeightWay, ReliefWay, height_way, relief_way
from webapp.setups.journal import Entry
from webapp.setups.slots import Slot
from webapp.store.entries import NewEntry
from webapp.trade.ranges import Band
from webapp.trade.tools import ReadingMethod
from webapp.trade.words import Check

# What a ruler can be typed as at all; between this and plausible, the reading is recorded but doubted.
WIDEST_MM = {
    Check.RELIEF: Band(low=-5, high=10),
    Check.HEIGHT: Band(low=0, high=25),
    Check.NUT: Band(low=0, high=10),
    Check.PICKUPS: Band(low=0, high=30),
}
WIDEST_CENTS = Band(low=-200, high=200)
CARD_MM = Band(low=0.1, high=1.0)


@dataclass(frozen=True)
class Ways:
    """How this reading is taken: the method, and the frets that matter for its check."""

    method: ReadingMethod
    relief: ReliefWay
    height: HeightWay
    fret: int
    unit: Unit
    card_mm: float
    card_words: str


@dataclass(frozen=True)
class Choices:
    """What can be chosen beside the value."""

    answers: tuple[tuple[str, str], ...]
    heights: tuple[tuple[str, str], ...]
    frets: tuple[tuple[str, str], ...]


def ways_of(visit: Visit, setup: LoadedSetup, slot: Slot, form: FormReader) -> Ways:
    """As typed, else as this check was last read in this setup, else the usual way."""
    last = _last_of_check(setup, slot.check)
    methods = visit.trade.methods_for(slot.check)
    wanted = form.raw("tool") or (str(last.detail.get("method", "")) if last else "")
    method = next((m for m in methods if m.key == wanted), methods[0])
    unit = Unit(last.unit) if last and last.unit in [u.value for u in Unit] else visit.unit
    return Ways(
        method=method,
        relief=_relief_way(setup, form, last if slot.check is Check.RELIEF else None),
        height=_height_way(setup, form, last if slot.check is Check.HEIGHT else None),
        fret=_high_fret(setup, slot, form),
        unit=form.unit("value", unit),
        card_mm=_card_mm(visit, last),
        card_words="the same card as before" if last and "card_mm" in last.detail else "a common card",
    )


def _card_mm(visit: Visit, last: Entry | None) -> float:
    """The card this check was last read with in this setup, else a common one."""
    return (
        float(last.detail.get("card_mm", visit.trade.card_thickness_mm))
        if last
        else visit.trade.card_thickness_mm
    )


def as_it_was_typed(old: Entry) -> dict[str, str]:
    """The form as that reading was typed, to start its correction from."""
    detail = old.detail
    data = {"corrects": str(old.id), "tool": str(detail.get("method", "")), "value": old.typed}
    if old.unit in [unit.value for unit in Unit]:
        data["value_unit"] = old.unit
    data |= {name: str(detail[name]) for name in ("hold", "press", "gap", "fret", "answer") if name in detail}
    if old.check is Check.HEIGHT:
        data["way"] = f"{height_way(old).hold}-{height_way(old).gap}"
    return data


def _last_of_check(setup: LoadedSetup, check: Check) -> Entry | None:
    readings = [e for e in setup.journal.live if e.kind.value == "reading" and e.check is check]
    return readings[-1] if readings else None


def _relief_way(setup: LoadedSetup, form: FormReader, last: Entry | None) -> ReliefWay:
    base = relief_way(last, setup.case.relief_standard) if last else setup.case.relief_standard
    typed = {name: form.raw(name) for name in ("hold", "press", "gap")}
    frets = {n: int(t) if t.isdecimal() and len(t) < 4 else getattr(base, n) for n, t in typed.items()}
    way = ReliefWay(**frets)
    return way if _relief_fault(setup, way) is None else base


def _relief_fault(setup: LoadedSetup, way: ReliefWay) -> tuple[str, str] | None:
    last = setup.spec.fret_count
    if not 1 <= way.hold <= last:
        return "hold", f"This board has frets 1 to {last}."
    if not 1 <= way.press <= last:
        return "press", f"This board has frets 1 to {last}."
    if not way.hold < way.gap < way.press:
        return "gap", "The gap must lie between the fret you hold and the fret you press."
    return None


def _height_way(setup: LoadedSetup, form: FormReader, last: Entry | None) -> HeightWay:
    typed = dict(height_choices(setup)).keys()
    if form.raw("way") in typed:
        hold, gap = form.raw("way").split("-")
        return HeightWay(int(hold), int(gap))
    return height_way(last) if last else STANDARD_HEIGHT


def height_choices(setup: LoadedSetup) -> tuple[tuple[str, str], ...]:
    """The three ways the trade reads a string's height."""
    last = setup.spec.fret_count
    return (
        ("1-12", "at fret 12, held at 1"),
        ("0-12", "at fret 12, open string"),
        (f"1-{last}", f"at the last fret ({last}), held at 1"),
    )


def _high_fret(setup: LoadedSetup, slot: Slot, form: FormReader) -> int:
    if slot.check is not Check.INTONATION or not slot.high:
        return 12
    typed = form.raw("fret")
    if typed.isdecimal() and len(typed) < 3 and 13 <= int(typed) <= setup.spec.fret_count:
        return int(typed)
    return setup.case.intonation_fret(slot)


def choices_of(setup: LoadedSetup, slot: Slot, ways: Ways) -> Choices:
    """The lists that the form offers."""
    high = range(13, setup.spec.fret_count + 1) if slot.high else ()
    return Choices(
        answers=tuple((choice.key, choice.label) for choice in ways.method.choices),
        heights=height_choices(setup) if slot.check is Check.HEIGHT else (),
        frets=tuple((str(fret), f"fret {fret}") for fret in high),
    )


def read_reading(visit: Visit, setup: LoadedSetup, slot: Slot, form: FormReader) -> NewEntry | None:
    """One entry, or None with the sentences put beside the fields."""
    methods = {m.key: m for m in visit.trade.methods_for(slot.check)}
    tool = form.choice("tool", methods, "how you measured")
    detail = _detail(setup, slot, form)
    voids = _corrected(setup, slot, form)
    if tool is None:
        return None
    method = methods[tool]
    value, unit, typed, error = _value(visit, setup, slot, form, method, detail)
    if not form.ok or value is None:
        return None
    detail["method"] = method.key
    return NewEntry(
        "reading", slot.check.value, slot.key, value, unit, typed, method.tool, error, detail, voids
    )


def _detail(setup: LoadedSetup, slot: Slot, form: FormReader) -> dict[str, object]:
    """The frets that this reading was taken with."""
    if slot.check is Check.RELIEF:
        return _relief_detail(setup, form)
    if slot.check is Check.HEIGHT:
        way = form.choice("way", dict(height_choices(setup)), "how the string was held") or "1-12"
        hold, gap = way.split("-")
        return {"hold": int(hold), "gap": int(gap)}
    if slot.check is Check.INTONATION and slot.high:
        fret = form.whole("fret", 13, setup.spec.fret_count, "The fret you played")
        return {"fret": fret}
    return {"fret": 12} if slot.check is Check.INTONATION else {}


def _relief_detail(setup: LoadedSetup, form: FormReader) -> dict[str, object]:
    last = setup.spec.fret_count
    frets = {
        name: form.whole(name, 1, last, what)
        for name, what in (
            ("hold", "The fret you hold"),
            ("press", "The fret you press"),
            ("gap", "The fret of the gap"),
        )
    }
    if None not in frets.values():
        fault = _relief_fault(setup, ReliefWay(**frets))  # type: ignore[arg-type]
        if fault:
            form.fault(*fault)
    return dict(frets)


def _corrected(setup: LoadedSetup, slot: Slot, form: FormReader) -> int | None:
    text = form.raw("corrects")
    if not text:
        return None
    live = {str(e.id): e.id for e in setup.journal.live if e.slot == slot.key}
    if text not in live:
        form.fault("value", "The reading to correct was struck through meanwhile.")
    return live.get(text)


def _value(
    visit: Visit,
    setup: LoadedSetup,
    slot: Slot,
    form: FormReader,
    method: ReadingMethod,
    detail: dict[str, object],
) -> tuple[float | None, str, str, float | None]:
    tool = visit.trade.tools[method.tool]
    if method.input == "cents":
        return form.cents("value", WIDEST_CENTS), "cents", form.raw("value").strip(), tool.error_cents
    if method.input == "choice":
        card_mm = _card_mm(visit, _last_of_check(setup, slot.check))
        return _chosen(visit, form, method, detail, card_mm)
    plausible = getattr(visit.trade.ranges.plausible, _PLAUSIBLE[slot.check])
    length = form.length("value", visit.unit, plausible, WIDEST_MM[slot.check])
    if length is None:
        return None, "", "", None
    return length.mm, length.unit.value, length.typed, tool.error_mm


_PLAUSIBLE = {Check.RELIEF: "relief", Check.HEIGHT: "height", Check.NUT: "nut", Check.PICKUPS: "pickup"}


def _chosen(
    visit: Visit, form: FormReader, method: ReadingMethod, detail: dict[str, object], card_mm: float
) -> tuple[float | None, str, str, float | None]:
    key = form.choice("answer", [c.key for c in method.choices], "one of the answers")
    if method.tool == "card" and form.raw("card"):
        card = form.length("card", visit.unit, CARD_MM)
        card_mm = card.mm if card else card_mm
    if key is None:
        return None, "", "", None
    choice = method.choice(key)
    detail["answer"] = key
    if choice.cards is not None:
        detail["card_mm"] = card_mm
    return choice.size_mm(card_mm), "mm", choice.label, choice.error_mm
