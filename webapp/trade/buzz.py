"""Why notes buzz: the causes that are weighed, their next test, and who can put them right."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from webapp.trade.words import TradeModel

Advice = Annotated[str, Field(min_length=1, max_length=300)]
Share = Annotated[float, Field(gt=0, le=1)]
Mistake = Annotated[float, Field(gt=0, lt=0.2)]
Spread = Annotated[float, Field(gt=0, le=0.5)]


class CauseKey(StrEnum):
    """Every cause that the sums know."""

    TOO_LOW = "too_low"
    TOO_STRAIGHT = "too_straight"
    TOO_BOWED = "too_bowed"
    NUT_LOW = "nut_low"
    UNEVEN_FRET = "uneven_fret"
    UPPER_BOARD = "upper_board"
    LOOSE = "loose"
    OLD_STRING = "old_string"
    TECHNIQUE = "technique"


class BuzzCause(TradeModel):
    """One cause.

    `test_repairer` and `fix_repairer` stand in where this instrument leaves the player nothing to turn.
    """

    key: CauseKey
    name: Annotated[str, Field(min_length=1, max_length=60)]
    weight: Annotated[float, Field(gt=0, le=100)]
    who: Literal["player", "repairer"]
    test: Advice
    fix: Advice
    test_repairer: Annotated[str, Field(max_length=300)] = ""
    fix_repairer: Annotated[str, Field(max_length=300)] = ""

    @field_validator("test", "fix", "test_repairer", "fix_repairer")
    @classmethod
    def _places_known(cls, text: str) -> str:
        try:
            text.format(fret=2, below=1, above=3, string="E string")
        except (KeyError, IndexError, ValueError) as error:
            raise ValueError("only {fret}, {below}, {above} and {string} are filled in") from error
        return text


class BuzzQuestion(TradeModel):
    """One thing to try by hand before a cause is named; a yes or a no shifts that cause's odds so much."""

    key: Annotated[str, Field(pattern=r"^[a-z_]+$", max_length=30)]
    cause: CauseKey
    label: Annotated[str, Field(min_length=1, max_length=160)]
    yes: Annotated[float, Field(gt=0, le=100)]
    no: Annotated[float, Field(gt=0, le=100)]

    def times_likelier(self, answer: str) -> float:
        """How many times likelier an answer makes the cause: 1 but for a yes or a no."""
        return {"yes": self.yes, "no": self.no}.get(answer, 1.0)


class BuzzSheet(TradeModel):
    """buzz.toml: the causes, and how far the world strays from the sums."""

    swing_spread: Share
    pluck_spread: Share
    fret_spread_mm: Spread
    bow_spread: Share
    relief_spread_mm: Spread
    need_margin_mm: Spread
    need_spread_mm: Spread
    nut_spread_mm: Spread
    stray: Mistake
    missed: Mistake
    unlike: Mistake
    sharpened: Annotated[float, Field(ge=0.5, le=2)]
    sound_cents: Annotated[float, Field(gt=0, le=50)]
    tired_cents: Annotated[float, Field(gt=0, le=50)]
    age_weight: dict[str, Annotated[float, Field(gt=0, le=100)]]
    cause: tuple[BuzzCause, ...]
    question: tuple[BuzzQuestion, ...]

    @model_validator(mode="after")
    def _every_cause_once(self) -> Self:
        keys = [cause.key for cause in self.cause]
        if sorted(keys) != sorted(CauseKey):
            wanted = ", ".join(key.value for key in CauseKey)
            raise ValueError(f"each of these causes is needed once: {wanted}")
        return self

    @model_validator(mode="after")
    def _tired_is_worse_than_sound(self) -> Self:
        if self.tired_cents <= self.sound_cents:
            raise ValueError("tired_cents must be above sound_cents: a tired string is further off")
        return self

    def of(self, key: CauseKey) -> BuzzCause:
        """One cause."""
        return next(cause for cause in self.cause if cause.key is key)
