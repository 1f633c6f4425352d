"""Joints and their motions as data: axes, signs, zero, possible range, source.

Body directions are those of the ISB segment frames: X forward, Y up (proximal), Z right, right-handed, for both sides.

References
----------
G. Wu et al., "ISB recommendation on definitions of joint coordinate system of various joints for the reporting of
human joint motion, part I: ankle, hip, and spine", J Biomech 35:543-548, 2002, doi:10.1016/S0021-9290(01)00222-6.

E. S. Grood, W. J. Suntay, "A joint coordinate system for the clinical description of three-dimensional motions:
application to the knee", J Biomech Eng 105:136-144, 1983, doi:10.1115/1.3138397.
"""

from dataclasses import dataclass
from typing import Literal

from imu_rom.errors import PlanError

__all__ = ["JOINTS", "Joint", "Motion", "Side", "joint_motion", "joint_named"]

Side = Literal["left", "right"]


@dataclass(frozen=True)
class Motion:
    """One direction of movement of a joint, counted positive.

    Parameters
    ----------
    joint : str
        Name of the joint.
    name : str
        Name of the motion in the positive direction (``"dorsiflexion"``).
    opposite : str
        Name of the motion in the negative direction.
    axis_right : {1, -1}
        1: positive motion is a right-hand rotation of the distal segment relative to the proximal one about the body's
        right (ISB +Z); -1: about its left. The same for both sides of the body, because mirroring at the middle plane
        leaves a rotation about the left-right axis as it is.
    possible_range_deg : tuple of float
        (lowest, highest) angle in the positive direction that a living joint can take; outside it a plan is wrong.
    possible_range_source : str
        Where that range comes from.
    in_words : str
        What moves where, for people.
    """

    joint: str
    name: str
    opposite: str
    axis_right: Literal[1, -1]
    possible_range_deg: tuple[float, float]
    possible_range_source: str
    in_words: str


@dataclass(frozen=True)
class Joint:
    """A joint with its coordinate system.

    Parameters
    ----------
    name : str
        Name of the joint.
    proximal_segment, distal_segment : str
        Anatomical names of the two segments.
    sequence : str
        Order of the intrinsic rotations from the proximal to the distal segment frame, in SciPy's upper-case letters.
    frames : str
        Axes of both segment frames in the zero pose.
    zero : str
        Pose in which all angles are 0, in words.
    left_mirror : tuple of int
        Factor by which each angle of the sequence is multiplied on the left side so that a name (dorsiflexion,
        inversion) means the same movement on both sides.
    motions : tuple of Motion
        Motions about the first axis of the sequence, the one and its opposite.
    source : str
        Publication of the coordinate system.
    """

    name: str
    proximal_segment: str
    distal_segment: str
    sequence: str
    frames: str
    zero: str
    left_mirror: tuple[int, int, int]
    motions: tuple[Motion, ...]
    source: str


_FRAMES = "X forward, Y up, Z right for both segments and both sides"
_MIRROR = (1, -1, -1)

_ANKLE_RANGE = (
    "common practice, no source: rounded outward from the means of Soucie et al., Haemophilia 17:500, 2011 (passive "
    "dorsiflexion to 25, plantarflexion to 67) and from weight-bearing lunge angles to about 40 degrees"
)
_KNEE_RANGE = (
    "common practice, no source: rounded outward from the means of Soucie et al., Haemophilia 17:500, 2011 (flexion to "
    "153, extension past straight to 5 degrees)"
)

JOINTS: dict[str, Joint] = {
    "ankle": Joint(
        name="ankle",
        proximal_segment="shank",
        distal_segment="foot",
        sequence="ZXY",
        frames=_FRAMES,
        zero="foot flat and shank upright, the foot at 90 degrees to the shank",
        left_mirror=_MIRROR,
        motions=(
            Motion(
                joint="ankle",
                name="dorsiflexion",
                opposite="plantarflexion",
                axis_right=1,
                possible_range_deg=(-80.0, 50.0),
                possible_range_source=_ANKLE_RANGE,
                in_words="the toes come towards the shin",
            ),
            Motion(
                joint="ankle",
                name="plantarflexion",
                opposite="dorsiflexion",
                axis_right=-1,
                possible_range_deg=(-50.0, 80.0),
                possible_range_source=_ANKLE_RANGE,
                in_words="the toes go away from the shin",
            ),
        ),
        source="Wu et al. 2002, doi:10.1016/S0021-9290(01)00222-6; angle of the foot relative to the shank",
    ),
    "knee": Joint(
        name="knee",
        proximal_segment="thigh",
        distal_segment="shank",
        sequence="ZXY",
        frames=_FRAMES,
        zero="standing upright with the knee straight, thigh and shank in one line",
        left_mirror=_MIRROR,
        motions=(
            Motion(
                joint="knee",
                name="flexion",
                opposite="extension",
                # about Z pointing right, a hanging shank swings forward: bending it back is a negative rotation
                axis_right=-1,
                possible_range_deg=(-20.0, 165.0),
                possible_range_source=_KNEE_RANGE,
                in_words="the heel comes towards the buttock",
            ),
            Motion(
                joint="knee",
                name="extension",
                opposite="flexion",
                axis_right=1,
                possible_range_deg=(-165.0, 20.0),
                possible_range_source=_KNEE_RANGE,
                in_words="the heel goes away from the buttock",
            ),
        ),
        source="Grood, Suntay 1983, doi:10.1115/1.3138397; angle of the shank relative to the thigh",
    ),
}


def joint_named(joint: str) -> Joint:
    """Return a joint by its name.

    Parameters
    ----------
    joint : str
        Name of the joint.

    Returns
    -------
    Joint
        That joint.

    Raises
    ------
    PlanError
        No such joint is known.
    """
    try:
        return JOINTS[joint]
    except KeyError:
        raise PlanError(f"joint must be one of {', '.join(JOINTS)}, got {joint!r}") from None


def joint_motion(joint: str, motion: str) -> Motion:
    """Return a motion of a joint by the two names.

    Parameters
    ----------
    joint : str
        Name of the joint.
    motion : str
        Name of the motion that counts as positive.

    Returns
    -------
    Motion
        That motion.

    Raises
    ------
    PlanError
        The joint is unknown or has no such motion.
    """
    motions = {each.name: each for each in joint_named(joint).motions}
    try:
        return motions[motion]
    except KeyError:
        raise PlanError(f"motion of the {joint} must be one of {', '.join(motions)}, got {motion!r}") from None
