"""A cohort's tables summed up over people: what a paper needs, with what it may not claim."""

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from imu_rom.cohort.analysing import HEAD, TABLES
from imu_rom.cohort.reference_summary import reference_agreement, reference_answers
from imu_rom.cohort.session_exposures import SessionExposure, reasons_counted, session_exposures, weeks_of
from imu_rom.cohort.summary_reliability import reliabilities
from imu_rom.dose.clustered_means import mean_of_people, mean_of_sessions, model_difference, welch
from imu_rom.dose.cohort_summary import ArmDifference, CohortSummary, GroupExposure, MissingData, SensitivityRow
from imu_rom.dose.study import Study
from imu_rom.errors import CohortError
from imu_rom.exchange.cohort_columns import FAILURES, REFERENCES
from imu_rom.exchange.plain_values import build
from imu_rom.exchange.table_reading import dictionary_layout, read_table

__all__ = ["ARM_COLUMNS", "THRESHOLD_STEPS_DEG", "summarise_cohort"]

ARM_COLUMNS = ("arm", "group")
"""Columns of ``participants.tsv`` that are taken for the arms where none is named."""

THRESHOLD_STEPS_DEG = (-4.0, -2.0, 2.0, 4.0)
"""Angles beside the main one at which the main answer is worked out again; common practice, no source."""

ALL = "all"


def summarise_cohort(folder: Path, *, arm_column: str | None = None) -> CohortSummary:
    """Sum up what ``imu-rom cohort`` wrote.

    Parameters
    ----------
    folder : Path
        Its folder.
    arm_column : str, optional
        Column of ``participants.tsv`` that tells arms apart; None takes ``arm`` or ``group`` where there is one.

    Returns
    -------
    CohortSummary
        The main answer by the plans' declaration, sensitivity analyses beside it.

    Raises
    ------
    CohortError
        It is no such folder, its plans declare different studies, or there is no such column.
    ResultError
        A table is missing, damaged, or of another version.
    """
    study = _declared(folder)
    tables = folder / TABLES
    people = read_table(tables, dictionary_layout(tables, "participants"))
    column = _arm_column(list(people.columns), arm_column, folder)
    arms = {
        str(row["participant"] or "no-participant"): str(
            (column and row[column]) or (ALL if column is None else "none")
        )
        for row in people.to_dict("records")
    }
    sessions = list(session_exposures(tables, None if study is None else study.valid_recording))
    threshold = None if study is None else study.primary_threshold_deg
    sessions = [_with_threshold(each, threshold) for each in sessions]
    valid = [each for each in sessions if not each.reasons]
    weeks = weeks_of(sessions)
    names = sorted(set(arms.values()))
    references = read_table(tables, REFERENCES)
    return CohortSummary(
        study=study,
        threshold="each exercise's compressive angle, as its plan has it"
        if threshold is None
        else f"{threshold:g} deg",
        arm_column=column,
        participants=_by_participant(valid, threshold),
        weeks=_by_week(valid, threshold, weeks),
        arms=tuple(GroupExposure(arm, mean_of_people(_values(valid, threshold, arms, arm))) for arm in names),
        differences=_differences(valid, threshold, arms, names),
        reliability=reliabilities(valid, threshold),
        agreement=reference_agreement(references),
        answers=reference_answers(references),
        sensitivity=tuple(_sensitivity(sessions, threshold, arms, names)),
        missing=_missing(people, read_table(tables, FAILURES), sessions, arms, weeks),
        sessions=len(sessions),
        valid_sessions=len(valid),
    )


def _declared(folder: Path) -> Study | None:
    try:
        head = json.loads((folder / HEAD).read_bytes())
        studies = head["studies"]
    except (OSError, ValueError):
        raise CohortError(
            "is no folder of a cohort", where=str(folder), do="name one that imu-rom cohort wrote"
        ) from None
    except (KeyError, TypeError):
        raise CohortError("is of an earlier version", where=str(folder / HEAD), do="run imu-rom cohort again") from None
    if not (folder / TABLES).is_dir():
        raise CohortError("has no tables yet", where=str(folder), do="let imu-rom cohort run to its end")
    if len(studies) > 1:
        names = " and ".join(str(each["plan"]) for each in studies[:2])
        raise CohortError(
            f"its plans declare different studies, such as {names}",
            where=str(folder),
            do="give all plans the same [study], or none",
        )
    declared = studies[0]["declared"] if studies else None
    return None if declared is None else build(Study, declared, str(folder / HEAD))


def _arm_column(columns: Sequence[str], asked: str | None, folder: Path) -> str | None:
    if asked is None:
        return next((each for each in ARM_COLUMNS if each in columns), None)
    if asked not in columns:
        raise CohortError(f"participants have no column {asked!r}; there are {', '.join(columns)}", where=str(folder))
    return asked


