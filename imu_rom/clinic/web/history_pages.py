"""What a patient sent before: each session's page, and taking a recording back."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.course_states import course_state
from imu_rom.clinic.diary import DiaryLine, list_lines
from imu_rom.clinic.kept_recordings import KeptRecording, list_recordings
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.messages import messages_of
from imu_rom.clinic.results import newest_result
from imu_rom.clinic.uploads import WHOLE_SESSION, withdraw
from imu_rom.clinic.web.consent_pages import QuestionContent
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response, report_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.sending_pages import recording_of
from imu_rom.clinic.web.stop_first import StopFirst, stop_first, told_to_stop
from imu_rom.clinic.web.today_pages import MessageShown, shown_messages
from imu_rom.exchange.result import parse_result
from imu_rom.report.patient_page import PatientPage, patient_page
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_history import arrived_words, history_words, state_words
from imu_rom.wording.patient_sending import sending_words

__all__ = ["HistoryContent", "SessionContent"]


@dataclass(frozen=True)
class RecordingShown:
    """One recording in the list.

    Parameters
    ----------
    recording_id : str
        Which.
    day : str
        When it was made.
    what : str
        Of what.
    arrived : str
        When it came in.
    state : str
        What became of it, as it is kept.
    told : str
        The same in words.
    """

    recording_id: str
    day: str
    what: str
    arrived: str
    state: str
    told: str


@dataclass(frozen=True)
class HistoryContent:
    """What the list shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    recordings : tuple of RecordingShown
        The newest first.
    messages : tuple of MessageShown
        From the clinic, the newest first.
    printable : bool
        Whether there is a page to print.
    """

    words: dict[str, str]
    recordings: tuple[RecordingShown, ...]
    messages: tuple[MessageShown, ...]
    printable: bool


@dataclass(frozen=True)
class SessionContent:
    """What the page of one session shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    recording : RecordingShown
        Which.
    session : PatientPage
        What was done, to keep and to change.
    first : StopFirst
        What comes before anything else.
    held_back : str
        What is said in the place of what to keep and to change, where a sign or pain was noted; else empty.
    """

    words: dict[str, str]
    recording: RecordingShown
    session: PatientPage
    first: StopFirst
    held_back: str


@page("/history", who="patient without consent")
def history(request: Request, permitted: Permitted) -> Response:
    """List what was sent."""
    to, patient_id = permitted.to, permitted.person.patient_id
    with permitted.service.database.reading() as connection:
        recordings = list_recordings(connection, patient_id)
        messages = messages_of(connection, patient_id)
        lines = list_lines(connection, patient_id)
        state = course_state(connection, permitted.now_ms, patient_id)
        held_back = _held_back(connection, permitted, lines, recordings)
    content = HistoryContent(
        words=history_words(to),
        recordings=tuple(_shown(each, permitted.time_zone, to) for each in recordings),
        messages=shown_messages(permitted, messages),
        printable=state is not None and state.patient_page is not None and not held_back,
    )
    return page_response(request, permitted, "history.html", content)


@page("/history/print", who="patient without consent")
def printable(request: Request, permitted: Permitted) -> Response:
    """Give the newest session's page as it can be printed and kept."""
    del request
    patient_id = permitted.person.patient_id
    with permitted.service.database.reading() as connection:
        recordings = list_recordings(connection, patient_id)
        lines = list_lines(connection, patient_id)
        state = course_state(connection, permitted.now_ms, patient_id)
        held_back = _held_back(connection, permitted, lines, recordings)
    if state is None or state.patient_page is None or held_back:
        return RedirectResponse("/history", status_code=303)
    return report_response(state.patient_page)


@page("/history/{recording_id}", who="patient without consent")
def session(request: Request, permitted: Permitted) -> Response:
    """Show what was done in a session, what to keep and what to change."""
    recording = recording_of(request, permitted)
    with permitted.service.database.reading() as connection:
        result = newest_result(connection, recording.recording_id)
        lines = list_lines(connection, permitted.person.patient_id)
        first = stop_first(connection, permitted, lines)
    if recording.state != "usable" or result is None:
        return RedirectResponse(f"/sent/{recording.recording_id}", status_code=303)
    with permitted.service.files.open(result.files["result.json"].sha256) as file:
        document = parse_result(file.read(), "result.json")
    words = history_words(permitted.to)
    content = SessionContent(
        words=words,
        recording=_shown(recording, permitted.time_zone, permitted.to),
        session=patient_page(document, permitted.to.language),
        first=first,
        held_back=words["held_back"] if first.there or told_to_stop(lines, recording) else "",
    )
    return page_response(request, permitted, "patient_session.html", content)


@page("/history/{recording_id}/withdraw", who="patient without consent")
def ask_withdraw(request: Request, permitted: Permitted) -> Response:
    """Ask whether a recording is really taken back."""
    recording = recording_of(request, permitted)
    words = history_words(permitted.to)
    shown = _shown(recording, permitted.time_zone, permitted.to)
    content = QuestionContent(
        words["withdraw_heading"],
        (f"{shown.what}, {shown.day}", words["withdraw_what"]),
        request.url.path,
        words["withdraw_yes"],
        words["keep"],
        "/history",
    )
    return page_response(request, permitted, "question.html", content)


@page("/history/{recording_id}/withdraw", who="patient without consent", method="POST")
def take_back(request: Request, permitted: Permitted) -> Response:
    """Take a recording back."""
    with permitted.service.database.writing() as connection:
        withdraw(
            connection,
            permitted.now_ms,
            recording_id=request.path_params["recording_id"],
            actor_id=permitted.actor.user_id,
        )
    return RedirectResponse("/history", status_code=303)


def _held_back(
    connection: Connection, permitted: Permitted, lines: Sequence[DiaryLine], recordings: Sequence[KeptRecording]
) -> bool:
    """Tell whether the newest session's page to print would say to go on where the diary says to stop."""
    if stop_first(connection, permitted, lines).there:
        return True
    usable = [each for each in recordings if each.state == "usable"]
    return any(told_to_stop(lines, each) for each in usable if each.day == usable[0].day)


def _shown(recording: KeptRecording, time_zone: str, to: Speech) -> RecordingShown:
    words = sending_words(to)
    what = words["all"] if recording.exercise == WHOLE_SESSION else recording.exercise
    side = words.get(recording.side, "")
    return RecordingShown(
        recording_id=recording.recording_id,
        day=to.day(recording.day),
        what=f"{what} ({side})" if side else what,
        arrived=arrived_words(local_day(recording.received_at_ms, time_zone), to),
        state=recording.state,
        told=state_words(recording.state, to),
    )
