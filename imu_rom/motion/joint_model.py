"""What a joint and a motion are: segments, axes, signs, zero, range and how an angle is read; the data are in `joints`.

Body directions are those of the ISB segment frames in the zero pose: X forward, Y up (proximal), Z right, right-handed,
for both segments and both sides of the body. A name (abduction, inversion) means the same movement on both sides: the
left side is the right one's mirror image at the middle plane, which turns the sense of rotations about X and Y round
and leaves that about Z.
"""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Joint", "Motion", "Reading", "Side", "Vector"]

Side = Literal["left", "right"]
Reading = Literal["joint coordinate system", "long axis in a plane", "twist about the long axis"]
Vector = tuple[float, float, float]


def _mirrored(axis: Vector) -> Vector:
    # a rotation vector is mirrored against a polar one: what lies in the mirror plane turns round; + 0.0 clears -0.0
    return (-axis[0] + 0.0, -axis[1] + 0.0, axis[2])


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
    right_axis : tuple of float
        Unit vector of `axis` for the right side.
    reading : {"joint coordinate system", "long axis in a plane", "twist about the long axis"}
        How the angle is read off a rotation in three dimensions; `imu_rom.motion.joint_rotation` has the formulas.
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
    right_axis: Vector
    reading: Reading
    possible_range_deg: tuple[float, float]
    possible_range_source: str
    in_words: str

    def axis(self, side: Side) -> Vector:
        """Give the axis about which the distal segment turns against the proximal one, right-handed, when positive.

        Parameters
        ----------
        side : {"left", "right"}
            Side of the body.

        Returns
        -------
        tuple of float
            Unit vector (X forward, Y up, Z right), the same in both segments' frames in the zero pose.
        """
        return self.right_axis if side == "right" else _mirrored(self.right_axis)

    @property
    def axis_keeps_to_proximal(self) -> bool:
        """True where the axis stays put in the proximal segment, however the joint is bent about its other axes.

        Flexion turns about an axis of the proximal segment, rotation about the distal one's long axis, ad- and
        abduction about a line at right angles to both (Grood and Suntay 1983); arms are lifted in planes of the thorax.
        """
        return self.reading == "long axis in a plane" or self.right_axis[2] != 0.0


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
    degrees_of_freedom : {1, 2, 3}
        About how many axes the joint turns in its usual exercises: 1 is hinge-like, 3 a ball.
    gimbal_zone : str
        Where the angles are ill-defined, in words.
    motions : tuple of Motion
        Each followed by its opposite.
    source : str
        Publication of the coordinate system, and what is done otherwise.
    """

    name: str
    proximal_segment: str
    distal_segment: str
    sequence: str
    frames: str
    zero: str
    degrees_of_freedom: Literal[1, 2, 3]
    gimbal_zone: str
    motions: tuple[Motion, ...]
    source: str

    @property
    def left_mirror(self) -> tuple[int, ...]:
        """Factors of the three angles of the sequence on the left side, so that names mean the same on both sides."""
        return tuple(1 if letter == "Z" else -1 for letter in self.sequence)
