"""Days of the person's calendar: midnight, time zones, daylight saving."""

from datetime import UTC, date, datetime, time, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.days import day_of, day_of_note, local_time
from imu_rom.dose.plan import Plan, Stage

STAGE = Stage("early", ())
PLAIN = Plan("Heel", "achilles insertion", (STAGE,), "early")
BERLIN = Plan(
    "Heel", "achilles insertion", (STAGE,), "early", time_zone="Europe/Berlin", day_starts_at=time(3), patient="P-1"
)


@pytest.mark.parametrize(
    ("moment", "plan", "day"),
    [
        # the evening before, where the plan says when the day starts
        ("2026-12-02T00:40:00+01:00", BERLIN, date(2026, 12, 1)),
        ("2026-12-02T02:59:59+01:00", BERLIN, date(2026, 12, 1)),
        ("2026-12-02T03:00:00+01:00", BERLIN, date(2026, 12, 2)),
        # midnight where it does not
        ("2026-12-02T00:40:00+01:00", PLAIN, date(2026, 12, 2)),
        # the clock of the zone, whatever offset the file has: 23:30 in London is half past midnight in Berlin
        ("2026-12-01T22:30:00+00:00", BERLIN, date(2026, 12, 1)),
        ("2026-12-02T02:30:00+00:00", BERLIN, date(2026, 12, 2)),
        # without a zone the file's own offset is local time
        ("2026-12-01T20:00:00-08:00", PLAIN, date(2026, 12, 1)),
        # the night of 25 October 2026, when clocks go back from 3:00 to 2:00 in Berlin: both 2:30 are before 3:00
        ("2026-10-25T00:30:00+00:00", BERLIN, date(2026, 10, 24)),
        ("2026-10-25T01:30:00+00:00", BERLIN, date(2026, 10, 24)),
        ("2026-10-25T02:00:00+00:00", BERLIN, date(2026, 10, 25)),
        # the night of 28 March 2027, when they go forward from 2:00 to 3:00: there is no 2:30
        ("2027-03-28T00:59:59+00:00", BERLIN, date(2027, 3, 27)),
        ("2027-03-28T01:00:00+00:00", BERLIN, date(2027, 3, 28)),
    ],
)
def test_a_moment_belongs_to_a_day_of_the_person(moment, plan, day):
    assert day_of(datetime.fromisoformat(moment), plan) == day


def test_local_time_follows_daylight_saving():
    winter, summer = datetime(2026, 12, 1, 7, tzinfo=UTC), datetime(2026, 7, 1, 7, tzinfo=UTC)
    assert local_time(winter, BERLIN).hour == 8
    assert local_time(summer, BERLIN).hour == 9
    assert local_time(winter, PLAIN) == winter


MOMENTS = st.integers(0, 2 * 366 * 86400).map(lambda each: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=each))


@given(MOMENTS, st.integers(-12, 14))
def test_the_offset_in_which_a_file_says_it_changes_nothing_where_the_zone_is_known(instant, hours):
    elsewhere = instant.astimezone(timezone(timedelta(hours=hours)))
    assert day_of(elsewhere, BERLIN) == day_of(instant, BERLIN)


@given(MOMENTS, st.timedeltas(timedelta(0), timedelta(days=2)))
def test_later_moments_never_belong_to_earlier_days(first, later):
    assert day_of(first, BERLIN) <= day_of(first + later, BERLIN)


def test_a_note_by_the_clock_on_the_wall():
    assert day_of_note(date(2026, 12, 2), time(0, 30), BERLIN) == date(2026, 12, 1)
    assert day_of_note(date(2026, 12, 2), time(3), BERLIN) == date(2026, 12, 2)
    assert day_of_note(date(2026, 12, 2), None, BERLIN) == date(2026, 12, 2)
    assert day_of_note(date(2026, 12, 2), time(0, 30), PLAIN) == date(2026, 12, 2)
