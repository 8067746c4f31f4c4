"""The form on which places are read: what it asks, as typed or as last time, and the entries it makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from webapp.pages.visit.forms import FormReader, WholeField, count_of
from webapp.physics.numbers import MM_PER_UNIT, Unit, say_number, write_number
from webapp.setups.belief.reading import entry_detail
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.checks.base import ReadCheck, Way
from webapp.setups.geometry import height_way
from webapp.setups.journal import COMPARED, Entry, EntryKind, Part
from webapp.setups.slots import Slot, slots_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.tools import ReadingMethod, Tool
from webapp.trade.words import Check

FRETS = (
    ("hold", "Hold at fret", "The fret you hold"),
    ("press", "Press at fret", "The fret you press"),
    ("gap", "Gap at fret", "The fret of the gap"),
)
COMPARISONS = (
    ("more", "More room"),
    ("same", "About the same"),
    ("less", "Less room"),
    ("", "Cannot say"),
)
# How many setups back a tool, a card and a way of measuring are remembered.
REMEMBERED = 4
Choices = tuple[tuple[str, str], ...]
UNIT_KEYS = [unit.value for unit in Unit]


@dataclass(frozen=True)
class Ask:
    """What one form asks: places of one check, all read in one way.

    `single` is a page for one place, whose field is plainly called value or answer; `prefix` keeps apart the
    names of two of these on one page. Choices are (value, label) with the chosen value beside them. `lacking`
    names the tools of all methods where the player has none of them; `capo` is None where nobody told.
    """

    case: Case
    check: ReadCheck
    slots: tuple[Slot, ...]
    method: ReadingMethod
    methods: tuple[ReadingMethod, ...]
    lacking: tuple[str, ...]
    capo: bool | None
    way: Way
    unit: Unit
    single: bool
    prefix: str
    heights: Choices
    frets: Choices
    steps: Choices
    step: str
    step_known: bool
    cards: Choices
    card: str
    compares: bool

    @property
    def tool(self) -> Tool:
        return self.case.trade.tools[self.method.tool]

    @property
    def answers(self) -> Choices:
        return tuple((choice.key, choice.label) for choice in self.method.choices)

    @property
    def comparisons(self) -> Choices:
        return COMPARISONS

    @property
    def is_cents(self) -> bool:
        return self.method.input == "cents"

    @property
    def is_signed(self) -> bool:
        return self.check.widest_of(self.slots[0]).low < 0

    @property
    def asks_frets(self) -> bool:
        return "hold" in self.check.asks

    def field(self, name: str) -> str:
        """The name of a field that all places share."""
        return self.prefix + name

    @property
    def fret_fields(self) -> tuple[WholeField, ...]:
        """Which frets a gap is read by."""
        last = self.case.spec.fret_count
        return tuple(
            WholeField(self.field(name), name, label, low=1, high=last, what=what)
            for name, label, what in FRETS
        )

    def name(self, slot: Slot) -> str:
        """The name of a place's own field."""
        if self.single:
            return "answer" if self.method.choices else "value"
        return slot.key.replace(".", "_")


def ask_of(
    case: Case,
    slots: tuple[Slot, ...],
    form: FormReader,
    unit: Unit,
    at_hand: frozenset[str] | None,
    single: bool = False,
    prefix: str = "",
) -> Ask:
    """As typed, else as this check was last read on this instrument, else the usual way.

    `at_hand` holds the keys of the tools that the player has; None where that was never told.
    """
    check = READ_CHECKS[slots[0].check]
    last = _last_of(case, check.check)
    typed = form.raw(f"{prefix}tool")
    methods, lacking = _offered(case.trade, check.check, at_hand, typed)
    wanted = typed or (str(last.detail.get("method", "")) if last else "")
    method = next((m for m in methods if m.key == wanted), methods[0])
    heights = height_choices(case) if "way" in check.asks and not slots[0].level else ()
    high = range(13, case.spec.fret_count + 1) if any(slot.high for slot in slots) else ()
    step, step_known = _step(case, method, form.raw(f"{prefix}step"), unit)
    cards, card = _cards(case, method, form.raw(f"{prefix}card_kind"))
    return Ask(
        case=case,
        check=check,
        slots=slots,
        method=method,
        methods=methods,
        lacking=lacking,
        capo=None if at_hand is None else "capo" in at_hand,
        way=_way(case, check, slots, form, prefix, last),
        unit=form.unit("value", unit),
        single=single,
        prefix=prefix,
        heights=heights,
        frets=tuple((str(fret), f"fret {fret}") for fret in high),
        steps=tuple(
            (write_number(mm), division_words(mm)) for mm in case.trade.tools[method.tool].divisions_mm
        ),
        step=step,
        step_known=step_known,
        cards=cards,
        card=card,
        compares=bool(method.choices) and _rod_turned_since(case, slots[0]),
    )


def _newest(case: Case, wanted: Callable[[Entry], bool]) -> Entry | None:
    """The newest reading of that sort in this setup or one of the last before it."""
    for journal in case.journals[::-1][:REMEMBERED]:
        for entry in reversed(journal.live):
            if entry.kind is EntryKind.READING and wanted(entry):
                return entry
    return None


def _last_of(case: Case, check: Check) -> Entry | None:
    return _newest(case, lambda entry: entry.check is check)


