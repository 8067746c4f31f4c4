"""The base of everything read from content/: frozen, and strict about words it does not know."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class TradeModel(BaseModel):
    """A fact of the trade. It never changes once read, and a misspelt field is an error, not a shrug."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
