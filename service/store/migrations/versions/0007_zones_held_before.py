"""Time zones that the household had before."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "zone_held",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("zone_held", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_zone_held_site_id"), ["site_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("zone_held", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_zone_held_site_id"))

    op.drop_table("zone_held")
