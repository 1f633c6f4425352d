"""What clinicians keep: plans and decisions by day, messages, reviews, marks; versions that nothing overwrites."""

import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import delete, insert, select

from imu_rom.clinic import audit
from imu_rom.clinic.accounts import add_clinician
from imu_rom.clinic.attention import patient_lines
from imu_rom.clinic.clinics import add_clinic
from imu_rom.clinic.database import new_id
from imu_rom.clinic.decisions import decide, decisions_of, stages_for
from imu_rom.clinic.marks import add_marks, joins_of, marks_of, strikes_of, written_marks
from imu_rom.clinic.messages import mark_read, messages_of, send_message
from imu_rom.clinic.patients import add_patient, retire_patient
from imu_rom.clinic.plan_changes import checked_plan
from imu_rom.clinic.plans import add_plan, in_effect, newest_plan, plan_version, plans_of, version_on
from imu_rom.clinic.reviews import review, unread_recordings
from imu_rom.clinic.schema import audit_entries, course_states, diary_versions, jobs, recordings
from imu_rom.dose.course_days import lay_out
from imu_rom.errors import ClinicError, PlanError, RecordingError
from imu_rom.exchange.result import read_result

SAMPLES = Path(__file__).parents[2] / "sample_recordings"
PLAN = (SAMPLES / "course" / "plan.toml").read_text()
RESULTS = sorted((SAMPLES / "course" / "results").rglob("result.json"))
DAY_MS = 86_400_000


@dataclass
class Made:
    """A clinic with a clinician and a patient, and what every write needs."""

    database: object
    clock: object
    clinic_id: str
    clinician_id: str
    patient: object

    @property
    def whose(self):
        return {"clinic_id": self.clinic_id, "patient_id": self.patient.patient_id, "author_id": self.clinician_id}

    def write(self, what, **words):
        with self.database.writing() as connection:
            return what(connection, self.clock.now_ms(), **self.whose, **words)

    def ask(self, what, *words, **named):
        with self.database.reading() as connection:
            return what(connection, *words, **named)

    def plan(self, day, toml=PLAN, reason="first plan", based_on=None):
        return self.write(add_plan, toml=toml, applies_from=day, reason=reason, based_on=based_on)

    def upload(self, state="usable", **values):
        recording_id = new_id()
        usual = {
            "id": recording_id,
            "patient_id": self.patient.patient_id,
            "content_sha256": new_id() * 2,
            "side": "left",
            "exercise": "halfdrop",
            "state": state,
            "received_at_ms": self.clock.now_ms(),
        }
        with self.database.writing() as connection:
            connection.execute(insert(recordings).values(usual | values))
        return recording_id

    def diary(self, day, **fields):
        with self.database.writing() as connection:
            connection.execute(
                insert(diary_versions).values(
                    id=new_id(),
                    patient_id=self.patient.patient_id,
                    entry=new_id(),
                    version=1,
                    day=day,
                    fields_json=json.dumps(fields),
                    red_flag="red_flag" in fields,
                    created_at_ms=self.clock.now_ms(),
                )
            )

    def line(self):
        (line,) = self.ask(patient_lines, self.clinic_id, self.clock.now_ms(), patient_id=self.patient.patient_id)
        return line

    def waiting(self):
        with self.database.reading() as connection:
            return connection.execute(select(jobs.c.kind, jobs.c.recording_id)).all()


@pytest.fixture
def made(database, clock):
    with database.writing() as connection:
        now_ms = clock.now_ms()
        clinic = add_clinic(connection, now_ms, name="Demo clinic", phone="+49 30 000000", time_zone="Europe/Berlin")
        clinician = add_clinician(connection, now_ms, clinic_id=clinic.clinic_id, sign_in_name="demo.one")
        patient = add_patient(
            connection, now_ms, clinic_id=clinic.clinic_id, actor_id=clinician.user_id, label="P one", language="en"
        )
    return Made(database, clock, clinic.clinic_id, clinician.user_id, patient)


def test_plan_versions_are_kept_and_the_later_written_counts(made):
    first = made.plan(date(2026, 11, 30))
    second = made.plan(date(2026, 12, 14), based_on=first.plan_version_id, reason="more load")
    third = made.plan(date(2026, 12, 7), based_on=second.plan_version_id, reason="that was wrong")
    versions = made.ask(plans_of, made.patient.patient_id)
    assert versions == (first, second, third)
    assert [each.version for each in versions] == [1, 2, 3]
    assert [each.plan.from_date for each in versions] == [each.applies_from for each in versions]
    assert made.ask(newest_plan, made.patient.patient_id) == third
    assert made.ask(plan_version, made.patient.patient_id, second.plan_version_id) == second
    assert made.ask(plan_version, "somebody else", second.plan_version_id) is None
    # the third takes the second's place, which was to begin later
    assert in_effect(versions) == (first, third)
    days = [date(2026, 11, 29), date(2026, 12, 6), date(2026, 12, 7), date(2026, 12, 20)]
    assert [version_on(versions, day) for day in days] == [None, first, third, third]
    # the library takes them as the versions of one course
    lay_out([each.plan for each in in_effect(versions)], [], [], date(2026, 12, 20))


