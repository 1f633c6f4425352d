"""A plan in plain sentences: what it asks for, and what the uncertainty of the angle will not be able to decide."""

from collections.abc import Iterator

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.prescription import prescribed_time_per_set, window_ends_deg
from imu_rom.dose.sites import tendon_site
from imu_rom.dose.zero import OWN_STANDING, zero_meaning
from imu_rom.motion.joints import joint_motion
from imu_rom.settings import UncertaintySettings
from imu_rom.wording.figures import plural, thing
from imu_rom.wording.prescription_text import (
    asked_sets,
    asked_window,
    declared_setting,
    frequency,
    how_known,
    is_at,
    left_out,
    load_in_words,
    past_threshold,
    tempo_phases,
)
from imu_rom.wording.undecided_text import not_decidable

__all__ = ["asked_for", "describe_plan", "not_decidable"]


def describe_plan(plan: Plan, u_deg: float, uncertainty: UncertaintySettings | None = None) -> list[str]:
    """Say what a plan asks for, and what will stay undecided.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.
    u_deg : float
        Combined standard uncertainty of the joint angle in degrees.
    uncertainty : UncertaintySettings, optional
        Parts of it, for exercises whose zero is not the usual one; None takes the defaults.

    Returns
    -------
    list of str
        Plain sentences, each ending with a full stop.
    """
    return [*asked_for(plan), *not_decidable(plan, u_deg, uncertainty)]


def asked_for(plan: Plan) -> list[str]:
    """Say what a plan asks for.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.

    Returns
    -------
    list of str
        Plain sentences about the plan, its tendon site and the exercises of the stage that applies.
    """
    person = f" for {plan.patient}" if plan.patient else ""
    subject = f" (recordings of BIDS subject {plan.subject})" if plan.subject else ""
    sentences = [f"Plan {plan.title!r}{person}{subject}, tendon site {plan.tendon_site}, stage {_stage(plan.stage)}."]
    others = [_stage(each) for each in plan.stages if each.name != plan.current_stage]
    if others:
        sentences.append(f"Stages of the plan that do not apply: {', '.join(others)}.")
    site = tendon_site(plan.tendon_site)
    together = f", more so with {site.together_with}" if site.together_with else ""
    sentences.append(
        f"At this site {site.joint} {site.motion} compresses the tendon, against: {site.compressed_against.text}"
        f"{together} {how_known(site.compressed_against)}."
    )
    sentences.append(f"Customary early limit: {site.early_limit.text} {how_known(site.early_limit)}.")
    for exercise in plan.stage.exercises:
        sentences += _exercise(exercise)
        if (exercise.joint, exercise.motion) != (site.joint, site.motion):
            sentences.append(
                f"Look again: {exercise.name} counts {exercise.joint} {exercise.motion} as positive, but this site is "
                f"compressed by {site.joint} {site.motion}."
            )
    if plan.study is not None:
        angle = plan.study.primary_threshold_deg
        about = "each exercise's compressive angle" if angle is None else f"{angle:g} deg"
        sentences.append(
            f"Of a study, declared on {plan.study.declared_on.isoformat()}: its main answer is about the time past "
            f"{about}."
        )
    return sentences


def _stage(stage: Stage) -> str:
    return f"{stage.name!r}" + (f" (from {stage.from_date.isoformat()})" if stage.from_date else "")


def _exercise(exercise: Exercise) -> Iterator[str]:
    motion = joint_motion(exercise.joint, exercise.motion)
    often = frequency(exercise)
    yield (
        f"Exercise {exercise.name}: {asked_sets(exercise)} of {exercise.side} {exercise.joint} {exercise.motion} "
        f"({motion.in_words}), {_worn(exercise)}{f', {often}' if often else ''}."
    )
    if not exercise.angle_is_known:
        yield (
            "No segment is said to keep still (still_segment), so one sensor shows repetitions and their times; no "
            "depth will be judged."
        )
    tempo = tempo_phases(exercise)
    if tempo:
        yield f"Tempo: {tempo}."
    yield from _held(exercise)
    if exercise.rest_s is not None:
        yield f"Rest between sets: {exercise.rest_s:g} s."
    yield _zero(exercise)
    yield from _angles(exercise)
    yield from _threshold(exercise)
    declared = "; ".join(filter(None, (load_in_words(exercise), declared_setting(exercise))))
    if declared:
        yield f"Declared, not measured: {declared}."
    yield _sign(exercise)
    decide = exercise.decide
    yield (
        f"A {thing(exercise)} counts as reached from a probability of {decide.reached:g}, the limit as kept from "
        f"{decide.limit:g}; {100 * decide.share_of_repetitions:g} % of the {plural(thing(exercise))} of a set must be "
        "reached."
    )
    missing = left_out(exercise)
    if missing:
        yield f"Not prescribed: {', '.join(missing)}."


