"""Measuring tools, and the ways of taking each reading with them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from webapp.trade.base import TradeModel
from webapp.trade.words import Check

Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=30)]
Positive = Annotated[float, Field(gt=0)]


class Tool(TradeModel):
    """Something to measure with, and how far off its reading may be."""

    key: Key
    name: str
    error_mm: Positive | None = None
    error_cents: Positive | None = None


class Choice(TradeModel):
    """One answer to a reading that is judged by feel: so many cards, or a fixed size."""

    key: Key
    label: str
    cards: Annotated[float, Field(ge=0)] | None = None
    value_mm: float | None = None
    error_mm: Positive

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        if (self.cards is None) == (self.value_mm is None):
            raise ValueError("give either cards or value_mm, not both and not neither")
        return self

    def size_mm(self, card_mm: float) -> float:
        """What this answer stands for, with a card of this thickness."""
        if self.cards is not None:
            return self.cards * card_mm
        assert self.value_mm is not None
        return self.value_mm


class ReadingMethod(TradeModel):
    """A way of taking one check's reading: which tool, and whether the player gives a number or a choice."""

    key: Key
    check: Check
    label: str
    tool: Key
    input: Literal["length", "choice", "cents"]
    choices: tuple[Choice, ...] = ()

    @model_validator(mode="after")
    def _choices_fit(self) -> Self:
        if (self.input == "choice") != bool(self.choices):
            raise ValueError('choices are needed when input = "choice", and only then')
        if len({choice.key for choice in self.choices}) != len(self.choices):
            raise ValueError("two choices have the same key")
        return self

    def choice(self, key: str) -> Choice:
        """The choice with this key. Raises KeyError."""
        for choice in self.choices:
            if choice.key == key:
                return choice
        raise KeyError(key)
