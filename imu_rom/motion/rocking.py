"""How much two sensors rock on what lies beneath them, seen where the joint can't turn.

On foam or flesh a sensor rocks against its segment, and nothing tells rocking about the joint's axis from the joint's
own movement. Rocking across the axis is seen: a hinge's axis has one direction in the world, and two sensors that rock
see two. A layer that lets a sensor rock about both lines of its surface, by the standard deviation s about each, puts
s sin(a) into the angle, with a between the axis and the layer's normal, and s sqrt(1 + cos(a)^2) into what is seen.
That is never the smaller one, so all of what is seen is taken for what is put in (own derivation, no source).

It rests on rocking that is as large about either line. Weight and acceleration drive it, so that a movement which stays
in one plane drives it about the joint's axis alone, and little is seen. The other way round, a joint that also turns
sideways, and an axis that was fitted badly, part the directions without any rocking: then too much is taken.
"""

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world
from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.leaning import Lean, leant_axis

__all__ = ["axes_apart_rad"]

Floats = NDArray[np.float64]


def axes_apart_rad(
    motion: CoarseMotion, axes: tuple[Floats, Floats], heading: RelativeHeading, lean: Lean | None, at: NDArray[np.intp]
) -> Floats:
    """Tell how far apart two sensors see the joint's axis.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in the proximal and the distal sensor's axes.
    heading : RelativeHeading
        From distal to proximal world.
    lean : Lean or None
        How both sensors lean with gravity, where that was taken out of the angle.
    at : ndarray of int of shape (k,)
        Samples of ``motion``.

    Returns
    -------
    ndarray of shape (k,)
        Radians, in both directions across the axis together. Where the axis is too upright to show the heading, twice
        the square of the difference of its tilt, as a wrong heading would part the other direction too.
    """
    leans = (None, None) if lean is None else (lean.proximal_rad, lean.distal_rad)
    ups = (motion.proximal_up, motion.distal_up)
    proximal, distal = (
        axis_world(quaternion[at], axis if each is None else leant_axis(axis, each, up[at]))
        for quaternion, axis, each, up in zip(
            (motion.proximal_quaternion, motion.distal_quaternion), axes, leans, ups, strict=True
        )
    )
    cosine, sine = np.cos(heading.angle_rad[at]), np.sin(heading.angle_rad[at])
    apart_x = proximal[:, 0] - (cosine * distal[:, 0] - sine * distal[:, 1])
    apart_y = proximal[:, 1] - (sine * distal[:, 0] + cosine * distal[:, 1])
    both = apart_x**2 + apart_y**2 + (proximal[:, 2] - distal[:, 2]) ** 2
    tilts = [np.arctan2(each[:, 2], np.hypot(each[:, 0], each[:, 1])) for each in (proximal, distal)]
    return np.asarray(np.sqrt(np.where(heading.observed[at], both, 2.0 * (tilts[0] - tilts[1]) ** 2)))
