"""Deciding about the stage: criteria and reasons beside the choice; the clinician decides, whatever they say."""

from dataclasses import dataclass
from datetime import date, timedelta

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.decisions import DECISIONS, DecisionKind, decide, stages_for
from imu_rom.clinic.kept_course import KeptCourse, kept_course
from imu_rom.clinic.kept_recordings import list_recordings
from imu_rom.clinic.plans import PlanVersion, newest_plan
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment, today_of
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.dose.case_answer import CriterionAnswer
from imu_rom.errors import ClinicError, PlanError
from imu_rom.report.course_page import ANSWER_MARKS
from imu_rom.wording.case_text import case_closing, case_lists, criteria_table, missing_sentences
from imu_rom.wording.cautions import stage_cautions
from imu_rom.wording.clinic_list_text import DECISION_WORDS

__all__ = ["CriteriaContent", "criteria_content"]


@dataclass(frozen=True)
class CriteriaContent:
    """A stage's criteria as a table.

    Parameters
    ----------
    title : str
        Of the table.
    rows : tuple of tuple of str
        (mark and answer, criterion, what was found).
    """

    title: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class DecisionContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    urgent : tuple of str
        What must be said before anything else.
    stage : str
        Stage that applies.
    worked_out : str
        Until which day, and when, the course was worked out; empty where it was not.
    criteria : CriteriaContent or None
        None where nothing is known.
    case : tuple of (str, tuple of str)
        What speaks for each.
    closing, missing, cautions : tuple of str
        Sentences below.
    options : tuple of tuple of str
        (what the form sends, decision, stage).
    based_on : str
        Id of the plan version that is shown.
    chosen, reason, applies_from : str
        What was filled in.
    earliest : str
        First day that can be named.
    problem : str
        What is to be mended; empty for nothing.
    """

    frame: Frame
    urgent: tuple[str, ...]
    stage: str
    worked_out: str
    criteria: CriteriaContent | None
    case: tuple[tuple[str, tuple[str, ...]], ...]
    closing: tuple[str, ...]
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    options: tuple[tuple[str, str, str], ...]
    based_on: str
    chosen: str
    reason: str
    applies_from: str
    earliest: str
    problem: str


def criteria_content(stage: str, criteria: tuple[CriterionAnswer, ...]) -> CriteriaContent:
    """Put criteria into words, a mark before each answer.

    Parameters
    ----------
    stage : str
        Name of the stage.
    criteria : tuple of CriterionAnswer
        As they were answered.

    Returns
    -------
    CriteriaContent
        For the template.
    """
    table = criteria_table(stage, criteria)
    return CriteriaContent(
        table.title, tuple((f"{ANSWER_MARKS[row[0]]} {row[0]}", row[1], row[2]) for row in table.rows)
    )


@page("/patients/{patient_id}/decision", who="clinician")
def ask_decision(request: Request, permitted: Permitted) -> Response:
    """Show what is known, and ask for the decision."""
    return _decision_page(request, permitted)


@page("/patients/{patient_id}/decision", who="clinician", method="POST")
def take_decision(request: Request, permitted: Permitted) -> Response:
    """Keep the decision, with what the criteria say now, and enter it into the plan."""
    person = permitted.person
    kind, _, stage = permitted.text("choice").partition(":")
    if kind not in DECISIONS:
        return _decision_page(request, permitted, "Choose progress, stay or step back.")
    decision: DecisionKind = next(each for each in DECISIONS if each == kind)
    try:
        applies_from = date.fromisoformat(permitted.text("applies_from"))
    except ValueError:
        return _decision_page(request, permitted, "The first day must be a day such as 2026-12-01.")
    try:
        with permitted.service.database.writing() as connection:
            course = kept_course(connection, person.patient_id)
            decide(
                connection,
                permitted.now_ms,
                clinic_id=person.clinic_id,
                patient_id=person.patient_id,
                author_id=permitted.actor.user_id,
                decision=decision,
                stage_to=stage,
                reason=permitted.text("reason"),
                applies_from=applies_from,
                criteria_json="{}" if course is None else course.criteria_json,
                based_on=permitted.text("based_on"),
            )
    except (ClinicError, PlanError) as error:
        return _decision_page(request, permitted, str(error))
    return back(f"/patients/{person.patient_id}", "decided")


def _decision_page(request: Request, permitted: Permitted, problem: str = "") -> Response:
    person, today = permitted.person, today_of(permitted)
    with permitted.service.database.reading() as connection:
        newest = newest_plan(connection, person.patient_id)
        course = kept_course(connection, person.patient_id)
        sent = list_recordings(connection, person.patient_id)
    if newest is None:
        return RedirectResponse(f"/patients/{person.patient_id}/plan", status_code=303)
    # whoever did today's session did it by the plan as it was, and is not to be judged by another
    done_today = any(each.day == today and each.state != "withdrawn" for each in sent)
    first = max(today + timedelta(days=done_today), newest.applies_from)
    content = _content(permitted, newest, course, first, problem)
    return page_response(request, permitted, "decision.html", content, 400 if problem else 200)


def _content(
    permitted: Permitted, newest: PlanVersion, course: KeptCourse | None, day: date, problem: str
) -> DecisionContent:
    plan = newest.plan
    possible = stages_for(plan, day)
    held = plan.stage_on(day)
    known = course is not None and course.stage is not None
    return DecisionContent(
        frame=frame(permitted, "decision"),
        urgent=() if course is None else course.urgent,
        stage="" if held is None else held.name,
        worked_out=""
        if course is None
        else f"Worked out up to {course.until}, on {moment(permitted, course.made_at_ms)}.",
        criteria=criteria_content(course.stage or "", course.criteria) if course is not None and known else None,
        case=() if course is None else case_lists(course.case),
        closing=() if course is None else case_closing(course.case),
        missing=() if course is None else missing_sentences(course.case.missing),
        cautions=stage_cautions(),
        options=tuple(
            (f"{kind}:{stage}", DECISION_WORDS[kind], stage) for kind in DECISIONS for stage in possible[kind]
        ),
        based_on=permitted.text("based_on") or newest.plan_version_id,
        chosen=permitted.text("choice"),
        reason=permitted.text("reason"),
        applies_from=permitted.text("applies_from") or str(day),
        earliest=str(newest.applies_from),
        problem=problem,
    )
