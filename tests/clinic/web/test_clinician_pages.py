"""The clinician's pages: who needs a look first, reviewing, deciding, plans, marks, accounts, exports."""

import base64
import hashlib
import io
import json
import re
import zipfile
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import insert, select, update

from imu_rom.clinic import audit, decisions, exports, marks, messages, patients, plans, reviews
from imu_rom.clinic.database import new_id
from imu_rom.clinic.diary import add_line
from imu_rom.clinic.patients import read_patient
from imu_rom.clinic.plan_fields import stage_fields
from imu_rom.clinic.results import add_result, newest_result
from imu_rom.clinic.schema import clinics, diary_versions, jobs, recordings
from imu_rom.clinic.web import routes
from imu_rom.exchange.result import read_result
from imu_rom.report.charted import SCRIPT_GOES_HERE

SAMPLES = Path(__file__).parents[3] / "sample_recordings"
PLAN = (SAMPLES / "course" / "plan.toml").read_text()
RESULT = min((SAMPLES / "course" / "results").rglob("result.json"))


@pytest.fixture
def write(service, people):
    """Function that writes something about the patient, as the clinician."""

    def wrote(what, **words):
        whose = {
            "clinic_id": people.clinic.clinic_id,
            "patient_id": people.patient.patient_id,
            "author_id": people.clinician_account.user_id,
        }
        with service.database.writing() as connection:
            return what(connection, service.clock.now_ms(), **(whose | words))

    return wrote


@pytest.fixture
def ask(service):
    """Function that reads something."""

    def asked(what, *words):
        with service.database.reading() as connection:
            return what(connection, *words)

    return asked


@pytest.fixture
def plan(write):
    return write(plans.add_plan, toml=PLAN, applies_from=date(2026, 11, 30), reason="first", based_on=None)


@pytest.fixture
def note(service, people):
    """Function that notes a line in the patient's diary."""

    def noted(**fields):
        with service.database.writing() as connection:
            connection.execute(
                insert(diary_versions).values(
                    id=new_id(),
                    patient_id=people.patient.patient_id,
                    entry=new_id(),
                    version=1,
                    day="2026-11-30",
                    fields_json=json.dumps(fields),
                    red_flag="red_flag" in fields,
                    created_at_ms=service.clock.now_ms(),
                )
            )

    return noted


