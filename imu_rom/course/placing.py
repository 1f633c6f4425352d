"""Put results on the person's days and sessions, each against the plan and stage of its day."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from imu_rom.course.analysing import no_stage
from imu_rom.course.plans import CoursePlans
from imu_rom.course.recorded import ExerciseSummary, ResultSummary, fingerprint, measured_files
from imu_rom.course.store import StoredResult
from imu_rom.dose.course_reading import Skipped
from imu_rom.dose.days import LONGEST_BREAK_S, local_time
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.dose.plan import Plan

__all__ = ["placed_results"]


@dataclass(frozen=True)
class _Part:
    """One exercise of a result on its day, before its session is known."""

    recorded: RecordedExercise
    ends_at: datetime
    bids_session: str | None


def placed_results(
    results: Mapping[str, StoredResult], plans: CoursePlans
) -> tuple[tuple[RecordedExercise, ...], tuple[Skipped, ...]]:
    """Put results on days and sessions.

    Parameters
    ----------
    results : mapping of str to StoredResult
        By place within the course folder.
    plans : CoursePlans
        Say what was prescribed on which day.

    Returns
    -------
    recorded : tuple of RecordedExercise
        In order of time.
    skipped : tuple of Skipped
        Results, and exercises of results, that were not used or not all of which was.
    """
    skipped: list[Skipped] = []
    parts: list[_Part] = []
    for place, summary in _once(results, plans, skipped):
        parts += _parts(place, summary, plans, skipped)
    return _sessions(parts), tuple(skipped)


def _once(
    results: Mapping[str, StoredResult], plans: CoursePlans, skipped: list[Skipped]
) -> list[tuple[str, ResultSummary]]:
    """Take each recording's result once: the one corrected by hand, else the one that is by the plan of its day."""
    asked: dict[int, dict[tuple[str, str], str]] = {}
    ranked = sorted(results.items(), key=lambda each: (*_rank(each[1].summary, plans, asked), each[0]))
    samples: dict[str, str] = {}
    moments: dict[tuple[str, str | None], str] = {}
    kept = []
    for place, stored in ranked:
        summary = stored.summary
        keys = sorted(measured_files(summary.inputs))
        moment = (summary.label, summary.recorded_at)
        first = next((samples[key] for key in keys if key in samples), None)
        if first is None and summary.recorded_at is not None:
            first = moments.get(moment)
        if first is not None:
            why = f"is of the same recording as {first}, which is used in its place."
            skipped.append(Skipped("result", place, "repeated-result", why))
            continue
        samples.update(dict.fromkeys(keys, place))
        moments[moment] = place
        kept.append((place, summary))
    return kept


def _rank(
    summary: ResultSummary, plans: CoursePlans, fingerprints: dict[int, dict[tuple[str, str], str]]
) -> tuple[bool, bool]:
    """Order results of one recording, the one to be used first; fingerprints of a stage are worked out once."""
    by_the_plan = False
    if summary.recorded_at is not None:
        day = plans.day_of(datetime.fromisoformat(summary.recorded_at))
        plan = plans.plan_on(day)
        stage = None if plan is None else plan.stage_on(day)
        asked: dict[tuple[str, str], str] = {}
        if stage is not None:
            if id(stage) not in fingerprints:
                fingerprints[id(stage)] = {(each.name, each.side): fingerprint(each) for each in stage.exercises}
            asked = fingerprints[id(stage)]
        by_the_plan = all(asked.get((each.name, each.side)) == each.prescription_sha256 for each in summary.exercises)
    return not summary.by_hand, not by_the_plan


