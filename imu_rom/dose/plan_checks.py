"""What a plan can't mean: values not served and contradictions, each named by its field; knows no files."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.dose.one_sensor import one_sensor_faults
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_fault import FieldPath, PlanFault, nearest
from imu_rom.dose.sites import SITES
from imu_rom.dose.stage_checks import calendar_faults, day_faults, own_range_faults, share_faults
from imu_rom.dose.surface_checks import surface_faults, zero_faults
from imu_rom.errors import PlanError
from imu_rom.motion.joints import JOINTS, joint_motion, needs_frames
from imu_rom.motion.mounting import mounting_rotation
from imu_rom.motion.soft_tissue import PLACEMENTS, placement_in_words

__all__ = ["plan_faults"]


def plan_faults(plan: Plan, *, published: bool = False) -> list[PlanFault]:
    """All that a plan of the right form still can't mean.

    Parameters
    ----------
    plan : Plan
        A plan whose fields have the right kinds of value, shares of the own range turned into angles.
    published : bool
        True for a published programme, which is nobody's yet: no own range was measured.

    Returns
    -------
    list of PlanFault
        In no particular order; empty where the plan can be followed.
    """
    return [
        *_head_faults(plan),
        *day_faults(plan),
        *calendar_faults(plan),
        *own_range_faults(plan),
        *share_faults(plan, published=published),
        *_stage_faults(plan),
    ]


def _head_faults(plan: Plan) -> Iterator[PlanFault]:
    if plan.tendon_site not in SITES:
        yield PlanFault(
            ("plan", "tendon_site"),
            f"must be one of {', '.join(SITES)}",
            repr(plan.tendon_site),
            nearest(plan.tendon_site, SITES),
        )
    names = [stage.name for stage in plan.stages]
    if plan.current_stage not in names:
        yield PlanFault(
            ("plan", "stage"),
            f"must be the name of a stage of the plan ({', '.join(names)})",
            repr(plan.current_stage),
            nearest(plan.current_stage, names),
        )
    if plan.bids_subject is None and plan.patient is not None:
        dropped = [letter for letter in plan.patient if letter.isalnum() and not letter.isascii()]
        if not plan.subject or dropped:
            yield PlanFault(
                ("plan", "patient"),
                "must hold plain letters or digits, because recordings are matched by them",
                repr(plan.patient),
                "or give bids_subject",
            )


def _stage_faults(plan: Plan) -> Iterator[PlanFault]:
    stage_names = Counter(stage.name for stage in plan.stages)
    for index, stage in enumerate(plan.stages):
        if stage_names[stage.name] > 1:
            yield PlanFault(("stage", index, "name"), "must differ from stage to stage", f"{stage.name!r} twice")
        names = Counter(each.name for each in stage.exercises)
        for number, exercise in enumerate(stage.exercises):
            place = ("stage", index, "exercise", number)
            if names[exercise.name] > 1:
                yield PlanFault(
                    (*place, "name"), "must differ from exercise to exercise of a stage", f"{exercise.name!r} twice"
                )
            for fault in _exercise_faults(exercise):
                yield replace(fault, path=(*place, *fault.path))


def _exercise_faults(exercise: Exercise) -> Iterator[PlanFault]:
    yield from _held_faults(exercise)
    yield from one_sensor_faults(exercise)
    yield from _sensor_faults(exercise)
    yield from _window_faults(exercise)
    if exercise.joint not in JOINTS:
        yield PlanFault(("joint",), f"must be one of {', '.join(JOINTS)}", repr(exercise.joint))
        return
    if exercise.joint == "knee" and exercise.knee is not None:
        yield PlanFault(("knee",), "must be left out for the knee, whose angle is measured", repr(exercise.knee))
    yield from zero_faults(exercise)
    yield from surface_faults(exercise)
    motions = {each.name: each for each in JOINTS[exercise.joint].motions}
    if exercise.motion not in motions:
        yield PlanFault(
            ("motion",), f"must be a motion of the {exercise.joint} ({' or '.join(motions)})", repr(exercise.motion)
        )
        return
    motion, calibration = motions[exercise.motion], exercise.calibration_movement
    # about any other axis a movement doesn't tell which way of a hinge is positive; of segments it shows the front
    frames = needs_frames(exercise.joint, exercise.motion)
    if calibration is not None and calibration not in (motions if frames else (motion.name, motion.opposite)):
        yield PlanFault(
            ("calibration_movement",),
            f"must be a motion of the {exercise.joint} ({' or '.join(motions)})"
            if frames
            else f"must be the exercise's motion or its opposite ({motion.name} or {motion.opposite})",
            repr(calibration),
        )
    yield from _second_pose_faults(exercise)
    yield from _range_faults(exercise)


def _second_pose_faults(exercise: Exercise) -> Iterator[PlanFault]:
    pose = exercise.second_pose
    if pose is None:
        return
    motions = {each.name: each for each in JOINTS[exercise.joint].motions}
    if exercise.sensors != "both" or not needs_frames(exercise.joint, exercise.motion):
        yield PlanFault(
            ("second_pose",),
            f"must be left out for {exercise.motion} of the {exercise.joint}"
            + (", whose axis the movement itself shows" if exercise.sensors == "both" else " by one sensor"),
            "{ ... }",
        )
    elif pose.motion not in motions:
        yield PlanFault(
            ("second_pose", "motion"),
            f"must be a motion of the {exercise.joint} ({' or '.join(motions)})",
            repr(pose.motion),
            nearest(pose.motion, motions),
        )
    elif motions[pose.motion].right_axis[1] != 0.0:
        yield PlanFault(
            ("second_pose", "motion"),
            "must tilt the limb, because gravity shows nothing of a turn about an upright line",
            repr(pose.motion),
        )


def _sensor_faults(exercise: Exercise) -> Iterator[PlanFault]:
    if exercise.proximal == exercise.distal != ABSENT:
        yield PlanFault(("distal",), "must be another sensor than proximal", repr(exercise.distal))
    for field in ("mounting", "placement"):
        for point in getattr(exercise, field):
            if point not in exercise.tracked_points:
                yield PlanFault(
                    (field, point),
                    f"must be for a sensor of the exercise ({' or '.join(exercise.tracked_points)})",
                    repr(point),
                    at_name=True,
                )
    for point, text in exercise.placement.items():
        if placement_in_words(text) is PLACEMENTS["skin"] and text != "skin":
            yield PlanFault(("placement", point), f"must name one of {', '.join(PLACEMENTS)}", repr(text))
    for point, text in exercise.mounting.items():
        try:
            mounting_rotation(text, exercise.side)
        except PlanError as error:
            yield PlanFault(
                ("mounting", point), error.what.removeprefix("mounting ").rpartition(", got ")[0], repr(text)
            )


def _numbers(values: Iterable[float]) -> str:
    return "[" + ", ".join(f"{each:g}" for each in values) + "]"


def _window_faults(exercise: Exercise) -> Iterator[PlanFault]:
    window, limit_deg, start_deg = exercise.end_range_deg, exercise.limit_deg, exercise.start_deg
    if window is not None:
        low, high = window
        # written so that nan fails too
        if not (math.isfinite(low) and low < high):
            yield PlanFault(
                ("end_range_deg",), "must be [low, high] with low below high (high may be inf)", _numbers(window)
            )
            return
        if start_deg is not None and start_deg >= low:
            yield PlanFault(
                ("start_deg",), f"must lie below the end_range_deg window (below {low:g})", f"{start_deg:g}"
            )
        if limit_deg is not None and limit_deg <= low:
            yield PlanFault(
                ("limit_deg",), f"must lie above the end_range_deg window {_numbers(window)}", f"{limit_deg:g}"
            )
        elif limit_deg is not None and math.isfinite(high) and limit_deg < high:
            yield PlanFault(
                ("limit_deg",), f"must not lie within the end_range_deg window {_numbers(window)}", f"{limit_deg:g}"
            )
    elif limit_deg is not None and start_deg is not None and start_deg >= limit_deg:
        yield PlanFault(("start_deg",), f"must lie below limit_deg (below {limit_deg:g})", f"{start_deg:g}")
    yield from _seconds_faults(exercise)


def _held_faults(exercise: Exercise) -> Iterator[PlanFault]:
    if not exercise.is_held:
        return
    if not exercise.tempo.end_range_hold_s:
        yield PlanFault(
            ("kind",), "must come with tempo_s = { end_range_hold = ... }, the time to hold", repr(exercise.kind)
        )
    if exercise.ends_on_floor:
        yield PlanFault(("end_range",), f"must be 'angle' for kind = {exercise.kind!r}", "'floor'")


def _seconds_faults(exercise: Exercise) -> Iterator[PlanFault]:
    seconds = exercise.past_threshold_s_per_set
    if seconds is None:
        return
    field = ("past_threshold_s_per_set",)
    threshold = exercise.compression_threshold
    if not seconds[0] < seconds[1]:
        yield PlanFault(field, "must be [low, high] in seconds with low below high", _numbers(seconds))
    elif threshold is None:
        yield PlanFault(
            field, "must come with a compression_threshold", _numbers(seconds), "say past which angle the time counts"
        )
    elif seconds[0] > 0:
        deepest = {
            "end_range_deg": math.inf if exercise.end_range_deg is None else exercise.end_range_deg[1],
            "limit_deg": math.inf if exercise.limit_deg is None else exercise.limit_deg,
        }
        for name, deg in deepest.items():
            if deg <= threshold.deg:
                yield PlanFault(
                    field,
                    f"must start at 0, because {name} ends at {deg:g} and compression_threshold lies at "
                    f"{threshold.deg:g}",
                    _numbers(seconds),
                )
                return


def _range_faults(exercise: Exercise) -> Iterator[PlanFault]:
    low, high = joint_motion(exercise.joint, exercise.motion).possible_range_deg
    angles: dict[FieldPath, float | None] = {
        ("start_deg",): exercise.start_deg,
        ("limit_deg",): exercise.limit_deg,
        ("neutral_deg",): exercise.neutral_deg,
        ("compression_threshold", "deg"): None
        if exercise.compression_threshold is None
        else exercise.compression_threshold.deg,
    }
    if exercise.end_range_deg is not None:
        for index, edge in enumerate(exercise.end_range_deg):
            angles["end_range_deg", index] = edge if math.isfinite(edge) else None
    for path, deg in angles.items():
        if deg is not None and not low <= deg <= high:
            yield PlanFault(
                path,
                f"must lie in what {exercise.joint} {exercise.motion} can reach, {low:g} to {high:g} deg",
                f"{deg:g}",
            )
