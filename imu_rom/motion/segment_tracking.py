"""One sensor to the angle of a joint whose other segment keeps still: the sensor's own turn since a pose.

Where one segment truly keeps still, the joint turns by as much as the other segment does. A still partner that measures
nothing stands in for the missing sensor, so that axis, worn part, pose and repetitions are found by the same code as
with two: a hinge to a still partner turns about one axis of the sensor's own, which keeps its tilt against gravity.
The angle is then the turn about that axis by gravity alone. It needs no heading, so the person may turn round at will.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.alignment import tilt_disagreement_rad
from imu_rom.motion.angle import up_in_sensor
from imu_rom.motion.coarse import CoarseMotion, block_mean, coarse_motion, moving_mean
from imu_rom.motion.gaps import attitude_between_gaps, bridged_rad
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.inclination import axis_flatness, inclination_rad
from imu_rom.motion.orientation import Attitude, step_rates_rad_s
from imu_rom.motion.tracking import SMALLEST_MOVEMENT_RAD, HingeTrack, fitted_axis
from imu_rom.motion.wearing import worn_part
from imu_rom.settings import AngleSettings

__all__ = ["SegmentTrack", "track_segment"]

Floats = NDArray[np.float64]

# One sensor sees no second segment swing along. Walking shows by heel strikes while the segment swings.
LOOK_S = 2.0
SLOWEST_SWING_RAD_S = np.radians(20.0)
SHOCK_M_S2 = 1.2
# Short, soft steps: a quicker swing with a smaller shock, which is still ten times that of slow exercise.
QUICK_SWING_RAD_S = np.radians(40.0)
SOFT_SHOCK_M_S2 = 0.5
TURN_RAD_S = np.radians(40.0)
# An axis nearer to upright than this leaves gravity little to see the turn by.
SMALLEST_FLATNESS = 0.3


@dataclass(frozen=True)
class SegmentTrack(HingeTrack):
    """Angle of a joint of which one segment keeps still, with arbitrary sign and zero.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        One value a sample, unwrapped.
    axis : HingeAxis
        The axis in the sensor; the still partner's means nothing.
    motion : CoarseMotion
        The sensor and its still partner at about 25 Hz.
    coarse_angle_rad : ndarray of shape (m,)
        Block means of the angle, on the samples of ``motion``.
    heading : RelativeHeading
        None is needed: zero everywhere.
    flatness : ndarray of shape (m,)
        1 where the axis lies level, 0 where it stands upright.
    drift_standard_uncertainty_rad : ndarray of shape (m,)
        How much less sure a tilted axis makes the angle.
    observed : ndarray of bool of shape (m,)
        True where the axis lies level enough for gravity to show the turn.
    facing : float
        Clear, as one axis can't face another way than itself.
    worn_start_s, worn_stop_s : float
        Stretch in which the sensor is worn with one mounting.
    distal_worn : bool
        True where the sensor is on the distal segment.
    faced_by_mounting : bool
        As in `HingeTrack`.
    lean : None
        One sensor does not show how it leans.
    """

    distal_worn: bool = True

    def axes_apart_rad(self, at: NDArray[np.intp]) -> Floats:
        """Nothing: one sensor sees one axis.

        Parameters
        ----------
        at : ndarray of int of shape (k,)
            Samples of ``motion``.

        Returns
        -------
        ndarray of shape (k,)
            Zeros.
        """
        return np.zeros(len(at))

    @property
    def facing_is_clear(self) -> bool:
        """True: one axis can't face another way than itself."""
        return True

    @property
    def moves(self) -> bool:
        """True where the sensor turns by more than sway and noise, which an upright axis would enlarge."""
        worn = (self.motion.time_s >= self.worn_start_s) & (self.motion.time_s <= self.worn_stop_s)
        turn = (self.coarse_angle_rad * float(np.median(self.flatness)))[worn]
        return bool(worn.any() and np.ptp(np.quantile(turn, (0.02, 0.98))) > SMALLEST_MOVEMENT_RAD)

    @property
    def walks(self) -> NDArray[np.bool_]:
        """True while walking or turning round, at the coarse rate, shape (m,)."""
        motion = self.motion
        rate, up, axis = (
            (motion.distal_rate, motion.distal_up, self.axis.distal)
            if self.distal_worn
            else (motion.proximal_rate, motion.proximal_up, self.axis.proximal)
        )
        look, second = (max(2, round(each * motion.rate_hz)) for each in (LOOK_S, 1.0))
        swing = moving_mean((rate @ axis) ** 2, look)
        shock = np.sqrt(moving_mean(motion.shock_m_s2**2, look))
        turn = np.abs(moving_mean(np.einsum("ij,ij->i", rate, up), second))
        steps = (swing > SLOWEST_SWING_RAD_S**2) & (shock > SHOCK_M_S2)
        soft = (swing > QUICK_SWING_RAD_S**2) & (shock > SOFT_SHOCK_M_S2)
        return np.asarray(steps | soft | (turn > TURN_RAD_S))


