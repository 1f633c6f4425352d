"""What the uncertainty of an angle will not be able to decide in a plan, and what would settle it, in sentences."""

import math
from collections.abc import Iterator
from statistics import NormalDist

from imu_rom.dose.decidability import Decidability, decidability
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.one_sensor import still_standard_uncertainty_deg
from imu_rom.dose.plan import Plan
from imu_rom.dose.prescription import prescribed_time_per_set
from imu_rom.dose.zero import OWN_STANDING, zero_standard_uncertainty_deg
from imu_rom.motion.uncertainty import angle_budget, foot_inclination_standard_uncertainty_deg
from imu_rom.settings import UncertaintySettings
from imu_rom.wording.figures import thing
from imu_rom.wording.prescription_text import is_at

__all__ = ["not_decidable"]


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
        f"whether a {thing(exercise)} reached its end range stays undecided when it is measured to {is_at(exercise)} "
        f"between {low:.1f} and {high:.1f} deg (around the window's lower edge of {edge:g} deg)."
    )
    if bands.largest_u_for_window_deg is not None and bands.u_deg > bands.largest_u_for_window_deg:
        yield (
            f"the window from {edge:g} to {exercise.end_range_deg[1]:g} deg is narrower than that, so even a "
            f"{thing(exercise)} at its upper edge can't be shown to have reached it; a standard uncertainty of at most "
            f"{bands.largest_u_for_window_deg:.1f} deg, or a window up to {high:.1f} deg, would settle it."
        )


def _limit_sentences(exercise: Exercise, bands: Decidability) -> Iterator[str]:
    if bands.limit_band_deg is None or exercise.limit_deg is None:
        return
    low, high = bands.limit_band_deg
    limit = f"the limit of {exercise.limit_deg:g} deg"
    yield (
        f"whether {limit} was kept stays undecided when a {thing(exercise)} is measured to {is_at(exercise)} between "
        f"{low:.1f} and {high:.1f} deg."
    )
    upper_u_deg, wider_deg = bands.largest_u_for_upper_edge_deg, bands.smallest_limit_for_upper_edge_deg
    if upper_u_deg is not None and wider_deg is not None and bands.u_deg > upper_u_deg and exercise.end_range_deg:
        settle = f"a limit of at least {wider_deg:.1f} deg"
        if upper_u_deg > 0:
            settle = f"a better neutral pose (standard uncertainty of at most {upper_u_deg:.1f} deg) or {settle}"
        yield (
            f"a {thing(exercise)} at the window's upper edge of {exercise.end_range_deg[1]:g} deg can't be shown to "
            f"have kept {limit}; {settle} would settle it."
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
    if not exercise.is_held:
        settle += ', or the floor as what ends a repetition instead of an angle (end_range = "floor")'
    stop = "lie" if exercise.is_held else "stop"
    yield (
        f"a {thing(exercise)} that is measured to {stop} exactly at neutral, as on the floor with an upright shank, "
        f"keeps the limit of {exercise.limit_deg:g} deg with a probability of "
        f"{probability:.2f}, not the {exercise.decide.limit:g} asked for; {settle} would settle it."
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
            f"{thing(exercise)} that {is_at(exercise)}s there all of its hold or none of it may count as time past the "
            f"angle{seconds}."
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
