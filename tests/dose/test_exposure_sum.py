"""Sums of time past an angle over sessions, beside sums that were drawn."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from imu_rom.dose.exposure_sum import exposure_sum, together
from imu_rom.dose.follow_up import ZERO_ERRORS, Interval

U_DEG = 2.0


def time_past_s(error_deg, end_deg, *, repetitions=20, scatter_deg=0.6):
    """Time past 0 degrees of repetitions from -30, ramps of 6 s and a hold of 2 s, the angle off by an error."""
    ends = end_deg + scatter_deg * norm.ppf((np.arange(repetitions) + 0.5) / repetitions)
    past = np.add.outer(np.atleast_1d(error_deg), ends)
    return np.where(past > 0, 2.0 + 6.0 * np.clip(past / (ends + 30), 0, 1), 0.0).sum(axis=1)


def session(end_deg):
    value, low, high = time_past_s(np.array([0.0, -1.96, 1.96]) * U_DEG, end_deg)
    return Interval(value, low, high), tuple(time_past_s(np.array(ZERO_ERRORS) * U_DEG, end_deg))


def drawn(end_deg, sessions):
    errors = np.random.default_rng(5).normal(0, U_DEG, (20_000, sessions))
    grid = np.linspace(-12, 12, 2401)
    return np.quantile(np.interp(errors, grid, time_past_s(grid, end_deg)).sum(axis=1), (0.025, 0.5, 0.975))


@pytest.mark.parametrize("sessions", [3, 7, 14])
@pytest.mark.parametrize("end_deg", [-2.0, 0.0, 1.5, 8.0])
def test_with_the_times_by_error_sums_agree_with_drawn_ones(end_deg, sessions):
    interval, row = session(end_deg)
    found = exposure_sum([interval] * sessions, [row] * sessions).sum_s
    low, median, high = drawn(end_deg, sessions)
    width = high - low
    assert found.value == pytest.approx(median, abs=0.1 * width)
    assert found.low == pytest.approx(low, abs=0.15 * width)
    assert found.high == pytest.approx(high, abs=0.15 * width)


@pytest.mark.parametrize("end_deg", [5.0, 8.0, 12.0])
def test_away_from_the_angle_intervals_alone_do(end_deg):
    found = exposure_sum([session(end_deg)[0]] * 14).sum_s
    low, median, high = drawn(end_deg, 14)
    width = high - low
    assert (found.low, found.value, found.high) == pytest.approx((low, median, high), abs=0.15 * width)


def test_at_the_angle_the_sum_of_single_values_lies_below_all_that_is_likely():
    interval, row = session(-0.5)
    low, median, _ = drawn(-0.5, 14)
    found = exposure_sum([interval] * 14, [row] * 14)
    assert found.measured_s < low
    assert found.sum_s.low < median < found.sum_s.high


def test_one_session_keeps_its_own_interval_and_none_has_none():
    interval, row = session(0.0)
    assert exposure_sum([interval], [row]).sum_s == interval
    assert exposure_sum([]) is None


def test_what_shares_the_zero_is_added_end_by_end():
    assert together([Interval(3.0, 1.0, 9.0), Interval(2.0, 0.0, 4.0)]) == Interval(5.0, 1.0, 13.0)


@given(
    st.lists(
        st.tuples(*[st.floats(0, 300)] * 3).map(sorted).map(lambda each: Interval(each[1], each[0], each[2])),
        min_size=1,
        max_size=20,
    )
)
def test_a_sum_is_never_negative_lies_within_its_interval_and_within_what_all_together_allow(sessions):
    found = exposure_sum(sessions)
    slack = 1e-9 * (1 + found.alike_s.high)
    assert 0 <= found.sum_s.low <= found.sum_s.value + slack
    assert found.sum_s.value <= found.sum_s.high + slack
    assert found.alike_s.low - slack <= found.sum_s.low
    assert found.sum_s.high <= found.alike_s.high + slack


def test_an_interval_of_one_value_adds_that_value():
    sure = Interval(7.0, 7.0, 7.0)
    assert exposure_sum([sure, sure]).sum_s == Interval(14.0, 14.0, 14.0)
