"""What was written and decided about a patient: plan versions and what changed, decisions with their criteria."""

import difflib
import json
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.decisions import Decision, decisions_of
from imu_rom.clinic.kept_recordings import list_recordings
from imu_rom.clinic.messages import messages_of
from imu_rom.clinic.plans import PlanVersion, in_effect, plan_version, plans_of
from imu_rom.clinic.reviews import reviewed_recordings, reviews_of
from imu_rom.clinic.web.clinician_frame import Frame, frame, moment, today_of
from imu_rom.clinic.web.clinician_patient_pages import SessionRow, names_of, session_row
from imu_rom.clinic.web.decision_pages import CriteriaContent, criteria_content
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.plan_pages import plan_in_words
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page
from imu_rom.dose.case_answer import CriterionAnswer
from imu_rom.errors import ResultError
from imu_rom.exchange.plain_values import build
from imu_rom.wording.clinic_list_text import DECISION_WORDS

__all__ = ["HistoryContent", "PlanVersionContent"]

MOST_REVIEWS = 50


@dataclass(frozen=True)
class PlanRow:
    """A version in the list.

    Parameters
    ----------
    plan_version_id : str
        Its id.
    version : int
        Which.
    words : str
        From when, by whom and when.
    reason : str
        Why.
    counts : bool
        False for one that no day goes by any more.
    """

    plan_version_id: str
    version: int
    words: str
    reason: str
    counts: bool


@dataclass(frozen=True)
class DecisionRow:
    """A decision in the list.

    Parameters
    ----------
    heading, words, reason : str
        What, by whom and when, and why.
    criteria : CriteriaContent or None
        What the criteria said then.
    """

    heading: str
    words: str
    reason: str
    criteria: CriteriaContent | None


@dataclass(frozen=True)
class HistoryContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    plans : tuple of PlanRow
        The newest first.
    decisions : tuple of DecisionRow
        The newest first.
    messages : tuple of tuple of str
        (who and when, text).
    sessions : tuple of SessionRow
        All, the newest first.
    reviews : tuple of str
        Who looked at what, the newest first.
    """

    frame: Frame
    plans: tuple[PlanRow, ...]
    decisions: tuple[DecisionRow, ...]
    messages: tuple[tuple[str, str], ...]
    sessions: tuple[SessionRow, ...]
    reviews: tuple[str, ...]


@dataclass(frozen=True)
class PlanVersionContent:
    """What the page of one version shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    row : PlanRow
        Which.
    words, text : str
        The plan in words and as it was written.
    changes : tuple of (str, str)
        (sign, line) of what changed against the version before; empty for the first.
    """

    frame: Frame
    row: PlanRow
    words: str
    text: str
    changes: tuple[tuple[str, str], ...]


@page("/patients/{patient_id}/history", who="clinician")
def history(request: Request, permitted: Permitted) -> Response:
    """Show all that was written and decided."""
    patient_id = permitted.person.patient_id
    names = names_of(permitted)
    with permitted.service.database.reading() as connection:
        plans = plans_of(connection, patient_id)
        decided = decisions_of(connection, patient_id)
        written = messages_of(connection, patient_id)
        sent = list_recordings(connection, patient_id)
        reviewed = reviewed_recordings(connection, patient_id)
        looked = reviews_of(connection, [patient_id]).get(patient_id, ())
    counting = {each.plan_version_id for each in in_effect(plans)}
    content = HistoryContent(
        frame=frame(permitted, "history"),
        plans=tuple(_plan_row(permitted, each, names, counting) for each in reversed(plans)),
        decisions=tuple(_decision_row(permitted, each, names) for each in decided),
        messages=tuple(
            (f"{moment(permitted, each.created_at_ms)}, {names.get(each.author_id, '?')}", each.text)
            for each in written
        ),
        sessions=tuple(session_row(permitted, each, reviewed) for each in sent),
        reviews=tuple(
            f"{moment(permitted, each.created_at_ms)}, {names.get(each.author_id, '?')}: "
            + ("the course and its reasons" if each.recording_id is None else "a session")
            for each in reversed(looked[-MOST_REVIEWS:])
        ),
    )
    return page_response(request, permitted, "patient_history.html", content)


@page("/patients/{patient_id}/plan/{plan_version_id}", who="clinician")
def one_plan(request: Request, permitted: Permitted) -> Response:
    """Show one version of the plan, and what changed with it."""
    patient_id = permitted.person.patient_id
    names = names_of(permitted)
    with permitted.service.database.reading() as connection:
        shown = plan_version(connection, patient_id, request.path_params["plan_version_id"])
        plans = plans_of(connection, patient_id)
    if shown is None:
        return trouble_page(request, "missing", 404)
    before = next((each for each in plans if each.version == shown.version - 1), None)
    content = PlanVersionContent(
        frame=frame(permitted, "history"),
        row=_plan_row(permitted, shown, names, {each.plan_version_id for each in in_effect(plans)}),
        words=plan_in_words(shown, today_of(permitted)),
        text=shown.toml,
        changes=() if before is None else _changes(before.toml, shown.toml),
    )
    return page_response(request, permitted, "plan_version.html", content)


def _changes(before: str, after: str) -> tuple[tuple[str, str], ...]:
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=2)
    shown = [each for each in lines if not each.startswith(("---", "+++"))]
    # where lines are left out between two changes
    return tuple((" ", "\N{HORIZONTAL ELLIPSIS}") if each[0] == "@" else (each[0], each[1:]) for each in shown)


def _plan_row(permitted: Permitted, version: PlanVersion, names: dict[str, str], counting: set[str]) -> PlanRow:
    return PlanRow(
        version.plan_version_id,
        version.version,
        f"applies from {version.applies_from}, written {moment(permitted, version.created_at_ms)} by "
        f"{names.get(version.author_id, 'somebody who left')}",
        version.reason,
        version.plan_version_id in counting,
    )


def _decision_row(permitted: Permitted, decision: Decision, names: dict[str, str]) -> DecisionRow:
    to = f": {decision.stage_to}" if decision.decision != "stay" else f" with {decision.stage_to}"
    return DecisionRow(
        f"{DECISION_WORDS[decision.decision]}{to}",
        f"{moment(permitted, decision.created_at_ms)}, {names.get(decision.author_id, 'somebody who left')}",
        decision.reason,
        _criteria_then(decision),
    )


@dataclass(frozen=True)
class _Then:
    stage: str | None
    criteria: tuple[CriterionAnswer, ...]


def _criteria_then(decision: Decision) -> CriteriaContent | None:
    try:
        then = build(_Then, json.loads(decision.criteria_json), "criteria")
    except (ValueError, ResultError):
        return None
    return criteria_content(then.stage or "", then.criteria)
