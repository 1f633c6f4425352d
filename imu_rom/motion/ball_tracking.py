"""Two sensors to one angle of a joint that turns about more than one axis: hip, shoulder, wrist, forearm, inversion.

What a hinge gives for nothing must be found here: both segments' frames (`segment_frames`), from the neutral pose and
what the recording offers besides, and the relative heading (`heading_looks`), from the force on the joint's centre,
from postures that come again, from the joint's limits, and from its two axes where it has no third. The angle is the
clinical one (`joint_rotation.motion_angle_deg`); what is not known of frames and heading is carried through it, sample
by sample.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world, quaternion_product
from imu_rom.motion.ball_frames import (
    JointFrames,
    Sought,
    blocks_of,
    find_frames,
    mean_up,
    relative_attitude,
    segment_attitude,
)
from imu_rom.motion.ball_pose import MovementFound, find_movement, steps_taken
from imu_rom.motion.ball_track import BallTrack, FramesAxis
from imu_rom.motion.centre_looks import looks_from_centre
from imu_rom.motion.coarse import CoarseMotion, block_mean, coarse_motion
from imu_rom.motion.gaps import attitude_between_gaps, bridged_rad
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.heading_looks import Drift, Look, looks_of, smooth_looks
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import joint_named
from imu_rom.motion.orientation import Attitude, step_rates_rad_s
from imu_rom.motion.segment_looks import (
    beyond_range_deg,
    range_looks,
    relative_rotation,
    standing_looks,
    two_axis_looks,
)
from imu_rom.motion.stillness import SWAY_RATIO, find_still_stretches
from imu_rom.settings import AngleSettings, PoseSettings

__all__ = ["track_ball"]

Floats = NDArray[np.float64]

# How differently people stand each time, as a turn of one segment against the other about the vertical: feet on the
# ground hold a leg, nothing holds a hanging arm. Common practice, no source.
STANDING_SPREAD_DEG = {"hip": 5.0, "ankle": 5.0, "knee": 5.0}
HANGING_SPREAD_DEG = 20.0
# Both segments stand within this of the pose.
SAME_POSTURE_DEG = 6.0
POSE_LOOK_RAD = np.radians(0.5)
# A filter that estimates no bias leaves all of it as drift.
UNKNOWN_BIAS_RAD_S = np.radians(0.5)
# Past what a living joint can take by this much, a sensor is not worn.
NOT_WORN_DEG = 25.0
NOT_WORN_S = 0.4
# A turn that is known no better than this may be anything.
UNKNOWN_RAD = np.radians(50.0)
UNKNOWN_TURNS_RAD = np.radians([-150.0, -90.0, -30.0, 30.0, 90.0, 150.0])
# How far the axis that a movement in one plane turns about is off the joint's, common practice; for how long.
MAIN_AXIS_RAD = np.radians(6.0)
MAIN_AXIS_S = 60.0
LITTLE_DEG = 3.0
LOOK_SHOWS_RAD = np.radians(30.0)
ROUNDS = 3
PATCHES = 2


@dataclass(frozen=True)
class _Evidence:
    """What the recording shows, before the angle."""

    motion: CoarseMotion
    drift: Drift
    walks: NDArray[np.bool_]
    pose: MovementFound
    sought: Sought
    looks: list[Look]
    worn: NDArray[np.bool_]
    worn_s: tuple[float, float]


def _worn(motion: CoarseMotion, beyond_deg: Floats, pose: MovementFound) -> tuple[float, float]:
    """Go outwards from the pose while the joint stays within a living one's range and no sensor lies on a table."""
    table = np.zeros(len(motion.missing), dtype=bool)
    for each in find_still_stretches(motion, 3.0):
        if min(each.proximal_sway, each.distal_sway) <= SWAY_RATIO:
            table[each.start : each.stop] = True
    bad = ((beyond_deg > NOT_WORN_DEG) | table) & ~motion.missing
    patience = round(NOT_WORN_S * motion.rate_hz)
    ends = []
    for direction in (-1, 1):
        last = index = pose.start if direction < 0 else pose.stop - 1
        broken = 0
        while 0 <= index < len(bad) and broken <= patience:
            if bad[index]:
                broken += 1
            else:
                broken = max(0, broken - 1)
                last = index if not broken else last
            index += direction
        reached = 0 <= index < len(bad)
        ends.append(float(motion.time_s[last]) if reached else (0.0 if direction < 0 else len(bad) / motion.rate_hz))
    return ends[0], ends[1]


