"""weighings salt tests corrections."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "salt_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sensor_id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.String(), nullable=False),
        sa.Column("started_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_us", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["sensor_id"], ["sensor.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("salt_test", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_salt_test_sensor_id"), ["sensor_id"], unique=False)

    op.create_table(
        "sensor_correction",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sensor_id", sa.Integer(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("offset_pct", sa.Float(), nullable=False),
        sa.Column("gain", sa.Float(), nullable=False),
        sa.Column("standard_uncertainty_pct", sa.Float(), nullable=False),
        sa.Column("salts", sa.String(), nullable=False),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["sensor_id"], ["sensor.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("sensor_correction", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_sensor_correction_sensor_id"), ["sensor_id"], unique=False
        )

    op.create_table(
        "weighing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wheel_id", sa.Integer(), nullable=False),
        sa.Column("time_us", sa.BigInteger(), nullable=False),
        sa.Column("mass_g", sa.Float(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["wheel_id"], ["wheel.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_weighing_wheel_id"), ["wheel_id"], unique=False)

    with op.batch_alter_table("sensor", schema=None) as batch_op:
        batch_op.add_column(sa.Column("temperature_lag_s", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("humidity_lag_s", sa.Float(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("sensor", schema=None) as batch_op:
        batch_op.drop_column("humidity_lag_s")
        batch_op.drop_column("temperature_lag_s")

    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_weighing_wheel_id"))

    op.drop_table("weighing")
    with op.batch_alter_table("sensor_correction", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sensor_correction_sensor_id"))

    op.drop_table("sensor_correction")
    with op.batch_alter_table("salt_test", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_salt_test_sensor_id"))

    op.drop_table("salt_test")
