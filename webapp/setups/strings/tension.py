"""What the strings weigh, how hard each one pulls, and two sets or tunings side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from webapp.physics.numbers import say_number
from webapp.physics.strings import (
    LoadChange,
    density_from_unit_weight,
    load_change,
    note_number,
    pitch_hz,
    plain_density_kg_m,
    tension_n,
    wound_density_kg_m,
)
from webapp.setups.slots import string_label
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec, OneString, StringSpec
from webapp.trade.string_sets import Material, SetString, StringSet, Tuning
from webapp.trade.words import Family

NEWTON_PER_LBF = 4.4482216152605  # 0.45359237 kg under standard gravity
NEWTON_PER_KGF = 9.80665
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_LOWEST, _HIGHEST = note_number("C0"), note_number("B8")
# Change of tension in percent, and the word for a change below it.
_FEEL = ((3.0, ""), (8.0, "a little "), (20.0, ""), (float("inf"), "much "))
SAME = "about the same"


class Basis(StrEnum):
    """Where a string's weight comes from, as the bench says it."""

    PACKET = "from the packet"
    PUBLISHED = "published"
    ESTIMATE = "estimated"


@dataclass(frozen=True)
class Weight:
    """A string's weight per metre, kg/m; an estimate may be off by `spread_percent`."""

    kg_m: float
    basis: Basis
    spread_percent: float = 0.0
    source: str = ""


def weight_of(trade: Trade, family: Family, string: StringSpec) -> Weight:
    """The packet's weight, else what the gauge says."""
    if string.unit_weight_kg_m is not None:
        return Weight(string.unit_weight_kg_m, Basis.PACKET)
    return weight_by_gauge(trade, family, string)


def weight_by_gauge(trade: Trade, family: Family, string: OneString) -> Weight:
    """A published weight of this gauge, else an estimate."""
    material = trade.string_stock.material(family, string.wound)
    printed = trade.string_stock.published_weight(material.key, string.gauge_mm)
    if printed is not None:
        pounds_per_inch, source = printed
        return Weight(density_from_unit_weight(pounds_per_inch), Basis.PUBLISHED, source=source)
    return Weight(estimated_kg_m(material, string.gauge_mm), Basis.ESTIMATE, material.spread_percent)


def estimated_kg_m(material: Material, gauge_mm: float) -> float:
    """Weight per metre of a material's string by its gauge alone, kg/m."""
    if not material.wound:
        return plain_density_kg_m(gauge_mm, material.core_kg_m3)
    assert material.wrap_kg_m3 is not None and material.packing is not None
    return wound_density_kg_m(
        gauge_mm, material.core_of(gauge_mm), material.wrap_kg_m3, material.packing, material.core_kg_m3
    )


@dataclass(frozen=True)
class PartnerLoad:
    """The second string of a course, and its own pull at pitch, N."""

    string: OneString
    weight: Weight
    tension_n: float


@dataclass(frozen=True)
class StringLoad:
    """One string, or the thicker one of a course, and its own pull at pitch, N."""

    number: int
    label: str
    string: StringSpec
    weight: Weight
    tension_n: float
    partner: PartnerLoad | None = None

    @property
    def pull_n(self) -> float:
        """What the neck has to hold of this string, or of both strings of the course, N."""
        return self.tension_n + (self.partner.tension_n if self.partner else 0.0)

    @property
    def weights(self) -> tuple[Weight, ...]:
        """Of each string of the course."""
        return (self.weight, self.partner.weight) if self.partner else (self.weight,)


@dataclass(frozen=True)
class Load:
    """A set at pitch on one instrument, bass side first."""

    strings: tuple[StringLoad, ...]

    @cached_property
    def total_n(self) -> float:
        """The pull on the neck: all strings together, N."""
        return sum(s.pull_n for s in self.strings)

    @cached_property
    def estimated(self) -> tuple[StringLoad, ...]:
        """The strings whose weight, or whose partner's, is only an estimate."""
        return tuple(s for s in self.strings if any(w.basis is Basis.ESTIMATE for w in s.weights))

    @cached_property
    def spread_percent(self) -> float:
        """How far an estimated weight may be off, at the most; 0 where none is estimated."""
        return max(w.spread_percent for s in self.strings for w in s.weights)

    @cached_property
    def sources(self) -> tuple[str, ...]:
        """Where the published weights are printed."""
        return tuple(dict.fromkeys(w.source for s in self.strings for w in s.weights if w.source))


def load_on(spec: InstrumentSpec, trade: Trade, strings: Sequence[StringSpec] | None = None) -> Load:
    """The pull of an instrument's own strings, or of others in their places (as many, bass side first)."""
    worn = spec.strings if strings is None else tuple(strings)
    named = spec.model_copy(update={"strings": worn})
    family = trade.kinds[spec.kind].family
    found = []
    for index, string in enumerate(worn):
        number = len(worn) - index
        scale_mm, weight = named.scale_of(number), weight_of(trade, family, string)
        pull = _pull_n(string, weight, scale_mm, spec.a4_hz)
        partner = None
        if string.partner is not None:
            light = weight_by_gauge(trade, family, string.partner)
            partner = PartnerLoad(string.partner, light, _pull_n(string.partner, light, scale_mm, spec.a4_hz))
        found.append(StringLoad(number, string_label(named, number), string, weight, pull, partner))
    return Load(tuple(found))


