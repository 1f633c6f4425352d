"""Who is there, and whether they may: asked once for every request, before anything that was sent is read."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from sqlalchemy import Connection
from starlette.datastructures import FormData

from imu_rom.clinic.accounts import Account
from imu_rom.clinic.belonging import KINDS, owner_of
from imu_rom.clinic.clinics import Clinic, read_clinic
from imu_rom.clinic.consents import standing_consent
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.patients import Patient, read_patient
from imu_rom.clinic.service import Service
from imu_rom.clinic.sign_ins import session_account
from imu_rom.wording.language import ENGLISH, Speech, preferred_language, speech

__all__ = ["OBJECTS", "Permitted", "Refused", "permit"]

OBJECTS = {f"{kind}_id": kind for kind in KINDS}
"""Names that may stand in a page's path, and of what kind of object each is the id."""
SIGN_IN, SECOND_FACTOR, CONSENT = "/sign-in", "/sign-in/code", "/consent"


@dataclass(frozen=True)
class Permitted:
    """What a page is given: who is there, and whom the page is about.

    Parameters
    ----------
    service : Service
        What everything is kept in.
    now_ms : int
        When it was asked for.
    to : Speech
        Language of the page.
    account : Account or None
        Who is there; None for nobody.
    clinic : Clinic or None
        Their clinic.
    patient : Patient or None
        Whom the page is about: the patient who is there, or the one whom the path names to a clinician.
    token : str or None
        Of the sign-in.
    form : FormData
        What was sent.
    """

    service: Service
    now_ms: int
    to: Speech
    account: Account | None = None
    clinic: Clinic | None = None
    patient: Patient | None = None
    token: str | None = None
    form: FormData = field(default_factory=FormData)

    def with_form(self, form: FormData) -> "Permitted":
        """Add what was sent.

        Parameters
        ----------
        form : FormData
            Fields and files.

        Returns
        -------
        Permitted
            With them.
        """
        return replace(self, form=form)

    def text(self, name: str) -> str:
        """Give a field of the form.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        str
            What was written, without space around; empty where nothing was, or a file.
        """
        value = self.form.get(name)
        # a zero character can't be typed, and PostgreSQL takes no text with it
        return value.replace("\0", "").strip() if isinstance(value, str) else ""

    @property
    def time_zone(self) -> str:
        """IANA name of where the clinic's people live."""
        return "UTC" if self.clinic is None else self.clinic.time_zone

    @property
    def today(self) -> date:
        """Today where the clinic's people live."""
        return local_day(self.now_ms, self.time_zone)

    @property
    def actor(self) -> Account:
        """Who is there, on a page that only somebody may open."""
        if self.account is None:
            raise LookupError
        return self.account

    @property
    def person(self) -> Patient:
        """Whom the page is about, on a page that is about somebody."""
        if self.patient is None:
            raise LookupError
        return self.patient


@dataclass(frozen=True)
class Refused:
    """A page that may not be opened.

    Parameters
    ----------
    go_to : str or None
        Where to go instead; None: it is as if there were no such page.
    come_back : bool
        Whether to come back to it from there.
    """

    go_to: str | None = None
    come_back: bool = False


def permit(
    service: Service, token: str | None, who: str, ids: Mapping[str, str], wanted_languages: str
) -> Permitted | Refused:
    """Tell who is there and whether they may.

    Parameters
    ----------
    service : Service
        Where to look it up.
    token : str or None
        Of the sign-in.
    who : str
        Who may (`imu_rom.clinic.web.routes.Who`).
    ids : mapping of str to str
        Ids in the path by their names; each object must be the visitor's.
    wanted_languages : str
        What the browser says of its languages.

    Returns
    -------
    Permitted or Refused
        What the page is given, or where to go instead.
    """
    now_ms = service.clock.now_ms()
    unknown = Permitted(service, now_ms, speech(preferred_language(wanted_languages)))
    if who == "anyone" and not ids and token is None:
        return unknown
    with service.database.reading() as connection:
        account = None if token is None else session_account(connection, token, now_ms)
        if account is None:
            return unknown if who == "anyone" else Refused(SIGN_IN, come_back=True)
        return _of(connection, replace(unknown, account=account, token=token), who, ids)


def _of(connection: Connection, unknown: Permitted, who: str, ids: Mapping[str, str]) -> Permitted | Refused:
    account = unknown.actor
    clinic = read_clinic(connection, account.clinic_id)
    if account.role == "clinician":
        return _clinician(connection, replace(unknown, clinic=clinic, to=speech(ENGLISH)), who, ids)
    if account.patient_id is None or who == "clinician":
        return Refused()
    patient = read_patient(connection, account.clinic_id, account.patient_id)
    if patient is None:
        return Refused(SIGN_IN)
    for name, object_id in ids.items():
        owner = owner_of(connection, OBJECTS[name], object_id)
        if owner is None or owner.patient_id != patient.patient_id:
            return Refused()
    permitted = replace(unknown, clinic=clinic, patient=patient, to=speech(patient.language))
    if who == "patient" and standing_consent(connection, patient.patient_id) is None:
        return Refused(CONSENT)
    return permitted


def _clinician(connection: Connection, unknown: Permitted, who: str, ids: Mapping[str, str]) -> Permitted | Refused:
    account = unknown.actor
    if who.startswith("patient"):
        return Refused()
    patient = None
    for name, object_id in ids.items():
        owner = owner_of(connection, OBJECTS[name], object_id)
        if owner is None or owner.clinic_id != account.clinic_id:
            return Refused()
        # two ids in one path must be of the same person
        if patient is not None and owner.patient_id != patient.patient_id:
            return Refused()
        patient = read_patient(connection, account.clinic_id, owner.patient_id)
    return replace(unknown, patient=patient)
