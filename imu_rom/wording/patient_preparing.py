"""What a patient does before the exercises: look around, tape the sensors, stand still, show which way is up.

The steps are those of README's "For the person at home"; what to check before is common practice, no source.
"""

from dataclasses import dataclass

from imu_rom.dose.exercise import Exercise
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_movements import MOVEMENTS

__all__ = ["Step", "before_you_start", "steps"]

# where the sensor of a segment goes, in the words of a patient
PLACES = {
    "shank": said_later("One sensor goes on the shin bone. Take the flat inner side, one hand above the ankle."),
    "foot": said_later("One sensor goes on the heel of the shoe, at the back, where it is stiff."),
    "midfoot": said_later("One sensor goes on top of the foot, in the middle."),
    "thigh": said_later("One sensor goes on the front of the thigh, in the middle."),
}


@dataclass(frozen=True)
class Step:
    """One step.

    Parameters
    ----------
    name : str
        What it is for; the picture goes by it.
    heading : str
        In a word or two.
    sentences : tuple of str
        What to do.
    """

    name: str
    heading: str
    sentences: tuple[str, ...]


def before_you_start(to: Speech) -> tuple[str, ...]:
    """Say what to check before anything else.

    Parameters
    ----------
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of str
        Sentences.
    """
    return (
        to.say("Is something firm in reach of your hand? A rail, a wall or a heavy table is good."),
        to.say("Is the step dry? Does it stand still?"),
        to.say("Look at your skin. No tape on sore or broken skin."),
        to.say("Are your feet numb, or does tape make your skin red or itchy? Then ask your clinic first."),
    )


def steps(exercise: Exercise, to: Speech) -> tuple[Step, ...]:
    """Say how to get ready, step by step.

    Parameters
    ----------
    exercise : Exercise
        What the sensors are to measure.
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of Step
        In order.
    """
    return (
        Step(
            "table",
            to.say("Switch on"),
            (
                to.say("Lay both sensors on a table. Switch them on. Leave them there for a few seconds."),
                to.say("Did you switch them on one by one? Then hold both in one hand, like one thing."),
                to.say("Knock three times on the table, softly. Lay them down again."),
            )
            if exercise.sensors == "both"
            else (to.say("Lay the sensor on a table. Switch it on. Leave it there for a few seconds."),),
        ),
        Step(
            "tape",
            to.say("Tape"),
            (
                *(to.say(each) for each in _places(exercise)),
                to.say("Any way round is fine. It must not wobble."),
                to.say("Leave it as it is until the end."),
            ),
        ),
        Step(
            "stand",
            to.say("Stand still"),
            (
                to.say("Feet flat, weight on both legs. Look ahead. You may touch the wall."),
                to.say("Count slowly to ten. Do not move your feet."),
            ),
        ),
        Step("raise", to.say("Three slow moves"), _calibration(exercise, to)),
        Step(
            "exercise",
            to.say("Do your exercise"),
            (to.say("Now do your sets. Walk about in the rests as you like. If it hurts, pause."),),
        ),
        Step(
            "end",
            to.say("Stand still once more"),
            (
                to.say("Stand as before and count slowly to ten."),
                to.say("Then take the sensors off and switch them off."),
                to.say("Did one come loose? Write it in the note. We can't use that part."),
            ),
        ),
    )


def _places(exercise: Exercise) -> list[str]:
    said = []
    for point in exercise.tracked_points:
        where = exercise.placement.get(point, "").lower()
        name = "midfoot" if "midfoot" in where or "instep" in where else point
        said.append(PLACES.get(name, said_later("Put the sensor where your clinic showed you.")))
    return list(dict.fromkeys(said))


def _calibration(exercise: Exercise, to: Speech) -> tuple[str, ...]:
    motion = exercise.calibration_movement
    if exercise.joint == "ankle" and motion in {None, "plantarflexion"}:
        return (
            to.say("Stay where you are. Go up on your toes with both feet, slowly."),
            to.say("Come all the way down. Do this three times."),
            to.say("Hold on to something if you like."),
        )
    moves = [] if motion is None else [to.say(MOVEMENTS[exercise.joint, motion])]
    return (
        to.say("Stay where you are. Now move slowly, three times, and back each time:"),
        *moves,
        to.say("Hold on to something if you like."),
    )
