import sys
import threading
import time
from pathlib import Path

import pytest
from sqlalchemy import func, insert, select
from sqlalchemy.dialects import postgresql

from imu_rom.clinic import jobs
from imu_rom.clinic.database import BUSY_TIMEOUT_MS, open_database
from imu_rom.clinic.schema import consents
from imu_rom.clinic.schema import jobs as table

sys.path.insert(0, str(Path(__file__).parent))
from clinic_rows import add_clinic, add_patient, add_recording

NOW_MS = 1_796_025_600_000


@pytest.fixture
def patient_id(database):
    with database.writing() as connection:
        return add_patient(connection, add_clinic(connection))[0]


def added(database, patient_id, count=1, kind="analyse", now_ms=NOW_MS):
    with database.writing() as connection:
        recordings = [add_recording(connection, patient_id) for _ in range(count)]
        return [jobs.add(connection, now_ms, kind, patient_id, each) for each in recordings]


def claimed(database, now_ms=NOW_MS):
    with database.writing(alone=False) as connection:
        return jobs.claim(connection, now_ms)


def states(database):
    with database.reading() as connection:
        asked = select(table.c.state, func.count()).group_by(table.c.state)
        return dict(connection.execute(asked).all())


def test_four_claimers_of_three_hundred_jobs_take_each_once(database, database_url, patient_id):
    ids = added(database, patient_id, 300)
    taken, failed = [[] for _ in range(4)], []
    begin = threading.Barrier(4, timeout=60)

    def work(number):
        own = open_database(database_url)
        try:
            begin.wait()
            while True:
                with own.writing(alone=False) as connection:
                    job = jobs.claim(connection, NOW_MS)
                if job is None:
                    return
                taken[number].append(job.job_id)
                with own.writing() as connection:
                    jobs.finish(connection, NOW_MS, job)
        except Exception as error:  # noqa: BLE001  shown below
            failed.append(error)
        finally:
            own.close()

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(timeout=120)
    assert failed == []
    everything = [each for own in taken for each in own]
    assert len(everything) == 300
    assert set(everything) == set(ids)
    assert states(database) == {"done": 300}


def test_claiming_does_not_wait_for_another_claim_on_postgresql(database, database_url, patient_id):
    if database.is_sqlite:
        pytest.skip("SQLite lets in one writer at a time")
    first, second = added(database, patient_id, 2)
    other = open_database(database_url)
    with database.writing(alone=False) as connection:
        assert jobs.claim(connection, NOW_MS).job_id == min(first, second)
        began = time.monotonic()
        with other.writing(alone=False) as beside:
            assert jobs.claim(beside, NOW_MS).job_id == max(first, second)
        # one that waited would wait for this thread, and be refused after this time at the earliest
        assert time.monotonic() - began < BUSY_TIMEOUT_MS / 1000
    other.close()


def test_the_oldest_goes_first_and_analysing_again_lets_all_others_go_first(database, patient_id):
    (again,) = added(database, patient_id, kind="reanalyse", now_ms=NOW_MS - 1000)
    (late,) = added(database, patient_id, now_ms=NOW_MS)
    (early,) = added(database, patient_id, now_ms=NOW_MS - 500)
    assert [claimed(database).job_id for _ in range(3)] == [early, late, again]
    assert claimed(database) is None


def test_one_that_waits_is_not_added_twice_and_one_that_runs_is(database, patient_id):
    with database.writing() as connection:
        assert jobs.add(connection, NOW_MS, "course", patient_id) is not None
        assert jobs.add(connection, NOW_MS, "course", patient_id) is None
        recording = add_recording(connection, patient_id)
        assert jobs.add(connection, NOW_MS, "analyse", patient_id, recording) is not None
    claimed(database)
    claimed(database)
    with database.writing() as connection:
        # what came after it was claimed, it may not have seen
        assert jobs.add(connection, NOW_MS, "course", patient_id) is not None
        assert jobs.waiting(connection) == 3


def test_a_killed_workers_job_is_claimed_again_when_its_lease_runs_out(database, patient_id):
    added(database, patient_id)
    dead = claimed(database)
    assert claimed(database, NOW_MS + jobs.LEASE_MS - 1) is None
    living = claimed(database, NOW_MS + jobs.LEASE_MS)
    assert living.job_id == dead.job_id
    assert living.attempts == 2
    for does in (jobs.renew, jobs.finish):
        with pytest.raises(jobs.LostLeaseError), database.writing() as connection:
            does(connection, NOW_MS, dead)
    with pytest.raises(jobs.LostLeaseError), database.writing() as connection:
        jobs.fail(connection, NOW_MS, dead, "it died", most_attempts=3)
    with database.writing() as connection:
        jobs.finish(connection, NOW_MS, living)
    assert states(database) == {"done": 1}


