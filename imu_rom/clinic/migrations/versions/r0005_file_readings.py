"""How the files of a patient's logger are read: versions that are never changed."""

import sqlalchemy
from alembic import op

revision = "0005"
down_revision = "0004"

TABLE = "file_reading_versions"


def upgrade() -> None:
    """Make the table, and have the database refuse to change its rows."""
    op.create_table(
        TABLE,
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("version", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("reading_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name=f"fk_{TABLE}_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name=f"fk_{TABLE}_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name=f"pk_{TABLE}"),
        sqlalchemy.UniqueConstraint("patient_id", "version", name=f"uq_{TABLE}_patient_id_version"),
    )
    op.create_index(f"ix_{TABLE}_author_id", TABLE, ["author_id"], unique=False)
    op.create_index(f"ix_{TABLE}_patient_id", TABLE, ["patient_id"], unique=False)
    if op.get_context().dialect.name == "sqlite":
        op.execute(
            f"CREATE TRIGGER {TABLE}_no_update BEFORE update ON {TABLE} "
            f"BEGIN SELECT RAISE(ABORT, 'rows of {TABLE} are never changed'); END"
        )
        return
    op.execute(
        f"CREATE TRIGGER {TABLE}_no_update BEFORE update ON {TABLE} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change('changed')"
    )
