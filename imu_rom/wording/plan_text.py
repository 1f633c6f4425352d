"""A plan in plain sentences: what it asks for, and what the uncertainty of the angle will not be able to decide."""

import math
from collections.abc import Iterator

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.prescription import prescribed_time_per_set, window_ends_deg
from imu_rom.dose.sites import TAGS, TaggedText, tendon_site
from imu_rom.dose.zero import OWN_STANDING, zero_meaning
from imu_rom.motion.joints import joint_motion
from imu_rom.settings import UncertaintySettings
from imu_rom.wording.figures import counted, thing
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
        f"{together} {_known(site.compressed_against)}."
    )
    sentences.append(f"Customary early limit: {site.early_limit.text} {_known(site.early_limit)}.")
    for exercise in plan.stage.exercises:
        sentences += _exercise(exercise)
        if (exercise.joint, exercise.motion) != (site.joint, site.motion):
            sentences.append(
                f"Look again: {exercise.name} counts {exercise.joint} {exercise.motion} as positive, but this site is "
                f"compressed by {site.joint} {site.motion}."
            )
    return sentences


def _stage(stage: Stage) -> str:
    return f"{stage.name!r}" + (f" (from {stage.from_date.isoformat()})" if stage.from_date else "")


def _known(value: TaggedText) -> str:
    return f"({TAGS[value.tag]})" if value.tag == "P" else f"({TAGS[value.tag]}: {value.source})"


def _count(number: float, thing: str) -> str:
    return f"{number:g} {thing}" + ("" if number == 1 else "s")


def _exercise(exercise: Exercise) -> Iterator[str]:
    motion = joint_motion(exercise.joint, exercise.motion)
    asked = f"{_count(exercise.sets, 'set')} of {counted(exercise.repetitions, thing(exercise))}"
    yield (
        f"Exercise {exercise.name}: {asked} of {exercise.side} {exercise.joint} {exercise.motion} ({motion.in_words}), "
        f"{_worn(exercise)}{_frequency(exercise)}."
    )
    if not exercise.angle_is_known:
        yield (
            "No segment is said to keep still (still_segment), so one sensor shows repetitions and their times; no "
            "depth will be judged."
        )
    tempo = exercise.tempo
    phases = [
        (tempo.eccentric_s, "into the end range"),
        (tempo.end_range_hold_s, "held there"),
        (tempo.concentric_s, "back"),
        (tempo.top_pause_s, "pause at the start"),
    ]
    given = [f"{seconds:g} s {what}" for seconds, what in phases if seconds is not None]
    if given:
        yield f"Tempo: {', '.join(given)}."
    yield from _held(exercise)
    if exercise.rest_s is not None:
        yield f"Rest between sets: {exercise.rest_s:g} s."
    yield _zero(exercise)
    yield from _angles(exercise)
    yield from _threshold(exercise)
    yield from _declared(exercise)
    yield _sign(exercise)
    decide = exercise.decide
    yield (
        f"A repetition counts as reached from a probability of {decide.reached:g}, the limit as kept from "
        f"{decide.limit:g}; {100 * decide.share_of_repetitions:g} % of the repetitions of a set must be reached."
    )
    left_out = [
        name
        for name, value in (
            ("tempo", given or None),
            ("rest", exercise.rest_s),
            ("start angle", exercise.start_deg),
            ("end range", exercise.asks_end_range or None),
            ("limit", exercise.limit_deg),
            ("compressive angle", exercise.compression_threshold),
            ("frequency", exercise.per_day or exercise.days_per_week),
        )
        if value is None
    ]
    if left_out:
        yield f"Not prescribed: {', '.join(left_out)}."


def _worn(exercise: Exercise) -> str:
    points = " and ".join(exercise.tracked_points)
    if exercise.sensors == "both":
        return f"sensors on {points}"
    still = f", {exercise.still_segment} keeping still" if exercise.still_segment else ""
    return f"one sensor on {points}{still}"


def _frequency(exercise: Exercise) -> str:
    day = f", {_count(exercise.per_day, 'time')} a day" if exercise.per_day is not None else ""
    week = f", {_count(exercise.days_per_week, 'day')} a week" if exercise.days_per_week is not None else ""
    return day + week


def _window(exercise: Exercise) -> str:
    if exercise.end_range_deg is None:
        return ""
    low, high = exercise.end_range_deg
    return f"at {low:g} deg or more" if math.isinf(high) else f"between {low:g} and {high:g} deg"


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
    end = f"end {_window(exercise)}" if exercise.end_range_deg is not None else ""
    if start or end:
        yield f"Each repetition should {' and '.join(filter(None, (start, end)))}, measured from the zero."
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
    if prescribed is None and ends_deg is not None and sum(ends_deg) / 2 <= threshold.deg:
        yield "Time past it in a set is not prescribed: the plan asks for stopping there, which the limit decides."
        return
    if prescribed is None:
        yield (
            "Time past it in a set is not prescribed, and can't be derived: that takes start_deg, an end range past "
            "the compressive angle, and in tempo_s eccentric, end_range_hold and concentric."
        )
        return
    low_s, high_s, derived = prescribed
    how = ", derived from count, hold and tempo" if derived else ""
    yield f"Each set should spend {low_s:.3g} to {high_s:.3g} s past it{how}."


def _declared(exercise: Exercise) -> Iterator[str]:
    load = exercise.load
    parts = [
        f"eccentric phase and hold: {load.eccentric}" if load.eccentric else "",
        f"concentric phase: {load.concentric}" if load.concentric else "",
        f"{load.share_of_body_weight:g} x body weight" if load.share_of_body_weight is not None else "",
        f"{load.external_kg:g} kg added" if load.external_kg is not None else "",
        f"surface: {exercise.surface}" if exercise.surface else "",
        f"{exercise.step_height_mm:g} mm high" if exercise.step_height_mm is not None else "",
        f"footwear: {exercise.footwear}" if exercise.footwear else "",
        f"heel lift: {exercise.heel_lift_mm:g} mm" if exercise.heel_lift_mm is not None else "",
    ]
    given = [part for part in parts if part]
    if given:
        yield f"Declared, not measured: {'; '.join(given)}."


def _sign(exercise: Exercise) -> str:
    if exercise.mounting:
        sensors = "; ".join(f"{point}: {text}" for point, text in exercise.mounting.items())
        return f"The sign of the angle follows the declared mounting ({sensors})."
    if exercise.calibration_movement:
        return (
            f"The sign of the angle follows the calibration movement, {exercise.calibration_movement}, done straight "
            "after the neutral pose, unless the recording declares how the sensors are mounted."
        )
    return (
        "The sign of the angle follows the mounting that the recording declares; one that declares none can't be "
        "analysed with this plan, because it names no mounting and no calibration_movement."
    )
