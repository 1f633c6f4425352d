"""Joints and their motions as data: axes, signs, zero, possible range, source.

Body directions are those of the ISB segment frames: X forward, Y up (proximal), Z right, right-handed, for both sides.
Axes are given for the right side; `imu_rom.motion.joint_model.Motion.axis` mirrors them.

References
----------
G. Wu et al., "ISB recommendation on definitions of joint coordinate system of various joints for the reporting of
human joint motion, part I: ankle, hip, and spine", J Biomech 35:543-548, 2002, doi:10.1016/S0021-9290(01)00222-6.

G. Wu et al., "ISB recommendation on definitions of joint coordinate systems of various joints for the reporting of
human joint motion, part II: shoulder, elbow, wrist and hand", J Biomech 38:981-992, 2005,
doi:10.1016/j.jbiomech.2004.05.042.

E. S. Grood, W. J. Suntay, "A joint coordinate system for the clinical description of three-dimensional motions:
application to the knee", J Biomech Eng 105:136-144, 1983, doi:10.1115/1.3138397.
"""

import math

from imu_rom.errors import PlanError
from imu_rom.motion.joint_model import Joint, Motion, Reading, Side, Vector

__all__ = ["JOINTS", "SCAPULAR_PLANE_DEG", "Joint", "Motion", "Side", "joint_motion", "joint_named", "needs_frames"]

SCAPULAR_PLANE_DEG = 35.0
"""Scapular plane, in front of the frontal one: between the customary 30 and 40 degrees; common practice, no source."""

_FRAMES = "X forward, Y up, Z right for both segments and both sides"
_WU_2002 = "Wu et al. 2002, doi:10.1016/S0021-9290(01)00222-6"
_WU_2005 = "Wu et al. 2005, doi:10.1016/j.jbiomech.2004.05.042"
_OUTWARD = "common practice, no source: rounded outward from"
_SOUCIE = "Soucie et al., Haemophilia 17:500, 2011"
_AAOS = "American Academy of Orthopaedic Surgeons 1965"

_FORWARD: Vector = (1.0, 0.0, 0.0)
_BACKWARD: Vector = (-1.0, 0.0, 0.0)
_UP: Vector = (0.0, 1.0, 0.0)
_RIGHT: Vector = (0.0, 0.0, 1.0)
_LEFT: Vector = (0.0, 0.0, -1.0)
# the right arm is lifted outward about an axis that points backward; turned by the plane about the upright towards left
_SCAPTION: Vector = (
    -math.cos(math.radians(SCAPULAR_PLANE_DEG)),
    0.0,
    math.sin(math.radians(SCAPULAR_PLANE_DEG)),
)


def _pair(
    joint: str,
    names: tuple[str, str],
    right_axis: Vector,
    range_deg: tuple[float, float],
    range_source: str,
    in_words: tuple[str, str],
    reading: Reading = "joint coordinate system",
) -> tuple[Motion, Motion]:
    """Make a motion and its opposite; axis and range are those of the first."""
    low, high = range_deg
    other_axis: Vector = (0.0 - right_axis[0], 0.0 - right_axis[1], 0.0 - right_axis[2])
    first = Motion(joint, names[0], names[1], right_axis, reading, range_deg, range_source, in_words[0])
    return first, Motion(joint, names[1], names[0], other_axis, reading, (-high, -low), range_source, in_words[1])


