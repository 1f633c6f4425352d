"""The clinician's pages in Chromium: nothing that axe finds at two widths, and marks made in a report are sent."""

import json
import os
import shutil
import sys
from datetime import date
from pathlib import Path

import pytest

from imu_rom.clinic import accounts, clinics, patients, plans, sign_ins
from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.database import new_id
from imu_rom.clinic.marks import marks_of
from imu_rom.clinic.results import add_result
from imu_rom.clinic.schema import diary_versions, recordings
from imu_rom.clinic.service import open_service
from imu_rom.clinic.serving import listen
from imu_rom.clinic.web.application import create_application
from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import write_result
from imu_rom.report.charted import SCRIPT_GOES_HERE
from imu_rom.report.page import page_content, page_text

sys.path.insert(0, str(Path(__file__).parents[1]))
from page_widths import width_beyond
from served_application import answering

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, these tests fail too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]
PLAN = (Path(__file__).parents[3] / "sample_recordings" / "course" / "plan.toml").read_text()
WIDE, NARROW = 1280, 768


@pytest.fixture(scope="module")
def listening():
    with listen("127.0.0.1", 0) as taken:
        yield taken


@pytest.fixture(scope="module")
def address(listening):
    return f"http://127.0.0.1:{listening.getsockname()[1]}"


@pytest.fixture(scope="module")
def served(listening, address, tmp_path_factory, make_session):
    """A service on a port, with one patient, one session and a red flag; gives it and what its pages are called."""
    environ = {"IMU_ROM_PUBLIC_URL": address}
    service = open_service(read_configuration(tmp_path_factory.mktemp("clinic") / "home", environ), SystemClock())
    paths = filled(service, make_session())
    with answering(create_application(service), listening):
        yield service, paths
    service.database.close()


def filled(service, session):
    now_ms, document = service.clock.now_ms(), result_document(session)
    traces = [each.trace for each in session.exercises]
    report = page_text(page_content(document, traces), SCRIPT_GOES_HERE)
    files = {
        "result.json": service.files.put(write_result(document)),
        "report.html": service.files.put(report.encode()),
    }
    recording_id = new_id()
    with service.database.writing() as connection:
        clinic = clinics.add_clinic(connection, now_ms, name="Park (invented)", phone="+43 1 5550100", time_zone="UTC")
        clinician = accounts.add_clinician(
            connection, now_ms, clinic_id=clinic.clinic_id, sign_in_name="one@park.example"
        )
        patient = patients.add_patient(
            connection, now_ms, clinic_id=clinic.clinic_id, actor_id=None, label="Invented one", language="en"
        )
        accounts.add_patient_account(connection, now_ms, patient, actor_id=None)
        plan = plans.add_plan(
            connection,
            now_ms,
            clinic_id=clinic.clinic_id,
            patient_id=patient.patient_id,
            author_id=clinician.user_id,
            toml=PLAN,
            applies_from=date(2026, 11, 30),
            reason="first",
            based_on=None,
        )
        connection.execute(
            recordings.insert().values(
                id=recording_id,
                patient_id=patient.patient_id,
                content_sha256=new_id() * 2,
                side="left",
                exercise="session",
                state="usable",
                received_at_ms=now_ms,
            )
        )
        add_result(
            connection,
            now_ms,
            recording_id,
            program_version="0.1.0",
            plan_version_id=plan.plan_version_id,
            mark_version_id=None,
            files=files,
        )
        connection.execute(
            diary_versions.insert().values(
                id=new_id(),
                patient_id=patient.patient_id,
                entry=new_id(),
                version=1,
                day="2026-12-01",
                fields_json=json.dumps({"red_flag": "fever", "pain_during": "7", "note": "a long walk"}),
                red_flag=True,
                created_at_ms=now_ms,
            )
        )
        token = sign_ins.start_session(connection, now_ms, clinician.user_id, service.configuration.limits).token
    own, session_path = f"/patients/{patient.patient_id}", f"/recordings/{recording_id}"
    return {
        "token": token,
        "recording_id": recording_id,
        "session": session_path,
        "pages": ["/patients", "/patients/new", "/week", "/account", session_path, f"{session_path}/report"]
        + [f"{own}{each}" for each in ("", "/decision", "/plan", "/plan/text", "/history", "/account", "/files")],
        "wrong_plan": f"{own}/plan",
    }


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def opened(browser, address, served):
    """Function that gives a page of a signed-in clinician, whose console must stay empty."""
    contexts, said = [], []

    def opens(width):
        context = browser.new_context(viewport={"width": width, "height": 900})
        contexts.append(context)
        context.add_cookies([{"name": "imu_rom", "value": served[1]["token"], "url": address}])
        context.set_default_timeout(90_000)
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text) if _is_wrong(message) else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        return page

    yield opens
    for each in contexts:
        each.close()
    assert said == []


def _is_wrong(message):
    """Errors and warnings, but for the browser's note that a form was answered by 400."""
    return message.type in {"error", "warning"} and "status of 400" not in message.text


def faults(page):
    from axe_playwright_python.sync_playwright import Axe

    # what passes is counted, not listed mark by mark
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert len(found["passes"]) > 5
    return [(each["id"], [node["target"] for node in each["nodes"]]) for each in found["violations"]]


def test_axe_finds_nothing_and_nothing_is_cut_off(opened, served, address):
    page = opened(WIDE)
    for path in served[1]["pages"]:
        assert page.goto(f"{address}{path}").status == 200
        if path.endswith("/report"):
            page.wait_for_selector("#angle-1[data-drawn=true]")
        assert faults(page) == [], path
        for width in (WIDE, NARROW):
            page.set_viewport_size({"width": width, "height": 900})
            assert width_beyond(page, width) == 0, path
    # an invitation's link, which is shown this once, can be read on a phone
    page.goto(f"{address}/patients/new")
    page.get_by_label("The clinic's own name").fill("Another one")
    page.get_by_role("button", name="Make the invitation").click()
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.locator("pre.link").evaluate("each => each.scrollWidth - each.clientWidth") == 0
    assert faults(page) == []


def test_a_plan_that_cannot_be_kept_is_said_and_stays_in_the_form(opened, served, address):
    page = opened(WIDE)
    page.goto(f"{address}{served[1]['wrong_plan']}?stage=1")
    page.get_by_label("Sets", exact=True).fill("many")
    page.get_by_label("Reason").fill("more")
    with page.expect_navigation():
        page.get_by_role("button", name="Keep as a new version").click()
    assert "field stage.exercise.sets" in page.get_by_role("alert").inner_text()
    assert page.get_by_label("Sets", exact=True).input_value() == "many"
    assert faults(page) == []


def test_marks_made_in_the_report_are_sent_to_the_service(opened, served, address):
    service, paths = served
    page = opened(WIDE)
    page.goto(f"{address}{paths['session']}/report")
    page.wait_for_selector("#angle-1[data-drawn=true]")
    assert "imu-rom analyse" not in page.locator("#marking-section").inner_text()
    page.fill("#mark-reason", "a stumble")
    page.fill("#mark-by", "clinician-1")
    page.click("#after-1")
    page.click("#strike-1")
    page.click("#mark-save")
    page.wait_for_url("**/recordings/*?told=marked")
    assert "The marks are kept" in page.get_by_role("status").inner_text()
    with service.database.reading() as connection:
        (kept,) = marks_of(connection, paths["recording_id"])
    (mark,) = json.loads(kept.marks_json)["marks"]
    assert (mark["action"], mark["reason"], mark["by"]) == ("strike", "a stumble", "clinician-1")
