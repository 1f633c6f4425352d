"""Changes of a plan's text that keep its comments: from which day it applies, which stage applies from a day on."""

from datetime import date

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.dose.stage_applied import first_days
from imu_rom.errors import PlanError

__all__ = ["PLAN_NAME", "checked_plan", "edited", "table_of", "with_first_day", "with_stage"]

PLAN_NAME = "plan.toml"


def checked_plan(text: str) -> Plan:
    """Read a plan's text, as the command line reads its file.

    Parameters
    ----------
    text : str
        TOML.

    Returns
    -------
    Plan
        What it says.

    Raises
    ------
    PlanError
        With line, column and field, as ``imu-rom plan check`` says it.
    """
    return plan_from_bytes(text.encode(), PLAN_NAME)


def edited(text: str) -> TOMLDocument:
    """Open a plan's text so that it can be changed and keeps its comments.

    Parameters
    ----------
    text : str
        TOML.

    Returns
    -------
    TOMLDocument
        Its tables.

    Raises
    ------
    PlanError
        It is no TOML.
    """
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError):
        # the reader of plans says it with line and column
        checked_plan(text)
        raise PlanError("must be valid TOML, got an error", where=PLAN_NAME) from None


def table_of(document: TOMLDocument) -> Table:
    """Give the table ``[plan]``.

    Parameters
    ----------
    document : TOMLDocument
        The plan.

    Returns
    -------
    Table
        Its head.

    Raises
    ------
    PlanError
        There is none.
    """
    head = document.get("plan")
    if not isinstance(head, Table):
        raise PlanError("must have a table [plan]", where=f"{PLAN_NAME}:1:1")
    return head


def with_first_day(text: str, day: date) -> str:
    """Say from which day on a version of the plan applies.

    Parameters
    ----------
    text : str
        TOML.
    day : date
        First day.

    Returns
    -------
    str
        With ``from`` in ``[plan]``.

    Raises
    ------
    PlanError
        The text is no plan.
    """
    document = edited(text)
    head = table_of(document)
    if head.get("from") == day:
        return text
    head["from"] = day
    return tomlkit.dumps(document)


def with_stage(text: str, stage: str, day: date, why: str) -> str:
    """Enter into a plan's calendar which stage applies from a day on.

    Stages that were dated for that day or a later one are taken out: a decision stands until the next. Where the plan
    has no calendar, its stages' own dates become one.

    Parameters
    ----------
    text : str
        TOML.
    stage : str
        Name of a stage of the plan.
    day : date
        First day.
    why : str
        The reason, in words.

    Returns
    -------
    str
        With the entry; it is a plan that can be followed.

    Raises
    ------
    PlanError
        The text is no plan, or has no such stage.
    """
    plan = checked_plan(text)
    names = [each.name for each in plan.stages]
    if stage not in names:
        raise PlanError(f"stage must be one of {', '.join(map(repr, names))}, got {stage!r}")
    document = edited(text)
    calendar = document.get("calendar")
    if not isinstance(calendar, AoT):
        calendar = _calendar_of_stages(document, plan, day)
    for index in reversed(range(len(calendar))):
        if calendar[index]["from"] >= day:
            del calendar[index]
    last = _entry(day, stage, why)
    last.add(tomlkit.nl())
    calendar.append(last)
    if len(calendar) == 1 or "calendar" not in document:
        # an emptied list of tables is not written any more
        document.pop("calendar", None)
        document = _before_stages(document, calendar)
    head = table_of(document)
    if "stage" in head:
        head["stage"] = stage
    changed = tomlkit.dumps(document)
    if checked_plan(changed).calendar[-1].from_date != day:
        raise PlanError("the calendar of this plan can't be changed by a form", where=PLAN_NAME, do="edit its TOML")
    return changed


def _entry(day: date, stage: str, why: str = "") -> Table:
    entry = tomlkit.table()
    entry.append("from", day)
    entry.append("stage", stage)
    if why:
        entry.append("why", why)
    return entry


def _calendar_of_stages(document: TOMLDocument, plan: Plan, day: date) -> AoT:
    """Turn the stages' own dates into a calendar; a plan without any has had its current stage."""
    dated = first_days(plan)
    if not dated and plan.from_date is not None and plan.from_date < day:
        dated = ((plan.from_date, plan.current_stage),)
    stages = document["stage"]
    for each in stages if isinstance(stages, AoT) else ():
        each.pop("from", None)
        each.pop("until", None)
    calendar = tomlkit.aot()
    for first, name in dated:
        calendar.append(_entry(first, name))
    return calendar


def _before_stages(document: TOMLDocument, calendar: AoT) -> TOMLDocument:
    """Put a calendar in front of the stages, where plans have it."""
    text = tomlkit.dumps(document)
    lines = text.splitlines(keepends=True)
    at = next((i for i, line in enumerate(lines) if line.strip().replace(" ", "") == "[[stage]]"), len(lines))
    whole = tomlkit.document()
    whole.append("calendar", calendar)
    return tomlkit.parse("".join([*lines[:at], tomlkit.dumps(whole).lstrip("\n"), "\n", *lines[at:]]))
