"""The diary: signs that need help first, then how it felt; later, how it was the next morning."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.diary import DiaryLine, add_line, list_lines, set_morning
from imu_rom.clinic.reminders import reminder
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.plan_of_day import asked_on
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.stop_first import StopFirst, stop_first
from imu_rom.clinic.web.today_pages import morning_is_open
from imu_rom.errors import ClinicError
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_diary import Urgent, diary_words, sign_questions, urgent_words
from imu_rom.wording.patient_sending import retired_words

__all__ = ["LATEST_MORNINGS", "closed"]

LATEST_MORNINGS = 3
"""For how many days back the next morning can still be told; common practice, no source."""
_PAINS = ("pain_before", "pain_during", "pain_after", "pain_next_morning")


@dataclass(frozen=True)
class LineShown:
    """One line of the diary.

    Parameters
    ----------
    entry : str
        Its id.
    day : str
        When.
    what : str
        Exercise, or the whole day.
    recorded : bool
        Whether it is about a recording.
    facts : tuple of tuple of str
        (what, value).
    signs : tuple of str
        Signs that need help.
    note : str
        What was written.
    """

    entry: str
    day: str
    what: str
    recorded: bool
    facts: tuple[tuple[str, str], ...]
    signs: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class DiaryContent:
    """What the diary's page shows.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    first : StopFirst
        What comes before anything else.
    saved : bool
        Whether something was just saved.
    closed : str
        Why nothing more can be written; empty where it can.
    morning_open : bool
        Whether yesterday's last question is left.
    done_today : bool
        Whether tomorrow morning's question is still to come.
    lines : tuple of LineShown
        The latest first.
    """

    words: dict[str, str]
    first: StopFirst
    saved: bool
    closed: str
    morning_open: bool
    done_today: bool
    lines: tuple[LineShown, ...]


@dataclass(frozen=True)
class SignsContent:
    """What the page shows that asks for signs that need help.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    action : str
        Where the answers go.
    questions : tuple of tuple of str
        (word, sign).
    ticked : tuple of str
        What was ticked before.
    problem : str
        What is to be mended; empty for nothing.
    """

    words: dict[str, str]
    action: str
    questions: tuple[tuple[str, str], ...]
    ticked: tuple[str, ...]
    problem: str


@dataclass(frozen=True)
class UrgentContent:
    """What the page shows after a sign that needs help.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    urgent : Urgent
        What to do.
    go_on : str
        Where the other questions are.
    """

    words: dict[str, str]
    urgent: Urgent
    go_on: str


@dataclass(frozen=True)
class MorningContent:
    """What the page about the next morning shows.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    days : tuple of tuple of str
        (day, words) that it may be about.
    values : mapping of str to str
        What was written before.
    problems : mapping of str to str
        What is to be mended, by field.
    """

    words: dict[str, str]
    days: tuple[tuple[str, str], ...]
    values: Mapping[str, str]
    problems: Mapping[str, str]


@page("/diary", who="patient")
def diary(request: Request, permitted: Permitted) -> Response:
    """Show what was written so far."""
    to, day = permitted.to, permitted.today
    with permitted.service.database.reading() as connection:
        lines = list_lines(connection, permitted.person.patient_id)
        first = stop_first(connection, permitted, lines)
    words = diary_words(to, _joints(permitted))
    retired = permitted.person.retired_at_ms is not None
    of_today = [each for each in lines if each.day == day and each.fields.get("done") != "no"]
    content = DiaryContent(
        words=words,
        first=first,
        saved="saved" in request.query_params,
        closed=retired_words(to) if retired else "",
        morning_open=not retired and morning_is_open(lines, day),
        done_today=not retired and bool(of_today) and not any("pain_next_morning" in each.fields for each in of_today),
        lines=tuple(_shown(each, words, to) for each in lines),
    )
    return page_response(request, permitted, "diary.html", content)


def closed(request: Request, permitted: Permitted) -> Response | None:
    """Ask whoever was put aside for nothing more: they are on no list, and nobody would see it.

    Parameters
    ----------
    request : Request
        For a page that asks.
    permitted : Permitted
        Who is there.

    Returns
    -------
    Response or None
        To the diary, which says so; None where it may go on.
    """
    del request
    return None if permitted.person.retired_at_ms is None else RedirectResponse("/diary", status_code=303)


@page("/diary/signs", who="patient", before=closed)
@page("/sent/{recording_id}/signs", who="patient", before=closed)
def signs(request: Request, permitted: Permitted) -> Response:
    """Ask for signs that need help, before anything else."""
    return _signs_page(request, permitted, (), "")


@page("/diary/signs", who="patient", method="POST", before=closed)
@page("/sent/{recording_id}/signs", who="patient", method="POST", before=closed)
def tell_signs(request: Request, permitted: Permitted) -> Response:
    """Keep signs at once, and say what to do; without any, go on to the other questions."""
    known = [each.word for each in RED_FLAGS]
    given = {each for each in permitted.form.getlist("sign") if isinstance(each, str)}
    ticked = tuple(each for each in known if each in given)
    none = permitted.text("none") == "yes"
    words = diary_words(permitted.to)
    recording_id = request.path_params.get("recording_id")
    if none and ticked:
        return _signs_page(request, permitted, ticked, words["signs_both"])
    if not none and not ticked:
        return _signs_page(request, permitted, (), words["signs_missing"])
    if not ticked:
        before = "/diary" if recording_id is None else f"/sent/{recording_id}"
        return RedirectResponse(f"{before}/answers?asked=yes", status_code=303)
    with permitted.service.database.writing() as connection:
        line = add_line(
            connection,
            permitted.now_ms,
            permitted.person,
            permitted.actor.user_id,
            day=permitted.today,
            fields={"red_flag": ";".join(ticked)},
            recording_id=recording_id,
        )
    return RedirectResponse(f"/diary/{line.entry}/urgent", status_code=303)


@page("/diary/{entry_id}/urgent", who="patient")
def urgent(request: Request, permitted: Permitted) -> Response:
    """Say what to do after signs that need help."""
    line = line_of(permitted, request.path_params["entry_id"])
    said = urgent_words(line.signs, permitted.to)
    if said is None:
        return RedirectResponse("/diary", status_code=303)
    content = UrgentContent(diary_words(permitted.to), said, f"/diary/{line.entry}/answers")
    return page_response(request, permitted, "urgent.html", content)


@page("/diary/morning", who="patient", before=closed)
def morning(request: Request, permitted: Permitted) -> Response:
    """Ask how it was the next morning."""
    return _morning_page(request, permitted, {}, {})


@page("/diary/morning", who="patient", method="POST", before=closed)
def tell_morning(request: Request, permitted: Permitted) -> Response:
    """Keep how it was the next morning."""
    values = {name: permitted.text(name) for name in ("day", "pain_next_morning", "stiffness_min")}
    words = diary_words(permitted.to)
    days = {each.isoformat(): each for each in _morning_days(permitted)}
    day, problems = days.get(values["day"]), {}
    if day is None:
        problems["day"] = words["bad_day"]
    if not values["pain_next_morning"]:
        problems["pain_next_morning"] = words["bad_number"]
    if not problems and day is not None:
        try:
            with permitted.service.database.writing() as connection:
                set_morning(
                    connection,
                    permitted.now_ms,
                    permitted.person,
                    permitted.actor.user_id,
                    day=day,
                    pain=values["pain_next_morning"],
                    stiffness_min=values["stiffness_min"],
                )
        except ClinicError as error:
            name = error.where if error.where in values else "pain_next_morning"
            problems[name] = words["bad_minutes" if name == "stiffness_min" else "bad_number"]
    if problems:
        return _morning_page(request, permitted, values, problems)
    return RedirectResponse("/diary?saved=yes", status_code=303)


@page("/diary/reminder.ics", who="patient")
def morning_reminder(request: Request, permitted: Permitted) -> Response:
    """Give tomorrow morning's reminder for a phone's calendar."""
    del request
    content = reminder(
        permitted.person.patient_id,
        permitted.today + timedelta(days=1),
        permitted.time_zone,
        title=diary_words(permitted.to)["reminder_title"],
        address=f"{permitted.service.configuration.public_url}/diary/morning",
        now_ms=permitted.now_ms,
    )
    headers = {"content-disposition": 'attachment; filename="reminder.ics"'}
    return Response(content, media_type="text/calendar", headers=headers)


def line_of(permitted: Permitted, entry: str) -> DiaryLine:
    """Give one line of the patient's own diary.

    Parameters
    ----------
    permitted : Permitted
        Whose.
    entry : str
        Its id, which was found to be the patient's.

    Returns
    -------
    DiaryLine
        In its newest version.
    """
    with permitted.service.database.reading() as connection:
        lines = list_lines(connection, permitted.person.patient_id)
    return next(each for each in lines if each.entry == entry)


def _signs_page(request: Request, permitted: Permitted, ticked: tuple[str, ...], problem: str) -> Response:
    content = SignsContent(
        words=diary_words(permitted.to),
        action=request.url.path,
        questions=sign_questions(permitted.to, _joints(permitted)),
        ticked=ticked,
        problem=problem,
    )
    return page_response(request, permitted, "signs.html", content, 400 if problem else 200)


def _joints(permitted: Permitted) -> frozenset[str]:
    with permitted.service.database.reading() as connection:
        return asked_on(connection, permitted.person.patient_id, permitted.today).joints


def _morning_days(permitted: Permitted) -> tuple[date, ...]:
    return tuple(permitted.today - timedelta(days=back) for back in range(1, LATEST_MORNINGS + 1))


def _morning_page(
    request: Request, permitted: Permitted, values: Mapping[str, str], problems: Mapping[str, str]
) -> Response:
    days = tuple((each.isoformat(), permitted.to.day(each)) for each in _morning_days(permitted))
    given = {"day": days[0][0], "pain_next_morning": "", "stiffness_min": "", **values}
    content = MorningContent(diary_words(permitted.to, _joints(permitted)), days, given, problems)
    return page_response(request, permitted, "morning.html", content, 400 if problems else 200)


def _shown(line: DiaryLine, words: Mapping[str, str], to: Speech) -> LineShown:
    fields = line.fields
    facts = [(words[name], fields[name]) for name in _PAINS if name in fields]
    if "done" in fields:
        facts.insert(0, (words["done"], words[fields["done"]]))
    said = urgent_words(line.signs, to)
    return LineShown(
        entry=line.entry,
        day=to.day(line.day),
        what=fields.get("exercise", ""),
        recorded=line.recording_id is not None,
        facts=tuple(facts),
        signs=() if said is None else said.signs,
        note=fields.get("note", ""),
    )