def _stands(motion: CoarseMotion, pose: MovementFound, worn: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Still stretches other than the pose in which both segments are inclined as in the pose."""
    found = []
    for each in find_still_stretches(motion, 1.0):
        inside = slice(each.start, each.stop)
        if not worn[inside].all() or (each.start < pose.stop and each.stop > pose.start):
            continue
        alike = all(
            mean_up(up, each.start, each.stop) @ mean_up(up, pose.start, pose.stop)
            > np.cos(np.radians(SAME_POSTURE_DEG))
            for up in (motion.proximal_up, motion.distal_up)
        )
        if alike:
            found.append((each.start, each.stop))
    return found


def _two_axes(sought: Sought) -> tuple[Floats, Floats] | None:
    """Give the axis fixed in the proximal and that fixed in the distal segment, for a joint that has just these two."""
    joint = joint_named(sought.motion.joint)
    if joint.degrees_of_freedom == 3 or len(joint.motions) < 4:
        return None
    return np.array(joint.motions[0].axis(sought.side)), np.array(joint.motions[2].axis(sought.side))


def _final_heading(evidence: _Evidence, frames: JointFrames) -> tuple[RelativeHeading, dict[str, int]]:
    """Heading against that of the pose, from everything that shows it, and how many looks of each kind did."""
    motion, pose, sought = evidence.motion, evidence.pose, evidence.sought
    proximal, distal = frames.attitudes(motion)
    joint = joint_named(sought.motion.joint)
    spread = np.radians(STANDING_SPREAD_DEG.get(joint.name, HANGING_SPREAD_DEG))
    middle = (pose.start + pose.stop) // 2
    looks = [
        looks_of("the neutral pose", motion.time_s[middle : middle + 1], np.array([frames.heading_rad]), POSE_LOOK_RAD),
        *evidence.looks,
        standing_looks(motion, proximal, distal, _stands(motion, pose, evidence.worn), spread),
        range_looks(motion, proximal, distal, evidence.worn, joint, sought.side),
    ]
    heading = smooth_looks(looks, motion.time_s, motion.missing, evidence.drift)
    axes = _two_axes(sought)
    if axes is not None:
        world = axis_world(proximal, axes[0]), axis_world(distal, axes[1])
        constant = looks[0]
        for _ in range(ROUNDS):
            constant = two_axis_looks(motion, *world, float(axes[0] @ axes[1]), heading.angle_rad, evidence.worn)
            heading = smooth_looks([*looks, constant], motion.time_s, motion.missing, evidence.drift)
        looks.append(constant)
    return heading, {each.kind: int(np.sum(each.standard_uncertainty_rad < LOOK_SHOWS_RAD)) for each in looks[1:]}


def _centre(motion: CoarseMotion, usable: NDArray[np.bool_]) -> Look:
    looks = looks_from_centre(motion, usable)
    return looks_of("the joint's centre", looks.time_s, looks.heading_rad, looks.standard_uncertainty_rad)


def _main_axis_looks(motion: CoarseMotion, heading: RelativeHeading) -> Look:
    """One look a while: that a joint of more axes keeps to one is as true at one moment as at the next."""
    every = max(1, round(MAIN_AXIS_S * motion.rate_hz))
    spread = np.where(heading.observed, np.hypot(MAIN_AXIS_RAD, heading.standard_uncertainty_rad), np.inf)[::every]
    return looks_of("the movement's main axis", motion.time_s[::every], heading.angle_rad[::every], spread)


def _evidence(
    motion: CoarseMotion, drift: Drift, sought: Sought, settings: PoseSettings, shown: list[Look]
) -> tuple[_Evidence, JointFrames] | None:
    """Pose, worn part and frames: each is found better once the others are known, so they are found twice."""
    walks = steps_taken(motion)
    centre = _centre(motion, ~motion.missing)
    rough = smooth_looks([centre, *shown], motion.time_s, motion.missing, drift)
    given = None if sought.pose_s is None else blocks_of(motion, sought.pose_s)
    pose = find_movement(
        motion,
        relative_attitude(motion, rough.angle_rad),
        walks,
        given=given,
        shortest_pose_s=settings.shortest_pose_s,
        longest_wait_s=settings.longest_wait_s,
    )
    if pose is None:
        return None
    worn, worn_s = ~motion.missing, (0.0, len(motion.missing) / motion.rate_hz)
    joint = joint_named(sought.motion.joint)
    # hands that tape a sensor on push it as no joint does; before a pose that was found there is little else
    since = np.arange(len(worn)) >= (0 if sought.pose_s is not None else pose.start)
    for _ in range(PATCHES):
        found = find_frames(motion, pose, [centre, *shown], drift, sought)
        if found is None:
            return None
        frames, heading = found
        rotation = relative_rotation(*frames.attitudes(motion), heading.angle_rad)
        beyond_deg = beyond_range_deg(rotation, joint, sought.side)
        # a heading that is not known well bends the joint in the numbers only
        beyond_deg -= 2.0 * np.degrees(heading.standard_uncertainty_rad)
        worn_s = _worn(motion, beyond_deg, pose)
        worn = (motion.time_s >= worn_s[0]) & (motion.time_s <= worn_s[1]) & ~motion.missing
        centre = _centre(motion, worn & since)
    found = find_frames(motion, pose, [centre, *shown], drift, sought)
    if found is None:
        return None
    return _Evidence(motion, drift, walks, pose, sought, [centre, *shown], worn, worn_s), found[0]


def track_ball(
    proximal: tuple[Floats, Floats],
    distal: tuple[Floats, Floats],
    missing: NDArray[np.bool_],
    rate_hz: float,
    settings: AngleSettings,
    pose_settings: PoseSettings,
    sought: Sought,
    main_axis: RelativeHeading | None = None,
) -> BallTrack | None:
    """Fuse two sensors into one clinical angle of the joint between them.

    Parameters
    ----------
    proximal, distal : tuple of two ndarrays of shape (n, 3)
        Specific force in m/s^2 and angular rate in rad/s, each in its sensor's axes.
    missing : ndarray of bool of shape (n,)
        True where either sensor has no measurement (the samples there are interpolated).
    rate_hz : float
        Sampling rate.
    settings : AngleSettings
        Attitude filter.
    pose_settings : PoseSettings
        Limits for the neutral pose.
    sought : Sought
        Which angle, and what is known beforehand.
    main_axis : RelativeHeading, optional
        What the main axis of a movement in one plane shows of the heading, at about 25 Hz (`track_hinge`).

    Returns
    -------
    BallTrack or None
        None where the recording shows neither a neutral pose nor, by a functional movement or a declared mounting,
        which way the segments face.
    """
    attitudes = [
        attitude_between_gaps(
            force,
            step_rates_rad_s(rate, settings.gyroscope_samples),
            missing,
            rate_hz,
            settings.attitude_filter,
        )
        for force, rate in (proximal, distal)
    ]
    motion = coarse_motion((*proximal, attitudes[0]), (*distal, attitudes[1]), missing, rate_hz)
    known = all(each.gyroscope_bias_rad_s is not None for each in attitudes)
    drift = Drift() if known else Drift(rate_rad_s=float(UNKNOWN_BIAS_RAD_S))
    shown = [] if main_axis is None else [_main_axis_looks(motion, main_axis)]
    found = _evidence(motion, drift, sought, pose_settings, shown)
    return None if found is None else _track(attitudes, missing, rate_hz, *found)


def _turned_frame(quaternion: Floats, angle_rad: float) -> Floats:
    """Turn a segment's frame about its upward axis."""
    return quaternion_product(quaternion, np.array([np.cos(angle_rad / 2), 0.0, np.sin(angle_rad / 2), 0.0]))


def _left_open(
    segments: tuple[Floats, Floats], heading: RelativeHeading, frames: JointFrames, sought: Sought, angle_deg: Floats
) -> tuple[Floats, Floats]:
    """Give what the angle feels of what is not known of heading and frames, each turned by its standard uncertainty."""
    proximal, distal = segments

    def felt(turned_proximal: Floats, turned_distal: Floats, turned_heading: Floats) -> Floats:
        rotation = relative_rotation(turned_proximal, turned_distal, turned_heading)
        other = motion_angle_deg(rotation, sought.motion, sought.side)[0]
        return np.asarray((other - angle_deg + 180.0) % 360.0 - 180.0)

    heading_off, frames_off = np.zeros(len(angle_deg)), np.zeros(len(angle_deg))
    for sign in (1.0, -1.0):
        turns = sign * np.minimum(heading.standard_uncertainty_rad, np.pi / 2)
        heading_off += felt(proximal, distal, heading.angle_rad + turns) ** 2 / 2
        both = sign * frames.together_rad
        frames_off += felt(_turned_frame(proximal, both), _turned_frame(distal, both), heading.angle_rad) ** 2 / 2
    # the other frame comes from the heading at the pose: both are off together, by any angle where nothing shows it
    between = frames.between_rad
    off = UNKNOWN_TURNS_RAD if between > UNKNOWN_RAD else np.array([-between, between])
    for turn in off.tolist():
        frames_off += felt(_turned_frame(proximal, turn), distal, heading.angle_rad + turn) ** 2 / len(off)
    return np.sqrt(heading_off), np.sqrt(frames_off)


def _track(
    attitudes: list[Attitude], missing: NDArray[np.bool_], rate_hz: float, evidence: _Evidence, frames: JointFrames
) -> BallTrack:
    motion, sought = evidence.motion, evidence.sought
    heading, counts = _final_heading(evidence, frames)
    rotation = relative_rotation(
        segment_attitude(attitudes[0].quaternion, frames.proximal.matrix),
        segment_attitude(attitudes[1].quaternion, frames.distal.matrix),
        np.interp(np.arange(len(missing)) / rate_hz, motion.time_s, heading.angle_rad),
    )
    angle = np.unwrap(np.radians(motion_angle_deg(rotation, sought.motion, sought.side)[0]))
    angle = bridged_rad(angle, missing)
    segments = frames.attitudes(motion)
    slow = relative_rotation(*segments, heading.angle_rad)
    slow_deg = motion_angle_deg(slow, sought.motion, sought.side)[0]
    heading_deg, frames_deg = _left_open(segments, heading, frames, sought, slow_deg)
    others = [
        each
        for each in joint_named(sought.motion.joint).motions[::2]
        if sought.motion.name not in (each.name, each.opposite)
    ]
    planes = [motion_angle_deg(slow, each, sought.side)[0] for each in others]
    axis = sought.motion.axis(sought.side)
    return BallTrack(
        angle_rad=angle,
        axis=FramesAxis(
            proximal=frames.proximal.in_sensor(axis),
            distal=frames.distal.in_sensor(axis),
            residual_deg=float(np.degrees(frames.between_rad)),
            standard_uncertainty_deg=float(np.degrees(frames.together_rad)),
            inlier_share=frames.quality,
            excitation_rad_s=float(np.std(np.gradient(slow_deg[evidence.worn])) * np.radians(motion.rate_hz)),
            cost=0.0,
        ),
        motion=motion,
        coarse_angle_rad=block_mean(angle, motion.block),
        heading=heading,
        flatness=np.zeros(len(slow_deg)),
        drift_standard_uncertainty_rad=np.radians(np.hypot(heading_deg, frames_deg)),
        observed=np.hypot(heading_deg, frames_deg) < LITTLE_DEG,
        facing=1.0,
        worn_start_s=evidence.worn_s[0],
        worn_stop_s=evidence.worn_s[1],
        sought=sought,
        frames=frames,
        pose=evidence.pose,
        steps=evidence.walks,
        calibration_angle_rad=np.radians(motion_angle_deg(slow, sought.calibration or sought.motion, sought.side)[0]),
        frames_deg=frames_deg,
        heading_deg=heading_deg,
        other_planes_deg=np.stack(planes, axis=1) if planes else np.zeros((len(slow_deg), 0)),
        other_planes=tuple(each.name for each in others),
        looks=counts,
    )
