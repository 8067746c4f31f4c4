"""Sums: each entry's over its words and the sum before it, and one of its own for what else a page says."""

import sqlalchemy as sa
from alembic import op

from webapp.store.seals import seal_all

revision = "0007"
down_revision = "0006"

# As they are at this revision, whatever comes later.
CHAIN = (
    "setup_id", "form_id", "part", "at", "kind", "check", "slot", "value", "unit", "typed", "tool", "error",
    "detail", "voids",
)  # fmt: skip
SEALED = {
    "bench": ("id", "created_at", "unit", "is_demo", "tools"),
    "instrument": ("id", "bench_id", "created_at", "form_id", "archived_at"),
    "instrument_version": ("instrument_id", "number", "created_at", "spec"),
    "setup": (
        "id", "instrument_id", "form_id", "started_at", "finished_at", "finished_version", "lesson_id",
        "lesson_version",
    ),
    "lesson": ("id", "bench_id", "form_id", "created_at", "students", "link", "token_hash"),
    "lesson_version": ("lesson_id", "number", "created_at", "sheet"),
    "hand_in": ("id", "lesson_id", "setup_id", "name", "handed_at", "what"),
    "air_day": ("bench_id", "day", "source", "temperature_c", "humidity_percent", "rows"),
    "air_log_day": ("job_id", "day", "readings"),
}  # fmt: skip


def upgrade() -> None:
    for name in ("entry", *SEALED):
        with op.batch_alter_table(name) as table:
            table.add_column(sa.Column("seal", sa.String(length=16), nullable=False, server_default=""))
    seal_all(op.get_bind(), CHAIN, SEALED, {"air_log_day": "job_id day"})
