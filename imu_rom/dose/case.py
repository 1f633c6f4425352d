"""The case to progress, stay or step back: reasons for each, and what is missing. It never decides.

Progress: each criterion that is met. Stay: each that is not met or has not enough data, a flare, and patterns that
change what the dose was. Step back: answers to stop at, flares on two days or more or any in an irritable tendon, a
rise from week to week, and next morning's pain that rises with exposure (stop rule of the pain-monitoring model, from
memory; which pattern speaks for what: common practice, no source). Flares and stops count where they lie within the
last stable days, whichever stage that was: one holds progression back whatever the dose.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from imu_rom.dose.adherence import DayTally, dose_over
from imu_rom.dose.case_answer import CaseFor, CriterionAnswer, Flare, Missing, Pattern, Reason, StopDay
from imu_rom.dose.course_days import CourseDays, StageDays, key_of
from imu_rom.dose.criteria import Criteria
from imu_rom.dose.exposure_answer import DetectableChange
from imu_rom.dose.prescription import window_ends_deg
from imu_rom.dose.weeks_answer import PainOfDay

__all__ = ["case_for", "missing_of"]

FOR_STAYING = {"stops short", "past the limit", "holds shorter", "tempo shorter", "more than prescribed"}
FOR_STEPPING_BACK = {"morning pain rises with exposure"}
RISES = {"no rise of morning pain", "no rise of morning stiffness"}
SEVERAL_FLARES = 2


def case_for(
    course: CourseDays,
    window: Sequence[date],
    criteria: Sequence[CriterionAnswer],
    patterns: Sequence[Pattern],
    flares: Sequence[Flare],
    stops: Sequence[StopDay],
    missing: Sequence[Missing],
) -> CaseFor:
    """Lay out the case.

    Parameters
    ----------
    course : CourseDays
        The course.
    window : sequence of date
        The last stable days, under whichever stage.
    criteria : sequence of CriterionAnswer
        Of the current stage.
    patterns : sequence of Pattern
        All of them.
    flares, stops : sequence
        Of the whole course.
    missing : sequence of Missing
        What is not known in the current stage.

    Returns
    -------
    CaseFor
        Reasons for each of the three.
    """
    recent = set(window)
    flare_days = tuple(each.day for each in flares if each.day in recent)
    stop_days = tuple(sorted({each.day for each in stops if each.day in recent}))
    irritable = course.plan_on(course.until).irritability == "high"
    seen = [each for each in patterns if each.answer == "seen"]

    progress = [Reason("criterion", each) for each in criteria if each.answer == "met"]
    stay = [Reason("criterion", each) for each in criteria if each.answer in {"not met", "not enough data"}]
    if flare_days:
        stay.append(Reason("flare", days=flare_days))
    stay += [Reason("pattern", pattern=each) for each in seen if each.name in FOR_STAYING]
    if not criteria:
        stay.append(Reason("no criteria"))

    back = [Reason("stop", days=stop_days)] if stop_days else []
    if len(flare_days) >= SEVERAL_FLARES or (flare_days and irritable):
        back.append(Reason("flare", days=flare_days))
    back += [Reason("criterion", each) for each in criteria if each.name in RISES and each.answer == "not met"]
    back += [Reason("pattern", pattern=each) for each in seen if each.name in FOR_STEPPING_BACK]
    return CaseFor(tuple(progress), tuple(stay), tuple(back), bool(flare_days), tuple(missing))


def missing_of(
    course: CourseDays,
    run: StageDays,
    days: Sequence[date],
    tallies: Mapping[date, Sequence[DayTally]],
    pain: Mapping[date, PainOfDay],
    detectable: Sequence[DetectableChange],
) -> tuple[Missing, ...]:
    """Tell what is not known and would help.

    Parameters
    ----------
    course : CourseDays
        The course.
    run : StageDays
        The current stage and its days.
    days : sequence of date
        Over which days: the stable ones, or the whole course.
    tallies : mapping of date to sequence of DayTally
        What was prescribed and done.
    pain : mapping of date to PainOfDay
        What the diary says.
    detectable : sequence of DetectableChange
        What changes were held against.

    Returns
    -------
    tuple of Missing
        In a fixed order.
    """
    return (
        *_of_plan(run),
        *_of_recordings(course, run, days, tallies),
        *_of_diary(course, run, days, tallies, pain),
        *((Missing("between-day check"),) if any(each.basis == "lower bound" for each in detectable) else ()),
    )


def _of_plan(run: StageDays) -> Iterator[Missing]:
    if run.stage is None:
        yield Missing("stage")
        return
    if run.stage.criteria == Criteria():
        yield Missing("criteria")
    for each in run.stage.exercises:
        if each.per_day is None or each.days_per_week is None:
            yield Missing("frequency", each.name)
        held = each.is_held and each.tempo.end_range_hold_s is None
        if held or (not each.is_held and (each.tempo.eccentric_s is None or each.tempo.concentric_s is None)):
            yield Missing("tempo", each.name)
        if each.compression_threshold is None and window_ends_deg(each) is not None:
            yield Missing("compressive angle", each.name)


def _of_recordings(
    course: CourseDays, run: StageDays, days: Sequence[date], tallies: Mapping[date, Sequence[DayTally]]
) -> Iterator[Missing]:
    doubtful = [each for day in days for each in course.recorded_on.get(day, ()) if each.zero_doubtful]
    if doubtful:
        total = sum(len(course.recorded_on.get(day, ())) for day in days)
        yield Missing(
            "zero", found=float(len(doubtful)), asked=float(total), days=tuple(sorted({each.day for each in doubtful}))
        )
    if run.stage is None:
        return
    names = {key_of(each) for each in run.stage.exercises}
    for dose in dose_over(each for day in days for each in tallies[day] if each.key in names):
        asked = dose.recordings_prescribed
        if asked and not dose.sessions_recorded:
            yield Missing("no recording", dose.exercise, 0.0, asked)
        elif asked and dose.sessions_recorded < int(asked):
            yield Missing("recordings", dose.exercise, float(dose.sessions_recorded), asked)


def _of_diary(
    course: CourseDays,
    run: StageDays,
    days: Sequence[date],
    tallies: Mapping[date, Sequence[DayTally]],
    pain: Mapping[date, PainOfDay],
) -> Iterator[Missing]:
    silent = tuple(day for day in days if not pain[day].lines and day not in course.recorded_on)
    if silent:
        yield Missing("diary", found=float(len(days) - len(silent)), asked=float(len(days)), days=silent)
    active = [day for day in days if any(each.sessions_recorded + each.sessions_ticked for each in tallies[day])]
    mornings = [day for day in days if day != course.until]
    during = tuple(day for day in active if pain[day].during is None)
    after = tuple(day for day in active if pain[day].after is None)
    morning = tuple(day for day in mornings if pain[day].next_morning is None)
    if during:
        yield Missing("pain during", None, float(len(active) - len(during)), float(len(active)), during)
    if after:
        yield Missing("pain after", None, float(len(active) - len(after)), float(len(active)), after)
    if morning:
        yield Missing("pain next morning", None, float(len(mornings) - len(morning)), float(len(mornings)), morning)
    test = None if run.stage is None else run.stage.criteria.load_test
    if test is not None and all(pain[day].load_test is None for day in run.days):
        yield Missing("load test")
