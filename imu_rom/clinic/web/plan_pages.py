"""The plan: changed by a form for what most changes are about and by its text for all, both checked alike."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.plan_changes import checked_plan
from imu_rom.clinic.plan_fields import FieldValue, StageFields, stage_fields, with_fields
from imu_rom.clinic.plans import PlanVersion, add_plan, newest_plan
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment, today_of, whole_number
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.dose.plan_warnings import plan_warnings
from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol
from imu_rom.errors import ClinicError, ImuRomError, PlanError
from imu_rom.motion.uncertainty import angle_budget
from imu_rom.settings import Settings
from imu_rom.wording.calendar_text import calendar_lines
from imu_rom.wording.clinic_list_text import told_words
from imu_rom.wording.new_plan import new_plan
from imu_rom.wording.plan_warning_text import warning_sentences

__all__ = ["plan_in_words"]

LINES_AROUND = 3
WIDEST = 100
_PLACE = re.compile(r"plan\.toml:(\d+):(\d+)")


@dataclass(frozen=True)
class Problem:
    """Why a plan can't be kept.

    Parameters
    ----------
    sentence : str
        With line, column and field.
    lines : tuple of (int, str, bool)
        Number, text, and whether it is the one that is meant, of the lines around; empty where no line is meant.
    """

    sentence: str
    lines: tuple[tuple[int, str, bool], ...] = ()


@dataclass(frozen=True)
class Keeping:
    """What goes with every change.

    Parameters
    ----------
    based_on : str
        Id of the version that was changed; empty for a first one.
    applies_from, reason : str
        What was filled in.
    problem : Problem or None
        What is to be mended.
    """

    based_on: str
    applies_from: str
    reason: str
    problem: Problem | None


@dataclass(frozen=True)
class PlanContent:
    """What the page with the form shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    told : str
        What was just done; may be empty.
    written : str
        Which version it is.
    form : StageFields
        The fields.
    keeping : Keeping
        Day and reason.
    words : str
        The whole plan in words.
    look_again : tuple of str
        What to look at again.
    """

    frame: Frame
    told: str
    written: str
    form: StageFields
    keeping: Keeping
    words: str
    look_again: tuple[str, ...]


@dataclass(frozen=True)
class TextContent:
    """What the page with the plan's text shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    text : str
        TOML.
    keeping : Keeping
        Day and reason.
    """

    frame: Frame
    text: str
    keeping: Keeping


@dataclass(frozen=True)
class FirstPlanContent:
    """What the page shows where there is no plan yet.

    Parameters
    ----------
    frame : Frame
        Whose.
    programmes : tuple of tuple of str
        (name, title, citation) of the published ones.
    start : str
        The day to begin with.
    problem : str
        What is to be mended; empty for nothing.
    """

    frame: Frame
    programmes: tuple[tuple[str, str, str], ...]
    start: str
    problem: str


def plan_in_words(version: PlanVersion, day: date) -> str:
    """Say a plan in words, as ``imu-rom plan show`` does.

    Parameters
    ----------
    version : PlanVersion
        Which.
    day : date
        A day whose stage is marked.

    Returns
    -------
    str
        Lines.
    """
    return "\n".join(calendar_lines(version.plan, WIDEST, Settings().course.stable_days, day))


@page("/patients/{patient_id}/plan", who="clinician")
def plan(request: Request, permitted: Permitted) -> Response:
    """Show the form of the plan's stage, or offer to write a first plan."""
    newest = _newest(permitted)
    if newest is None:
        return _first_page(request, permitted)
    number = whole_number(request.query_params.get("stage", ""))
    return _form_page(request, permitted, newest, _stage_now(permitted, newest) if number is None else number)


@page("/patients/{patient_id}/plan", who="clinician", method="POST")
def change_by_form(request: Request, permitted: Permitted) -> Response:
    """Keep a version with what was written into the form."""
    newest = _newest(permitted)
    if newest is None:
        return back(f"/patients/{permitted.person.patient_id}/plan", "")
    given = {
        name: value.strip() for name, value in permitted.form.multi_items() if "." in name and isinstance(value, str)
    }
    at = whole_number(permitted.text("stage")) or 0
    # a box that is not ticked sends nothing
    form = stage_fields(newest.toml, at)
    given |= {each.name: "" for each in form.criteria if each.field.kind == "yes" and each.name not in given}
    text = with_fields(newest.toml, at, given)

    def again(problem: Problem) -> Response:
        return _form_page(request, permitted, newest, at, given, problem)

    return _kept(permitted, text, again)


@page("/patients/{patient_id}/plan/text", who="clinician")
def plan_text(request: Request, permitted: Permitted) -> Response:
    """Show the plan's text; of a published programme where there is no plan yet."""
    newest = _newest(permitted)
    if newest is not None:
        return _text_page(request, permitted, newest.toml)
    asked = request.query_params
    try:
        start = date.fromisoformat(asked.get("start", ""))
        side: Literal["left", "right"] = "left" if asked.get("side") == "left" else "right"
        text = new_plan(asked.get("programme", ""), side=side, start=start, patient=permitted.person.pseudonym)
    except ValueError:
        return _first_page(request, permitted, "The first day must be a day such as 2026-12-01.")
    except ImuRomError as error:
        return _first_page(request, permitted, str(error))
    return _text_page(request, permitted, text, applies_from=str(start))


