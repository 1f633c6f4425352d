"""Whether the zero held: later poses compared with the first, drift shared out, slips located."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.alignment import tilt_disagreement_rad
from imu_rom.motion.angle import axis_world
from imu_rom.motion.heading import heading_difference_rad
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.segment_tracking import SegmentTrack
from imu_rom.motion.slips import find_axis_steps, level_step, level_trend
from imu_rom.motion.tracking import HingeTrack
from imu_rom.session.later_stands import Stand, angle_between_deg, later_stands, moved_at_the_end
from imu_rom.session.levels import Levels, levels_of
from imu_rom.session.result import LaterPose, SensorSlip
from imu_rom.settings import Settings

__all__ = ["ZeroWatch", "watch_zero"]

Floats = NDArray[np.float64]

# Near the worn part's ends hands are at work.
HANDLING_S = 5.0
# A slip's own time: the repetition under way then has no zero at all.
AROUND_SLIP_S = 2.0
# The sensor whose inclination changed by this much more than the other's is the one that slipped.
CLEARLY = 1.5
SMALLEST_TURN_DEG = 2.0
LOOK_BESIDE_S = 15.0
NEAREST_STAND_S = 120.0
# A drift is one where the repetitions move with it by at least this share, and it is this sure.
DRIFT_SHARE = 0.5
SURE = 2.0
# A step of the repetitions' level that explains the later pose: as large, as sure, and no further off than this.
STEP_SHARE = 0.6
STEP_SURE = 4.0
STEP_OFF_DEG = 2.5
STEP_OFF_SHARE = 0.25
# Without any later pose nobody's habit moves start and end range alike by so much, so surely.
UNEXPLAINED_DEG = 5.0
UNEXPLAINED_SURE = 6.0


@dataclass(frozen=True)
class ZeroWatch:
    """What became of the zero.

    Parameters
    ----------
    poses : tuple of LaterPose
        Later still stands in the posture of the neutral pose.
    slips : tuple of SensorSlip
        Slips found.
    knots_s, knots_deg : ndarray of shape (k,)
        Angle that the zero has moved to, linear between these times; empty where it is not corrected.
    undecided : tuple of tuple
        (code, start_s, stop_s) in which end ranges can't be decided.
    doubts : tuple of tuple of float
        (start_s, stop_s, u_deg) of further standard uncertainty of the zero.
    ambiguous : tuple of float or None
        (start_s, stop_s, difference_deg) where a slip or another stance explains the difference alike.
    drift_deg : float or None
        What was shared out over the time up to the last pose.
    """

    poses: tuple[LaterPose, ...] = ()
    slips: tuple[SensorSlip, ...] = ()
    knots_s: Floats = field(default_factory=lambda: np.empty(0))
    knots_deg: Floats = field(default_factory=lambda: np.empty(0))
    undecided: tuple[tuple[str, float, float], ...] = ()
    doubts: tuple[tuple[float, float, float], ...] = ()
    ambiguous: tuple[float, float, float] | None = None
    drift_deg: float | None = None

    @property
    def corrects(self) -> bool:
        """True where the zero was moved anywhere."""
        return bool(len(self.knots_deg)) and bool(np.any(self.knots_deg != 0))

    def zero_deg(self, time_s: Floats) -> Floats:
        """Give the angle that the zero has moved to.

        Parameters
        ----------
        time_s : ndarray of shape (n,)
            Times.

        Returns
        -------
        ndarray of shape (n,)
            Degrees, to be taken off the angle.
        """
        if not self.corrects:
            return np.zeros(len(time_s))
        return np.asarray(np.interp(time_s, self.knots_s, self.knots_deg))


def watch_zero(
    track: HingeTrack,
    angle_deg: Floats,
    pose: NeutralPose,
    sets: Sequence[RepetitionSet],
    settings: Settings,
    alike: Sequence[Sequence[RepetitionSet]] = (),
) -> ZeroWatch:
    """Compare later poses with the first one, and look for slips of the sensors.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    angle_deg : ndarray of shape (m,)
        Joint angle at the coarse rate, with its sign and zero.
    pose : NeutralPose
        The first pose.
    sets : sequence of RepetitionSet
        Sets as found with that zero.
    settings : Settings
        All tunables.
    alike : sequence of sequence of RepetitionSet, optional
        The sets of each exercise, where there are several: another exercise may start and end elsewhere, so only sets
        of the same one are compared.

    Returns
    -------
    ZeroWatch
        Poses, slips, how the zero moved, and what can't be decided.
    """
    stands = later_stands(track, angle_deg, pose, sets, settings)
    u_deg = math.hypot(settings.uncertainty.own_standing_deg, settings.uncertainty.attitude_deg)
    largest_deg = settings.pose.largest_difference_deg
    begin_s = float(track.motion.time_s[pose.stop - 1])
    # one sensor shows no axis that could part between two
    slips = [] if isinstance(track, SegmentTrack) else _axis_slips(track, pose, stands, begin_s)
    levels = levels_of(alike if len(alike) > 1 else (sets,))
    ambiguous = None
    moved, agreed_s = moved_at_the_end(stands, begin_s, largest_deg, [each.time_s for each in slips])
    if moved:
        difference_deg = float(np.median([each.difference_deg for each in moved]))
        slip = _level_slip(track, pose, moved, levels, (agreed_s, moved[0].start_s), difference_deg, u_deg)
        if slip is not None:
            slips = sorted([*slips, slip], key=lambda each: each.time_s)
            moved = []
    drift_deg = None if slips else _drift(stands, levels, begin_s, u_deg)
    if moved and drift_deg is None:
        ambiguous = (agreed_s, moved[0].start_s, float(np.median([each.difference_deg for each in moved])))
    if not (slips or stands) and (step := _unexplained(levels)) is not None:
        ambiguous = step
    return _composed(track, stands, slips, ambiguous, drift_deg, begin_s, u_deg, largest_deg)


def _axis_slips(track: HingeTrack, pose: NeutralPose, stands: list[Stand], begin_s: float) -> list[SensorSlip]:
    motion, axis = track.motion, track.axis
    heading, flatness = heading_difference_rad(
        axis_world(motion.proximal_quaternion, axis.proximal), axis_world(motion.distal_quaternion, axis.distal)
    )
    worn = (motion.time_s >= track.worn_start_s) & (motion.time_s <= track.worn_stop_s)
    steps = find_axis_steps(
        tilt_disagreement_rad(motion.proximal_up, motion.distal_up, axis.proximal, axis.distal),
        heading,
        flatness,
        worn,
        motion.missing,
        motion.rate_hz,
    )
    found = []
    for each in (replace(step, time_s=step.time_s + motion.first_s) for step in steps):
        if not begin_s < each.time_s < track.worn_stop_s - HANDLING_S:
            continue
        before = [one.difference_deg for one in stands if one.stop_s < each.time_s][-1:] or [0.0]
        after = [one.difference_deg for one in stands if one.start_s > each.time_s][:1]
        along = after[0] - before[0] if after else 0.0
        found.append(
            SensorSlip(
                time_s=each.time_s,
                earliest_s=each.time_s,
                latest_s=each.time_s,
                sensor=_which(track, pose, stands, each.time_s),
                size_deg=float(np.linalg.norm([each.tilt_deg, each.heading_deg, along])),
                evidence="axis",
                new_zero_s=None,
            )
        )
    return found


def _which(track: HingeTrack, pose: NeutralPose, stands: list[Stand], time_s: float) -> str | None:
    """Tell which sensor's inclination changed over a slip: from pose to pose, else from one stand to the next.

    Where nobody stood near it, just before and after.
    """
    motion = track.motion
    poses = [(pose.start, pose.stop), *((each.start, each.stop) for each in stands if each.stop_s < time_s)]
    again = [(each.start, each.stop) for each in stands if each.start_s > time_s]
    if again:
        return _turned(track, slice(*poses[-1]), slice(*again[0]))
    rate = motion.rate_hz
    at, beside = round((time_s - motion.first_s) * rate), round(LOOK_BESIDE_S * rate)
    sides = [slice(max(0, at - beside), max(1, at - round(rate))), slice(at + round(rate), at + beside)]
    stretches = [(each.stretch.start, each.stretch.stop) for each in pose.candidates if each.stretch.sways]
    before = [each for each in [(pose.start, pose.stop), *stretches] if each[1] <= at and each[0] >= pose.start]
    after = [each for each in stretches if each[0] >= at and motion.time_s[each[1] - 1] <= track.worn_stop_s]
    near = round(NEAREST_STAND_S * rate)
    if before and after and after[0][0] - at < near and at - max(before)[1] < near:
        sides = [slice(*max(before)), slice(*min(after))]
    return _turned(track, *sides)


def _turned(track: HingeTrack, before: slice, after: slice) -> str | None:
    turns = [
        angle_between_deg(up[before].mean(axis=0), up[after].mean(axis=0))
        for up in (track.motion.proximal_up, track.motion.distal_up)
    ]
    if max(turns) < SMALLEST_TURN_DEG or max(turns) < CLEARLY * min(turns):
        return None
    return "proximal" if turns[0] > turns[1] else "distal"


def _level_slip(
    track: HingeTrack,
    pose: NeutralPose,
    moved: list[Stand],
    levels: Levels,
    between_s: tuple[float, float],
    difference_deg: float,
    u_deg: float,
) -> SensorSlip | None:
    """Find the slip about the joint's own axis that repetitions and later standing show alike."""
    step = level_step(levels.start_deg, levels.end_deg)
    if step is None:
        return None
    around_s = levels.time_s[step.after - 1 : step.after + 1]
    earliest_s, latest_s = max(float(around_s[0]), between_s[0]), min(float(around_s[1]), between_s[1])
    if earliest_s > latest_s:
        return None
    off = abs(step.size_deg - difference_deg)
    if (
        step.size_deg * difference_deg <= 0
        or abs(step.size_deg) < max(STEP_SHARE * abs(difference_deg), STEP_SURE * step.standard_uncertainty_deg)
        or off
        > max(STEP_OFF_DEG, STEP_OFF_SHARE * abs(difference_deg), 2 * math.hypot(u_deg, step.standard_uncertainty_deg))
    ):
        return None
    return SensorSlip(
        time_s=(earliest_s + latest_s) / 2,
        earliest_s=earliest_s,
        latest_s=latest_s,
        sensor=_turned(track, slice(pose.start, pose.stop), slice(moved[0].start, moved[0].stop)),
        size_deg=abs(difference_deg),
        evidence="repetitions",
        new_zero_s=None,
    )


