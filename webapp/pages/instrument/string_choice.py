"""The form for trying another set or tuning: its fields, and the strings that it describes."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.instrument.description_fields import WOUND, gauge_field
from webapp.pages.instrument.description_reading import (
    SECOND_IS_THINNER,
    form_values,
    gauge_unit,
)
from webapp.pages.instrument.string_rows import FIELDS, places_of, second, tidy_note
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import UNITS
from webapp.physics.numbers import MM_PER_INCH, Unit, say_number
from webapp.setups.description import inches, is_round_inches, millimetres, tidy
from webapp.setups.slots import string_numbers
from webapp.setups.strings.tension import retuned, sets_for, strung_with, tuned, tunings_for
from webapp.setups.strings.weights import with_known_weights
from webapp.trade.content import Trade
from webapp.trade.spec import NOTE, InstrumentSpec, StringSpec
from webapp.trade.string_sets import OneOfSet, SetString
from webapp.trade.words import Family

PRESENT, OWN = "present", "own"
SET, TUNING = "set", "tuning"


@dataclass(frozen=True)
class Chosen:
    """The strings to try, bass side first, and in words what they are."""

    strings: tuple[StringSpec, ...]
    set_words: str
    tuning_words: str
    typed: dict[str, str]

    @property
    def words(self) -> str:
        """'Light, 40 to 100 · A whole tone down'."""
        return f"{self.set_words} · {self.tuning_words}"


def filled(spec: InstrumentSpec, data: dict[str, str]) -> FormReader:
    """The form as it was sent; what it was not sent with is as the instrument is now."""
    present = form_values(spec)
    names = [f"{start}_{place}" for start in FIELDS for place in places_of(spec)] + ["gauge_unit"]
    return FormReader({SET: PRESENT, TUNING: PRESENT, **{n: present[n] for n in names}, **data})


def set_options(spec: InstrumentSpec, trade: Trade) -> tuple[tuple[str, str], ...]:
    """What may be strung on: (key, words)."""
    known = tuple((one.key, one.name) for one in sets_for(spec, trade))
    return ((PRESENT, "What is on it now"), *known, (OWN, "My own gauges, below"))


def tuning_options(spec: InstrumentSpec, trade: Trade) -> tuple[tuple[str, str], ...]:
    """What it may be tuned to: (key, words)."""
    known = tuple((one.key, one.name) for one in tunings_for(spec, trade))
    return ((PRESENT, "As it is tuned now"), *known, (OWN, "My own notes, below"))


def read_choice(form: FormReader, spec: InstrumentSpec, trade: Trade) -> Chosen | None:
    """The strings that the form describes; None, with sentences in the form, where it describes none."""
    sets, tunings = dict(set_options(spec, trade)), dict(tuning_options(spec, trade))
    set_key, tuning_key = form.choice(SET, sets, "a set"), form.choice(TUNING, tunings, "a tuning")
    if set_key is None or tuning_key is None:
        return None
    typed: dict[str, str] = {}
    strung = _strung(form, spec, trade, set_key, typed)
    strings = _tuned(form, spec, trade, tuning_key, strung)
    if not form.ok:
        return None
    named = {**sets, PRESENT: "The same strings", OWN: "Your own gauges"}
    tuned_words = {**tunings, PRESENT: "Tuned as now", OWN: "Your own notes"}
    known = with_known_weights(strings, spec.strings)
    return Chosen(known, named[set_key], tuned_words[tuning_key], typed)


def _strung(
    form: FormReader, spec: InstrumentSpec, trade: Trade, key: str, typed: dict[str, str]
) -> tuple[StringSpec, ...]:
    """The strings that would be on, at the present notes; with mistakes, those that are on now."""
    if key == PRESENT:
        return spec.strings
    if key != OWN:
        return tuple(map(strung_with, spec.strings, trade.string_sets[key].strings))
    found = {place: _gauge(form, spec, trade, place, typed) for place in places_of(spec)}
    _doubt_unit(form, gauge_unit(form))
    gauges = {place: gauge for place, gauge in found.items() if gauge is not None}
    if len(gauges) < len(found):
        return spec.strings
    strings = []
    for number in string_numbers(spec):
        own, other = gauges[str(number)], gauges.get(second(number))
        if other is not None and other.gauge_mm > own.gauge_mm:
            form.fault(f"gauge_{second(number)}", SECOND_IS_THINNER)
            return spec.strings
        strings.append(strung_with(spec.string(number), SetString(**own.model_dump(), partner=other)))
    return tuple(strings)


def _gauge(
    form: FormReader, spec: InstrumentSpec, trade: Trade, place: str, typed: dict[str, str]
) -> OneOfSet | None:
    unit = gauge_unit(form)
    gauge = gauge_field(place, unit, trade.kinds[spec.kind].family)
    found = gauge.read(form)
    wound = form.choice(f"wound_{place}", dict(WOUND), f"whether string {place} is wound or plain")
    if found is None or wound is None:
        return None
    typed |= {gauge.name: found.typed, "gauge_unit": unit.value}
    return OneOfSet(gauge_mm=tidy(found.mm), wound=wound == "wound")


def _tuned(
    form: FormReader, spec: InstrumentSpec, trade: Trade, key: str, strings: tuple[StringSpec, ...]
) -> tuple[StringSpec, ...]:
    """The strings at other notes; a course's second string goes along, unless its own note was typed."""
    if key == PRESENT:
        return strings
    if key != OWN:
        try:
            return tuple(map(retuned, strings, tuned(spec, trade, trade.string_stock.tunings[key])))
        except ValueError:
            form.fault(TUNING, "That goes lower than any string. Choose another, or type your own notes.")
            return strings
    notes = {place: _note(form, place) for place in places_of(spec)}
    if not form.ok:
        return strings
    numbers = string_numbers(spec)
    return tuple(_at(s, notes[str(n)], notes.get(second(n))) for n, s in zip(numbers, strings, strict=True))


