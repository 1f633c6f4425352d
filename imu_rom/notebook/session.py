"""One session analysed, with its tables as data frames."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from imu_rom.dose.plan import Plan
from imu_rom.exchange.cohort_columns import COHORT_REPETITIONS, COHORT_SESSIONS, COHORT_SETS, EXPOSURE_CURVES, FINDINGS
from imu_rom.exchange.cohort_rows import RecordingIdentity, curve_rows, recording_rows, set_curves
from imu_rom.exchange.document import ResultDocument, result_document
from imu_rom.exchange.tidy_columns import SAMPLES, SESSIONS
from imu_rom.notebook.frames import described, frame_of
from imu_rom.recording.model import Recording
from imu_rom.session import AskedPart, Mark
from imu_rom.session import analyse as analyse_session
from imu_rom.session.result import SessionResult
from imu_rom.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AnalysedSession", "SessionTable", "analyse"]

SessionTable = Literal["sessions", "sets", "repetitions", "exposure_curves", "findings", "samples"]

# what a cohort's table of sessions adds comes from the files of a dataset
_SESSIONS = replace(
    COHORT_SESSIONS,
    columns=tuple(each for each in COHORT_SESSIONS.columns if each.name in {"participant", *SESSIONS.names}),
)
_LAYOUTS = {each.name: each for each in (_SESSIONS, COHORT_SETS, COHORT_REPETITIONS, FINDINGS)}


@dataclass(frozen=True)
class AnalysedSession:
    """What one session answers.

    Parameters
    ----------
    result : SessionResult
        The answer with all that led to it, samples included.
    document : ResultDocument
        The same without samples, rounded as ``result.json`` keeps it; the tables are made from this.
    """

    result: SessionResult
    document: ResultDocument

    def to_frame(self, table: SessionTable = "repetitions") -> "pd.DataFrame":
        """Give one table.

        Parameters
        ----------
        table : {"repetitions", "sets", "sessions", "exposure_curves", "findings", "samples"}
            Which; columns and values are those of a cohort's tables, so that frames of many sessions can be laid
            under each other. ``samples`` is the joint angle over time.

        Returns
        -------
        pandas.DataFrame
            One row an observation; ``attrs["units"]`` and ``attrs["meanings"]`` say what the columns are.

        Examples
        --------
        >>> from imu_rom import analyse, read_plan, read_recording
        >>> recording = read_recording("sample_recordings/dataset/sub-P0001")
        >>> session = analyse(recording, read_plan("sample_recordings/plans/P-0001.toml"))
        >>> sets = session.to_frame("sets")
        >>> sets[["set", "repetitions", "verdict"]].values.tolist()
        [[1, 15, 'met'], [2, 15, 'met'], [3, 15, 'met']]
        >>> sets.attrs["units"]["past_threshold_s"]
        's'
        """
        if table == "samples":
            return self._samples()
        participant, session = self.result.recording.subject, self.result.recording.label
        if table == "exposure_curves":
            curves = (row for each in set_curves(self.document) for row in curve_rows(participant, session, each))
            return frame_of(EXPOSURE_CURVES, curves)
        if table not in _LAYOUTS:
            names = ", ".join([*_LAYOUTS, EXPOSURE_CURVES.name, SAMPLES.name])
            raise ValueError(f"table must be one of {names}, got {table!r}")
        identity = RecordingIdentity(participant, session, None, None, None, "", "", "", "")
        return frame_of(_LAYOUTS[table], recording_rows(identity, self.document).get(table, ()))

    def _samples(self) -> "pd.DataFrame":
        import pandas as pd  # noqa: PLC0415

        pieces = []
        for part, each in enumerate(self.result.exercises, start=1):
            trace = each.trace
            columns = {
                "session": self.result.recording.label,
                "part": part,
                "time_s": trace.time_s,
                "angle_deg": trace.angle_deg,
                "standard_uncertainty_deg": trace.standard_uncertainty_deg,
                "zero_standard_uncertainty_deg": trace.zero_standard_uncertainty_deg,
                "phase": [trace.phase_names[index] for index in trace.phase],
            }
            pieces.append(pd.DataFrame(columns))
        return described(SAMPLES, pd.concat(pieces, ignore_index=True))


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
    parts: Sequence[AskedPart] = (),
) -> AnalysedSession:
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
    neutral, second_pose : tuple of float, optional
        (start_s, stop_s) of the known poses; None takes the recording's events, else the neutral pose is found.
    settings : Settings, optional
        All tunables; None takes the defaults.
    marks : sequence of Mark, optional
        A person's corrections.
    parts : sequence of AskedPart, optional
        Several exercises of the stage, in the place of ``exercise_name``.

    Returns
    -------
    AnalysedSession
        The answer; nothing is written.

    Raises
    ------
    PlanError
        The plan is for another person or exercise, or no stage of it held on the recording's day.
    RecordingError
        A tracked point is not in the recording, or stretches of two exercises overlap.
    CannotAnswerError
        The recording does not carry what the question needs: pose, movement, sign, repetitions.

    Examples
    --------
    >>> from imu_rom import analyse, read_plan, read_recording
    >>> recording = read_recording("sample_recordings/dataset/sub-P0002")
    >>> session = analyse(recording, read_plan("sample_recordings/plans/P-0002.toml"))
    >>> [each.verdict for exercise in session.result.exercises for each in exercise.comparison.sets]
    ['short', 'short']
    >>> float(session.to_frame().end_range_deg.median()) < session.result.exercises[0].exercise.end_range_deg[0]
    True
    """
    result = analyse_session(
        recording,
        plan,
        stage=stage,
        exercise_name=exercise_name,
        span_s=span_s,
        neutral=neutral,
        second_pose=second_pose,
        settings=settings,
        marks=marks,
        parts=parts,
    )
    return AnalysedSession(result, result_document(result))
