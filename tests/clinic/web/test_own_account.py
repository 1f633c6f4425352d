"""A clinician's own account: each change asks for the passphrase, and a second factor counts from its first code on."""

import html
import re

import numpy as np
import pyotp
import pytest
import zxingcpp
from sqlalchemy import select, update

from imu_rom.clinic.passphrases import hash_passphrase
from imu_rom.clinic.schema import audit_entries, users
from imu_rom.clinic.sign_ins import Refusal, sign_in

PASSPHRASE = "seven slow heel raises"
OTHER = "nine quick toe lifts today"
NAME = "clinician@park.example"


@pytest.fixture(scope="session")
def hashed():
    return hash_passphrase(PASSPHRASE, NAME)


@pytest.fixture
def clinician(service, signed_in, people, hashed):
    with service.database.writing() as connection:
        mine = users.c.id == people.clinician_account.user_id
        connection.execute(update(users).where(mine).values(passphrase_hash=hashed))
    return signed_in(people.clinician_account)


def secret_on(answer):
    return re.search(r'class="key">([A-Z2-7 ]+)<', answer.text)[1].replace(" ", "")


def code_of(secret, service):
    return pyotp.TOTP(secret).at(service.clock.now_ms() // 1000)


def read_by_camera(page):
    """What another program reads off the picture, drawn from its strokes."""
    drawn = re.search(r"<svg[^>]*>.*?</svg>", page)[0]
    across = int(re.search(r'd="M0 0h(\d+)v', drawn)[1])
    picture = np.full((across, across), 255, np.uint8)
    x, y = 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", re.search(r'stroke="#000" d="([^"]+)"', drawn)[1]):
        values = [float(each) for each in numbers.split()]
        if letter == "h":
            picture[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
        else:
            x, y = (values[0], values[1]) if letter == "M" else (x + values[0], y + values[1])
    return zxingcpp.read_barcode(np.kron(picture, np.ones((4, 4), np.uint8))).text


def test_the_picture_for_a_camera_says_what_the_link_says_and_brings_no_style(clinician):
    shown = clinician.post("/account/second-factor", {"passphrase": PASSPHRASE})
    link = html.unescape(re.search(r'href="(otpauth:[^"]+)"', shown.text)[1])
    assert read_by_camera(shown.text) == link
    assert pyotp.parse_uri(link).secret == secret_on(shown)
    # the page's policy would refuse it
    assert "style=" not in shown.text


def test_a_second_factor_is_set_up_asked_for_and_removed(service, clinician, nobody):
    shown = clinician.post("/account/second-factor", {"passphrase": PASSPHRASE})
    secret = secret_on(shown)
    assert f"secret={secret}" in shown.text
    wrong = clinician.post("/account/second-factor/code", {"code": "000000"})
    assert (wrong.status_code, secret_on(wrong)) == (403, secret)
    # until the first code was right, none is asked for
    assert not sign_in(service, NAME, PASSPHRASE, "192.0.2.1").code_needed
    done = clinician.post("/account/second-factor/code", {"code": code_of(secret, service)})
    assert "From now on a code is asked for" in done.text
    # the secret is shown to nobody any more
    assert clinician.get("/account/second-factor", follow=False).headers["location"] == "/account"
    service.clock.advance(minutes=1)
    asked = nobody.post("/sign-in", {"name": NAME, "passphrase": PASSPHRASE})
    assert asked.url.path == "/sign-in/code"
    assert nobody.get("/account").url.path == "/sign-in"
    nobody.post("/sign-in", {"name": NAME, "passphrase": PASSPHRASE})
    inside = nobody.post("/sign-in/code", {"code": code_of(secret, service)})
    assert inside.status_code != 403
    removed = clinician.post("/account/second-factor", {"passphrase": PASSPHRASE})
    assert "No code is asked for any more" in removed.text
    assert not sign_in(service, NAME, PASSPHRASE, "192.0.2.1").code_needed


def test_a_browser_that_was_left_open_is_not_enough(service, clinician):
    for path, more in (("/account/second-factor", {}), ("/account/passphrase", {"new": OTHER})):
        answer = clinician.post(path, {"passphrase": OTHER, **more})
        assert answer.status_code == 403
        assert "This is not your passphrase." in answer.text
    with service.database.reading() as connection:
        done = list(connection.scalars(select(audit_entries.c.action).order_by(audit_entries.c.number)))
    assert done[-2:] == ["refuse passphrase"] * 2
    for _ in range(service.configuration.limits.sign_ins_per_name):
        answer = clinician.post("/account/second-factor", {"passphrase": "guess"})
    assert "tried too often" in answer.text
    assert "tried too often" in clinician.post("/account/second-factor", {"passphrase": PASSPHRASE}).text


def test_a_new_passphrase_signs_out_everywhere_else(service, clinician, signed_in, people):
    elsewhere = signed_in(people.clinician_account)
    short = clinician.post("/account/passphrase", {"passphrase": PASSPHRASE, "new": "short"})
    assert (short.status_code, "at least 15 characters" in short.text) == (403, True)
    done = clinician.post("/account/passphrase", {"passphrase": PASSPHRASE, "new": OTHER})
    assert "The new passphrase counts from now on" in done.text
    assert elsewhere.get("/account").url.path == "/sign-in"
    assert clinician.get("/account").url.path == "/account"
    assert sign_in(service, NAME, PASSPHRASE, "192.0.2.1") is Refusal.WRONG
    assert sign_in(service, NAME, OTHER, "192.0.2.1").account == people.clinician_account


def test_patients_have_no_such_page(patient):
    assert patient.get("/account").status_code == 404
    assert patient.post("/account/second-factor", {"passphrase": "x"}).status_code == 404