def test_a_bad_plan_is_refused_with_its_place_and_nothing_is_kept(made):
    with pytest.raises(PlanError, match=r"plan.toml:\d+:\d+: field stage.exercise.sets"):
        made.plan(date(2026, 11, 30), PLAN.replace("sets = 2", "sets = 0", 1))
    assert made.ask(plans_of, made.patient.patient_id) == ()
    assert made.waiting() == []


def test_a_plan_of_another_tendon_or_person_is_refused(made):
    first = made.plan(date(2026, 11, 30))
    other = PLAN.replace("achilles insertion", "achilles midportion")
    with pytest.raises(PlanError, match="one tendon: tendon_site was 'achilles insertion'"):
        made.plan(date(2026, 12, 1), other, based_on=first.plan_version_id)
    with pytest.raises(PlanError, match="patient was 'P-0012', got 'P-0013'"):
        made.plan(date(2026, 12, 1), PLAN.replace("P-0012", "P-0013"), based_on=first.plan_version_id)


def test_two_clinicians_do_not_overwrite_each_other(made):
    first = made.plan(date(2026, 11, 30))
    made.plan(date(2026, 12, 1), based_on=first.plan_version_id)
    with pytest.raises(ClinicError, match="changed by somebody else meanwhile"):
        made.plan(date(2026, 12, 2), based_on=first.plan_version_id)
    with pytest.raises(ClinicError, match="changed by somebody else meanwhile"):
        made.plan(date(2026, 12, 2))


def test_a_plan_asks_for_the_recordings_of_its_days_anew(made):
    earlier = made.upload(recorded_at="2026-11-20T10:00:00+01:00", received_at_ms=made.clock.now_ms() - 9 * DAY_MS)
    later = made.upload()
    made.upload("withdrawn")
    made.plan(date(2026, 11, 30))
    assert sorted(made.waiting()) == sorted([("analyse", later), ("course", None)], key=str)
    assert ("analyse", earlier) not in made.waiting()


def test_every_write_leaves_an_entry_with_its_hash_and_the_chain_holds(made):
    first = made.plan(date(2026, 11, 30))
    message = made.write(send_message, text="Well done. Keep to the floor this week.")
    with made.database.reading() as connection:
        entries = connection.execute(select(audit_entries).order_by(audit_entries.c.number)).all()
        assert audit.verify(connection).broken is None
    ours = {each.object_id: each for each in entries}
    assert ours[first.plan_version_id].content_sha256 == first.sha256
    assert ours[first.plan_version_id].actor_id == made.clinician_id
    assert len(ours[message.message_id].content_sha256) == 64


def choose(made, decision, stage, day, **words):
    newest = made.ask(newest_plan, made.patient.patient_id)
    usual = {"reason": "criteria met", "criteria_json": "[]", "based_on": newest and newest.plan_version_id}
    return made.write(decide, decision=decision, stage_to=stage, applies_from=day, **(usual | words))


def test_progress_is_kept_and_entered_in_a_new_plan_version(made):
    first = made.plan(date(2026, 11, 30))
    made.clock.advance(days=1)
    done = choose(made, "progress", "to the own limit", date(2027, 2, 22), reason="all met,\nmornings calm")
    assert (done.stage_from, done.stage_to) == ("to +10 deg", "to the own limit")
    newest = made.ask(newest_plan, made.patient.patient_id)
    assert newest.plan_version_id == done.plan_version_id != first.plan_version_id
    assert newest.applies_from == date(2027, 2, 22)
    assert newest.plan.stage_on(date(2027, 2, 22)).name == "to the own limit"
    assert newest.plan.calendar[-1].why == "all met, mornings calm"
    assert made.ask(plans_of, made.patient.patient_id)[0] == first
    assert made.ask(decisions_of, made.patient.patient_id) == (done,)


def test_staying_changes_the_plan_only_where_it_would_go_on_by_itself(made):
    made.plan(date(2026, 11, 30))
    # the calendar goes on to +10 deg on 8 February: to stay means that this is taken out
    kept = choose(made, "stay", "to +5 deg", date(2027, 2, 1))
    assert kept.plan_version_id is not None
    newest = made.ask(newest_plan, made.patient.patient_id)
    assert newest.plan.stage_on(date(2027, 3, 1)).name == "to +5 deg"
    made.clock.advance(days=1)
    again = choose(made, "stay", "to +5 deg", date(2027, 2, 9))
    assert again.plan_version_id is None
    assert made.ask(newest_plan, made.patient.patient_id) == newest


