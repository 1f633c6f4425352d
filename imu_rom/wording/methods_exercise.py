"""What a methods text says of one exercise: prescription, angle, zero, repetitions, uncertainty, verdicts."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping

from imu_rom.dose.exposure import COVERAGE_FACTOR
from imu_rom.dose.verdict import needed_repetitions
from imu_rom.dose.zero import OWN_STANDING
from imu_rom.wording.budget_text import BUDGET_HEADINGS, budget_rows
from imu_rom.wording.exercise_text import is_undecided
from imu_rom.wording.figures import counted, plural, thing
from imu_rom.wording.markdown import as_text, table
from imu_rom.wording.methods_facts import ExerciseFacts
from imu_rom.wording.methods_references import References
from imu_rom.wording.prescription_text import (
    asked_sets,
    asked_window,
    declared_setting,
    frequency,
    left_out,
    load_in_words,
    tempo_phases,
)

__all__ = ["UNKNOWN", "angle_text", "number", "prescribed_text", "repetition_text", "uncertainty_text", "verdict_text"]

UNKNOWN = "not recorded"
_FOUND_BY = {
    "auto": "found by the program",
    "given": "named by a person",
    "events": "named by events beside the recording",
}
_COUNTED_FROM = {"neutral": "neutral", "own range": "the person's own range"}
_SAID_BY = {
    "events": "events beside the recording",
    "option": "a person",
    "task": "the recording's task label",
    "order": "the plan's order",
}
Settings = Mapping[str, Mapping[str, float | str]]


def number(value: float) -> str:
    """Write a number with all the decimals that a result keeps.

    Parameters
    ----------
    value : float
        Any finite number.

    Returns
    -------
    str
        Without zeros that say nothing.
    """
    return f"{value + 0.0:.6f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def _stretch(start_s: float, stop_s: float) -> str:
    return f"{number(start_s)} to {number(stop_s)} s"


def _seconds(low_s: float, high_s: float | None) -> str:
    if high_s is None or math.isinf(high_s):
        return f"at least {number(low_s)} s"
    return f"{number(low_s)} to {number(high_s)} s"


def _tally(words: Iterable[str]) -> str:
    return ", ".join(f"{count} {as_text(word)}" for word, count in Counter(words).items())


def prescribed_text(answer: ExerciseFacts) -> str:
    """Say what was prescribed of an exercise.

    Parameters
    ----------
    answer : ExerciseFacts
        One exercise of a result.

    Returns
    -------
    str
        Sentences; what the plan leaves out is named.
    """
    asked = answer.exercise
    window = asked_window(asked)
    if asked.ends_on_floor:
        window = (
            "where the foot comes back to the floor, which it has while it is tilted by at most "
            f"{number(asked.floor_tolerance_deg)} deg"
        )
    shares = ""
    if asked.share_of_own_range is not None:
        low, high = (100 * each for each in asked.share_of_own_range)
        shares = f", prescribed as {low:g} % {'or more' if math.isinf(high) else f'to {high:g} %'} of the own range"
    parts = [
        f"done as: {as_text(asked.in_words)}" if asked.in_words else f"in words: {UNKNOWN}",
        asked_sets(asked),
        f"at {asked.repetition_maximum} RM" if asked.repetition_maximum is not None else "",
        frequency(asked),
        f"tempo {tempo_phases(asked)}" if tempo_phases(asked) else "",
        f"{number(asked.rest_s)} s of rest between sets" if asked.rest_s is not None else "",
        f"from {number(asked.start_deg)} deg" if asked.start_deg is not None else "",
        f"end range {window}{shares} (counted from {_COUNTED_FROM.get(asked.end_range_reference, UNKNOWN)})"
        if window
        else "",
        f"limit {number(asked.limit_deg)} deg" if asked.limit_deg is not None else "",
        f"{_seconds(*asked.past_threshold_s_per_set)} past the compressive angle a set"
        if asked.past_threshold_s_per_set is not None
        else "",
        load_in_words(asked),
        as_text(declared_setting(asked)),
    ]
    missing = left_out(asked)
    said = [f"{as_text(asked.name)}, {asked.side} {as_text(asked.joint)} {as_text(asked.motion)}"]
    said[0] += f" ({asked.kind}). Prescribed: {'; '.join(filter(None, parts))}."
    if missing:
        said.append(f"Not prescribed: {', '.join(missing)}.")
    if answer.allotment is not None:
        said_by = _SAID_BY.get(answer.allotment.said_by, UNKNOWN)
        whose = f"Which sets of the recording are of this exercise was told by {said_by}"
        if is_undecided(answer.allotment):
            whose += (
                f", and could not be decided between {', '.join(map(as_text, answer.allotment.candidates))} "
                f"({as_text(answer.allotment.why)})"
            )
        said.append(f"{whose}.")
    return " ".join(said)


def angle_text(answer: ExerciseFacts, attitude_filter: str, references: References) -> str:
    """Say how the joint angle was had: attitudes, axes, sign, zero.

    Parameters
    ----------
    answer : ExerciseFacts
        One exercise of a result.
    attitude_filter : str
        Name of the filter.
    references : References
        Numbers of the works cited.

    Returns
    -------
    str
        Sentences.
    """
    asked, alignment, zero = answer.exercise, answer.alignment, answer.zero
    filtered = references.cite("filter") if attitude_filter.lower() == "vqf" else "of the package ahrs"
    axis = f" {references.cite('axis')}" if "hinge axis" in alignment.method else ""
    centre = f" {references.cite('centre')}" if "joint's centre" in alignment.method else ""
    kept = "" if asked.sensors == "both" else f", {as_text(asked.still_segment or 'nothing')} kept still"
    worn = f"{asked.sensors}{kept}"
    moved = ""
    if alignment.calibration_start_s is not None and alignment.calibration_stop_s is not None:
        done = as_text(asked.calibration_movement or "not named")
        moved = f" ({done}, {_stretch(alignment.calibration_start_s, alignment.calibration_stop_s)})"
    elif asked.calibration_movement:
        moved = f" (calibration movement asked for: {as_text(asked.calibration_movement)})"
    means = "the person's own standing" if zero.meaning == OWN_STANDING else as_text(zero.meaning)
    pose = f"The angle counts from the neutral pose ({means}), taken as {number(zero.pose_deg)} deg, "
    if asked.zero is not None:
        pose = pose.replace("(", f"(by the plan {as_text(asked.zero)}; ", 1)
    if asked.neutral_deg is not None:
        pose += f"which a clinician measured as {number(asked.neutral_deg)} deg"
        known = asked.neutral_uncertainty_deg
        pose += f" (standard uncertainty {UNKNOWN if known is None else f'{number(known)} deg'}), "
    pose += f"{_FOUND_BY.get(zero.source, UNKNOWN)} from {_stretch(zero.start_s, zero.stop_s)}."
    if asked.second_pose is not None:
        second = asked.second_pose
        pose += (
            f" A second pose was asked for: {number(second.deg)} deg of {as_text(second.motion)} (standard uncertainty "
            f"{number(second.uncertainty_deg)} deg)."
        )
    placed = [f"{as_text(point)}: {as_text(where)}" for point, where in asked.placement.items()]
    mounted = [f"{as_text(segment)}: {as_text(how)}" for segment, how in asked.mounting.items()]
    said = [
        (
            f"Sensors of the plan: {worn} (proximal {as_text(asked.proximal)}, distal {as_text(asked.distal)}; "
            f"placement {', '.join(placed) or UNKNOWN}; mounting {', '.join(mounted) or UNKNOWN}), evaluated "
            f"while worn from {_stretch(answer.worn_start_s, answer.worn_stop_s)}."
        ),
        (
            f"Attitudes came from the filter {as_text(attitude_filter)} {filtered}; the angle by: "
            f"{as_text(alignment.method)}{axis}{centre}. The joint's axis had a standard uncertainty of "
            f"{number(alignment.axis_standard_uncertainty_deg)} deg, a median residual of "
            f"{number(alignment.axis_residual_deg)} deg and a quality of {number(alignment.quality)} (0 to 1); its "
            f"sign was settled by: {as_text(alignment.sign_source)}{moved}."
        ),
        pose,
    ]
    if not asked.angle_is_known:
        said.append(
            "One sensor was worn and the other segment is not known to keep still, so every angle here is that "
            "sensor's own turn, not the joint's."
        )
    if answer.later_poses:
        said.append(f"Later stands in the same posture, compared with it: {_tally(p.use for p in answer.later_poses)}.")
    if answer.slips:
        evidence = _tally(f"by {each.evidence}" for each in answer.slips)
        said.append(f"Slips of a sensor that were found: {evidence}.")
    return " ".join(said)


def repetition_text(answer: ExerciseFacts, settings: Settings, references: References) -> str:
    """Say what counts as a repetition, as its end range, and as time past the compressive angle.

    Parameters
    ----------
    answer : ExerciseFacts
        One exercise of a result.
    settings : mapping
        All settings used, by group.
    references : References
        Numbers of the works cited.

    Returns
    -------
    str
        Sentences.
    """
    asked, found = answer.exercise, settings.get("repetitions", {})

    def used(name: str) -> str:
        value = found.get(name)
        return UNKNOWN if value is None or isinstance(value, str) else number(value)

    counted_so = (
        f"A movement of at least {used('smallest_excursion_deg')} deg out and back was one {thing(asked)}, complete "
        f"from a share of {used('complete_share')} of its set's median excursion; a pause longer than {used('rest_s')} "
        f"s ended a set, unless the prescribed numbers joined neighbours no more than "
        f"{used('longest_interruption_s')} s apart. Its end range is the vertex of a parabola fitted around the "
        f"deepest point {references.cite('parabola')}."
    )
    threshold = asked.compression_threshold
    if not asked.angle_is_known:
        return f"{counted_so} No joint angle is known, so no time past one is given."
    if threshold is None:
        return f"{counted_so} No compressive angle was prescribed, so no time past one is given."
    return (
        f"{counted_so} Exposure is the time within {plural(thing(asked))} in which the angle was strictly past "
        f"{number(threshold.deg)} deg (basis: {threshold.basis}), with crossings interpolated and no hysteresis; its "
        f"95 % interval is that of the distribution of the error that its angles share "
        f"{references.cite('propagation')}. It is no measure of load on tissue."
    )


def uncertainty_text(answer: ExerciseFacts, own: Mapping[str, str], references: References) -> str:
    """Say the uncertainty budget.

    Parameters
    ----------
    answer : ExerciseFacts
        One exercise of a result.
    own : mapping of str to str
        Settings whose values were measured, and where they come from.
    references : References
        Numbers of the works cited.

    Returns
    -------
    str
        Sentences and a table.
    """
    budget = answer.budget
    rows = []
    for term, (name, _, *rest) in zip(budget.terms, budget_rows(budget), strict=True):
        rows.append((as_text(name), number(term.value_deg), *map(as_text, rest)))
    measured = "; ".join(f"{as_text(name)}: {as_text(source)}" for name, source in own.items())
    said = (
        f"Standard uncertainty of the angle at the largest excursion ({number(budget.excursion_deg)} deg from the "
        f"zero; root mean square of the angular rate {number(budget.rate_deg_s)} deg/s): "
        f"{number(answer.u_shared_deg)} deg shared by the whole session, and {number(answer.u_set_deg)} deg more "
        f"shared by a set. Terms were combined as independent {references.cite('budget')}; what is shared was not "
        f"averaged. Intervals are 95 % (coverage factor {COVERAGE_FACTOR:.2f}). Terms that a clinic measured itself: "
        f"{measured or 'none'}."
    )
    return f"{said}\n\n{table(BUDGET_HEADINGS, rows)}"


def verdict_text(answer: ExerciseFacts, references: References) -> str:
    """Say how a set was judged, and what was done of what was prescribed.

    Parameters
    ----------
    answer : ExerciseFacts
        One exercise of a result.
    references : References
        Numbers of the works cited.

    Returns
    -------
    str
        Sentences.
    """
    asked, done, decide = answer.exercise, answer.comparison, answer.exercise.decide
    things, limit = plural(thing(asked)), asked.limit_deg
    needed = needed_repetitions(decide.share_of_repetitions, asked.repetitions, 0)
    # as the result has it, not as today's program would derive it from the plan
    times = dict.fromkeys(
        (each.prescribed_low_s, each.prescribed_high_s, each.prescribed_derived)
        for each in done.sets
        if each.prescribed_low_s is not None
    )
    rules = []
    if limit is not None:
        rules.append(f"the limit of {number(limit)} deg was kept (over if not; probability asked {decide.limit:g})")
    if asked.asks_end_range or limit is not None or times:
        depth = " and reached the end range" if asked.asks_end_range else ""
        rules.append(
            f"a share of {decide.share_of_repetitions:g} of the {things} ({needed} of {asked.repetitions}) was done"
            f"{depth} (short if not; probability asked {decide.reached:g})"
        )
    for low, high, derived in times:
        how = "derived from count, hold and tempo" if derived else "prescribed"
        rules.append(
            f"the time past the compressive angle was {_seconds(low or 0.0, high)} a set ({how}; over or short if not)"
        )
    judged = "Nothing was prescribed that a set could be judged by."
    if rules:
        judged = (
            f"A set was judged against the plan jointly over the error that its {things} share, each question with its "
            f"probability {references.cite('conformity')}: {'; then '.join(rules)}. The first question without a good "
            "answer gave the verdict; one that could not be answered at the asked probability made it undecided."
        )
    said = [
        judged,
        (
            f"Done: {done.complete} complete and {done.partial} partial {things} in {counted(len(done.sets), 'set')}, "
            f"of {done.prescribed_repetitions} in {counted(done.prescribed_sets, 'set')} prescribed."
        ),
    ]
    if done.sets:
        said.append(f"Verdicts of the sets: {_tally(each.verdict for each in done.sets)}.")
    return " ".join(said)
