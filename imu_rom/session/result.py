"""What one session answers, with its samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.comparison import SessionComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.findings import Finding
from imu_rom.motion.uncertainty import Budget
from imu_rom.recording.model import InputFile, Recording
from imu_rom.settings import Settings

__all__ = [
    "Alignment",
    "Allotment",
    "AngleMeasurement",
    "AngleTrace",
    "ExerciseResult",
    "LaterPose",
    "Mark",
    "SensorSlip",
    "SessionResult",
    "StillStretch",
    "ZeroPose",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class StillStretch:
    """A stretch in which both sensors kept still, and whether it could serve as the neutral pose.

    Parameters
    ----------
    start_s, stop_s : float
        Where it lies.
    proximal_inclination_deg, distal_inclination_deg : float or None
        Angle between the sensor's own z axis and the vertical: how the sensor lies, not how the limb stands; None for a
        sensor that is not worn.
    joint_angle_deg : float or None
        Joint angle relative to the chosen zero; None where no angle is known there.
    sways : bool
        True where it sways as a standing person does; a table does not.
    could_serve : bool
        True where it could be the neutral pose.
    why_not : str
        Short reason where it could not; empty otherwise.
    """

    start_s: float
    stop_s: float
    proximal_inclination_deg: float | None
    distal_inclination_deg: float | None
    joint_angle_deg: float | None
    sways: bool
    could_serve: bool
    why_not: str


@dataclass(frozen=True)
class ZeroPose:
    """The neutral pose that gives the zero, and the candidates for it.

    Parameters
    ----------
    start_s, stop_s : float
        The chosen stretch.
    source : {"auto", "given", "events"}
        Found, given by ``--neutral``, or by an event beside the recording.
    candidates : tuple of StillStretch
        All still stretches.
    meaning : str
        What the zero stands for, in the words of the plan.
    pose_deg : float
        Angle of the pose: 0, unless a clinician measured another.
    """

    start_s: float
    stop_s: float
    source: str
    candidates: tuple[StillStretch, ...]
    meaning: str = "the neutral pose"
    pose_deg: float = 0.0


@dataclass(frozen=True)
class LaterPose:
    """A later still stand in the posture of the neutral pose, compared with it.

    Parameters
    ----------
    start_s, stop_s : float
        Where it lies.
    difference_deg : float
        Joint angle there, from the first zero.
    standard_uncertainty_deg : float
        Of that difference: nobody stands twice in quite the same way.
    use : {"agrees", "compared", "drift shared out", "new zero", "undecided"}
        What was made of it: it agrees; it differs, but a later one agrees again; the difference was shared out over the
        time between; it is the zero after a slip; a slip or another stance would explain it alike.
    """

    start_s: float
    stop_s: float
    difference_deg: float
    standard_uncertainty_deg: float
    use: str


@dataclass(frozen=True)
class SensorSlip:
    """A sensor that turned on its segment.

    Parameters
    ----------
    time_s : float
        When.
    earliest_s, latest_s : float
        Between which times it was.
    sensor : str or None
        Which one: ``proximal`` or ``distal``; None where that can't be told.
    size_deg : float
        By how much, as far as it shows.
    evidence : {"axis", "repetitions"}
        The joint's axis parted between the sensors; or later standing, start and end range all moved alike.
    new_zero_s : tuple of float or None
        Pose after it from which later angles count; None where there is none.
    """

    time_s: float
    earliest_s: float
    latest_s: float
    sensor: str | None
    size_deg: float
    evidence: str
    new_zero_s: tuple[float, float] | None


@dataclass(frozen=True)
class Alignment:
    """How sensor axes were tied to the joint.

    Parameters
    ----------
    method : str
        Name of the method in words.
    proximal_axis, distal_axis : tuple of float or None
        Unit vector of the joint's positive flexion axis in each sensor's axes; None for a sensor that is not worn.
    axis_residual_deg : float
        Median disagreement of the two sensors about the axis' tilt within the sets.
    axis_standard_uncertainty_deg : float
        Standard uncertainty of the axis direction.
    quality : float
        0 (movement does not show the axis) to 1 (a clean hinge).
    sign_source : str
        "plan mounting", "recording mounting" or "calibration movement".
    calibration_start_s, calibration_stop_s : float or None
        Where the calibration movement was found.
    """

    method: str
    proximal_axis: tuple[float, float, float] | None
    distal_axis: tuple[float, float, float] | None
    axis_residual_deg: float
    axis_standard_uncertainty_deg: float
    quality: float
    sign_source: str
    calibration_start_s: float | None
    calibration_stop_s: float | None


@dataclass(frozen=True)
class AngleTrace:
    """Joint angle over the whole recording.

    Parameters
    ----------
    time_s : ndarray of shape (n,)
        From the recording's start.
    angle_deg : ndarray of shape (n,)
        Joint angle, positive in the plan's motion.
    standard_uncertainty_deg : ndarray of shape (n,)
        All parts.
    zero_standard_uncertainty_deg : ndarray of shape (n,)
        The part shared by the whole session: the zero, and what follows the angle.
    phase : ndarray of int of shape (n,)
        Index into ``phase_names``.
    phase_names : tuple of str
        ``setup``, ``neutral``, ``calibration``, ``between``, ``set 1``, ``set 2``, ...
    """

    time_s: Floats
    angle_deg: Floats
    standard_uncertainty_deg: Floats
    zero_standard_uncertainty_deg: Floats
    phase: NDArray[np.int16]
    phase_names: tuple[str, ...]


@dataclass(frozen=True)
class Mark:
    """A person's correction, by time, applied before the verdicts.

    Parameters
    ----------
    action : {"strike", "join", "split", "hold"}
        Strike the repetitions that overlap the stretch; join the sets it touches; split a set at its middle; take the
        stretch for a hold.
    start_s, stop_s : float
        Stretch in seconds from the recording's start.
    reason, by, at : str
        Why, who, and when (RFC 3339).
    """

    action: str
    start_s: float
    stop_s: float
    reason: str
    by: str
    at: str


@dataclass(frozen=True)
class Allotment:
    """How it is known that sets belong to an exercise, where a recording holds several.

    Parameters
    ----------
    said_by : {"events", "option", "task", "order"}
        Events beside the recording, the user's ``--exercise``, the task label, or the plan's order.
    candidates : tuple of str
        Where nobody can tell which exercise the sets belong to: the exercises they may belong to. Empty else.
    why : str
        Why nobody can tell; empty else.
    """

    said_by: str
    candidates: tuple[str, ...] = ()
    why: str = ""

    @property
    def is_undecided(self) -> bool:
        """True where nobody can tell which exercise the sets belong to."""
        return bool(self.candidates)


@dataclass(frozen=True)
class ExerciseResult:
    """One exercise of the session.

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
        Standard uncertainty shared by the session, and the slow part that is not shared, at the largest excursion.
    budget : Budget
        The uncertainty budget: its terms, what shares them and where they come from.
    worn_start_s, worn_stop_s : float
        Stretch in which both sensors were worn with the mounting unchanged.
    trace : AngleTrace
        Angle over time.
    later_poses : tuple of LaterPose
        Later still stands in the posture of the neutral pose.
    slips : tuple of SensorSlip
        Slips of the sensors.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone. Where it
        is undecided, ``exercise`` holds what all candidates have alike, and every verdict is undecided.
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
    trace: AngleTrace
    later_poses: tuple[LaterPose, ...] = ()
    slips: tuple[SensorSlip, ...] = ()
    allotment: Allotment | None = None


