"""Sessions of a cohort from its tables, read file by file: exposure at any angle, and whether each counts."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.study import ValidRecording, why_not_valid
from imu_rom.exchange.cohort_columns import COHORT_REPETITIONS, COHORT_SESSIONS, COHORT_SETS, EXPOSURE_CURVES
from imu_rom.exchange.table_reading import read_parts

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Curve", "SessionExposure", "reasons_counted", "session_exposures", "weeks_of"]


@dataclass(frozen=True)
class Curve:
    """Time past each angle of one set.

    Parameters
    ----------
    angle_deg, time_past_s : ndarray of shape (m,)
        In steps of 0.1 degrees.
    """

    angle_deg: NDArray[np.float64]
    time_past_s: NDArray[np.float64]

    def past(self, threshold_deg: float) -> float:
        """Look up the time past an angle.

        Parameters
        ----------
        threshold_deg : float
            Need not lie on a step.

        Returns
        -------
        float
            Seconds.
        """
        return float(np.interp(threshold_deg, self.angle_deg, self.time_past_s, right=0.0))


@dataclass(frozen=True)
class SessionExposure:
    """One side in one recording.

    Parameters
    ----------
    participant, session, side : str
        Whose, which, and of which side.
    exercises : tuple of str
        What was done.
    day : date or None
        When, by the clock where it was recorded; None where nothing says so.
    threshold_deg : float or None
        The plan's compressive angle; None where it names none, or several exercises name different ones.
    u_shared_deg : float or None
        The largest standard uncertainty that the session shares.
    reasons : tuple of str
        Why it does not count; empty where it does.
    curves : tuple of Curve
        Of its sets.
    end_range_deg : dict of str to float
        Median of the complete repetitions by exercise.
    repetitions, undecided : int
        Complete ones, and those of them whose end range is undecided.
    unseen_s : float
        Time of the sets without data.
    """

    participant: str
    session: str
    side: str
    exercises: tuple[str, ...]
    day: date | None
    threshold_deg: float | None
    u_shared_deg: float | None
    reasons: tuple[str, ...]
    curves: tuple[Curve, ...]
    end_range_deg: Mapping[str, float] = field(default_factory=dict)
    repetitions: int = 0
    undecided: int = 0
    unseen_s: float = 0.0

    def because(self, reason: str) -> "SessionExposure":
        """Give the same session, with one more reason why it does not count.

        Parameters
        ----------
        reason : str
            Stable words.

        Returns
        -------
        SessionExposure
            A copy.
        """
        return replace(self, reasons=(*self.reasons, reason))

    def past(self, threshold_deg: float | None, *, shift_u: float = 0.0, step_deg: float = 0.0) -> float | None:
        """Give the time past an angle.

        Parameters
        ----------
        threshold_deg : float or None
            None: the plan's.
        shift_u : float
            Standard uncertainties of its own by which the zero is moved; above 0 every angle reads deeper.
        step_deg : float
            Added to the angle.

        Returns
        -------
        float or None
            Seconds over all sets; None where there is no angle, or no known zero.
        """
        asked = self.threshold_deg if threshold_deg is None else threshold_deg
        if asked is None or not self.curves:
            return None
        moved = asked + step_deg - shift_u * (self.u_shared_deg or 0.0)
        return sum(each.past(moved) for each in self.curves)


def session_exposures(tables: Path, rule: ValidRecording | None) -> Iterator[SessionExposure]:
    """Read all sessions, one participant's files at a time.

    Parameters
    ----------
    tables : Path
        Folder of the cohort's tables.
    rule : ValidRecording or None
        Which count; None: all.

    Yields
    ------
    SessionExposure
        In order of participants and recordings.
    """
    layouts = (COHORT_SESSIONS, COHORT_SETS, COHORT_REPETITIONS, EXPOSURE_CURVES)
    for sessions, sets, repetitions, curves in read_parts(tables, layouts):
        by_session = [_by_session(each) for each in (sets, repetitions, curves)]
        for (session, side), rows in sessions.groupby(["session", "side"], sort=False):
            own_sets, own_repetitions, own_curves = (each.get((session, side)) for each in by_session)
            yield _session(rows, own_sets, own_repetitions, own_curves, rule)


def _by_session(table: "pd.DataFrame") -> "dict[object, pd.DataFrame]":
    return dict(iter(table.groupby(["session", "side"], sort=False))) if len(table) else {}


def _session(
    rows: "pd.DataFrame",
    sets: "pd.DataFrame | None",
    repetitions: "pd.DataFrame | None",
    curves: "pd.DataFrame | None",
    rule: ValidRecording | None,
) -> SessionExposure:
    first = rows.iloc[0]
    unseen_s, length_s = 0.0, 0.0
    found = []
    if curves is not None:
        for _, one in curves.groupby(["part", "set"], sort=False):
            found.append(Curve(one.angle_deg.to_numpy(), one.time_past_s.to_numpy()))
            unseen_s += float(one.unseen_s.iloc[0])
    if sets is not None:
        length_s = float((sets.stop_s - sets.start_s).sum())
    end_range: dict[str, float] = {}
    done = undecided = 0
    if repetitions is not None:
        complete = repetitions[repetitions.complete.fillna(value=False).astype(bool)]
        done, undecided = len(complete), int((complete.reached == "undecided").sum())
        end_range = {str(name): float(one.median()) for name, one in complete.groupby("exercise").end_range_deg}
    thresholds = set(rows.compression_threshold_deg.tolist())
    threshold = next(iter(thresholds)) if len(thresholds) == 1 else float("nan")
    known = rows.u_shared_deg.dropna()
    u_shared = float(known.max()) if len(known) else None
    prescribed = rows.prescribed_repetitions.dropna()
    reasons: tuple[str, ...] = () if found else ("no-known-angle",)
    if rule is not None:
        reasons += why_not_valid(
            rule,
            repetitions=done,
            prescribed_repetitions=int(prescribed.sum()) if len(prescribed) else None,
            u_shared_deg=u_shared,
            unseen_share=unseen_s / length_s if length_s > 0 else 0.0,
            findings=frozenset(str(first.findings or "").split()),
        )
    return SessionExposure(
        participant=str(first.participant or "no-participant"),
        session=str(first.session),
        side=str(first.side),
        exercises=tuple(dict.fromkeys(str(each) for each in rows.exercise)),
        day=datetime.fromisoformat(first.recorded_at).date() if first.recorded_at else None,
        threshold_deg=None if np.isnan(threshold) else float(threshold),
        u_shared_deg=u_shared,
        reasons=reasons,
        curves=tuple(found),
        end_range_deg=end_range,
        repetitions=done,
        undecided=undecided,
        unseen_s=unseen_s,
    )


def weeks_of(sessions: Sequence[SessionExposure]) -> dict[tuple[str, str], int]:
    """Count each session's week from the participant's first recorded day, which begins week 1.

    Parameters
    ----------
    sessions : sequence of SessionExposure
        All, those that don't count too.

    Returns
    -------
    dict of (str, str) to int
        Week by participant and session; sessions without a day are not in it.
    """
    first: dict[str, date] = {}
    for each in sessions:
        if each.day is not None:
            first[each.participant] = min(first.get(each.participant, each.day), each.day)
    return {
        (each.participant, each.session): (each.day - first[each.participant]).days // 7 + 1
        for each in sessions
        if each.day is not None
    }


def reasons_counted(sessions: Sequence[SessionExposure]) -> dict[str, int]:
    """Count why sessions don't count.

    Parameters
    ----------
    sessions : sequence of SessionExposure
        All.

    Returns
    -------
    dict of str to int
        By reason; a session of several reasons is counted in each.
    """
    return dict(sorted(Counter(reason for each in sessions for reason in each.reasons).items()))
