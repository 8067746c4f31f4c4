"""Shares, lessons and their versions, hand-ins; and the lesson that a setup belongs to."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

MOMENT = sa.DateTime(timezone=True).with_variant(sa.String(32), "sqlite")


def upgrade() -> None:
    op.create_table(
        "lesson",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("form_id", sa.String(64), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("students", sa.Integer(), nullable=False),
        sa.Column("link", sa.String(64), nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lesson"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_lesson_bench_id_bench"),
        sa.UniqueConstraint("bench_id", "form_id", name="uq_lesson_bench_id_form_id"),
        sa.UniqueConstraint("token_hash", name="uq_lesson_token_hash"),
    )
    op.create_table(
        "lesson_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lesson_id", sa.String(12), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("sheet", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lesson_version"),
        sa.ForeignKeyConstraint(["lesson_id"], ["lesson.id"], name="fk_lesson_version_lesson_id_lesson"),
        sa.UniqueConstraint("lesson_id", "number", name="uq_lesson_version_lesson_id_number"),
    )
    with op.batch_alter_table("setup") as setup:
        setup.add_column(sa.Column("lesson_id", sa.String(12), nullable=True))
        setup.add_column(sa.Column("lesson_version", sa.Integer(), nullable=True))
        setup.create_foreign_key("fk_setup_lesson_id_lesson", "lesson", ["lesson_id"], ["id"])
        setup.create_index("ix_setup_lesson_id", ["lesson_id"])
    op.create_table(
        "hand_in",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("lesson_id", sa.String(12), nullable=False),
        sa.Column("setup_id", sa.String(12), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("handed_at", MOMENT, nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_hand_in"),
        sa.ForeignKeyConstraint(["lesson_id"], ["lesson.id"], name="fk_hand_in_lesson_id_lesson"),
        sa.ForeignKeyConstraint(["setup_id"], ["setup.id"], name="fk_hand_in_setup_id_setup"),
        sa.UniqueConstraint("setup_id", name="uq_hand_in_setup_id"),
    )
    op.create_index("ix_hand_in_lesson_id", "hand_in", ["lesson_id"])
    op.create_table(
        "share",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("instrument_id", sa.String(12), nullable=False),
        sa.Column("setup_id", sa.String(12), nullable=True),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("with_notes", sa.Boolean(), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("opened_at", MOMENT, nullable=True),
        sa.Column("revoked_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_share"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_share_bench_id_bench"),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name="fk_share_instrument_id_instrument"
        ),
        sa.ForeignKeyConstraint(["setup_id"], ["setup.id"], name="fk_share_setup_id_setup"),
        sa.UniqueConstraint("token_hash", name="uq_share_token_hash"),
    )
    op.create_index("ix_share_bench_id", "share", ["bench_id"])
