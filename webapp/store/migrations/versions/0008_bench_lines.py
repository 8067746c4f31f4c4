"""What the bench last said of each instrument, so that it can be said again without its journals; and the
sums of days of air that were typed, which they had not been given."""

import sqlalchemy as sa
from alembic import op

from webapp.store.seals import seal_lines

revision = "0008"
down_revision = "0007"

AIR_DAY = ("bench_id", "day", "source", "temperature_c", "humidity_percent", "rows")


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
    seal_lines(op.get_bind(), "air_day", AIR_DAY, ["id"], "source = 'typed'")