@pytest.fixture
def session(service, people, plan):
    """A session with a result whose report is a stand-in."""
    recording_id, now_ms = new_id(), service.clock.now_ms()
    report = f"<!DOCTYPE html><html><body><main>the report<script>{SCRIPT_GOES_HERE}</script></main></body></html>"
    files = {
        "result.json": service.files.put(RESULT.read_bytes()),
        "report.html": service.files.put(report.encode()),
    }
    with service.database.writing() as connection:
        connection.execute(
            insert(recordings).values(
                id=recording_id,
                patient_id=people.patient.patient_id,
                content_sha256=new_id() * 2,
                side="left",
                exercise="floorraise",
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
        audit.record(
            connection,
            now_ms,
            clinic_id=people.clinic.clinic_id,
            actor_id=None,
            action="result kept",
            object_kind="recording",
            object_id=recording_id,
        )
    return recording_id


@pytest.fixture
def overview(people):
    return f"/patients/{people.patient.patient_id}"


def chosen(page):
    return re.findall(r'name="patient" value="([^"]+)"', page.text)


def test_list_says_who_needs_a_look_first_and_why(clinician, people, note, service, said):
    with service.database.writing() as connection:
        patients.add_patient(
            connection, 0, clinic_id=people.clinic.clinic_id, actor_id=None, label="Quiet <b>one</b>", language="en"
        )
    note(red_flag="calf swelling")
    page = clinician.get("/patients")
    text = said(page)
    assert "Red flag on 2026-11-30: a swollen or painful calf." in text
    assert (
        text.index("Look at once") < text.index("of Park") < text.index("Nothing new") < text.index("Quiet <b>one</b>")
    )
    assert "<b>one</b>" not in page.text
    # what is urgent can't be filed without being opened
    assert chosen(page) == []


def test_reasons_lead_to_the_sessions_of_their_days(clinician, session, note, said, overview):
    note(pain_during="8")
    note(stiffness_min="90")
    for path in ("/patients", overview):
        page = clinician.get(path)
        assert f'href="/recordings/{session}">session of 2026-11-30</a>' in page.text
        assert "Stiff for 90 min in the morning after 2026-11-30, above 60 min." in said(page)


def test_patients_are_found_by_part_of_their_name(clinician, people, said, write):
    other = write(
        lambda connection, now_ms, **whose: patients.add_patient(
            connection, now_ms, clinic_id=whose["clinic_id"], actor_id=None, label="Ärmel <b>", language="en"
        )
    )
    both = clinician.get("/patients").text
    found = clinician.get("/patients?find=%C3%84RM").text
    assert [f"/patients/{each}" in both for each in (other.patient_id, people.patient.patient_id)] == [True, True]
    assert [f"/patients/{each}" in found for each in (other.patient_id, people.patient.patient_id)] == [True, False]
    nobody = clinician.get("/patients?find=%22><script>")
    assert "Nobody here is called so" in said(nobody)
    assert "<script>" not in nobody.text


def test_routine_sessions_are_reviewed_many_at_once(clinician, session, said, ask, people):
    page = clinician.get("/patients")
    assert "1 session filed unread, the newest received on 2026-11-30; nothing in it wants a look." in said(page)
    (value,) = chosen(page)
    assert "Filed as reviewed." in said(clinician.post("/patients/reviewed", {"patient": value}))
    assert ask(reviews.unread_recordings, [people.patient.patient_id]) == {}
    assert "Nobody was chosen." in said(clinician.post("/patients/reviewed"))


def test_what_came_in_meanwhile_is_not_filed_unseen(clinician, session, note, said, ask, people, overview):
    (value,) = chosen(clinician.get("/patients"))
    shown = re.search(r'name="shown" value="([^"]+)"', clinician.get(overview).text)[1]
    note(pain_during="8")
    assert "Something came in" in said(clinician.post("/patients/reviewed", {"patient": value}))
    assert "Something came in" in said(clinician.post(f"{overview}/reviewed", {"shown": shown}))
    # the list's own way never files what is urgent
    shown = re.search(r'name="shown" value="([^"]+)"', clinician.get(overview).text)[1]
    clinician.post("/patients/reviewed", {"patient": f"{people.patient.patient_id}:{shown}"})
    assert "Pain of 8 of 10" in said(clinician.get(overview))
    answer = said(clinician.post(f"{overview}/reviewed", {"shown": shown}))
    assert "Filed as reviewed." in answer
    assert "Pain of 8 of 10" not in answer
    assert ask(reviews.unread_recordings, [people.patient.patient_id]) == {}


def test_a_message_reaches_the_patients_list_and_an_empty_one_nobody(clinician, overview, said, ask, people):
    assert "1 to 4000 letters" in said(clinician.post(f"{overview}/messages", {"text": " "}))
    page = clinician.post(f"{overview}/messages", {"text": "Keep to the <i>floor</i>."})
    assert "Keep to the <i>floor</i>." in said(page)
    assert "<i>" not in page.text
    assert "not read yet" in said(page)
    (kept,) = ask(messages.messages_of, people.patient.patient_id)
    assert kept.author_id == people.clinician_account.user_id


def test_somebody_is_invited_and_the_link_opens(clinician, nobody, said, ask, people):
    page = clinician.post("/patients/new", {"label": "New one", "language": "de"})
    path = re.search(r"http://\S+?(/invitation/[^<\s]+)", page.text)[1]
    assert nobody.get(path).status_code == 200
    assert "has not opened the invitation yet" in said(clinician.get("/patients"))
    made = next(each for each in ask(patients.list_patients, people.clinic.clinic_id) if each.label == "New one")
    again = clinician.post(f"/patients/{made.patient_id}/invitation")
    assert nobody.get(path).status_code == 404
    assert nobody.get(re.search(r"(/invitation/[^<\s]+)", again.text)[1]).status_code == 200


def test_nobody_is_invited_or_added_while_the_phone_number_is_missing(clinician, service, said, ask, people):
    with service.database.writing() as connection:
        connection.execute(update(clinics).values(phone=None))
    assert "nobody can be invited" in said(clinician.get("/patients"))
    page = clinician.post("/patients/new", {"label": "New one", "language": "en"})
    assert page.status_code == 400
    assert "phone number is missing" in said(page)
    assert [each.label for each in ask(patients.list_patients, people.clinic.clinic_id)] == ["of Park"]


def test_a_patient_is_put_aside_and_taken_back(clinician, overview, said):
    assert "Put aside." in said(clinician.post(f"{overview}/standing", {"change": "retire"}))
    assert "of Park" not in said(clinician.get("/patients"))
    assert "of Park" in said(clinician.get("/patients/retired"))
    assert "was put aside" in said(clinician.get(overview))
    clinician.post(f"{overview}/standing", {"change": "reinstate"})
    clinician.post(f"{overview}/standing", {"change": "ask deletion"})
    assert "asked on 2026-11-30 that everything be deleted" in said(clinician.get("/patients"))
    assert clinician.post(f"{overview}/standing", {"change": "delete at once"}).status_code == 404


def test_a_decision_is_proposed_for_the_day_after_when_todays_session_was_sent(
    clinician, overview, plan, service, people
):
    asked = 'name="applies_from" value="{}"'
    assert asked.format("2026-11-30") in clinician.get(f"{overview}/decision").text
    with service.database.writing() as connection:
        values = {"side": "left", "exercise": "session", "content_sha256": "0" * 64, "state": "waiting"}
        values |= {"patient_id": people.patient.patient_id, "received_at_ms": service.clock.now_ms()}
        connection.execute(insert(recordings).values(id=new_id(), **values))
    assert asked.format("2026-12-01") in clinician.get(f"{overview}/decision").text


def test_a_decision_is_kept_with_its_reason_and_enters_the_plan(clinician, overview, plan, said, ask, people):
    page = clinician.get(f"{overview}/decision")
    assert "Progress : to +5 deg" in said(page)
    form = {
        "choice": "progress:to +5 deg",
        "applies_from": "2026-12-02",
        "reason": "calm for a week",
        "based_on": plan.plan_version_id,
    }
    assert "The reason must have" not in said(page)
    page = clinician.post(f"{overview}/decision", form | {"reason": " "})
    assert page.status_code == 400
    assert "the reason must have 1 to 2000 letters" in said(page)
    assert 'value="progress:to +5 deg" required checked' in page.text
    assert "Choose progress, stay or step back." in said(clinician.post(f"{overview}/decision", form | {"choice": ""}))
    assert "a day such as" in said(clinician.post(f"{overview}/decision", form | {"applies_from": "soon"}))
    assert ask(decisions.decisions_of, people.patient.patient_id) == ()
    assert "Decided and kept." in said(clinician.post(f"{overview}/decision", form))
    (kept,) = ask(decisions.decisions_of, people.patient.patient_id)
    assert (kept.decision, kept.stage_to, kept.reason) == ("progress", "to +5 deg", "calm for a week")
    newest = ask(plans.newest_plan, people.patient.patient_id)
    assert newest.plan.stage_on(date(2026, 12, 2)).name == "to +5 deg"
    # sent twice, it is not decided twice
    assert "changed by somebody else meanwhile" in said(clinician.post(f"{overview}/decision", form))
    told = said(clinician.get(f"{overview}/history"))
    assert "Progress: to +5 deg" in told
    assert "Version 2 , applies from 2026-12-02" in told
    change = said(clinician.get(f"{overview}/plan/{newest.plan_version_id}"))
    assert '+ why = "calm for a week"' in change


def form_of(toml, number, **changes):
    form = stage_fields(toml, number)
    fields = [*form.head, *form.criteria, *(each for _, own in form.exercises for each in own)]
    kept = {each.name: each.value for each in fields if each.field.kind != "yes" or each.value}
    return kept | {"stage": str(number), "applies_from": "2026-12-01", "reason": "more"} | changes


def test_the_plans_form_keeps_a_version_or_says_where_it_is_wrong(clinician, overview, plan, said, ask, people):
    page = clinician.get(f"{overview}/plan?stage=1")
    assert 'name="exercise.0.sets" value="2"' in page.text
    based = {"based_on": plan.plan_version_id}
    page = clinician.post(f"{overview}/plan", form_of(PLAN, 1, **based) | {"exercise.0.sets": "many"})
    assert page.status_code == 400
    assert re.search(r"plan.toml:\d+:\d+: field stage.exercise.sets: must be .*, got 'many'", said(page))
    # the line that is meant stands there, and what was typed is still in the form
    assert 'sets = "many"' in said(page)
    assert 'name="exercise.0.sets" value="many"' in page.text
    sent = form_of(PLAN, 1, **based) | {"exercise.0.sets": "3"}
    del sent["criteria.no_rise_week_on_week"]
    assert "A new version of the plan is kept." in said(clinician.post(f"{overview}/plan", sent))
    newest = ask(plans.newest_plan, people.patient.patient_id)
    assert newest.applies_from == date(2026, 12, 1)
    assert newest.plan.stages[1].exercises[0].sets == 3
    assert not newest.plan.stages[1].criteria.no_rise_week_on_week
    assert newest.plan.stages[0] == plan.plan.stages[0]
    assert "changed by somebody else meanwhile" in said(clinician.post(f"{overview}/plan", sent))


def test_the_plans_text_is_checked_like_the_form(clinician, overview, plan, said, ask, people):
    assert "[plan]" in said(clinician.get(f"{overview}/plan/text"))
    sent = {
        "toml": PLAN.replace("sets = 2", "sets = 0", 1).replace("\n", "\r\n"),
        "applies_from": "2026-12-01",
        "reason": "typed",
        "based_on": plan.plan_version_id,
    }
    page = clinician.post(f"{overview}/plan/text", sent)
    assert page.status_code == 400
    line = 1 + next(i for i, each in enumerate(PLAN.split("\n")) if each.startswith("sets = 2"))
    assert f"plan.toml:{line}:" in said(page)
    assert "sets = 0" in page.text
    assert "must be valid TOML" in said(clinician.post(f"{overview}/plan/text", sent | {"toml": "[plan"}))
    good = sent | {"toml": PLAN.replace("repetitions = 10", "repetitions = 12").replace("\n", "\r\n")}
    assert "A new version" in said(clinician.post(f"{overview}/plan/text", good))
    newest = ask(plans.newest_plan, people.patient.patient_id)
    assert "\r" not in newest.toml
    assert newest.plan.stages[0].exercises[0].repetitions == 12


def test_a_first_plan_begins_with_a_published_programme(clinician, overview, said, ask, people):
    assert "First plan" in said(clinician.get(f"{overview}/plan"))
    asked = {"programme": "alfredson-1998", "side": "left", "start": "2026-12-07"}
    page = clinician.get(f"{overview}/plan/text", params=asked)
    text = re.search(r"(?s)<textarea[^>]*name=\"toml\"[^>]*>\n(.*?)</textarea>", page.text)[1]
    text = (
        text.replace("&#34;", '"').replace("&gt;", ">").replace("&lt;", "<").replace("&#39;", "'").replace("&amp;", "&")
    )
    assert people.patient.pseudonym in text
    sent = {"toml": text, "applies_from": "2026-12-07", "reason": "begins", "based_on": ""}
    assert "A new version" in said(clinician.post(f"{overview}/plan/text", sent))
    newest = ask(plans.newest_plan, people.patient.patient_id)
    assert newest.version == 1
    assert newest.plan.patient == people.patient.pseudonym
    wrong = asked | {"programme": "nothing-1900"}
    assert clinician.get(f"{overview}/plan/text", params=wrong).status_code in {200, 400}


def test_repetitions_are_struck_by_form_and_the_old_result_stays(clinician, session, said, ask, service):
    path = f"/recordings/{session}"
    page = clinician.get(path)
    assert "Strike in" in said(page)
    places = marks.strikes_of(read_result(RESULT))
    sent = {"strike": [places[0].words, places[4].words], "reason": "stumbled", "based_on": "0"}
    assert "nothing was chosen" in said(clinician.post(f"{path}/marks", {"based_on": "0"}))
    assert "a mark must have a reason" in said(clinician.post(f"{path}/marks", sent | {"reason": ""}))
    assert "The marks are kept" in said(clinician.post(f"{path}/marks", sent))
    (kept,) = ask(marks.marks_of, session)
    assert [each["action"] for each in json.loads(kept.marks_json)["marks"]] == ["strike", "strike"]
    with service.database.reading() as connection:
        asked = connection.execute(select(jobs.c.kind).where(jobs.c.recording_id == session)).scalars().all()
    assert asked == ["analyse"]
    text = said(clinician.get(path))
    assert "Being analysed." in text
    assert "Result 1 , which counts" in text
    assert "somebody else meanwhile" in said(clinician.post(f"{path}/marks", sent))


def test_how_files_are_read_is_said_once_or_refused_at_its_field(clinician, session, overview, said, service, people):
    with service.database.writing() as connection:
        why = {"state": "unusable", "reason_code": "left-open", "reason": "a.csv: no unit; add --gyroscope-unit deg/s."}
        connection.execute(update(recordings).where(recordings.c.id == session).values(**why))
    path = f"{overview}/files"
    told = said(clinician.get(f"/recordings/{session}"))
    # the sentence as it is, and where to answer it
    assert "a.csv: no unit; add --gyroscope-unit deg/s." in told
    assert path in clinician.get(f"/recordings/{session}").text
    assert "a.csv: no unit" in said(clinician.get(path))
    refused = clinician.post(path, {"based_on": "0", "gyroscope_unit": "furlong", "columns": "time=1"})
    assert refused.status_code == 400
    assert "furlong" in said(refused)
    assert "time=1" in refused.text
    kept = clinician.post(path, {"based_on": "0", "gyroscope_unit": "deg/s"})
    assert "How the files are read is kept" in said(kept)
    assert "Version 1" in said(kept)
    with service.database.reading() as connection:
        found = connection.scalars(select(jobs.c.recording_id).where(jobs.c.kind == "analyse")).all()
    assert session in found
    assert "somebody else" in said(clinician.post(path, {"based_on": "0", "gyroscope_unit": "rad/s"}))


def test_a_file_of_marks_is_taken_and_one_of_another_recording_is_not(clinician, session, said, ask):
    path = f"/recordings/{session}"
    document = read_result(RESULT)
    by = {"reason": "a pause", "by": "clinician-1", "at": "2026-11-30T09:00:00+01:00"}
    text = marks.written_marks(document, (), [], [marks.joins_of(document)[0].words], **by)

    def send(content):
        files = {"file": ("marks.json", content.encode(), "application/json")}
        return said(clinician.ask("POST", f"{path}/marks", data={"based_on": "0"}, files=files))

    other = json.loads(text) | {"recording_sha256": "0" * 64}
    assert "the marks are for another recording" in send(json.dumps(other))
    assert "is no JSON" in send("{")
    assert ask(marks.marks_of, session) == ()
    assert "The marks are kept" in send(text)
    # the report's page sends the same as a field
    assert "The marks are kept" in said(clinician.post(f"{path}/marks", {"marks": text, "based_on": "1"}))
    assert len(ask(marks.marks_of, session)) == 2


def test_what_the_diary_says_later_is_on_the_sessions_page_and_an_older_report_says_so(
    service, people, clinician, session, said
):
    settled = "This report is no longer made anew: what was written in the diary since is on the session's page ."
    days = [f"2026-11-{day}T18:00+01:00" for day in (20, 21, 22, 23)]
    with service.database.writing() as connection:
        row = connection.execute(select(recordings).where(recordings.c.id == session)).one()._asdict()
        connection.execute(update(recordings).where(recordings.c.id == session).values(made_at=days[0]))
        told = {"pain_during": "6", "pain_next_morning": "4"}
        patient = read_patient(connection, people.clinic.clinic_id, people.patient.patient_id)
        writer = people.patient_account.user_id
        add_line(connection, service.clock.now_ms(), patient, writer, day=date(2026, 11, 20), fields=told)
        # what was told when it was sent, on a later day
        sign = {"fields": {"red_flag": "pop"}, "recording_id": session}
        add_line(connection, service.clock.now_ms(), patient, writer, day=date(2026, 11, 22), **sign)
    page = said(clinician.get(f"/recordings/{session}"))
    assert "2026-11-20 6 4 " in page
    assert "2026-11-22 Red flag: a sudden pop" in page
    # of the newest three it is made anew with each line
    assert settled not in said(clinician.get(f"/recordings/{session}/report"))
    with service.database.writing() as connection:
        result = newest_result(connection, session)
        for day in days[1:]:
            later = {**row, "id": new_id(), "content_sha256": new_id() * 2, "made_at": day}
            connection.execute(insert(recordings).values(**later))
            words = {"program_version": "0", "plan_version_id": result.plan_version_id, "mark_version_id": None}
            add_result(connection, service.clock.now_ms(), later["id"], files=result.files, **words)
        whose = {"clinic_id": people.clinic.clinic_id, "actor_id": None}
        done = {"action": "result kept", "object_kind": "recording", "object_id": later["id"]}
        audit.record(connection, service.clock.now_ms(), **whose, **done)
    assert settled in said(clinician.get(f"/recordings/{session}/report"))
    assert settled not in said(clinician.get(f"/recordings/{later['id']}/report"))
    assert "Nothing was noted for that day." in said(clinician.get(f"/recordings/{later['id']}"))


def test_the_report_runs_its_own_scripts_alone_and_leads_back(clinician, session, said):
    page = clinician.get(f"/recordings/{session}/report")
    assert "Back to this session of of Park" in said(page)
    policy = page.headers["content-security-policy"]
    allowed = re.findall(r"'((?:sha256|nonce)-[^']+)'", policy)
    assert len(allowed) == 2
    (own,) = re.findall(r"(?s)<script>(.*?)</script>", page.text)
    digest = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
    (nonce,) = re.findall(r'<script nonce="([^"]+)"', page.text)
    assert set(allowed) == {f"sha256-{digest}", f"nonce-{nonce}"}
    assert "'unsafe-inline'" not in re.search(r"script-src ([^;]*);", policy)[1]
    assert len(page.content) > 1_000_000
    assert clinician.get(f"/recordings/{session}/report?result=2").status_code == 404
    assert "Filed as reviewed." in said(clinician.post(f"/recordings/{session}/reviewed"))


@pytest.fixture
def noted_session(session, note):
    note(exercise="floorraise", side="left", done="yes", pain_during="2", note="at the lake with Robin")
    return session


def test_exports_are_kept_and_de_identified_ones_hold_no_words(clinician, noted_session, overview, said, ask, people):
    assert "Choose what" in said(clinician.post(f"{overview}/exports", {"form": "everything"}))
    for form in ("tables, de-identified", "course"):
        assert "The export is kept." in said(clinician.post(f"{overview}/exports", {"form": form}))
    kept = {each.form: each for each in ask(exports.exports_of, people.patient.patient_id)}
    assert set(kept) == {"tables, de-identified", "course"}

    def holds(form):
        answer = clinician.get(f"{overview}/exports/{kept[form].export_id}")
        assert "of Park" not in answer.headers["content-disposition"]
        archive = zipfile.ZipFile(io.BytesIO(answer.content))
        return {name: archive.read(name) for name in archive.namelist()}

    whole, plain = holds("course"), b"".join(holds("tables, de-identified").values())
    assert "plans/0001.toml" in whole
    assert b"Robin" in whole["diary.csv"]
    assert b"Robin" not in plain
    assert b"2026-11-30" not in plain
    assert b"of Park" not in plain + b"".join(whole.values())


def test_the_week_sums_up_what_came_in_and_was_done(clinician, session, overview, said):
    clinician.post(f"{overview}/messages", {"text": "hello"})
    text = said(clinician.get("/week"))
    assert "Week of 2026-11-30 to 2026-12-06" in text
    assert "1 session of 1 patient came in; no decision about a stage." in text
    assert "of Park 1 0 of 7 1 plan version, 1 message Routine, filed unread" in text
    before = said(clinician.get("/week?of=2026-11-26"))
    assert "Week of 2026-11-23 to 2026-11-29" in before
    assert "0 sessions of 0 patients came in" in before
    # no week that is still to come
    assert "Week of 2026-11-30" in said(clinician.get("/week?of=2031-01-01"))


def clinician_routes():
    return [each for each in routes.ROUTES if each.who == "clinician"]


def test_others_find_none_of_a_clinics_pages(
    clinician, patient, nobody, signed_in, strangers, session, plan, overview, people, ask
):
    other = signed_in(strangers.clinician_account)
    clinician.post(f"{overview}/exports", {"form": "course"})
    (export,) = ask(exports.exports_of, people.patient.patient_id)
    ids = {
        "patient_id": people.patient.patient_id,
        "recording_id": session,
        "plan_version_id": plan.plan_version_id,
        "export_id": export.export_id,
    }
    looked = 0
    for each in clinician_routes():
        path = each.path.format(**ids)
        assert nobody.ask(each.method, path, follow=False).status_code == 303, path
        assert patient.ask(each.method, path).status_code == 404, path
        if "{" in each.path:
            assert other.ask(each.method, path).status_code == 404, path
        if each.method == "POST":
            foreign = {"origin": "https://elsewhere.example", "sec-fetch-site": "cross-site"}
            assert clinician.ask("POST", path, headers=foreign).status_code == 403, path
        elif not each.path.endswith("/course"):
            assert clinician.get(path).status_code == 200, path
        looked += 1
    assert looked >= 28
    assert "of Park" not in other.get("/patients").text


def test_signing_out_everywhere_ends_all_sessions(signed_in, people, said):
    one, other = signed_in(people.clinician_account), signed_in(people.clinician_account)
    one.post("/sign-out", {"where": "everywhere"})
    for browser in (one, other):
        assert browser.get("/patients", follow=False).status_code == 303
