"""How it felt: pain before, during and after, and whatever else there is to say, of a recording or without one."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.diary import DiaryLine, add_line, change_line
from imu_rom.clinic.kept_recordings import read_recording
from imu_rom.clinic.web.diary_pages import closed, line_of
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.plan_of_day import Asked, asked_on, chosen, options
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.errors import ClinicError
from imu_rom.wording.patient_diary import diary_words

__all__ = ["AnswersContent"]

_PAINS = ("pain_before", "pain_during", "pain_after")
# what is asked for on this page; whatever else a line holds stays as it is
_ASKED = ("exercise", "side", "done", *_PAINS, "painkiller", "other_load", "note")
_FIELDS = ("day", "what", "done", *_PAINS, "painkiller", "other_load", "note")
_DAY = "whole day"


@dataclass(frozen=True)
class AnswersContent:
    """What the page shows.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    action : str
        Where the answers go.
    exercises : tuple of tuple of str
        (value, words), the whole day last.
    day_is_known : bool
        Whether it is about a day that is known already.
    of_recording : bool
        Whether the exercise is known by a recording.
    latest_day : str
        Last day that can be chosen.
    values : mapping of str to str
        What was written before.
    problems : mapping of str to str
        What is to be mended, by field.
    """

    words: dict[str, str]
    action: str
    exercises: tuple[tuple[str, str], ...]
    day_is_known: bool
    of_recording: bool
    latest_day: str
    values: Mapping[str, str]
    problems: Mapping[str, str]


@dataclass(frozen=True)
class _About:
    """What the answers are about: a line that there is, or a recording, or neither."""

    line: DiaryLine | None
    recording_id: str | None
    day: date
    asked: Asked
    fields: Mapping[str, str]


@page("/diary/answers", who="patient", before=closed)
@page("/diary/{entry_id}/answers", who="patient", before=closed)
@page("/sent/{recording_id}/answers", who="patient", before=closed)
def answers(request: Request, permitted: Permitted) -> Response:
    """Ask how it felt; signs that need help have been asked for before."""
    if "entry_id" not in request.path_params and request.query_params.get("asked") != "yes":
        return RedirectResponse(request.url.path.removesuffix("answers") + "signs", status_code=303)
    about = _about(request, permitted)
    values = dict(about.fields) | {"day": about.day.isoformat(), "what": _what(about)}
    return _answers_page(request, permitted, about, values, {})


@page("/diary/answers", who="patient", method="POST", before=closed)
@page("/diary/{entry_id}/answers", who="patient", method="POST", before=closed)
@page("/sent/{recording_id}/answers", who="patient", method="POST", before=closed)
def tell_answers(request: Request, permitted: Permitted) -> Response:
    """Keep how it felt."""
    about = _about(request, permitted)
    words = diary_words(permitted.to)
    values = {
        name: permitted.text(name) for name in ("day", "what", "done", *_PAINS, "painkiller", "other_load", "note")
    }
    problems: dict[str, str] = {}
    day = about.day
    if about.recording_id is None and about.line is None:
        day, problems = _day(values["day"], permitted.today, words)
    fields = {name: values[name] for name in _ASKED if values.get(name)}
    exercise = chosen(about.asked, values["what"])
    if exercise is not None:
        fields |= {"exercise": exercise.name, "side": exercise.side}
    elif about.recording_id is not None:
        fields |= {name: about.fields[name] for name in ("exercise", "side") if name in about.fields}
    if not fields.keys() - {"exercise", "side"}:
        problems["pain_before"] = words["nothing"]
    if not problems:
        problems = _kept(permitted, about, day, fields, words)
    if problems:
        return _answers_page(request, permitted, about, values, problems)
    return RedirectResponse("/diary?saved=yes", status_code=303)


def _kept(
    permitted: Permitted, about: _About, day: date, fields: Mapping[str, str], words: Mapping[str, str]
) -> dict[str, str]:
    """Keep the answers, or say what is to be mended."""
    actor_id = permitted.actor.user_id
    try:
        with permitted.service.database.writing() as connection:
            if about.line is not None:
                others = {name: value for name, value in about.line.fields.items() if name not in _ASKED}
                change_line(connection, permitted.now_ms, permitted.person, actor_id, about.line, {**others, **fields})
            else:
                add_line(
                    connection,
                    permitted.now_ms,
                    permitted.person,
                    actor_id,
                    day=day,
                    fields=fields,
                    recording_id=about.recording_id,
                )
    except ClinicError as error:
        if error.where not in _ASKED:
            raise
        return {error.where: words["too_long" if error.where in {"note", "other_load"} else "bad_number"]}
    return {}


def _about(request: Request, permitted: Permitted) -> _About:
    recording_id = request.path_params.get("recording_id")
    entry = request.path_params.get("entry_id")
    line = None if entry is None else line_of(permitted, entry)
    if line is not None:
        recording_id = line.recording_id
    day, fields = permitted.today, {}
    with permitted.service.database.reading() as connection:
        recording = None
        if recording_id is not None:
            recording = read_recording(connection, recording_id)
        if recording is not None:
            day = recording.day or day
            fields = {"done": "yes"}
            if recording.exercise != "session":
                fields |= {"exercise": recording.exercise, "side": recording.side}
        if line is not None:
            day, fields = line.day, {**fields, **line.fields}
        asked = asked_on(connection, permitted.person.patient_id, day)
    return _About(line, recording_id, day, asked, fields)


def _what(about: _About) -> str:
    if "exercise" in about.fields:
        return f"{about.fields['exercise']}:{about.fields.get('side', '')}"
    return "" if about.line is None and len(about.asked.exercises) != 1 else _DAY


def _day(written: str, today: date, words: Mapping[str, str]) -> tuple[date, dict[str, str]]:
    try:
        day = date.fromisoformat(written)
    except ValueError:
        return today, {"day": words["bad_day"]}
    return (day, {}) if day <= today and (today - day).days <= 365 else (today, {"day": words["bad_day"]})


def _answers_page(
    request: Request, permitted: Permitted, about: _About, values: Mapping[str, str], problems: Mapping[str, str]
) -> Response:
    words = diary_words(permitted.to)
    content = AnswersContent(
        words=words,
        action=request.url.path,
        exercises=(*options(about.asked, permitted.to), (_DAY, words["whole_day"])),
        day_is_known=about.recording_id is not None or about.line is not None,
        of_recording=about.recording_id is not None,
        latest_day=permitted.today.isoformat(),
        values={name: values.get(name, "") for name in _FIELDS},
        problems=problems,
    )
    return page_response(request, permitted, "answers.html", content, 400 if problems else 200)