_ALL = (
    Joint(
        name="ankle",
        proximal_segment="shank",
        distal_segment="foot",
        sequence="ZXY",
        frames=_FRAMES,
        zero="foot flat and shank upright, the foot at 90 degrees to the shank and pointing straight ahead",
        degrees_of_freedom=1,
        gimbal_zone="near 90 degrees of inversion or eversion, which no ankle reaches",
        motions=(
            *_pair(
                "ankle",
                ("dorsiflexion", "plantarflexion"),
                _RIGHT,
                (-80.0, 50.0),
                f"{_OUTWARD} the means of {_SOUCIE} (passive dorsiflexion to 25, plantarflexion to 67) and from "
                "weight-bearing lunge angles to about 40 degrees",
                ("the toes come towards the shin", "the toes go away from the shin"),
            ),
            *_pair(
                "ankle",
                ("inversion", "eversion"),
                _FORWARD,
                (-40.0, 60.0),
                f"{_OUTWARD} {_AAOS} (inversion 35, eversion 15), from memory",
                ("the sole turns to face the other foot", "the sole turns to face away from the other foot"),
            ),
        ),
        source=f"{_WU_2002}; angle of the foot relative to the shank",
    ),
    Joint(
        name="knee",
        proximal_segment="thigh",
        distal_segment="shank",
        sequence="ZXY",
        frames=_FRAMES,
        zero="standing upright with the knee straight, thigh and shank in one line",
        degrees_of_freedom=1,
        gimbal_zone="near 90 degrees of ad- or abduction, which no knee reaches",
        motions=_pair(
            "knee",
            ("flexion", "extension"),
            # about Z pointing right, a hanging shank swings forward: bending it back is a negative rotation
            _LEFT,
            (-20.0, 165.0),
            f"{_OUTWARD} the means of {_SOUCIE} (flexion to 153, extension past straight to 5 degrees)",
            ("the heel comes towards the buttock", "the heel goes away from the buttock"),
        ),
        source="Grood, Suntay 1983, doi:10.1115/1.3138397; angle of the shank relative to the thigh",
    ),
    Joint(
        name="hip",
        proximal_segment="pelvis",
        distal_segment="thigh",
        sequence="ZXY",
        frames=_FRAMES,
        zero="standing upright, thigh in line with the trunk, kneecap straight ahead",
        degrees_of_freedom=3,
        gimbal_zone="near 90 degrees of abduction, as in a full side split",
        motions=(
            *_pair(
                "hip",
                ("flexion", "extension"),
                _RIGHT,
                (-50.0, 160.0),
                f"{_OUTWARD} the means of {_SOUCIE} (passive flexion to 141, extension to 28)",
                ("the knee comes up in front", "the knee goes behind the body"),
            ),
            *_pair(
                "hip",
                ("abduction", "adduction"),
                _BACKWARD,
                (-50.0, 90.0),
                f"{_OUTWARD} {_AAOS} (abduction 45, adduction 30), from memory",
                ("the knee goes out to its own side", "the knee goes across to the other side"),
            ),
            *_pair(
                "hip",
                ("internal rotation", "external rotation"),
                _UP,
                (-90.0, 90.0),
                f"{_OUTWARD} {_AAOS} (45 each way), from memory",
                ("the kneecap turns towards the other leg", "the kneecap turns away from the other leg"),
            ),
        ),
        source=f"{_WU_2002}; angle of the thigh relative to the pelvis",
    ),
    Joint(
        name="shoulder",
        proximal_segment="thorax",
        distal_segment="upper arm",
        sequence="YXY",
        frames=_FRAMES,
        zero="arm hanging at the side; with the elbow bent the forearm points straight ahead",
        degrees_of_freedom=3,
        gimbal_zone="y-x'-y'' itself: arm hanging or straight up. Flexion and extension: arm straight out to the side "
        "or across. Abduction, adduction and scaption: arm pointing along the line at right angles to their plane. "
        "Internal and external rotation: arm straight up",
        motions=(
            *_pair(
                "shoulder",
                ("flexion", "extension"),
                _RIGHT,
                (-90.0, 200.0),
                f"{_OUTWARD} {_AAOS} (flexion 180, extension 60)",
                ("the arm comes up in front", "the arm goes behind the line of the body"),
                "long axis in a plane",
            ),
            *_pair(
                "shoulder",
                ("abduction", "adduction"),
                _BACKWARD,
                (-80.0, 200.0),
                f"{_OUTWARD} {_AAOS} (abduction 180); adduction has no source",
                ("the arm comes up at its own side", "the arm goes down and across the body"),
                "long axis in a plane",
            ),
            *_pair(
                "shoulder",
                ("scaption", "lowering in the scapular plane"),
                _SCAPTION,
                (-80.0, 200.0),
                f"{_OUTWARD} {_AAOS} (abduction 180), taken to hold for this plane too",
                (
                    f"the arm comes up {SCAPULAR_PLANE_DEG:g} degrees in front of its own side",
                    f"the arm comes down {SCAPULAR_PLANE_DEG:g} degrees in front of its own side",
                ),
                "long axis in a plane",
            ),
            *_pair(
                "shoulder",
                ("internal rotation", "external rotation"),
                _UP,
                (-150.0, 120.0),
                f"{_OUTWARD} {_AAOS} (internal 70, external 90) and from what throwers reach, from memory",
                ("with the elbow bent the hand comes towards the belly", "with the elbow bent the hand goes outward"),
                "twist about the long axis",
            ),
        ),
        source=f"{_WU_2005}; angle of the humerus relative to the thorax. Its sequence is singular with the arm "
        "hanging, so the clinical angles are read otherwise",
    ),
    Joint(
        name="elbow",
        proximal_segment="upper arm",
        distal_segment="forearm",
        sequence="ZXY",
        frames=_FRAMES,
        zero="arm hanging, elbow straight, thumb pointing straight ahead",
        degrees_of_freedom=2,
        gimbal_zone="near 90 degrees of the carrying angle, which no elbow reaches",
        motions=(
            *_pair(
                "elbow",
                ("flexion", "extension"),
                _RIGHT,
                (-20.0, 165.0),
                f"{_OUTWARD} the means of {_SOUCIE} (flexion to 153, extension past straight to 5 degrees)",
                ("the hand comes towards the shoulder", "the hand goes away from the shoulder"),
            ),
            *_pair(
                "elbow",
                ("pronation", "supination"),
                _UP,
                (-110.0, 110.0),
                f"{_OUTWARD} {_AAOS} (80 each way) and the means of {_SOUCIE} (supination to 91)",
                (
                    "with the elbow bent the palm turns to face the floor",
                    "with the elbow bent the palm turns to face the sky",
                ),
            ),
        ),
        source=f"{_WU_2005}, which counts pronation from the palm facing forward: 90 degrees more than from the "
        "clinic's middle position, which is used here",
    ),
    Joint(
        name="wrist",
        proximal_segment="forearm",
        distal_segment="hand",
        sequence="ZXY",
        frames=_FRAMES,
        zero="hand in line with the forearm; frames as if the arm hung with the palm facing forward",
        degrees_of_freedom=2,
        gimbal_zone="near 90 degrees of radial or ulnar deviation, which no wrist reaches",
        motions=(
            *_pair(
                "wrist",
                ("flexion", "extension"),
                _RIGHT,
                (-100.0, 100.0),
                f"{_OUTWARD} {_AAOS} (flexion 80, extension 70)",
                ("the palm comes towards the forearm", "the back of the hand comes towards the forearm"),
            ),
            *_pair(
                "wrist",
                ("radial deviation", "ulnar deviation"),
                _BACKWARD,
                (-60.0, 40.0),
                f"{_OUTWARD} {_AAOS} (radial 20, ulnar 30)",
                (
                    "the hand tilts to the side of the thumb",
                    "the hand tilts to the side of the little finger",
                ),
            ),
        ),
        source=f"{_WU_2005}; angle of the hand relative to the forearm",
    ),
)

JOINTS: dict[str, Joint] = {each.name: each for each in _ALL}


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


def needs_frames(joint: str, motion: str) -> bool:
    """Tell whether a motion is measured by both segments' frames, or by the one axis of a hinge.

    Parameters
    ----------
    joint : str
        Name of the joint.
    motion : str
        Name of the motion.

    Returns
    -------
    bool
        True for joints of two or three axes, and for a hinge-like joint's motion about another axis than its hinge.

    Raises
    ------
    PlanError
        The joint is unknown.
    """
    known = joint_named(joint)
    return known.degrees_of_freedom > 1 or motion not in [each.name for each in known.motions[:2]]
