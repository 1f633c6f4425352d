"""What the zero of a joint's angle stands for, in the words of a plan.

The neutral pose is where the angle is zero, and three things can be meant by it: the joint's own zero, which the person
was asked to stand in and is known only as well as people stand; the person's own standing, which is what it is; or an
angle that a clinician measured while the person stood there.
"""

from imu_rom.dose.exercise import Exercise
from imu_rom.motion.joints import JOINTS
from imu_rom.settings import UncertaintySettings

__all__ = ["OWN_STANDING", "neutral_words", "zero_meaning", "zero_standard_uncertainty_deg"]

OWN_STANDING = "own standing"

# shorter than the joint's own description, as a plan would say it
_NEUTRAL_WORDS = {
    "ankle": "foot flat, shank upright",
    "knee": "standing, knee straight",
    "hip": "standing, thigh in line with the trunk",
    "shoulder": "arm hanging at the side",
    "elbow": "arm hanging, elbow straight",
    "wrist": "hand in line with the forearm",
}


def neutral_words(joint: str) -> str:
    """Say in a plan's words in which pose a joint's angles are zero.

    Parameters
    ----------
    joint : str
        Name of a known joint.

    Returns
    -------
    str
        Such as ``"foot flat, shank upright"``.
    """
    return _NEUTRAL_WORDS.get(joint) or JOINTS[joint].zero


def zero_meaning(exercise: Exercise) -> str:
    """Say what an exercise's angles count from.

    Parameters
    ----------
    exercise : Exercise
        An exercise of a plan without contradictions.

    Returns
    -------
    str
        The joint's own zero, or the person's own standing.
    """
    return exercise.zero or neutral_words(exercise.joint)


def zero_standard_uncertainty_deg(exercise: Exercise, settings: UncertaintySettings) -> float:
    """Give the standard uncertainty of the zero, which the whole session shares.

    Parameters
    ----------
    exercise : Exercise
        What the plan says about the zero.
    settings : UncertaintySettings
        What a pose is worth where the plan says nothing.

    Returns
    -------
    float
        Degrees: that of the clinician's measurement where there is one; for the person's own standing, how well they
        take it up again; else how far people stand from the joint's zero when asked to.
    """
    if exercise.neutral_uncertainty_deg is not None:
        return exercise.neutral_uncertainty_deg
    return settings.own_standing_deg if exercise.zero == OWN_STANDING else settings.zero_pose_deg
