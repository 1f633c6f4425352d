"""Pages of sessions within their course, which the course is looked at for anew."""

import sqlalchemy
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add a table."""
    op.create_table(
        "session_pages",
        sqlalchemy.Column("result_version_id", sqlalchemy.String(32), nullable=False),
        sqlalchemy.Column("made_from_sha256", sqlalchemy.String(64), nullable=False),
        sqlalchemy.Column("sha256", sqlalchemy.String(64), nullable=False),
        sqlalchemy.Column("size", sqlalchemy.BigInteger, nullable=False),
        sqlalchemy.ForeignKeyConstraint(
            ["result_version_id"], ["result_versions.id"], name="fk_session_pages_result_version_id"
        ),
        sqlalchemy.PrimaryKeyConstraint("result_version_id", name="pk_session_pages"),
    )
    op.create_index("ix_session_pages_sha256", "session_pages", ["sha256"])
