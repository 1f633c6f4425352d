"""What was done or said stays as it was: the database itself refuses to change it."""

from alembic import op

revision = "0002"
down_revision = "0001"

# rows of the trail never go; versions go when a person's data are deleted, and change never
NEVER_CHANGED = (
    "audit_entries",
    "decisions",
    "diary_versions",
    "exports",
    "mark_versions",
    "plan_versions",
    "result_files",
    "result_versions",
    "reviews",
)
NEVER_DELETED = ("audit_entries",)


def upgrade() -> None:
    """Set triggers."""
    if op.get_context().dialect.name == "sqlite":
        for table, what, verb in _refused():
            op.execute(
                f"CREATE TRIGGER {table}_no_{what} BEFORE {what} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are never {verb}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION 'rows of % are never %', TG_TABLE_NAME, TG_ARGV[0] "
        "USING ERRCODE = 'integrity_constraint_violation'; "
        "END $$"
    )
    for table, what, verb in _refused():
        op.execute(
            f"CREATE TRIGGER {table}_no_{what} BEFORE {what} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION refuse_change('{verb}')"
        )
    for table in NEVER_DELETED:
        op.execute(
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change('deleted')"
        )


def _refused() -> list[tuple[str, str, str]]:
    changes = [(table, "update", "changed") for table in NEVER_CHANGED]
    return changes + [(table, "delete", "deleted") for table in NEVER_DELETED]
