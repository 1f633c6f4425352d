"""Which day, session, stage and plan a result belongs to."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.course.folder import read_course
from imu_rom.course.placing import placed_results
from imu_rom.course.plans import read_plans
from imu_rom.course.recorded import result_summary
from imu_rom.course.store import StoredFile, StoredResult
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError

ZONE = '\ntime_zone = "Europe/Berlin"\nday_starts_at = 03:00:00\n'


@pytest.fixture
def with_plan(course_folder):
    """Course folder, and a function that adds to its [plan]."""
    folder, put = course_folder

    def change(added):
        plan = folder / "plan.toml"
        plan.write_text(plan.read_text().replace('patient = "P-0017"', f'patient = "P-0017"{added}'))

    return folder, put, change


def sessions(folder):
    return [
        (each.day.isoformat(), each.session.split()[-1], each.started_at.hour) for each in read_course(folder).recorded
    ]


def test_a_session_after_midnight_belongs_to_the_evening_before(with_plan):
    folder, put, change = with_plan
    put("a", "2026-12-01T18:00:00+01:00")
    put("b", "2026-12-02T00:30:00+01:00")
    put("c", "2026-12-02T03:00:00+01:00")
    assert sessions(folder) == [("2026-12-01", "1", 18), ("2026-12-02", "1", 0), ("2026-12-02", "2", 3)]
    change(ZONE)
    assert sessions(folder) == [("2026-12-01", "1", 18), ("2026-12-01", "2", 0), ("2026-12-02", "1", 3)]


def test_times_are_those_of_the_persons_zone_also_when_clocks_change(with_plan):
    folder, put, change = with_plan
    change(ZONE)
    # 7 in the morning of Berlin before and after 28 March 2027, and the same instant as a file elsewhere has it
    put("winter", "2027-03-27T06:00:00Z")
    put("summer", "2027-03-28T05:00:00Z")
    put("away", "2027-03-29T00:00:00-05:00")
    assert sessions(folder) == [("2027-03-27", "1", 7), ("2027-03-28", "1", 7), ("2027-03-29", "1", 7)]


@pytest.mark.parametrize(
    ("first", "second", "number", "hours"),
    [
        # spring: an hour is left out of the night of Berlin, and twenty minutes stay twenty minutes
        ("2027-03-28T00:50:00Z", "2027-03-28T01:10:00Z", "1", [1, 3]),
        # autumn: the hour from 2 comes twice, and an hour and more between two stays that
        ("2026-10-25T00:50:00Z", "2026-10-25T02:05:00Z", "2", [2, 3]),
        ("2026-10-25T00:50:00Z", "2026-10-25T01:10:00Z", "1", [2, 2]),
        # the same clock time twice is no repeat
        ("2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z", "1", [2, 2]),
    ],
)
def test_sessions_of_nights_when_clocks_change_keep_their_order_and_their_breaks(
    with_plan, first, second, number, hours
):
    folder, put, change = with_plan
    change(ZONE.replace("03:00", "04:00"))
    plan = folder / "plan.toml"
    plan.write_text(plan.read_text().replace("from = 2026-12-01", "from = 2026-10-01"))
    put("b", second)
    put("a", first)
    course = read_course(folder)
    assert [each.source for each in course.recorded] == ["results/a/result.json", "results/b/result.json"]
    found = sessions(folder)
    assert [each[0] for each in found] == [course.recorded[0].day.isoformat()] * 2
    assert [each[1] for each in found] == ["1", number]
    assert [each[2] for each in found] == hours
    answer = follow_up(course.plans.plans, course.recorded, (), date(2027, 3, 29))
    assert (answer.repeated_recordings, sum(each.repetitions_recorded for each in answer.doses)) == (0, 90)


@pytest.mark.parametrize(
    ("second", "number"),
    # the recording lasts six minutes: an hour from its end lies after 19:00
    [("18:10", "1"), ("19:05", "1"), ("19:10", "2"), ("21:00", "2")],
)
def test_recordings_of_one_sitting_are_one_session(with_plan, second, number):
    folder, put, _ = with_plan
    put("a", "2026-12-01T18:00:00+01:00")
    put("b", f"2026-12-01T{second}:00+01:00")
    assert [each[1] for each in sessions(folder)] == ["1", number]


def test_a_plan_that_was_changed_in_the_middle_applies_from_its_day(with_plan):
    folder, put, _ = with_plan
    (folder / "plans").mkdir()
    (folder / "plan.toml").rename(folder / "plans" / "1.toml")
    text = (folder / "plans" / "1.toml").read_text()
    later = text.replace('patient = "P-0017"', 'patient = "P-0017"\nfrom = 2026-12-03').replace("sets = 3", "sets = 4")
    (folder / "plans" / "2.toml").write_text(later)
    put("before", "2026-12-02T23:59:00+01:00")
    put("after", "2026-12-03T00:01:00+01:00")
    assert [(each.day, each.exercise.sets) for each in read_course(folder).recorded] == [
        (date(2026, 12, 2), 3),
        (date(2026, 12, 3), 4),
    ]
    assert [each.plan.from_date for each in read_plans(folder).versions] == [None, date(2026, 12, 3)]
    (folder / "plans" / "3.toml").write_text(later)
    with pytest.raises(CourseError, match=r"plans/2\.toml and plans/3\.toml, which both apply from 2026-12-03"):
        read_plans(folder)
    (folder / "plans" / "3.toml").write_text(later.replace("2026-12-03", "2026-12-09").replace("P-0017", "P-0018"))
    with pytest.raises(CourseError, match=r"for one person and one tendon, got .* for 'P-0017' and 'P-0018'"):
        read_plans(folder)


@given(st.permutations(range(6)), st.integers(0, 6))
def test_the_order_of_results_does_not_matter_and_a_second_copy_changes_nothing(
    plain_result, plans_of_course, order, copies
):
    from dataclasses import replace

    moments = [f"2026-12-0{1 + number // 2}T{8 + 10 * (number % 2):02}:00:00+01:00" for number in range(6)]
    stored = []
    for number, moment in enumerate(moments):
        document = replace(
            plain_result,
            recording=replace(plain_result.recording, recorded_at=moment, label=f"run-{number}"),
            inputs=(replace(plain_result.inputs[0], sha256=f"{number}" * 64),),
        )
        stored.append(StoredResult(StoredFile(1, 1, f"{number}"), result_summary(document)))
    expected, none = placed_results({f"{number}": each for number, each in enumerate(stored)}, plans_of_course)
    assert none == ()
    assert len(expected) == 6
    mixed = {f"{number}": stored[place] for number, place in enumerate(order)}
    mixed |= {f"copy {number}": stored[number] for number in range(copies)}
    found, skipped = placed_results(mixed, plans_of_course)
    assert [replace(each, source="") for each in found] == [replace(each, source="") for each in expected]
    assert len(skipped) == copies
