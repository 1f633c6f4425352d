"""The tables of the first version."""

import sqlalchemy
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:  # noqa: PLR0915 - a list
    """Make all tables."""
    op.create_table(
        "audit_entries",
        sqlalchemy.Column("number", sqlalchemy.BigInteger(), autoincrement=False, nullable=False),
        sqlalchemy.Column("clinic_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("actor_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("action", sqlalchemy.String(length=40), nullable=False),
        sqlalchemy.Column("object_kind", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("object_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("content_sha256", sqlalchemy.String(length=64), nullable=True),
        sqlalchemy.Column("previous_hash", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("entry_hash", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.PrimaryKeyConstraint("number", name="pk_audit_entries"),
        sqlalchemy.UniqueConstraint("entry_hash", name="uq_audit_entries_entry_hash"),
    )
    op.create_index("ix_audit_entries_object", "audit_entries", ["object_kind", "object_id"], unique=False)
    op.create_table(
        "clinics",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("name", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("phone", sqlalchemy.Text(), nullable=True),
        sqlalchemy.Column("time_zone", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("retention_days", sqlalchemy.Integer(), nullable=True),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_clinics"),
    )
    op.create_table(
        "rate_counts",
        sqlalchemy.Column("key_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("window_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("count", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.PrimaryKeyConstraint("key_sha256", name="pk_rate_counts"),
    )
    op.create_table(
        "users",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("clinic_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("role", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("sign_in_name", sqlalchemy.String(length=100), nullable=False),
        sqlalchemy.Column("passphrase_hash", sqlalchemy.Text(), nullable=True),
        sqlalchemy.Column("totp_secret", sqlalchemy.Text(), nullable=True),
        sqlalchemy.Column("totp_step", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("active", sqlalchemy.Boolean(), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["clinic_id"], ["clinics.id"], name="fk_users_clinic_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_users"),
        sqlalchemy.UniqueConstraint("sign_in_name", name="uq_users_sign_in_name"),
    )
    op.create_index("ix_users_clinic_id", "users", ["clinic_id"], unique=False)
    op.create_table(
        "invitations",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("user_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("purpose", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("token_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("expires_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("used_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("revoked_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["user_id"], ["users.id"], name="fk_invitations_user_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_invitations"),
        sqlalchemy.UniqueConstraint("token_sha256", name="uq_invitations_token_sha256"),
    )
    op.create_index("ix_invitations_user_id", "invitations", ["user_id"], unique=False)
    op.create_table(
        "patients",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("clinic_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("user_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("label", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("pseudonym", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("language", sqlalchemy.String(length=8), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("retired_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("deletion_asked_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("deleted_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["clinic_id"], ["clinics.id"], name="fk_patients_clinic_id"),
        sqlalchemy.ForeignKeyConstraint(["user_id"], ["users.id"], name="fk_patients_user_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_patients"),
        sqlalchemy.UniqueConstraint("pseudonym", name="uq_patients_pseudonym"),
    )
    op.create_index("ix_patients_clinic_id", "patients", ["clinic_id"], unique=False)
    op.create_index("ix_patients_user_id", "patients", ["user_id"], unique=False)
    op.create_table(
        "web_sessions",
        sqlalchemy.Column("token_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("user_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("seen_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("expires_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("revoked_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("second_factor_done", sqlalchemy.Boolean(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["user_id"], ["users.id"], name="fk_web_sessions_user_id"),
        sqlalchemy.PrimaryKeyConstraint("token_sha256", name="pk_web_sessions"),
    )
    op.create_index("ix_web_sessions_user_id", "web_sessions", ["user_id"], unique=False)
    op.create_table(
        "consents",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("text_version", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("text_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("language", sqlalchemy.String(length=8), nullable=False),
        sqlalchemy.Column("given_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("withdrawn_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_consents_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_consents"),
    )
    op.create_index("ix_consents_patient_id", "consents", ["patient_id"], unique=False)
    op.create_table(
        "course_states",
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("made_from_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("program_version", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("course_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("attention_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("clinician_page", sqlalchemy.LargeBinary(), nullable=True),
        sqlalchemy.Column("patient_page", sqlalchemy.LargeBinary(), nullable=True),
        sqlalchemy.Column("made_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_course_states_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("patient_id", name="pk_course_states"),
    )
    op.create_table(
        "exports",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("form", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("size", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_exports_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_exports_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_exports"),
    )
    op.create_index("ix_exports_author_id", "exports", ["author_id"], unique=False)
    op.create_index("ix_exports_patient_id", "exports", ["patient_id"], unique=False)
    op.create_table(
        "messages",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("text", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("read_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_messages_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_messages_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_messages"),
    )
    op.create_index("ix_messages_author_id", "messages", ["author_id"], unique=False)
    op.create_index("ix_messages_patient_id", "messages", ["patient_id"], unique=False)
    op.create_table(
        "plan_versions",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("version", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("toml", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("applies_from", sqlalchemy.String(length=10), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("reason", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_plan_versions_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_plan_versions_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_plan_versions"),
        sqlalchemy.UniqueConstraint("patient_id", "version", name="uq_plan_versions_patient_id_version"),
    )
    op.create_index("ix_plan_versions_author_id", "plan_versions", ["author_id"], unique=False)
    op.create_index("ix_plan_versions_patient_id", "plan_versions", ["patient_id"], unique=False)
    op.create_table(
        "recordings",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("content_sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("side", sqlalchemy.String(length=8), nullable=False),
        sqlalchemy.Column("exercise", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("recorded_at", sqlalchemy.String(length=40), nullable=True),
        sqlalchemy.Column("state", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("reason", sqlalchemy.Text(), nullable=True),
        sqlalchemy.Column("received_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("withdrawn_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_recordings_patient_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_recordings"),
        sqlalchemy.UniqueConstraint("patient_id", "content_sha256", name="uq_recordings_patient_id_content_sha256"),
    )
    op.create_index("ix_recordings_patient_id", "recordings", ["patient_id"], unique=False)
    op.create_table(
        "decisions",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("decision", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("stage_from", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("stage_to", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("reason", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("criteria_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("plan_version_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_decisions_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_decisions_patient_id"),
        sqlalchemy.ForeignKeyConstraint(["plan_version_id"], ["plan_versions.id"], name="fk_decisions_plan_version_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_decisions"),
    )
    op.create_index("ix_decisions_author_id", "decisions", ["author_id"], unique=False)
    op.create_index("ix_decisions_patient_id", "decisions", ["patient_id"], unique=False)
    op.create_index("ix_decisions_plan_version_id", "decisions", ["plan_version_id"], unique=False)
    op.create_table(
        "diary_versions",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("entry", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("version", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("day", sqlalchemy.String(length=10), nullable=False),
        sqlalchemy.Column("fields_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("red_flag", sqlalchemy.Boolean(), nullable=False),
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_diary_versions_patient_id"),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_diary_versions_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_diary_versions"),
        sqlalchemy.UniqueConstraint(
            "patient_id", "entry", "version", name="uq_diary_versions_patient_id_entry_version"
        ),
    )
    op.create_index("ix_diary_versions_patient_id", "diary_versions", ["patient_id"], unique=False)
    op.create_index("ix_diary_versions_recording_id", "diary_versions", ["recording_id"], unique=False)
    op.create_table(
        "jobs",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("kind", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("state", sqlalchemy.String(length=16), nullable=False),
        sqlalchemy.Column("attempts", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("lease_owner", sqlalchemy.String(length=64), nullable=True),
        sqlalchemy.Column("lease_until_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.Column("run_after_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("why", sqlalchemy.Text(), nullable=True),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.Column("finished_at_ms", sqlalchemy.BigInteger(), nullable=True),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_jobs_patient_id"),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_jobs_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_jobs"),
    )
    op.create_index("ix_jobs_next", "jobs", ["state", "run_after_ms"], unique=False)
    op.create_index("ix_jobs_patient_id", "jobs", ["patient_id"], unique=False)
    op.create_index("ix_jobs_recording_id", "jobs", ["recording_id"], unique=False)
    op.create_table(
        "mark_versions",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("version", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("marks_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_mark_versions_author_id"),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_mark_versions_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_mark_versions"),
        sqlalchemy.UniqueConstraint("recording_id", "version", name="uq_mark_versions_recording_id_version"),
    )
    op.create_index("ix_mark_versions_author_id", "mark_versions", ["author_id"], unique=False)
    op.create_index("ix_mark_versions_recording_id", "mark_versions", ["recording_id"], unique=False)
    op.create_table(
        "recording_files",
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("position", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("name", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("size", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_recording_files_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("recording_id", "position", name="pk_recording_files"),
    )
    op.create_index("ix_recording_files_sha256", "recording_files", ["sha256"], unique=False)
    op.create_table(
        "reviews",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("patient_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("seen_json", sqlalchemy.Text(), nullable=False),
        sqlalchemy.Column("author_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(["author_id"], ["users.id"], name="fk_reviews_author_id"),
        sqlalchemy.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_reviews_patient_id"),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_reviews_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_reviews"),
    )
    op.create_index("ix_reviews_author_id", "reviews", ["author_id"], unique=False)
    op.create_index("ix_reviews_patient_id", "reviews", ["patient_id"], unique=False)
    op.create_index("ix_reviews_recording_id", "reviews", ["recording_id"], unique=False)
    op.create_table(
        "result_versions",
        sqlalchemy.Column("id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("recording_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("version", sqlalchemy.Integer(), nullable=False),
        sqlalchemy.Column("program_version", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("plan_version_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("mark_version_id", sqlalchemy.String(length=32), nullable=True),
        sqlalchemy.Column("created_at_ms", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(
            ["mark_version_id"], ["mark_versions.id"], name="fk_result_versions_mark_version_id"
        ),
        sqlalchemy.ForeignKeyConstraint(
            ["plan_version_id"], ["plan_versions.id"], name="fk_result_versions_plan_version_id"
        ),
        sqlalchemy.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_result_versions_recording_id"),
        sqlalchemy.PrimaryKeyConstraint("id", name="pk_result_versions"),
        sqlalchemy.UniqueConstraint("recording_id", "version", name="uq_result_versions_recording_id_version"),
    )
    op.create_index("ix_result_versions_mark_version_id", "result_versions", ["mark_version_id"], unique=False)
    op.create_index("ix_result_versions_plan_version_id", "result_versions", ["plan_version_id"], unique=False)
    op.create_index("ix_result_versions_recording_id", "result_versions", ["recording_id"], unique=False)
    op.create_table(
        "result_files",
        sqlalchemy.Column("result_version_id", sqlalchemy.String(length=32), nullable=False),
        sqlalchemy.Column("name", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("sha256", sqlalchemy.String(length=64), nullable=False),
        sqlalchemy.Column("size", sqlalchemy.BigInteger(), nullable=False),
        sqlalchemy.ForeignKeyConstraint(
            ["result_version_id"], ["result_versions.id"], name="fk_result_files_result_version_id"
        ),
        sqlalchemy.PrimaryKeyConstraint("result_version_id", "name", name="pk_result_files"),
    )
    op.create_index("ix_result_files_sha256", "result_files", ["sha256"], unique=False)
