"""What a patient does before the exercises: look around, tape the sensors, stand still, show which way is up.

The steps are those of README's "For the person at home"; what to check before is common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.zero import OWN_STANDING
from imu_rom.motion.soft_tissue import placement_in_words
from imu_rom.wording.cautions import is_about_legs
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_movements import MOVEMENTS

__all__ = ["Step", "TapingPicture", "before_you_start", "steps", "taping_picture"]

# where a sensor goes, in the words of a patient, by the names of `imu_rom.motion.soft_tissue.PLACEMENTS`
PLACES = {
    "shin": said_later("One sensor goes on the shin bone. Take the flat inner side, one hand above the ankle."),
    "shoe": said_later("One sensor goes on the heel of the shoe, at the back, where it is stiff."),
    "midfoot": said_later("One sensor goes on top of the foot, in the middle."),
    "thigh": said_later("One sensor goes on the front of the thigh, in the middle."),
    "pelvis": said_later("One sensor goes low on your back, in the middle, on the flat bone. A belt holds it."),
    "trunk": said_later("One sensor goes on the breast bone, in the middle of the chest."),
    "upper arm": said_later("One sensor goes on the outer side of the upper arm, in the middle."),
    "forearm": said_later("One sensor goes on the back of the forearm, two fingers above the wrist."),
    "hand": said_later("One sensor goes on the back of the hand, in the middle."),
}
# the same places in the words of one who describes the picture
DRAWN = {
    "shin": said_later("A sensor is on the shin bone."),
    "shoe": said_later("A sensor is on the heel."),
    "midfoot": said_later("A sensor is on top of the foot."),
    "thigh": said_later("A sensor is on the front of the thigh."),
    "pelvis": said_later("A sensor is low on the back, under a belt."),
    "trunk": said_later("A sensor is on the breast bone."),
    "upper arm": said_later("A sensor is on the outer side of the upper arm."),
    "forearm": said_later("A sensor is on the forearm, just above the wrist."),
    "hand": said_later("A sensor is on the back of the hand."),
}
# joint -> part of the body that is drawn, and the places on it
DRAWINGS = {
    "ankle": ("lower leg", {"shin", "shoe", "midfoot"}),
    "knee": ("leg", {"shin", "thigh"}),
    "hip": ("body", {"pelvis", "trunk", "thigh"}),
    "shoulder": ("body and arm", {"trunk", "upper arm"}),
    "elbow": ("arm", {"upper arm", "forearm"}),
    "wrist": ("forearm", {"forearm", "hand"}),
}
SEEN = {
    ("left", "lower leg"): said_later("Your left leg, from its inner side."),
    ("right", "lower leg"): said_later("Your right leg, from its inner side."),
    ("left", "body"): said_later("Your body, from the left."),
    ("right", "body"): said_later("Your body, from the right."),
    ("left", "arm"): said_later("Your left arm, from the outer side. The thumb points ahead."),
    ("right", "arm"): said_later("Your right arm, from the outer side. The thumb points ahead."),
}
_SEEN_AS = {"leg": "lower leg", "body and arm": "body", "forearm": "arm"}


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


@dataclass(frozen=True)
class TapingPicture:
    """A picture of where the sensors go.

    Parameters
    ----------
    drawing : {"lower leg", "leg", "body", "body and arm", "arm", "forearm"}
        What is drawn.
    places : tuple of str
        Where the sensors on it are, by the names of `imu_rom.motion.soft_tissue.PLACEMENTS`.
    described : str
        What it shows, in words.
    """

    drawing: str
    places: tuple[str, ...]
    described: str


def before_you_start(exercises: Sequence[Exercise], to: Speech) -> tuple[str, ...]:
    """Say what to check before anything else.

    Parameters
    ----------
    exercises : sequence of Exercise
        Those of the day; a step or wedge is spoken of only where one of them needs it.
    to : Speech
        The patient's language.

    Returns
    -------
    tuple of str
        Sentences.
    """
    surfaces, joints = {each.surface for each in exercises}, {each.joint for each in exercises}
    return (
        to.say("Is something firm in reach of your hand? A rail, a wall or a heavy table is good."),
        *([to.say("Is the step dry? Does it stand still?")] if surfaces & {"step", "wedge"} else []),
        to.say("Look at your skin. No tape on sore or broken skin."),
        to.say("Are your feet numb, or does tape make your skin red or itchy? Then ask your clinic first.")
        if is_about_legs(joints)
        else to.say("Is the arm numb, or does tape make your skin red or itchy? Then ask your clinic first."),
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
                *_pose(exercise, to),
                to.say("Count slowly to ten. Do not move your feet."),
            ),
        ),
        *_calibration(exercise, to),
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


def taping_picture(exercise: Exercise, to: Speech) -> TapingPicture | None:
    """Say what a picture of the taped sensors shows.

    Parameters
    ----------
    exercise : Exercise
        What the sensors are to measure.
    to : Speech
        The patient's language.

    Returns
    -------
    TapingPicture or None
        None where a sensor goes somewhere else than the drawings have; another place would be worse than none.
    """
    drawing, drawn = DRAWINGS[exercise.joint]
    places = _worn_at(exercise)
    if not set(places) <= drawn:
        return None
    seen = to.say(SEEN[exercise.side, _SEEN_AS.get(drawing, drawing)])
    return TapingPicture(drawing, places, " ".join([seen, *(to.say(DRAWN[each]) for each in places)]))


def _worn_at(exercise: Exercise) -> tuple[str, ...]:
    """Give the places of the sensors: by the plan's own word, else by the tracked point's name."""
    return tuple(placement_in_words(exercise.placement.get(point), point).name for point in exercise.tracked_points)


def _places(exercise: Exercise) -> list[str]:
    elsewhere = said_later("Put the sensor where your clinic showed you.")
    return list(dict.fromkeys(PLACES.get(each, elsewhere) for each in _worn_at(exercise)))


def _pose(exercise: Exercise, to: Speech) -> list[str]:
    """Say how the arm is held in the neutral pose, where it is the arm's angle that starts there."""
    if exercise.zero == OWN_STANDING:
        return []
    if exercise.joint == "shoulder" and exercise.motion.endswith("rotation"):
        return [to.say("The upper arm hangs. The elbow is bent. The forearm points ahead.")]
    if exercise.joint == "shoulder":
        return [to.say("Let the arm hang at your side.")]
    if exercise.joint == "elbow":
        return [to.say("Let the arm hang, the elbow straight. The thumb points ahead.")]
    if exercise.joint == "wrist":
        return [to.say("Let the arm hang. Hand and forearm are in one line.")]
    return []


def _calibration(exercise: Exercise, to: Speech) -> tuple[Step, ...]:
    """Say which slow moves follow; none where the plan names none, as with sensors whose mounting it gives."""
    motion = exercise.calibration_movement
    if exercise.joint == "ankle" and motion in {None, "plantarflexion"}:
        moves = [
            to.say("Stay where you are. Go up on your toes with both feet, slowly."),
            to.say("Come all the way down. Do this three times."),
        ]
    elif motion is None:
        return ()
    else:
        moves = [
            to.say("Stay where you are. Now move slowly, three times, and back each time:"),
            to.say(MOVEMENTS[exercise.joint, motion]),
        ]
    return (Step("raise", to.say("Three slow moves"), (*moves, to.say("Hold on to something if you like."))),)