def _offered(
    trade: Trade, check: Check, at_hand: frozenset[str] | None, typed: str
) -> tuple[tuple[ReadingMethod, ...], tuple[str, ...]]:
    """The methods whose tools are at hand, and the one that was asked for all the same; without any all of
    them, and the names of the tools that are lacking.
    """
    every = trade.methods_for(check)
    if at_hand is None:
        return every, ()
    near = [m for m in every if m.tool in at_hand or trade.tools[m.tool].always_at_hand]
    if not near:
        return every, tuple(dict.fromkeys(trade.tools[m.tool].name for m in every))
    return tuple(m for m in every if m in near or m.key == typed), ()


def _is_number(told: object) -> bool:
    """Whether a detail says a size; a bench file may have brought anything."""
    return isinstance(told, int | float)


def _step(case: Case, method: ReadingMethod, typed: str, unit: Unit) -> tuple[str, bool]:
    """The tool's division to show as chosen, and whether the player ever told it."""
    tool = case.trade.tools[method.tool]
    steps = [write_number(mm) for mm in tool.divisions_mm]
    last = _newest(case, lambda entry: entry.tool == method.tool and _is_number(entry.detail.get("step")))
    told = write_number(last.detail["step"]) if last is not None else ""
    if typed in steps or told in steps:
        return typed if typed in steps else told, told in steps
    inches = [mm for mm in tool.divisions_mm if "mm" not in division_words(mm)]
    usual = inches[0] if inches and unit is not Unit.mm else tool.division
    return write_number(usual), False


def division_words(mm: float) -> str:
    """How a tool's lines or blades are called: '0.5 mm', '1/64 in', '1 thou'."""
    thou, sixty_fourths = mm / MM_PER_UNIT[Unit.thou], mm / MM_PER_UNIT[Unit.sixty_fourths]
    if abs(sixty_fourths - round(sixty_fourths)) < 1e-6 and 64 % round(sixty_fourths) == 0:
        return f"1/{64 // round(sixty_fourths)} in"
    return f"{round(thou)} thou" if abs(thou - round(thou)) < 1e-6 else f"{say_number(mm)} mm"


def _cards(case: Case, method: ReadingMethod, typed: str) -> tuple[Choices, str]:
    """The cards to choose from: each sort, and the one used before where it was another."""
    if method.tool != "card":
        return (), ""
    say = case.say
    choices = [(c.key, f"{c.label}, {say.length(c.thickness_mm)}") for c in case.trade.cards]
    chosen = choices[0][0]
    before = card_before(case)
    if before is not None:
        known = next((c.key for c in case.trade.cards if abs(c.thickness_mm - before) < 1e-9), "")
        chosen = known or "before"
        if not known:
            choices.insert(0, ("before", f"The same as before, {say.length(before)}"))
    return tuple(choices), typed if typed in dict(choices) else chosen


def card_before(case: Case) -> float | None:
    """The thickness of the card used last, mm."""
    last = _newest(case, lambda entry: _is_number(entry.detail.get("card_mm")))
    return float(last.detail["card_mm"]) if last else None


def _rod_turned_since(case: Case, slot: Slot) -> bool:
    """Whether the rod was turned after the relief was last read."""
    moved = case.belief.moved.get(slot.key)
    turned = moved is not None and moved.kind is EntryKind.ADJUSTMENT
    return bool(turned and moved and moved.turn.part is Part.ROD and moved.turn.own(slot))


def _way(
    case: Case, check: ReadCheck, slots: tuple[Slot, ...], form: FormReader, prefix: str, last: Entry | None
) -> Way:
    """The frets to show and draw: as typed where that can be, else as last time."""
    first = next((slot for slot in slots if slot.high), slots[0])
    base = dict(check.way(case, first, last))
    if f"{prefix}way" in form.data:
        return _height_way(case, form.raw(f"{prefix}way")) or base
    typed = {n: form.raw(prefix + n) for n in base}
    found = {n: count_of(t, base[n]) for n, t in typed.items()}
    return base if fret_fault(case, found) else found


def height_choices(case: Case) -> Choices:
    """The three ways the trade reads a string's height."""
    last = case.spec.fret_count
    return (
        ("1-12", "at fret 12, held at 1"),
        ("0-12", "at fret 12, open string"),
        (f"1-{last}", f"at the last fret ({last}), held at 1"),
    )


def _height_way(case: Case, typed: str) -> Way | None:
    if typed not in dict(height_choices(case)):
        return None
    hold, gap = typed.split("-")
    return {"hold": int(hold), "gap": int(gap)}


def fret_fault(case: Case, way: Way) -> tuple[str, str] | None:
    """What cannot be so about the frets of a reading: the field, and the sentence."""
    last = case.spec.fret_count
    if "fret" in way:
        at_all = way["fret"] == 12 or 13 <= way["fret"] <= last
        return None if at_all else ("fret", f"The fret you played: a whole number from 13 to {last}.")
    if "press" not in way:
        return None
    for name, _, what in FRETS:
        if not 1 <= way[name] <= last:
            return name, f"{what}: a whole number from 1 to {last}."
    if not way["hold"] < way["gap"] < way["press"]:
        return "gap", "The gap must lie between the fret you hold and the fret you press."
    return None


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
