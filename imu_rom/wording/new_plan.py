"""A plan to be edited, written from a published programme: side, dates and person filled in, every field explained."""

import re
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal

import tomlkit
from tomlkit.items import AoT, Table

from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.dose.protocol_catalogue import protocol_bytes, read_protocol
from imu_rom.errors import PlanError
from imu_rom.wording.plan_notes import HEAD_CHOICES, field_note

__all__ = ["EARLIEST", "LATEST", "first_days", "new_plan"]

EARLIEST, LATEST = date(1990, 1, 1), date(2199, 12, 31)
"""Days on which a plan can start; outside, a digit is wrong."""

# where comments behind values begin, as in the files of the programmes
_COLUMN = 43
_WIDEST = 120
_HEADER = re.compile(r"\[+([a-z_.]+)\]+")
_FIELD = re.compile(r"([a-z_]+) = ")
_SHARE_OF_OWN_RANGE = re.compile(r'^(end_range_deg = "[^"]*% of own range")', re.MULTILINE)


def first_days(stages: tuple[Stage, ...], start: date) -> tuple[date | None, ...]:
    """Work out when each stage of a programme begins.

    Parameters
    ----------
    stages : tuple of Stage
        With the weeks of the programme, where it goes by weeks.
    start : date
        First day of the first stage.

    Returns
    -------
    tuple of date or None
        One a stage. Only the first is known where a stage has no weeks, or where weeks of two stages overlap: such a
        programme goes by how the tendon takes it.
    """
    weeks = [each.weeks for each in stages]
    known = [each for each in weeks if each is not None]
    by_weeks = len(known) == len(weeks) and all(later[0] == earlier[1] + 1 for earlier, later in pairwise(known))
    if not by_weeks:
        return (start, *(None for _ in stages[1:]))
    return tuple(start + timedelta(weeks=first - known[0][0]) for first, _ in known)


def new_plan(
    protocol: str,
    *,
    side: Literal["left", "right"],
    start: date,
    patient: str | None = None,
    own_range_deg: float | None = None,
) -> str:
    """Write a plan to be edited from a published programme.

    Parameters
    ----------
    protocol : str
        One of `imu_rom.dose.protocol_catalogue.protocol_names`.
    side : {"left", "right"}
        Side of the body.
    start : date
        First day of the first stage.
    patient : str, optional
        A pseudonym.
    own_range_deg : float, optional
        How far that side goes by itself, in degrees. Without it, windows that are shares of it are left commented out.

    Returns
    -------
    str
        The plan file's text; it can be read as it is.

    Raises
    ------
    PlanError
        The programme is unknown, or the plan would not be one with this person, day or range.
    """
    if not EARLIEST <= start <= LATEST:
        raise PlanError(f"start must be a day from {EARLIEST} to {LATEST}, got {start}")
    published = read_protocol(protocol)
    text = protocol_bytes(protocol).decode("utf-8").replace("\r\n", "\n")
    counts_from_own_range = "% of own range" in text
    if own_range_deg is not None and not counts_from_own_range:
        raise PlanError(f"an own range must be left out with {protocol}, which counts no window from it")
    if own_range_deg is None:
        text = _SHARE_OF_OWN_RANGE.sub(r"# \1", text)
    text = _filled_in(text, published, side, start, patient)
    own_range = _own_range(published, side, start, own_range_deg) if counts_from_own_range else ""
    head, _, stages = text.partition("\n[[stage]]\n")
    before, _, programme = head.partition("\n[plan.protocol]\n")
    text = (
        f"{_heading(protocol, side, start)}{before}{_head_choices(start)}"
        f"\n[plan.protocol]\n{programme}{own_range}\n[[stage]]\n{stages}"
    )
    _check(text)
    return text


def _check(text: str) -> None:
    try:
        plan_from_bytes(text.encode("utf-8"), "the new plan")
    except PlanError as error:
        # the file isn't there yet, so a line of it would say nothing
        where = re.sub(r"^.*?(?=field )", "", error.where)
        raise PlanError(error.what, where=where, do=error.do) from None


