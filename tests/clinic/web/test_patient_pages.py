"""The patient's side: today, sending, the diary, what was sent before, and what a patient may do about what is kept."""

import errno
import io
import json
import re
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import insert, update

from imu_rom.clinic import audit, checking, folder_files, kept_recordings, messages, storage_room, stored_files
from imu_rom.clinic.diary import add_line, list_lines
from imu_rom.clinic.patients import read_patient, retire_patient
from imu_rom.clinic.plans import add_plan, newest_plan
from imu_rom.clinic.results import add_result
from imu_rom.clinic.reviews import review
from imu_rom.clinic.schema import course_states, recordings
from imu_rom.errors import ClinicError

ROOT = Path(__file__).parents[3]
PLAN = (ROOT / "sample_recordings" / "plans" / "P-0001.toml").read_text("utf-8")
RESULT = min((ROOT / "sample_recordings" / "course" / "results").rglob("result.json"))
FIRST_DAY = date(2026, 11, 1)
TODAY = date(2026, 11, 30)


def dated(toml):
    return toml.replace("from = 2026-11-30", f"from = {FIRST_DAY}").replace(
        'patient = "P-0001"\n', f'patient = "P-0001"\nfrom = {FIRST_DAY}\n'
    )


def with_plan(service, people, toml=None):
    with service.database.writing() as connection:
        add_plan(
            connection,
            service.clock.now_ms(),
            clinic_id=people.clinic.clinic_id,
            patient_id=people.patient.patient_id,
            author_id=people.clinician_account.user_id,
            toml=dated(PLAN) if toml is None else toml,
            applies_from=FIRST_DAY,
            reason="first plan",
            based_on=None,
        )


@pytest.fixture
def planned(service, people, patient):
    """A browser of a patient who has a plan."""
    with_plan(service, people)
    return patient


def lines_of(service, people):
    with service.database.reading() as connection:
        return list_lines(connection, people.patient.patient_id)


def send(browser, content=b"time,a\n0,1\n", name="session.csv", **fields):
    values = {"side": "left", "exercise": "heeldrop", "day": TODAY.isoformat(), "time": "", **fields}
    return browser.ask("POST", "/send", data=values, files=[("files", (name, content))], follow=False)


def sent_by(service, people):
    with service.database.reading() as connection:
        return kept_recordings.list_recordings(connection, people.patient.patient_id)


def test_today_says_what_the_plan_asks_for(planned, said):
    told = said(planned.get("/today"))
    assert "Do it 15 times. That is one set. Do 3 sets." in told
    assert "How far to go: from 5 to 15 degrees." in told
    assert "Is something firm in reach of your hand?" in told
    assert "Stop if your pain goes above 5 of 10" in told
    assert "Nobody watches this page" in told
    assert "+43 1 555 0100" in told
    assert 'href="tel:+4315550100"' in planned.get("/today").text
    sensors = planned.get("/today/sensors")
    assert "shin bone" in said(sensors)
    assert "Count slowly to ten" in said(sensors)
    # taped, standing, going up on the toes
    assert sensors.text.count("<svg") == 3
    assert "A sensor is on the shin bone. A sensor is on the heel." in said(sensors)


def test_no_drawing_shows_a_movement_that_is_not_asked_for(service, people, patient):
    with_plan(service, people, dated(PLAN).replace('ement = "plantarflexion"', 'ement = "dorsiflexion"'))
    sensors = patient.get("/today/sensors").text
    assert sensors.count("<svg") == 2
    assert "Toes and shin come closer." in sensors
    assert "The heel comes up" not in sensors


def test_exercises_of_two_legs_each_have_their_own_taping(service, people, patient, said):
    toml = dated(PLAN)
    second = toml[toml.index("[[stage.exercise]]") :].replace('side = "left"', 'side = "right"')
    second = second.replace('name = "heeldrop"', 'name = "otherdrop"')
    with_plan(service, people, f"{toml}\n{second}")
    today = patient.get("/today").text
    assert re.findall(r'href="(/today/sensors[^"]*)"', today) == [f"/today/sensors?exercise={each}" for each in (1, 2)]
    for number, name, side in ((1, "heel", "left"), (2, "other", "right"), (9, "heel", "left"), ("x", "heel", "left")):
        page = said(patient.get(f"/today/sensors?exercise={number}"))
        assert f"{name}drop, {side} ankle" in page
        assert f"Your {side} leg, from its inner side." in page