def _parts(place: str, summary: ResultSummary, plans: CoursePlans, skipped: list[Skipped]) -> list[_Part]:
    def skip(code: str, why: str) -> list[_Part]:
        skipped.append(Skipped("result", place, code, why))
        return []

    latest = plans.latest
    other = None not in {summary.patient, latest.patient} and summary.patient != latest.patient
    if other or not latest.is_for(summary.subject):
        who = summary.patient if other else summary.subject
        return skip(
            "other-patient",
            f"is of {who!r}, but the plan is for {latest.patient or latest.subject!r}; put it in that person's folder.",
        )
    moment = None if summary.recorded_at is None else datetime.fromisoformat(summary.recorded_at)
    if moment is None or moment.tzinfo is None:
        return skip("no-time", "does not say when it was recorded; analyse the recording again with --recorded-at.")
    day = plans.day_of(moment)
    plan = plans.plan_on(day)
    stage = None if plan is None else plan.stage_on(day)
    if plan is None or stage is None:
        return skip("no-stage", no_stage(day))
    started_at = local_time(moment, plan)
    session = re.search(r"(?:^|_)ses-([0-9A-Za-z]+)", summary.label)
    parts = []
    for one in summary.exercises:
        exercise = next((each for each in stage.exercises if (each.name, each.side) == (one.name, one.side)), None)
        if exercise is None:
            why = _not_prescribed(one, replace(plan, current_stage=stage.name), plans)
            skipped.append(Skipped("exercise of a result", place, "not-prescribed", f"{why} on {day}."))
            continue
        other_shoe = _other_shoe(one, exercise)
        if other_shoe:
            skipped.append(Skipped("exercise of a result", place, "other-footwear", other_shoe))
            continue
        recorded = RecordedExercise(
            day=day,
            started_at=started_at,
            session="",
            exercise=exercise,
            stage=stage.name,
            sets=one.sets,
            past_threshold_s=one.past_threshold_s,
            loaded_s=one.loaded_s,
            unloaded_s=one.unloaded_s,
            outside_sets_s=one.outside_sets_s,
            u_shared_deg=one.u_shared_deg,
            u_set_deg=one.u_set_deg,
            zero_doubtful=one.zero_doubtful,
            footwear=one.footwear,
            source=place,
            past_threshold_by_error_s=one.past_threshold_by_error_s,
            u_own_deg=one.u_own_deg,
        )
        asked_deg = None if exercise.compression_threshold is None else exercise.compression_threshold.deg
        if one.compression_threshold_deg != asked_deg:
            recorded = replace(
                recorded,
                past_threshold_s=None,
                loaded_s=None,
                unloaded_s=None,
                outside_sets_s=None,
                past_threshold_by_error_s=None,
            )
            why = (
                f"{one.name}: counts time past {_degrees(one.compression_threshold_deg)}, but the plan of {day} has "
                f"{_degrees(asked_deg)}, so that time is not used; analyse the recording again."
            )
            skipped.append(Skipped("exercise of a result", place, "other-compressive-angle", why))
        parts.append(_Part(recorded, started_at + timedelta(seconds=summary.duration_s), session and session[1]))
    return parts


def _degrees(angle_deg: float | None) -> str:
    return "no compressive angle" if angle_deg is None else f"{angle_deg:g} deg"


def _not_prescribed(one: ExerciseSummary, plan: Plan, plans: CoursePlans) -> str:
    asked = ", ".join(f"{each.name} ({each.side})" for each in plan.stage.exercises)
    known = any((each.name, each.side) == (one.name, one.side) for each in plans.exercises)
    what = "is of another stage or plan" if known else "is in no plan of the course"
    return f"{one.name} ({one.side}) {what}; stage {plan.current_stage!r} has {asked}"


def _other_shoe(one: ExerciseSummary, exercise: Exercise) -> str:
    """Say in what the shoe of the neutral pose differs from the plan's; empty where it does not."""
    for what, worn, asked in (
        ("footwear", one.footwear, exercise.footwear),
        ("heel lift", one.heel_lift_mm, exercise.heel_lift_mm),
    ):
        if None not in {worn, asked} and worn != asked:
            unit = " mm" if what == "heel lift" else ""
            return (
                f"{one.name}: its neutral pose was taken with a {what} of {worn}{unit}, but the plan of that day has "
                f"{asked}{unit}, so its angles count from another zero; analyse the recording by the plan of that day."
            )
    return ""


def _sessions(parts: Sequence[_Part]) -> tuple[RecordedExercise, ...]:
    """Tell sessions of a day apart: another BIDS session, or a long break."""
    ordered = sorted(parts, key=lambda each: (each.recorded.day, each.recorded.started_at, each.recorded.source))
    placed: list[RecordedExercise] = []
    number = 0
    before: _Part | None = None
    ends_at: datetime | None = None
    for part in ordered:
        one = part.recorded
        if before is None or before.recorded.day != one.day:
            number, ends_at = 1, None
        elif ends_at is not None and (
            part.bids_session != before.bids_session or one.started_at - ends_at > timedelta(seconds=LONGEST_BREAK_S)
        ):
            number, ends_at = number + 1, None
        placed.append(replace(one, session=f"{one.day} session {number}"))
        ends_at = part.ends_at if ends_at is None else max(ends_at, part.ends_at)
        before = part
    return tuple(placed)