def test_stepping_back_goes_to_an_earlier_stage_alone(made):
    made.plan(date(2026, 11, 30))
    with pytest.raises(ClinicError, match="the stage to step back to must be one of 'to \\+5 deg', 'floor level'"):
        choose(made, "step_back", "to the own limit", date(2027, 2, 22))
    done = choose(made, "step_back", "floor level", date(2027, 2, 22), reason="a flare")
    assert made.ask(newest_plan, made.patient.patient_id).plan.stage_on(date(2027, 2, 22)).name == "floor level"
    assert done.decision == "step_back"


def test_decisions_need_a_reason_the_newest_plan_and_a_day_it_holds(made):
    first = made.plan(date(2026, 11, 30))
    day = date(2027, 2, 22)
    with pytest.raises(ClinicError, match="reason"):
        choose(made, "progress", "to the own limit", day, reason="  ")
    with pytest.raises(ClinicError, match="applies from 2026-11-30, later than 2026-11-29"):
        choose(made, "stay", "floor level", date(2026, 11, 29))
    made.plan(date(2026, 12, 1), based_on=first.plan_version_id)
    with pytest.raises(ClinicError, match="somebody else"):
        choose(made, "progress", "to the own limit", day, based_on=first.plan_version_id)
    assert made.ask(decisions_of, made.patient.patient_id) == ()


def test_stages_for_each_decision_come_nearest_first():
    found = stages_for(checked_plan(PLAN), date(2027, 2, 22))
    assert found == {
        "progress": ("to the own limit",),
        "stay": ("to +10 deg",),
        "step_back": ("to +5 deg", "floor level"),
    }


def test_messages_are_read_once(made):
    made.write(send_message, text="first")
    made.clock.advance(minutes=1)
    made.write(send_message, text=" second\r\nline ")
    assert [each.text for each in made.ask(messages_of, made.patient.patient_id)] == ["second\nline", "first"]
    who = {"clinic_id": made.clinic_id, "patient_id": made.patient.patient_id, "reader_id": made.clinician_id}
    with made.database.writing() as connection:
        assert mark_read(connection, made.clock.now_ms(), **who) == 2
        assert mark_read(connection, made.clock.now_ms() + 5, **who) == 0
    assert {each.read_at_ms for each in made.ask(messages_of, made.patient.patient_id)} == {made.clock.now_ms()}
    with pytest.raises(ClinicError, match="1 to 4000"):
        made.write(send_message, text="  ")


def test_a_look_at_a_red_flag_ends_it_and_a_new_one_begins_it_again(made):
    assert made.line().level == "nothing"
    assert made.line().missing == ("not joined", "no plan")
    made.diary("2026-11-29", red_flag="pop;fever")
    made.diary("2026-11-30", pain_during="7")
    line = made.line()
    assert line.level == "at once"
    assert [each.kind for each in line.reasons] == ["red flag", "pain above the band"]
    made.write(review, seen=line.keys)
    assert made.line().reasons == ()
    made.diary("2026-11-30", red_flag="breathless")
    assert [each.words for each in made.line().reasons] == [("breathless",)]


def test_the_diary_is_read_again_only_where_no_course_has_seen_it(made):
    def course(made_at_ms, **facts):
        values = {"until": "2026-11-30", "stage": None, "stage_since": "2026-11-30", "sessions": [], "asked": []}
        values |= {"flares": [], "criteria_met": 0, "criteria_not_met": 0, "criteria_open": 0, **facts}
        with made.database.writing() as connection:
            connection.execute(delete(course_states))
            connection.execute(
                insert(course_states).values(
                    patient_id=made.patient.patient_id,
                    made_from_sha256="0",
                    program_version="0",
                    course_json="{}",
                    attention_json=json.dumps(values),
                    made_at_ms=made_at_ms,
                )
            )

    made.diary("2026-11-29", pain_during="7")
    (before,) = made.line().reasons
    course(made.clock.now_ms() + 2 * 3_600_000)
    assert made.line().reasons == ()
    course(made.clock.now_ms() + 1_000)
    assert made.line().reasons == (before,)
    stop = {"day": "2026-11-29", "what": "pain during", "value": 7.0, "bound": 5.0}
    course(made.clock.now_ms() + 2 * 3_600_000, stops=[stop])
    assert made.line().reasons == (before,)
    made.diary("2026-11-30", red_flag="pop")
    assert made.line().level == "at once"


