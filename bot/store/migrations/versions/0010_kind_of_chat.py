"""Whether a household's group is for the wine alone or the family's own"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    op.add_column("households", sa.Column("chat", sa.String(6), nullable=False, server_default="family"))
