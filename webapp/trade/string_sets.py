"""strings.toml: what strings are made of and weigh, common sets, and tunings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Protocol, Self, TypeVar

from pydantic import Field, model_validator

from webapp.trade.errors import ContentError
from webapp.trade.spec import StringSpec
from webapp.trade.words import Family, TradeModel

MM_PER_INCH = 25.4
# Gauges in mm are printed to a hundredth: 0.71 mm is the 0.028 in string of a published list.
SAME_GAUGE_MM = 0.006
# No floss or wire core is thicker than this share of a thin wound string.
THICKEST_CORE = 0.7

Key = Annotated[str, Field(min_length=1, max_length=40)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
DensityKgM3 = Annotated[float, Field(ge=500, le=20000)]
Families = Annotated[tuple[Family, ...], Field(min_length=1)]
Semitones = Annotated[int, Field(ge=-12, le=12)]


class Material(TradeModel):
    """What a string is made of, for estimating its weight where none is published."""

    key: Key
    name: Name
    wound: bool
    core_kg_m3: DensityKgM3
    wrap_kg_m3: DensityKgM3 | None = None
    core_share: Annotated[float, Field(gt=0, lt=1)] | None = None
    core_mm: Annotated[float, Field(gt=0, lt=3)] | None = None
    packing: Annotated[float, Field(gt=0, le=1)] | None = None
    spread_percent: Annotated[float, Field(ge=0, le=30)]

    @model_validator(mode="after")
    def _wrap_is_whole(self) -> Self:
        wrap = (self.wrap_kg_m3, self.packing)
        cores = [core for core in (self.core_share, self.core_mm) if core is not None]
        if self.wound and (None in wrap or len(cores) != 1):
            raise ValueError("a wound string needs wrap_kg_m3, packing, and one of core_share and core_mm")
        if not self.wound and (any(part is not None for part in wrap) or cores):
            raise ValueError("a plain string has core_kg_m3 only")
        return self

    def core_of(self, gauge_mm: float) -> float:
        """The core of a string of this gauge, mm: a plain string is all core."""
        if not self.wound:
            return gauge_mm
        core_mm = self.core_mm if self.core_share is None else self.core_share * gauge_mm
        assert core_mm is not None
        return min(core_mm, THICKEST_CORE * gauge_mm)


class FamilyMaterials(TradeModel):
    """The materials that a family's plain and wound strings are taken to be."""

    plain: Key
    wound: Key


class PublishedWeights(TradeModel):
    """Printed unit weights of one material: gauge in inches, pounds per inch."""

    material: Key
    source: Key
    inches_and_pounds_per_inch: Annotated[
        tuple[tuple[Annotated[float, Field(gt=0, lt=0.3)], Annotated[float, Field(gt=0, lt=0.1)]], ...],
        Field(min_length=1),
    ]

    def pounds_per_inch(self, gauge_mm: float) -> float | None:
        """The printed weight of a gauge; None where this list does not have it."""
        for inches, pounds in self.inches_and_pounds_per_inch:
            if abs(inches * MM_PER_INCH - gauge_mm) < SAME_GAUGE_MM:
                return pounds
        return None


class OneOfSet(TradeModel):
    """One string as a packet holds it."""

    gauge_mm: Annotated[float, Field(ge=0.1, le=5)]
    wound: bool


class SetString(OneOfSet):
    """One string of a set, and the thinner one that stands beside it in a set of pairs."""

    partner: OneOfSet | None = None


class StringSet(TradeModel):
    """A common set, bass side first."""

    key: Key
    name: Name
    families: Families
    strings: Annotated[tuple[SetString, ...], Field(min_length=3, max_length=12)]

    def suits(self, family: Family, worn: Sequence[StringSpec]) -> bool:
        """Whether an instrument of this family can wear it: as many strings, and pairs where it has pairs."""
        mine, theirs = ([s.partner is not None for s in strings] for strings in (self.strings, worn))
        return family in self.families and mine == theirs


