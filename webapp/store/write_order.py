"""Rows that writers take turns at.

SQLite has one writer at a time. PostgreSQL has many: a function that looks before it writes holds the row
that it looks at until its transaction ends, so that what it saw stays true.
"""

from __future__ import annotations

from typing import Any

# With `key_share`, others may go on adding rows that belong to the one that is held.
HELD: dict[str, Any] = {"key_share": True}
