"""The keys of ``result.json``, out and in.

A repetition and a set are flat there, with the names that the columns of the tables have.
"""

from dataclasses import fields, replace
from datetime import datetime
from typing import Any

from imu_rom.dose.comparison import RepetitionComparison, SessionComparison, SetComparison
from imu_rom.dose.exposure import Exposure
from imu_rom.errors import ResultError
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.plain_values import build, fixed, plain

__all__ = ["document_from_layout", "document_to_layout", "repetition_to_layout", "set_to_layout"]

Plain = dict[str, Any]

# a second number without an upper bound is null in the file
OPEN_ENDED = ("end_range_deg", "share_of_own_range", "past_threshold_s_per_set")
INFINITE = float("inf")
FIRST_YEAR, LAST_YEAR = 1900, 2200
EXPOSURE = tuple(each.name for each in fields(Exposure))


class _Keys(dict[str, Any]):
    """The keys of one object of the file; a missing one is an error that says where."""

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, dict):
            raise ResultError(f"must be an object, got {values!r:.60}", where=where)
        super().__init__(values)
        self.where = where

    def __missing__(self, key: str) -> Any:  # noqa: ANN401
        raise ResultError(f"is missing {key!r}", where=self.where)

    def part(self, key: str) -> "_Keys":
        return _Keys(self[key], f"{self.where}.{key}")

    def parts(self, key: str) -> "list[_Keys]":
        items = self[key]
        if not isinstance(items, list):
            raise ResultError(f"must be a list, got {items!r:.60}", where=f"{self.where}.{key}")
        return [_Keys(each, f"{self.where}.{key}[{index}]") for index, each in enumerate(items)]


def _exposure_to_layout(exposure: Exposure | None) -> Plain:
    values = {name: None if exposure is None else plain(getattr(exposure, name)) for name in EXPOSURE}
    values["longest_past_threshold_s"] = values.pop("longest_s")
    return values


def _exposure_keys(keys: _Keys) -> Plain | None:
    if keys["past_threshold_s"] is None:
        return None
    return {name: keys["longest_past_threshold_s" if name == "longest_s" else name] for name in EXPOSURE}


def repetition_to_layout(done: RepetitionComparison) -> Plain:
    """Lay a repetition out with the names that the columns of ``repetitions.csv`` have.

    Parameters
    ----------
    done : RepetitionComparison
        One repetition of a `ResultDocument`.

    Returns
    -------
    dict
        Its keys in ``result.json``.
    """
    movement = plain(done.repetition)
    values = {
        each.name: plain(getattr(done, each.name))
        for each in fields(RepetitionComparison)
        if each.name not in {"number", "repetition", "exposure", "curve"}
    }
    return {
        "repetition": done.number,
        "complete": movement.pop("complete"),
        **movement,
        "hold_s": fixed(done.repetition.hold_s, 3),
        "eccentric_s": fixed(done.repetition.eccentric_s, 3),
        "concentric_s": None if done.repetition.concentric_s is None else fixed(done.repetition.concentric_s, 3),
        **_exposure_to_layout(done.exposure),
        **values,
        "exposure_curve": plain(done.curve),
    }


def _repetition_from_layout(keys: _Keys) -> RepetitionComparison:
    values = {
        **keys,
        "number": keys["repetition"],
        "repetition": keys,
        "exposure": _exposure_keys(keys),
        "curve": keys["exposure_curve"],
    }
    return build(RepetitionComparison, values, keys.where)


def set_to_layout(done: SetComparison) -> Plain:
    """Lay a set out with the names that the columns of ``sets.csv`` have.

    Parameters
    ----------
    done : SetComparison
        One set of a `ResultDocument`.

    Returns
    -------
    dict
        Its keys in ``result.json``; ``repetitions`` is the list of them there.
    """
    values = {
        each.name: plain(getattr(done, each.name))
        for each in fields(SetComparison)
        if each.name not in {"number", "exposure", "repetitions", "verdict"}
    }
    return {
        "set": done.number,
        "verdict": done.verdict,
        **values,
        **_exposure_to_layout(done.exposure),
        "repetitions": [repetition_to_layout(each) for each in done.repetitions],
    }


def _set_from_layout(keys: _Keys) -> SetComparison:
    values = {**keys, "number": keys["set"], "repetitions": [], "exposure": _exposure_keys(keys)}
    if keys["prescribed_low_s"] is not None and keys["prescribed_high_s"] is None:
        values["prescribed_high_s"] = INFINITE
    done = build(SetComparison, values, keys.where)
    return replace(done, repetitions=tuple(_repetition_from_layout(each) for each in keys.parts("repetitions")))