class Tuning(TradeModel):
    """A tuning, in semitones from the usual notes."""

    key: Key
    name: Name
    families: Families
    all: Semitones = 0
    lowest: Semitones = 0
    steps: Annotated[tuple[Semitones, ...], Field(max_length=12)] = ()

    @model_validator(mode="after")
    def _one_way_of_saying(self) -> Self:
        if self.steps and (self.all or self.lowest):
            raise ValueError("give steps for each string, or all and lowest, not both")
        return self

    def suits(self, family: Family, count: int) -> bool:
        """Whether it can be said of an instrument of this family with so many strings."""
        return family in self.families and len(self.steps) in (0, count)

    def semitones(self, count: int) -> tuple[int, ...]:
        """How far each string goes, bass side first."""
        if self.steps:
            return self.steps
        return (self.all + self.lowest, *(self.all for _ in range(count - 1)))


class StringStock(TradeModel):
    """What is known of strings in general."""

    materials: dict[str, Material]
    families: dict[Family, FamilyMaterials]
    published: tuple[PublishedWeights, ...]
    sources: dict[str, str]
    tunings: dict[str, Tuning]

    def material(self, family: Family, wound: bool) -> Material:
        """What a family's string is taken to be made of."""
        chosen = self.families[family]
        return self.materials[chosen.wound if wound else chosen.plain]

    def published_weight(self, material: str, gauge_mm: float) -> tuple[float, str] | None:
        """Pounds per inch and where they are printed; None where nobody printed this gauge."""
        for weights in self.published:
            pounds = weights.pounds_per_inch(gauge_mm) if weights.material == material else None
            if pounds is not None:
                return pounds, self.sources[weights.source]
        return None


class StringsFile(TradeModel):
    """strings.toml as it is written."""

    sources: dict[str, str]
    material: tuple[Material, ...]
    families: dict[Family, FamilyMaterials]
    published: tuple[PublishedWeights, ...]
    set: tuple[StringSet, ...]
    tuning: tuple[Tuning, ...]


class _Keyed(Protocol):
    @property
    def key(self) -> str: ...


Item = TypeVar("Item", bound=_Keyed)


def sets_and_stock(path: Path, file: StringsFile) -> tuple[dict[str, StringSet], StringStock]:
    """The file's tables by key. Raises ContentError where one names something that is not there."""
    materials = _by_key(path, "material", file.material)
    _check_families(path, file.families, materials)
    for index, weights in enumerate(file.published):
        if weights.material not in materials:
            sentence = f'There is no material "{weights.material}" in this file.'
            raise ContentError.at(path, ("published", index, "material"), sentence)
        if weights.source not in file.sources:
            sentence = f'There is no source "{weights.source}" in this file.'
            raise ContentError.at(path, ("published", index, "source"), sentence)
    stock = StringStock(
        materials=materials,
        families=file.families,
        published=file.published,
        sources=file.sources,
        tunings=_by_key(path, "tuning", file.tuning),
    )
    return _by_key(path, "set", file.set), stock


def _check_families(
    path: Path, families: Mapping[Family, FamilyMaterials], materials: Mapping[str, Material]
) -> None:
    for family in Family:
        if family not in families:
            raise ContentError.at(path, ("families",), f'The family "{family.value}" is missing here.')
        for word, key in (("plain", families[family].plain), ("wound", families[family].wound)):
            found = materials.get(key)
            if found is None or found.wound is not (word == "wound"):
                sentence = f'"{key}" is no {word} material of this file.'
                raise ContentError.at(path, ("families", family.value, word), sentence)


def _by_key(path: Path, table: str, items: Sequence[Item]) -> dict[str, Item]:
    found: dict[str, Item] = {}
    for index, item in enumerate(items):
        if item.key in found:
            raise ContentError.at(path, (table, index, "key"), f'The key "{item.key}" is used twice.')
        found[item.key] = item
    return found