def _worn(exercise: Exercise) -> str:
    points = " and ".join(exercise.tracked_points)
    if exercise.sensors == "both":
        return f"sensors on {points}"
    still = f", {exercise.still_segment} keeping still" if exercise.still_segment else ""
    return f"one sensor on {points}{still}"


def _held(exercise: Exercise) -> Iterator[str]:
    hold_s = exercise.tempo.end_range_hold_s
    if not exercise.is_held or hold_s is None:
        return
    yield (
        f"Each {thing(exercise)} should last {hold_s:g} s; one that is left more than {max(1.0, 0.1 * hold_s):g} s "
        "sooner ended early. Shaking and the change of the angle over it are reported."
    )
    yield (
        f"A {thing(exercise)} is seen by the movement into and out of it; at the neutral pose's own angle it shows "
        "none, and must be marked by three taps on a sensor before and after, or by hand."
    )
    if exercise.kind == "stretch" and exercise.load.eccentric is None:
        yield "Look again: stretches are usually unweighted, but no load is declared, so their time counts as neither."


def _zero(exercise: Exercise) -> str:
    if exercise.zero == OWN_STANDING:
        return "Zero is the neutral pose as the person stands in it, their own standing."
    if exercise.neutral_deg is not None and exercise.neutral_uncertainty_deg is not None:
        return (
            f"Zero is {zero_meaning(exercise)}; the neutral pose itself was measured at {exercise.neutral_deg:g} deg "
            f"(standard uncertainty {exercise.neutral_uncertainty_deg:g} deg)."
        )
    return f"Zero is the neutral pose, taken for {zero_meaning(exercise)}."


def _angles(exercise: Exercise) -> Iterator[str]:
    start = f"start at {exercise.start_deg:g} deg" if exercise.start_deg is not None else ""
    end = f"{is_at(exercise)} {asked_window(exercise)}" if exercise.end_range_deg is not None else ""
    if start or end:
        yield f"Each {thing(exercise)} should {' and '.join(filter(None, (start, end)))}, measured from the zero."
    if exercise.ends_on_floor:
        yield (
            "Each repetition should end with the foot back on the floor, judged by the foot's own sensor: flat as in "
            f"the neutral pose, to within {exercise.floor_tolerance_deg:g} deg. How far the shank leans there is "
            "reported apart."
        )
    if exercise.limit_deg is not None:
        yield f"{exercise.limit_deg:g} deg is not to be passed."


def _threshold(exercise: Exercise) -> Iterator[str]:
    threshold = exercise.compression_threshold
    if threshold is None:
        return
    yield f"The tendon is taken to be compressed past {threshold.deg:g} deg (basis: {threshold.basis})."
    if threshold.basis == "neutral by convention" and threshold.deg != 0:
        yield f"Look again: the basis is neutral by convention, which is 0 deg, but the angle is {threshold.deg:g} deg."
    prescribed = prescribed_time_per_set(exercise)
    ends_deg = window_ends_deg(exercise)
    if prescribed is None and exercise.ends_on_floor:
        yield "Time past it in a set is not prescribed: the plan asks for stopping on the floor."
        return
    if prescribed is None and exercise.limit_deg is not None and exercise.limit_deg <= threshold.deg:
        yield "No time past it is asked for: the limit lies at it or before it."
        return
    if prescribed is None and ends_deg is not None and sum(ends_deg) / 2 <= threshold.deg:
        yield "Time past it in a set is not prescribed: the plan asks for stopping there, which the limit decides."
        return
    if prescribed is None:
        yield (
            "Time past it in a set is not prescribed, and can't be derived: that takes start_deg, an end range past "
            "the compressive angle, and in tempo_s eccentric, end_range_hold and concentric."
        )
        return
    yield f"Each set should spend {past_threshold(exercise)}."


def _sign(exercise: Exercise) -> str:
    if exercise.mounting:
        sensors = "; ".join(f"{point}: {text}" for point, text in exercise.mounting.items())
        return f"The sign of the angle follows the declared mounting ({sensors})."
    if exercise.calibration_movement:
        return (
            f"The sign of the angle follows the calibration movement, {exercise.calibration_movement}, done straight "
            "after the neutral pose, unless the recording declares how the sensors are mounted."
        )
    if exercise.second_pose:
        return (
            f"The sign of the angle follows the second pose, {exercise.second_pose.motion} by "
            f"{exercise.second_pose.deg:g} deg, whose time is named when the recording is analysed (--second-pose, and "
            "--neutral for the neutral pose)."
        )
    return (
        "The sign of the angle follows the mounting that the recording declares; one that declares none can't be "
        "analysed with this plan, because it names no mounting and no calibration_movement."
    )
