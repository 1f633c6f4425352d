"""What a recording shows without a plan: the angle of a joint over time, and where both sensors kept still."""

import numpy as np

from imu_rom.motion.stillness import find_still_stretches
from imu_rom.recording.model import Recording
from imu_rom.session.budget import clock_standard_uncertainty_s, hinge_budget, placements_worn
from imu_rom.session.findings import in_time, track_findings
from imu_rom.session.result import AngleMeasurement, StillStretch, ZeroPose
from imu_rom.session.trace import angle_trace
from imu_rom.session.tracked import alignment_found, hinge_track, within_a_turn_deg
from imu_rom.session.zero import check_pose_is_measured, neutral_pose, still_stretch, zero_pose
from imu_rom.settings import Settings

__all__ = ["measure_angle", "still_stretches"]


def measure_angle(
    recording: Recording,
    proximal: str,
    distal: str,
    *,
    neutral: tuple[float, float] | str | None = "auto",
    settings: Settings | None = None,
) -> AngleMeasurement:
    """Measure a hinge-like joint's angle without a plan.

    Parameters
    ----------
    recording : Recording
        What was measured.
    proximal, distal : str
        Tracked points of the two sensors.
    neutral : "auto", tuple of float, or None
        Found, given as (start_s, stop_s), or none: then the zero is arbitrary.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    AngleMeasurement
        Angle over time. Without a plan nothing says which way is positive: the sign is arbitrary.

    Raises
    ------
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The joint does not move, or the neutral pose that was asked for can't be found.
    """
    settings = settings or Settings()
    track = hinge_track(recording, proximal, distal, settings, must_move=True)
    pose = None
    zero: ZeroPose | None = None
    if neutral is not None:
        given = None if isinstance(neutral, str) else neutral
        pose = neutral_pose(track, given, settings.pose, needs_calibration=False)
        check_pose_is_measured(pose, track, recording.gaps)
        zero = zero_pose(
            track, pose, 1, source="auto" if given is None else "given", meaning="the neutral pose", pose_deg=0.0
        )
    worn = (track.motion.time_s >= track.worn_start_s) & (track.motion.time_s <= track.worn_stop_s)
    level = pose.level_rad if pose else float(np.median(track.coarse_angle_rad[worn]))
    # without a pose nothing says where a turn begins: the angle stays unwound
    angle_deg = within_a_turn_deg(track.angle_rad, level) if pose else np.degrees(track.angle_rad - level)
    coarse_deg = np.degrees(track.coarse_angle_rad - level)
    placements = placements_worn(recording, (proximal, distal))
    clock_s = clock_standard_uncertainty_s(recording, track)
    budget = hinge_budget(track, coarse_deg, pose, (), settings.uncertainty, placements, clock_s=clock_s)
    return AngleMeasurement(
        trace=angle_trace(recording, track, angle_deg, budget, pose, ()),
        zero=zero,
        alignment=alignment_found(track, 1, "none", pose),
        sign_known=False,
        budget=budget,
        findings=tuple(sorted([*recording.findings, *track_findings(track)], key=in_time)),
    )


def still_stretches(
    recording: Recording, proximal: str, distal: str, *, settings: Settings | None = None
) -> tuple[StillStretch, ...]:
    """List the stretches in which two sensors keep still, with their inclinations.

    Parameters
    ----------
    recording : Recording
        What was measured.
    proximal, distal : str
        Tracked points of the two sensors.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    tuple of StillStretch
        In time order; nothing is said about the joint.
    """
    settings = settings or Settings()
    track = hinge_track(recording, proximal, distal, settings)
    return tuple(
        still_stretch(track, each, None, "" if each.sways else "nothing sways, as on a table", could=each.sways)
        for each in find_still_stretches(track.motion, settings.pose.shortest_pose_s)
    )
