"""One sitting from recording and plan to verdicts: composition only."""

from collections.abc import Sequence
from dataclasses import replace

from imu_rom.dose.plan import Plan
from imu_rom.dose.stage_applied import plan_as_applied
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.recording.model import InputFile, Recording
from imu_rom.session.answers import Question, answer_wearing, unanswered
from imu_rom.session.findings import in_time, own_uncertainty_findings, stage_findings
from imu_rom.session.parts import AskedPart, Parts, parts_of
from imu_rom.session.result import ExerciseResult, Mark, SessionResult
from imu_rom.session.said_poses import SaidPoses, poses_said
from imu_rom.session.wearings import wearings_of
from imu_rom.settings import Settings

__all__ = ["analyse"]


def analyse(
    recording: Recording,
    plan: Plan,
    *,
    stage: str | None = None,
    exercise_name: str | None = None,
    span_s: tuple[float, float] | None = None,
    neutral: tuple[float, float] | None = None,
    second_pose: tuple[float, float] | None = None,
    settings: Settings | None = None,
    marks: Sequence[Mark] = (),
    inputs: Sequence[InputFile] = (),
    parts: Sequence[AskedPart] = (),
) -> SessionResult:
    """Analyse one recording against its plan.

    Parameters
    ----------
    recording : Recording
        What was measured.
    plan : Plan
        What was prescribed.
    stage : str, optional
        Stage of the plan that held; None takes the one of the recording's day, where both are dated, else the current
        one.
    exercise_name : str, optional
        Exercise of the plan's stage, where it is one; None takes the recording's events, its task, or the plan's order.
    span_s : tuple of float, optional
        (start_s, stop_s) outside which no set is looked for.
    neutral : tuple of float, optional
        (start_s, stop_s) of the neutral pose; None takes the recording's event ``neutral pose``, else finds it.
    second_pose : tuple of float, optional
        (start_s, stop_s) in which the plan's second pose was held; None takes the recording's event ``second pose``.
        Where that is missing too the pose is not made use of.
    settings : Settings, optional
        All tunables; None takes the defaults.
    marks : sequence of Mark, optional
        A person's corrections.
    inputs : sequence of InputFile, optional
        Further files that were read (plan, settings, marks), for provenance.
    parts : sequence of AskedPart, optional
        Several exercises of the stage, with or without their stretches, in the place of ``exercise_name``.

    Returns
    -------
    SessionResult
        The answer with all that led to it.

    Raises
    ------
    PlanError
        The plan is for another person or exercise, or no stage of it held on the recording's day.
    RecordingError
        A tracked point is not in the recording, or stretches of two exercises overlap.
    CannotAnswerError
        The recording does not carry what the question needs: pose, movement, sign, repetitions. Of several exercises
        those that can be answered are, and a finding says why the others can't.
    """
    settings = settings or Settings()
    asked, plan = plan, plan_as_applied(plan, recording.recorded_at, stage)
    own = plan.own_uncertainty
    if own is not None:
        settings = replace(settings, uncertainty=own.applied_to(settings.uncertainty))
        inputs = (*inputs, *own.checks)
    if exercise_name is not None:
        parts = (AskedPart(exercise_name, span_s),)
    held = parts_of(recording, plan, parts)
    if span_s is not None and exercise_name is None:
        held = replace(held, parts=tuple(replace(each, spans_s=(span_s,)) for each in held.parts))
    question = Question(
        recording=recording,
        said_by=held.said_by,
        poses=SaidPoses(neutral, second_pose, "auto" if neutral is None else "given"),
        settings=settings,
        own_sources={} if own is None else own.sources,
        marks=tuple(marks),
        alone=len(held.parts) == 1,
    )
    results, noticed = _answered(question, held)
    if not question.alone:
        # what is about a pose that several exercises share is said once
        noticed = list(dict.fromkeys(noticed))
    findings = [
        *recording.findings,
        *held.findings,
        *stage_findings(asked, plan),
        *own_uncertainty_findings(own),
        *noticed,
    ]
    return SessionResult(
        recording=recording,
        plan=plan,
        inputs=(*recording.files, *inputs),
        settings=settings,
        exercises=tuple(sorted(results, key=_begins_s)),
        marks=tuple(marks),
        findings=tuple(sorted(findings, key=in_time)),
    )


def _answered(question: Question, held: Parts) -> tuple[list[ExerciseResult], list[Finding]]:
    """Answer each leg, shoe and zero; where one of several can't be answered, the others still are."""
    results: list[ExerciseResult] = []
    findings: list[Finding] = []
    touched: set[Mark] = set()
    errors = []
    wearings = wearings_of(question.recording, held, question.settings)
    for wearing in wearings:
        # one zero needs one pose; of several the one that a person named lies in its own part
        exercise = wearing.parts[0].exercise
        poses = poses_said(
            question.recording,
            exercise.side,
            wearing.window_s if len(wearings) > 1 else None,
            question.poses.neutral,
            question.poses.second,
            knows_second=exercise.second_pose is not None,
        )
        theirs = replace(question, poses=poses)
        try:
            answers, noticed, marked = answer_wearing(theirs, wearing)
        except CannotAnswerError as error:
            errors.append(error)
            findings.append(unanswered([each.exercise for each in wearing.parts], error))
            continue
        results += answers
        findings += noticed
        touched |= marked
    if errors and not results:
        raise errors[0]
    for mark in question.marks:
        if mark not in touched:
            raise CannotAnswerError(
                f"the mark {mark.action!r} touches no set that was found",
                where=f"{mark.start_s:g}:{mark.stop_s:g} s",
                do="take the marks that were made on this result",
            )
    return results, findings


def _begins_s(result: ExerciseResult) -> float:
    return min((each.start_s for each in result.comparison.sets), default=0.0)