def _unexplained(levels: Levels) -> tuple[float, float, float] | None:
    """Find a step of start and end range alike that no later pose explains: between which times, by how much."""
    step = level_step(levels.start_deg, levels.end_deg)
    if step is None or abs(step.size_deg) < max(UNEXPLAINED_DEG, UNEXPLAINED_SURE * step.standard_uncertainty_deg):
        return None
    around_s = levels.time_s[step.after - 1 : step.after + 1]
    return float(around_s[0]), float(around_s[1]), step.size_deg


def _drift(stands: list[Stand], levels: Levels, begin_s: float, u_deg: float) -> float | None:
    """Give how far the zero had crept at the last pose, where the repetitions crept with it."""
    if not stands:
        return None
    time_s = np.array([(each.start_s + each.stop_s) / 2 - begin_s for each in stands])
    off_deg = np.array([each.difference_deg for each in stands])
    # a straight line from the first pose on, by least squares
    slope = float(time_s @ off_deg / (time_s @ time_s))
    total_deg, u_total_deg = slope * time_s[-1], u_deg * float(time_s[-1] / np.sqrt(time_s @ time_s))
    trend, u_trend = level_trend(levels.time_s, levels.start_deg, levels.end_deg)
    crept_deg, u_crept_deg = trend * time_s[-1], u_trend * float(time_s[-1])
    if (
        abs(total_deg) < SURE * u_total_deg
        or crept_deg * np.sign(total_deg) < DRIFT_SHARE * abs(total_deg)
        or abs(crept_deg) < SURE * u_crept_deg
    ):
        return None
    return float(total_deg)


