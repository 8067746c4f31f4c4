"""The air in the room: daily means, the imports they came from, and each import's readings by the day."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

MOMENT = sa.DateTime(timezone=True).with_variant(sa.String(32), "sqlite")


def upgrade() -> None:
    op.create_table(
        "air_day",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("source", sa.String(16), nullable=False),
        sa.Column("temperature_c", sa.Double(), nullable=False),
        sa.Column("humidity_percent", sa.Double(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_air_day"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_air_day_bench_id_bench"),
        sa.UniqueConstraint("bench_id", "day", "source", name="uq_air_day_bench_id_day_source"),
    )
    op.create_table(
        "import_job",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("bench_id", sa.String(12), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("plan", sa.Text(), nullable=False),
        sa.Column("rows_done", sa.Integer(), nullable=False),
        sa.Column("bytes_done", sa.Integer(), nullable=False),
        sa.Column("bytes_all", sa.Integer(), nullable=False),
        sa.Column("bad", sa.Integer(), nullable=False),
        sa.Column("bad_rows", sa.Text(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("rows_new", sa.Integer(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=True),
        sa.Column("last_day", sa.Date(), nullable=True),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_import_job"),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name="fk_import_job_bench_id_bench"),
    )
    op.create_index("ix_import_job_bench_id", "import_job", ["bench_id"])
    op.create_table(
        "air_log_day",
        sa.Column("job_id", sa.String(12), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("readings", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("job_id", "day", name="pk_air_log_day"),
        sa.ForeignKeyConstraint(["job_id"], ["import_job.id"], name="fk_air_log_day_job_id_import_job"),
    )