@dataclass(frozen=True)
class SessionResult:
    """What one session answers.

    Parameters
    ----------
    recording : Recording
        What was measured (the samples are not part of the written result).
    plan : Plan
        What was prescribed.
    inputs : tuple of InputFile
        Recording files, plan, settings and marks, with their SHA-256.
    settings : Settings
        All settings used.
    exercises : tuple of ExerciseResult
        One entry an exercise.
    marks : tuple of Mark
        Corrections applied.
    findings : tuple of Finding
        All findings, in order of time.
    """

    recording: Recording
    plan: Plan
    inputs: tuple[InputFile, ...]
    settings: Settings
    exercises: tuple[ExerciseResult, ...]
    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class AngleMeasurement:
    """Joint angle of a recording without a plan.

    Parameters
    ----------
    trace : AngleTrace
        Angle over time; its phases are ``setup`` and ``between``, and ``neutral`` where there is a pose.
    zero : ZeroPose or None
        Neutral pose; None where the zero is arbitrary.
    alignment : Alignment
        Axis with its quality.
    sign_known : bool
        False where the sign is arbitrary.
    budget : Budget
        The uncertainty budget.
    findings : tuple of Finding
        What was noticed.
    """

    trace: AngleTrace
    zero: ZeroPose | None
    alignment: Alignment
    sign_known: bool
    budget: Budget
    findings: tuple[Finding, ...]
