"""The list of patients: who needs a look first and why, routine sessions filed unread, many reviewed at once."""

from collections.abc import Container
from dataclasses import dataclass
from datetime import date

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.attention import LEVEL_ORDER, PatientLine, patient_lines
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.patients import Patient, list_patients
from imu_rom.clinic.reviews import review
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.dose.attention_reasons import AttentionReason
from imu_rom.wording.clinic_attention_text import LEVEL_HEADINGS, reason_sentence, routine_sentence
from imu_rom.wording.clinic_list_text import MISSING_WORDS, criteria_words, days_ago, stage_words, told_words

__all__ = ["LineContent", "line_content", "reviewed_as_shown"]

MOST_LINKS = 5
LONGEST_SEARCH = 200
SEVERAL = frozenset({"this week", "routine"})
"""Levels that can be reviewed many at once; what is more urgent is opened first."""


@dataclass(frozen=True)
class ReasonContent:
    """One reason to look.

    Parameters
    ----------
    sentence : str
        Which.
    sessions : tuple of tuple of str
        (id, words) of the sessions that it speaks of, or that were done on the days it speaks of.
    """

    sentence: str
    sessions: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class LineContent:
    """What the list shows of one patient.

    Parameters
    ----------
    patient_id, label : str
        Whose.
    shown : str
        Stands for what is shown.
    reasons : tuple of ReasonContent
        Why to look.
    facts : tuple of tuple of str
        (name, value).
    missing : tuple of str
        What keeps the patient from going on.
    """

    patient_id: str
    label: str
    shown: str
    reasons: tuple[ReasonContent, ...]
    facts: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class LevelContent:
    """Patients that want a look equally soon.

    Parameters
    ----------
    heading : str
        How soon.
    several : bool
        Whether they can be reviewed many at once.
    lines : tuple of LineContent
        In order.
    """

    heading: str
    several: bool
    lines: tuple[LineContent, ...]


@dataclass(frozen=True)
class ListContent:
    """What the list shows.

    Parameters
    ----------
    told : str
        What was just done; may be empty.
    phone_missing : bool
        True where nobody can be invited.
    levels : tuple of LevelContent
        Those that have a patient.
    retired : int
        How many patients are put aside.
    find : str
        Part of a label by which patients are looked for; empty for all.
    """

    told: str
    phone_missing: bool
    levels: tuple[LevelContent, ...]
    retired: int
    find: str


@dataclass(frozen=True)
class RetiredContent:
    """Patients that were put aside.

    Parameters
    ----------
    patients : tuple of Patient
        By their labels.
    """

    patients: tuple[Patient, ...]


def line_content(line: PatientLine, today: date) -> LineContent:
    """Put one patient of the list into words.

    Parameters
    ----------
    line : PatientLine
        What is known.
    today : date
        The clinic's day.

    Returns
    -------
    LineContent
        For the list and the patient's own page.
    """
    reasons = tuple(ReasonContent(reason_sentence(each), _sessions_of(each, line)) for each in line.reasons)
    routine = routine_sentence(len(line.unread), line.newest_on) if not reasons else ""
    missing = [MISSING_WORDS[each] for each in line.missing]
    if line.deletion_asked_on is not None:
        missing.append(f"asked on {line.deletion_asked_on} that everything be deleted")
    last = "none yet" if line.last_upload_on is None else days_ago(line.last_upload_on, today)
    unread = f"{len(line.unread)}" + (f", {line.waiting} being analysed" if line.waiting else "")
    return LineContent(
        patient_id=line.patient_id,
        label=line.label,
        shown=line.shown,
        reasons=reasons or ((ReasonContent(routine),) if routine else ()),
        facts=(
            ("Stage", stage_words(line.stage, line.stage_since, today)),
            ("Criteria", criteria_words(*line.criteria)),
            ("Last received", last),
            ("Unread", unread),
        ),
        missing=tuple(missing),
    )


