"""The first tables"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0001"
down_revision = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "households",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("timezone", sa.String(length=64), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("gallon", sa.String(length=8), nullable=False),
        sa.Column("volume_unit", sa.String(length=8), nullable=False),
        sa.Column("temperature_unit", sa.String(length=1), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_households"),
    )
    op.create_table(
        "inbox",
        sa.Column("update_id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.Column("received_at", Moment(timezone=True), nullable=False),
        sa.Column("done_at", Moment(timezone=True), nullable=True),
        sa.Column("why", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("update_id", name="pk_inbox"),
    )
    op.create_index("ix_inbox_done_at_update_id", "inbox", ["done_at", "update_id"])

    op.create_table(
        "chats",
        sa.Column("chat_id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("private", sa.Boolean(), nullable=False),
        sa.Column("unreachable", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["household_id"], ["households.id"], name="fk_chats_household_id_households"),
        sa.PrimaryKeyConstraint("chat_id", name="pk_chats"),
    )
    op.create_index("ix_chats_household_id", "chats", ["household_id"])

    op.create_table(
        "members",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("person_id", sa.BigInteger(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("joined_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_members_household_id_households"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_members"),
        sa.UniqueConstraint("household_id", "person_id", name="uq_members_household_id_person_id"),
    )
    op.create_index("ix_members_person_id", "members", ["person_id"])

    op.create_table(
        "outbox",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=True),
        sa.Column("chat_id", sa.BigInteger(), nullable=False),
        sa.Column("thread_id", sa.BigInteger(), nullable=True),
        sa.Column("html", sa.Text(), nullable=False),
        sa.Column("buttons", sa.JSON(), nullable=False),
        sa.Column("refers", sa.JSON(), nullable=False),
        sa.Column("reply_to", sa.BigInteger(), nullable=True),
        sa.Column("edits", sa.BigInteger(), nullable=True),
        sa.Column("is_reminder", sa.Boolean(), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.Column("closed_at", Moment(timezone=True), nullable=True),
        sa.Column("sent_as", sa.BigInteger(), nullable=True),
        sa.Column("refused", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_outbox_household_id_households"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_outbox"),
    )
    op.create_index("ix_outbox_chat_id_sent_as", "outbox", ["chat_id", "sent_as"])
    op.create_index("ix_outbox_closed_at_id", "outbox", ["closed_at", "id"])

    op.create_table(
        "vessels",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("litres", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_vessels_household_id_households"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_vessels"),
        sa.UniqueConstraint("household_id", "name", name="uq_vessels_household_id_name"),
    )
    op.create_table(
        "asked",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("chat_id", sa.BigInteger(), nullable=False),
        sa.Column("message_id", sa.BigInteger(), nullable=False),
        sa.Column("member_id", ID, nullable=False),
        sa.Column("said_at", Moment(timezone=True), nullable=False),
        sa.Column("options", sa.JSON(), nullable=False),
        sa.Column("until", Moment(timezone=True), nullable=False),
        sa.Column("closed_at", Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["household_id"], ["households.id"], name="fk_asked_household_id_households"),
        sa.ForeignKeyConstraint(["member_id"], ["members.id"], name="fk_asked_member_id_members"),
        sa.PrimaryKeyConstraint("id", name="pk_asked"),
    )
    op.create_index("ix_asked_chat_id", "asked", ["chat_id"])

    op.create_table(
        "log",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("batch", ID, nullable=True),
        sa.Column("strikes", ID, nullable=True),
        sa.Column("act", sa.JSON(), nullable=False),
        sa.Column("member_id", ID, nullable=False),
        sa.Column("said_at", Moment(timezone=True), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("chat_id", sa.BigInteger(), nullable=False),
        sa.Column("message_id", sa.BigInteger(), nullable=False),
        sa.Column("update_id", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["batch"], ["log.id"], name="fk_log_batch_log"),
        sa.ForeignKeyConstraint(["household_id"], ["households.id"], name="fk_log_household_id_households"),
        sa.ForeignKeyConstraint(["member_id"], ["members.id"], name="fk_log_member_id_members"),
        sa.ForeignKeyConstraint(["strikes"], ["log.id"], name="fk_log_strikes_log"),
        sa.PrimaryKeyConstraint("id", name="pk_log"),
    )
    op.create_index("ix_log_household_id_id", "log", ["household_id", "id"])

    op.create_table(
        "reminders",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("batch", sa.BigInteger(), nullable=False),
        sa.Column("step", sa.String(length=60), nullable=False),
        sa.Column("due", Moment(timezone=True), nullable=False),
        sa.Column("ring_at", Moment(timezone=True), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("outbox_id", ID, nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_reminders_household_id_households"
        ),
        sa.ForeignKeyConstraint(["outbox_id"], ["outbox.id"], name="fk_reminders_outbox_id_outbox"),
        sa.PrimaryKeyConstraint("id", name="pk_reminders"),
        sa.UniqueConstraint(
            "household_id", "batch", "step", "due", name="uq_reminders_household_id_batch_step_due"
        ),
    )
    op.create_index("ix_reminders_state_ring_at", "reminders", ["state", "ring_at"])
