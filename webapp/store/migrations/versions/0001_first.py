"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

# Written out, not imported: a migration says what was true on its day, whatever the code becomes.
MOMENT = sa.DateTime(timezone=True).with_variant(sa.String(32), "sqlite")


def upgrade() -> None:
    op.create_table(
        "bench",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("unit", sa.String(16), nullable=False),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_bench"),
    )
    op.create_table(
        "instrument",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("form_id", sa.String(64), nullable=False),
        sa.Column("archived_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_instrument"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_instrument_bench_id_bench"),
        sa.UniqueConstraint("bench_id", "form_id", name="uq_instrument_bench_id_form_id"),
    )
    op.create_table(
        "instrument_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.String(12), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("spec", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_instrument_version"),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name="fk_instrument_version_instrument_id_instrument"
        ),
        sa.UniqueConstraint("instrument_id", "number", name="uq_instrument_version_instrument_id_number"),
    )
    op.create_table(
        "setup",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("instrument_id", sa.String(12), nullable=False),
        sa.Column("form_id", sa.String(64), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("finished_at", MOMENT, nullable=True),
        sa.Column("finished_version", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_setup"),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name="fk_setup_instrument_id_instrument"
        ),
        sa.UniqueConstraint("instrument_id", "form_id", name="uq_setup_instrument_id_form_id"),
    )
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("setup_id", sa.String(12), nullable=False),
        sa.Column("form_id", sa.String(64), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("check", sa.String(16), nullable=False),
        sa.Column("slot", sa.String(64), nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("unit", sa.String(16), nullable=False),
        sa.Column("typed", sa.Text(), nullable=False),
        sa.Column("tool", sa.String(32), nullable=False),
        sa.Column("error", sa.Double(), nullable=True),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.Column("voids", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_entry"),
        sa.ForeignKeyConstraint(["setup_id"], ["setup.id"], name="fk_entry_setup_id_setup"),
        sa.ForeignKeyConstraint(["voids"], ["entry.id"], name="fk_entry_voids_entry"),
        sa.UniqueConstraint("setup_id", "form_id", "part", name="uq_entry_setup_id_form_id_part"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_entry_setup_id_slot", "entry", ["setup_id", "slot"])