def _sessions_of(reason: AttentionReason, line: PatientLine) -> tuple[tuple[str, str], ...]:
    if reason.uploads:
        found = [(each, f"upload {number}") for number, each in enumerate(reason.uploads, 1)]
        found = found if len(found) > 1 else [(reason.uploads[0], "the upload")]
    elif reason.kind == "fewer recordings":
        found = []
    else:
        found = [(recording_id, f"session of {day}") for day, recording_id in line.sessions if day in reason.days]
    return tuple(found[-MOST_LINKS:])


def reviewed_as_shown(
    permitted: Permitted, chosen: dict[str, str], levels: Container[str] = LEVEL_ORDER
) -> tuple[int, int]:
    """Keep that patients were looked at as they were shown, and leave out those to whom something came in meanwhile.

    Parameters
    ----------
    permitted : Permitted
        Who looked.
    chosen : dict of str to str
        What was shown of each, by patient.
    levels : container of str
        Levels that may be reviewed so.

    Returns
    -------
    tuple of int
        How many are reviewed, and how many were left out.
    """
    actor, done = permitted.actor, 0
    with permitted.service.database.writing() as connection:
        for line in patient_lines(connection, actor.clinic_id, permitted.now_ms):
            if chosen.get(line.patient_id) != line.shown or line.level not in levels:
                continue
            done += 1
            review(
                connection,
                permitted.now_ms,
                clinic_id=actor.clinic_id,
                patient_id=line.patient_id,
                author_id=actor.user_id,
                seen=line.keys,
                recording_ids=line.unread,
            )
    return done, len(chosen) - done


@page("/patients", who="clinician")
def patient_list(request: Request, permitted: Permitted) -> Response:
    """Show who needs a look first, and why."""
    actor, clinic = permitted.actor, permitted.clinic
    with permitted.service.database.reading() as connection:
        lines = patient_lines(connection, actor.clinic_id, permitted.now_ms)
        everybody = list_patients(connection, actor.clinic_id, with_retired=True)
    today = local_day(permitted.now_ms, "UTC" if clinic is None else clinic.time_zone)
    find = request.query_params.get("find", "").strip()[:LONGEST_SEARCH]
    shown = [each for each in lines if find.casefold() in each.label.casefold()]
    levels = tuple(
        LevelContent(
            LEVEL_HEADINGS[level],
            level in SEVERAL,
            tuple(line_content(each, today) for each in shown if each.level == level),
        )
        for level in LEVEL_ORDER
    )
    content = ListContent(
        told=told_words(request.query_params.get("told", "")),
        phone_missing=clinic is None or not clinic.phone,
        levels=tuple(each for each in levels if each.lines),
        retired=len(everybody) - len(lines),
        find=find,
    )
    return page_response(request, permitted, "patient_list.html", content)


@page("/patients/reviewed", who="clinician", method="POST")
def several_reviewed(request: Request, permitted: Permitted) -> Response:
    """File the chosen patients as reviewed."""
    del request
    values = [each for each in permitted.form.getlist("patient") if isinstance(each, str)]
    chosen = {patient_id: shown for patient_id, _, shown in (each.partition(":") for each in values)}
    done, left = reviewed_as_shown(permitted, chosen, SEVERAL)
    told = "none-chosen" if not chosen else "reviewed" if not left else "reviewed-but" if done else "came-in"
    return RedirectResponse(f"/patients?told={told}", status_code=303)


@page("/patients/retired", who="clinician")
def retired_patients(request: Request, permitted: Permitted) -> Response:
    """List the patients that were put aside."""
    with permitted.service.database.reading() as connection:
        everybody = list_patients(connection, permitted.actor.clinic_id, with_retired=True)
    aside = tuple(each for each in everybody if each.retired_at_ms is not None)
    return page_response(request, permitted, "patients_retired.html", RetiredContent(aside))