def test_without_a_plan_there_is_nothing_to_do_and_nothing_to_send(patient, said):
    assert "There is no plan for today yet" in said(patient.get("/today"))
    assert patient.get("/today/sensors", follow=False).headers["location"] == "/today"
    assert "has not made your plan yet" in said(patient.get("/send"))


def test_what_people_write_is_text_and_nothing_else(service, people, patient):
    hostile = "<script>alert(1)</script>{{ 7*7 }}"
    quoted = hostile.replace('"', "'")
    toml = dated(PLAN).replace('name = "heeldrop"', f'name = "heeldrop"\nin_words = "{quoted}"')
    with_plan(service, people, toml)
    with service.database.writing() as connection:
        messages.send_message(
            connection,
            service.clock.now_ms(),
            clinic_id=people.clinic.clinic_id,
            patient_id=people.patient.patient_id,
            author_id=people.clinician_account.user_id,
            text=hostile,
        )
    patient.post("/diary/answers", {"day": TODAY.isoformat(), "note": hostile})
    for path in ("/today", "/diary", "/history", "/send"):
        text = patient.get(path).text
        assert "<script>alert" not in text
        if path != "/send":
            assert "&lt;script&gt;" in text
        assert "49" not in re.sub(r"\d{5,}", "", text) or "{{ 7*7 }}" in text


def test_a_message_stands_on_top_until_it_was_read(service, people, planned, said):
    with service.database.writing() as connection:
        messages.send_message(
            connection,
            service.clock.now_ms(),
            clinic_id=people.clinic.clinic_id,
            patient_id=people.patient.patient_id,
            author_id=people.clinician_account.user_id,
            text="Your last week looks good.",
        )
    assert "Your last week looks good." in said(planned.get("/today"))
    planned.post("/messages/read", follow=False)
    assert "Your last week looks good." not in said(planned.get("/today"))
    assert "Your last week looks good." in said(planned.get("/history"))


def test_a_recording_is_kept_once_however_often_it_is_sent(service, people, planned, said):
    first = send(planned)
    assert first.status_code == 303
    again = send(planned)
    assert again.headers["location"] == first.headers["location"] + "?again=yes"
    (kept,) = sent_by(service, people)
    assert (kept.side, kept.exercise, kept.recorded_at, kept.state) == ("left", "heeldrop", "2026-11-30", "waiting")
    page = planned.get(again.headers["location"])
    assert "You sent this before. It counts once." in said(page)
    assert "It has arrived" in said(page)
    assert planned.get(f"/sent/{kept.recording_id}/state").json() == {"state": "waiting"}


def test_what_is_missing_is_said_at_its_field_and_nothing_is_kept(service, people, planned, said):
    tomorrow = (TODAY + timedelta(days=1)).isoformat()
    answer = send(planned, side="", exercise="", day=tomorrow)
    assert answer.status_code == 400
    told = said(answer)
    assert "Please say which side it was." in told
    assert "Please say which exercise it was." in told
    assert "Please write a day that is not in the future." in told
    none = planned.ask("POST", "/send", data={"side": "left", "exercise": "heeldrop"}, follow=False)
    assert "Please choose a file first." in said(none)
    assert "We could not take these files" in said(send(planned, content=b""))
    assert sent_by(service, people) == ()


def test_too_many_uploads_in_an_hour_wait(service, people, planned, said):
    object.__setattr__(service.configuration.limits, "uploads_per_hour", 2)
    for number in range(2):
        assert send(planned, content=b"%d" % number).status_code == 303
    # said before the files are chosen; and where they are sent all the same, before they are read
    assert "You sent a lot within an hour" in said(planned.get("/send"))
    read = []

    async def content():
        read.append("a part")
        yield b"--a--"

    kind = {"content-type": "multipart/form-data; boundary=a"}
    refused = planned.ask("POST", "/send", content=content(), headers=kind)
    assert (refused.status_code, read) == (400, [])
    assert "You sent a lot within an hour" in said(refused)
    service.clock.advance(minutes=61)
    assert send(planned, content=b"3").status_code == 303
    assert len(sent_by(service, people)) == 3


