"""Opening an invitation: what is agreed to is read first, then a passphrase is chosen; only then anything is kept."""

from dataclasses import dataclass, replace

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.accounts import PATIENT
from imu_rom.clinic.clinics import Clinic, read_clinic
from imu_rom.clinic.consents import give_consent, standing_consent
from imu_rom.clinic.invitations import OpenInvitation, accept_invitation, open_invitation
from imu_rom.clinic.passphrases import FEWEST_CHARACTERS, hash_passphrase
from imu_rom.clinic.patients import Patient, read_patient
from imu_rom.clinic.sign_ins import start_session
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.sign_in_pages import signed_in_response
from imu_rom.errors import BusyError, ClinicError
from imu_rom.wording.language import speech
from imu_rom.wording.patient_consent import CONSENT_VERSION, ConsentText, consent_text
from imu_rom.wording.patient_entry import entry_words, passphrase_problem

__all__ = ["AgreeContent", "ClosedContent", "PassphraseContent"]


@dataclass(frozen=True)
class ClosedContent:
    """What the page shows where an invitation opens nothing, or was declined.

    Parameters
    ----------
    heading : str
        What happened.
    sentences : tuple of str
        What to do.
    """

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class AgreeContent:
    """What the page shows that asks for consent.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    text : ConsentText
        What is agreed to.
    action : str
        Where the answer goes.
    welcome : bool
        Whether somebody comes for the first time.
    """

    words: dict[str, str]
    text: ConsentText
    action: str
    welcome: bool


@dataclass(frozen=True)
class PassphraseContent:
    """What the page shows that asks for a new passphrase.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    action : str
        Where the answer goes.
    sign_in_name : str
        The name that goes with it.
    agreed : str
        Version of the text that was agreed to; empty where nothing is.
    rule : str
        What a passphrase must be.
    problem : str
        What is to be mended; empty for nothing.
    """

    words: dict[str, str]
    action: str
    sign_in_name: str
    agreed: str
    rule: str
    problem: str


@dataclass(frozen=True)
class _Opened:
    invitation: OpenInvitation
    clinic: Clinic
    patient: Patient | None
    consent_needed: bool


@page("/invitation/{token}", who="anyone", plain=("token",))
def opened(request: Request, permitted: Permitted) -> Response:
    """Show what is agreed to; looking at it uses nothing up."""
    found = _find(permitted, request.path_params["token"])
    if found is None:
        return _gone(request, permitted)
    permitted = _as_theirs(permitted, found)
    if found.consent_needed:
        return _agree_page(request, permitted)
    return _passphrase_page(request, permitted, found, "", "")


@page("/invitation/{token}", who="anyone", method="POST", plain=("token",))
def answered(request: Request, permitted: Permitted) -> Response:
    """Take the answer: first to what is agreed to, then the passphrase."""
    token = request.path_params["token"]
    found = _find(permitted, token)
    if found is None:
        return _gone(request, permitted)
    permitted = _as_theirs(permitted, found)
    words = entry_words(permitted.to)
    if permitted.text("answer") == "no":
        content = ClosedContent(words["declined_heading"], (words["declined"], words["declined_do"]))
        return page_response(request, permitted, "closed.html", content)
    agreed = permitted.text("agreed")
    if found.consent_needed and agreed != CONSENT_VERSION:
        return _agree_page(request, permitted)
    if "passphrase" not in permitted.form:
        return _passphrase_page(request, permitted, found, agreed, "")
    return _accepted(request, permitted, found, token)


def _accepted(request: Request, permitted: Permitted, found: _Opened, token: str) -> Response:
    """Keep passphrase and consent together, and sign the person in."""
    try:
        # outside of transactions, since hashing takes long
        hashed = hash_passphrase(permitted.text("passphrase"), found.invitation.sign_in_name)
    except ClinicError:
        problem = passphrase_problem(permitted.to, FEWEST_CHARACTERS)
        return _passphrase_page(request, permitted, found, permitted.text("agreed"), problem)
    try:
        with permitted.service.database.writing() as connection:
            account = accept_invitation(connection, permitted.now_ms, token, hashed)
            if found.consent_needed and found.patient is not None:
                give_consent(connection, permitted.now_ms, found.patient, account.user_id)
            signed_in = start_session(
                connection, permitted.now_ms, account.user_id, permitted.service.configuration.limits
            )
    except BusyError:
        raise
    except ClinicError:
        return _gone(request, permitted)
    return signed_in_response(request, signed_in, "/sign-in/code" if signed_in.code_needed else "")


def _find(permitted: Permitted, token: str) -> _Opened | None:
    with permitted.service.database.reading() as connection:
        found = open_invitation(connection, permitted.now_ms, token)
        if found is None:
            return None
        clinic = read_clinic(connection, found.account.clinic_id)
        if clinic is None:
            return None
        patient, consent_needed = None, False
        if found.account.role == PATIENT and found.account.patient_id is not None:
            patient = read_patient(connection, clinic.clinic_id, found.account.patient_id)
            if patient is None:
                return None
            consent_needed = standing_consent(connection, patient.patient_id) is None
    return _Opened(found, clinic, patient, consent_needed and found.purpose == "join")


def _as_theirs(permitted: Permitted, found: _Opened) -> Permitted:
    """Show the page in the invited person's language, with their clinic's number; nobody is signed in by that."""
    to = permitted.to if found.patient is None else speech(found.patient.language)
    return replace(permitted, to=to, clinic=found.clinic, account=None)


def _gone(request: Request, permitted: Permitted) -> Response:
    words = entry_words(permitted.to)
    content = ClosedContent(words["gone_heading"], (words["gone"], words["gone_do"]))
    return page_response(request, replace(permitted, account=None), "closed.html", content, 404)


def _agree_page(request: Request, permitted: Permitted) -> Response:
    clinic = "" if permitted.clinic is None else permitted.clinic.name
    content = AgreeContent(
        entry_words(permitted.to, clinic), consent_text(permitted.to), request.url.path, welcome=True
    )
    return page_response(request, permitted, "agree.html", content)


def _passphrase_page(request: Request, permitted: Permitted, found: _Opened, agreed: str, problem: str) -> Response:
    content = PassphraseContent(
        words=entry_words(permitted.to),
        action=request.url.path,
        sign_in_name=found.invitation.sign_in_name,
        agreed=agreed,
        rule=passphrase_problem(permitted.to, FEWEST_CHARACTERS),
        problem=problem,
    )
    return page_response(request, permitted, "passphrase.html", content, 400 if problem else 200)
