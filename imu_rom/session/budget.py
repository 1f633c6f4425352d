"""The uncertainty budget of one exercise: settings, plan, where the sensors were worn, what the recording shows."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import ABSENT
from imu_rom.motion.joints import JOINTS
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.soft_tissue import PLACEMENTS, Placement, placement_in_words
from imu_rom.motion.tilt_error import growth_with_excursion, tilt_error_deg
from imu_rom.motion.tracking import HingeTrack
from imu_rom.motion.uncertainty import Budget, FromRecording, angle_budget
from imu_rom.recording.model import Recording
from imu_rom.settings import UncertaintySettings

__all__ = ["clock_standard_uncertainty_s", "hinge_budget", "placements_worn"]

Floats = NDArray[np.float64]
# Enough for a root mean square, however long the recording.
MOST_LOOKS = 4000
# A stretch between slips with fewer of them is too short to show how much sensors rock.
LEAST_LOOKS_SHARE = 0.1


def placements_worn(
    recording: Recording, points: tuple[str, str], joint: str | None = None, planned: Mapping[str, str] | None = None
) -> tuple[Placement, Placement]:
    """Tell where both sensors were worn.

    Parameters
    ----------
    recording : Recording
        With each sensor's own word for its placement.
    points : tuple of str
        Tracked points of the proximal and the distal sensor; ``ABSENT`` for one that is not worn, which can't wobble.
    joint : str, optional
        Joint between them, whose segments serve where no word says anything.
    planned : mapping of str to str, optional
        The plan's placements by tracked point, which come first.

    Returns
    -------
    tuple of Placement
        Proximal and distal.
    """
    named = JOINTS.get(joint or "")
    segments = ("", "") if named is None else (named.proximal_segment, named.distal_segment)
    proximal, distal = (
        PLACEMENTS["rigid"]
        if point == ABSENT
        else placement_in_words((planned or {}).get(point), recording.sensor(point).placement, point, segment)
        for point, segment in zip(points, segments, strict=True)
    )
    return proximal, distal


def clock_standard_uncertainty_s(recording: Recording, track: HingeTrack) -> float | None:
    """Say how well the two sensors' clocks are known against each other while worn.

    Parameters
    ----------
    recording : Recording
        With how its clocks were brought together, where they were separate.
    track : HingeTrack
        For the worn part.

    Returns
    -------
    float or None
        Root mean square of the standard uncertainty over the worn part, in seconds; None with one clock.
    """
    if recording.clocks is None:
        return None
    time_s = np.linspace(track.worn_start_s, track.worn_stop_s, 200)
    return float(np.sqrt(np.mean(recording.clocks.standard_uncertainty_s(time_s) ** 2)))


def hinge_budget(
    track: HingeTrack,
    angle_deg: Floats,
    pose: NeutralPose | None,
    sets: Sequence[RepetitionSet],
    settings: UncertaintySettings,
    placements: tuple[Placement, Placement],
    *,
    own_sources: Mapping[str, str] | None = None,
    zero_deg: float | None = None,
    still_deg: float | None = None,
    clock_s: float | None = None,
    slips_s: Sequence[float] = (),
) -> Budget:
    """Put the budget of a hinge's angle together.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    angle_deg : ndarray of shape (m,)
        Joint angle at the coarse rate, from its zero.
    pose : NeutralPose or None
        Neutral pose; None where the zero is arbitrary.
    sets : sequence of RepetitionSet
        Sets, within which the budget holds; none takes all that was worn.
    settings : UncertaintySettings
        Sizes that don't come from the recording.
    placements : tuple of Placement
        Where the sensors were worn.
    own_sources : mapping of str to str, optional
        Names of settings that the clinic measured itself, and where each comes from.
    zero_deg : float, optional
        Standard uncertainty of the zero; None takes the setting for a neutral pose.
    still_deg : float, optional
        Standard uncertainty of the other segment's stillness where one sensor is worn; None where both are.
    clock_s : float, optional
        Standard uncertainty of the offset between the two sensors' clocks; None with one clock.
    slips_s : sequence of float
        When a sensor slipped, in ascending order.

    Returns
    -------
    Budget
        Its terms.
    """
    motion = track.motion
    worn = (motion.time_s >= track.worn_start_s) & (motion.time_s <= track.worn_stop_s) & ~motion.missing
    inside = np.zeros_like(worn)
    for one in sets:
        inside |= (motion.time_s >= one.start_s) & (motion.time_s <= one.stop_s)
    inside = inside & worn if (inside & worn).any() else worn
    if not inside.any():
        inside = ~motion.missing
    excursion = max((abs(each.end_range_deg) for one in sets for each in one.repetitions), default=None)
    if excursion is None:
        excursion = float(np.ptp(angle_deg[inside])) / 2
    stood = inside if pose is None else slice(pose.start, pose.stop)
    tilt = [
        tilt_error_deg(up[inside], up[stood].mean(axis=0), axis, settings.accelerometer_bias_m_s2)
        for up, axis in (
            (motion.proximal_up, track.axis.proximal),
            (motion.distal_up, track.axis.distal),
        )
    ]
    drift = np.degrees(track.drift_standard_uncertainty_rad[inside])
    rate = np.gradient(angle_deg)[inside] * motion.rate_hz
    return angle_budget(
        settings,
        FromRecording(
            axis_deg=track.axis.standard_uncertainty_deg,
            heading_deg=min(float(np.sqrt(np.mean(drift**2))), 180.0),
            tilt_growth=growth_with_excursion(np.hypot(*tilt), angle_deg[inside]),
            excursion_deg=excursion,
            rate_deg_s=float(np.sqrt(np.mean(rate**2))),
            clock_s=clock_s,
            apart_deg=_apart_deg(track, inside, stood, slips_s),
        ),
        placements,
        own_sources,
        has_zero=pose is not None,
        zero_deg=zero_deg,
        still_deg=still_deg,
    )


def _apart_deg(
    track: HingeTrack, inside: NDArray[np.bool_], stood: NDArray[np.bool_] | slice, slips_s: Sequence[float]
) -> float:
    """Root mean square of how far apart both sensors see the axis, in the stretch between slips that fits it best.

    The axis is that of one stretch: from the others it looks turned by the slip, which has doubts of its own. What was
    taken out of the angle as the sensors' lean counts as well, from where the zero is: it was fitted to the same
    disagreement across the axis, by a law that foam need not keep.
    """
    motion = track.motion
    looks = np.flatnonzero(inside)
    if not len(looks):
        return 0.0
    looks = looks[:: max(1, len(looks) // MOST_LOOKS)]
    squared = track.axes_apart_rad(looks) ** 2
    if track.lean is not None:
        taken_out = track.lean.correction_rad(motion.proximal_up[looks], motion.distal_up[looks])
        at_zero = taken_out
        if isinstance(stood, slice):
            at_zero = track.lean.correction_rad(motion.proximal_up[stood], motion.distal_up[stood])
        squared += (taken_out - at_zero.mean()) ** 2
    stretch = np.searchsorted(np.asarray(slips_s), motion.time_s[looks])
    counts, sums = np.bincount(stretch), np.bincount(stretch, weights=squared)
    # of many short stretches the longest
    long = counts >= min(LEAST_LOOKS_SHARE * len(looks), counts.max())
    return float(np.degrees(np.sqrt(np.min(sums[long] / counts[long]))))
