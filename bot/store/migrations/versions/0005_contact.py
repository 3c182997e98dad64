"""How long the household's sanitiser has to stand"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.add_column(
        "households", sa.Column("contact_minutes", sa.Integer(), nullable=False, server_default="10")
    )
