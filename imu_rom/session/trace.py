"""The joint angle over the whole recording as people and files get it: angle, uncertainty, phase."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.tracking import HingeTrack
from imu_rom.motion.uncertainty import NOTHING_KNOWN_DEG, Budget, sample_standard_uncertainty_deg
from imu_rom.recording.model import Recording
from imu_rom.session.result import AngleTrace

__all__ = ["angle_trace"]

Floats = NDArray[np.float64]
SETUP, NEUTRAL, CALIBRATION, BETWEEN = range(4)


def angle_trace(
    recording: Recording,
    track: HingeTrack,
    angle_deg: Floats,
    budget: Budget,
    pose: NeutralPose | None,
    sets: Sequence[RepetitionSet],
    doubts: Sequence[tuple[float, float, float]] = (),
) -> AngleTrace:
    """Put together the angle, its uncertainty and the phase of every sample.

    Parameters
    ----------
    recording : Recording
        For the times of its samples.
    track : HingeTrack
        Tracked angle, for heading and worn part.
    angle_deg : ndarray of shape (n,)
        Joint angle with its sign and zero.
    budget : Budget
        Constant parts of the uncertainty.
    pose : NeutralPose or None
        Neutral pose.
    sets : sequence of RepetitionSet
        Sets found, in time order.
    doubts : sequence of tuple of float, optional
        (start_s, stop_s, u_deg) of further standard uncertainty of the zero.

    Returns
    -------
    AngleTrace
        One value a sample.
    """
    motion = track.motion
    sample_s = np.asarray(recording.time_s)
    worn = (motion.time_s >= track.worn_start_s) & (motion.time_s <= track.worn_stop_s)
    drift_rad = track.drift_standard_uncertainty_rad
    if pose is None and worn.any():
        # a drift counts from where the recording began; an arbitrary zero is as far from there as the whole is
        drift_rad = np.maximum(drift_rad, np.abs(drift_rad - np.mean(drift_rad[worn])))
    coarse_u, coarse_shared = sample_standard_uncertainty_deg(
        budget,
        np.interp(motion.time_s, sample_s, angle_deg),
        motion.rate_hz,
        drift_rad=drift_rad,
        missing=motion.missing,
        worn=worn,
        clock_s=None if recording.clocks is None else recording.clocks.standard_uncertainty_s(motion.time_s),
    )
    for start_s, stop_s, u_deg in doubts:
        inside = (motion.time_s >= start_s) & (motion.time_s <= stop_s)
        coarse_u[inside] = np.minimum(np.hypot(coarse_u[inside], u_deg), NOTHING_KNOWN_DEG)
    sample_u, sample_shared = (np.interp(sample_s, motion.time_s, each) for each in (coarse_u, coarse_shared))
    # a track of a part of the recording says nothing about the rest
    unseen = (sample_s < motion.first_s) | (sample_s > float(motion.time_s[-1]) + 2.0 / motion.rate_hz)
    sample_u[unseen], sample_shared[unseen] = NOTHING_KNOWN_DEG, NOTHING_KNOWN_DEG
    phase = np.full(len(sample_s), BETWEEN, dtype=np.int16)
    begin_s = track.worn_start_s
    spans: list[tuple[int, float, float]] = []
    if pose is not None:
        begin_s = float(motion.time_s[pose.start])
        spans.append((NEUTRAL, begin_s, float(motion.time_s[pose.stop - 1])))
        if pose.calibration is not None:
            calibration = pose.calibration
            first_s, last_s = (float(motion.time_s[each]) for each in (calibration.start, calibration.stop))
            spans.append((CALIBRATION, first_s, last_s))
            begin_s = min(begin_s, first_s)
    phase[(sample_s < begin_s) | (sample_s > track.worn_stop_s)] = SETUP
    spans += [(BETWEEN + number, each.start_s, each.stop_s) for number, each in enumerate(sets, start=1)]
    for index, start_s, stop_s in spans:
        first, last = np.searchsorted(sample_s, (start_s, stop_s)).tolist()
        phase[first : last + 1] = index
    return AngleTrace(
        time_s=sample_s,
        angle_deg=angle_deg,
        standard_uncertainty_deg=sample_u,
        zero_standard_uncertainty_deg=sample_shared,
        phase=phase,
        phase_names=("setup", "neutral", "calibration", "between", *(f"set {n + 1}" for n in range(len(sets)))),
    )
