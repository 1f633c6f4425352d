"""What the analysis noticed and the reader of its result should know."""

from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import OwnUncertainty, Plan
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.ball_track import BallTrack
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Recording
from imu_rom.session.ball import ball_findings
from imu_rom.session.result import ExerciseResult
from imu_rom.settings import UncertaintySettings

__all__ = [
    "analysis_findings",
    "check_clipping",
    "in_time",
    "own_uncertainty_findings",
    "stage_findings",
    "track_findings",
]

NAMES = {"repetitions": "repetitions", "hold": "holds", "stretch": "stretches"}
POOR_QUALITY = 0.3
LARGEST_UNSEEN_SHARE = 0.2
MANY_DEG = 10.0


def in_time(finding: Finding) -> tuple[float, str, str]:
    """Give the order of findings: by time, what is about the whole recording first.

    Parameters
    ----------
    finding : Finding
        Any.

    Returns
    -------
    tuple
        Sorts as it should.
    """
    return (-1.0 if finding.start_s is None else finding.start_s, finding.code, finding.sentence)


def check_clipping(
    recording: Recording,
    exercise: Exercise,
    sets: Sequence[RepetitionSet],
    track: HingeTrack,
    longest_s: float,
) -> None:
    """Refuse a recording whose sensor stuck at its full scale within a set.

    Parameters
    ----------
    recording : Recording
        With its clipping findings.
    exercise : Exercise
        For the two sensors concerned.
    sets : sequence of RepetitionSet
        As found.
    track : HingeTrack
        For where walking begins: clipping may have broken a set off, so all until then counts as part of it.
    longest_s : float
        Longest time that is let pass, summed over a set.

    Raises
    ------
    CannotAnswerError
        A set holds more.
    """
    clipping = [
        each
        for each in recording.findings
        if each.code == "clipping" and each.start_s is not None and each.stop_s is not None
    ]
    if not clipping:
        return
    walking_s = track.motion.time_s[track.walks]
    for number, one in enumerate(sets, start=1):
        later = walking_s[walking_s > one.stop_s]
        until_s = float(later[0]) if len(later) else track.worn_stop_s
        for point in exercise.tracked_points:
            clipped = [
                (max(each.start_s or 0.0, one.start_s), min(each.stop_s or 0.0, until_s))
                for each in clipping
                if each.sensor == point
            ]
            clipped = [(start_s, stop_s) for start_s, stop_s in clipped if stop_s > start_s]
            total_s = sum(stop_s - start_s for start_s, stop_s in clipped)
            if total_s > longest_s:
                raise CannotAnswerError(
                    f"the sensor on {point!r} stuck at its full scale for {total_s:.2f} s of set {number}, from "
                    f"{clipped[0][0]:.1f} s on",
                    where=recording.label,
                    do="set the sensor to a larger range and record again",
                )


def track_findings(track: HingeTrack) -> list[Finding]:
    """Say how well the movement shows the joint.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.

    Returns
    -------
    list of Finding
        Facing unseen, or known from the mounting alone; poor axis; axis upright, so that the angle drifts.
    """
    if isinstance(track, BallTrack):
        return ball_findings(track)
    found = []
    if track.faced_by_mounting and not track.facing_is_seen:
        found.append(
            Finding(
                "faced-by-mounting",
                "caution",
                "Nothing in the recording shows which way both sensors face, so the declared mounting alone tells it: "
                "with either sensor the other way round, the angle would be the sum of both segments' inclinations.",
            )
        )
    if not track.facing_is_clear:
        found.append(
            Finding(
                "facing-unseen",
                "problem",
                "The recording hardly shows which way both sensors face: the angle may be the sum of both segments' "
                "inclinations instead of their difference. A few steps walked, or a declared mounting, would tell.",
            )
        )
    if track.axis.quality < POOR_QUALITY:
        found.append(
            Finding(
                "axis-poorly-seen",
                "caution",
                f"The movement shows the joint's axis poorly (quality {track.axis.quality:.2f} of 1): the joint moved "
                "little, or not as a hinge.",
            )
        )
    time_s = track.motion.time_s
    worn = (time_s >= track.worn_start_s) & (time_s <= track.worn_stop_s)
    # what a gap hides has a finding of its own
    worn &= ~track.motion.missing
    unseen = worn & ~track.observed
    if worn.any() and unseen.sum() > LARGEST_UNSEEN_SHARE * worn.sum():
        largest = float(np.degrees(np.max(track.drift_standard_uncertainty_rad[worn])))
        found.append(
            Finding(
                "axis-upright",
                "problem" if largest > MANY_DEG else "caution",
                f"The joint's axis stood upright for {unseen.sum() / track.motion.rate_hz:.0f} s, where gravity "
                "hardly shows the angle: it may drift there, with a standard uncertainty of up to "
                f"{f'{largest:.1f}' if largest < 1.0 else f'{min(largest, 180.0):.0f}'} degrees.",
                float(time_s[unseen][0]),
                float(time_s[unseen][-1]),
            )
        )
    return found


