"""What the store hands out: plain values, not the tables' own objects."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class EntryRow:
    """An entry as kept. A larger id is newer."""

    id: int
    setup_id: str
    at: datetime
    kind: str
    check: str
    slot: str
    value: float | None
    unit: str
    typed: str
    tool: str
    error: float | None
    detail: Mapping[str, Any]
    voids: int | None
