"""Hours of the household's own, and what was said in which words"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    for name, size, default in (
        ("quiet_from", 5, "21:30"),
        ("quiet_until", 5, "08:00"),
        ("asks_at", 5, ""),
        ("digest", 3, "off"),
    ):
        op.add_column(
            "households", sa.Column(name, sa.String(length=size), nullable=False, server_default=default)
        )
    op.add_column("households", sa.Column("most_a_day", sa.Integer(), nullable=False, server_default="3"))
    op.add_column("reminders", sa.Column("said_at", Moment(timezone=True), nullable=True))
    op.add_column("reminders", sa.Column("told", sa.Text(), nullable=True))
    op.add_column("reminders", sa.Column("mark", sa.Text(), nullable=True))
    op.create_index("ix_reminders_outbox_id", "reminders", ["outbox_id"])
