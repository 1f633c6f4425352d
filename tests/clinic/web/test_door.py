"""Coming in: an invitation, what is agreed to, signing in and out."""

import asyncio
from dataclasses import replace

import httpx
import pytest

from imu_rom.clinic import accounts, invitations, patients
from imu_rom.clinic.consents import list_consents, standing_consent
from imu_rom.clinic.web.application import create_application
from imu_rom.wording.patient_consent import CONSENT_VERSION

WORDS = "four green boats swim"


@pytest.fixture
def invited(service, people):
    """A new patient of the clinic and the path of the invitation."""
    now_ms = service.clock.now_ms()
    with service.database.writing() as connection:
        patient = patients.add_patient(
            connection, now_ms, clinic_id=people.clinic.clinic_id, actor_id=None, label="new", language="de"
        )
        account = accounts.add_patient_account(connection, now_ms, patient, actor_id=None)
        made = invitations.invite(connection, now_ms, account, limits=service.configuration.limits, actor_id=None)
        name = accounts.sign_in_name_of(connection, account.user_id)
    return patient, name, f"/invitation/{made.token}"


def agreed(**more):
    return {"agreed": CONSENT_VERSION, "answer": "yes", **more}


def test_an_invitation_is_read_agreed_to_and_used_once(nobody, invited, service, said):
    patient, name, path = invited
    for _ in range(3):
        # looking at it, as messengers do for a preview, uses nothing up
        assert "Sind Sie einverstanden?" in said(nobody.get(path))
    answer = nobody.post(path, agreed())
    assert name in answer.text
    with service.database.reading() as connection:
        assert list_consents(connection, patient.patient_id) == ()
    answer = nobody.post(path, agreed(passphrase=WORDS), follow=False)
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    with service.database.reading() as connection:
        consent = standing_consent(connection, patient.patient_id)
    assert consent.language == "de"
    assert consent.text_version == CONSENT_VERSION
    assert nobody.get("/consent").status_code == 200
    again = nobody.get(path)
    assert again.status_code == 404
    assert nobody.post(path, agreed(passphrase=WORDS)).status_code == 404
    assert "Dieser Link geht nicht mehr" in said(type(nobody)(nobody.application, language="de").get(path))


def test_no_passphrase_is_set_without_agreeing(nobody, invited, service):
    patient, _, path = invited
    answer = nobody.post(path, {"answer": "yes", "agreed": "an older text", "passphrase": WORDS})
    assert "Sind Sie einverstanden?" in answer.text
    with service.database.reading() as connection:
        assert standing_consent(connection, patient.patient_id) is None
    assert "Das ist in Ordnung" in nobody.post(path, agreed(answer="no")).text
    assert nobody.get(path).status_code == 200


def test_a_weak_passphrase_is_refused_and_the_link_still_works(nobody, invited):
    _, name, path = invited
    for weak in ("short", name * 3, "a" * 40):
        answer = nobody.post(path, agreed(passphrase=weak))
        assert answer.status_code == 400
        assert weak not in answer.text.replace(name, "") or weak == "a" * 40
    assert nobody.post(path, agreed(passphrase=WORDS), follow=False).status_code == 303


def test_signing_in_and_out(nobody, invited, said):
    _, name, path = invited
    nobody.post(path, agreed(passphrase=WORDS), follow=False)
    nobody.post("/sign-out", follow=False)
    assert nobody.get("/consent", follow=False).headers["location"] == "/sign-in?next=%2Fconsent"
    wrong = nobody.post("/sign-in", {"name": name, "passphrase": "something else entirely", "next": "/consent"})
    unknown = nobody.post("/sign-in", {"name": "nobody", "passphrase": "something else entirely"})
    assert wrong.status_code == unknown.status_code == 403
    assert "name or the password is not right" in said(wrong)
    assert said(wrong) == said(unknown)
    right = nobody.post(
        "/sign-in", {"name": f" {name.upper()} ", "passphrase": WORDS, "next": "/consent"}, follow=False
    )
    assert right.headers["location"] == "/consent"
    assert nobody.get("/consent").status_code == 200
    left = nobody.post("/sign-out", follow=False)
    assert 'imu_rom=""' in left.headers["set-cookie"]
    assert nobody.get("/consent", follow=False).status_code == 303


@pytest.mark.parametrize(
    ("wanted", "got"),
    [
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("javascript:alert(1)", "/"),
        ("/diary\r\nset-cookie: a=b", "/diaryset-cookie%3A%20a%3Db"),
        ("/\t/elsewhere.example", "/"),
        ("/today", "/today"),
        ("", "/"),
    ],
)
def test_nobody_is_led_anywhere_else_after_signing_in(wanted, got):
    from imu_rom.clinic.web.sign_in_pages import _local

    assert _local(wanted) == got