def test_a_patient_has_so_much_room_to_the_byte_and_what_is_beyond_leaves_nothing(service, people, planned, said):
    object.__setattr__(service.configuration.limits, "patient_mib", 1)
    room = 1 << 20
    first, second = b"a" * 600_000, b"b" * (room - 600_000)
    assert send(planned, content=first).status_code == 303
    refused = send(planned, content=second + b"b")
    assert refused.status_code == 400
    assert "There is no more room for your recordings, so we kept nothing of this one." in said(refused)
    assert "Please call your clinic." in said(refused)
    assert len(list(service.files.names())) == len(sent_by(service, people)) == 1
    # just as much as there is goes in, and then not a byte more
    assert send(planned, content=second).status_code == 303
    assert send(planned, content=b"c").status_code == 400
    # what is there may be sent again, to say something else of it
    assert send(planned, content=first, side="right").status_code == 303
    assert {each.side for each in sent_by(service, people)} == {"left", "right"}
    # nobody else has less for it
    with service.database.reading() as connection:
        taken = storage_room.room_taken(connection, people.clinic.clinic_id)
    assert [(each.patient_id, each.size_bytes) for each in taken] == [(people.patient.patient_id, room)]
    assert any("less than a tenth of the room left" in each for each in checking.check(service).notes)


def test_a_full_disk_is_said_to_be_so(planned, monkeypatch, said):
    def put(self, content, *, largest_bytes=None):
        error = OSError(errno.ENOSPC, "No space left on device")
        raise stored_files.not_kept(error) from error

    monkeypatch.setattr(folder_files.FolderFiles, "put", put)
    answer = send(planned)
    assert answer.status_code == 507
    assert "There is no room for it just now" in said(answer)


def test_a_retired_patient_sends_nothing_more_and_reads_all(service, people, planned, said):
    with service.database.writing() as connection:
        retire_patient(connection, service.clock.now_ms(), people.patient, actor_id=None)
    closed = "Your clinic takes in nothing more from you. To ask why, call your clinic."
    for path in ("/send", "/today", "/diary"):
        page = planned.get(path)
        assert closed in said(page)
        # nothing is asked that nobody would see: whoever is put aside is on no list
        assert "/diary/signs" not in page.text
        assert "/diary/morning" not in page.text
    assert "Do it 15 times." not in said(planned.get("/today"))
    assert send(planned).status_code == 400
    sign, pain = {"sign": "fever"}, {"day": TODAY.isoformat(), "pain_during": "7"}
    for path, told in (("signs", sign), ("answers", pain), ("morning", pain | {"pain_next_morning": "7"})):
        assert planned.post(f"/diary/{path}", told).url.path == "/diary"
    assert planned.get("/today/sensors").url.path == "/today"
    assert lines_of(service, people) == ()
    with service.database.writing() as connection:
        aside = read_patient(connection, people.clinic.clinic_id, people.patient.patient_id)
        with pytest.raises(ClinicError, match="nothing more is taken in"):
            add_line(connection, 0, aside, people.patient_account.user_id, day=TODAY, fields={"red_flag": "fever"})
    assert planned.get("/history").status_code == 200


def test_a_sign_that_needs_help_comes_before_all_other_questions(service, people, planned, said):
    recording = send(planned).headers["location"]
    assert planned.get(f"{recording}/answers", follow=False).headers["location"] == f"{recording}/signs"
    assert planned.get("/diary/answers", follow=False).headers["location"] == "/diary/signs"
    answer = planned.post(f"{recording}/signs", {"sign": ["breathless", "fever"]})
    told = said(answer)
    # what to do and whom to call stand before anything else
    assert told.index("Call for help now") < told.index("+43 1 555 0100") < told.index("It is hard to breathe")
    assert 'href="tel:112"' in answer.text
    (line,) = lines_of(service, people)
    assert line.signs == ("breathless", "fever")
    assert line.recording_id == recording.removeprefix("/sent/")
    today = said(planned.get("/today"))
    assert today.index("Call for help now") < today.index("Your exercises today")
    go_on = re.search(r'href="(/diary/[0-9a-f]+/answers)"', answer.text)[1]
    planned.post(go_on, {"done": "part", "pain_during": "4"})
    (line,) = lines_of(service, people)
    # the same line, so that the sign is not lost, with its exercise known from the recording
    assert line.fields == {
        "red_flag": "breathless;fever",
        "done": "part",
        "pain_during": "4",
        "exercise": "heeldrop",
        "side": "left",
    }
    assert line.version == 2


