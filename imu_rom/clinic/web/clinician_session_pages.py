"""One session as clinicians see it: its answer, its report, repetitions struck and sets joined by form or report."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.diary import list_lines
from imu_rom.clinic.kept_recordings import KeptRecording, read_recording
from imu_rom.clinic.marks import MarkVersion, add_marks, joins_of, marks_of, newest_marks, strikes_of, written_marks
from imu_rom.clinic.plans import plans_of
from imu_rom.clinic.results import KeptResult, newest_result, results_of
from imu_rom.clinic.reviews import review, reviewed_recordings
from imu_rom.clinic.session_pages import recent_sessions, session_page_of
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment, whole_number
from imu_rom.clinic.web.clinician_patient_pages import names_of
from imu_rom.clinic.web.guards import NONCE
from imu_rom.clinic.web.kept_reports import kept_report
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import filled_part, page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page
from imu_rom.errors import ClinicError, ImuRomError, RecordingError
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.result import parse_result
from imu_rom.wording.clinic_list_text import told_words
from imu_rom.wording.clinic_patient_text import (
    SESSION_STATES,
    diary_cells,
    diary_headings,
    exercise_words,
    made_words,
    reason_words,
)
from imu_rom.wording.exercise_text import exercise_heading, set_sentences, total_sentence
from imu_rom.wording.sentences import finding_line

__all__ = ["BarContent", "SessionContent"]

LARGEST_MARKS_BYTES = 1_000_000
RESULT, REPORT = "result.json", "report.html"


@dataclass(frozen=True)
class AnswerContent:
    """One exercise of the session in sentences.

    Parameters
    ----------
    heading, session : str
        Which, and the session in one sentence.
    sets : tuple of str
        One sentence each.
    """

    heading: str
    session: str
    sets: tuple[str, ...]


@dataclass(frozen=True)
class PlaceContent:
    """Something that can be struck, joined or taken back.

    Parameters
    ----------
    value, label : str
        What the form sends, and what it is.
    """

    value: str
    label: str


@dataclass(frozen=True)
class ResultRow:
    """One result in the list of all.

    Parameters
    ----------
    version : int
        Which.
    made : str
        When, by which program, plan and marks.
    """

    version: int
    made: str


@dataclass(frozen=True)
class SessionContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    told : str
        What was just done; may be empty.
    recording_id : str
        Which session.
    facts : tuple of tuple of str
        (name, value).
    unread, waiting : bool
        Whether nobody looked at it, and whether it is being analysed.
    reason : str
        Why it can't be used; may be empty.
    left_open : bool
        Whether only the clinic can say what keeps it from being read.
    answers : tuple of AnswerContent
        One an exercise.
    findings : tuple of tuple of str
        (level, sentence).
    diary_headings : tuple of str
        Of the diary's table.
    diary : tuple of tuple of str
        What the diary says of the session and its day, as it is now.
    has_report : bool
        Whether its report is kept.
    strikes : tuple of (str, tuple of PlaceContent)
        Repetitions by set.
    joins, kept : tuple of PlaceContent
        Sets that could be joined, and marks that could be taken back.
    based_on : int
        Version of the marks that is shown.
    why : str
        The reason as it was filled in.
    results : tuple of ResultRow
        The newest first.
    problem : str
        What is to be mended; empty for nothing.
    """

    frame: Frame
    told: str
    recording_id: str
    facts: tuple[tuple[str, str], ...]
    unread: bool
    waiting: bool
    reason: str
    left_open: bool
    answers: tuple[AnswerContent, ...]
    findings: tuple[tuple[str, str], ...]
    diary_headings: tuple[str, ...]
    diary: tuple[tuple[str, ...], ...]
    has_report: bool
    strikes: tuple[tuple[str, tuple[PlaceContent, ...]], ...]
    joins: tuple[PlaceContent, ...]
    kept: tuple[PlaceContent, ...]
    based_on: int
    why: str
    results: tuple[ResultRow, ...]
    problem: str


@dataclass(frozen=True)
class BarContent:
    """What stands above a report that is read inside the service.

    Parameters
    ----------
    recording_id : str
        Which session.
    label : str
        Whose.
    version, newest : int
        Which result, and which is the newest.
    settled : bool
        Whether later lines of the diary don't come into it any more.
    based_on : int
        Version of the marks that counts.
    nonce : str
        For the script.
    """

    recording_id: str
    label: str
    version: int
    newest: int
    settled: bool
    based_on: int
    nonce: str


@page("/recordings/{recording_id}", who="clinician")
def one_session(request: Request, permitted: Permitted) -> Response:
    """Show one session."""
    return _session_page(request, permitted)


