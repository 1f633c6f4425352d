"""Sending a recording, and being told whether it can be used."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from imu_rom.clinic.diary import list_lines
from imu_rom.clinic.kept_recordings import KeptRecording, read_recording
from imu_rom.clinic.rate_limits import RateLimit, count, reached
from imu_rom.clinic.sign_ins import RATE_KEY
from imu_rom.clinic.storage_room import NoRoomError
from imu_rom.clinic.uploads import WHOLE_SESSION, SentFile, receive
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.plan_of_day import Asked, asked_on, names_of
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.errors import BusyError, ClinicError
from imu_rom.wording.patient_sending import sending_words, state_told

__all__ = ["SendContent", "SentContent"]

_HOUR_MS = 3_600_000


@dataclass(frozen=True)
class SendContent:
    """What the form shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    sides : tuple of tuple of str
        (value, words).
    exercises : tuple of tuple of str
        (value, words), all of them last.
    closed : str
        Why nothing can be sent; empty where it can.
    diary_open : bool
        Whether the diary can be written instead.
    latest_day : str
        Today.
    values : mapping of str to str
        What was chosen before.
    problems : mapping of str to str
        What is to be mended, by field.
    """

    words: dict[str, str]
    sides: tuple[tuple[str, str], ...]
    exercises: tuple[tuple[str, str], ...]
    closed: str
    diary_open: bool
    latest_day: str
    values: Mapping[str, str]
    problems: Mapping[str, str]


@dataclass(frozen=True)
class SentContent:
    """What the page about one recording shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    recording_id : str
        Which.
    state : str
        What became of it.
    heading : str
        The same in a few words.
    sentences : tuple of str
        What that means and what to do.
    again : bool
        Whether it was sent before.
    answered : bool
        Whether the questions about it were answered.
    """

    words: dict[str, str]
    recording_id: str
    state: str
    heading: str
    sentences: tuple[str, ...]
    again: bool
    answered: bool


@page("/send", who="patient")
def send(request: Request, permitted: Permitted) -> Response:
    """Ask for the files, and what they are of."""
    return _form_page(request, permitted, {}, {})


def _not_now(request: Request, permitted: Permitted) -> Response | None:
    """Refuse before the files are read what would be refused after."""
    if permitted.person.retired_at_ms is None and not _limit_reached(permitted):
        return None
    return _form_page(request, permitted, {}, {"files": sending_words(permitted.to)["too_often"]})


@page("/send", who="patient", method="POST", files=True, before=_not_now)
def take_in(request: Request, permitted: Permitted) -> Response:
    """Keep what was sent; whoever is answered was told of what is safe."""
    words = sending_words(permitted.to)
    values = {name: permitted.text(name) for name in ("side", "exercise", "day", "time")}
    files = [each for each in permitted.form.getlist("files") if isinstance(each, UploadFile) and each.filename]
    recorded_at, problems = _when(values, permitted.today, words)
    if not files:
        problems["files"] = words["no_files"]
    if values["side"] not in {"left", "right"}:
        problems["side"] = words["no_side"]
    if not values["exercise"]:
        problems["exercise"] = words["no_exercise"]
    if not problems and not _within_rate(permitted):
        problems["files"] = words["too_often"]
    if problems:
        return _form_page(request, permitted, values, problems)
    try:
        received = receive(
            permitted.service,
            permitted.person.patient_id,
            permitted.actor.user_id,
            [SentFile(each.filename or "", each.file) for each in files],
            side=values["side"],
            exercise=values["exercise"],
            recorded_at=recorded_at,
        )
    except BusyError:
        raise
    except NoRoomError:
        return _form_page(request, permitted, values, {"files": words["no_room"]})
    except ClinicError as error:
        if isinstance(error.__cause__, OSError):
            # the disk's fault, and no file's
            raise error.__cause__ from None
        return _form_page(request, permitted, values, {"files": words["refused"]})
    again = "" if received.new else "?again=yes"
    return RedirectResponse(f"/sent/{received.recording_id}{again}", status_code=303)


@page("/sent/{recording_id}", who="patient")
def sent(request: Request, permitted: Permitted) -> Response:
    """Say what became of a recording."""
    recording = recording_of(request, permitted)
    heading, sentences = state_told(recording.state, recording.reason_code, permitted.to)
    with permitted.service.database.reading() as connection:
        lines = list_lines(connection, permitted.person.patient_id)
    content = SentContent(
        words=sending_words(permitted.to),
        recording_id=recording.recording_id,
        state=recording.state,
        heading=heading,
        sentences=sentences,
        again="again" in request.query_params,
        answered=any(each.recording_id == recording.recording_id and "done" in each.fields for each in lines),
    )
    return page_response(request, permitted, "sent.html", content)


@page("/sent/{recording_id}/state", who="patient")
def state(request: Request, permitted: Permitted) -> Response:
    """Say in a word what became of a recording, for the script that waits for it."""
    return JSONResponse({"state": recording_of(request, permitted).state})


def recording_of(request: Request, permitted: Permitted) -> KeptRecording:
    """Give the recording that a path names.

    Parameters
    ----------
    request : Request
        With its id in the path, which was found to be the patient's.
    permitted : Permitted
        Who asks.

    Returns
    -------
    KeptRecording
        As it is kept.

    Raises
    ------
    ClinicError
        It went meanwhile.
    """
    with permitted.service.database.reading() as connection:
        recording = read_recording(connection, request.path_params["recording_id"])
    if recording is None:
        raise ClinicError("there is no such recording")
    return recording


def _when(values: Mapping[str, str], today: date, words: Mapping[str, str]) -> tuple[str | None, dict[str, str]]:
    try:
        day = date.fromisoformat(values["day"]) if values["day"] else today
        at = time.fromisoformat(values["time"]) if values["time"] else None
    except ValueError:
        return None, {"day": words["bad_day"]}
    if day > today:
        return None, {"day": words["bad_day"]}
    return (day.isoformat() if at is None else f"{day.isoformat()}T{at.strftime('%H:%M')}"), {}


def _within_rate(permitted: Permitted) -> bool:
    configuration = permitted.service.configuration
    with permitted.service.database.writing() as connection:
        key = configuration.key(RATE_KEY)
        return count(connection, permitted.now_ms, key, _limit(permitted), permitted.person.patient_id)


def _limit_reached(permitted: Permitted) -> bool:
    key = permitted.service.configuration.key(RATE_KEY)
    with permitted.service.database.reading() as connection:
        return reached(connection, permitted.now_ms, key, _limit(permitted), permitted.person.patient_id)


def _limit(permitted: Permitted) -> RateLimit:
    return RateLimit("upload", permitted.service.configuration.limits.uploads_per_hour, _HOUR_MS)


def _form_page(
    request: Request, permitted: Permitted, values: Mapping[str, str], problems: Mapping[str, str]
) -> Response:
    words = sending_words(permitted.to)
    with permitted.service.database.reading() as connection:
        asked = asked_on(connection, permitted.person.patient_id, permitted.today)
    exercises = names_of(asked)
    given = {"side": _only_side(asked), "exercise": "", "day": permitted.today.isoformat(), "time": "", **values}
    if not given["exercise"] and len(exercises) == 1:
        given["exercise"] = exercises[0][0]
    content = SendContent(
        words=words,
        sides=(("left", words["left"]), ("right", words["right"])),
        exercises=(*exercises, (WHOLE_SESSION, words["all"])) if len(exercises) > 1 else exercises,
        closed=_closed(permitted, asked, words),
        diary_open=permitted.person.retired_at_ms is None,
        latest_day=permitted.today.isoformat(),
        values=given,
        problems=problems,
    )
    return page_response(request, permitted, "send.html", content, 400 if problems else 200)


def _closed(permitted: Permitted, asked: Asked, words: Mapping[str, str]) -> str:
    if permitted.person.retired_at_ms is not None:
        return words["retired"]
    if _limit_reached(permitted):
        return words["too_often"]
    return words["no_plan"] if asked.plan is None else ""


def _only_side(asked: Asked) -> str:
    sides = {each.side for each in asked.exercises}
    return sides.pop() if len(sides) == 1 else ""
