"""arrivals of messages without a time."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "arrival",
        sa.Column("delivery", sa.String(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("arrival_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("delivery"),
    )


def downgrade() -> None:
    op.drop_table("arrival")
