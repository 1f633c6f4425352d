"""Rows of one recording for a cohort's tables."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields

from imu_rom.dose.compared import SetComparison
from imu_rom.dose.exposure import STEPS_PER_DEG, total_curve
from imu_rom.dose.measured_exposure import unseen_between
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.exchange.plain_values import rounded
from imu_rom.exchange.tidy_tables import Row, tidy_tables
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.session.reference_result import ReferenceComparison

__all__ = ["RecordingIdentity", "SetCurve", "curve_rows", "recording_rows", "reference_rows", "set_curves"]


@dataclass(frozen=True)
class RecordingIdentity:
    """Whose a recording is, and what it was compared with.

    Parameters
    ----------
    participant : str or None
        BIDS subject label of its name.
    session : str
        Its name; no two recordings of a cohort have the same.
    bids_session, run, tracking_system : str or None
        BIDS labels of its name.
    recording, recording_sha256 : str
        Place of its ``_motion.tsv`` within the dataset, and the SHA-256 of that.
    plan_file, plan_sha256 : str
        File of its plan, and the SHA-256 of that.
    """

    participant: str | None
    session: str
    bids_session: str | None
    run: str | None
    tracking_system: str | None
    recording: str
    recording_sha256: str
    plan_file: str
    plan_sha256: str


@dataclass(frozen=True)
class SetCurve:
    """Exposure curve of one set, without repeating its angles.

    Parameters
    ----------
    part : int
        Which exercise of the recording, from 1.
    exercise, side : str
        Of the set.
    set : int
        Which set of the exercise, from 1.
    first_step : int
        Lowest angle in steps of 0.1 degrees.
    unseen_s : float
        Time of the set without data.
    time_past_s : tuple of float
        Time past each angle, step by step.
    """

    part: int
    exercise: str
    side: str
    set: int
    first_step: int
    unseen_s: float
    time_past_s: tuple[float, ...]


def recording_rows(identity: RecordingIdentity, document: ResultDocument) -> dict[str, list[Row]]:
    """Make the rows of one recording, but for its exposure curves.

    Parameters
    ----------
    identity : RecordingIdentity
        Whose it is.
    document : ResultDocument
        What it answers.

    Returns
    -------
    dict of str to list of mapping
        Rows of sessions, sets, repetitions and findings by table.
    """
    tables = tidy_tables(Exported((ExportedResult(identity.session, document, None),)))
    whose: dict[str, object] = {"participant": identity.participant}
    rows: dict[str, list[Row]] = {
        each.layout.name: [whose | dict(row) for row in each.rows] for each in tables if each.rows
    }
    told = {
        "bids_session": identity.bids_session,
        "run": identity.run,
        "tracking_system": identity.tracking_system,
        "recording": identity.recording,
        "recording_sha256": identity.recording_sha256,
        "plan_file": identity.plan_file,
        "plan_sha256": identity.plan_sha256,
    }
    rows["sessions"] = [dict(row) | told for row in rows.get("sessions", ())]
    rows["findings"] = [
        {
            **whose,
            "session": identity.session,
            "finding": number,
            "code": each.code,
            "level": each.level,
            "sentence": each.sentence,
            "start_s": each.start_s,
            "stop_s": each.stop_s,
            "sensor": each.sensor,
        }
        for number, each in enumerate(document.findings, start=1)
    ]
    return rows


def reference_rows(
    identity: RecordingIdentity, compared: Sequence[tuple[int, ReferenceComparison]]
) -> list[dict[str, object]]:
    """Make the rows of one recording's other measurements.

    Parameters
    ----------
    identity : RecordingIdentity
        Whose it is.
    compared : sequence of (int, ReferenceComparison)
        Which exercise of the recording, from 1, and what came of it.

    Returns
    -------
    list of dict
        One a repetition and channel.
    """
    return [
        {
            "participant": identity.participant,
            "session": identity.session,
            "part": part,
            "exercise": found.exercise,
            "side": found.side,
            "channel": found.channel,
            "lag_s": found.lag.lag_s,
            "correlation": found.lag.correlation,
            "zero_difference_deg": found.zero_difference_deg,
            **{each.name: getattr(done, each.name) for each in fields(done)},
        }
        for part, found in ((part, rounded(each)) for part, each in compared)
        for done in found.repetitions
    ]


def set_curves(document: ResultDocument) -> tuple[SetCurve, ...]:
    """Add the exposure curves of each set's repetitions.

    Parameters
    ----------
    document : ResultDocument
        What a recording answers.

    Returns
    -------
    tuple of SetCurve
        None of exercises whose angle has no known zero.
    """
    return tuple(
        _set_curve(part, answer, done, document)
        for part, answer in enumerate(document.exercises, start=1)
        if answer.exercise.angle_is_known
        for done in answer.comparison.sets
    )


def _set_curve(part: int, answer: ExerciseAnswer, done: SetComparison, document: ResultDocument) -> SetCurve:
    exercise = answer.exercise
    curve = total_curve([each.curve for each in done.repetitions])
    points = (exercise.proximal, exercise.distal)
    gaps = sorted({(each.start_s, each.stop_s) for each in document.recording.gaps if each.tracked_point in points})
    between = unseen_between(RepetitionSet(tuple(each.repetition for each in done.repetitions)), gaps)
    unseen_s = curve.unseen_s + sum(stop_s - start_s for start_s, stop_s in between)
    return SetCurve(
        part=part,
        exercise=exercise.name,
        side=exercise.side,
        set=done.number,
        first_step=round(curve.first_deg * STEPS_PER_DEG),
        unseen_s=float(rounded(unseen_s, "unseen_s")),
        time_past_s=tuple(rounded(curve.time_past_s, "time_past_s").tolist()),
    )


def curve_rows(participant: str | None, session: str, curve: SetCurve) -> Iterator[Mapping[str, object]]:
    """Make the rows of one set's exposure curve.

    Parameters
    ----------
    participant : str or None
        Whose it is.
    session : str
        Name of the recording.
    curve : SetCurve
        The curve.

    Yields
    ------
    mapping
        One angle.
    """
    for step, time_past_s in enumerate(curve.time_past_s, start=curve.first_step):
        yield {
            "participant": participant,
            "session": session,
            "part": curve.part,
            "exercise": curve.exercise,
            "side": curve.side,
            "set": curve.set,
            "angle_deg": step / STEPS_PER_DEG,
            "time_past_s": time_past_s,
            "unseen_s": curve.unseen_s,
        }