def _at(string: StringSpec, note: str, second_note: str | None) -> StringSpec:
    partner = string.partner and string.partner.model_copy(update={"note": second_note})
    return string.model_copy(update={"note": note, "partner": partner})


def _note(form: FormReader, place: str) -> str:
    note = tidy_note(form.raw(f"note_{place}"))
    if not NOTE.fullmatch(note):
        form.fault(f"note_{place}", f"String {place}: type its note and octave, such as E1, C#3 or Bb0.")
    return note


def _doubt_unit(form: FormReader, unit: Unit) -> None:
    """Where two gauges or more seem to be meant in another unit, ask about the unit, once."""
    asked = [texts for name, texts in form.suggestions.items() if name.startswith("gauge_")]
    common = set.intersection(*({one.unit for one in texts} for texts in asked)) if len(asked) > 1 else set()
    meant = next((text for text in asked[0] if text.unit in common), None) if common else None
    if meant is None:
        return
    wrong = {name for name in form.suggestions if name.startswith("gauge_")}
    form.errors[:] = [e for e in form.errors if e.field not in wrong]
    words = dict(UNITS)
    form.fault(
        "gauge_unit", f"These gauges cannot be in {words[unit.value]}. Are they in {words[meant.unit.value]}?"
    )
    form.suggestions.clear()
    form.suggestions["gauge_unit"] = (meant,)


def restrung(spec: InstrumentSpec, chosen: Chosen) -> InstrumentSpec:
    """The instrument with these strings on; what was typed of strings that came off goes with them."""
    changed = {
        number
        for number in string_numbers(spec)
        if worn(spec.string(number)) != worn(chosen.strings[spec.index_of(number)])
    }
    gone = {f"weight_{number}" for number in changed}
    if changed:
        # One unit says all the gauges: a set of another unit may not be read in the old one.
        gone |= {"gauge_unit", *(f"gauge_{place}" for place in places_of(spec))}
    kept = {name: text for name, text in spec.typed.items() if name not in gone}
    return spec.model_copy(update={"strings": chosen.strings, "typed": {**kept, **chosen.typed}})


def worn(string: StringSpec) -> tuple[tuple[float, bool], ...]:
    """What is strung there, whatever its note: one string, or the two of a course."""
    return tuple((one.gauge_mm, one.wound) for one in string.course)


def gauge_words(gauge_mm: float, family: Family) -> str:
    """'0.045 in' where gauges are sold so, '0.74 mm' on a classical guitar and where it is no round inch."""
    if family is not Family.CLASSICAL and is_round_inches(gauge_mm):
        return f"{say_number(float(inches(gauge_mm)), 3)} {Unit.inch.value}"
    if family is not Family.CLASSICAL and is_round_inches(2 * gauge_mm):
        return (
            f"{say_number(gauge_mm / MM_PER_INCH, 4)} {Unit.inch.value}"  # half a thou, as thin strings come
        )
    return f"{millimetres(round(gauge_mm, 2))} {Unit.mm.value}"