def _composed(
    track: HingeTrack,
    stands: list[Stand],
    slips: list[SensorSlip],
    ambiguous: tuple[float, float, float] | None,
    drift_deg: float | None,
    begin_s: float,
    u_deg: float,
    largest_deg: float,
) -> ZeroWatch:
    end_s = float(track.motion.time_s[-1])
    uses = dict.fromkeys(stands, "compared")
    knots: list[tuple[float, float]] = []
    undecided: list[tuple[str, float, float]] = []
    doubts: list[tuple[float, float, float]] = []
    placed: list[SensorSlip] = []
    if drift_deg is not None:
        last = stands[-1]
        knots += [(begin_s, 0.0), ((last.start_s + last.stop_s) / 2, drift_deg)]
        uses.update(dict.fromkeys(stands, "drift shared out"))
        # the last pose's own error, and what creeping unevenly leaves of the way between the poses
        doubts.append((begin_s, end_s, math.hypot(u_deg, drift_deg / 4)))
        if abs(drift_deg) > largest_deg:
            undecided.append(("zero-drift", begin_s, end_s))
    if ambiguous is not None:
        undecided.append(("slip-or-stance", ambiguous[0], end_s))
        doubts.append((ambiguous[0], end_s, abs(ambiguous[2])))
        uses.update({each: "undecided" for each in stands if each.start_s >= ambiguous[1]})
    for number, slip in enumerate(slips):
        until_s = slips[number + 1].earliest_s if number + 1 < len(slips) else end_s
        behind = [each for each in stands if slip.latest_s < each.start_s < until_s]
        zero = float(np.mean([each.difference_deg for each in behind])) if behind else (knots[-1][1] if knots else 0.0)
        knots += [(slip.earliest_s, knots[-1][1] if knots else 0.0), (slip.latest_s + 1e-3, zero), (until_s, zero)]
        uses.update(dict.fromkeys(behind, "new zero"))
        if behind:
            undecided.append(("slip", slip.earliest_s - AROUND_SLIP_S, slip.latest_s + AROUND_SLIP_S))
            doubts.append((slip.earliest_s, until_s, u_deg))
        else:
            undecided.append(("slip", slip.earliest_s - AROUND_SLIP_S, until_s))
            doubts.append((slip.earliest_s, until_s, max(slip.size_deg, u_deg)))
        placed.append(
            SensorSlip(**{**vars(slip), "new_zero_s": (behind[0].start_s, behind[0].stop_s) if behind else None})
        )
    return ZeroWatch(
        poses=tuple(
            LaterPose(
                start_s=each.start_s,
                stop_s=each.stop_s,
                difference_deg=each.difference_deg,
                standard_uncertainty_deg=u_deg,
                use=use if use != "compared" or abs(each.difference_deg) > largest_deg else "agrees",
            )
            for each, use in uses.items()
        ),
        slips=tuple(placed),
        knots_s=np.array([each[0] for each in knots]),
        knots_deg=np.array([each[1] for each in knots]),
        undecided=tuple(undecided),
        doubts=tuple(doubts),
        ambiguous=ambiguous,
        drift_deg=drift_deg,
    )
