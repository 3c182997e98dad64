"""When an entry was written, how far a chat's letters were let go; and of what is done only its number stays"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    op.add_column("chats", sa.Column("let_go_to", sa.BigInteger()))
    op.add_column("log", sa.Column("written_at", Moment(timezone=True)))
    op.execute(
        "UPDATE log SET written_at = coalesce("
        "(SELECT done_at FROM inbox WHERE inbox.update_id = log.update_id), said_at)"
    )
    op.execute(
        "UPDATE inbox SET raw = '', chat_id = NULL, holder = NULL, held_until = NULL WHERE done_at IS NOT NULL"
    )