def test_signs_must_be_answered_one_way_or_the_other(service, people, patient, said):
    assert "Please tick what is true" in said(patient.post("/diary/signs"))
    both = patient.post("/diary/signs", {"sign": "fever", "none": "yes"})
    assert both.status_code == 400
    assert 'value="fever" checked' in both.text
    assert patient.post("/diary/signs", {"none": "yes"}, follow=False).headers["location"] == (
        "/diary/answers?asked=yes"
    )
    assert patient.post("/diary/signs", {"sign": "made up"}).status_code == 400
    assert lines_of(service, people) == ()


def test_the_diary_is_what_a_course_reads(service, people, planned):
    from imu_rom.clinic.patient_folder import patient_records

    planned.post(
        "/diary/answers",
        {
            "day": "2026-11-29",
            "what": "heeldrop:left",
            "done": "yes",
            "pain_before": "1",
            "pain_during": "3",
            "pain_after": "2",
            "painkiller": "no",
            "other_load": "a long\nwalk",
            "note": ' =1+1; "quoted", ',
        },
    )
    with service.database.reading() as connection:
        (cells,) = patient_records(connection, people.patient.patient_id).diary
    assert cells == {
        "date": "2026-11-29",
        "exercise": "heeldrop",
        "side": "left",
        "done": "yes",
        "pain_before": "1",
        "pain_during": "3",
        "pain_after": "2",
        "painkiller": "no",
        "other_load": "a long walk",
        "note": '=1+1; "quoted",',
    }


@pytest.mark.parametrize(
    ("field", "value", "problem"),
    [
        ("pain_before", "11", "Please choose a number from 0 to 10."),
        ("pain_before", "3,5", "Please choose a number from 0 to 10."),
        ("note", "a" * 2001, "This is too long."),
        ("day", "2026-12-01", "Please write a day that is not in the future."),
        ("day", "yesterday", "Please write a day that is not in the future."),
        ("day", "1926-11-29", "Please write a day that is not in the future."),
        ("done", "", "Please answer at least one question."),
    ],
)
def test_a_wrong_answer_is_said_at_its_field(service, people, patient, said, field, value, problem):
    answer = patient.post("/diary/answers", {"day": TODAY.isoformat(), "done": "yes", field: value})
    assert answer.status_code == 400
    assert problem in said(answer)
    assert lines_of(service, people) == ()


def test_pain_above_five_is_to_stop_and_to_call(planned, said):
    planned.post("/diary/answers", {"day": TODAY.isoformat(), "pain_during": "5"})
    assert "went above 5" not in said(planned.get("/diary"))
    told = said(planned.post("/diary/answers", {"day": TODAY.isoformat(), "pain_during": "6"}))
    assert told.index("Your pain went above 5. Stop these exercises, and call your clinic") < told.index("Saved.")


def test_where_pain_says_to_stop_the_exercises_come_after_it_and_are_folded_away(planned, said):
    assert "I have asked, and I may go on." not in said(planned.get("/today"))
    planned.post("/diary/answers", {"day": TODAY.isoformat(), "pain_during": "6"})
    told = said(planned.get("/today"))
    order = ["Your pain went above 5.", "Your exercises today", "I have asked, and I may go on.", "Do it 15 times."]
    assert [told.index(each) for each in order] == sorted(told.index(each) for each in order)


def test_pain_of_the_next_morning_stops_as_well_though_it_is_a_line_of_yesterday(service, people, planned, said):
    yesterday = (TODAY - timedelta(days=1)).isoformat()
    told = said(planned.post("/diary/morning", {"day": yesterday, "pain_next_morning": "7"}))
    assert "Your pain went above 5." in told


def test_pain_told_days_later_is_answered_when_it_is_told_and_the_day_after(service, people, signed_in, said):
    with_plan(service, people)
    high = "Your pain went above 5."
    long_ago = (TODAY - timedelta(days=3)).isoformat()
    for path, told in (
        ("/diary/morning", {"day": long_ago, "pain_next_morning": "8"}),
        ("/diary/answers", {"day": (TODAY - timedelta(days=12)).isoformat(), "pain_during": "7"}),
    ):
        browser = signed_in(people.patient_account)
        assert high not in said(browser.get("/today"))
        assert high in said(browser.post(path, told))
        for days_later, there in ((0, True), (1, True), (2, False)):
            browser = signed_in(people.patient_account)
            for page in ("/today", "/today/sensors"):
                assert (high in said(browser.get(page))) == there, (path, days_later)
            service.clock.advance(days=1)