def _exercise_to_layout(answer: ExerciseAnswer) -> Plain:
    done = answer.comparison
    totals = {
        each.name: plain(getattr(done, each.name))
        for each in fields(SessionComparison)
        if each.name not in {"sets", "exposure"}
    }
    # a recording of one exercise has nothing to tell apart
    allotted = {} if answer.allotment is None else {"allotment": plain(answer.allotment)}
    return {
        "exercise": plain(answer.exercise),
        **allotted,
        "zero": plain(answer.zero),
        "later_poses": plain(answer.later_poses),
        "slips": plain(answer.slips),
        "alignment": plain(answer.alignment),
        "worn_start_s": answer.worn_start_s,
        "worn_stop_s": answer.worn_stop_s,
        "u_shared_deg": answer.u_shared_deg,
        "u_set_deg": answer.u_set_deg,
        "total": {**totals, **_exposure_to_layout(done.exposure)},
        "sets": [set_to_layout(each) for each in done.sets],
    }


def _exercise_from_layout(keys: _Keys, budget: _Keys) -> ExerciseAnswer:
    prescribed = dict(keys.part("exercise"))
    for name in OPEN_ENDED:
        pair = prescribed.get(name)
        if isinstance(pair, list) and len(pair) == 2 and pair[1] is None:
            prescribed[name] = [pair[0], INFINITE]
    total = keys.part("total")
    comparison = build(SessionComparison, {**total, "sets": [], "exposure": _exposure_keys(total)}, total.where)
    return replace(
        build(
            ExerciseAnswer,
            {
                **keys,
                "exercise": prescribed,
                "comparison": {**total, "sets": [], "exposure": None},
                "budget": dict(budget),
            },
            keys.where,
        ),
        comparison=replace(comparison, sets=tuple(_set_from_layout(each) for each in keys.parts("sets"))),
    )


def document_to_layout(document: ResultDocument) -> Plain:
    """Lay a document out as the plain values of ``result.json``.

    Parameters
    ----------
    document : ResultDocument
        The document.

    Returns
    -------
    dict
        All keys but ``format`` and ``schema_version``.
    """
    recording = plain(document.recording)
    return {
        "program": {"name": "imu-rom", "version": document.program_version},
        "recorded_at": recording.pop("recorded_at"),
        "recorded_at_source": recording.pop("recorded_at_source"),
        "patient": document.patient,
        "bids_subject": document.bids_subject,
        "stage": document.stage,
        "stage_from": plain(document.stage_from),
        "plan": {"title": document.plan_title, "tendon_site": document.tendon_site},
        "recording": recording,
        "findings": plain(document.findings),
        "exercises": [_exercise_to_layout(each) for each in document.exercises],
        "provenance": {
            "inputs": plain(document.inputs),
            "marks": plain(document.marks),
            "versions": plain(document.versions),
            "settings": plain(document.settings),
            "own_uncertainty": plain(document.own_uncertainty),
            "uncertainty_budget": [
                {
                    "exercise": each.exercise.name,
                    "side": each.exercise.side,
                    "parts_deg": plain(each.budget.parts_deg),
                    **plain(each.budget),
                }
                for each in document.exercises
            ],
        },
    }


def document_from_layout(layout: object, where: str) -> ResultDocument:
    """Build a document from the plain values of ``result.json``.

    Parameters
    ----------
    layout : object
        Parsed JSON.
    where : str
        Name of the file, for errors.

    Returns
    -------
    ResultDocument
        The document.

    Raises
    ------
    ResultError
        A key is missing or of the wrong kind, named by its place.
    """
    keys = _Keys(layout, where)
    provenance, plan = keys.part("provenance"), keys.part("plan")
    exercises, budgets = keys.parts("exercises"), provenance.parts("uncertainty_budget")
    if len(exercises) != len(budgets):
        raise ResultError("must have one entry an exercise", where=f"{provenance.where}.uncertainty_budget")
    times = {key: keys[key] for key in ("recorded_at", "recorded_at_source")}
    values = {
        **keys,
        **{key: provenance[key] for key in ("inputs", "marks", "versions", "settings")},
        # results written before there were checks have no such key
        "own_uncertainty": provenance.get("own_uncertainty", {}),
        "program_version": keys.part("program")["version"],
        "plan_title": plan["title"],
        "tendon_site": plan["tendon_site"],
        "recording": {**keys.part("recording"), **times},
        "exercises": [],
    }
    answers = tuple(_exercise_from_layout(each, budget) for each, budget in zip(exercises, budgets, strict=True))
    document = replace(build(ResultDocument, values, where), exercises=answers)
    _check_moment(document.recording.recorded_at, where)
    return document


def _check_moment(recorded_at: str | None, where: str) -> None:
    try:
        known = recorded_at is None or FIRST_YEAR <= datetime.fromisoformat(recorded_at).year <= LAST_YEAR
    except ValueError:
        known = False
    if not known:
        raise ResultError(
            f"must be a time such as 2026-12-01T08:00:00+01:00, got {recorded_at!r:.60}", where=f"{where}.recorded_at"
        )
