"""Whether the axes found in both sensors point the same way.

Turning one of the two axes round leaves the rate constraint of a hinge as it is, and the tilt constraint too while the
axis lies level; the joint angle then comes out as the sum of both segments' pitch instead of their difference. So more
is asked of the recording: how much better one fits than the other; whether both sensors are pushed the same way, once
their headings are brought together by the shared axis (a body moves as a whole); and whether both segments swing
together while walking, as the segments of a leg or an arm do; and whether there is a centre of the joint that would
have felt the same force from both sides. Where all that stays unclear, declared mountings decide: in the
body's axes both must point the same way.
"""

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.alignment import HingeAxis
from imu_rom.motion.angle import axis_world, hinge_angle_rad
from imu_rom.motion.coarse import CoarseMotion, moving_mean
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.hinge_fusion import joint_centre_of

__all__ = ["CENTRE_COST_DIFFERENCE", "centre_cost", "declared_facing", "facing_evidence"]

Floats = NDArray[np.float64]

# Each piece of evidence counts 1 at these sizes.
COST_DIFFERENCE = 25.0
CORRELATION = 0.3
SMALLEST_PUSH_M_S2 = 0.15  # inclinations that are off by half a degree look like such a push
CENTRE_COST_DIFFERENCE = 0.45  # both forces disagree by a quarter more
MOST_CENTRE_EVIDENCE = 10.0
SWING_RATIO = 1.5
SWING_RAD_S = np.radians(40.0)
SWING_LOOK_S = 2.0
FEWEST_SWING_S = 5.0
# Both axes of one hinge are nearer to each other than this in the body, or opposite, however roughly it was taped.
SMALLEST_DECLARED_COSINE = 0.5


def _pushed_alike(motion: CoarseMotion, relative_heading_rad: Floats, worn: NDArray[np.bool_]) -> float:
    """Correlation of both sensors' horizontal push, with headings brought together; -1 to 1."""
    # the horizontal part of the specific force in each sensor's world: gravity has none
    proximal = axis_world(motion.proximal_quaternion, motion.proximal_force_m_s2)[worn, :2]
    distal = axis_world(motion.distal_quaternion, motion.distal_force_m_s2)[worn, :2]
    cosine, sine = np.cos(relative_heading_rad[worn]), np.sin(relative_heading_rad[worn])
    together = proximal[:, 0] * (cosine * distal[:, 0] - sine * distal[:, 1])
    together += proximal[:, 1] * (sine * distal[:, 0] + cosine * distal[:, 1])
    size = np.sqrt(np.sum(proximal**2) * np.sum(distal**2))
    return float(np.sum(together) / (size + len(together) * SMALLEST_PUSH_M_S2**2))


def _swing_together(motion: CoarseMotion, axis: HingeAxis, worn: NDArray[np.bool_]) -> float:
    """Logarithm of the sum's over the difference's size of both pitch rates while both swing; 0 where they don't."""
    proximal, distal = motion.proximal_rate @ axis.proximal, motion.distal_rate @ axis.distal
    look = max(2, round(SWING_LOOK_S * motion.rate_hz))
    slower = np.minimum(moving_mean(proximal**2, look), moving_mean(distal**2, look))
    swings = worn & (slower > SWING_RAD_S**2)
    if swings.sum() < FEWEST_SWING_S * motion.rate_hz:
        return 0.0
    powers = [float(np.mean((proximal + factor * distal)[swings] ** 2)) for factor in (1, -1)]
    return 0.5 * float(np.log((powers[0] + 1e-12) / (powers[1] + 1e-12)))


def centre_cost(motion: CoarseMotion, axis: HingeAxis, heading: RelativeHeading, worn: NDArray[np.bool_]) -> float:
    """Tell how badly both sensors' forces agree at the joint's centre, for one pair of axes.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    axis : HingeAxis
        The pair.
    heading : RelativeHeading
        Relative heading that belongs to it.
    worn : ndarray of bool of shape (m,)
        True where both sensors are worn; at least once.

    Returns
    -------
    float
        Logarithmic: `CENTRE_COST_DIFFERENCE` more is a disagreement larger by a quarter.
    """
    angle = hinge_angle_rad(
        motion.proximal_quaternion, motion.distal_quaternion, axis.proximal, axis.distal, heading.angle_rad
    )
    return joint_centre_of(motion, (axis.proximal, axis.distal), angle, worn).cost


def facing_evidence(
    motion: CoarseMotion,
    pair: tuple[HingeAxis, RelativeHeading],
    twin: tuple[HingeAxis, RelativeHeading],
    worn: NDArray[np.bool_],
) -> float:
    """Weigh an axis pair against its twin, whose distal axis is turned round.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    pair, twin : tuple of HingeAxis and RelativeHeading
        Fits to the same samples, each with the relative heading that belongs to it.
    worn : ndarray of bool of shape (m,)
        True where both sensors are worn.

    Returns
    -------
    float
        Positive for the pair, negative for the twin; clear from 1 on.
    """
    if not worn.any():
        return 0.0
    axis, heading = pair
    fits = (twin[0].cost - axis.cost) / COST_DIFFERENCE
    # an axis that stands upright shows no heading to bring the pushes together by
    pushed = _pushed_alike(motion, heading.angle_rad, worn) / CORRELATION * float(np.mean(heading.observed[worn]))
    swings = _swing_together(motion, axis, worn) / np.log(SWING_RATIO)
    centre = (centre_cost(motion, *twin, worn) - centre_cost(motion, *pair, worn)) / CENTRE_COST_DIFFERENCE
    return float(fits + pushed + swings + np.clip(centre, -MOST_CENTRE_EVIDENCE, MOST_CENTRE_EVIDENCE))


def declared_facing(axes: tuple[Floats, Floats], mountings: tuple[Floats | None, Floats | None]) -> int:
    """Tell from declared mountings whether both axes point the same way.

    Parameters
    ----------
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in the proximal and the distal sensor, unit vectors.
    mountings : tuple of two ndarrays of shape (3, 3), or None
        From each sensor's axes to those of its segment, which agree in the joint's zero pose; None where not declared.

    Returns
    -------
    {1, 0, -1}
        1 the same way, -1 opposite ways; 0 where a mounting is missing or the directions are too far from either.
    """
    if mountings[0] is None or mountings[1] is None:
        return 0
    cosine = float((mountings[0] @ axes[0]) @ (mountings[1] @ axes[1]))
    return int(np.sign(cosine)) if abs(cosine) > SMALLEST_DECLARED_COSINE else 0
