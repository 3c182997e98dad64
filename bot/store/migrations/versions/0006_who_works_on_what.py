"""Who works on which update and letter, what is tried again, and who founded a household"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    for name in ("begun", "stuck", "failed"):
        op.add_column("inbox", sa.Column(name, sa.Integer(), nullable=False, server_default="0"))
    op.add_column("inbox", sa.Column("chat_id", sa.BigInteger()))
    op.add_column("inbox", sa.Column("not_before", Moment(timezone=True)))
    for table in ("inbox", "outbox"):
        op.add_column(table, sa.Column("holder", sa.String(length=80)))
        op.add_column(table, sa.Column("held_until", Moment(timezone=True)))
    op.add_column("outbox", sa.Column("put_off", sa.Text()))
    op.add_column("households", sa.Column("founder", sa.BigInteger()))
    op.create_table(
        "pulse",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_pulse"),
    )
