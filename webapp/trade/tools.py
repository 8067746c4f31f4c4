"""Measuring tools, and the ways of taking each reading with them."""

from __future__ import annotations

from math import inf
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from webapp.trade.words import Check, TradeModel

Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=30)]
Positive = Annotated[float, Field(gt=0)]
# So many cards and more are "any number".
MANY = 99


class Tool(TradeModel):
    """Something to measure with: how far off a reading of it is, and how finely it is divided.

    `sigma` is one standard deviation of hand and eye together; `division` is what a rule or a set of blades
    usually steps by, where the player has not said what theirs does. `always_at_hand`: nobody need own it.
    """

    key: Key
    name: str
    always_at_hand: bool = False
    sigma_mm: Positive | None = None
    division_mm: Positive | None = None
    sigma_cents: Positive | None = None
    division_cents: Positive | None = None
    divisions_mm: tuple[Positive, ...] = ()

    @property
    def sigma(self) -> float:
        """In the tool's own unit."""
        found = self.sigma_mm if self.sigma_cents is None else self.sigma_cents
        assert found is not None
        return found

    @property
    def division(self) -> float:
        """In the tool's own unit; 0 where it has none."""
        return self.division_mm or self.division_cents or 0.0

    @model_validator(mode="after")
    def _one_unit(self) -> Self:
        if (self.sigma_mm is None) == (self.sigma_cents is None):
            raise ValueError("give either sigma_mm or sigma_cents")
        return self


class Aid(TradeModel):
    """Something to have at hand that measures nothing itself."""

    key: Key
    name: str


class Choice(TradeModel):
    """One answer to a reading that is judged by feel: a range, as so many cards or as lengths or cents.

    An end that is absent is open: "more than two" has no upper one.
    """

    key: Key
    label: str
    cards: tuple[float, float] | None = None
    low: float | None = None
    high: float | None = None

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        if self.cards is not None and (self.low is not None or self.high is not None):
            raise ValueError("give either cards or low and high, not both")
        if self.cards is None and self.low is None and self.high is None:
            raise ValueError("give cards, or at least one of low and high")
        return self

    def range(self, card_mm: float) -> tuple[float, float]:
        """What this answer stands for, with a card of this thickness; an end may be infinite."""
        if self.cards is not None:
            least, most = self.cards
            return (least * card_mm if least > 0 else -inf), (most * card_mm if most < MANY else inf)
        return (-inf if self.low is None else self.low), (inf if self.high is None else self.high)


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


class CardKind(TradeModel):
    """A sort of card that lies about in a house, and how thick it is."""

    key: Key
    label: Annotated[str, Field(min_length=1, max_length=40)]
    thickness_mm: Annotated[float, Field(gt=0.05, lt=2)]