def test_a_sign_to_ask_about_first_stays_until_a_clinician_has_looked(service, people, signed_in, said):
    with_plan(service, people)
    signed_in(people.patient_account).post("/diary/signs", {"sign": "fluoroquinolone"})

    def told(days_later):
        service.clock.advance(days=days_later)
        return "Ask your clinic first" in said(signed_in(people.patient_account).get("/today"))

    assert told(0)
    assert told(6)
    with service.database.writing() as connection:
        whose = {"clinic_id": people.clinic.clinic_id, "patient_id": people.patient.patient_id}
        keys = {"author_id": people.clinician_account.user_id, "seen": [f"red flag:{TODAY}:fluoroquinolone"]}
        review(connection, service.clock.now_ms(), **whose, **keys)
    assert not told(0)
    signed_in(people.patient_account).post("/diary/signs", {"sign": "long stiffness"})
    assert told(14)
    # as long ago as red flags are acted on
    assert not told(1)


def test_no_page_says_to_go_on_where_the_diary_says_to_stop(service, people, planned, signed_in, said):
    before = (TODAY - timedelta(days=2)).isoformat()
    recording_id = send(planned, day=before).headers["location"].removeprefix("/sent/")
    stored = service.files.put(RESULT.read_bytes())
    with service.database.writing() as connection:
        connection.execute(update(recordings).where(recordings.c.id == recording_id).values(state="usable"))
        plan = newest_plan(connection, people.patient.patient_id)
        words = {"program_version": "0", "plan_version_id": plan.plan_version_id}
        now_ms = service.clock.now_ms()
        add_result(connection, now_ms, recording_id, mark_version_id=None, files={"result.json": stored}, **words)
        whose = {"clinic_id": people.clinic.clinic_id, "actor_id": None}
        kept = {"action": "result kept", "object_kind": "recording", "object_id": recording_id}
        audit.record(connection, now_ms, **whose, **kept)
        made = {"made_from_sha256": "", "program_version": "0", "course_json": "{}", "attention_json": "[]"}
        page = {"patient_id": people.patient.patient_id, "patient_page": b"To keep at home", "made_at_ms": now_ms}
        connection.execute(insert(course_states).values(**made, **page))
    held_back = "You wrote of a sign that needs help, or of pain above 5. Your clinic tells you how to go on."
    page = said(planned.get(f"/history/{recording_id}"))
    assert "What to keep" in page
    assert held_back not in page
    assert planned.get("/history/print").text == "To keep at home"
    # told when it was sent, two days after the session
    planned.post(f"/sent/{recording_id}/signs", {"sign": "calf swelling"})
    assert planned.get("/history/print").url.path == "/history"
    assert "/history/print" not in planned.get("/history").text
    page = said(planned.get(f"/history/{recording_id}"))
    assert page.index("Call your clinic now.") < page.index("Your exercises on")
    assert held_back in page
    assert "What to keep" not in page
    # the box goes, what was said of that day does not turn into "go on" by waiting
    service.clock.advance(days=5)
    later = said(signed_in(people.patient_account).get(f"/history/{recording_id}"))
    assert "Call your clinic now." not in later
    assert held_back in later


def test_the_next_morning_is_announced_and_not_asked_before(planned, said):
    planned.post("/diary/answers", {"day": TODAY.isoformat(), "done": "yes", "pain_during": "2"})
    told = said(planned.get("/diary"))
    assert "One question is left: how does it feel then?" in told
    assert "Answer it" not in told


def test_tomorrow_yesterdays_morning_is_open_until_it_is_told(service, people, signed_in, said):
    with_plan(service, people)
    signed_in(people.patient_account).post("/diary/answers", {"day": TODAY.isoformat(), "done": "yes"})
    service.clock.advance(days=1)
    browser = signed_in(people.patient_account)
    assert "One question is left" in said(browser.get("/today"))
    answer = browser.post("/diary/morning", {"day": "2026-11-30", "pain_next_morning": "3", "stiffness_min": "ten"})
    assert "Please write a number of minutes, such as 10." in said(answer)
    assert browser.post("/diary/morning", {"day": "2026-12-01", "pain_next_morning": "3"}).status_code == 400
    for pain, stiff in (("3", "10"), ("2", "")):
        browser.post("/diary/morning", {"day": "2026-11-30", "pain_next_morning": pain, "stiffness_min": stiff})
    assert "One question is left" not in said(browser.get("/today"))
    told = [each for each in lines_of(service, people) if "pain_next_morning" in each.fields]
    # changed, not told twice: two that differ would both be left out of the course
    assert [(each.fields, each.version) for each in told] == [({"pain_next_morning": "2"}, 2)]


