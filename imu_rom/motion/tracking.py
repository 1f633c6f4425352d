"""Two sensors to a hinge angle over the whole recording: attitude, axis, worn part, heading, fusion.

The axis is fitted twice: first to everything, robustly, which is enough to see from when both sensors were worn; then
to the worn part alone.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.alignment import HingeAxis, estimate_hinge_axis, tilt_disagreement_rad
from imu_rom.motion.angle import axis_world, hinge_angle_rad
from imu_rom.motion.coarse import CoarseMotion, block_mean, coarse_motion
from imu_rom.motion.facing import CENTRE_COST_DIFFERENCE, centre_cost, declared_facing, facing_evidence
from imu_rom.motion.gaps import attitude_between_gaps, bridged_rad
from imu_rom.motion.heading import RelativeHeading, heading_difference_rad, smooth_relative_heading
from imu_rom.motion.hinge_fusion import HingeFusion, fuse_hinge, turning_rad
from imu_rom.motion.leaning import Lean, fit_lean
from imu_rom.motion.movement import locomotion
from imu_rom.motion.orientation import Attitude, step_rates_rad_s
from imu_rom.motion.rocking import axes_apart_rad
from imu_rom.motion.upright_axis import without_upright_drift
from imu_rom.motion.wearing import worn_part
from imu_rom.settings import AngleSettings

__all__ = ["HingeTrack", "fitted_axis", "track_hinge"]

Floats = NDArray[np.float64]

SMALLEST_MOVEMENT_RAD = np.radians(3.0)
STILL_SHARE = 0.03
UNSURE_DEG = 4.0
MOST_LEAN_SAMPLES = 9000
SURE = 2.0
# So much of the time two sensors disagree by as much where it is worth looking for leans once more.
LEAST_LEAN_RAD, LEANING_SHARE = np.radians(1.5), 0.1
HEADING_SPREAD_RAD = np.radians(3.0)


@dataclass(frozen=True)
class HingeTrack:
    """Angle of a hinge-like joint with arbitrary sign and zero.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        One value a sample, unwrapped.
    axis : HingeAxis
        The joint's axis in both sensors.
    motion : CoarseMotion
        Both sensors at about 25 Hz.
    coarse_angle_rad : ndarray of shape (m,)
        Block means of the angle, on the samples of ``motion``.
    heading : RelativeHeading
        On the samples of ``motion``.
    flatness : ndarray of shape (m,)
        1 where the axis lies level, 0 where it stands upright.
    drift_standard_uncertainty_rad : ndarray of shape (m,)
        How far the angle may have drifted.
    observed : ndarray of bool of shape (m,)
        True where gravity or a push across the axis shows the angle.
    facing : float
        How clearly the recording shows that both axes point the same way: unclear below 1.
    worn_start_s, worn_stop_s : float
        Stretch in which both sensors are worn with one mounting.
    faced_by_mounting : bool
        True where the recording leaves it unclear whether both axes point the same way, and declared mountings tell it.
    lean : Lean or None
        How both sensors lean with gravity, where that was taken out of the angle.
    """

    angle_rad: Floats
    axis: HingeAxis
    motion: CoarseMotion
    coarse_angle_rad: Floats
    heading: RelativeHeading
    flatness: Floats
    drift_standard_uncertainty_rad: Floats
    observed: NDArray[np.bool_]
    facing: float
    worn_start_s: float
    worn_stop_s: float
    faced_by_mounting: bool = field(default=False, kw_only=True)
    lean: Lean | None = field(default=None, kw_only=True)

    @property
    def facing_is_clear(self) -> bool:
        """True where both axes are known to point the same way, or one segment keeps still and it can not matter."""
        return self.faced_by_mounting or self.facing_is_seen

    @property
    def facing_is_seen(self) -> bool:
        """True where the recording alone shows it, whatever mounting was declared."""
        rates = [
            float(np.sqrt(np.mean((rate @ axis) ** 2)))
            for rate, axis in (
                (self.motion.proximal_rate, self.axis.proximal),
                (self.motion.distal_rate, self.axis.distal),
            )
        ]
        return self.facing >= 1.0 or min(rates) < STILL_SHARE * max(rates)

    @cached_property
    def walks(self) -> NDArray[np.bool_]:
        """True while walking or turning round, at the coarse rate, shape (m,)."""
        walks = locomotion(self.motion, self.axis.proximal, self.axis.distal)
        walks.flags.writeable = False
        return walks

    def axes_apart_rad(self, at: NDArray[np.intp]) -> Floats:
        """Tell how far apart both sensors see the joint's axis, as they do where they rock on what lies beneath.

        Parameters
        ----------
        at : ndarray of int of shape (k,)
            Samples of ``motion``.

        Returns
        -------
        ndarray of shape (k,)
            Radians.
        """
        axes = self.axis.proximal, self.axis.distal
        return axes_apart_rad(self.motion, axes, self.heading, self.lean, at)

    @property
    def moves(self) -> bool:
        """True where the joint moves by more than sway and noise."""
        inside = (self.motion.time_s >= self.worn_start_s) & (self.motion.time_s <= self.worn_stop_s)
        angle = self.coarse_angle_rad[inside] if inside.any() else self.coarse_angle_rad
        return bool(np.ptp(np.quantile(angle, (0.02, 0.98))) > SMALLEST_MOVEMENT_RAD)


def track_hinge(
    proximal: tuple[Floats, Floats],
    distal: tuple[Floats, Floats],
    missing: NDArray[np.bool_],
    rate_hz: float,
    settings: AngleSettings,
    mountings: tuple[Floats | None, Floats | None] = (None, None),
) -> HingeTrack:
    """Fuse two sensors into the angle of the hinge between them.

    Parameters
    ----------
    proximal, distal : tuple of two ndarrays of shape (n, 3)
        Specific force in m/s^2 and angular rate in rad/s, each in its sensor's axes.
    missing : ndarray of bool of shape (n,)
        True where either sensor has no measurement (the samples there are interpolated).
    rate_hz : float
        Sampling rate.
    settings : AngleSettings
        Attitude filter and heading.
    mountings : tuple of two ndarrays of shape (3, 3), or None
        Declared, from sensor to segment: asked only where the recording does not show which way the axes face.

    Returns
    -------
    HingeTrack
        Angle, axis, worn part.
    """
    rates = (
        step_rates_rad_s(proximal[1], settings.gyroscope_samples),
        step_rates_rad_s(distal[1], settings.gyroscope_samples),
    )
    attitudes = (
        attitude_between_gaps(proximal[0], rates[0], missing, rate_hz, settings.attitude_filter),
        attitude_between_gaps(distal[0], rates[1], missing, rate_hz, settings.attitude_filter),
    )
    motion = coarse_motion((*proximal, attitudes[0]), (*distal, attitudes[1]), missing, rate_hz)
    axis = fitted_axis(motion, np.ones(len(motion.missing)))
    difference, flatness = _heading_seen(motion, axis)
    start_s, stop_s = worn_part(
        tilt_disagreement_rad(motion.proximal_up, motion.distal_up, axis.proximal, axis.distal),
        difference,
        flatness,
        motion.missing,
        motion.rate_hz,
    )
    worn = (motion.time_s >= start_s) & (motion.time_s <= stop_s) & ~motion.missing
    if not worn.all():
        axis = fitted_axis(motion, worn.astype(float))
    hinge, facing, declared = _facing(motion, axis, worn, settings, mountings)
    if hinge.axis.standard_uncertainty_deg > UNSURE_DEG and worn.any():
        # few movements in one plane fit many axes: the one across the plane may join both sensors better
        across = fitted_axis(motion, worn.astype(float), in_plane=True)
        other, other_facing, other_declared = _facing(motion, across, worn, settings, mountings)
        costs = [centre_cost(motion, each.axis, each.heading, worn) for each in (hinge, other)]
        if costs[1] < costs[0] - CENTRE_COST_DIFFERENCE:
            hinge, facing, declared = other, other_facing, other_declared
    lean, leans_rad = None, np.zeros(len(motion.missing))
    if worn.any():
        hinge, lean, leans_rad = _without_lean(motion, hinge, worn, settings)
    fusion = _fused(attitudes, rates, motion, hinge, missing, worn, rate_hz, settings)
    angle = fusion.angle_rad + np.interp(np.arange(len(missing)) / rate_hz, motion.time_s, leans_rad)
    angle = bridged_rad(angle, missing)
    return HingeTrack(
        angle_rad=angle,
        axis=hinge.axis,
        motion=motion,
        coarse_angle_rad=block_mean(angle, motion.block),
        heading=hinge.heading,
        flatness=hinge.flatness,
        drift_standard_uncertainty_rad=fusion.drift_standard_uncertainty_rad,
        observed=fusion.observed,
        facing=facing,
        worn_start_s=start_s,
        worn_stop_s=stop_s,
        faced_by_mounting=declared,
        lean=lean,
    )


@dataclass(frozen=True)
class _Hinge:
    """An axis in both sensors with the relative heading that belongs to it."""

    axis: HingeAxis
    heading: RelativeHeading
    flatness: Floats


def _hinge(motion: CoarseMotion, axis: HingeAxis, worn: NDArray[np.bool_], settings: AngleSettings) -> _Hinge:
    difference, flatness = _heading_seen(motion, axis)
    return _Hinge(axis, _smoothed(difference, flatness, worn, motion.missing, motion.rate_hz, settings), flatness)


def _facing(
    motion: CoarseMotion,
    axis: HingeAxis,
    worn: NDArray[np.bool_],
    settings: AngleSettings,
    mountings: tuple[Floats | None, Floats | None],
) -> tuple[_Hinge, float, bool]:
    """Choose between an axis and its twin, and tell how clear that is and whether mountings had to decide."""
    turned = fitted_axis(motion, worn.astype(float), (axis.proximal, -axis.distal))
    pair, twin = (_hinge(motion, each, worn, settings) for each in (axis, turned))
    facing = facing_evidence(motion, (pair.axis, pair.heading), (twin.axis, twin.heading), worn)
    # what the recording shows clearly stands: a mounting that contradicts it is for the caller to refuse
    declared = declared_facing((axis.proximal, axis.distal), mountings) if abs(facing) < 1.0 else 0
    return (pair if (declared or facing) >= 0 else twin), abs(facing), declared != 0


def _without_lean(
    motion: CoarseMotion, hinge: _Hinge, worn: NDArray[np.bool_], settings: AngleSettings
) -> tuple[_Hinge, Lean | None, Floats]:
    """Find how both sensors lean with gravity; give the axis without it, the leans and what they add to the angle.

    A robust axis may hold to the poses of one half of the recording, and the leans don't show from there: then it is
    fitted once more, to all poses.
    """
    found = _lean_from(motion, hinge, worn, settings)
    tilt = tilt_disagreement_rad(motion.proximal_up, motion.distal_up, hinge.axis.proximal, hinge.axis.distal)[worn]
    if found is None and np.mean(np.abs(tilt) > LEAST_LEAN_RAD) > LEANING_SHARE:
        start = (hinge.axis.proximal, hinge.axis.distal)
        loose = fitted_axis(motion, worn.astype(float), start, loose=True)
        found = _lean_from(motion, _hinge(motion, loose, worn, settings), worn, settings)
    return found or (hinge, None, np.zeros(len(worn)))


def _lean_from(
    motion: CoarseMotion, hinge: _Hinge, worn: NDArray[np.bool_], settings: AngleSettings
) -> tuple[_Hinge, Lean, Floats] | None:
    """Find the leans from one axis; None where they explain nothing."""
    # leans are as slow as the pose, so a few looks a second do for an hour
    step = max(1, len(worn) // MOST_LEAN_SAMPLES)
    few, rate_hz = slice(None, None, step), motion.rate_hz / step

    def heading_rad(difference: Floats, flatness: Floats) -> Floats:
        return _smoothed(difference, flatness, worn[few], motion.missing[few], rate_hz, settings).angle_rad

    lean = fit_lean(
        (motion.proximal_quaternion[few], motion.distal_quaternion[few]),
        (hinge.axis.proximal, hinge.axis.distal),
        worn[few].astype(float),
        rate_hz,
        heading_rad,
        hinge.heading.angle_rad if step == 1 else None,
    )
    if not lean.explains:
        return None
    ups = (motion.proximal_up, motion.distal_up)
    turns_rad = lean.correction_rad(*ups)
    known_rad = lean.standard_uncertainty_rad(*ups)[worn]
    if np.std(turns_rad[worn]) < SURE * np.sqrt(np.mean(known_rad**2)):
        return None
    axis = replace(hinge.axis, proximal=lean.proximal_axis, distal=lean.distal_axis)
    return _hinge(motion, axis, worn, settings), lean, turns_rad


def _fused(
    attitudes: tuple[Attitude, Attitude],
    rates: tuple[Floats, Floats],
    motion: CoarseMotion,
    hinge: _Hinge,
    missing: NDArray[np.bool_],
    worn: NDArray[np.bool_],
    rate_hz: float,
    settings: AngleSettings,
) -> HingeFusion:
    axes = (hinge.axis.proximal, hinge.axis.distal)
    heading_rad = np.interp(np.arange(len(missing)) / rate_hz, motion.time_s, hinge.heading.angle_rad)
    start = hinge_angle_rad(motion.proximal_quaternion, motion.distal_quaternion, *axes, hinge.heading.angle_rad)
    turned = turning_rad(attitudes, rates, axes, heading_rad, missing, rate_hz)
    fusion = fuse_hinge(motion, axes, turned, start, worn, _drift_rad_s(attitudes, motion, settings))
    return without_upright_drift(fusion, motion, axes, worn)


def _drift_rad_s(attitudes: tuple[Attitude, Attitude], motion: CoarseMotion, settings: AngleSettings) -> Floats:
    """How fast the gyroscopes may drift apart: what the filter knows of their biases, at most what is usual."""
    usual = float(np.radians(settings.heading_drift_deg_s))
    squared = np.zeros(len(motion.missing))
    for attitude in attitudes:
        known = attitude.bias_standard_uncertainty_rad_s
        if known is None:
            return np.full(len(squared), usual)
        squared += known[motion.block // 2 :: motion.block][: len(squared)] ** 2
    return np.asarray(np.minimum(np.sqrt(squared), usual))


def _smoothed(
    difference: Floats,
    flatness: Floats,
    worn: NDArray[np.bool_],
    missing: NDArray[np.bool_],
    rate_hz: float,
    settings: AngleSettings,
) -> RelativeHeading:
    return smooth_relative_heading(
        difference,
        flatness,
        worn,
        missing,
        rate_hz,
        time_constant_s=settings.heading_time_constant_s,
        drift_rad_s=float(np.radians(settings.heading_drift_deg_s)),
        spread_rad=HEADING_SPREAD_RAD,
    )


def _heading_seen(motion: CoarseMotion, axis: HingeAxis) -> tuple[Floats, Floats]:
    return heading_difference_rad(
        axis_world(motion.proximal_quaternion, axis.proximal), axis_world(motion.distal_quaternion, axis.distal)
    )


def fitted_axis(
    motion: CoarseMotion,
    weight: Floats,
    start: tuple[Floats, Floats] | None = None,
    *,
    in_plane: bool = False,
    loose: bool = False,
) -> HingeAxis:
    """Fit the joint's axis to both sensors' movement.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    weight : ndarray of shape (m,)
        Say of each block, 0 to 1; blocks without data have none.
    start : tuple of ndarray, optional
        Proximal and distal direction from which to start; None tries many.
    in_plane : bool
        True where the axis is taken to lie across the plane in which each sensor turns.
    loose : bool
        True where the sensors may lean with gravity on a soft layer.

    Returns
    -------
    HingeAxis
        The axis with its spread.
    """
    # wobble of the flesh would make standing look like movement
    return estimate_hinge_axis(*motion.steady, weight * ~motion.missing, start=start, in_plane=in_plane, loose=loose)
