"""Decisions about the stage: progress, stay or step back, each with its reason and what the criteria said then.

The clinician decides; nothing here refuses a stage because of its criteria. A decision that changes anything is entered
into a new version of the plan, with the day from which it applies.
"""

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy import Connection, insert, select

from imu_rom.clinic import audit
from imu_rom.clinic.database import new_id
from imu_rom.clinic.plan_changes import with_stage
from imu_rom.clinic.plans import LARGEST_REASON, PlanVersion, add_plan, newest_plan
from imu_rom.clinic.schema import decisions
from imu_rom.dose.plan import Plan
from imu_rom.errors import ClinicError

__all__ = ["DECISIONS", "Decision", "DecisionKind", "decide", "decisions_of", "stages_for"]

DecisionKind = Literal["progress", "stay", "step_back"]
DECISIONS: tuple[DecisionKind, ...] = ("progress", "stay", "step_back")


@dataclass(frozen=True)
class Decision:
    """One decision.

    Parameters
    ----------
    decision_id : str
        Its id.
    decision : {"progress", "stay", "step_back"}
        What was decided.
    stage_from, stage_to : str
        Names of the stages.
    reason : str
        Why, in words.
    criteria_json : str
        What the criteria said when it was decided.
    plan_version_id : str or None
        Version of the plan that it was entered in; None where the plan says the same already.
    author_id : str
        User who decided.
    created_at_ms : int
        When.
    """

    decision_id: str
    decision: DecisionKind
    stage_from: str
    stage_to: str
    reason: str
    criteria_json: str
    plan_version_id: str | None
    author_id: str
    created_at_ms: int


def stages_for(plan: Plan, day: date) -> dict[DecisionKind, tuple[str, ...]]:
    """List which stages each decision may lead to.

    Parameters
    ----------
    plan : Plan
        As it is written.
    day : date
        Day from which the decision applies.

    Returns
    -------
    dict of str to tuple of str
        Names of stages, the nearest first; before a plan's first stage none is stepped back to.
    """
    names = [each.name for each in plan.stages]
    held = plan.stage_on(day)
    if held is None:
        return {"progress": tuple(names), "stay": (), "step_back": ()}
    at = names.index(held.name)
    return {
        "progress": tuple(names[at + 1 :]),
        "stay": (held.name,),
        "step_back": tuple(reversed(names[:at])),
    }


def decide(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str,
    patient_id: str,
    author_id: str,
    decision: DecisionKind,
    stage_to: str,
    reason: str,
    applies_from: date,
    criteria_json: str,
    based_on: str,
) -> Decision:
    """Keep a decision, and enter it into the plan.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, author_id : str
        About whom and by whom.
    decision : {"progress", "stay", "step_back"}
        What was decided.
    stage_to : str
        Name of the stage from then on.
    reason : str
        Why, in words.
    applies_from : date
        First day.
    criteria_json : str
        What the criteria say now.
    based_on : str
        Id of the plan version that was on the page.

    Returns
    -------
    Decision
        As it is kept.

    Raises
    ------
    ClinicError
        There is no plan, somebody changed it meanwhile, a later version of it is dated already, or the stage is none
        that this decision can lead to.
    PlanError
        The plan can't take the entry.
    """
    before = newest_plan(connection, patient_id)
    if before is None:
        raise ClinicError("there is no plan yet", do="write one first")
    if before.plan_version_id != based_on:
        raise ClinicError(
            "the plan was changed by somebody else meanwhile", do="look at the newest version and decide again"
        )
    if applies_from < before.applies_from:
        raise ClinicError(
            f"the newest version of the plan applies from {before.applies_from}, later than {applies_from}",
            do="name that day or a later one, or change the plan itself",
        )
    reason = reason.strip()
    if not reason or len(reason) > LARGEST_REASON:
        raise ClinicError(f"the reason must have 1 to {LARGEST_REASON} letters, got {len(reason)}")
    plan = before.plan
    possible = stages_for(plan, applies_from)[decision]
    if stage_to not in possible:
        names = ", ".join(map(repr, possible)) or "none"
        words = decision.replace("_", " ")
        raise ClinicError(f"the stage to {words} to must be one of {names}, got {stage_to!r}")
    held = plan.stage_on(applies_from)
    after = _entered(connection, now_ms, before, clinic_id, author_id, stage_to, reason, applies_from)
    made = Decision(
        decision_id=new_id(),
        decision=decision,
        stage_from="" if held is None else held.name,
        stage_to=stage_to,
        reason=reason,
        criteria_json=criteria_json,
        plan_version_id=after,
        author_id=author_id,
        created_at_ms=now_ms,
    )
    connection.execute(
        insert(decisions).values(
            id=made.decision_id,
            patient_id=patient_id,
            decision=made.decision,
            stage_from=made.stage_from,
            stage_to=made.stage_to,
            reason=reason,
            criteria_json=criteria_json,
            plan_version_id=after,
            author_id=author_id,
            created_at_ms=now_ms,
        )
    )
    content = f"{made.decision}\n{made.stage_from}\n{made.stage_to}\n{reason}\n{criteria_json}"
    audit.record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=author_id,
        action="decide stage",
        object_kind="decision",
        object_id=made.decision_id,
        content_sha256=hashlib.sha256(content.encode()).hexdigest(),
    )
    return made


def _entered(
    connection: Connection,
    now_ms: int,
    before: PlanVersion,
    clinic_id: str,
    author_id: str,
    stage: str,
    reason: str,
    day: date,
) -> str | None:
    """Enter the stage into a new version of the plan, unless the plan has it so already, now and later."""
    plan = before.plan
    held = plan.stage_on(day)
    later = any(each.from_date > day for each in plan.calendar) or any(
        each.from_date is not None and each.from_date > day for each in plan.stages
    )
    ends = held is not None and held.until_date is not None
    if held is not None and held.name == stage and not later and not ends:
        return None
    return add_plan(
        connection,
        now_ms,
        clinic_id=clinic_id,
        patient_id=before.patient_id,
        author_id=author_id,
        toml=with_stage(before.toml, stage, day, " ".join(reason.split())),
        applies_from=day,
        reason=reason,
        based_on=before.plan_version_id,
    ).plan_version_id


def decisions_of(connection: Connection, patient_id: str) -> tuple[Decision, ...]:
    """Give all decisions about a patient.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    patient_id : str
        About whom.

    Returns
    -------
    tuple of Decision
        The newest first.
    """
    rows = connection.execute(
        select(decisions)
        .where(decisions.c.patient_id == patient_id)
        .order_by(decisions.c.created_at_ms.desc(), decisions.c.id)
    )
    return tuple(
        Decision(
            decision_id=row.id,
            decision=row.decision,
            stage_from=row.stage_from,
            stage_to=row.stage_to,
            reason=row.reason,
            criteria_json=row.criteria_json,
            plan_version_id=row.plan_version_id,
            author_id=row.author_id,
            created_at_ms=row.created_at_ms,
        )
        for row in rows
    )
