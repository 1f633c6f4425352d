"""What a person should know about the zero: whether it held, crept, or a sensor slipped."""

from imu_rom.findings import Finding
from imu_rom.session.result import ExerciseResult, SensorSlip
from imu_rom.session.slips import ZeroWatch

__all__ = ["zero_findings"]

ADVICE = "Stand in the neutral pose again after the last set, and before one where tape came loose."


def zero_findings(watch: ZeroWatch, result: ExerciseResult) -> list[Finding]:
    """Say whether the zero held.

    Parameters
    ----------
    watch : ZeroWatch
        What became of it.
    result : ExerciseResult
        The exercise's answer, for its sets and the names of the sensors.

    Returns
    -------
    list of Finding
        One for each slip, for a drift, for a difference that nothing explains; else a note that later poses agree.
    """
    found = [_slip(each, result) for each in watch.slips]
    if watch.drift_deg is not None:
        found.append(_drift(watch))
    if watch.ambiguous is not None:
        found.append(_ambiguous(watch, result))
    agreeing = [each for each in watch.poses if each.use == "agrees"]
    if agreeing and not found:
        last = agreeing[-1]
        count = f"{len(agreeing)} later still stands agree" if len(agreeing) > 1 else "A later still stand agrees"
        found.append(
            Finding(
                "zero-held",
                "note",
                f"{count} with the neutral pose: the last, from {last.start_s:.1f} to {last.stop_s:.1f} s, lies "
                f"{last.difference_deg:+.1f} degrees from it (standard uncertainty "
                f"{last.standard_uncertainty_deg:.1f}).",
                last.start_s,
                last.stop_s,
            )
        )
    return found


def _set_at(result: ExerciseResult, time_s: float) -> str:
    for each in result.comparison.sets:
        if each.start_s <= time_s <= each.stop_s:
            return f" in set {each.number}"
    before = [each.number for each in result.comparison.sets if each.stop_s < time_s]
    after = [each.number for each in result.comparison.sets if each.start_s > time_s]
    if before and after:
        return f" between set {before[-1]} and set {after[0]}"
    return " after the last set" if before else " before the first set"


def _slip(slip: SensorSlip, result: ExerciseResult) -> Finding:
    points = {"proximal": result.exercise.proximal, "distal": result.exercise.distal}
    who = "One of the sensors" if slip.sensor is None else f"The sensor on {points[slip.sensor]}"
    where = _set_at(result, slip.time_s)
    # without a later pose the turn about the joint's own axis is not known
    least = "at least " if slip.new_zero_s is None else ""
    how = (
        "the joint's axis lies otherwise in it from then on"
        if slip.evidence == "axis"
        else "from then on standing, start and end range all lie that much elsewhere"
    )
    if slip.new_zero_s is None:
        later = [each.number for each in result.comparison.sets if each.stop_s > slip.earliest_s]
        rest = (
            f"No neutral pose follows, so end ranges after it are undecided. {ADVICE}"
            if later
            else "No repetition was done after it."
        )
    else:
        rest = (
            f"Angles after it count from the neutral pose from {slip.new_zero_s[0]:.1f} to {slip.new_zero_s[1]:.1f} s."
        )
    return Finding(
        "slip",
        "problem" if slip.new_zero_s is None else "caution",
        f"{who} slipped by {least}about {slip.size_deg:.0f} degrees at {slip.time_s:.0f} s,{where}: {how}. {rest}",
        slip.earliest_s,
        slip.latest_s,
        points.get(slip.sensor or ""),
    )


def _drift(watch: ZeroWatch) -> Finding:
    last, total_deg = watch.poses[-1], watch.drift_deg or 0.0
    left_deg = max((u_deg for *_, u_deg in watch.doubts), default=0.0)
    large = any(code == "zero-drift" for code, *_ in watch.undecided)
    rest = " It is too much to decide end ranges by: tape the sensors on afresh." if large else ""
    return Finding(
        "zero-drift",
        "problem" if large else "caution",
        f"The zero crept by {total_deg:+.1f} degrees up to the neutral pose from {last.start_s:.1f} to "
        f"{last.stop_s:.1f} s, and the repetitions with it, as when tape gives way. This was shared out over the time "
        f"between; a standard uncertainty of {left_deg:.1f} degrees of the zero is left.{rest}",
        float(watch.knots_s[0]),
        last.stop_s,
    )


def _ambiguous(watch: ZeroWatch, result: ExerciseResult) -> Finding:
    start_s, stop_s, difference_deg = watch.ambiguous or (0.0, 0.0, 0.0)
    touched = [str(each.number) for each in result.comparison.sets if each.stop_s > start_s]
    rest = (
        f"End ranges since {start_s:.0f} s (set{'s' if len(touched) > 1 else ''} {', '.join(touched)}) are undecided. "
        if touched
        else "No set lies between the two. "
    )
    if not watch.poses:
        return Finding(
            "slip-or-stance",
            "caution",
            f"From {stop_s:.0f} s on the repetitions start and end {abs(difference_deg):.0f} degrees "
            f"{'further' if difference_deg > 0 else 'less far'} than before, both alike, and no neutral pose follows: "
            f"whether a sensor slipped or they were done differently can't be told. {rest}{ADVICE}",
            start_s,
            stop_s,
        )
    last = watch.poses[-1]
    return Finding(
        "slip-or-stance",
        "caution",
        f"Standing still from {last.start_s:.1f} to {last.stop_s:.1f} s, the joint is {abs(difference_deg):.0f} "
        f"degrees from the neutral pose. A sensor may have slipped between {start_s:.0f} and {stop_s:.0f} s, or the "
        f"person stood differently (knee bent, weight shifted): nothing here tells which. {rest}Stand as in the first "
        "pose, upright with the weight on both legs.",
        start_s,
        last.stop_s,
    )
