"""What the last course job kept of a patient, as decisions and pages need it: criteria, reasons, what is urgent."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from imu_rom.clinic.schema import course_states
from imu_rom.dose.case_answer import CaseFor, CriterionAnswer
from imu_rom.errors import ResultError
from imu_rom.exchange.plain_values import build
from imu_rom.wording.cautions import stage_cautions

__all__ = ["KeptCourse", "course_page_of", "kept_course"]


@dataclass(frozen=True)
class KeptCourse:
    """A course as it was last worked out.

    Parameters
    ----------
    stage : str or None
        Stage that applied on its last day.
    from_day, until : date
        First and last day.
    criteria : tuple of CriterionAnswer
        Of that stage.
    criteria_json : str
        The same as it is kept with a decision, with the days it rests on.
    case : CaseFor
        What speaks for progress, staying and stepping back.
    urgent : tuple of str
        What must be said before anything else: red flags, and pain at which to stop.
    made_at_ms : int
        When it was worked out.
    has_page : bool
        Whether its page is kept.
    """

    stage: str | None
    from_day: date
    until: date
    criteria: tuple[CriterionAnswer, ...]
    criteria_json: str
    case: CaseFor
    urgent: tuple[str, ...]
    made_at_ms: int
    has_page: bool


@dataclass(frozen=True)
class _Answer:
    from_day: date
    until: date
    criteria: tuple[CriterionAnswer, ...]
    case: CaseFor


def kept_course(connection: Connection, patient_id: str) -> KeptCourse | None:
    """Read what is kept of a course.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    KeptCourse or None
        None where nothing was worked out yet, or another program wrote it otherwise.
    """
    row = connection.execute(
        select(
            course_states.c.course_json,
            course_states.c.made_at_ms,
            course_states.c.clinician_page.is_not(None).label("has_page"),
        ).where(course_states.c.patient_id == patient_id)
    ).one_or_none()
    if row is None:
        return None
    try:
        values: dict[str, Any] = json.loads(row.course_json)
        answer = build(_Answer, values["course"], "course")
        stage, said = values["stage"], tuple(map(str, values["cautions"]))
    except (ValueError, KeyError, TypeError, ResultError):
        return None
    kept = {"until": str(answer.until), "stage": stage, "criteria": values["course"]["criteria"]}
    return KeptCourse(
        stage=stage,
        from_day=answer.from_day,
        until=answer.until,
        criteria=answer.criteria,
        criteria_json=json.dumps(kept, ensure_ascii=False, sort_keys=True),
        case=answer.case,
        urgent=tuple(each for each in said if each not in stage_cautions()),
        made_at_ms=row.made_at_ms,
        has_page=row.has_page,
    )


def course_page_of(connection: Connection, patient_id: str) -> bytes | None:
    """Give the course's page for clinicians.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        Whose.

    Returns
    -------
    bytes or None
        Without its plotting script (`imu_rom.clinic.kept_pages.whole_page`); None where there is none.
    """
    return connection.scalar(select(course_states.c.clinician_page).where(course_states.c.patient_id == patient_id))
