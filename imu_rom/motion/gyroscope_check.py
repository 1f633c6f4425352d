"""A gyroscope between two still positions of an edge: how far it says that the edge was turned.

It is integrated from one stillness to the next, its bias taken from both; the turn that it reports about the axis of
tilting, against that of the edge, is its error of scale about that axis. Only the direction of gravity is followed, so
a turn about the vertical on the way drops out, except for what the accelerometer's bias makes of it: that is estimated.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.sensor_check import SensorReadings, TiltPlane, unit, wrapped_deg

if TYPE_CHECKING:
    from scipy.spatial.transform import Rotation

__all__ = ["TurnCheck", "gyroscope_scale_error", "turn_checks"]

Floats = NDArray[np.float64]

SMALLEST_TURN_DEG = 20.0
"""A smaller turn says little about the scale."""
USUAL_BIAS_DEG = 0.6
"""By so much an accelerometer's bias of 0.1 m/s2 turns the vertical (the size is common practice, no source)."""


@dataclass(frozen=True)
class TurnCheck:
    """One turn from a position to the next, as the gyroscope has it.

    Parameters
    ----------
    reference_deg : float
        Turn of the reference.
    turn_deg : float or None
        Turn about the axis of tilting by the gyroscope; None where data are missing.
    error_deg : float or None
        That, less the reference.
    u_deg : float
        Standard uncertainty of the error: both settings of the reference, bias, turns about the vertical.
    """

    reference_deg: float
    turn_deg: float | None
    error_deg: float | None
    u_deg: float


def _turn_back(rate_rad_s: Floats, bias: tuple[Floats, Floats], rate_hz: float) -> "Rotation":
    """Rotation that takes directions in sensor axes before a turn to those after it, by the gyroscope alone."""
    from scipy.spatial.transform import Rotation  # noqa: PLC0415  loads slowly

    share = np.linspace(0.0, 1.0, len(rate_rad_s))[:, None]
    rate = rate_rad_s - (1.0 - share) * bias[0] - share * bias[1]
    # a gyroscope gives its rate at the sample: each step takes the mean of both its ends
    turns = Rotation.from_rotvec(0.5 * (rate[1:] + rate[:-1]) / rate_hz)
    while len(turns) > 1:
        odd = [turns[-1:]] if len(turns) % 2 else []
        even = len(turns) - len(odd)
        turns = Rotation.concatenate([turns[0:even:2] * turns[1:even:2], *odd])
    return turns[0].inv()


def turn_checks(
    rate_rad_s: Floats,
    missing: NDArray[np.bool_],
    rests: Sequence[tuple[int, int]],
    rate_hz: float,
    readings: SensorReadings,
    plane: TiltPlane,
    reference_deg: Floats,
    u_reference_deg: float,
) -> list[TurnCheck]:
    """Integrate the gyroscope from each position to the next and compare the turn with the reference.

    Parameters
    ----------
    rate_rad_s : ndarray of shape (n, 3)
        Angular rate, sensor axes.
    missing : ndarray of bool of shape (n,)
        True where the sensor delivered nothing.
    rests : sequence of (int, int)
        Still stretches.
    rate_hz : float
        Sampling rate.
    readings : SensorReadings
        The sensor's readings in them.
    plane : TiltPlane
        Its axis and tilts.
    reference_deg : ndarray of shape (positions,)
        Known angles.
    u_reference_deg : float
        Standard uncertainty of one of them.

    Returns
    -------
    list of TurnCheck
        One a turn.
    """
    found = []
    for index in range(len(rests) - 1):
        first, last = rests[index][1] - 1, rests[index + 1][0]
        seconds = (last - first) / rate_hz
        bias = readings.rate_rad_s[index], readings.rate_rad_s[index + 1]
        # a bias that changed on the way may have done so at any moment, and the mean of either rest is not certain
        drift = np.abs(bias[1] - bias[0]) / np.sqrt(12.0)
        noise = np.linalg.norm(readings.rate_uncertainty_rad_s[index : index + 2], axis=0) / 2.0
        of_bias = np.degrees(np.sqrt(np.sum((drift**2 + noise**2) * plane.axis**2)) * seconds)
        u_deg = float(np.hypot(np.sqrt(2.0) * u_reference_deg, of_bias))
        step = float(wrapped_deg(reference_deg[index + 1] - reference_deg[index]))
        turn = error = None
        if not missing[first : last + 1].any():
            before = readings.up[index]
            back = _turn_back(rate_rad_s[first : last + 1], bias, rate_hz)
            after = back.apply(before)
            # the axis of tilting stays level, so what moves it is a turn about the vertical
            swung = np.linalg.norm(back.apply(plane.axis) - plane.axis)
            u_deg = float(np.hypot(u_deg, max(USUAL_BIAS_DEG, plane.across_deg) * swung))
            old, new = (unit(each - (each @ plane.axis) * plane.axis) for each in (before, after))
            turn = float(np.degrees(np.arctan2(np.cross(old, new) @ plane.axis, new @ old)))
            error = float(wrapped_deg(np.asarray(turn - step)))
            turn = step + error
        found.append(TurnCheck(step, turn, error, u_deg))
    return found


def gyroscope_scale_error(turns: Sequence[TurnCheck], u_reference_deg: float) -> tuple[float, float] | None:
    """Share by which a gyroscope turns too far, from all turns of 20 degrees or more.

    Parameters
    ----------
    turns : sequence of TurnCheck
        As `turn_checks` gives them, in order.
    u_reference_deg : float
        Standard uncertainty with which one angle is set. Neighbouring turns share a setting.

    Returns
    -------
    tuple of float or None
        Slope of the turn on the reference, less one, and its standard uncertainty; None where no turn serves.
    """
    weights = np.array(
        [
            each.reference_deg if each.error_deg is not None and abs(each.reference_deg) >= SMALLEST_TURN_DEG else 0.0
            for each in turns
        ]
    )
    total = float(weights @ weights)
    if total == 0.0:
        return None
    errors = np.array([0.0 if each.error_deg is None else each.error_deg for each in turns])
    of_bias = np.sqrt(np.maximum(np.array([each.u_deg for each in turns]) ** 2 - 2.0 * u_reference_deg**2, 0.0))
    of_settings = np.diff(np.concatenate([[0.0], weights, [0.0]])) * u_reference_deg
    u_scale = np.sqrt(of_settings @ of_settings + (weights * of_bias) @ (weights * of_bias)) / total
    return float(weights @ errors) / total, float(u_scale)
