"""Joints, movements and the picture of a movement in the words and language of a patient."""

import math
from dataclasses import dataclass
from datetime import date

from imu_rom.dose.exercise import Exercise
from imu_rom.wording.language import Speech, said_later
from imu_rom.wording.patient_angles import Measured, PlannedPart, about, planned_words, span

__all__ = ["PictureWords", "joint_words", "movement_words", "picture_words"]

JOINTS = {
    ("left", "ankle"): said_later("left ankle"),
    ("right", "ankle"): said_later("right ankle"),
    ("left", "knee"): said_later("left knee"),
    ("right", "knee"): said_later("right knee"),
    ("left", "hip"): said_later("left hip"),
    ("right", "hip"): said_later("right hip"),
    ("left", "shoulder"): said_later("left shoulder"),
    ("right", "shoulder"): said_later("right shoulder"),
    ("left", "elbow"): said_later("left elbow"),
    ("right", "elbow"): said_later("right elbow"),
    ("left", "wrist"): said_later("left wrist"),
    ("right", "wrist"): said_later("right wrist"),
}

# what moves where in the motion that counts as further
MOVEMENTS = {
    ("ankle", "dorsiflexion"): said_later("Toes and shin come closer."),
    ("ankle", "plantarflexion"): said_later("The toes point away from the shin."),
    ("ankle", "inversion"): said_later("The sole turns to the other foot."),
    ("ankle", "eversion"): said_later("The sole turns away from the other foot."),
    ("knee", "flexion"): said_later("The knee bends."),
    ("knee", "extension"): said_later("The knee gets straight."),
    ("hip", "flexion"): said_later("The knee comes up in front."),
    ("hip", "extension"): said_later("The knee goes back behind you."),
    ("hip", "abduction"): said_later("The leg goes out to the side."),
    ("hip", "adduction"): said_later("The leg goes across to the other side."),
    ("hip", "internal rotation"): said_later("The leg turns in."),
    ("hip", "external rotation"): said_later("The leg turns out."),
    ("shoulder", "flexion"): said_later("The arm comes up in front."),
    ("shoulder", "extension"): said_later("The arm goes back behind you."),
    ("shoulder", "abduction"): said_later("The arm comes up at the side."),
    ("shoulder", "adduction"): said_later("The arm goes across the body."),
    ("shoulder", "scaption"): said_later("The arm comes up at the side, a bit in front."),
    ("shoulder", "lowering in the scapular plane"): said_later("The arm comes down at the side, a bit in front."),
    ("shoulder", "internal rotation"): said_later("The hand comes to the belly. The elbow stays bent."),
    ("shoulder", "external rotation"): said_later("The hand goes out. The elbow stays bent."),
    ("elbow", "flexion"): said_later("The elbow bends."),
    ("elbow", "extension"): said_later("The elbow gets straight."),
    ("elbow", "pronation"): said_later("The palm turns down."),
    ("elbow", "supination"): said_later("The palm turns up."),
    ("wrist", "flexion"): said_later("The hand bends to the palm side."),
    ("wrist", "extension"): said_later("The hand bends to the back of the hand."),
    ("wrist", "radial deviation"): said_later("The hand tilts to the thumb."),
    ("wrist", "ulnar deviation"): said_later("The hand tilts to the little finger."),
}

VIEWS = {
    "side": said_later("You see it from the side."),
    "front": said_later("You see it from the front."),
    "above": said_later("You see it from above."),
    "hand": said_later("You see the hand from the front, the thumb up at the start."),
}


@dataclass(frozen=True)
class PictureWords:
    """What stands below the picture, and what is told to those who can't see it.

    Parameters
    ----------
    caption : str
        What the picture shows.
    key : tuple of tuple of str
        (kind of mark, words).
    description : str
        All of it in one.
    """

    caption: str
    key: tuple[tuple[str, str], ...]
    description: str


def joint_words(exercise: Exercise, to: Speech) -> str:
    """Name the joint.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        Such as ``"left ankle"``.
    """
    return to.say(JOINTS[exercise.side, exercise.joint])


def movement_words(exercise: Exercise, to: Speech) -> str:
    """Say which way the movement goes.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        A sentence.
    """
    return to.say(MOVEMENTS[exercise.joint, exercise.motion])


def picture_words(
    exercise: Exercise,
    view: str,
    pose_deg: float,
    part: PlannedPart | None,
    furthest: Measured | None,
    to: Speech,
    day: date | None = None,
) -> PictureWords:
    """Say what the picture shows.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    view : {"side", "front", "above", "hand"}
        Where one looks from.
    pose_deg : float
        Angle of the pose at the start.
    part : PlannedPart or None
        The planned part of the range.
    furthest : Measured or None
        The furthest that was reached.
    to : Speech
        The patient's language.
    day : date, optional
        When that was; left out where it is not known.

    Returns
    -------
    PictureWords
        Caption, key and description.
    """
    yours = to.say("Your {joint}.", joint=joint_words(exercise, to))
    caption = f"{yours} {to.say(VIEWS[view])} {movement_words(exercise, to)}"
    key = [("start", to.say("How you stood or sat still at the start: {angle}", angle=about(pose_deg, to)))]
    if part is not None:
        key.append(("planned", to.say("The planned part: {part}", part=planned_words(part, to))))
        if not math.isinf(part.high_deg):
            key.append(("stop", to.say("Stop here: {angle}", angle=about(part.high_deg, to))))
    if exercise.ends_on_floor:
        key.append(("floor", to.say("Stop here: the foot is flat on the floor")))
    if furthest is not None:
        angle = about(round(furthest.deg), to)
        may_be = span(math.floor(furthest.low_deg), math.ceil(furthest.high_deg), to)
        if day is None:
            words = to.say("The furthest you went: about {angle}, maybe {span}", angle=angle, span=may_be)
        else:
            words = to.say(
                "The furthest on {day}: about {angle}, maybe {span}", day=to.day(day), angle=angle, span=may_be
            )
        key.append(("furthest", words))
    return PictureWords(caption, tuple(key), " ".join([caption, *(f"{words}." for _, words in key)]))
