"""What the patient is told about weeks of exercises: how often, how far, how sore, what to keep, what to change.

As on the page of one session no sentence judges the person and none decides what is the clinician's to decide. What the
diary notes of signs that need somebody to look, and of pain at which to stop, comes first.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from imu_rom.dose.adherence_answer import DoseCount
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import Interval
from imu_rom.dose.weeks_answer import CourseAnswer, DayAnswer, WeekAnswer
from imu_rom.wording.cautions import RED_FLAGS, Urgency
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_angles import about, planned_part, planned_words, span, stop_deg
from imu_rom.wording.patient_care import SIGNS, WHAT_TO_DO
from imu_rom.wording.patient_text import ABOUT_THE_RECORDING

__all__ = ["CourseWords", "course_words", "plan_words"]

WEEKS = 4
"""How many of the last weeks are told one by one."""
RECENT_DAYS, DAYS_A_WEEK = 14, 7
SHARE_OF_DOSE = 0.8
"""Where the stage names no share of the dose: common practice, no source."""


@dataclass(frozen=True)
class CourseWords:
    """What the patient is told about the weeks.

    Parameters
    ----------
    first : tuple of str
        What is said before anything else; mostly empty.
    done : tuple of str
        On how many days, and how far.
    weeks : tuple of str
        The last weeks, one by one.
    pain : tuple of str
        What was written down about pain.
    keep : tuple of str
        What to keep.
    change : tuple of str
        What to change; never empty.
    """

    first: tuple[str, ...]
    done: tuple[str, ...]
    weeks: tuple[str, ...]
    pain: tuple[str, ...]
    keep: tuple[str, ...]
    change: tuple[str, ...]


def course_words(answer: CourseAnswer, to: Speech) -> CourseWords:
    """Say what was done over the weeks, what to keep and what to change.

    Parameters
    ----------
    answer : CourseAnswer
        The course.
    to : Speech
        The patient's language.

    Returns
    -------
    CourseWords
        Sentences in that language.
    """
    first = tuple(_first(answer, to))
    return CourseWords(
        first=first,
        done=tuple(_done(answer, to)),
        weeks=tuple(_week(each, last=each is answer.weeks[-1], to=to) for each in answer.weeks[-WEEKS:]),
        pain=tuple(_pain(answer, to)),
        keep=tuple(_keep(to, stopped=bool(first))),
        change=tuple(_change(answer, to, stopped=bool(first))),
    )


def plan_words(exercise: Exercise, to: Speech) -> tuple[str, ...]:
    """Say what the plan asks of one exercise now.

    Parameters
    ----------
    exercise : Exercise
        Of the stage that applies.
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of str
        How often, and where to stop.
    """
    repetitions = exercise.repetitions
    said = [
        to.say_of(
            "{number} set of {repetitions} holds.",
            "{number} sets of {repetitions} holds.",
            exercise.sets,
            repetitions=repetitions,
        )
        if exercise.is_held
        else to.say_of(
            "{number} set of {repetitions}.", "{number} sets of {repetitions}.", exercise.sets, repetitions=repetitions
        )
    ]
    if exercise.per_day is not None:
        each_day = to.number(exercise.per_day)
        said.append(
            to.say("Once a day.") if exercise.per_day == 1 else to.say("{number} times a day.", number=each_day)
        )
    if exercise.days_per_week is not None:
        each_week = to.number(exercise.days_per_week)
        said.append(
            to.say("Each day of the week.")
            if exercise.days_per_week == DAYS_A_WEEK
            else to.say("On {number} days of the week.", number=each_week)
        )
    part = planned_part(exercise)
    if exercise.ends_on_floor:
        said.append(to.say("The plan asks you to come back to the floor each time."))
    elif part is not None:
        said.append(to.say("The planned part: {part}.", part=planned_words(part, to)))
    return tuple(said)


def _first(answer: CourseAnswer, to: Speech) -> Iterator[str]:
    words = {word for each in answer.red_flags if each.recent for word in each.words}
    earlier = {word for each in answer.red_flags if not each.recent for word in each.words} - words
    for urgency, what in WHAT_TO_DO.items():
        signs = _signs(words, urgency, to)
        if signs:
            yield to.say(what)
            yield to.say("You wrote this down:")
            yield from signs
    if earlier:
        yield to.say("Some time ago you wrote this down. Tell your clinician, if you have not done so:")
        for urgency in WHAT_TO_DO:
            yield from _signs(earlier, urgency, to)
    recent = answer.until - timedelta(days=RECENT_DAYS)
    stops = [each for each in answer.stops if each.day > recent]
    if any(each.what != "stiffness" for each in stops):
        bound = max(each.bound for each in stops if each.what != "stiffness")
        yield to.say("Your pain was above {bound} of 10. Stop, and call your clinician.", bound=to.number(bound))
    if any(each.what == "stiffness" for each in stops):
        yield to.say("You were stiff for a long time in the morning. Tell your clinician before you go on.")


def _signs(words: set[str], urgency: Urgency, to: Speech) -> list[str]:
    return [to.say(SIGNS[each.word]) for each in RED_FLAGS if each.urgency == urgency and each.word in words]


def _done(answer: CourseAnswer, to: Speech) -> Iterator[str]:
    recorded = sum(each.days_recorded for each in answer.weeks)
    ticked = sum(each.days_ticked for each in answer.weeks)
    yield to.say_of("This page is about {number} day.", "This page is about {number} days.", len(answer.days))
    if recorded:
        yield to.say_of("On {number} day the sensors were on.", "On {number} days the sensors were on.", recorded)
    if ticked:
        yield to.say_of(
            "On {number} other day you wrote down how it went.",
            "On {number} other days you wrote down how it went.",
            ticked,
        )
    if not recorded and not ticked:
        yield to.say("We know of no exercises yet.")
    recent = _recent_days(answer)
    for exercise in _exercises(answer):
        yield from _how_far(answer, exercise, to)
        unclear = sum(each.repetitions_undecided for each in _recorded_doses(exercise, recent))
        if unclear and exercise.angle_is_known:
            question = to.say_of(
                "{number} time in the last two weeks: did you go as far as planned?",
                "{number} times in the last two weeks: did you go as far as planned?",
                unclear,
            )
            yield f"{question} {to.say(ABOUT_THE_RECORDING)}"


def _how_far(answer: CourseAnswer, exercise: Exercise, to: Speech) -> Iterator[str]:
    """Say how far the movement went lately, as far as that is known."""
    if not exercise.angle_is_known or exercise.ends_on_floor:
        return
    for week in reversed(answer.weeks):
        for each in week.measured:
            if (each.exercise, each.side) == (exercise.name, exercise.side) and each.end_range_median_deg is not None:
                told = to.say(
                    "{name}: in the week from {day} you went to about {angle} most times.",
                    name=exercise.name,
                    day=to.short_day(week.from_day),
                    angle=about(round(each.end_range_median_deg.value), to),
                )
                yield f"{told} {_may_be(each.end_range_median_deg, to)}"
                return


def _may_be(deg: Interval, to: Speech) -> str:
    return to.say(
        "The sensors are not perfect: it may be {span}.", span=span(math.floor(deg.low), math.ceil(deg.high), to)
    )


def _week(week: WeekAnswer, *, last: bool, to: Speech) -> str:
    """Say how often each exercise was done in a week, and how often the plan asks for it."""
    said = [to.say("From {first} to {last}:", first=to.short_day(week.from_day), last=to.short_day(week.to_day))]
    doses = [each for each in week.doses if each.sessions_prescribed or _times(each)]
    for each in doses:
        times = _times(each)
        said.append(
            to.say_of("{name} {number} time.", "{name} {number} times.", times, name=each.exercise)
            if times
            else to.say("{name}: we know of no time.", name=each.exercise)
        )
        if each.sessions_ticked_in_part:
            said.append(
                to.say_of(
                    "{number} of these was in part.", "{number} of these were in part.", each.sessions_ticked_in_part
                )
            )
        if each.sessions_prescribed:
            asked = round(each.sessions_prescribed)
            said.append(to.say_of("The plan asks for {number} time.", "The plan asks for {number} times.", asked))
    if not doses:
        said.append(to.say("Nothing was planned."))
    if last and not week.whole:
        said.append(to.say("This week is not over yet."))
    return " ".join(said)


def _times(dose: DoseCount) -> int:
    return dose.sessions_recorded + dose.sessions_ticked + dose.sessions_ticked_in_part


def _pain(answer: CourseAnswer, to: Speech) -> Iterator[str]:
    known = [each for each in answer.weeks if each.pain.highest_during is not None]
    mornings = [each for each in answer.weeks if each.pain.highest_next_morning is not None]
    if not known and not mornings:
        yield to.say("You wrote down no pain numbers. They help your clinician. Please write them down each time.")
        return
    for week in dict.fromkeys((known[0], known[-1])) if known else ():
        yield to.say(
            "In the week from {day} the worst pain during the exercises was {pain} of 10.",
            day=to.short_day(week.from_day),
            pain=to.number(week.pain.highest_during or 0.0),
        )
    for week in dict.fromkeys((mornings[0], mornings[-1])) if mornings else ():
        yield to.say(
            "In the week from {day} the worst pain the next morning was {pain} of 10.",
            day=to.short_day(week.from_day),
            pain=to.number(week.pain.highest_next_morning or 0.0),
        )


def _keep(to: Speech, *, stopped: bool) -> Iterator[str]:
    if not stopped:
        yield to.say("Go on with your plan. Your clinician looks at it with you.")
    yield to.say("Keep writing down your pain.")


def _change(answer: CourseAnswer, to: Speech, *, stopped: bool) -> Iterator[str]:
    if stopped:
        yield to.say("Do what is said at the top of this page before you go on.")
        return
    recent = _recent_days(answer)
    said = [sentence for each in _exercises(answer) for sentence in _further(each, recent, to)]
    asked = None if answer.stage is None else answer.stage.criteria.share_of_dose
    share = SHARE_OF_DOSE if asked is None else asked
    whole = [each for each in answer.weeks if each.whole][-1:]
    doses = [each for week in whole for each in week.doses]
    if any((each.sessions_excess or 0.0) >= 1.0 for each in doses):
        said.append(to.say("You did more than planned. Do not do more than your plan says."))
    elif any(each.sessions_prescribed and _times(each) < share * each.sessions_prescribed for each in doses):
        said.append(to.say("Aim for the number in your plan. If it is too much, tell your clinician."))
    yield from said or [to.say("Nothing for now.")]


def _exercises(answer: CourseAnswer) -> tuple[Exercise, ...]:
    return () if answer.stage is None else answer.stage.exercises


def _recent_days(answer: CourseAnswer) -> list[DayAnswer]:
    """Give the days of the last two weeks on which the stage of the last day applied."""
    name = None if answer.stage is None else answer.stage.name
    return [each for each in answer.days[-RECENT_DAYS:] if each.stage == name]


def _recorded_doses(exercise: Exercise, days: Sequence[DayAnswer]) -> list[DoseCount]:
    return [
        each
        for day in days
        for each in day.doses
        if (each.exercise, each.side) == (exercise.name, exercise.side) and each.sessions_recorded
    ]


def _further(exercise: Exercise, recent: Sequence[DayAnswer], to: Speech) -> Iterator[str]:
    past = sum(each.repetitions_past_limit for each in _recorded_doses(exercise, recent))
    stop = stop_deg(exercise)
    if past and stop is not None:
        yield to.say_of(
            "{name}: you went further than planned {number} time in the last two weeks.",
            "{name}: you went further than planned {number} times in the last two weeks.",
            past,
            name=exercise.name,
        )
        yield to.say("Stop at {angle}, and tell your clinician. The picture shows where.", angle=about(stop, to))
    elif past:
        yield to.say(
            "You went further than planned. Stop when your foot is flat on the floor, and tell your clinician."
        )