@page("/recordings/{recording_id}/report", who="clinician")
def session_report(request: Request, permitted: Permitted) -> Response:
    """Show the report of a session's result, the newest or an earlier one."""
    recording_id = request.path_params["recording_id"]
    asked = request.query_params.get("result", "")
    with permitted.service.database.reading() as connection:
        results = tuple(reversed(results_of(connection, recording_id)))
        marks = newest_marks(connection, recording_id)
        found = next((each for each in results if asked in {"", str(each.version)}), None)
        page = None if found is None else session_page_of(connection, found.result_id)
        recent = recent_sessions(connection, permitted.person.patient_id)
    if found is None or REPORT not in found.files:
        return trouble_page(request, "missing", 404)
    nonce = request.scope["state"][NONCE]
    content = BarContent(
        recording_id=recording_id,
        label=permitted.person.label,
        version=found.version,
        newest=results[0].version,
        settled=found is not results[0] or recording_id not in recent,
        based_on=0 if marks is None else marks.version,
        nonce=nonce,
    )
    with permitted.service.files.open(page or found.files[REPORT].sha256) as file:
        report = file.read()
    return kept_report(report, filled_part("report_bar.html", content), nonce)


@page("/recordings/{recording_id}/reviewed", who="clinician", method="POST")
def session_reviewed(request: Request, permitted: Permitted) -> Response:
    """File one session as reviewed."""
    recording_id = request.path_params["recording_id"]
    person = permitted.person
    with permitted.service.database.writing() as connection:
        review(
            connection,
            permitted.now_ms,
            clinic_id=person.clinic_id,
            patient_id=person.patient_id,
            author_id=permitted.actor.user_id,
            recording_ids=[recording_id],
        )
    return back(f"/recordings/{recording_id}", "reviewed")


@page("/recordings/{recording_id}/marks", who="clinician", method="POST", files=True)
def mark_session(request: Request, permitted: Permitted) -> Response:
    """Keep marks: of the form, of the report's page, or of a file of marks; a new analysis follows."""
    recording_id = request.path_params["recording_id"]
    person = permitted.person
    try:
        with permitted.service.database.reading() as connection:
            newest = newest_result(connection, recording_id)
        if newest is None:
            raise ClinicError("there is nothing to mark: the session has no result")
        document = _document(permitted, newest)
        sent = _sent_marks(permitted, document)
        with permitted.service.database.writing() as connection:
            add_marks(
                connection,
                permitted.now_ms,
                clinic_id=person.clinic_id,
                patient_id=person.patient_id,
                recording_id=recording_id,
                author_id=permitted.actor.user_id,
                marks_json=sent,
                document=document,
                based_on=whole_number(permitted.text("based_on")) or 0,
            )
    except ImuRomError as error:
        return _session_page(request, permitted, str(error))
    return back(f"/recordings/{recording_id}", "marked")


def _sent_marks(permitted: Permitted, document: ResultDocument) -> str:
    file = permitted.form.get("file")
    if isinstance(file, UploadFile) and file.filename:
        content = file.file.read(LARGEST_MARKS_BYTES + 1)
        if len(content) > LARGEST_MARKS_BYTES:
            raise RecordingError("must have at most 1 MB", where="marks.json")
        return content.decode("utf-8", errors="replace")
    whole = permitted.form.get("marks")
    if isinstance(whole, str) and whole.strip():
        return whole
    form = permitted.form
    taken_back = set(form.getlist("back"))
    kept = [each for index, each in enumerate(document.marks) if str(index) not in taken_back]
    strikes = [each for each in form.getlist("strike") if isinstance(each, str)]
    joins = [each for each in form.getlist("join") if isinstance(each, str)]
    if not strikes and not joins and not taken_back:
        raise ClinicError("nothing was chosen", do="tick what is to be struck, joined or taken back")
    at = datetime.fromtimestamp(permitted.now_ms / 1000, UTC).isoformat(timespec="seconds")
    by = f"clinician {permitted.actor.user_id[:8]}"
    return written_marks(document, kept, strikes, joins, reason=permitted.text("reason"), by=by, at=at)


def _content(permitted: Permitted, result: KeptResult, name: str) -> bytes:
    with permitted.service.files.open(result.files[name].sha256) as file:
        return file.read()


def _document(permitted: Permitted, result: KeptResult) -> ResultDocument:
    return parse_result(_content(permitted, result, RESULT), RESULT)


