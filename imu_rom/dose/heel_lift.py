"""How far a heel lift or a shoe's drop turns the ankle's zero."""

import math

__all__ = ["HEEL_TO_BALL_MM", "heel_lift_deg"]

HEEL_TO_BALL_MM = 170.0
"""From under the heel to the ball of an adult's foot; common practice, no source."""


def heel_lift_deg(height_mm: float, heel_to_ball_mm: float = HEEL_TO_BALL_MM) -> float:
    """Give the angle by which a lift under the heel points the foot down.

    Parameters
    ----------
    height_mm : float
        Height of the lift, or by how much the heel stands above the ball of the foot.
    heel_to_ball_mm : float
        Length over which it falls off.

    Returns
    -------
    float
        Plantarflexion in degrees: the arc tangent of one over the other.
    """
    return math.degrees(math.atan2(height_mm, heel_to_ball_mm))
