"""Who may: owners, members who left or were removed, invitations"""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import Moment

revision = "0002"
down_revision = "0001"

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.add_column("members", sa.Column("owner", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.add_column("members", sa.Column("state", sa.String(length=10), server_default="in", nullable=False))
    # Whoever came first is taken to have set the household up.
    op.execute(
        "UPDATE members SET owner = true "
        "WHERE id IN (SELECT min(id) FROM members AS those GROUP BY household_id)"
    )
    op.create_table(
        "invites",
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("household_id", ID, nullable=False),
        sa.Column("until", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["households.id"], name="fk_invites_household_id_households"
        ),
        sa.PrimaryKeyConstraint("code", name="pk_invites"),
    )
    op.create_index("ix_invites_household_id", "invites", ["household_id"])
