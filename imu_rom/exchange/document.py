"""What one session answers, without its samples and rounded as its file keeps it.

Tables, sentences, pages and ``result.json`` are all made from this, so that they agree to the last digit.
"""

import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib import metadata

import numpy as np

from imu_rom.dose.comparison import SessionComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.exchange.plain_values import rounded
from imu_rom.findings import Finding
from imu_rom.motion.uncertainty import Budget
from imu_rom.recording.clock_fit import ClockFit
from imu_rom.recording.model import Gap, InputFile, Recording
from imu_rom.session.result import Alignment, Allotment, LaterPose, Mark, SensorSlip, SessionResult, ZeroPose
from imu_rom.version import __version__

__all__ = [
    "ClockSummary",
    "ExerciseAnswer",
    "RecordingSummary",
    "ResultDocument",
    "SensorSummary",
    "package_versions",
    "recording_summary",
    "result_document",
]

# whose figures an answer depends on; the attitude filter of the settings is added where it is another package
PACKAGES = ("numpy", "scipy", "pandas", "vqf")


@dataclass(frozen=True)
class SensorSummary:
    """One sensor, without its samples.

    Parameters
    ----------
    tracked_point : str
        Body part it was worn on.
    placement, mounting : str or None
        As the recording declares them.
    """

    tracked_point: str
    placement: str | None
    mounting: str | None


@dataclass(frozen=True)
class ClockSummary:
    """How the clocks of two separately started sensors were brought together.

    Parameters
    ----------
    reference, other : str
        Tracked points of the sensor whose clock was kept, and of the one whose clock was moved.
    offset_ms : float
        How much later the other sensor was started.
    skew_ppm : float
        How much longer a second of the other clock is.
    evidence : dict of str to int
        What it was told from: stretches held together, stretches of shared motion, shared jolts.
    contradicting : int
        Stretches that said otherwise and were left out.
    residual_ms : float
        What is left between the evidence and the line through it.
    start_standard_uncertainty_ms, largest_standard_uncertainty_ms, end_standard_uncertainty_ms : float
        Of the offset: at the recording's start, where it is largest, and at the end.
    """

    reference: str
    other: str
    offset_ms: float
    skew_ppm: float
    evidence: dict[str, int]
    contradicting: int
    residual_ms: float
    start_standard_uncertainty_ms: float
    largest_standard_uncertainty_ms: float
    end_standard_uncertainty_ms: float


@dataclass(frozen=True)
class RecordingSummary:
    """What was measured, without the samples.

    Parameters
    ----------
    label : str
        Short name for people.
    task, subject : str or None
        BIDS labels.
    recorded_at, recorded_at_source : str or None
        RFC 3339 time of the first sample, and where that came from.
    rate_hz : float
        Sampling rate.
    samples : int
        Samples of each sensor.
    duration_s : float
        Time covered.
    sensors : tuple of SensorSummary
        In the file's order.
    gaps : tuple of Gap
        Stretches longer than the fill limit without data.
    filled_samples : dict of str to int
        Samples filled in short gaps, by tracked point.
    reference_channels : tuple of str
        Angles that came with the recording.
    clocks : ClockSummary or None
        None where both sensors shared one clock.
    """

    label: str
    task: str | None
    subject: str | None
    recorded_at: str | None
    recorded_at_source: str | None
    rate_hz: float
    samples: int
    duration_s: float
    sensors: tuple[SensorSummary, ...]
    gaps: tuple[Gap, ...]
    filled_samples: dict[str, int]
    reference_channels: tuple[str, ...]
    clocks: ClockSummary | None


@dataclass(frozen=True)
class ExerciseAnswer:
    """One exercise of the session, without its samples; the fields are those of `imu_rom.session.ExerciseResult`.

    Parameters
    ----------
    exercise : Exercise
        The plan's exercise as applied.
    zero : ZeroPose
        Neutral pose and candidates.
    alignment : Alignment
        Sensor-to-joint alignment with its quality.
    comparison : SessionComparison
        Sets, repetitions and verdicts.
    u_shared_deg, u_set_deg : float
        Standard uncertainty shared by the session, and the slow part that is not shared.
    budget : Budget
        The uncertainty budget's terms.
    worn_start_s, worn_stop_s : float
        Stretch in which both sensors were worn with the mounting unchanged.
    later_poses : tuple of LaterPose
        Later still stands in the posture of the neutral pose.
    slips : tuple of SensorSlip
        Slips of the sensors.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.
    """

    exercise: Exercise
    zero: ZeroPose
    alignment: Alignment
    comparison: SessionComparison
    u_shared_deg: float
    u_set_deg: float
    budget: Budget
    worn_start_s: float
    worn_stop_s: float
    later_poses: tuple[LaterPose, ...] = ()
    slips: tuple[SensorSlip, ...] = ()
    allotment: Allotment | None = None


