"""What a plan asks of the patient, in the patient's words: how often, how slowly, with what, and when to stop.

A field that the plan leaves out is not spoken of.
"""

from collections.abc import Collection, Iterator

from imu_rom.dose.exercise import Exercise, Legs
from imu_rom.wording.cautions import is_about_legs
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_angles import about, planned_part, planned_words, stop_deg

__all__ = ["morning_question", "plan_sentences", "today_words"]

LEGS: dict[Legs, str] = {
    "single leg": said_later("this leg alone."),
    "both legs": said_later("both legs."),
    "other leg": said_later("the other leg does the work."),
    "unweighted": said_later("no weight on this leg."),
}
SURFACES = {
    "floor": said_later("Stand on the floor."),
    "step": said_later("Stand on a step. It must be dry and must not move."),
    "wedge": said_later("Stand on the wedge. It must be dry and must not move."),
}
KNEES = {"straight": said_later("Keep the knee straight."), "bent": said_later("Keep the knee bent.")}


def plan_sentences(exercise: Exercise, to: Speech) -> tuple[str, ...]:
    """Say what is to be done.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of str
        How much, how often, how slowly, with what, how far.
    """
    return (*_how_much(exercise, to), *_with(exercise, to), *_how(exercise, to), *_how_far(exercise, to))


def _how_much(exercise: Exercise, to: Speech) -> Iterator[str]:
    number = exercise.repetitions
    if exercise.is_held:
        each = to.say_of("Hold it {number} time.", "Hold it {number} times.", number)
    else:
        each = to.say_of("Do it {number} time.", "Do it {number} times.", number)
    if exercise.sets == 1:
        yield each
    else:
        again = to.say_of("That is one set. Do {number} set.", "That is one set. Do {number} sets.", exercise.sets)
        yield f"{each} {again}"
    if exercise.rest_s is not None:
        yield to.say("Rest between the sets: {time}.", time=_time(exercise.rest_s, to))
    often = []
    if exercise.per_day is not None:
        often.append(to.say("Times a day: {times}.", times=to.number(exercise.per_day)))
    if exercise.days_per_week is not None:
        often.append(to.say("Days a week: {days}.", days=to.number(exercise.days_per_week)))
    if often:
        yield " ".join(often)


def _how(exercise: Exercise, to: Speech) -> Iterator[str]:
    tempo, load, (there, back) = exercise.tempo, exercise.load, _ways(exercise, to)
    yield from _way(there, load.eccentric, tempo.eccentric_s, to)
    if tempo.end_range_hold_s is not None:
        yield to.say("Stay there: {time}.", time=_time(tempo.end_range_hold_s, to))
    yield from _way(back, load.concentric, tempo.concentric_s, to)
    if tempo.top_pause_s is not None:
        yield to.say("Then wait: {time}.", time=_time(tempo.top_pause_s, to))


def _way(way: str, legs: Legs | None, seconds: float | None, to: Speech) -> Iterator[str]:
    """Say who does one way of a repetition, and in what time."""
    said = [] if legs is None else [to.say(LEGS[legs])]
    if seconds is not None:
        said.append(to.say("Take your time: {time}.", time=_time(seconds, to)) if said else f"{_time(seconds, to)}.")
    if said:
        yield " ".join([way, *said])


def _ways(exercise: Exercise, to: Speech) -> tuple[str, str]:
    """Name both ways of a repetition: down and up where the body's weight is lowered."""
    if exercise.joint == "ankle" and exercise.motion == "dorsiflexion" and exercise.surface is not None:
        return to.say("On the way down:"), to.say("On the way up:")
    return to.say("On the way there:"), to.say("On the way back:")


def _with(exercise: Exercise, to: Speech) -> Iterator[str]:
    if exercise.surface is not None:
        yield to.say(SURFACES[exercise.surface])
    if exercise.footwear is not None:
        yield to.say("On your feet: {footwear}.", footwear=exercise.footwear)
    if exercise.heel_lift_mm:
        yield to.say("Heel lift: {height} mm.", height=to.number(exercise.heel_lift_mm))
    if exercise.load.external_kg:
        yield to.say("Carry this much extra: {weight} kg.", weight=to.number(exercise.load.external_kg))
    if exercise.knee is not None:
        yield to.say(KNEES[exercise.knee])


def _how_far(exercise: Exercise, to: Speech) -> Iterator[str]:
    if exercise.ends_on_floor:
        yield to.say("Come back to the floor each time. Go no further.")
        return
    part = planned_part(exercise)
    if part is None:
        return
    yield to.say("How far to go: {part}. The picture shows it.", part=planned_words(part, to))
    stop = stop_deg(exercise)
    if stop is not None:
        yield to.say("Go no further than {angle}.", angle=about(stop, to))


def _time(seconds: float, to: Speech) -> str:
    if seconds >= 120 and seconds % 60 == 0:
        return to.say("{number} minutes", number=to.number(seconds / 60))
    if seconds == 1:
        return to.say("1 second")
    return to.say("{number} seconds", number=to.number(seconds))


def morning_question(to: Speech, joints: Collection[str] = ()) -> str:
    """Ask for the pain of the next morning.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Returns
    -------
    str
        At the first steps; of an arm, when getting up.
    """
    if is_about_legs(joints):
        return to.say("How much did it hurt at the first steps in the morning?")
    return to.say("How much did it hurt in the morning, when you got up?")


def today_words(to: Speech, joints: Collection[str] = ()) -> dict[str, str]:
    """Give the words of the page of today's exercises.

    Parameters
    ----------
    to : Speech
        The patient's language.
    joints : collection of str
        That the exercises move; none stands for any.

    Returns
    -------
    dict of str to str
        By what they are for.
    """
    return {
        "heading": to.say("Your exercises today"),
        "nothing_today": to.say("There is no plan for today yet. Your clinic makes it with you."),
        "asked": to.say("I have asked, and I may go on. Show my exercises"),
        "before": to.say("Before you start"),
        "sensors": to.say("How to tape the sensors, step by step"),
        "instruction": to.say("Your plan says:"),
        "stop": to.say("When to stop and whom to call"),
        "send": to.say("Send a recording"),
        "without": to.say("I did it without the sensors"),
        "from_clinic": to.say("From your clinic"),
        "message_read": to.say("I have read it"),
        "morning_open": to.say("One question is left"),
        "morning": morning_question(to, joints),
        "morning_answer": to.say("Answer it"),
        "sensors_heading": to.say("With the sensors, step by step"),
        "sensors_once": to.say("It takes ten minutes at first. It soon gets easy."),
        "picture_stand": to.say("The foot is flat on the floor, the shin upright."),
        "picture_raise": to.say("The heel comes up, slowly. The toes stay on the floor."),
    }
