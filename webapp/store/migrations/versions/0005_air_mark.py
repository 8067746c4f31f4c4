"""A bench's `air_mark`: a number that grows with every change of its air."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    with op.batch_alter_table("bench") as bench:
        bench.add_column(sa.Column("air_mark", sa.Integer(), nullable=False, server_default="0"))
