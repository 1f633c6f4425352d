"""Reliability against the worked example of Shrout and Fleiss, Psychol Bull 86:420-428, 1979 (table 2)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.reliability import reliability

# six targets, four judges
EXAMPLE = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=float)


def test_mean_squares_and_the_six_forms_of_the_worked_example():
    found = reliability(EXAMPLE)
    # the paper's table 3
    assert found.between_square == pytest.approx(11.24, abs=0.005)
    assert found.within_square == pytest.approx(6.26, abs=0.005)
    assert found.measurement_square == pytest.approx(32.49, abs=0.005)
    assert found.error_square == pytest.approx(1.02, abs=0.005)
    # the paper's table 4
    published = {"ICC(1,1)": 0.17, "ICC(2,1)": 0.29, "ICC(3,1)": 0.71, "ICC(1,k)": 0.44, "ICC(2,k)": 0.62}
    for form, value in {**published, "ICC(3,k)": 0.91}.items():
        assert round(found.correlation(form).value, 2) == value


def test_intervals_of_the_worked_example():
    # as the R package psych prints them for the same table (from memory, three digits)
    others = {
        "ICC(1,1)": (-0.133, 0.723),
        "ICC(2,1)": (0.019, 0.761),
        "ICC(3,1)": (0.342, 0.946),
        "ICC(1,k)": (-0.884, 0.912),
        "ICC(2,k)": (0.071, 0.927),
        "ICC(3,k)": (0.676, 0.986),
    }
    found = reliability(EXAMPLE)
    for form, ends in others.items():
        each = found.correlation(form)
        assert (each.low, each.high) == pytest.approx(ends, abs=0.0011), form


def test_error_and_detectable_change_are_those_of_the_mean_square_within():
    found = reliability(EXAMPLE)
    assert found.sem == pytest.approx(math.sqrt(found.within_square))
    assert found.detectable_change == pytest.approx(1.96 * math.sqrt(2) * found.sem, rel=1e-4)
    assert found.sem_low < found.sem < found.sem_high


def test_the_intervals_hold_what_people_were_made_with():
    chance = np.random.default_rng(7)
    true, held, error = 4.0 / (4.0 + 1.0 + 2.25), 0, 0
    for _ in range(400):
        people = chance.normal(0, 2.0, (12, 1))
        values = people + chance.normal(0, 1.0, (1, 3)) + chance.normal(0, 1.5, (12, 3))
        found = reliability(values)
        each = found.correlation("ICC(2,1)")
        held += each.low <= true <= each.high
        # without a change from day to day the mean square within is chi-square distributed
        found = reliability(people + chance.normal(0, 1.5, (12, 3)))
        error += found.sem_low <= 1.5 <= found.sem_high
    # 0.95, with three standard errors of 400 draws; three days know the spread of days badly, which the formula allows
    assert held / 400 >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / 400)
    assert abs(error / 400 - 0.95) <= 3 * math.sqrt(0.95 * 0.05 / 400)


@given(st.floats(-100, 100), st.floats(0.1, 50))
def test_unit_and_zero_of_the_scale_change_no_correlation(shift, factor):
    found, moved = reliability(EXAMPLE), reliability(EXAMPLE * factor + shift)
    for one, other in zip(found.correlations, moved.correlations, strict=True):
        assert (other.value, other.low, other.high) == pytest.approx((one.value, one.low, one.high), abs=1e-6)
    assert moved.sem == pytest.approx(found.sem * factor)


@pytest.mark.parametrize("values", [np.ones((1, 3)), np.ones((5, 1)), np.ones((5, 2)), np.full((3, 2), np.nan)])
def test_too_little_is_refused(values):
    with pytest.raises(ValueError, match=r"needed|the same"):
        reliability(values)
