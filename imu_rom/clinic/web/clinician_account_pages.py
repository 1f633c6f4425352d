"""A patient's account and data from the clinic's side: invitation, new passphrase, put aside, deletion, exports."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.accounts import add_patient_account, sign_in_name_of
from imu_rom.clinic.exports import FORMS, export_of, exports_of, keep_export, made_export
from imu_rom.clinic.invitations import Invitation, invite
from imu_rom.clinic.patient_folder import patient_records
from imu_rom.clinic.patients import (
    Patient,
    add_patient,
    ask_deletion,
    change_patient,
    reinstate_patient,
    retire_patient,
    take_back_deletion,
)
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page
from imu_rom.errors import ImuRomError
from imu_rom.wording.clinic_list_text import told_words
from imu_rom.wording.language import languages

__all__ = ["AccountContent", "LinkContent", "NewPatientContent"]

LANGUAGE_NAMES = {"de": "Deutsch", "en": "English"}


@dataclass(frozen=True)
class NewPatientContent:
    """What the page shows that invites somebody new.

    Parameters
    ----------
    label, language : str
        What was filled in.
    languages : tuple of tuple of str
        (code, name).
    problem : str
        What is to be mended; empty for nothing.
    """

    label: str
    language: str
    languages: tuple[tuple[str, str], ...]
    problem: str


@dataclass(frozen=True)
class LinkContent:
    """What the page shows with an invitation, once.

    Parameters
    ----------
    patient_id, label : str
        Who is invited.
    link : str
        What opens the invitation.
    sign_in_name : str
        The name that goes with it.
    until : str
        Until when.
    joins : bool
        False for a new passphrase.
    """

    patient_id: str
    label: str
    link: str
    sign_in_name: str
    until: str
    joins: bool


@dataclass(frozen=True)
class ExportRow:
    """An export in the list.

    Parameters
    ----------
    export_id : str
        Its id.
    words : str
        What, when and how large.
    """

    export_id: str
    words: str


@dataclass(frozen=True)
class AccountContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    told : str
        What was just done; may be empty.
    pseudonym : str
        Stands for the person in exports.
    sign_in_name : str
        Empty where the person was never invited.
    label, language : str
        As the clinic has them.
    languages : tuple of tuple of str
        (code, name).
    deletion : str
        When deletion was asked for; empty where it wasn't.
    kinds : tuple of str
        Of exports.
    exports : tuple of ExportRow
        The newest first.
    problem : str
        What is to be mended; empty for nothing.
    """

    frame: Frame
    told: str
    pseudonym: str
    sign_in_name: str
    label: str
    language: str
    languages: tuple[tuple[str, str], ...]
    deletion: str
    kinds: tuple[str, ...]
    exports: tuple[ExportRow, ...]
    problem: str


def _languages() -> tuple[tuple[str, str], ...]:
    return tuple((each, LANGUAGE_NAMES.get(each, each)) for each in languages())


@page("/patients/new", who="clinician")
def new_patient(request: Request, permitted: Permitted) -> Response:
    """Ask whom to invite."""
    return page_response(request, permitted, "patient_new.html", NewPatientContent("", "en", _languages(), ""))


@page("/patients/new", who="clinician", method="POST")
def invite_new(request: Request, permitted: Permitted) -> Response:
    """Add a patient and make the invitation; both or neither."""
    actor, label, language = permitted.actor, permitted.text("label"), permitted.text("language")
    try:
        with permitted.service.database.writing() as connection:
            made = add_patient(
                connection,
                permitted.now_ms,
                clinic_id=actor.clinic_id,
                actor_id=actor.user_id,
                label=label,
                language=language,
            )
            account = add_patient_account(connection, permitted.now_ms, made, actor_id=actor.user_id)
            limits = permitted.service.configuration.limits
            invitation = invite(connection, permitted.now_ms, account, limits=limits, actor_id=actor.user_id)
            name = sign_in_name_of(connection, account.user_id) or ""
    except ImuRomError as error:
        content = NewPatientContent(label, language, _languages(), str(error))
        return page_response(request, permitted, "patient_new.html", content, 400)
    return _link_page(request, permitted, made, invitation, name)


@page("/patients/{patient_id}/invitation", who="clinician", method="POST")
def invite_again(request: Request, permitted: Permitted) -> Response:
    """Make a new invitation, or a link to a new passphrase for somebody who has one; earlier links open nothing."""
    person, actor = permitted.person, permitted.actor
    try:
        with permitted.service.database.writing() as connection:
            account = add_patient_account(connection, permitted.now_ms, person, actor_id=actor.user_id)
            limits = permitted.service.configuration.limits
            invitation = invite(connection, permitted.now_ms, account, limits=limits, actor_id=actor.user_id)
            name = sign_in_name_of(connection, account.user_id) or ""
    except ImuRomError as error:
        return _account_page(request, permitted, str(error))
    return _link_page(request, permitted, person, invitation, name)


