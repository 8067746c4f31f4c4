"""A bench's `tools`: the measuring tools that the player has at hand."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    with op.batch_alter_table("bench") as bench:
        bench.add_column(sa.Column("tools", sa.Text(), nullable=True))