def test_too_many_tries_are_said_to_be_so(nobody, service, said):
    limits = replace(service.configuration.limits, sign_ins_per_name=2)
    strict = replace(service, configuration=replace(service.configuration, limits=limits))
    nobody.application = create_application(strict)
    for _ in range(2):
        assert nobody.post("/sign-in", {"name": "somebody", "passphrase": ""}).status_code == 403
    answer = nobody.post("/sign-in", {"name": "somebody", "passphrase": ""})
    assert answer.status_code == 429
    assert "Wait 15 minutes" in said(answer)


def test_a_patient_who_takes_the_consent_back_sees_only_what_is_theirs_by_right(patient, service, people):
    assert patient.get("/consent/withdraw").status_code == 200
    patient.post("/consent/withdraw", follow=False)
    with service.database.reading() as connection:
        assert standing_consent(connection, people.patient.patient_id) is None
        assert list_consents(connection, people.patient.patient_id)[0].withdrawn_at_ms == service.clock.now_ms()
    for path in ("/today", "/send", "/diary"):
        assert patient.get(path, follow=False).headers["location"] == "/consent"
    for path in ("/send", "/diary/signs", "/diary/answers"):
        assert patient.post(path, {"done": "yes", "sign": "fever"}, follow=False).headers["location"] == "/consent"
    for path in ("/history", "/my-data", "/my-data/delete"):
        assert patient.get(path).status_code == 200
    assert "do you agree?" in patient.get("/consent").text
    patient.post("/consent", {"agreed": CONSENT_VERSION, "answer": "yes"}, follow=False)
    with service.database.reading() as connection:
        assert standing_consent(connection, people.patient.patient_id) is not None
        assert len(list_consents(connection, people.patient.patient_id)) == 2


def test_a_clinician_agrees_to_nothing(service, people, nobody, said):
    with service.database.writing() as connection:
        made = invitations.invite(
            connection,
            service.clock.now_ms(),
            people.clinician_account,
            limits=service.configuration.limits,
            actor_id=None,
        )
    path = f"/invitation/{made.token}"
    assert "clinician@park.example" in nobody.get(path).text
    answer = nobody.post(path, {"answer": "yes", "passphrase": WORDS}, follow=False)
    assert answer.status_code == 303
    assert nobody.get("/consent").status_code == 404


def test_a_code_is_asked_for_where_one_was_set(service, people, nobody):
    import pyotp

    from imu_rom.clinic.second_factors import KEY_PURPOSE, begin_second_factor, confirm_second_factor

    key = service.configuration.key(KEY_PURPOSE)
    account = people.clinician_account
    with service.database.writing() as connection:
        secret = begin_second_factor(connection, account, key)
        made = invitations.invite(
            connection, service.clock.now_ms(), account, limits=service.configuration.limits, actor_id=None
        )
        code = pyotp.TOTP(secret).at(service.clock.now_ms() // 1000)
        assert confirm_second_factor(connection, service.clock.now_ms(), account, key, code)
    service.clock.advance(minutes=1)
    answer = nobody.post(f"/invitation/{made.token}", {"answer": "yes", "passphrase": WORDS}, follow=False)
    assert answer.headers["location"] == "/sign-in/code"
    assert nobody.get("/patients", follow=False).status_code in {303, 404}
    assert nobody.post("/sign-in/code", {"code": "000000"}).status_code == 403
    code = pyotp.TOTP(secret).at(service.clock.now_ms() // 1000)
    before = nobody.cookies["imu_rom"]
    assert nobody.post("/sign-in/code", {"code": code}, follow=False).status_code == 303
    assert nobody.cookies["imu_rom"] != before
    assert nobody.get("/sign-in", follow=False).headers["location"] == "/"


def test_a_clinic_behind_tls_says_so(service, tmp_path):
    secure = replace(service, configuration=replace(service.configuration, public_url="https://clinic.example"))

    async def ask():
        transport = httpx.ASGITransport(create_application(secure))
        async with httpx.AsyncClient(transport=transport, base_url="https://clinic.example") as client:
            return await client.get("/sign-in"), await client.get("/sign-in", headers={"host": "127.0.0.1:8000"})

    answer, other = asyncio.run(ask())
    assert answer.headers["strict-transport-security"].startswith("max-age=31536000")
    assert other.status_code == 421
