"""From what was typed to journal entries: one for each place that was filled in."""

from __future__ import annotations

from collections.abc import Mapping

from webapp.pages.setup.reading_ask import UNIT_KEYS, Ask, card_before, fret_fault
from webapp.pages.visit.forms import FormReader
from webapp.physics.lengths import Unit
from webapp.physics.numbers import write_number
from webapp.setups.checks.base import Way
from webapp.setups.convert import height_way
from webapp.setups.journal import COMPARED, Entry, EntryKind
from webapp.setups.reading_entry import entry_detail
from webapp.setups.slots import Slot, slots_of
from webapp.trade.ranges import Band

CARD_MM = Band(low=0.1, high=2.0)


def as_it_was_typed(old: Entry) -> dict[str, str]:
    """The form as that reading was typed, to start its correction from."""
    detail = old.detail
    data = {"corrects": str(old.id), "tool": str(detail.get("method", "")), "value": old.typed}
    if old.unit in UNIT_KEYS:
        data["value_unit"] = old.unit
    data |= {n: str(detail[n]) for n in ("hold", "press", "gap", "fret", "answer", COMPARED) if n in detail}
    if "step" in detail:
        data["step"] = write_number(detail["step"])
    if "card_mm" in detail:
        data |= {"card": write_number(detail["card_mm"]), "card_unit": Unit.mm.value}
    if "hold" in detail and "press" not in detail:
        data["way"] = f"{height_way(old).hold}-{height_way(old).gap}"
    return data


def read_entries(ask: Ask, form: FormReader, corrects: int | None = None) -> list[Entry]:
    """One entry for each place that was filled in, in the order of the bench; faults stand beside fields."""
    tool = form.choice(ask.field("tool"), [m.key for m in ask.methods], "how you measured")
    way, card_mm = _typed_way(ask, form), _typed_card(ask, form)
    step = float(ask.step) if ask.steps and not ask.method.choices else None
    if tool is None:
        return []
    order = slots_of(ask.case.spec, ask.check.check)
    filled = [s for s in sorted(ask.slots, key=order.index) if ask.single or _is_filled(ask, s, form)]
    found = [_entry(ask, slot, form, way, step, card_mm, corrects) for slot in filled]
    return [entry for entry in found if entry is not None]


def _is_filled(ask: Ask, slot: Slot, form: FormReader) -> bool:
    name = ask.name(slot)
    return bool(form.raw(name).strip() or form.raw(f"{name}_take"))


def _entry(
    ask: Ask, slot: Slot, form: FormReader, way: Way, step: float | None, card_mm: float | None,
    corrects: int | None,
) -> Entry | None:  # fmt: skip
    name, trade, method = ask.name(slot), ask.case.trade, ask.method
    frets = {n: way.get(n, usual) for n, usual in ask.check.way(ask.case, slot, None).items()}
    if "fret" in frets and not slot.high:
        frets["fret"] = 12
    if method.choices:
        key = form.choice(name, [c.key for c in method.choices], "one of the answers")
        if key is None:
            return None
        value, detail = entry_detail(trade, method, answer=key, card_mm=card_mm)
        unit, typed = "cents" if ask.check.is_cents else "mm", method.choice(key).label
        detail |= _compared(ask, form)
    else:
        number = _number(ask, slot, form)
        if number is None:
            return None
        value, unit, typed = number
        value, detail = entry_detail(trade, method, value, step=step)
    sigma = trade.tools[method.tool].sigma
    check = ask.check.check
    return Entry(
        EntryKind.READING, check, slot.key, value, unit, typed, method.tool, sigma, {**frets, **detail},
        corrects,
    )  # fmt: skip


def _number(ask: Ask, slot: Slot, form: FormReader) -> tuple[float, str, str] | None:
    """Value, unit and what was typed."""
    name, widest = ask.name(slot), ask.check.widest_of(slot)
    if ask.is_cents:
        cents = form.cents(name, widest)
        return None if cents is None else (cents, "cents", form.raw(name).strip())
    length = form.length(name, ask.unit, ask.check.likely_of(ask.case, slot), widest)
    refused = ask.check.refused(slot, length.mm) if length else ""
    if refused:
        form.fault(name, refused)
    return None if length is None or refused else (length.mm, length.unit.value, length.typed)


def _compared(ask: Ask, form: FormReader) -> Mapping[str, str]:
    told = form.raw(ask.field(COMPARED))
    return {COMPARED: told} if ask.compares and told in ("more", "same", "less") else {}


def _typed_way(ask: Ask, form: FormReader) -> Way:
    """The frets as typed; what the form did not ask is as the page said."""
    if ask.heights and ask.field("way") in form.data:
        form.choice(ask.field("way"), dict(ask.heights), "how the string was held")
    elif ask.asks_frets and any(field.name in form.data for field in ask.fret_fields):
        typed = {field.part: field.read(form) for field in ask.fret_fields}
        way = {name: fret for name, fret in typed.items() if fret is not None}
        fault = fret_fault(ask.case, way) if len(way) == len(typed) else None
        if fault:
            form.fault(ask.field(fault[0]), fault[1])
    elif ask.frets and ask.field("fret") in form.data:
        form.whole(ask.field("fret"), 13, ask.case.spec.fret_count, "The fret you played")
    return ask.way


def _typed_card(ask: Ask, form: FormReader) -> float | None:
    """The thickness that was typed, else that of the chosen card."""
    if ask.method.tool != "card":
        return None
    if form.raw(ask.field("card")).strip() or form.raw(f"{ask.field('card')}_take"):
        typed = form.length(ask.field("card"), Unit.mm, CARD_MM)
        return typed.mm if typed else None
    if form.raw(ask.field("card_kind")):
        form.choice(ask.field("card_kind"), dict(ask.cards), "which card it is")
    found = next((c.thickness_mm for c in ask.case.trade.cards if c.key == ask.card), None)
    return card_before(ask.case) if found is None else found