def _pull_n(string: OneString, weight: Weight, scale_mm: float, a4_hz: float) -> float:
    return tension_n(weight.kg_m, scale_mm, pitch_hz(string.note, a4_hz))


def lbf(newton: float) -> float:
    """Pounds-force."""
    return newton / NEWTON_PER_LBF


def kgf(newton: float) -> float:
    """Kilograms-force."""
    return newton / NEWTON_PER_KGF


@dataclass(frozen=True)
class Feel:
    """How a pull compares with the present one."""

    percent: float
    words: str

    @property
    def number(self) -> str:
        """'+12 %', '0 %'."""
        return f"{say_number(self.percent, 0, plus=True)} %"


def feel(before_n: float, after_n: float) -> Feel:
    """More pull at the same length is a stiffer string under the finger."""
    percent = 100 * (after_n / before_n - 1)
    step = next(word for below, word in _FEEL if abs(percent) < below)
    if abs(percent) < _FEEL[0][0]:
        return Feel(percent, SAME)
    return Feel(percent, f"{step}{'stiffer' if percent > 0 else 'softer'}")


@dataclass(frozen=True)
class ComparedString:
    """One place on the instrument, before and after."""

    before: StringLoad
    after: StringLoad

    @property
    def feel(self) -> Feel:
        return feel(self.before.pull_n, self.after.pull_n)


@dataclass(frozen=True)
class Comparison:
    """The present set and tuning against another."""

    before: Load
    after: Load

    @property
    def strings(self) -> tuple[ComparedString, ...]:
        return tuple(map(ComparedString, self.before.strings, self.after.strings))

    @property
    def feel(self) -> Feel:
        """Of the whole set."""
        return feel(self.before.total_n, self.after.total_n)

    @property
    def change(self) -> LoadChange:
        """What the neck has to hold."""
        return load_change((s.pull_n for s in self.before.strings), (s.pull_n for s in self.after.strings))


def compare(spec: InstrumentSpec, trade: Trade, strings: Sequence[StringSpec]) -> Comparison:
    """An instrument as it is strung, against other strings or notes in their places."""
    return Comparison(load_on(spec, trade), load_on(spec, trade, strings))


def sets_for(spec: InstrumentSpec, trade: Trade) -> tuple[StringSet, ...]:
    """The common sets that this instrument can wear."""
    family = trade.kinds[spec.kind].family
    return tuple(one for one in trade.string_sets.values() if one.suits(family, spec.strings))


def tunings_for(spec: InstrumentSpec, trade: Trade) -> tuple[Tuning, ...]:
    """The tunings that can be said of this instrument."""
    family, count = trade.kinds[spec.kind].family, spec.string_count
    return tuple(one for one in trade.string_stock.tunings.values() if one.suits(family, count))


def tuned(spec: InstrumentSpec, trade: Trade, tuning: Tuning) -> tuple[str, ...]:
    """The notes of a tuning, bass side first. Raises ValueError where one is off the keyboard."""
    usual = trade.kinds[spec.kind].spec.strings
    # An instrument with more or fewer strings than its kind has its own notes for usual.
    from_strings = usual if len(usual) == spec.string_count else spec.strings
    steps = tuning.semitones(spec.string_count)
    return tuple(shifted(s.note, step) for s, step in zip(from_strings, steps, strict=True))


def retuned(string: StringSpec, note: str) -> StringSpec:
    """A string at another note; the second string of a course goes along, as far. Raises ValueError."""
    partner = string.partner
    if partner is not None:
        steps = note_number(note) - note_number(string.note)
        partner = partner.model_copy(update={"note": shifted(partner.note, steps)})
    return string.model_copy(update={"note": note, "partner": partner})


def strung_with(string: StringSpec, new: SetString) -> StringSpec:
    """A string of a set in this one's place, at its note (a pair's, at both); no packet told its weight."""
    partner = None
    if string.partner is not None and new.partner is not None:
        second = new.partner
        partner = OneString(note=string.partner.note, gauge_mm=second.gauge_mm, wound=second.wound)
    return StringSpec(note=string.note, gauge_mm=new.gauge_mm, wound=new.wound, partner=partner)


def shifted(note: str, semitones: int) -> str:
    """The note so many semitones away; one that is moved is named with a flat. Raises ValueError."""
    if not semitones:
        return note
    number = note_number(note) + semitones
    if not _LOWEST <= number <= _HIGHEST:
        raise ValueError(f"{note} cannot be moved by {semitones} semitones")
    return f"{_FLATS[number % 12]}{number // 12 - 1}"
