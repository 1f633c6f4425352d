"""What sensors measured over a week, against what the plan asks of as many sessions."""

import math
from dataclasses import replace
from datetime import date

import pytest

from imu_rom.dose.exercise import CompressionThreshold
from imu_rom.dose.exposure_answer import AskedAngles
from imu_rom.dose.measured_weeks import measured_over

DAY = date(2026, 12, 1)


@pytest.fixture
def asked(daily):
    """Two sets that should each spend 20 to 60 s past 4 deg."""
    threshold = CompressionThreshold(4.0, "clinician")
    return replace(daily, sets=2, past_threshold_s_per_set=(20.0, 60.0), compression_threshold=threshold)


@pytest.mark.parametrize(
    ("past_s", "answer"),
    [
        ((80.0, 78.0, 82.0), "as prescribed"),
        ((20.0, 15.0, 25.0), "less"),
        ((140.0, 130.0, 150.0), "more"),
        ((40.0, 30.0, 50.0), "undecided"),
        ((80.0, 10.0, 200.0), "undecided"),
    ],
)
def test_the_time_is_compared_with_what_is_asked_of_the_recorded_sessions(asked, session_of, past_s, answer):
    recorded = [session_of(asked, DAY, hour, past_s=past_s) for hour in (8, 18)]
    (measured,) = measured_over(recorded)
    prescribed = measured.past_threshold_prescribed
    # two sessions of two sets
    assert (prescribed.low_s, prescribed.high_s, prescribed.derived) == (80.0, 240.0, False)
    assert prescribed.answer == answer


def test_runs_of_one_session_are_asked_once_and_what_asks_nothing_is_not_compared(asked, session_of):
    one = session_of(asked, DAY, 8, past_s=(40.0, 38.0, 42.0))
    other = replace(session_of(asked, DAY, 9, past_s=(40.0, 38.0, 42.0)), session=one.session)
    (measured,) = measured_over([one, other])
    assert (measured.past_threshold_prescribed.low_s, measured.sessions) == (40.0, 1)
    assert measured.past_threshold_prescribed.answer == "as prescribed"
    silent = replace(asked, past_threshold_s_per_set=None, start_deg=None)
    (measured,) = measured_over([session_of(silent, DAY, 8, past_s=(40.0, 38.0, 42.0))])
    assert measured.past_threshold_prescribed is None
    unknown = replace(one, past_threshold_s=None)
    assert measured_over([unknown])[0].past_threshold_prescribed is None


def test_derived_times_say_so(asked, session_of):
    exercise = replace(asked, past_threshold_s_per_set=None, start_deg=-25.0, end_range_deg=(10.0, 15.0))
    (measured,) = measured_over([session_of(exercise, DAY, past_s=(80.0, 78.0, 82.0))])
    assert measured.past_threshold_prescribed.derived
    assert 0 < measured.past_threshold_prescribed.low_s < measured.past_threshold_prescribed.high_s


def test_angles_that_changed_within_the_days_are_not_one_angle(asked, session_of):
    first = replace(asked, end_range_deg=(5.0, math.inf), limit_deg=18.0)
    (measured,) = measured_over([session_of(first, DAY, 8)])
    assert measured.asked == AskedAngles(5.0, None, 18.0, 4.0)
    deeper = replace(first, end_range_deg=(8.0, 12.0))
    (measured,) = measured_over([session_of(first, DAY, 8), session_of(deeper, DAY, 18)])
    assert measured.asked == AskedAngles(None, None, 18.0, 4.0)
