"""Keys, the codes that make them, how often something was tried, and the store's own name."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

MOMENT = sa.DateTime(timezone=True).with_variant(sa.String(32), "sqlite")


def upgrade() -> None:
    op.create_table(
        "instance",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("address", sa.String(300), nullable=False),
        sa.Column("hosted", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_instance"),
    )
    op.create_table(
        "device_key",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("secret_hash", sa.String(64), nullable=False),
        sa.Column("device_name", sa.String(60), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("last_used_at", MOMENT, nullable=False),
        sa.Column("revoked_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_device_key"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_device_key_bench_id_bench"),
        sa.UniqueConstraint("secret_hash", name="uq_device_key_secret_hash"),
    )
    op.create_index("ix_device_key_bench_id", "device_key", ["bench_id"])
    op.create_table(
        "way_in",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("kind", sa.String(8), nullable=False),
        sa.Column("label", sa.String(8), nullable=False),
        sa.Column("code_hash", sa.String(64), nullable=False),
        sa.Column("made_by", sa.String(12), nullable=True),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("used_at", MOMENT, nullable=True),
        sa.Column("wrong_tries", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_way_in"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_way_in_bench_id_bench"),
        sa.ForeignKeyConstraint(["made_by"], ["device_key.id"], name="fk_way_in_made_by_device_key"),
        sa.UniqueConstraint("code_hash", name="uq_way_in_code_hash"),
    )
    op.create_index("ix_way_in_label", "way_in", ["label"])
    op.create_table(
        "rate",
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("window_start", MOMENT, nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_rate"),
    )