def _heading(protocol: str, side: str, start: date) -> str:
    return (
        f"# Written by imu-rom plan new --from {protocol} --side {side} --start {start.isoformat()}.\n"
        "# It is yours to edit: read [plan.protocol] and verify what is from memory, change what this person needs,\n"
        '# run imu-rom plan check. What is left out is "not prescribed"; a line that begins with # does nothing.\n'
        "# Supports the judgement of a licensed clinician; diagnoses nothing.\n#\n"
    )


def _head_choices(start: date) -> str:
    lines = [_with_comment(f"# {line}", note) for line, note in HEAD_CHOICES]
    later = _with_comment(
        f"# from = {(start + timedelta(weeks=6)).isoformat()}",
        "only in a changed plan: the first day it applies; keep the plan before it",
    )
    return "\n".join([*lines, later, ""])


def _with_comment(line: str, note: str) -> str:
    return f"{line:<{_COLUMN - 1}} # {note}"


def _own_range(published: Plan, side: str, start: date, own_range_deg: float | None) -> str:
    exercise = published.stages[0].exercises[0]
    if own_range_deg is None:
        mark, deg = "# ", "0.0"
        words = [
            "Measure how far this side goes by itself, fill it in here, and take the # away, here and in front of the",
            "windows below that are a share of it.",
        ]
    else:
        mark, deg = "", repr(float(own_range_deg))
        words = [
            "Windows that are a share of the own range count from it. Measure it again in time: the latest counts."
        ]
    test = "knee-to-wall lunge" if exercise.joint == "ankle" else "goniometer"
    lines = (
        f"{mark}[[own_range]]",
        f'{mark}side = "{side}"',
        _with_comment(
            f"{mark}deg = {deg}", f"of {exercise.joint} {exercise.motion}, from the same zero as the exercises"
        ),
        _with_comment(f"{mark}on = {start.isoformat()}", "the day it was measured"),
        _with_comment(f'{mark}by = "{test}"', "the test, in words"),
        _with_comment(
            "# standard_uncertainty_deg = 1.4", "of the test; a lunge by inclinometer 1.3 to 1.4 (Konor et al. 2012)"
        ),
    )
    return "\n".join(["", *(f"# {each}" for each in words), *lines, ""])


def _filled_in(text: str, published: Plan, side: str, start: date, patient: str | None) -> str:
    document = tomlkit.parse(text)
    plan, stages = document["plan"], document["stage"]
    if not (isinstance(plan, Table) and isinstance(stages, AoT)):
        raise TypeError("a programme must hold [plan] and [[stage]]")
    plan["title"] = f"{published.title} ({side})"
    if patient is not None:
        plan["patient"] = patient
    if len(published.stages) > 1:
        plan["stage"] = published.stages[0].name
    for stage, first_day in zip(stages, first_days(published.stages, start), strict=True):
        if first_day is not None:
            stage["from"] = first_day
        for exercise in _tables(stage, "exercise"):
            exercise["side"] = side
    return _explained(tomlkit.dumps(document))


def _tables(table: Table, name: str) -> Iterator[Table]:
    tables = table.get(name)
    if isinstance(tables, AoT):
        yield from tables


def _explained(text: str) -> str:
    """Put what a field means beside it, where it comes first and has no comment yet."""
    explained: set[tuple[str, str]] = set()
    lines: list[str] = []
    table = ""
    for line in text.split("\n"):
        header, field = _HEADER.fullmatch(line), _FIELD.match(line)
        table = header[1] if header else table
        note = field_note(table, field[1]) if field else None
        if field is None or note is None or (table, field[1]) in explained:
            lines.append(line)
            continue
        explained.add((table, field[1]))
        if " # " in line:
            lines.append(line)
        elif len(line) >= _COLUMN or len(_with_comment(line, note)) > _WIDEST:
            lines += [f"# {field[1]}: {note}", line]
        else:
            lines.append(_with_comment(line, note))
    return "\n".join(lines)
