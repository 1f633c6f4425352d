"""A plan's calendar in words: every stage in order, its dates, its doses and what must hold to go on."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.own_range import measured_motion, own_range_for, with_own_range
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.sites import tendon_site
from imu_rom.dose.stage_periods import StagePeriod, stage_periods, weeks_in_calendar
from imu_rom.dose.totals import DoseTotal, exercise_total, stage_totals, weeks_of
from imu_rom.dose.zero import OWN_STANDING, zero_meaning
from imu_rom.motion.joints import joint_motion
from imu_rom.wording.cautions import DECLARED, stage_cautions
from imu_rom.wording.criteria_text import criteria_in_words
from imu_rom.wording.figures import counted
from imu_rom.wording.lines import labelled, wrapped
from imu_rom.wording.prescription_text import (
    asked_sets,
    asked_window,
    declared_setting,
    frequency,
    is_at,
    left_out,
    load_in_words,
    past_threshold,
    span_of_weeks,
    tempo_phases,
    total_in_words,
)

__all__ = ["calendar_lines"]

LABEL = 20
Labelled = Iterator[tuple[str, str]]


class StageSpan(NamedTuple):
    """How long a stage lasts, and by what."""

    weeks: Fraction | None
    whose: str


def calendar_lines(plan: Plan, width: int, usual_days: float, day: date | None = None) -> list[str]:
    """Say a whole plan in words, stage by stage.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.
    width : int
        Columns of the terminal; fewer than 60 count as 60.
    usual_days : float
        Days over which criteria are judged where a stage names none (setting ``course.stable_days``).
    day : date, optional
        A day whose stage is marked, and by which shares of the own range are turned into angles; None: no stage is
        marked, and the range measured last counts.

    Returns
    -------
    list of str
        Lines no longer than the width; the cautions come last.
    """
    if day is not None:
        plan = with_own_range(plan, day)
    blocks = [_labels(_title(plan), _head(plan), width), _calendar(plan, day, width)]
    blocks += [_stage(plan, each, day, usual_days, width) for each in plan.stages]
    blocks += [wrapped("", each, width) for each in (" ".join(stage_cautions()[:2]), *stage_cautions()[2:])]
    return "\n\n".join("\n".join(block) for block in blocks).split("\n")


def _labels(heading: str, lines: Labelled, width: int, indent: int = 2) -> list[str]:
    told = wrapped(" " * (indent - 2), heading, width)
    for label, text in lines:
        told += labelled(label, text, width, indent=indent, column=LABEL)
    return told


def _title(plan: Plan) -> str:
    return plan.title + (f", for {plan.patient}" if plan.patient else "")


def _head(plan: Plan) -> Labelled:
    site = tendon_site(plan.tendon_site)
    yield "tendon", f"{site.name}, compressed by {site.joint} {site.motion}"
    if plan.protocol is not None:
        memory = "; what is from memory or custom, and must be verified, stands in the plan file as from_memory"
        yield (
            "programme",
            f"{plan.protocol.name}: {plan.protocol.citation}{memory if plan.protocol.from_memory else ''}",
        )
    if plan.from_date is not None:
        yield "this version", f"applies from {plan.from_date}; before that another version of the plan, if there is one"
    settles = "" if plan.settles_within_h is None else f"pain should settle within {plan.settles_within_h:g} h"
    if plan.irritability is not None:
        yield "irritability", f"{plan.irritability}" + (f"; {settles}" if settles else "")
    elif settles:
        yield "settling", settles
    yield "declared", f"load, knee, surface, shoe and heel lift: {DECLARED}"
    yield "a flare", "holds progression back, whatever the dose"
    recorded = plan.sessions_recorded_per_week
    yield (
        "recorded",
        "every session, with sensors"
        if recorded is None
        else f"{recorded:g} {'session' if recorded == 1 else 'sessions'} a week, with sensors; the rest is ticked in "
        "the diary",
    )
    if plan.day_starts_at is not None:
        yield "days", f"begin at {plan.day_starts_at:%H:%M}; a session before belongs to the evening before"
    if plan.time_zone is not None:
        yield "time zone", plan.time_zone
    for own in plan.own_ranges:
        joint, motion = measured_motion(plan, own)
        known = own.standard_uncertainty_deg
        sure = "" if known is None else f", standard uncertainty {known:g} deg"
        yield (
            "own range",
            f"{own.side} {joint} {motion} {own.own_range_deg:g} deg ({own.measured_by}, {own.measured_on}{sure})",
        )


def _calendar(plan: Plan, day: date | None, width: int) -> list[str]:
    periods = stage_periods(plan)
    rows = [(_span(each), _period(each)) for each in periods]
    dated = {each.stage for each in periods}
    if periods:
        rows += [("no date yet", repr(each.name)) for each in plan.stages if each.name not in dated]
    column = 2 + max((len(span) for span, _ in rows), default=0) + 2
    lines = ["Calendar"]
    for span, text in rows:
        lines += labelled(span, text, width, indent=2, column=column)
    if not periods:
        lines += wrapped(
            "  ", f"No stage has dates. The plan names {plan.current_stage!r} as the one that holds.", width
        )
    return lines if day is None else lines + wrapped("  ", _on(plan, periods, day), width)


def _span(period: StagePeriod) -> str:
    return f"from {period.first_day}" if period.last_day is None else f"{period.first_day} to {period.last_day}"


def _period(period: StagePeriod) -> str:
    length = "no end set" if period.days is None else counted(period.days, "day")
    move = {"first": "", "on": "", "back": ", a step back", "same": ", going on"}[period.move]
    return f"{period.stage!r}, {length}{move}" + (f" ({period.why})" if period.why else "")


def _on(plan: Plan, periods: tuple[StagePeriod, ...], day: date) -> str:
    if plan.from_date is not None and day < plan.from_date:
        return f"{day}: this version of the plan applies from {plan.from_date} only; look into the one before it."
    if not periods:
        return f"{day}: {plan.current_stage!r} holds."
    for each in periods:
        if each.holds_on(day):
            of = "" if each.days is None else f" of {each.days}"
            return f"{day}: {each.stage!r} holds, day {(day - each.first_day).days + 1}{of}."
    before = [each for each in periods if each.last_day is not None and each.last_day < day]
    after = [each for each in periods if each.first_day > day]
    known = [f"{each.stage!r} ends on {each.last_day}" for each in before[-1:]]
    known += [f"{each.stage!r} begins on {each.first_day}" for each in after[:1]]
    return f"{day}: no stage holds; {' and '.join(known)}."


def _holds(plan: Plan, stage: Stage, day: date | None) -> bool:
    if day is None or (plan.from_date is not None and day < plan.from_date):
        return False
    held = plan.stage_on(day)
    return held is not None and held.name == stage.name


def _stage(plan: Plan, stage: Stage, day: date | None, usual_days: float, width: int) -> list[str]:
    number = [each.name for each in plan.stages].index(stage.name) + 1
    of = f"Stage {number} of {len(plan.stages)}: " if len(plan.stages) > 1 else "Stage "
    mark = f" (holds on {day})" if _holds(plan, stage, day) else ""
    span = _span_of_stage(plan, stage)
    lines = _labels(f"{of}{stage.name!r}{mark}", _about_stage(plan, stage), width)
    for exercise in stage.exercises:
        motion = joint_motion(exercise.joint, exercise.motion)
        heading = f"{exercise.name}: {exercise.side} {exercise.joint} {exercise.motion} ({motion.in_words})"
        lines += ["", *_labels(heading, _about_exercise(plan, exercise, day, span), width, indent=4)]
    together = _labels("Together", _together(stage, span), width, indent=4)
    lines += ["", *together, ""] if len(together) > 1 else [""]
    criteria = criteria_in_words(stage.criteria, usual_days)
    is_last = stage is plan.stages[-1]
    label = "to finish" if is_last else "to move on"
    for phrase in criteria or ["no criteria are set"]:
        lines += labelled(label, phrase, width, indent=2, column=LABEL)
        label = ""
    return lines


def _span_of_stage(plan: Plan, stage: Stage) -> StageSpan:
    weeks, published = weeks_in_calendar(plan, stage), weeks_of(stage)
    if weeks is not None or published is None:
        return StageSpan(weeks, "its")
    return StageSpan(Fraction(published), "the programme's")


def _about_stage(plan: Plan, stage: Stage) -> Labelled:
    periods = [each for each in stage_periods(plan) if each.stage == stage.name]
    if not periods and any(stage_periods(plan)):
        yield "dates", "none yet"
    for index, each in enumerate(periods):
        yield "" if index else "dates", _span(each)
    if stage.goal is not None:
        yield "goal", stage.goal
    published = weeks_of(stage)
    if stage.weeks is not None and published is not None:
        first, last = stage.weeks
        span = f"{first}" if first == last else f"{first} to {last}"
        weeks = weeks_in_calendar(plan, stage)
        differs = weeks is not None and weeks != published
        calendar = f"; the calendar gives it {span_of_weeks(weeks)}" if differs and weeks is not None else ""
        yield "weeks", f"{span} of the programme{calendar}"


def _about_exercise(plan: Plan, exercise: Exercise, day: date | None, span: StageSpan) -> Labelled:
    if exercise.in_words is not None:
        yield "what", exercise.in_words
    maximum = exercise.repetition_maximum
    weight = "" if maximum is None else f", with a weight that can be moved {maximum} times and no more"
    yield "dose", ", ".join(filter(None, (asked_sets(exercise), frequency(exercise)))) + weight
    tempo = tempo_phases(exercise)
    rest = "" if exercise.rest_s is None else f"{exercise.rest_s:g} s rest between sets"
    if tempo or rest:
        yield "tempo", "; ".join(filter(None, (tempo, rest)))
    yield from _depth(plan, exercise, day)
    declared = "; ".join(filter(None, (load_in_words(exercise), declared_setting(exercise))))
    if declared:
        yield "as declared", declared
    yield "adds up to", _total(exercise_total(exercise, span.weeks), span)
    missing = left_out(exercise)
    if missing:
        yield "not prescribed", ", ".join(missing)


def _depth(plan: Plan, exercise: Exercise, day: date | None) -> Labelled:
    window = asked_window(exercise)
    start = "" if exercise.start_deg is None else f"from {exercise.start_deg:g} deg"
    end = f"{is_at(exercise)} {window}" if window else ""
    own = own_range_for(plan, exercise, day)
    if exercise.share_of_own_range is not None and own is not None:
        low, high = exercise.share_of_own_range
        share = f"{100 * low:g} % or more" if high == float("inf") else f"{100 * low:g} to {100 * high:g} %"
        end += f", {share} of the own range ({own.own_range_deg:g} deg on {own.measured_on})"
    if exercise.ends_on_floor:
        end = f"end with the foot back on the floor, flat to within {exercise.floor_tolerance_deg:g} deg"
    if start or end:
        yield "depth", ", ".join(filter(None, (start, end)))
    if exercise.limit_deg is not None:
        yield "limit", f"{exercise.limit_deg:g} deg, not to be passed"
    threshold = exercise.compression_threshold
    if threshold is not None:
        time = past_threshold(exercise)
        asked = f"; each set should spend {time}" if time else ""
        yield "compressed", f"past {threshold.deg:g} deg (basis: {threshold.basis}){asked}"
    if exercise.zero == OWN_STANDING:
        yield "zero", "how the person stands in the neutral pose"
    elif exercise.neutral_deg is not None:
        yield "zero", f"{zero_meaning(exercise)}; the neutral pose was measured at {exercise.neutral_deg:g} deg"


def _together(stage: Stage, span: StageSpan) -> Labelled:
    # one exercise alone has said what it adds up to
    totals = [each for each in stage_totals(stage, span.weeks) if len(each.exercises) > 1]
    sides = len({each.side for each in stage.exercises}) > 1
    for total in totals:
        label = {"repetitions": "repetitions", "hold": "holds", "stretch": "stretches"}[total.kind]
        yield label, (f"{total.side} side, " if sides else "") + _total(total, span)


def _total(total: DoseTotal, span: StageSpan) -> str:
    said = total_in_words(total, span.whose)
    counts = total.repetitions
    if counts.a_week is None:
        return f"{said}; how often is not prescribed" if said else "how often is not prescribed"
    if counts.a_session is None:
        return f"{said}; not all in one session"
    return said
