"""What a clinic keeps: tables, in SQLAlchemy Core, alike in SQLite and PostgreSQL.

Identifiers are random texts that tell nothing. Moments are whole milliseconds since 1970 UTC, in columns that end in
``_at_ms``; days are the person's own, as ISO text. What people wrote or decided is versioned and never overwritten:
the newest version counts. Every row that belongs to a person can be traced to one clinic.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "audit_entries",
    "clinics",
    "consents",
    "course_states",
    "decisions",
    "diary_versions",
    "exports",
    "file_reading_versions",
    "invitations",
    "jobs",
    "mark_versions",
    "messages",
    "metadata",
    "patients",
    "plan_versions",
    "rate_counts",
    "recording_files",
    "recordings",
    "result_files",
    "result_versions",
    "reviews",
    "session_pages",
    "users",
    "web_sessions",
]

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[str]:
    return Column("id", String(32), primary_key=True)


def _of(table: str, name: str, *, nullable: bool = False, key: bool = False) -> Column[str]:
    return Column(name, String(32), ForeignKey(f"{table}.id"), nullable=nullable, index=not key, primary_key=key)


def _moment(name: str, *, nullable: bool = False) -> Column[int]:
    return Column(name, BigInteger, nullable=nullable)


clinics = Table(
    "clinics",
    metadata,
    _id(),
    Column("name", Text, nullable=False),
    # no invitation goes out while this is missing
    Column("phone", Text),
    Column("time_zone", String(64), nullable=False),
    # what the owner says the law asks for; None keeps everything
    Column("retention_days", Integer),
    _moment("created_at_ms"),
)

users = Table(
    "users",
    metadata,
    _id(),
    _of("clinics", "clinic_id"),
    Column("role", String(16), nullable=False),  # clinician | patient
    Column("sign_in_name", String(100), nullable=False, unique=True),
    Column("passphrase_hash", Text),
    Column("totp_secret", Text),
    # the last time step used, so that a code counts once
    Column("totp_step", BigInteger),
    Column("active", Boolean, nullable=False),
    _moment("created_at_ms"),
)

patients = Table(
    "patients",
    metadata,
    _id(),
    _of("clinics", "clinic_id"),
    _of("users", "user_id", nullable=True),
    # the clinic's own name for the person, shown to its clinicians and in no log
    Column("label", Text, nullable=False),
    # what leaves the clinic in exports
    Column("pseudonym", String(32), nullable=False, unique=True),
    Column("language", String(8), nullable=False),
    _moment("created_at_ms"),
    _moment("retired_at_ms", nullable=True),
    _moment("deletion_asked_at_ms", nullable=True),
    # a tombstone: the row stays, emptied, so that what was done can still be verified
    _moment("deleted_at_ms", nullable=True),
)

invitations = Table(
    "invitations",
    metadata,
    _id(),
    _of("users", "user_id"),
    Column("purpose", String(16), nullable=False),  # join | reset
    Column("token_sha256", String(64), nullable=False, unique=True),
    _moment("created_at_ms"),
    _moment("expires_at_ms"),
    _moment("used_at_ms", nullable=True),
    _moment("revoked_at_ms", nullable=True),
)

web_sessions = Table(
    "web_sessions",
    metadata,
    Column("token_sha256", String(64), primary_key=True),
    _of("users", "user_id"),
    _moment("created_at_ms"),
    _moment("seen_at_ms"),
    _moment("expires_at_ms"),
    _moment("revoked_at_ms", nullable=True),
    Column("second_factor_done", Boolean, nullable=False),
)

rate_counts = Table(
    "rate_counts",
    metadata,
    # of whom and what for, hashed
    Column("key_sha256", String(64), primary_key=True),
    _moment("window_at_ms"),
    Column("count", Integer, nullable=False),
)

consents = Table(
    "consents",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("text_version", String(32), nullable=False),
    Column("text_sha256", String(64), nullable=False),
    Column("language", String(8), nullable=False),
    _moment("given_at_ms"),
    _moment("withdrawn_at_ms", nullable=True),
)

plan_versions = Table(
    "plan_versions",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("version", Integer, nullable=False),
    Column("toml", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("applies_from", String(10), nullable=False),
    _of("users", "author_id"),
    Column("reason", Text, nullable=False),
    _moment("created_at_ms"),
    UniqueConstraint("patient_id", "version"),
)

# how the files of a patient's logger are read, where they don't say it themselves
file_reading_versions = Table(
    "file_reading_versions",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("version", Integer, nullable=False),
    Column("reading_json", Text, nullable=False),
    _of("users", "author_id"),
    _moment("created_at_ms"),
    UniqueConstraint("patient_id", "version"),
)

recordings = Table(
    "recordings",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    # over the names and contents of its files; the same files of the same person are the same session
    Column("content_sha256", String(64), nullable=False),
    Column("side", String(8), nullable=False),
    Column("exercise", Text, nullable=False),
    # the day and time that the patient says, where the files don't
    Column("recorded_at", String(40)),
    Column("state", String(16), nullable=False),  # waiting | usable | unusable | withdrawn
    Column("reason", Text),
    _moment("received_at_ms"),
    _moment("withdrawn_at_ms", nullable=True),
    # a word of a closed list for the reason, which is English
    Column("reason_code", String(32)),
    # as the analysis found it
    Column("made_at", String(40)),
    UniqueConstraint("patient_id", "content_sha256"),
)

recording_files = Table(
    "recording_files",
    metadata,
    _of("recordings", "recording_id", key=True),
    Column("position", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("sha256", String(64), nullable=False, index=True),
    Column("size", BigInteger, nullable=False),
)

mark_versions = Table(
    "mark_versions",
    metadata,
    _id(),
    _of("recordings", "recording_id"),
    Column("version", Integer, nullable=False),
    Column("marks_json", Text, nullable=False),
    _of("users", "author_id"),
    _moment("created_at_ms"),
    UniqueConstraint("recording_id", "version"),
)

result_versions = Table(
    "result_versions",
    metadata,
    _id(),
    _of("recordings", "recording_id"),
    Column("version", Integer, nullable=False),
    Column("program_version", String(32), nullable=False),
    _of("plan_versions", "plan_version_id"),
    _of("mark_versions", "mark_version_id", nullable=True),
    _moment("created_at_ms"),
    UniqueConstraint("recording_id", "version"),
)

result_files = Table(
    "result_files",
    metadata,
    _of("result_versions", "result_version_id", key=True),
    Column("name", String(64), primary_key=True),
    Column("sha256", String(64), nullable=False, index=True),
    Column("size", BigInteger, nullable=False),
)

# a result's report with pain of that day and what changed since the last review; made anew while the session is recent
session_pages = Table(
    "session_pages",
    metadata,
    _of("result_versions", "result_version_id", key=True),
    Column("made_from_sha256", String(64), nullable=False),
    Column("sha256", String(64), nullable=False, index=True),
    Column("size", BigInteger, nullable=False),
)

jobs = Table(
    "jobs",
    metadata,
    _id(),
    Column("kind", String(16), nullable=False),  # analyse | course
    _of("patients", "patient_id"),
    _of("recordings", "recording_id", nullable=True),
    Column("state", String(16), nullable=False),  # waiting | running | done | given_up
    Column("attempts", Integer, nullable=False),
    Column("lease_owner", String(64)),
    _moment("lease_until_ms", nullable=True),
    _moment("run_after_ms"),
    Column("why", Text),
    _moment("created_at_ms"),
    _moment("finished_at_ms", nullable=True),
    Index("ix_jobs_next", "state", "run_after_ms"),
)

# what a worker made of a patient's plans, diary and results: the course's figures, pages and what wants a look
course_states = Table(
    "course_states",
    metadata,
    _of("patients", "patient_id", key=True),
    # of everything that it was made from; another one means that it is being made anew
    Column("made_from_sha256", String(64), nullable=False),
    Column("program_version", String(32), nullable=False),
    Column("course_json", Text, nullable=False),
    Column("attention_json", Text, nullable=False),
    Column("clinician_page", LargeBinary),
    Column("patient_page", LargeBinary),
    _moment("made_at_ms"),
)

# a line of the diary, as course/diary_columns.py has it; a changed answer is a new version of the same entry
diary_versions = Table(
    "diary_versions",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("entry", String(32), nullable=False),
    Column("version", Integer, nullable=False),
    Column("day", String(10), nullable=False),
    Column("fields_json", Text, nullable=False),
    Column("red_flag", Boolean, nullable=False),
    _of("recordings", "recording_id", nullable=True),
    _moment("created_at_ms"),
    UniqueConstraint("patient_id", "entry", "version"),
)

messages = Table(
    "messages",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    _of("users", "author_id"),
    Column("text", Text, nullable=False),
    _moment("created_at_ms"),
    _moment("read_at_ms", nullable=True),
)

decisions = Table(
    "decisions",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("decision", String(16), nullable=False),  # progress | stay | step_back
    Column("stage_from", Text, nullable=False),
    Column("stage_to", Text, nullable=False),
    Column("reason", Text, nullable=False),
    # what the criteria said when it was decided
    Column("criteria_json", Text, nullable=False),
    _of("plan_versions", "plan_version_id", nullable=True),
    _of("users", "author_id"),
    _moment("created_at_ms"),
)

reviews = Table(
    "reviews",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    # what was looked at: a recording, or the patient's course when None
    _of("recordings", "recording_id", nullable=True),
    # the reasons that were shown, by their keys: a new one is a reason to look again
    Column("seen_json", Text, nullable=False),
    _of("users", "author_id"),
    _moment("created_at_ms"),
)

exports = Table(
    "exports",
    metadata,
    _id(),
    _of("patients", "patient_id"),
    Column("form", String(32), nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("size", BigInteger, nullable=False),
    _of("users", "author_id"),
    _moment("created_at_ms"),
)

# append-only; ids and hashes only, never what people wrote
audit_entries = Table(
    "audit_entries",
    metadata,
    Column("number", BigInteger, primary_key=True, autoincrement=False),
    Column("clinic_id", String(32)),
    _moment("at_ms"),
    Column("actor_id", String(32)),
    Column("action", String(40), nullable=False),
    Column("object_kind", String(32), nullable=False),
    Column("object_id", String(32), nullable=False),
    # of the content that was written or deleted
    Column("content_sha256", String(64)),
    Column("previous_hash", String(64), nullable=False),
    Column("entry_hash", String(64), nullable=False, unique=True),
    Index("ix_audit_entries_object", "object_kind", "object_id"),
)
