"""A plan in plain sentences: what it asks for, and what the uncertainty of the angle will not be able to decide."""

import math
from collections.abc import Iterator
from statistics import NormalDist

from imu_rom.dose.decidability import Decidability, decidability
from imu_rom.dose.one_sensor import still_standard_uncertainty_deg
from imu_rom.dose.plan import Exercise, Plan, Stage
from imu_rom.dose.prescription import prescribed_time_per_set, window_ends_deg
from imu_rom.dose.sites import TAGS, TaggedText, tendon_site
from imu_rom.dose.zero import OWN_STANDING, zero_meaning, zero_standard_uncertainty_deg
from imu_rom.motion.joints import joint_motion
from imu_rom.motion.uncertainty import angle_budget, foot_inclination_standard_uncertainty_deg
from imu_rom.settings import UncertaintySettings

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
    yield (
        f"Exercise {exercise.name}: {_count(exercise.sets, 'set')} of {_count(exercise.repetitions, 'repetition')} of "
        f"{exercise.side} {exercise.joint} {exercise.motion} ({motion.in_words}), "
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


def not_decidable(plan: Plan, u_deg: float, uncertainty: UncertaintySettings | None = None) -> list[str]:
    """Say what the uncertainty of the angle will not be able to decide, and what would settle it.

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
        Plain sentences about the exercises of the stage that applies.
    """
    shared = "it is shared by the whole session and does not shrink with more repetitions"
    own = plan.own_uncertainty
    whose = "with the clinic's own values" if own is not None and own.parts else "most of it the neutral pose's"
    sentences = [f"The joint angle's standard uncertainty is about {u_deg:.1f} deg, {whose}; {shared}."]
    if own is not None and own.parts:
        parts = (f"{name} = {value:g} from {own.sources[name]}" for name, value in own.parts.items())
        sentences.append(f"Of that, the clinic's own: {', '.join(parts)}.")
    budget = uncertainty or UncertaintySettings()
    for exercise in plan.stage.exercises:
        if not exercise.angle_is_known:
            sentences.append(f"{exercise.name}: no depth can be decided, because nothing is said to keep still.")
            continue
        own_deg = u_deg
        still_deg = still_standard_uncertainty_deg(exercise, budget)
        if still_deg is not None:
            own_deg = math.hypot(own_deg, still_deg)
            sentences.append(
                f"{exercise.name}: with one sensor it is about {own_deg:.1f} deg, {still_deg:g} deg of it for how "
                "still the other segment keeps."
            )
        if exercise.zero == OWN_STANDING or exercise.neutral_uncertainty_deg is not None:
            zero_deg = zero_standard_uncertainty_deg(exercise, budget)
            own_deg = angle_budget(budget, zero_deg=zero_deg, still_deg=still_deg).u_common_deg
            sentences.append(
                f"{exercise.name}: with the zero that this plan names it is about {own_deg:.1f} deg, {zero_deg:g} deg "
                "of it the zero's."
            )
        bands = decidability(exercise, own_deg)
        said = [*_floor_sentences(exercise, foot_inclination_standard_uncertainty_deg(budget))]
        said += [*_reached_sentences(exercise, bands), *_limit_sentences(exercise, bands)]
        said += [*_neutral_sentences(exercise, bands), *_time_sentences(exercise, bands)]
        sentences += [f"{exercise.name}: {sentence}" for sentence in said]
        if not said:
            sentences.append(f"{exercise.name}: the plan asks for nothing that this uncertainty could leave undecided.")
    return sentences


def _floor_sentences(exercise: Exercise, u_foot_deg: float) -> Iterator[str]:
    if not exercise.ends_on_floor:
        return
    band_deg = NormalDist().inv_cdf(exercise.decide.reached) * u_foot_deg
    edge_deg = exercise.floor_tolerance_deg
    yield (
        f"whether the foot came back to the floor is judged by the foot's own sensor (standard uncertainty about "
        f"{u_foot_deg:.1f} deg, the neutral pose's error has no part in it); it stays undecided where the heel is "
        f"measured to stay raised by {max(edge_deg - band_deg, 0):.1f} to {edge_deg + band_deg:.1f} deg."
    )


def _reached_sentences(exercise: Exercise, bands: Decidability) -> Iterator[str]:
    if bands.reached_band_deg is None or exercise.end_range_deg is None:
        return
    (low, high), edge = bands.reached_band_deg, exercise.end_range_deg[0]
    yield (
        f"whether a repetition reached its end range stays undecided when it is measured to end between {low:.1f} and "
        f"{high:.1f} deg (around the window's lower edge of {edge:g} deg)."
    )
    if bands.largest_u_for_window_deg is not None and bands.u_deg > bands.largest_u_for_window_deg:
        yield (
            f"the window from {edge:g} to {exercise.end_range_deg[1]:g} deg is narrower than that, so even a "
            f"repetition at its upper edge can't be shown to have reached it; a standard uncertainty of at most "
            f"{bands.largest_u_for_window_deg:.1f} deg, or a window up to {high:.1f} deg, would settle it."
        )


def _limit_sentences(exercise: Exercise, bands: Decidability) -> Iterator[str]:
    if bands.limit_band_deg is None or exercise.limit_deg is None:
        return
    low, high = bands.limit_band_deg
    limit = f"the limit of {exercise.limit_deg:g} deg"
    yield (
        f"whether {limit} was kept stays undecided when a repetition is measured to end between {low:.1f} and "
        f"{high:.1f} deg."
    )
    upper_u_deg, wider_deg = bands.largest_u_for_upper_edge_deg, bands.smallest_limit_for_upper_edge_deg
    if upper_u_deg is not None and wider_deg is not None and bands.u_deg > upper_u_deg and exercise.end_range_deg:
        settle = f"a limit of at least {wider_deg:.1f} deg"
        if upper_u_deg > 0:
            settle = f"a better neutral pose (standard uncertainty of at most {upper_u_deg:.1f} deg) or {settle}"
        yield (
            f"a repetition at the window's upper edge of {exercise.end_range_deg[1]:g} deg can't be shown to have kept "
            f"{limit}; {settle} would settle it."
        )
    if bands.largest_u_for_both_deg is not None and bands.u_deg > bands.largest_u_for_both_deg:
        yield (
            f"no end range can be shown both to have reached the window and to have kept {limit}; a standard "
            f"uncertainty of at most {bands.largest_u_for_both_deg:.1f} deg would settle it."
        )


def _neutral_sentences(exercise: Exercise, bands: Decidability) -> Iterator[str]:
    probability, smallest_deg = bands.neutral_within_limit, bands.smallest_limit_for_neutral_deg
    # only where stopping at neutral is what is asked: neutral lies in the window and short of the limit
    if probability is None or smallest_deg is None or exercise.limit_deg is None or exercise.limit_deg < 0:
        return
    if exercise.end_range_deg is None or not exercise.end_range_deg[0] <= 0 <= exercise.end_range_deg[1]:
        return
    if probability >= exercise.decide.limit:
        return
    settle = f"a tolerance in the plan (limit_deg of at least {smallest_deg:.1f})"
    if bands.largest_u_for_neutral_deg:
        better_deg = bands.largest_u_for_neutral_deg
        settle = f"a better neutral pose (standard uncertainty of at most {better_deg:.1f} deg), {settle}"
    yield (
        f"a repetition that is measured to stop exactly at neutral, as on the floor with an upright shank, keeps the "
        f"limit of {exercise.limit_deg:g} deg with a probability of {probability:.2f}, not the "
        f"{exercise.decide.limit:g} asked for; {settle}, or the floor as what ends a repetition instead of an angle "
        '(end_range = "floor") would settle it.'
    )


def _time_sentences(exercise: Exercise, bands: Decidability) -> Iterator[str]:
    threshold, margin_deg = exercise.compression_threshold, bands.threshold_margin_deg
    if threshold is None or margin_deg is None or exercise.end_range_deg is None:
        return
    low = exercise.end_range_deg[0]
    edge = bands.at_lower_edge
    if abs(margin_deg) < bands.interval_half_width_deg:
        seconds = ""
        if edge is not None:
            interval = f"{edge.low_s:.0f} to {edge.high_s:.0f} s"
            seconds = f" ({edge.time_s:.0f} s a set by hold and tempo, with a 95 % interval of {interval})"
        half_deg = bands.interval_half_width_deg
        yield (
            f"the window's lower edge of {low:g} deg lies {abs(margin_deg):g} deg from the compressive angle of "
            f"{threshold.deg:g} deg, less than the {half_deg:.1f} deg of the 95 % interval, so for a "
            f"repetition that ends there all of its hold or none of it may count as time past the angle{seconds}."
        )
    middle, prescribed = bands.at_middle, prescribed_time_per_set(exercise)
    if middle is None or prescribed is None:
        return
    low_s, high_s, _ = prescribed
    if not low_s <= middle.time_s <= high_s:
        yield (
            f"look again: count, hold and tempo done exactly as asked to {middle.end_range_deg:g} deg spend about "
            f"{middle.time_s:.0f} s a set past the compressive angle, but the plan asks for {low_s:.3g} to "
            f"{high_s:.3g} s."
        )
    elif not low_s <= middle.low_s <= middle.high_s <= high_s:
        yield (
            f"a set done exactly as asked to {middle.end_range_deg:g} deg spends about {middle.time_s:.0f} s past the "
            f"compressive angle, with a 95 % interval of {middle.low_s:.0f} to {middle.high_s:.0f} s; against the "
            f"prescribed {low_s:.3g} to {high_s:.3g} s its verdict may stay undecided."
        )
