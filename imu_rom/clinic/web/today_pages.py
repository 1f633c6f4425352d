"""Today's exercises in plain words, and how to put the sensors on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.diary import DiaryLine, list_lines
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.messages import Message, mark_read, messages_of
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.plan_of_day import Asked, asked_on
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.stop_first import StopFirst, stop_first
from imu_rom.dose.exercise import Exercise
from imu_rom.report.movement_picture import MovementPicture, movement_picture
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_angles import planned_part
from imu_rom.wording.patient_care import StopRule, stop_rules
from imu_rom.wording.patient_movements import PictureWords, joint_words, picture_words
from imu_rom.wording.patient_plan import plan_sentences, today_words
from imu_rom.wording.patient_preparing import Step, TapingPicture, before_you_start, steps, taping_picture
from imu_rom.wording.patient_sending import retired_words

__all__ = ["MessageShown", "morning_is_open", "shown_messages"]


@dataclass(frozen=True)
class MessageShown:
    """A message of the clinic.

    Parameters
    ----------
    message_id : str
        Its id.
    day : str
        When it was sent.
    lines : tuple of str
        What it says.
    new : bool
        Whether it was not read yet.
    """

    message_id: str
    day: str
    lines: tuple[str, ...]
    new: bool


@dataclass(frozen=True)
class ExerciseShown:
    """One exercise of today.

    Parameters
    ----------
    number : int
        From 1.
    heading : str
        Its name and joint.
    instruction : str
        What the plan says is done; empty where it says nothing.
    sentences : tuple of str
        What the plan asks for.
    picture : MovementPicture
        The movement.
    picture_words : PictureWords
        The same in words.
    taping : str
        Address of how to put its sensors on, where that differs from exercise to exercise; else empty.
    """

    number: int
    heading: str
    instruction: str
    sentences: tuple[str, ...]
    picture: MovementPicture
    picture_words: PictureWords
    taping: str


@dataclass(frozen=True)
class TodayContent:
    """What the page shows.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    day : str
        The day.
    first : StopFirst
        What comes before anything else.
    messages : tuple of MessageShown
        New ones.
    morning_open : bool
        Whether yesterday's last question is left.
    exercises : tuple of ExerciseShown
        What to do.
    before : tuple of str
        What to check first.
    pain_rule : str
        When pain means to stop.
    stop_rules : tuple of StopRule
        The most urgent first.
    """

    words: dict[str, str]
    day: str
    first: StopFirst
    messages: tuple[MessageShown, ...]
    morning_open: bool
    exercises: tuple[ExerciseShown, ...]
    before: tuple[str, ...]
    pain_rule: str
    stop_rules: tuple[StopRule, ...]


@dataclass(frozen=True)
class SensorsContent:
    """What the page about the sensors shows.

    Parameters
    ----------
    words : dict of str to str
        Headings and buttons.
    of_exercise : str
        Name and joint of the exercise; empty where it is for all of the day.
    steps : tuple of Step
        What to do.
    taping : TapingPicture or None
        Where the sensors go, where there is a drawing of it.
    pictures : dict of str to str
        What further drawings show, by the step's name; for the ankle alone.
    side : str
        Which side.
    pain_rule : str
        When pain means to stop.
    first : StopFirst
        What comes before anything else.
    """

    words: dict[str, str]
    of_exercise: str
    steps: tuple[Step, ...]
    taping: TapingPicture | None
    pictures: dict[str, str]
    side: str
    pain_rule: str
    first: StopFirst


@page("/today", who="patient")
def today(request: Request, permitted: Permitted) -> Response:
    """Show what is to be done today."""
    to, patient = permitted.to, permitted.person
    day = permitted.today
    with permitted.service.database.reading() as connection:
        asked = _asked(connection, patient, day)
        lines = list_lines(connection, patient.patient_id)
        first = stop_first(connection, permitted, lines)
        messages = shown_messages(permitted, messages_of(connection, patient.patient_id))
    pain_rule, rules = stop_rules(to, asked.joints)
    retired = patient.retired_at_ms is not None
    words = today_words(to, asked.joints) | ({"nothing_today": retired_words(to)} if retired else {})
    content = TodayContent(
        words=words,
        day=to.day(day),
        first=first,
        messages=tuple(each for each in messages if each.new),
        morning_open=not retired and morning_is_open(lines, day),
        exercises=tuple(
            _shown(number, each, to, apart=_taped_apart(asked.exercises, to))
            for number, each in enumerate(asked.exercises, start=1)
        ),
        before=before_you_start(asked.exercises, to),
        pain_rule=pain_rule,
        stop_rules=rules,
    )
    return page_response(request, permitted, "today.html", content)


@page("/today/sensors", who="patient")
def sensors(request: Request, permitted: Permitted) -> Response:
    """Show how to put the sensors on."""
    to, patient = permitted.to, permitted.person
    with permitted.service.database.reading() as connection:
        asked = _asked(connection, patient, permitted.today)
        lines = list_lines(connection, patient.patient_id)
        first = stop_first(connection, permitted, lines)
    if not asked.exercises:
        return RedirectResponse("/today", status_code=303)
    number = request.query_params.get("exercise", "1")
    chosen = int(number) - 1 if number.isdecimal() and len(number) < 4 else 0
    exercise = asked.exercises[chosen if 0 <= chosen < len(asked.exercises) else 0]
    words = today_words(to)
    content = SensorsContent(
        words=words,
        of_exercise=_named(exercise, to) if _taped_apart(asked.exercises, to) else "",
        steps=steps(exercise, to),
        taping=taping_picture(exercise, to),
        pictures={name: words[f"picture_{name}"] for name in _pictured_steps(exercise)},
        side=exercise.side,
        pain_rule=stop_rules(to)[0],
        first=first,
    )
    return page_response(request, permitted, "sensors.html", content)


@page("/messages/read", who="patient", method="POST")
def read_messages(request: Request, permitted: Permitted) -> Response:
    """Keep that the patient has read the messages."""
    del request
    patient = permitted.person
    with permitted.service.database.writing() as connection:
        mark_read(
            connection,
            permitted.now_ms,
            clinic_id=patient.clinic_id,
            patient_id=patient.patient_id,
            reader_id=permitted.actor.user_id,
        )
    return RedirectResponse("/today", status_code=303)


def _asked(connection: Connection, patient: Patient, day: date) -> Asked:
    """Look up what is asked for; of whoever was put aside, nothing more."""
    return Asked(None, ()) if patient.retired_at_ms is not None else asked_on(connection, patient.patient_id, day)


def _pictured_steps(exercise: Exercise) -> tuple[str, ...]:
    """Name the steps that the drawings of a lower leg show: standing, and going up on the toes."""
    if exercise.joint != "ankle":
        return ()
    return ("stand", "raise") if exercise.calibration_movement in {None, "plantarflexion"} else ("stand",)


def _taped_apart(exercises: Sequence[Exercise], to: Speech) -> bool:
    """Tell whether exercises of one day have their sensors in other places or start otherwise."""
    return len({(each.side, each.joint, steps(each, to)) for each in exercises}) > 1


def _named(exercise: Exercise, to: Speech) -> str:
    return to.say("{name}, {joint}", name=exercise.name, joint=joint_words(exercise, to))


def _shown(number: int, exercise: Exercise, to: Speech, *, apart: bool) -> ExerciseShown:
    pose_deg = exercise.neutral_deg or 0.0
    part = planned_part(exercise)
    picture = movement_picture(exercise, pose_deg, part, None)
    return ExerciseShown(
        number=number,
        heading=_named(exercise, to),
        instruction=exercise.in_words or "",
        sentences=plan_sentences(exercise, to),
        picture=picture,
        picture_words=picture_words(exercise, picture.view, pose_deg, part, None, to),
        taping=f"/today/sensors?exercise={number}" if apart else "",
    )


def shown_messages(permitted: Permitted, messages: Sequence[Message]) -> tuple[MessageShown, ...]:
    """Put messages into the page's form.

    Parameters
    ----------
    permitted : Permitted
        Who reads them.
    messages : sequence of Message
        As they are kept.

    Returns
    -------
    tuple of MessageShown
        In the same order.
    """
    zone = permitted.time_zone
    return tuple(
        MessageShown(
            each.message_id,
            permitted.to.day(local_day(each.created_at_ms, zone)),
            tuple(line for line in each.text.splitlines() if line.strip()),
            each.read_at_ms is None,
        )
        for each in messages
    )


def morning_is_open(lines: Sequence[DiaryLine], day: date) -> bool:
    """Tell whether yesterday's diary lacks how it was this morning.

    Parameters
    ----------
    lines : sequence of DiaryLine
        The diary.
    day : date
        Today.

    Returns
    -------
    bool
        False also where nothing was written of yesterday.
    """
    of_yesterday = [each for each in lines if each.day == day - timedelta(days=1)]
    done = [each for each in of_yesterday if each.fields.get("done") != "no"]
    return bool(done) and not any("pain_next_morning" in each.fields for each in of_yesterday)
