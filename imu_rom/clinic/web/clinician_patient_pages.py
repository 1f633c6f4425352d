"""One patient as clinicians see it: why to look, sessions, diary, messages; and what can be done about the account."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.accounts import list_clinicians
from imu_rom.clinic.attention import patient_lines
from imu_rom.clinic.decisions import decisions_of
from imu_rom.clinic.diary import list_lines
from imu_rom.clinic.kept_course import course_page_of, kept_course
from imu_rom.clinic.kept_recordings import KeptRecording, list_recordings
from imu_rom.clinic.messages import LARGEST_MESSAGE, Message, messages_of, send_message
from imu_rom.clinic.plans import newest_plan
from imu_rom.clinic.reviews import reviewed_recordings
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment, today_of
from imu_rom.clinic.web.clinician_list_pages import LineContent, line_content, reviewed_as_shown
from imu_rom.clinic.web.kept_reports import kept_report
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import filled_part, page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page
from imu_rom.errors import ClinicError
from imu_rom.wording.clinic_list_text import DECISION_WORDS, told_words
from imu_rom.wording.clinic_patient_text import (
    SESSION_STATES,
    diary_cells,
    diary_headings,
    exercise_words,
    made_words,
    reason_words,
)

__all__ = ["SessionRow", "names_of", "session_row"]

MOST_SESSIONS, MOST_LINES, MOST_MESSAGES = 20, 14, 5


@dataclass(frozen=True)
class SessionRow:
    """A session in the table.

    Parameters
    ----------
    recording_id : str
        Its id.
    when : str
        When it was made or came in.
    what : str
        Exercise and leg.
    state : str
        What came of it, in words.
    reason : str
        Why it can't be used; may be empty.
    unread : bool
        Whether nobody looked at it.
    opens : bool
        Whether there is anything to open.
    """

    recording_id: str
    when: str
    what: str
    state: str
    reason: str
    unread: bool
    opens: bool


@dataclass(frozen=True)
class MessageRow:
    """A message as the page shows it.

    Parameters
    ----------
    when, author, text : str
        When, from whom, what.
    read : str
        When it was read; empty for not yet.
    """

    when: str
    author: str
    text: str
    read: str


@dataclass(frozen=True)
class PatientContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    told : str
        What was just done; may be empty.
    line : LineContent
        As in the list.
    can_review : bool
        Whether there is anything to file as reviewed.
    decided : str
        The last decision; may be empty.
    has_plan, has_course : bool
        Whether there are any.
    sessions : tuple of SessionRow
        The newest first.
    diary_headings : tuple of str
        Of the diary's table.
    diary : tuple of tuple of str
        Its lines, the newest first.
    messages : tuple of MessageRow
        The newest first.
    largest_message : int
        Letters that a message may have.
    typed, problem : str
        A message that can't be sent as it is, and why; empty for nothing.
    """

    frame: Frame
    told: str
    line: LineContent
    can_review: bool
    decided: str
    has_plan: bool
    has_course: bool
    sessions: tuple[SessionRow, ...]
    diary_headings: tuple[str, ...]
    diary: tuple[tuple[str, ...], ...]
    messages: tuple[MessageRow, ...]
    largest_message: int
    typed: str = ""
    problem: str = ""


@dataclass(frozen=True)
class CourseBar:
    """What stands above a course that is read inside the service.

    Parameters
    ----------
    patient_id, label : str
        Whose.
    """

    patient_id: str
    label: str


def names_of(permitted: Permitted) -> dict[str, str]:
    """Give the names of a clinic's clinicians, and of the patient.

    Parameters
    ----------
    permitted : Permitted
        Who reads.

    Returns
    -------
    dict of str to str
        Names to sign in by user; the patient is called so.
    """
    with permitted.service.database.reading() as connection:
        names = {each.user_id: each.sign_in_name for each in list_clinicians(connection, permitted.actor.clinic_id)}
    if permitted.patient is not None and permitted.patient.user_id is not None:
        names[permitted.patient.user_id] = "the patient"
    return names


@page("/patients/{patient_id}", who="clinician")
def patient(request: Request, permitted: Permitted) -> Response:
    """Show one patient."""
    return _patient_page(request, permitted)


