"""Files that go out with letters, and what households' calendars know"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0004"
down_revision = "0003"

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "attachments",
        sa.Column("outbox_id", ID, autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("media_type", sa.String(length=80), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["outbox_id"], ["outbox.id"], name="fk_attachments_outbox_id_outbox"),
        sa.PrimaryKeyConstraint("outbox_id", name="pk_attachments"),
    )
    op.create_table(
        "calendar",
        sa.Column("id", ID, nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("batch", sa.BigInteger(), nullable=False),
        sa.Column("step", sa.String(length=60), nullable=False),
        sa.Column("uid", sa.String(length=36), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("start", Moment(timezone=True), nullable=False),
        sa.Column("changed_at", Moment(timezone=True), nullable=False),
        sa.Column("cancelled", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_calendar_household_id_households"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_calendar"),
        sa.UniqueConstraint("household_id", "batch", "step", name="uq_calendar_household_id_batch_step"),
    )