def consented(database, patient_id, consent_id, withdrawn_at_ms):
    with database.writing() as connection:
        connection.execute(
            insert(consents).values(
                id=consent_id,
                patient_id=patient_id,
                text_version="1",
                text_sha256="0" * 64,
                language="en",
                given_at_ms=NOW_MS,
                withdrawn_at_ms=withdrawn_at_ms,
            )
        )


def test_nothing_is_analysed_after_consent_was_taken_back_until_it_is_given_again(database, patient_id):
    consented(database, patient_id, "first", NOW_MS)
    first, again = *added(database, patient_id), *added(database, patient_id, kind="reanalyse")
    with database.writing() as connection:
        course = jobs.add(connection, NOW_MS, "course", patient_id)
        # another's job does not wait for that
        other = add_patient(connection, add_clinic(connection))[0]
    (theirs,) = added(database, other, now_ms=NOW_MS + 1)
    # what is taken back later counts no more in the course
    assert claimed(database, NOW_MS + 1).job_id == course
    assert claimed(database, NOW_MS + 1).job_id == theirs
    assert claimed(database, NOW_MS + 1) is None
    consented(database, patient_id, "second", None)
    assert [claimed(database, NOW_MS + 1).job_id for _ in range(2)] == [first, again]


def test_a_renewed_lease_holds(database, patient_id):
    added(database, patient_id)
    job = claimed(database)
    with database.writing() as connection:
        jobs.renew(connection, NOW_MS + 20_000, job)
    assert claimed(database, NOW_MS + 20_000 + jobs.LEASE_MS - 1) is None
    assert claimed(database, NOW_MS + 20_000 + jobs.LEASE_MS) is not None


def test_failing_is_tried_again_after_longer_and_longer_and_then_given_up(database, patient_id):
    added(database, patient_id)
    now_ms, pauses = NOW_MS, []
    for attempt in range(1, 4):
        job = claimed(database, now_ms)
        assert job.attempts == attempt
        with database.writing() as connection:
            assert jobs.fail(connection, now_ms, job, "it ran out of memory", most_attempts=3) == (attempt == 3)
        with database.reading() as connection:
            pauses.append(connection.scalar(select(table.c.run_after_ms)) - now_ms)
            (kept,) = jobs.jobs_of(connection, patient_id)
        assert kept.why == "it ran out of memory"
        assert claimed(database, now_ms) is None
        now_ms += pauses[-1]
    assert pauses[:2] == [5_000, 20_000]
    assert states(database) == {"given_up": 1}
    assert claimed(database, now_ms + 10**9) is None


def test_what_was_put_back_has_lost_no_attempt(database, patient_id):
    added(database, patient_id)
    with database.writing() as connection:
        jobs.put_back(connection, NOW_MS, jobs.claim(connection, NOW_MS), pause_ms=1000)
    assert claimed(database, NOW_MS + 999) is None
    assert claimed(database, NOW_MS + 1000).attempts == 1


def test_a_clock_that_was_set_back_keeps_no_job_waiting(database, patient_id):
    added(database, patient_id, now_ms=NOW_MS)
    job = claimed(database)
    # the worker is killed, and the clock set back by a day
    earlier_ms = NOW_MS - 86_400_000
    again = claimed(database, earlier_ms)
    assert again.job_id == job.job_id
    with database.writing() as connection:
        jobs.fail(connection, NOW_MS, again, "it failed", most_attempts=5)
    assert claimed(database, earlier_ms).job_id == job.job_id
    # and a lease that is true now is nobody else's
    assert claimed(database, earlier_ms + 1) is None


def test_a_job_whose_workers_vanish_lets_others_go_first(database, patient_id):
    (first,) = added(database, patient_id, now_ms=NOW_MS)
    claimed(database)
    later_ms = NOW_MS + jobs.LEASE_MS
    assert claimed(database, later_ms).job_id == first
    (second,) = added(database, patient_id, now_ms=later_ms - 1)
    assert claimed(database, later_ms + jobs.LEASE_MS).job_id == second


def test_skip_locked_stands_in_the_statement_for_postgresql(database, patient_id, monkeypatch):
    said = []
    with database.writing() as connection:
        monkeypatch.setattr(
            connection,
            "execute",
            lambda statement: said.append(statement) or connection.exec_driver_sql("SELECT 1 WHERE 1 = 0"),
        )
        assert jobs.claim(connection, NOW_MS) is None
    text = str(said[0].compile(dialect=postgresql.dialect()))
    assert text.startswith("UPDATE jobs")
    assert "FOR UPDATE SKIP LOCKED" in text
    assert "RETURNING" in text