def _session_page(request: Request, permitted: Permitted, problem: str = "") -> Response:
    recording_id = request.path_params["recording_id"]
    names = names_of(permitted)
    with permitted.service.database.reading() as connection:
        shown = read_recording(connection, recording_id)
        results = tuple(reversed(results_of(connection, recording_id)))
        reviewed = reviewed_recordings(connection, permitted.person.patient_id)
        marks = marks_of(connection, recording_id)
        diary = list_lines(connection, permitted.person.patient_id)
        plans = {each.plan_version_id: each.version for each in plans_of(connection, permitted.person.patient_id)}
    if shown is None:
        return trouble_page(request, "missing", 404)
    document = _document(permitted, results[0]) if results and RESULT in results[0].files else None
    mark_numbers = {each.mark_version_id: each.version for each in marks}
    of_session = [each for each in diary if each.day == shown.day or each.recording_id == recording_id]
    left_open = shown.reason_code == "left-open"
    content = SessionContent(
        frame=frame(permitted, "sessions"),
        told=told_words(request.query_params.get("told", "")),
        recording_id=recording_id,
        facts=_facts(permitted, shown, document),
        unread=shown.state in {"usable", "unusable"} and shown.recording_id not in reviewed,
        waiting=shown.state == "waiting"
        or bool(marks and (not results or results[0].mark_version_id != marks[-1].mark_version_id)),
        reason=shown.reason or "" if left_open else reason_words(shown.reason),
        left_open=left_open,
        answers=() if document is None else tuple(map(_answer, document.exercises)),
        diary_headings=diary_headings(),
        diary=tuple(diary_cells(each.day, each.fields) for each in of_session),
        findings=() if document is None else tuple((each.level, finding_line(each)) for each in document.findings),
        has_report=bool(results) and REPORT in results[0].files,
        strikes=() if document is None else _strikes(document),
        joins=()
        if document is None
        else tuple(
            PlaceContent(each.words, f"{each.exercise}, {each.side}: set {each.numbers[0]} and set {each.numbers[1]}")
            for each in joins_of(document)
        ),
        kept=()
        if document is None
        else tuple(
            PlaceContent(str(index), f"{each.action} from {each.start_s:g} to {each.stop_s:g} s: {each.reason}")
            for index, each in enumerate(document.marks)
        ),
        based_on=marks[-1].version if marks else 0,
        why=permitted.text("reason"),
        results=tuple(
            ResultRow(
                each.version,
                f"made {moment(permitted, each.created_at_ms)} by imu-rom {each.program_version}, plan version "
                f"{plans.get(each.plan_version_id, '?')}"
                + (
                    f", marks version {mark_numbers.get(each.mark_version_id, '?')}"
                    + _by(marks, each.mark_version_id, names)
                    if each.mark_version_id
                    else ", no marks"
                ),
            )
            for each in results
        ),
        problem=problem,
    )
    return page_response(request, permitted, "session.html", content, 400 if problem else 200)


def _by(marks: tuple[MarkVersion, ...], mark_version_id: str, names: dict[str, str]) -> str:
    author = next((each.author_id for each in marks if each.mark_version_id == mark_version_id), "")
    return f" by {names[author]}" if author in names else ""


def _facts(permitted: Permitted, shown: KeptRecording, document: ResultDocument | None) -> tuple[tuple[str, str], ...]:
    facts = [
        ("Exercise", exercise_words(shown.exercise, shown.side)),
        ("Made", made_words(shown.made_at, shown.recorded_at) or "not known"),
        ("Received", moment(permitted, shown.received_at_ms)),
        ("State", SESSION_STATES[shown.state]),
    ]
    if document is not None:
        facts.append(("Stage", document.stage))
        facts.append(("Length", f"{document.recording.duration_s:.0f} s at {document.recording.rate_hz:g} Hz"))
    return tuple(facts)


def _answer(answer: ExerciseAnswer) -> AnswerContent:
    u_deg = math.hypot(answer.u_shared_deg, answer.u_set_deg)
    return AnswerContent(
        exercise_heading(answer.exercise, answer.allotment),
        total_sentence(answer.exercise, answer.comparison, answer.allotment),
        tuple(set_sentences(answer.exercise, answer.comparison, u_deg, answer.allotment)),
    )


def _strikes(document: ResultDocument) -> tuple[tuple[str, tuple[PlaceContent, ...]], ...]:
    groups: dict[str, list[PlaceContent]] = {}
    for each in strikes_of(document):
        depth = "" if each.end_range_deg is None else f", {each.end_range_deg:.1f} deg"
        label = f"{each.numbers[1]}: {each.start_s:.1f} to {each.stop_s:.1f} s{depth}"
        heading = f"{each.exercise}, {each.side}, set {each.numbers[0]}"
        groups.setdefault(heading, []).append(PlaceContent(each.words, label))
    return tuple((heading, tuple(own)) for heading, own in groups.items())