def test_routine_sessions_are_filed_unread_until_somebody_looks(made):
    first, second = made.upload(), made.upload()
    made.upload("waiting")
    line = made.line()
    assert (line.level, set(line.unread), line.waiting) == ("routine", {first, second}, 1)
    other = new_id()
    made.write(review, recording_ids=[first, other])
    assert made.line().unread == (second,)
    assert made.ask(unread_recordings, [made.patient.patient_id]) == {
        made.patient.patient_id: ((second, made.clock.now_ms()),)
    }


def test_two_unreadable_uploads_want_a_look(made):
    made.upload("unusable", reason="no neutral pose was found")
    made.clock.advance(hours=1)
    made.upload("unusable", reason="the file is cut off")
    (reason,) = made.line().reasons
    assert (reason.kind, reason.words) == ("unreadable", ("the file is cut off",))


def test_a_given_up_analysis_is_told_and_one_under_way_is_not(made):
    recording_id = made.upload("waiting")

    def job(state, why):
        with made.database.writing() as connection:
            connection.execute(
                insert(jobs).values(
                    id=new_id(),
                    kind="analyse",
                    patient_id=made.patient.patient_id,
                    recording_id=recording_id,
                    state=state,
                    attempts=3,
                    run_after_ms=0,
                    why=why,
                    created_at_ms=made.clock.now_ms(),
                )
            )

    job("given_up", "it took longer than 10 minutes")
    assert [(each.kind, each.words) for each in made.line().reasons] == [
        ("not analysed", ("it took longer than 10 minutes",))
    ]
    job("waiting", None)
    assert made.line().reasons == ()
    assert made.line().waiting == 1


def test_the_list_has_one_clinic_and_no_retired_patients(made):
    with made.database.writing() as connection:
        now_ms = made.clock.now_ms()
        other = add_clinic(connection, now_ms, name="Other clinic", phone=None, time_zone="UTC")
        add_patient(connection, now_ms, clinic_id=other.clinic_id, actor_id=None, label="theirs", language="en")
        retired = add_patient(connection, now_ms, clinic_id=made.clinic_id, actor_id=None, label="gone", language="en")
        retire_patient(connection, now_ms, retired, actor_id=None)
    lines = made.ask(patient_lines, made.clinic_id, made.clock.now_ms())
    assert [each.label for each in lines] == ["P one"]


def test_marks_are_versioned_and_ask_for_an_analysis(made):
    document = read_result(RESULTS[0])
    recording_id = made.upload()
    strikes = strikes_of(document)
    by = {"reason": "a stumble", "by": "clinician-1", "at": "2026-11-30T09:00:00+01:00"}
    text = written_marks(document, (), [strikes[3].words], [each.words for each in joins_of(document)[:1]], **by)
    about = {"recording_id": recording_id, "document": document}
    first = made.write(add_marks, marks_json=text, based_on=0, **about)
    assert [each["action"] for each in json.loads(text)["marks"]] == ["join", "strike"]
    assert made.ask(marks_of, recording_id) == (first,)
    assert made.waiting() == [("analyse", recording_id)]
    with pytest.raises(ClinicError, match="marked by somebody else"):
        made.write(add_marks, marks_json=text, based_on=0, **about)
    taken_back = written_marks(document, (), [], [], **by)
    second = made.write(add_marks, marks_json=taken_back, based_on=1, **about)
    assert second.version == 2
    assert json.loads(second.marks_json)["marks"] == []


def test_marks_of_another_recording_or_that_touch_nothing_are_refused(made):
    document, other = read_result(RESULTS[0]), read_result(RESULTS[-1])
    by = {"reason": "a stumble", "by": "clinician-1", "at": "2026-11-30T09:00:00+01:00"}
    about = {"recording_id": made.upload(), "document": document, "based_on": 0}
    theirs = written_marks(other, (), [strikes_of(other)[0].words], [], **by)
    with pytest.raises(RecordingError, match="the marks are for another recording"):
        made.write(add_marks, marks_json=theirs, **about)
    with pytest.raises(ClinicError, match=r"nothing to strike at '1.000:2.000'"):
        written_marks(document, (), ["1.000:2.000"], [], **by)
    with pytest.raises(ClinicError, match="a mark must have a reason"):
        written_marks(document, (), [strikes_of(document)[0].words], [], **(by | {"reason": " "}))
    mine = json.loads(written_marks(document, (), [strikes_of(document)[0].words], [], **by))
    mine["marks"][0] |= {"start_s": 0.0, "stop_s": 0.1}
    with pytest.raises(ClinicError, match=r"there is no repetition from 0 to 0.1 s"):
        made.write(add_marks, marks_json=json.dumps(mine), **about)
    with pytest.raises(RecordingError, match=r"marks.json:1:\d+: is no JSON"):
        made.write(add_marks, marks_json="{nothing", **about)
    assert made.waiting() == []
