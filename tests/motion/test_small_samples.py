"""The spread of a few values: published factors, textbook cases, and intervals that hold as often as they say."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.motion.small_samples import NORMAL_FACTOR, coverage_factor, effective_degrees, spread_of

TABLE = Path(__file__).parents[1] / "references" / "small_samples.csv"
with TABLE.open(newline="") as file:
    ROWS = [{name: float(value) for name, value in row.items() if value} for row in csv.DictReader(file)]


@pytest.mark.parametrize(
    "row", [row for row in ROWS if "t_975" in row], ids=lambda row: f"{row['degrees_of_freedom']:g}"
)
def test_coverage_factors_are_those_of_the_published_table(row):
    assert coverage_factor(row["degrees_of_freedom"]) == pytest.approx(row["t_975"], abs=0.005 + 1e-9)


@pytest.mark.parametrize(
    "row",
    [row for row in ROWS if len(row) > 2 and "chi_square_975" in row],
    ids=lambda row: f"{row['degrees_of_freedom']:g}",
)
def test_the_interval_of_a_standard_deviation_is_that_of_the_published_chi_square(row):
    degrees = int(row["degrees_of_freedom"])
    values = np.arange(degrees + 1.0)
    spread = spread_of(values)
    assert spread.degrees == degrees
    assert (spread.standard_deviation / spread.low) ** 2 * degrees == pytest.approx(row["chi_square_975"], rel=1e-4)
    # the table has five decimals
    below = (spread.standard_deviation / spread.high) ** 2 * degrees
    assert below == pytest.approx(row["chi_square_025"], abs=5.1e-6)


def test_five_tapings_by_hand():
    spread = spread_of([1.0, 2.0, 3.0, 4.0, 5.0])
    assert (spread.count, spread.mean) == (5, 3.0)
    assert spread.standard_deviation == pytest.approx(math.sqrt(2.5))
    # 0.599 and 2.874 times the standard deviation: sqrt(4 / 11.1433) and sqrt(4 / 0.48442)
    assert spread.low == pytest.approx(0.59913 * math.sqrt(2.5), rel=1e-4)
    assert spread.high == pytest.approx(2.87356 * math.sqrt(2.5), rel=1e-4)
    assert spread.standard_uncertainty == pytest.approx(2.77645 / 1.95996 * math.sqrt(2.5), rel=1e-5)
    assert spread.smallest_real_change == pytest.approx(2.77645 * math.sqrt(5.0), rel=1e-5)


def test_many_values_know_their_spread():
    values = np.random.default_rng(1).normal(0.0, 2.0, 20_000)
    spread = spread_of(values)
    assert spread.standard_uncertainty == pytest.approx(spread.standard_deviation, rel=1e-3)
    # 2.77 is the factor of the repeatability limit, 1.96 times the square root of 2
    assert spread.smallest_real_change == pytest.approx(2.772 * spread.standard_deviation, rel=1e-3)
    assert spread.low < 2.0 < spread.high


@pytest.mark.parametrize("count", [3, 5, 10])
def test_intervals_hold_as_often_as_they_say(count):
    rng = np.random.default_rng(count)
    of_spread = of_next = of_change = 0
    tries = 4000
    for values in rng.normal(10.0, 1.5, (tries, count + 2)):
        spread = spread_of(values[:count])
        of_spread += spread.low <= 1.5 <= spread.high
        # one more value about the true mean, as a session's zero is about the person's usual one
        of_next += abs(values[count] - 10.0) <= NORMAL_FACTOR * spread.standard_uncertainty
        of_change += abs(values[count] - values[count + 1]) <= spread.smallest_real_change
    for held in (of_spread, of_next, of_change):
        assert held / tries == pytest.approx(0.95, abs=0.0138)  # 4 standard deviations


@given(st.lists(st.tuples(st.floats(0.01, 10), st.floats(1, 1e6)), min_size=1, max_size=6))
def test_effective_degrees_lie_between_the_smallest_and_the_sum(parts):
    degrees = effective_degrees(parts)
    assert min(each for _, each in parts) * (1 - 1e-9) <= degrees <= sum(each for _, each in parts) * (1 + 1e-9)


def test_effective_degrees_of_known_cases():
    assert effective_degrees([(1.0, 9.0)]) == pytest.approx(9.0)
    assert effective_degrees([(1.0, 5.0), (1.0, 5.0)]) == pytest.approx(10.0)
    assert math.isinf(effective_degrees([(0.5, math.inf)]))
    assert math.isinf(effective_degrees([(0.5, math.inf), (0.0, 3.0)]))
    # JCGM 100:2008, example of G.4.1 (from memory): u1 = 0.25 %, u2 = 0.57 %, u3 = 0.82 % with n = 10, 5, 15 give 19.0
    assert effective_degrees([(0.25, 9), (0.57, 4), (0.82, 14)]) == pytest.approx(19.0, abs=0.05)


def test_too_few_are_refused():
    with pytest.raises(ValueError, match="at least 2"):
        spread_of([1.0])
    with pytest.raises(ValueError, match="at least 1"):
        coverage_factor(0.0)
