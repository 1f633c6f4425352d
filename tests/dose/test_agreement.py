"""Limits of agreement against the cardiac output example of Bland and Altman 1999 (table 4) and 2007 (section 3).

The paper's figures stand as quoted beside a published implementation's example (BADEMO of E. Huizinga, GPL): standard
deviation 0.99062408, mean 0.6021667, limits -1.3394565 and 2.5437899 (2007); variance within subjects 0.1072 and 0.1379
and mean of the subjects' means 0.7092 (1999, which the data below are checked by).
"""

import math

import numpy as np
import pytest

from imu_rom.dose.agreement import agreement, clustered_agreement

# radionuclide ventriculography and impedance cardiography, in pairs, by subject, in l/min
PAIRS = (
    "7.83 6.57 7.42 5.62 7.89 6.90 7.12 6.57 7.88 6.35",
    "6.16 4.06 7.26 4.29 6.71 4.26 6.54 4.09",
    "4.75 4.71 5.24 5.50 4.86 5.08 4.78 5.02 6.05 6.01 5.42 5.67",
    "4.21 4.14 3.61 4.20 3.72 4.61 3.87 4.68 3.92 5.04",
    "3.13 3.03 2.98 2.86 2.85 2.77 3.17 2.46 3.09 2.32 3.12 2.43",
    "5.92 5.90 6.42 5.81 5.92 5.70 6.27 5.76",
    "7.13 5.09 6.62 4.63 6.58 4.61 6.93 5.09",
    "4.54 4.72 4.81 4.61 5.11 4.36 5.29 4.20 5.39 4.36 5.57 4.20",
    "4.48 3.17 4.92 3.12 3.97 2.96",
    "4.22 4.35 4.65 4.62 4.74 3.16 4.44 3.53 4.50 3.53",
    "6.78 7.20 6.07 6.09 6.52 7.00 6.42 7.10 6.41 7.40 5.76 6.80",
    "5.06 4.50 4.72 4.20 4.90 3.80 4.80 3.80 4.90 4.20 5.10 4.50",
)
BY_SUBJECT = [np.array(each.split(), dtype=float).reshape(-1, 2) for each in PAIRS]


def test_the_example_is_the_papers_own():
    within = [
        sum(((each[:, column] - each[:, column].mean()) ** 2).sum() for each in BY_SUBJECT) / 48 for column in (0, 1)
    ]
    assert within == pytest.approx([0.1072, 0.1379], abs=5e-5)
    assert np.mean([(each[:, 0] - each[:, 1]).mean() for each in BY_SUBJECT]) == pytest.approx(0.7092, abs=5e-5)


def test_limits_of_the_papers_example():
    differences = [float(each) for subject in BY_SUBJECT for each in subject[:, 0] - subject[:, 1]]
    people = [number for number, subject in enumerate(BY_SUBJECT) for _ in subject]
    found = clustered_agreement(differences, people)
    assert (found.people, found.pairs) == (12, 60)
    assert found.bias == pytest.approx(0.6021667, abs=5e-8)
    assert found.standard_deviation == pytest.approx(0.99062408, abs=3e-8)  # the paper cuts digits off
    # the paper takes 1.96 for the quantile
    assert (found.low, found.high) == pytest.approx((-1.3394565, 2.5437899), abs=4e-5)
    assert found.low_low < found.low < found.low_high < found.bias_low < found.bias
    assert found.bias < found.bias_high < found.high_low < found.high < found.high_high


def test_intervals_hold_what_people_were_made_with():
    chance = np.random.default_rng(3)
    people = [number for number in range(25) for _ in range(6)]
    held = {"bias": 0, "low": 0}
    for seed in range(60):
        own = chance.normal(1.0, 2.0, 25)
        differences = [own[number] + chance.normal(0, 1.0) for number in people]
        found = clustered_agreement(differences, people, seed=seed)
        held["bias"] += found.bias_low <= 1.0 <= found.bias_high
        held["low"] += found.low_low <= 1.0 - 1.96 * math.sqrt(5.0) <= found.low_high
    # a percentile bootstrap of 25 people is a little short of 95 %
    assert min(held.values()) >= 60 * 0.95 - 3 * math.sqrt(60 * 0.95 * 0.05) - 2


def test_people_who_are_all_alike_give_the_limits_of_independent_pairs():
    chance = np.random.default_rng(5)
    values = chance.normal(-2.0, 1.5, 4000)
    apart = agreement(values)
    together = clustered_agreement(values, [number // 10 for number in range(4000)])
    assert (together.low, together.high) == pytest.approx((apart.low, apart.high), abs=0.05)
    assert apart.bias == pytest.approx(-2.0, abs=0.1)
    assert apart.high - apart.low == pytest.approx(2 * 1.96 * 1.5, rel=0.05)
    assert apart.root_mean_square == pytest.approx(math.hypot(2.0, 1.5), rel=0.03)


def test_few_people_have_limits_without_intervals_and_too_few_none():
    found = clustered_agreement([1.0, 2.0, 4.0, 5.0], ["a", "a", "b", "b"])
    assert found.low_low is found.bias_low is None
    with pytest.raises(ValueError, match="at least 2 people"):
        clustered_agreement([1.0, 2.0], ["a", "a"])
    with pytest.raises(ValueError, match="with 2 pairs"):
        clustered_agreement([1.0, 2.0], ["a", "b"])
    with pytest.raises(ValueError, match="at least 2 differences"):
        agreement([1.0])
