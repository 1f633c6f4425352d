"""Days of the person's calendar: midnight, time zones, daylight saving."""

import operator
from dataclasses import replace
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


CHANGES = [
    datetime(2026, 10, 25, 1, tzinfo=UTC),
    datetime(2027, 3, 28, 1, tzinfo=UTC),
    datetime(2026, 12, 1, tzinfo=UTC),
]
NEAR_CHANGES = st.builds(operator.add, st.sampled_from(CHANGES), st.timedeltas(timedelta(hours=-3), timedelta(hours=3)))


@given(
    NEAR_CHANGES, st.timedeltas(timedelta(0), timedelta(hours=4)), st.sampled_from(["Europe/Berlin", "Asia/Kolkata"])
)
def test_local_times_keep_instants_order_and_differences_when_clocks_change_too(first, later, zone):
    plan = replace(BERLIN, time_zone=zone)
    one, other = local_time(first, plan), local_time(first + later, plan)
    assert (one, other - one) == (first, later)
    assert (one < other) == (later > timedelta(0))


@pytest.mark.parametrize(
    ("moment", "zone", "clock"),
    [
        # Berlin goes back from 3:00 to 2:00: ten to three comes before ten past two
        ("2026-10-25T00:50:00Z", "Europe/Berlin", "2026-10-25T02:50:00+02:00"),
        ("2026-10-25T01:10:00Z", "Europe/Berlin", "2026-10-25T02:10:00+01:00"),
        ("2027-03-28T01:10:00Z", "Europe/Berlin", "2027-03-28T03:10:00+02:00"),
        # half an hour off: Kolkata all year, Adelaide with another hour in summer; Lord Howe changes by half an hour
        ("2026-12-01T21:29:59Z", "Asia/Kolkata", "2026-12-02T02:59:59+05:30"),
        ("2026-10-03T16:29:59Z", "Australia/Adelaide", "2026-10-04T01:59:59+09:30"),
        ("2026-10-03T16:30:00Z", "Australia/Adelaide", "2026-10-04T03:00:00+10:30"),
        ("2027-04-03T14:59:59Z", "Australia/Lord_Howe", "2027-04-04T01:59:59+11:00"),
        ("2027-04-03T15:00:00Z", "Australia/Lord_Howe", "2027-04-04T01:30:00+10:30"),
    ],
)
def test_the_clock_on_the_wall_in_nights_of_change_and_in_half_hour_zones(moment, zone, clock):
    plan = replace(BERLIN, time_zone=zone)
    found = local_time(datetime.fromisoformat(moment), plan)
    assert found.isoformat() == clock
    early = found.hour < 3
    assert day_of(datetime.fromisoformat(moment), plan) == found.date() - timedelta(days=early)


def test_a_note_by_the_clock_on_the_wall():
    assert day_of_note(date(2026, 12, 2), time(0, 30), BERLIN) == date(2026, 12, 1)
    assert day_of_note(date(2026, 12, 2), time(3), BERLIN) == date(2026, 12, 2)
    assert day_of_note(date(2026, 12, 2), None, BERLIN) == date(2026, 12, 2)
    assert day_of_note(date(2026, 12, 2), time(0, 30), PLAIN) == date(2026, 12, 2)