def _link_page(
    request: Request, permitted: Permitted, patient: Patient, invitation: Invitation, sign_in_name: str
) -> Response:
    content = LinkContent(
        patient_id=patient.patient_id,
        label=patient.label,
        link=f"{permitted.service.configuration.public_url}/invitation/{invitation.token}",
        sign_in_name=sign_in_name,
        until=moment(permitted, invitation.expires_at_ms),
        joins=invitation.purpose == "join",
    )
    return page_response(request, permitted, "patient_link.html", content)


@page("/patients/{patient_id}/account", who="clinician")
def patient_account(request: Request, permitted: Permitted) -> Response:
    """Show the account and what can be done about the data."""
    return _account_page(request, permitted)


def _account_page(request: Request, permitted: Permitted, problem: str = "") -> Response:
    person = permitted.person
    with permitted.service.database.reading() as connection:
        kept = exports_of(connection, person.patient_id)
        name = None if person.user_id is None else sign_in_name_of(connection, person.user_id)
    content = AccountContent(
        frame=frame(permitted, "account"),
        told=told_words(request.query_params.get("told", "")),
        pseudonym=person.pseudonym,
        sign_in_name=name or "",
        label=person.label,
        language=person.language,
        languages=_languages(),
        deletion="" if person.deletion_asked_at_ms is None else moment(permitted, person.deletion_asked_at_ms),
        kinds=tuple(FORMS),
        exports=tuple(
            ExportRow(
                each.export_id,
                f"{each.form}, {moment(permitted, each.created_at_ms)}, {each.content.size / 1000:.0f} kB",
            )
            for each in kept
        ),
        problem=problem,
    )
    return page_response(request, permitted, "patient_account.html", content, 400 if problem else 200)


@page("/patients/{patient_id}/name", who="clinician", method="POST")
def rename(request: Request, permitted: Permitted) -> Response:
    """Change what the clinic calls a patient, and the patient's language."""
    person = permitted.person
    try:
        with permitted.service.database.writing() as connection:
            change_patient(
                connection,
                permitted.now_ms,
                person,
                actor_id=permitted.actor.user_id,
                label=permitted.text("label"),
                language=permitted.text("language"),
            )
    except ImuRomError as error:
        return _account_page(request, permitted, str(error))
    return back(f"/patients/{person.patient_id}/account", "changed")


_CHANGES = {
    "retire": (retire_patient, "retired"),
    "reinstate": (reinstate_patient, "reinstated"),
    "ask deletion": (ask_deletion, "deletion"),
    "keep after all": (take_back_deletion, "changed"),
}


@page("/patients/{patient_id}/standing", who="clinician", method="POST")
def change_standing(request: Request, permitted: Permitted) -> Response:
    """Put a patient aside or take one back; keep or take back the wish for deletion."""
    person = permitted.person
    chosen = _CHANGES.get(permitted.text("change"))
    if chosen is None:
        return trouble_page(request, "missing", 404)
    change, told = chosen
    with permitted.service.database.writing() as connection:
        change(connection, permitted.now_ms, person, actor_id=permitted.actor.user_id)
    return back(f"/patients/{person.patient_id}/account", told)


@page("/patients/{patient_id}/exports", who="clinician", method="POST")
def make_export(request: Request, permitted: Permitted) -> Response:
    """Make an export and keep it."""
    person, form = permitted.person, permitted.text("form")
    if form not in FORMS:
        return _account_page(request, permitted, "Choose what the export is to be.")
    service = permitted.service
    try:
        with service.database.reading() as connection:
            records = patient_records(connection, person.patient_id)
        content = service.files.put(made_export(service, person, records, form))
        with service.database.writing() as connection:
            keep_export(
                connection,
                permitted.now_ms,
                patient=person,
                author_id=permitted.actor.user_id,
                form=form,
                content=content,
            )
    except ImuRomError as error:
        return _account_page(request, permitted, str(error))
    return back(f"/patients/{person.patient_id}/account", "exported")


@page("/patients/{patient_id}/exports/{export_id}", who="clinician")
def get_export(request: Request, permitted: Permitted) -> Response:
    """Give a kept export."""
    person, service = permitted.person, permitted.service
    with service.database.reading() as connection:
        kept = export_of(connection, person.patient_id, request.path_params["export_id"])
    if kept is None:
        return trouble_page(request, "missing", 404)
    with service.files.open(kept.content.sha256) as file:
        content = file.read()
    name = f"{person.pseudonym}-{kept.form.replace(', ', '-').lower()}.zip"
    return Response(
        content, media_type="application/zip", headers={"content-disposition": f'attachment; filename="{name}"'}
    )