@page("/patients/{patient_id}/plan/text", who="clinician", method="POST")
def change_by_text(request: Request, permitted: Permitted) -> Response:
    """Keep a version as it was written."""
    value = permitted.form.get("toml")
    text = value.replace("\r\n", "\n") if isinstance(value, str) else ""

    def again(problem: Problem) -> Response:
        return _text_page(request, permitted, text, problem)

    return _kept(permitted, text, again)


def _kept(permitted: Permitted, text: str, again: Callable[[Problem], Response]) -> Response:
    person = permitted.person
    try:
        applies_from = date.fromisoformat(permitted.text("applies_from"))
    except ValueError:
        return again(Problem("The first day must be a day such as 2026-12-01."))
    try:
        # what is wrong with it is said of the text as it was written, before a day is entered into it
        checked_plan(text)
        with permitted.service.database.writing() as connection:
            add_plan(
                connection,
                permitted.now_ms,
                clinic_id=person.clinic_id,
                patient_id=person.patient_id,
                author_id=permitted.actor.user_id,
                toml=text,
                applies_from=applies_from,
                reason=permitted.text("reason"),
                based_on=permitted.text("based_on") or None,
            )
    except (PlanError, ClinicError) as error:
        return again(_problem(error, text))
    return back(f"/patients/{person.patient_id}/plan", "plan")


def _problem(error: ImuRomError, text: str) -> Problem:
    match = _PLACE.match(error.where)
    if match is None:
        return Problem(str(error))
    at, lines = int(match[1]), text.split("\n")
    first, last = max(at - LINES_AROUND, 1), min(at + LINES_AROUND, len(lines))
    return Problem(str(error), tuple((i, lines[i - 1], i == at) for i in range(first, last + 1)))


def _newest(permitted: Permitted) -> PlanVersion | None:
    with permitted.service.database.reading() as connection:
        return newest_plan(connection, permitted.person.patient_id)


def _stage_now(permitted: Permitted, newest: PlanVersion) -> int:
    plan = newest.plan
    held = plan.stage_on(max(today_of(permitted), newest.applies_from))
    return 0 if held is None else [each.name for each in plan.stages].index(held.name)


def _keeping(permitted: Permitted, newest: PlanVersion | None, problem: Problem | None, first: str = "") -> Keeping:
    return Keeping(
        based_on=permitted.text("based_on") or ("" if newest is None else newest.plan_version_id),
        applies_from=permitted.text("applies_from") or first or str(today_of(permitted)),
        reason=permitted.text("reason"),
        problem=problem,
    )


def _form_page(
    request: Request,
    permitted: Permitted,
    newest: PlanVersion,
    number: int,
    given: dict[str, str] | None = None,
    problem: Problem | None = None,
) -> Response:
    form = stage_fields(newest.toml, number)
    if given is not None:
        form = _filled(form, given)
    settings = Settings()
    own = newest.plan.own_uncertainty
    uncertainty = settings.uncertainty if own is None else own.applied_to(settings.uncertainty)
    warnings = plan_warnings(newest.plan, angle_budget(uncertainty).u_common_deg)
    content = PlanContent(
        frame=frame(permitted, "plan"),
        told=told_words(request.query_params.get("told", "")),
        written=f"Version {newest.version}, applies from {newest.applies_from}, "
        f"written {moment(permitted, newest.created_at_ms)}: {newest.reason}",
        form=form,
        keeping=_keeping(permitted, newest, problem),
        words=plan_in_words(newest, today_of(permitted)),
        look_again=tuple(warning_sentences(newest.plan.tendon_site, warnings)),
    )
    return page_response(request, permitted, "plan.html", content, 400 if problem else 200)


def _filled(form: StageFields, given: dict[str, str]) -> StageFields:
    def each(fields: tuple[FieldValue, ...]) -> tuple[FieldValue, ...]:
        return tuple(replace(one, value=given.get(one.name, one.value)) for one in fields)

    return replace(
        form,
        head=each(form.head),
        criteria=each(form.criteria),
        exercises=tuple((name, each(fields)) for name, fields in form.exercises),
    )


def _text_page(
    request: Request, permitted: Permitted, text: str, problem: Problem | None = None, applies_from: str = ""
) -> Response:
    content = TextContent(
        frame(permitted, "plan"), text, _keeping(permitted, _newest(permitted), problem, applies_from)
    )
    return page_response(request, permitted, "plan_text.html", content, 400 if problem else 200)


def _first_page(request: Request, permitted: Permitted, problem: str = "") -> Response:
    programmes = []
    for name in protocol_names():
        published = read_protocol(name)
        citation = "" if published.protocol is None else published.protocol.citation
        programmes.append((name, published.title, citation))
    content = FirstPlanContent(frame(permitted, "plan"), tuple(programmes), str(today_of(permitted)), problem)
    return page_response(request, permitted, "plan_first.html", content, 400 if problem else 200)
