"""The list of patients: who needs a look first and why, from what is kept of each; `imu_rom.dose` judges.

Uploads, red flags and what the diary says since the last course job are read as they are now, so that nothing waits for
a worker; all else comes from the facts that the job kept.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any, Literal

from sqlalchemy import Connection, and_, func, or_, select

from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.reviews import seen_reasons, unread_recordings
from imu_rom.clinic.schema import (
    clinics,
    consents,
    course_states,
    diary_versions,
    jobs,
    patients,
    plan_versions,
    recordings,
    users,
)
from imu_rom.dose.attention_facts import AttentionFacts
from imu_rom.dose.attention_reasons import AttentionReason, Upload, attention_reasons
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.errors import ResultError
from imu_rom.exchange.plain_values import build
from imu_rom.settings import PainSettings
from imu_rom.wording.clinic_attention_text import RED_FLAG_URGENCIES

__all__ = ["LEVEL_ORDER", "PatientLine", "patient_lines"]

DIARY_DAYS = 90
# a line that was written while a course job ran may not be in its facts
WHILE_A_JOB_RAN_MS = 3_600_000
LEVEL_ORDER = ("at once", "today", "this week", "routine", "nothing")


_NO_FACTS = or_(course_states.c.attention_json.is_(None), course_states.c.attention_json == "")


@dataclass(frozen=True)
class PatientLine:
    """One patient of the list.

    Parameters
    ----------
    patient_id : str
        Whose.
    label : str
        The clinic's own name for the person.
    level : {"at once", "today", "this week", "routine", "nothing"}
        How soon it wants a look.
    reasons : tuple of AttentionReason
        Why, those that want a look first first.
    unread : tuple of str
        Ids of the sessions that nobody has looked at.
    newest_on : date or None
        Day on which the newest unread session came in.
    last_upload_on : date or None
        Day of the last upload that was not withdrawn.
    stage : str or None
        Stage that applied when the course was last worked out.
    stage_since : date or None
        Its first day.
    criteria : tuple of int
        How many of the stage's criteria are met, not met, and open.
    waiting : int
        Uploads that are not analysed yet.
    missing : tuple of str
        What keeps the patient from going on: ``"not joined"``, ``"no consent"``, ``"no plan"``.
    deletion_asked_on : date or None
        Day on which the patient asked for deletion.
    sessions : tuple of (date, str)
        Day and id of each usable recording, the newest last.
    """

    patient_id: str
    label: str
    level: Literal["at once", "today", "this week", "routine", "nothing"]
    reasons: tuple[AttentionReason, ...]
    unread: tuple[str, ...]
    newest_on: date | None
    last_upload_on: date | None
    stage: str | None
    stage_since: date | None
    criteria: tuple[int, int, int]
    waiting: int
    missing: tuple[str, ...]
    deletion_asked_on: date | None
    sessions: tuple[tuple[date, str], ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of all reasons that are shown, for a review of them."""
        return tuple(key for each in self.reasons for key in each.keys)

    @property
    def shown(self) -> str:
        """Stands for all that a review would mark as seen: another one means that something came in meanwhile."""
        return hashlib.sha256(json.dumps([sorted(self.keys), sorted(self.unread)]).encode()).hexdigest()[:32]


def patient_lines(
    connection: Connection, clinic_id: str, now_ms: int, *, patient_id: str | None = None
) -> tuple[PatientLine, ...]:
    """Give the patients of a clinic, those that need a look first first.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Whose patients.
    now_ms : int
        The time.
    patient_id : str, optional
        This one alone.

    Returns
    -------
    tuple of PatientLine
        Without those that are retired or deleted, unless one is asked for by name.
    """
    time_zone = connection.scalar(select(clinics.c.time_zone).where(clinics.c.id == clinic_id)) or "UTC"
    today = local_day(now_ms, time_zone)
    asked = [patients.c.clinic_id == clinic_id, patients.c.deleted_at_ms.is_(None)]
    asked.append(patients.c.retired_at_ms.is_(None) if patient_id is None else patients.c.id == patient_id)
    rows = connection.execute(
        select(
            patients.c.id,
            patients.c.label,
            patients.c.deletion_asked_at_ms,
            users.c.passphrase_hash,
            course_states.c.attention_json,
        )
        .select_from(
            patients.outerjoin(users, users.c.id == patients.c.user_id).outerjoin(
                course_states, course_states.c.patient_id == patients.c.id
            )
        )
        .where(*asked)
    ).all()
    ids = [row.id for row in rows]
    diaries, uploads = _diaries(connection, ids, today), _uploads(connection, ids, time_zone)
    looked, unread = seen_reasons(connection, ids), unread_recordings(connection, ids)
    consented = _with(connection, ids, consents.c.patient_id, consents.c.withdrawn_at_ms.is_(None))
    planned = _with(connection, ids, plan_versions.c.patient_id)
    lines = []
    for row in rows:
        facts = _facts(row.attention_json)
        sent = uploads.get(row.id, [])
        reasons = attention_reasons(
            facts,
            diaries.get(row.id, []),
            [each for each, _ in sent],
            today,
            seen=looked.get(row.id, frozenset()),
            urgencies=RED_FLAG_URGENCIES,
            settings=PainSettings(),
        )
        new = unread.get(row.id, ())
        lines.append(
            PatientLine(
                patient_id=row.id,
                label=row.label,
                level=reasons[0].level if reasons else "routine" if new else "nothing",
                reasons=reasons,
                unread=tuple(recording_id for recording_id, _ in new),
                newest_on=local_day(new[-1][1], time_zone) if new else None,
                last_upload_on=sent[-1][0].received_on if sent else None,
                stage=None if facts is None else facts.stage,
                stage_since=None if facts is None else facts.stage_since,
                criteria=(0, 0, 0)
                if facts is None
                else (facts.criteria_met, facts.criteria_not_met, facts.criteria_open),
                waiting=sum(each.state == "waiting" for each, _ in sent),
                missing=(
                    *(() if row.passphrase_hash else ("not joined",)),
                    *(() if row.id in consented or not row.passphrase_hash else ("no consent",)),
                    *(() if row.id in planned else ("no plan",)),
                ),
                deletion_asked_on=None
                if row.deletion_asked_at_ms is None
                else local_day(row.deletion_asked_at_ms, time_zone),
                sessions=tuple(sorted((day, each.upload_id) for each, day in sent if each.state == "usable")),
            )
        )
    return tuple(sorted(lines, key=_rank))


