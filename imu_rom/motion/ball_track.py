"""One clinical angle of a joint that turns about more than one axis, with what a session asks of a tracked angle."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.alignment import HingeAxis
from imu_rom.motion.ball_frames import JointFrames, Sought
from imu_rom.motion.ball_pose import MovementFound
from imu_rom.motion.tracking import HingeTrack

__all__ = ["BallTrack", "FramesAxis"]

Floats = NDArray[np.float64]


class FramesAxis(HingeAxis):
    """The motion's axis in both sensors, as segment frames give it.

    Parameters
    ----------
    proximal, distal : ndarray of shape (3,)
        Unit vectors in each sensor's axes, with the motion's own sign.
    residual_deg : float
        Standard uncertainty of one frame's turn against the other.
    standard_uncertainty_deg : float
        Of the turn of both frames together.
    inlier_share : float
        Quality of the frames.
    excitation_rad_s : float
        Root mean square of the angle's rate while worn.
    cost : float
        0: nothing was fitted.
    """

    @property
    def quality(self) -> float:
        """From 0 (the recording does not show how the sensors sit) to 1."""
        return self.inlier_share


@dataclass(frozen=True)
class BallTrack(HingeTrack):
    """One angle of a joint of two or three axes, with what a session asks of a `HingeTrack`.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        One value a sample, positive in the motion, about 0 in the neutral pose, unwrapped.
    axis : HingeAxis
        The motion's axis in both sensors; its uncertainty, residual and quality are those of the frames.
    motion : CoarseMotion
        Both sensors at about 25 Hz.
    coarse_angle_rad : ndarray of shape (m,)
        Block means of the angle, on the samples of ``motion``.
    heading : RelativeHeading
        On the samples of ``motion``; its standard uncertainty counts from the pose.
    flatness : ndarray of shape (m,)
        0: how much of the heading's uncertainty the angle feels is in the next one.
    drift_standard_uncertainty_rad : ndarray of shape (m,)
        What heading and frames together leave open in the angle.
    observed : ndarray of bool of shape (m,)
        True where that is little.
    facing : float
        1: frames have a front.
    worn_start_s, worn_stop_s : float
        Stretch in which both sensors are worn with one mounting.
    sought : Sought
        Which angle this is.
    frames : JointFrames
        How both sensors sit.
    pose : MovementFound
        The pose and the movement that the frames come from.
    steps : ndarray of bool of shape (m,)
        True while walking or turning.
    calibration_angle_rad : ndarray of shape (m,)
        Angle of the calibration movement, which may be another one than the motion.
    frames_deg : ndarray of shape (m,)
        Standard uncertainty of the angle from how the sensors sit.
    heading_deg : ndarray of shape (m,)
        Standard uncertainty of the angle from the relative heading.
    other_planes_deg : ndarray of shape (m, k)
        Angles of the joint's other motions.
    other_planes : tuple of str
        Their names.
    looks : dict of str to int
        How many looks of each kind showed the heading.
    faced_by_mounting : bool
        As in `HingeTrack`.
    lean : None
        Leans are not sought.
    """

    sought: Sought
    frames: JointFrames
    pose: MovementFound
    steps: NDArray[np.bool_]
    calibration_angle_rad: Floats
    frames_deg: Floats
    heading_deg: Floats
    other_planes_deg: Floats
    other_planes: tuple[str, ...]
    looks: dict[str, int]

    def axes_apart_rad(self, at: NDArray[np.intp]) -> Floats:
        """Nothing: a joint that turns about other axes too parts the directions itself, without any rocking.

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
    def walks(self) -> NDArray[np.bool_]:
        """True while walking or turning round, shape (m,)."""
        return self.steps

    @property
    def facing_is_clear(self) -> bool:
        """Always: frames have a front."""
        return True

    @property
    def unsure_deg(self) -> float:
        """Root mean square of what heading and frames leave open in the angle, after the calibration movement."""
        first = self.pose.stop if self.pose.movement is None else self.pose.movement.stop
        later = self.motion.time_s > self.motion.time_s[min(first, len(self.motion.time_s) - 1)]
        later &= self.motion.time_s <= self.worn_stop_s
        left_open = np.degrees(self.drift_standard_uncertainty_rad[later])
        return float(np.sqrt(np.mean(left_open**2))) if len(left_open) else float(np.degrees(np.pi))

    @property
    def method(self) -> str:
        """How the sensors were tied to the joint, in words."""
        ways = {self.frames.proximal.method: None, self.frames.distal.method: None}
        shown = ", ".join(name for name, count in self.looks.items() if count)
        return f"segment frames from {' and '.join(ways)}; relative heading from {shown or 'the neutral pose alone'}"
