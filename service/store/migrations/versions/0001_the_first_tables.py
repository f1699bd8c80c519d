"""the first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("created_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "quarantine",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("received_us", sa.BigInteger(), nullable=False),
        sa.Column("topic", sa.String(), nullable=False),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("quarantine", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_quarantine_received_us"), ["received_us"], unique=False
        )

    op.create_table(
        "sensor",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("first_seen_us", sa.BigInteger(), nullable=False),
        sa.Column("link", sa.String(), nullable=True),
        sa.Column("battery_pct", sa.Float(), nullable=True),
        sa.Column("battery_v", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("key"),
    )
    op.create_table(
        "site",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("fahrenheit", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("slug"),
    )
    op.create_table(
        "batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("plan", sa.String(), nullable=False),
        sa.Column("plan_version", sa.Integer(), nullable=False),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_site_id"), ["site_id"], unique=False)

    op.create_table(
        "phone_code",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("code_digest", sa.String(), nullable=False),
        sa.Column("expires_us", sa.BigInteger(), nullable=False),
        sa.Column("used_us", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("code_digest"),
    )
    op.create_table(
        "reading",
        sa.Column("sensor_id", sa.Integer(), nullable=False),
        sa.Column("time_us", sa.BigInteger(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.Column("humidity_pct", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["sensor_id"], ["sensor.id"]),
        sa.PrimaryKeyConstraint("sensor_id", "time_us"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("secret_digest", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("created_us", sa.BigInteger(), nullable=False),
        sa.Column("expires_us", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("secret_digest"),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "space",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("parent_id", sa.Integer(), nullable=True),
        sa.Column("board", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["parent_id"], ["space.id"]),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("site_id", "slug"),
    )
    with op.batch_alter_table("space", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_space_site_id"), ["site_id"], unique=False)

    op.create_table(
        "condition",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("space_id", sa.Integer(), nullable=True),
        sa.Column("sensor_id", sa.Integer(), nullable=True),
        sa.Column("evaluated_us", sa.BigInteger(), nullable=False),
        sa.Column("state_json", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["sensor_id"], ["sensor.id"]),
        sa.ForeignKeyConstraint(["space_id"], ["space.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("kind", "sensor_id"),
        sa.UniqueConstraint("kind", "space_id"),
    )
    op.create_table(
        "sensor_placement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sensor_id", sa.Integer(), nullable=False),
        sa.Column("space_id", sa.Integer(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("to_us", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["sensor_id"], ["sensor.id"]),
        sa.ForeignKeyConstraint(["space_id"], ["space.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("sensor_placement", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_sensor_placement_sensor_id"), ["sensor_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_sensor_placement_space_id"), ["space_id"], unique=False
        )

    op.create_table(
        "wheel",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("diameter_mm", sa.Float(), nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.Column("mass_g", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("batch_id", "label"),
    )
    with op.batch_alter_table("wheel", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_wheel_batch_id"), ["batch_id"], unique=False)

    op.create_table(
        "alarm",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("condition_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("priority", sa.String(), nullable=False),
        sa.Column("raised_us", sa.BigInteger(), nullable=False),
        sa.Column("returned_us", sa.BigInteger(), nullable=True),
        sa.Column("acknowledged_us", sa.BigInteger(), nullable=True),
        sa.Column("acknowledged_by", sa.String(), nullable=True),
        sa.Column("limit_value", sa.Float(), nullable=True),
        sa.Column("extreme", sa.Float(), nullable=True),
        sa.Column("wheels", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["condition_id"], ["condition.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("alarm", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_alarm_condition_id"), ["condition_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_alarm_raised_us"), ["raised_us"], unique=False)

    op.create_table(
        "stage_lived",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wheel_id", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("to_us", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["wheel_id"], ["wheel.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("stage_lived", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stage_lived_wheel_id"), ["wheel_id"], unique=False)

    op.create_table(
        "wheel_placement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wheel_id", sa.Integer(), nullable=False),
        sa.Column("space_id", sa.Integer(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("to_us", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["space_id"], ["space.id"]),
        sa.ForeignKeyConstraint(["wheel_id"], ["wheel.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("wheel_placement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_wheel_placement_space_id"), ["space_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_wheel_placement_wheel_id"), ["wheel_id"], unique=False)

    op.create_table(
        "alarm_transition",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alarm_id", sa.Integer(), nullable=False),
        sa.Column("time_us", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["alarm_id"], ["alarm.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("alarm_transition", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_alarm_transition_alarm_id"), ["alarm_id"], unique=False
        )

    op.create_table(
        "notice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alarm_id", sa.Integer(), nullable=True),
        sa.Column("channel", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.Column("created_us", sa.BigInteger(), nullable=False),
        sa.Column("next_try_us", sa.BigInteger(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("delivered_us", sa.BigInteger(), nullable=True),
        sa.Column("given_up_us", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["alarm_id"], ["alarm.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_alarm_id"), ["alarm_id"], unique=False)
        batch_op.create_index("notice_due", ["delivered_us", "next_try_us"], unique=False)

    op.create_table(
        "delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("notice_id", sa.Integer(), nullable=False),
        sa.Column("time_us", sa.BigInteger(), nullable=False),
        sa.Column("delivered", sa.Boolean(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_delivery_notice_id"), ["notice_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_delivery_notice_id"))

    op.drop_table("delivery")
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.drop_index("notice_due")
        batch_op.drop_index(batch_op.f("ix_notice_alarm_id"))

    op.drop_table("notice")
    with op.batch_alter_table("alarm_transition", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_alarm_transition_alarm_id"))

    op.drop_table("alarm_transition")
    with op.batch_alter_table("wheel_placement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_wheel_placement_wheel_id"))
        batch_op.drop_index(batch_op.f("ix_wheel_placement_space_id"))

    op.drop_table("wheel_placement")
    with op.batch_alter_table("stage_lived", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stage_lived_wheel_id"))

    op.drop_table("stage_lived")
    with op.batch_alter_table("alarm", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_alarm_raised_us"))
        batch_op.drop_index(batch_op.f("ix_alarm_condition_id"))

    op.drop_table("alarm")
    with op.batch_alter_table("wheel", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_wheel_batch_id"))

    op.drop_table("wheel")
    with op.batch_alter_table("sensor_placement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sensor_placement_space_id"))
        batch_op.drop_index(batch_op.f("ix_sensor_placement_sensor_id"))

    op.drop_table("sensor_placement")
    op.drop_table("condition")
    with op.batch_alter_table("space", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_space_site_id"))

    op.drop_table("space")
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_person_id"))

    op.drop_table("sign_in")
    op.drop_table("reading")
    op.drop_table("phone_code")
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_site_id"))

    op.drop_table("batch")
    op.drop_table("site")
    op.drop_table("sensor")
    with op.batch_alter_table("quarantine", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quarantine_received_us"))

    op.drop_table("quarantine")
    op.drop_table("person")
