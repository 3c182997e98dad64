"""Who may invite and who did, chats that moved, households that were joined"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    # Without foreign keys: SQLite adds none to a table that is there, and making it anew would break others'.
    for table, column in (
        ("households", sa.Column("invites", sa.String(length=5), nullable=False, server_default="owner")),
        ("households", sa.Column("joins", sa.Integer(), nullable=False, server_default="0")),
        ("households", sa.Column("joined_to", sa.BigInteger(), nullable=True)),
        ("chats", sa.Column("moved_to", sa.BigInteger(), nullable=True)),
        ("invites", sa.Column("member_id", sa.BigInteger(), nullable=True)),
    ):
        op.add_column(table, column)
