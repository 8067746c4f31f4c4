"""Questions that are answered by looking and listening: the start, the pickups by ear, the play test."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.tools import Key
from webapp.trade.words import Check

Sentence = Annotated[str, Field(min_length=1, max_length=300)]


class StartItem(TradeModel):
    """Something to confirm before the first reading."""

    key: Key
    label: Sentence
    hint: Sentence


class Stopper(TradeModel):
    """Something that ends the setup early, and what to do instead."""

    key: Key
    label: Sentence
    says: Sentence


class StringAge(TradeModel):
    """One answer to how old the strings are."""

    key: Key
    label: Sentence


class StartSheet(TradeModel):
    """The start check."""

    items: Annotated[tuple[StartItem, ...], Field(min_length=1)]
    stoppers: Annotated[tuple[Stopper, ...], Field(min_length=1)]
    ages: Annotated[tuple[StringAge, ...], Field(min_length=1)]


class Symptom(TradeModel):
    """What may be wrong in the play test, the check to go back to (none = a repairer), and why."""

    key: Key
    label: Sentence
    check: Check | None = None
    says: Sentence


class PlaytestQuestion(TradeModel):
    """One thing to try while playing, and the symptoms it may show."""

    key: Key
    label: Sentence
    hint: Sentence
    symptoms: Annotated[tuple[Symptom, ...], Field(min_length=1)]

    def symptom(self, key: str) -> Symptom:
        """The symptom with this key. Raises KeyError."""
        for symptom in self.symptoms:
            if symptom.key == key:
                return symptom
        raise KeyError(key)


class EarSymptom(TradeModel):
    """What a pickup sounds like when its height is wrong, and which way to move it."""

    key: Key
    label: Sentence
    way: Literal["lower", "raise", "balance"]
    says: Sentence
