"""The instrument that the household's Brix come from"""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    op.add_column("households", sa.Column("brix_by", sa.String(16), nullable=False, server_default=""))
