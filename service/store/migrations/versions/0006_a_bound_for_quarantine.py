"""a bound for quarantine: what is alike is counted."""

import re

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("quarantine", schema=None) as batch_op:
        batch_op.add_column(sa.Column("kind", sa.String(), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("more", sa.Integer(), nullable=False, server_default="0"))
        batch_op.add_column(sa.Column("last_us", sa.BigInteger(), nullable=True))
        batch_op.create_index("quarantine_of_a_kind", ["kind", "topic"], unique=False)
    kept = sa.table(
        "quarantine",
        sa.column("id", sa.Integer),
        sa.column("reason", sa.String),
        sa.column("kind", sa.String),
    )
    connection = op.get_bind()
    for number, reason in connection.execute(sa.select(kept.c.id, kept.c.reason)).all():
        connection.execute(kept.update().where(kept.c.id == number).values(kind=_kind(reason)))


def _kind(reason: str) -> str:
    """As the store made it when these columns came; a migration does not change with the code."""
    first = "".join(each for each in reason.split("; ", maxsplit=1)[0] if each.isprintable())
    return re.sub(r"-?\d(?:[\d.,:TZ+-]*[\dZ])?", "…", first)[:200]
