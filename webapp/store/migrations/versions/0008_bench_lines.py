"""What the bench last said of each instrument, so that it can be said again without its journals."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    op.create_table(
        "bench_line",
        sa.Column("instrument_id", sa.String(12), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.Column("seal", sa.String(16), nullable=False),
        sa.PrimaryKeyConstraint("instrument_id", name="pk_bench_line"),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name="fk_bench_line_instrument_id_instrument"
        ),
    )
