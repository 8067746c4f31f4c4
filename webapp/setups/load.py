"""What the strings weigh, how hard each one pulls, and two sets or tunings side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

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
from webapp.trade.load import Trade
from webapp.trade.spec import InstrumentSpec, StringSpec
from webapp.trade.string_sets import Material, StringSet, Tuning
from webapp.trade.words import Family

NEWTON_PER_LBF = 4.4482216152605  # 0.45359237 kg under standard gravity
NEWTON_PER_KGF = 9.80665
# No floss or wire core is thicker than this share of a thin wound string.
THICKEST_CORE = 0.7
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
    """The packet's weight, else a published one of this gauge, else an estimate."""
    if string.unit_weight_kg_m is not None:
        return Weight(string.unit_weight_kg_m, Basis.PACKET)
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
    core_mm = material.core_mm if material.core_share is None else material.core_share * gauge_mm
    assert core_mm is not None
    return wound_density_kg_m(
        gauge_mm, min(core_mm, THICKEST_CORE * gauge_mm),
        material.wrap_kg_m3, material.packing, material.core_kg_m3,
    )  # fmt: skip


@dataclass(frozen=True)
class StringLoad:
    """One string and its pull at pitch, N."""

    number: int
    label: str
    string: StringSpec
    weight: Weight
    tension_n: float


@dataclass(frozen=True)
class Load:
    """A set at pitch on one instrument, bass side first."""

    strings: tuple[StringLoad, ...]

    @cached_property
    def total_n(self) -> float:
        """The pull on the neck: all strings together, N."""
        return sum(s.tension_n for s in self.strings)

    @cached_property
    def estimated(self) -> tuple[StringLoad, ...]:
        """The strings whose weight is only an estimate."""
        return tuple(s for s in self.strings if s.weight.basis is Basis.ESTIMATE)

    @cached_property
    def sources(self) -> tuple[str, ...]:
        """Where the published weights are printed."""
        return tuple(dict.fromkeys(s.weight.source for s in self.strings if s.weight.source))


def load_on(spec: InstrumentSpec, trade: Trade, strings: Sequence[StringSpec] | None = None) -> Load:
    """The pull of an instrument's own strings, or of others in their places (as many, bass side first)."""
    worn = spec.strings if strings is None else tuple(strings)
    named = spec.model_copy(update={"strings": worn})
    family = trade.kinds[spec.kind].family
    found = []
    for index, string in enumerate(worn):
        number = len(worn) - index
        weight = weight_of(trade, family, string)
        pull = tension_n(weight.kg_m, named.scale_of(number), pitch_hz(string.note, spec.a4_hz))
        found.append(StringLoad(number, string_label(named, number), string, weight, pull))
    return Load(tuple(found))


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
        rounded = round(self.percent)
        return f"{rounded:+d} %".replace("-", "\u2212") if rounded else "0 %"


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
        return feel(self.before.tension_n, self.after.tension_n)


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
        return load_change(
            (s.tension_n for s in self.before.strings), (s.tension_n for s in self.after.strings)
        )


def compare(spec: InstrumentSpec, trade: Trade, strings: Sequence[StringSpec]) -> Comparison:
    """An instrument as it is strung, against other strings or notes in their places."""
    return Comparison(load_on(spec, trade), load_on(spec, trade, strings))


def sets_for(spec: InstrumentSpec, trade: Trade) -> tuple[StringSet, ...]:
    """The common sets that this instrument can wear."""
    family, count = trade.kinds[spec.kind].family, spec.string_count
    return tuple(one for one in trade.string_sets.values() if one.suits(family, count))


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


def shifted(note: str, semitones: int) -> str:
    """The note so many semitones away; one that is moved is named with a flat. Raises ValueError."""
    if not semitones:
        return note
    number = note_number(note) + semitones
    if not _LOWEST <= number <= _HIGHEST:
        raise ValueError(f"{note} cannot be moved by {semitones} semitones")
    return f"{_FLATS[number % 12]}{number // 12 - 1}"