def track_segment(
    sensor: tuple[Floats, Floats],
    missing: NDArray[np.bool_],
    rate_hz: float,
    settings: AngleSettings,
    *,
    distal_worn: bool,
    attitude_deg: float,
) -> SegmentTrack:
    """Fuse one sensor into the angle of a joint whose other segment keeps still.

    Parameters
    ----------
    sensor : tuple of two ndarrays of shape (n, 3)
        Specific force in m/s^2 and angular rate in rad/s, in the sensor's axes.
    missing : ndarray of bool of shape (n,)
        True where it has no measurement (the samples there are interpolated).
    rate_hz : float
        Sampling rate.
    settings : AngleSettings
        Attitude filter.
    distal_worn : bool
        True where the sensor is on the distal segment.
    attitude_deg : float
        Standard uncertainty of its inclination, which a tilted axis makes larger.

    Returns
    -------
    SegmentTrack
        Angle of the distal against the proximal segment, axis, worn part.
    """
    sensor = (sensor[0], step_rates_rad_s(sensor[1], settings.gyroscope_samples))
    attitude = attitude_between_gaps(*sensor, missing, rate_hz, settings.attitude_filter)
    still = np.broadcast_to(np.zeros(3), sensor[0].shape)
    level = Attitude(np.broadcast_to(np.array([1.0, 0.0, 0.0, 0.0]), (len(missing), 4)), None)
    worn_sensor, partner = (*sensor, attitude), (still, still, level)
    proximal, distal = (partner, worn_sensor) if distal_worn else (worn_sensor, partner)
    motion = coarse_motion(proximal, distal, missing, rate_hz)
    ups = (motion.distal_up, motion.proximal_up) if distal_worn else (motion.proximal_up, motion.distal_up)
    axis = fitted_axis(motion, np.ones(len(motion.missing)))
    start_s, stop_s = _worn(motion, axis.proximal, axis.distal)
    worn = (motion.time_s >= start_s) & (motion.time_s <= stop_s) & ~motion.missing
    if not worn.all():
        axis = fitted_axis(motion, worn.astype(float))
    own = axis.distal if distal_worn else axis.proximal
    flatness = axis_flatness(ups[0], own)
    inside = ups[0][worn] if worn.any() else ups[0]
    reference = np.median(inside, axis=0)
    # turning the proximal segment forwards turns the distal one backwards against it
    angle = np.unwrap(inclination_rad(up_in_sensor(attitude.quaternion), own, reference)) * (1 if distal_worn else -1)
    angle = bridged_rad(angle, missing)
    none, observed = np.zeros(len(flatness)), flatness > SMALLEST_FLATNESS
    tilted = np.sqrt(np.clip(flatness, 1e-3, 1.0) ** -2.0 - 1.0)
    return SegmentTrack(
        angle_rad=angle,
        axis=axis,
        motion=motion,
        coarse_angle_rad=block_mean(angle, motion.block),
        heading=RelativeHeading(none, none, observed),
        flatness=flatness,
        # with the inclination's own part this makes attitude / cos tilt in all
        drift_standard_uncertainty_rad=np.radians(attitude_deg) * tilted,
        observed=observed,
        facing=1.0,
        worn_start_s=start_s,
        worn_stop_s=stop_s,
        distal_worn=distal_worn,
    )


def _worn(motion: CoarseMotion, proximal_axis: Floats, distal_axis: Floats) -> tuple[float, float]:
    """Stretch in which the axis keeps its tilt against gravity; its heading tells nothing, as the person turns."""
    return worn_part(
        tilt_disagreement_rad(motion.proximal_up, motion.distal_up, proximal_axis, distal_axis),
        np.zeros(len(motion.missing)),
        np.zeros(len(motion.missing)),
        motion.missing,
        motion.rate_hz,
    )
