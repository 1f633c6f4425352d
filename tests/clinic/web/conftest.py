"""A clinic with people in it, and browsers that ask its pages, without a server."""

import asyncio
import html
import re
from dataclasses import dataclass, field

import httpx
import pytest

from imu_rom.clinic import accounts, clinics, consents, patients, sign_ins
from imu_rom.clinic.web.application import create_application

ADDRESS = "http://127.0.0.1:8000"


@dataclass
class Browser:
    """Asks pages as a browser does: keeps cookies, says where it comes from, follows to the next page."""

    application: object
    cookies: httpx.Cookies = field(default_factory=httpx.Cookies)
    language: str = "en"

    def ask(self, method, path, *, follow=True, headers=None, **content):
        return asyncio.run(self._ask(method, path, follow=follow, headers=headers or {}, **content))

    async def _ask(self, method, path, *, follow, headers, **content):
        transport = httpx.ASGITransport(self.application)
        own = {"accept-language": self.language}
        if method == "POST":
            own |= {"origin": ADDRESS, "sec-fetch-site": "same-origin"}
        own = {name: value for name, value in (own | headers).items() if value is not None}
        async with httpx.AsyncClient(
            transport=transport, base_url=ADDRESS, cookies=self.cookies, headers=own, follow_redirects=follow
        ) as client:
            answer = await client.request(method, path, **content)
            self.cookies = client.cookies
        return answer

    def get(self, path, **content):
        return self.ask("GET", path, **content)

    def post(self, path, data=None, **content):
        return self.ask("POST", path, data=data or {}, **content)


def text_of(answer):
    """What a page says, without its marks."""
    body = re.sub(r"(?s)<(script|style|head).*?</\1>", " ", answer.text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


@dataclass
class People:
    """Those of one clinic."""

    clinic: object
    patient: object
    patient_account: object
    clinician_account: object


def people_of(service, name):
    now_ms = service.clock.now_ms()
    with service.database.writing() as connection:
        clinic = clinics.add_clinic(
            connection, now_ms, name=f"{name} (invented)", phone="+43 1 555 0100", time_zone="Europe/Vienna"
        )
        patient = patients.add_patient(
            connection, now_ms, clinic_id=clinic.clinic_id, actor_id=None, label=f"of {name}", language="en"
        )
        account = accounts.add_patient_account(connection, now_ms, patient, actor_id=None)
        clinician = accounts.add_clinician(
            connection, now_ms, clinic_id=clinic.clinic_id, sign_in_name=f"clinician@{name.lower()}.example"
        )
        consents.give_consent(connection, now_ms, patient, account.user_id)
        patient = patients.read_patient(connection, clinic.clinic_id, patient.patient_id)
    return People(clinic, patient, account, clinician)


@pytest.fixture
def application(service):
    return create_application(service)


@pytest.fixture
def people(service):
    return people_of(service, "Park")


@pytest.fixture
def strangers(service):
    """Another clinic in the same database."""
    return people_of(service, "Hill")


@pytest.fixture
def signed_in(service, application):
    """Function that gives a browser in which somebody is signed in already, without the work of a passphrase."""

    def browser(account):
        with service.database.writing() as connection:
            answer = sign_ins.start_session(
                connection, service.clock.now_ms(), account.user_id, service.configuration.limits
            )
        made = Browser(application)
        made.cookies.set("imu_rom", answer.token, domain="127.0.0.1")
        return made

    return browser


@pytest.fixture
def nobody(application):
    return Browser(application)


@pytest.fixture
def patient(signed_in, people):
    return signed_in(people.patient_account)


@pytest.fixture
def clinician(signed_in, people):
    return signed_in(people.clinician_account)


@pytest.fixture
def said():
    """Function that gives what a page says, without its marks."""
    return text_of
