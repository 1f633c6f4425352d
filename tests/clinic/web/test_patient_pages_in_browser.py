"""The patient's pages in a real browser, on phone and laptop: nothing overflows, all can be hit, axe finds nothing.

``IMU_ROM_SHOTS=folder`` keeps a picture of each page, to be looked at.
"""

import os
import shutil
import sys
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright
from sqlalchemy import update

from imu_rom.clinic import accounts, clinics, consents, invitations, messages, patients, plans, results, sign_ins
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.database import open_database
from imu_rom.clinic.schema import recordings
from imu_rom.clinic.service import Service
from imu_rom.clinic.serving import listen
from imu_rom.clinic.stored_files import open_files
from imu_rom.clinic.web.application import create_application
from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import write_result

sys.path.insert(0, str(Path(__file__).parents[1]))
from page_widths import width_beyond
from served_application import answering

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
ROOT = Path(__file__).parents[3]
SIZES = {"phone": (360, 740), "laptop": (1280, 800)}
SHOTS = os.environ.get("IMU_ROM_SHOTS")
TARGETS = "a, button, input:not([type=hidden]), select, textarea, summary"
SMALL = """targets => [...document.querySelectorAll(targets)].filter(each => {
  const box = (each.closest("label") ?? each).getBoundingClientRect();
  // within a sentence the size of a line is enough (WCAG 2.2, 2.5.8)
  const inline = each.matches("a:not(.button):not(.phone)") && each.closest("p, li") && !each.closest("nav");
  return box.width && !inline && !each.matches(".skip") && (box.height < 44 || box.width < 44);
}).map(each => each.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def chromium():
    if not Path(CHROMIUM).exists():
        message = "chromium is not installed"
        assert os.environ.get("CI") != "true", message
        pytest.skip(message)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


class Noon:
    def now_ms(self):
        # 2026-11-30 12:00 UTC
        return 1_796_040_000_000


@pytest.fixture(scope="module", params=["en", "de"])
def served(request, migrated_file, tmp_path_factory, made_session):
    """A clinic on a port of this machine, and what one patient of it and one who is invited need to come in."""
    folder = tmp_path_factory.mktemp("served")
    shutil.copy(migrated_file, folder / "clinic.sqlite")
    configuration = read_configuration(folder / "home", {"IMU_ROM_DATABASE_URL": f"sqlite:///{folder}/clinic.sqlite"})
    database = open_database(configuration.database_url)
    service = Service(configuration, database, open_files(configuration.files_url), Noon())
    with listen("127.0.0.1", 0) as listening, answering(create_application(service), listening):
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        yield {"service": service, "address": address, **prepared(service, request.param)}
    database.close()


def prepared(service, language):
    now_ms, limits = service.clock.now_ms(), service.configuration.limits
    toml = (ROOT / "sample_recordings" / "plans" / "P-0001.toml").read_text("utf-8")
    toml = toml.replace("from = 2026-11-30", "from = 2026-11-01")
    toml = toml.replace('patient = "P-0001"\n', 'patient = "P-0001"\nfrom = 2026-11-01\n')
    with service.database.writing() as connection:
        clinic = clinics.add_clinic(
            connection, now_ms, name="Park (invented)", phone="+43 1 555 0100", time_zone="Europe/Vienna"
        )
        clinic_id = clinic.clinic_id
        clinician = accounts.add_clinician(connection, now_ms, clinic_id=clinic_id, sign_in_name="anna@park.example")
        new, known = (
            patients.add_patient(connection, now_ms, clinic_id=clinic_id, actor_id=None, label=each, language=language)
            for each in ("new", "known")
        )
        account = accounts.add_patient_account(connection, now_ms, known, actor_id=None)
        invited = accounts.add_patient_account(connection, now_ms, new, actor_id=None)
        plans.add_plan(
            connection,
            now_ms,
            clinic_id=clinic_id,
            patient_id=known.patient_id,
            author_id=clinician.user_id,
            toml=toml,
            applies_from=plans.EARLIEST.replace(year=2026, month=11, day=1),
            reason="first plan",
            based_on=None,
        )
        messages.send_message(
            connection,
            now_ms,
            clinic_id=clinic_id,
            patient_id=known.patient_id,
            author_id=clinician.user_id,
            text="Your last week looks good.",
        )
        consents.give_consent(connection, now_ms, known, account.user_id)
        return {
            "token": sign_ins.start_session(connection, now_ms, account.user_id, limits).token,
            "invitation": invitations.invite(connection, now_ms, invited, limits=limits, actor_id=None).token,
            "language": language,
        }


def make_usable(service, recording_id, session):
    """What a worker would do, without its minutes."""
    stored = service.files.put(write_result(result_document(session)))
    with service.database.writing() as connection:
        plan = plans.newest_plan(connection, read_owner(connection, recording_id))
        results.add_result(
            connection,
            service.clock.now_ms(),
            recording_id,
            program_version="0",
            plan_version_id=plan.plan_version_id,
            mark_version_id=None,
            files={"result.json": stored},
        )
        connection.execute(update(recordings).where(recordings.c.id == recording_id).values(state="usable"))


def read_owner(connection, recording_id):
    from imu_rom.clinic.kept_recordings import read_recording

    return read_recording(connection, recording_id).patient_id


class Looking:
    """Looks at a page in both sizes and keeps what is wrong with it."""

    def __init__(self, language):
        self.language = language
        self.wrong = []
        self.axe = Axe()

    def at(self, page, name):
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            if SHOTS:
                page.screenshot(path=Path(SHOTS) / f"{self.language}-{name}-{size}.png", full_page=True)
            if over := width_beyond(page, width):
                self.wrong.append((name, size, "overflows", over))
            self.wrong += [(name, size, "small", each) for each in page.evaluate(SMALL, TARGETS)]
        if self.language != "en":
            # the same marks around other words
            return
        # what passes is not listed mark by mark
        found = self.axe.run(page, options={"resultTypes": ["violations"]}).response["violations"]
        self.wrong += [(name, each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found]


def watched(context, wrong):
    context.set_default_timeout(90_000)
    page = context.new_page()
    # a page that says what is to be mended is answered with 400, which is no fault of it
    page.on("console", lambda said: None if "400" in said.text else wrong.append((page.url, said.text)))
    page.on("pageerror", lambda error: wrong.append((page.url, str(error))))
    return page


def follow(page, selector):
    """Click, and wait for the page that it leads to; a click alone can end where there is no document at all."""
    with page.expect_navigation():
        page.click(selector)


def test_every_page_of_a_patient(chromium, served, made_session):
    address, looking = served["address"], Looking(served["language"])
    with chromium.new_context(locale=served["language"]) as context:
        page = watched(context, looking.wrong)
        page.goto(f"{address}/sign-in")
        looking.at(page, "sign-in")
        page.goto(f"{address}/invitation/{served['invitation']}")
        looking.at(page, "invitation")
        follow(page, "button[value=yes]")
        looking.at(page, "password")
        page.fill("#passphrase", "four green boats swim")
        follow(page, "button[type=submit]")
        looking.at(page, "no-plan")
        page.goto(f"{address}/send")
        looking.at(page, "closed")
    with chromium.new_context(locale=served["language"]) as context:
        context.add_cookies([{"name": "imu_rom", "value": served["token"], "url": address}])
        page = watched(context, looking.wrong)
        for path in ("today", "today/sensors", "diary/morning", "my-data", "my-data/delete", "consent", "send"):
            page.goto(f"{address}/{path}")
            looking.at(page, path.replace("/", "-"))
        page.set_input_files("#files", {"name": "a.csv", "mimeType": "text/csv", "buffer": b"time,a\n" * 1000})
        page.click("main button[type=submit]")
        # the script sends it and then leads on
        page.wait_for_url("**/sent/*")
        looking.at(page, "waiting")
        recording_id = page.url.rsplit("/", 1)[1]
        make_usable(served["service"], recording_id, made_session)
        # and asks until it was looked at
        page.wait_for_selector("#state[data-state=usable]")
        looking.at(page, "usable")
        page.goto(f"{page.url}/signs")
        follow(page, "main button[type=submit]")
        looking.at(page, "signs")
        page.check("input[value='calf swelling']")
        follow(page, "main button[type=submit]")
        looking.at(page, "urgent")
        follow(page, "a.button.second")
        page.locator("input[name=pain_during]").nth(6).check(force=True)
        looking.at(page, "answers")
        follow(page, "main button[type=submit]")
        looking.at(page, "diary")
        for path in ("today", "history", f"history/{recording_id}", f"history/{recording_id}/withdraw"):
            page.goto(f"{address}/{path}")
            looking.at(page, f"later-{path.replace('/', '-').replace(recording_id, 'session')}")
    assert looking.wrong == []


def test_all_of_it_works_without_a_script(chromium, served):
    address = served["address"]
    with chromium.new_context(java_script_enabled=False) as context:
        context.add_cookies([{"name": "imu_rom", "value": served["token"], "url": address}])
        context.set_default_timeout(90_000)
        page = context.new_page()
        page.goto(f"{address}/send")
        page.set_input_files("#files", {"name": "b.csv", "mimeType": "text/csv", "buffer": b"time,b\n"})
        follow(page, "main button[type=submit]")
        assert "/sent/" in page.url
        # a link in the place of the script that waits
        follow(page, "main a[href^='/sent/']")
        follow(page, "main a[href$='/signs']")
        page.check("input[name=none]")
        follow(page, "main button[type=submit]")
        page.locator("input[name=pain_before]").nth(2).check(force=True)
        follow(page, "main button[type=submit]")
        assert page.url.endswith("/diary?saved=yes")
