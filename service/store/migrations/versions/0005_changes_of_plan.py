"""changes of plan."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "plan_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("time_us", sa.BigInteger(), nullable=False),
        sa.Column("from_plan", sa.String(), nullable=False),
        sa.Column("from_version", sa.Integer(), nullable=False),
        sa.Column("to_plan", sa.String(), nullable=False),
        sa.Column("to_version", sa.Integer(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("plan_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plan_change_batch_id"), ["batch_id"], unique=False)