def _rank(line: PatientLine) -> tuple[Any, ...]:
    first = line.reasons[0].rank if line.reasons else (99, 0.0, 0)
    newest = 0 if line.newest_on is None else -line.newest_on.toordinal()
    return LEVEL_ORDER.index(line.level), first, -len(line.reasons), newest, line.label.casefold(), line.patient_id


@lru_cache(maxsize=2048)
def _facts(text: str | None) -> AttentionFacts | None:
    if not text:
        return None
    try:
        return build(AttentionFacts, json.loads(text), "attention")
    except (ValueError, ResultError):
        # an earlier program wrote other facts: the course is being worked out anew
        return None


def _with(connection: Connection, ids: Sequence[str], column: Any, *conditions: Any) -> frozenset[str]:  # noqa: ANN401
    return frozenset(connection.scalars(select(column).where(column.in_(ids), *conditions).distinct()))


def _diaries(connection: Connection, ids: Sequence[str], today: date) -> dict[str, list[DiaryEntry]]:
    """Read the newest version of each entry: what no course job has seen yet, and red flags however old."""
    own = diary_versions.alias()
    newest = (
        select(own.c.patient_id, own.c.entry, func.max(own.c.version).label("version"))
        .where(own.c.patient_id.in_(ids))
        .group_by(own.c.patient_id, own.c.entry)
        .subquery()
    )
    since = (today - timedelta(days=DIARY_DAYS)).isoformat()
    rows = connection.execute(
        select(diary_versions.c.patient_id, diary_versions.c.day, diary_versions.c.fields_json)
        .join(
            newest,
            and_(
                diary_versions.c.patient_id == newest.c.patient_id,
                diary_versions.c.entry == newest.c.entry,
                diary_versions.c.version == newest.c.version,
            ),
        )
        .outerjoin(course_states, course_states.c.patient_id == diary_versions.c.patient_id)
        .where(
            or_(
                diary_versions.c.red_flag,
                and_(_NO_FACTS, diary_versions.c.day >= since),
                diary_versions.c.created_at_ms >= course_states.c.made_at_ms - WHILE_A_JOB_RAN_MS,
            )
        )
    )
    found: dict[str, list[DiaryEntry]] = {}
    for row in rows:
        found.setdefault(row.patient_id, []).append(_entry(row.day, json.loads(row.fields_json)))
    return found


def _entry(day: str, fields: Mapping[str, object]) -> DiaryEntry:
    """Take pain and red flags of a line; its other cells say nothing of how soon somebody must look."""

    def pain(name: str) -> float | None:
        try:
            return float(str(fields[name]))
        except (KeyError, ValueError):
            return None

    flags = str(fields.get("red_flag") or "")
    return DiaryEntry(
        date.fromisoformat(day),
        pain_before=pain("pain_before"),
        pain_during=pain("pain_during"),
        pain_after=pain("pain_after"),
        pain_next_morning=pain("pain_next_morning"),
        stiffness_min=pain("stiffness_min"),
        load_test_pain=pain("load_test_pain"),
        red_flags=tuple(each.strip() for each in flags.replace("+", ",").replace(";", ",").split(",") if each.strip()),
    )


def _uploads(connection: Connection, ids: Sequence[str], time_zone: str) -> dict[str, list[tuple[Upload, date]]]:
    """Read all uploads in the order in which they came in, each with the day that it is of."""
    about = (jobs.c.recording_id == recordings.c.id, jobs.c.kind == "analyse")
    given_up = (
        select(jobs.c.why)
        .where(*about, jobs.c.state == "given_up")
        .order_by(jobs.c.created_at_ms.desc())
        .limit(1)
        .scalar_subquery()
    )
    going_on = select(jobs.c.id).where(*about, jobs.c.state.in_(("waiting", "running"))).exists()
    rows = connection.execute(
        select(
            recordings.c.patient_id,
            recordings.c.id,
            recordings.c.state,
            recordings.c.reason,
            recordings.c.reason_code,
            func.coalesce(recordings.c.made_at, recordings.c.recorded_at).label("said"),
            recordings.c.received_at_ms,
            given_up.label("given_up"),
            going_on.label("going_on"),
        )
        .where(recordings.c.patient_id.in_(ids), recordings.c.state != "withdrawn")
        .order_by(recordings.c.received_at_ms, recordings.c.id)
    )
    found: dict[str, list[tuple[Upload, date]]] = {}
    for row in rows:
        state, why = row.state, row.reason
        if state == "waiting" and row.given_up is not None and not row.going_on:
            state, why = "not analysed", row.given_up
        received_on = local_day(row.received_at_ms, time_zone)
        left_open = state == "unusable" and row.reason_code == "left-open"
        day = received_on if row.said is None else date.fromisoformat(row.said[:10])
        found.setdefault(row.patient_id, []).append((Upload(row.id, received_on, state, why, left_open), day))
    return found