def _with_threshold(session: SessionExposure, threshold: float | None) -> SessionExposure:
    """Leave out a session without an angle to count past."""
    if session.past(threshold) is not None or "no-known-angle" in session.reasons:
        return session
    return session.because("no-compressive-angle")


def _values(
    sessions: Iterable[SessionExposure],
    threshold: float | None,
    arms: Mapping[str, str],
    arm: str | None = None,
    *,
    shift_u: float = 0.0,
    step_deg: float = 0.0,
) -> list[tuple[str, float]]:
    found = ((each.participant, each.past(threshold, shift_u=shift_u, step_deg=step_deg)) for each in sessions)
    return [(who, past) for who, past in found if past is not None and (arm is None or arms.get(who, ALL) == arm)]


def _by_participant(sessions: Sequence[SessionExposure], threshold: float | None) -> tuple[GroupExposure, ...]:
    values: dict[str, list[float]] = {}
    for each in sessions:
        past = each.past(threshold)
        if past is not None:
            values.setdefault(each.participant, []).append(past)
    return tuple(GroupExposure(who, mean_of_sessions(own)) for who, own in sorted(values.items()))


def _by_week(
    sessions: Sequence[SessionExposure], threshold: float | None, weeks: Mapping[tuple[str, str], int]
) -> tuple[GroupExposure, ...]:
    values: dict[int, list[tuple[str, float]]] = {}
    for each in sessions:
        past, week = each.past(threshold), weeks.get((each.participant, each.session))
        if past is not None and week is not None:
            values.setdefault(week, []).append((each.participant, past))
    return tuple(GroupExposure(str(week), mean_of_people(own)) for week, own in sorted(values.items()))


def _differences(
    sessions: Sequence[SessionExposure], threshold: float | None, arms: Mapping[str, str], names: Sequence[str]
) -> tuple[ArmDifference, ...]:
    first = _values(sessions, threshold, arms, names[0]) if names else []
    found = []
    for arm in names[1:]:
        own = _values(sessions, threshold, arms, arm)
        found.append(ArmDifference(arm, names[0], welch(own, first), model_difference(own, first)))
    return tuple(found)


def _sensitivity(
    sessions: Sequence[SessionExposure], threshold: float | None, arms: Mapping[str, str], names: Sequence[str]
) -> Iterable[SensitivityRow]:
    valid = [each for each in sessions if not each.reasons]
    with_curves = [each for each in sessions if each.past(threshold) is not None]
    for arm in names:
        for step in THRESHOLD_STEPS_DEG:
            moved = _values(valid, threshold, arms, arm, step_deg=step)
            yield SensitivityRow("threshold", f"{step:+g} deg", arm, mean_of_people(moved))
        for shift_u in (-1.0, 1.0):
            values = _values(valid, threshold, arms, arm, shift_u=shift_u)
            words = f"every zero {'deeper' if shift_u > 0 else 'less deep'} by its own standard uncertainty"
            yield SensitivityRow("zero", words, arm, mean_of_people(values))
        values = _values(with_curves, threshold, arms, arm)
        yield SensitivityRow("all recordings", "the rule for a valid recording left out", arm, mean_of_people(values))


def _missing(
    people: Any,  # noqa: ANN401  pandas has no types here
    failures: Any,  # noqa: ANN401
    sessions: Sequence[SessionExposure],
    arms: Mapping[str, str],
    weeks: Mapping[tuple[str, str], int],
) -> tuple[MissingData, ...]:
    found = []
    for row in people.to_dict("records"):
        who = str(row["participant"] or "no-participant")
        own = [each for each in sessions if each.participant == who]
        failed = failures[(failures.participant.fillna("no-participant") == who) & (failures.kind == "recording")]
        reasons = dict(sorted(failed.code.value_counts().items())) | reasons_counted(own)
        valid = [each for each in own if not each.reasons]
        all_weeks = {weeks[who, each.session] for each in own if (who, each.session) in weeks}
        with_valid = {weeks[who, each.session] for each in valid if (who, each.session) in weeks}
        found.append(
            MissingData(
                participant=who,
                arm=arms.get(who, ALL),
                recordings=int(row["recordings"]),
                analysed=int(row["analysed"]),
                valid=len({each.session for each in valid}),
                reasons={str(key): int(value) for key, value in reasons.items()},
                undecided_repetitions=sum(each.undecided for each in own),
                repetitions=sum(each.repetitions for each in own),
                unseen_s=sum(each.unseen_s for each in own),
                weeks_without=max(all_weeks, default=0) - len(with_valid),
            )
        )
    return tuple(found)