def test_a_reminder_says_nothing_about_health(patient):
    answer = patient.get("/diary/reminder.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    text = answer.text
    assert text.startswith("BEGIN:VCALENDAR\r\n")
    assert "\r\nSUMMARY:A question from your clinic\r\n" in text
    # eight in the morning in Vienna
    assert "\r\nDTSTART:20261201T070000Z\r\n" in text
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "pain" not in text.lower().replace("/diary/morning", "")


def test_a_recording_can_be_taken_back_and_sent_again(service, people, planned, said):
    path = send(planned).headers["location"].replace("/sent/", "/history/")
    assert "Take this recording back?" in said(planned.get(f"{path}/withdraw"))
    planned.post(f"{path}/withdraw", follow=False)
    assert sent_by(service, people)[0].state == "withdrawn"
    assert "You took it back" in said(planned.get("/history"))
    assert send(planned).headers["location"].endswith("?again=yes")
    assert sent_by(service, people)[0].state == "waiting"


def test_everything_that_is_kept_can_be_taken_away(service, people, planned):
    send(planned, content=b"time,a\n0,1\n")
    planned.post("/diary/answers", {"day": TODAY.isoformat(), "done": "yes", "note": "only mine"})
    answer = planned.post("/my-data/copy")
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        (sent_name,) = (each for each in names if each.startswith("recordings/"))
        assert archive.read(sent_name) == b"time,a\n0,1\n"
        assert "plans/0001_from_2026-11-01.toml" in names
        assert b"only mine" in archive.read("diary.csv")
        consents = json.loads(archive.read("rows/consents.json"))
        everything = b"".join(archive.read(each) for each in names)
    assert [each["patient_id"] for each in consents] == [people.patient.patient_id]
    assert b"argon2" not in everything
    assert b"token" not in everything.replace(b"tokens", b"")


def test_deletion_is_asked_for_and_the_wish_taken_back(service, people, patient, said):
    def asked_at():
        with service.database.reading() as connection:
            patient_id = people.patient.patient_id
            return read_patient(connection, people.clinic.clinic_id, patient_id).deletion_asked_at_ms

    assert "Delete all that is kept of you?" in said(patient.get("/my-data/delete"))
    assert asked_at() is None
    patient.post("/my-data/delete", follow=False)
    assert asked_at() == service.clock.now_ms()
    assert "You asked on 30 November 2026" in said(patient.get("/my-data"))
    patient.post("/my-data/keep", follow=False)
    assert asked_at() is None


def test_the_language_is_the_patients_choice(patient, said):
    patient.post("/my-data/language", {"language": "de"}, follow=False)
    page = patient.get("/my-data")
    assert '<html lang="de">' in page.text
    assert "Meine Daten" in said(page)
    patient.post("/my-data/language", {"language": "../xx"}, follow=False)
    assert '<html lang="de">' in patient.get("/my-data").text


def test_signing_out_everywhere_ends_other_browsers_too(signed_in, people):
    one, other = signed_in(people.patient_account), signed_in(people.patient_account)
    one.post("/sign-out", {"where": "everywhere"}, follow=False)
    assert other.get("/today", follow=False).headers["location"].startswith("/sign-in")


def test_nothing_of_another_patient_can_be_reached(service, people, strangers, signed_in, planned):
    recording = send(planned).headers["location"]
    planned.post("/diary/signs", {"sign": "fever"})
    entry = lines_of(service, people)[0].entry
    history = recording.replace("/sent/", "/history/")
    paths = (
        recording,
        f"{recording}/state",
        f"{recording}/signs",
        f"{recording}/answers?asked=yes",
        history,
        f"{history}/withdraw",
        f"/diary/{entry}/urgent",
        f"/diary/{entry}/answers",
    )
    other = signed_in(strangers.patient_account)
    for path in paths:
        assert planned.get(path).status_code == 200, path
        assert other.get(path).status_code == 404, path
        assert other.get(path).text == other.get("/sent/" + "0" * 32).text
    for path in (f"{history}/withdraw", f"{recording}/signs", f"{recording}/answers", f"/diary/{entry}/answers"):
        assert other.post(path, {"done": "yes", "none": "yes"}).status_code == 404, path
    assert sent_by(service, people)[0].state == "waiting"
    assert len(lines_of(service, people)) == 1