@dataclass(frozen=True)
class ResultDocument:
    """What one session answers, rounded as the file keeps it.

    Parameters
    ----------
    program_version : str
        Version of this program that wrote it.
    patient, bids_subject : str or None
        Pseudonym, and the BIDS subject label of the same person.
    stage : str
        Stage of the plan that applied.
    stage_from : date or None
        First day of that stage.
    plan_title, tendon_site : str
        From the plan.
    recording : RecordingSummary
        What was measured.
    exercises : tuple of ExerciseAnswer
        One entry an exercise.
    findings : tuple of Finding
        All findings, in order of time.
    marks : tuple of Mark
        Corrections that were applied.
    inputs : tuple of InputFile
        What was read, with its SHA-256.
    versions : dict of str to str
        Packages that the figures depend on.
    settings : dict
        All settings used, by group.
    own_uncertainty : dict of str to str
        Parts of the uncertainty that the plan sets, by the settings' names, and where each value comes from; the
        values themselves are those of the settings.
    """

    program_version: str
    patient: str | None
    bids_subject: str | None
    stage: str
    stage_from: date | None
    plan_title: str
    tendon_site: str
    recording: RecordingSummary
    exercises: tuple[ExerciseAnswer, ...]
    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...]
    inputs: tuple[InputFile, ...]
    versions: dict[str, str]
    settings: dict[str, dict[str, float | str]]
    own_uncertainty: dict[str, str] = field(default_factory=dict)


def _clock_summary(fit: ClockFit, duration_s: float) -> ClockSummary:
    uncertainty_ms = 1e3 * fit.standard_uncertainty_s(np.linspace(0.0, duration_s, 200))
    return ClockSummary(
        reference=fit.reference,
        other=fit.other,
        offset_ms=1e3 * fit.offset_s,
        skew_ppm=1e6 * fit.skew,
        evidence={kind: sum(each.kind == kind for each in fit.evidence) for kind in fit.found_by},
        contradicting=fit.contradicting,
        residual_ms=1e3 * fit.residual_s,
        start_standard_uncertainty_ms=float(uncertainty_ms[0]),
        largest_standard_uncertainty_ms=float(uncertainty_ms.max()),
        end_standard_uncertainty_ms=float(uncertainty_ms[-1]),
    )


def recording_summary(recording: Recording) -> RecordingSummary:
    """Say what was measured, without the samples and rounded as a file keeps it.

    Parameters
    ----------
    recording : Recording
        As read.

    Returns
    -------
    RecordingSummary
        Label, time, rate, sensors and gaps.
    """
    return rounded(
        RecordingSummary(
            label=recording.label,
            task=recording.task,
            subject=recording.subject,
            recorded_at=recording.recorded_at,
            recorded_at_source=recording.recorded_at_source,
            rate_hz=recording.rate_hz,
            samples=recording.sample_count,
            duration_s=recording.duration_s,
            sensors=tuple(
                SensorSummary(each.tracked_point, each.placement, each.mounting) for each in recording.sensors.values()
            ),
            gaps=recording.gaps,
            filled_samples=dict(recording.filled_samples),
            reference_channels=tuple(each.name for each in recording.references),
            clocks=None if recording.clocks is None else _clock_summary(recording.clocks, recording.duration_s),
        )
    )


def package_versions(settings: Mapping[str, Mapping[str, object]]) -> dict[str, str]:
    """List the packages that an answer's figures depend on.

    Parameters
    ----------
    settings : mapping
        All settings, by group.

    Returns
    -------
    dict of str to str
        Versions by name.
    """
    packages = list(PACKAGES)
    if settings.get("angle", {}).get("attitude_filter", "vqf") != "vqf":
        packages.append("ahrs")
    return {"python": platform.python_version(), **{each: _version(each) for each in packages}}


@cache
def _version(package: str) -> str:
    # looked for on the disk each time, and asked for each recording of a cohort
    return metadata.version(package)


def result_document(session: SessionResult) -> ResultDocument:
    """Round a session's result to what its file keeps.

    Parameters
    ----------
    session : SessionResult
        As analysed.

    Returns
    -------
    ResultDocument
        Without the samples.
    """
    recording, plan = session.recording, session.plan
    settings = session.settings.as_mapping()
    return ResultDocument(
        program_version=__version__,
        patient=plan.patient,
        bids_subject=plan.subject or recording.subject,
        stage=plan.stage.name,
        stage_from=plan.stage.from_date,
        plan_title=plan.title,
        tendon_site=plan.tendon_site,
        recording=recording_summary(recording),
        exercises=tuple(
            ExerciseAnswer(
                exercise=each.exercise,
                zero=rounded(each.zero),
                alignment=rounded(each.alignment),
                comparison=rounded(each.comparison),
                u_shared_deg=rounded(each.u_shared_deg, "u_shared_deg"),
                u_set_deg=rounded(each.u_set_deg, "u_set_deg"),
                budget=rounded(each.budget),
                worn_start_s=rounded(each.worn_start_s, "worn_start_s"),
                worn_stop_s=rounded(each.worn_stop_s, "worn_stop_s"),
                later_poses=rounded(each.later_poses),
                slips=rounded(each.slips),
                allotment=each.allotment,
            )
            for each in session.exercises
        ),
        findings=rounded(session.findings),
        marks=rounded(session.marks),
        inputs=session.inputs,
        versions=package_versions(settings),
        settings=settings,
        own_uncertainty={} if plan.own_uncertainty is None else dict(plan.own_uncertainty.sources),
    )