def _patient_page(request: Request, permitted: Permitted, typed: str = "", problem: str = "") -> Response:
    person, today = permitted.person, today_of(permitted)
    names = names_of(permitted)
    with permitted.service.database.reading() as connection:
        (line,) = patient_lines(connection, person.clinic_id, permitted.now_ms, patient_id=person.patient_id)
        sent = list_recordings(connection, person.patient_id)
        reviewed = reviewed_recordings(connection, person.patient_id)
        course = kept_course(connection, person.patient_id)
        decided = decisions_of(connection, person.patient_id)
        diary = list_lines(connection, person.patient_id)[:MOST_LINES]
        written = messages_of(connection, person.patient_id)[:MOST_MESSAGES]
        planned = newest_plan(connection, person.patient_id) is not None
    last = decided[0] if decided else None
    content = PatientContent(
        frame=frame(permitted, "overview"),
        told=told_words(request.query_params.get("told", "")),
        line=line_content(line, today),
        can_review=bool(line.keys or line.unread),
        decided=""
        if last is None
        else f"{DECISION_WORDS[last.decision]}: {last.stage_to}, decided {moment(permitted, last.created_at_ms)}",
        has_plan=planned,
        has_course=course is not None and course.has_page,
        sessions=tuple(session_row(permitted, each, reviewed) for each in sent[:MOST_SESSIONS]),
        diary_headings=diary_headings(),
        diary=tuple(diary_cells(each.day, each.fields) for each in diary),
        messages=tuple(_message_row(permitted, each, names) for each in written),
        largest_message=LARGEST_MESSAGE,
        typed=typed,
        problem=problem,
    )
    return page_response(request, permitted, "patient_overview.html", content, 400 if problem else 200)


def session_row(permitted: Permitted, sent: KeptRecording, reviewed: frozenset[str]) -> SessionRow:
    """Put a session into words.

    Parameters
    ----------
    permitted : Permitted
        Who reads.
    sent : KeptRecording
        The session.
    reviewed : frozenset of str
        Ids of those that somebody has looked at.

    Returns
    -------
    SessionRow
        For a table of sessions.
    """
    made = made_words(sent.made_at, sent.recorded_at)
    return SessionRow(
        recording_id=sent.recording_id,
        when=made or f"{moment(permitted, sent.received_at_ms)} (received)",
        what=exercise_words(sent.exercise, sent.side),
        state=SESSION_STATES[sent.state],
        reason=reason_words(sent.reason),
        unread=sent.state in {"usable", "unusable"} and sent.recording_id not in reviewed,
        opens=sent.state != "withdrawn",
    )


def _message_row(permitted: Permitted, message: Message, names: dict[str, str]) -> MessageRow:
    read = "" if message.read_at_ms is None else moment(permitted, message.read_at_ms)
    author = names.get(message.author_id, "somebody who left")
    return MessageRow(moment(permitted, message.created_at_ms), author, message.text, read)


@page("/patients/{patient_id}/course", who="clinician")
def patient_course(request: Request, permitted: Permitted) -> Response:
    """Show the course of weeks, as the last job worked it out."""
    person = permitted.person
    with permitted.service.database.reading() as connection:
        kept = course_page_of(connection, person.patient_id)
    if kept is None:
        return trouble_page(request, "missing", 404)
    return kept_report(kept, filled_part("course_bar.html", CourseBar(person.patient_id, person.label)))


@page("/patients/{patient_id}/reviewed", who="clinician", method="POST")
def patient_reviewed(request: Request, permitted: Permitted) -> Response:
    """File a patient as reviewed, as the page showed it."""
    del request
    person = permitted.person
    done, _ = reviewed_as_shown(permitted, {person.patient_id: permitted.text("shown")})
    return back(f"/patients/{person.patient_id}", "reviewed" if done else "came-in")


@page("/patients/{patient_id}/messages", who="clinician", method="POST")
def write_message(request: Request, permitted: Permitted) -> Response:
    """Write to a patient."""
    person, text = permitted.person, permitted.text("text")
    try:
        with permitted.service.database.writing() as connection:
            send_message(
                connection,
                permitted.now_ms,
                clinic_id=person.clinic_id,
                patient_id=person.patient_id,
                author_id=permitted.actor.user_id,
                text=text,
            )
    except ClinicError as error:
        return _patient_page(request, permitted, text, str(error))
    return back(f"/patients/{person.patient_id}", "sent")