def analysis_findings(track: HingeTrack, pose: NeutralPose, result: ExerciseResult) -> list[Finding]:
    """Say what was noticed about pose, sets and repetitions.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    pose : NeutralPose
        As chosen.
    result : ExerciseResult
        The exercise's answer.

    Returns
    -------
    list of Finding
        Other postures passed over; interrupted sets joined; number of sets other than prescribed.
    """
    time_s = track.motion.time_s
    found = [
        Finding(
            "other-posture",
            "caution",
            f"An earlier still stretch from {time_s[each.stretch.start]:.1f} to {time_s[each.stretch.stop - 1]:.1f} s, "
            f"{abs(np.degrees(each.level_rad - pose.level_rad)):.0f} degrees away, was taken for another posture (such "
            f"as sitting): the zero is the pose straight before the calibration movement, from "
            f"{time_s[pose.start]:.1f} to {time_s[pose.stop - 1]:.1f} s.",
            float(time_s[each.stretch.start]),
            float(time_s[each.stretch.stop - 1]),
        )
        for each in pose.other_postures
    ]
    if pose.calibration is None and result.zero.source == "auto":
        found.append(
            Finding(
                "pose-unconfirmed",
                "caution",
                f"No calibration movement follows the neutral pose from {time_s[pose.start]:.1f} to "
                f"{time_s[pose.stop - 1]:.1f} s, so nothing but keeping still marks it: check that the person stood in "
                "the pose then.",
                float(time_s[pose.start]),
                float(time_s[pose.stop - 1]),
            )
        )
    for one in result.comparison.sets:
        found += [
            Finding(
                "interrupted-set",
                "note",
                f"Set {one.number} was interrupted for {stop_s - start_s:.0f} s and counted as one.",
                start_s,
                stop_s,
            )
            for start_s, stop_s in one.interruptions
        ]
    done, asked = len(result.comparison.sets), result.exercise.sets
    if done != asked and not (result.allotment is not None and result.allotment.is_undecided):
        found.append(
            Finding(
                "other-number-of-sets",
                "note",
                f"{result.comparison.complete} of {result.comparison.prescribed_repetitions} prescribed "
                f"{NAMES[result.exercise.kind]} "
                f"were found in {done} set{'' if done == 1 else 's'} instead of {asked}.",
            )
        )
    return found


def stage_findings(written: Plan, applied: Plan) -> list[Finding]:
    """Say which stage a recording was compared with, where that is another than the plan's current one.

    Parameters
    ----------
    written : Plan
        As the plan is written.
    applied : Plan
        As it held when the recording was made, or as the user said.

    Returns
    -------
    list of Finding
        One note, or nothing.
    """
    if applied.current_stage == written.current_stage:
        return []
    return [
        Finding(
            "another-stage",
            "note",
            f"Compared with the plan's stage {applied.current_stage!r}, which held on the recording's day or was asked "
            f"for; the plan's current stage is {written.current_stage!r}.",
        )
    ]


def own_uncertainty_findings(own: OwnUncertainty | None) -> list[Finding]:
    """Say which parts of the uncertainty are the clinic's own, and where each comes from.

    Parameters
    ----------
    own : OwnUncertainty or None
        As the plan has it.

    Returns
    -------
    list of Finding
        One note, or nothing where the plan says nothing.
    """
    if own is None or not own.parts:
        return []
    units = {each.name: str(each.metadata["unit"]) for each in fields(UncertaintySettings)}
    endings = {"deg": "_deg", "m/s^2": "_m_s2"}
    said = ", ".join(
        f"{name.removesuffix(endings.get(units[name], '')).replace('_', ' ')} {value:g}{units[name] and ' '}"
        f"{units[name]} ({own.sources[name]})"
        for name, value in own.parts.items()
    )
    return [Finding("own-uncertainty", "note", f"Parts of the standard uncertainty are the clinic's own: {said}.")]
