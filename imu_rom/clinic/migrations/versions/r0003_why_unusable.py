"""Of a recording: why it can't be used, in a stable word beside the sentence, and when it was made."""

import sqlalchemy
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add two columns."""
    op.add_column("recordings", sqlalchemy.Column("reason_code", sqlalchemy.String(32), nullable=True))
    op.add_column("recordings", sqlalchemy.Column("made_at", sqlalchemy.String(40), nullable=True))
