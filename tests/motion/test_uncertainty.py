"""The budget: what is combined, what is shared, and how each sample's uncertainty follows from it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.motion.uncertainty import angle_budget, sample_standard_uncertainty_deg
from imu_rom.settings import UncertaintySettings

DEGREES = st.floats(0, 20)


@given(DEGREES, DEGREES, DEGREES, DEGREES)
def test_parts_combine_as_independent_and_the_zero_is_kept_apart(zero, slow, fast, attitude):
    """Square root of the sum of squares (JCGM 100:2008, 5.1.2, from memory)."""
    budget = angle_budget(UncertaintySettings(zero, slow, fast, attitude))
    assert budget.u_shared_deg == zero
    assert budget.u_set_deg == pytest.approx(math.hypot(slow, attitude))
    assert budget.u_common_deg == pytest.approx(math.hypot(zero, slow, attitude))


def test_budget_of_the_trades_example():
    """Zero pose 2.0, soft tissue 1.5, filter and heading 1.0: 2.693 (own arithmetic, common practice)."""
    budget = angle_budget(UncertaintySettings(2.0, 1.5, 0.0, 1.0))
    assert budget.u_common_deg == pytest.approx(2.693, abs=0.0005)


def test_an_arbitrary_zero_is_not_off_from_anything():
    budget = angle_budget(UncertaintySettings(), has_zero=False)
    assert budget.u_shared_deg == 0.0
    assert budget.u_common_deg == budget.u_set_deg > 0


@given(st.floats(0, 60), st.floats(-90, 90))
def test_an_axis_that_is_off_costs_a_share_of_the_excursion(axis_deg, excursion_deg):
    plain = angle_budget(UncertaintySettings())
    budget = angle_budget(UncertaintySettings(), axis_deg=axis_deg, excursion_deg=excursion_deg)
    other_way = angle_budget(UncertaintySettings(), axis_deg=axis_deg, excursion_deg=-excursion_deg)
    part = budget.parts_deg["axis"]
    assert part == other_way.parts_deg["axis"]
    assert 0 <= part <= 1.5 * abs(excursion_deg)
    assert budget.u_set_deg == pytest.approx(math.hypot(plain.u_set_deg, part))
    assert budget.u_shared_deg == plain.u_shared_deg


def test_an_axis_part_has_the_size_of_what_a_wrong_axis_loses():
    """An axis that is off by e scales the excursion by cos e; e falls in two directions, so e^2 is 2 u^2 on average."""
    draw = np.random.default_rng(1)
    off = np.radians(5.0) * draw.normal(size=(200_000, 2))
    lost = 30.0 * (1 - np.cos(np.hypot(*off.T)))
    part = angle_budget(UncertaintySettings(), axis_deg=5.0, excursion_deg=30.0).parts_deg["axis"]
    assert 0.5 * np.sqrt(np.mean(lost**2)) < part < 2 * np.sqrt(np.mean(lost**2))


COUNT = 500
NOTHING, ALL = np.zeros(COUNT, dtype=bool), np.ones(COUNT, dtype=bool)
BUDGET = angle_budget(UncertaintySettings())


def of_samples(heading_deg=0.0, flatness=1.0, missing=NOTHING, worn=ALL, budget=BUDGET):
    heading = np.radians(np.broadcast_to(heading_deg, COUNT))
    return sample_standard_uncertainty_deg(budget, heading, np.broadcast_to(flatness, COUNT), missing, worn, 25.0)


def test_a_samples_uncertainty_holds_all_parts():
    parts = BUDGET.parts_deg
    assert of_samples() == pytest.approx(math.sqrt(sum(each**2 for each in parts.values())))
    assert parts.keys() == {"zero_pose", "soft_tissue_slow", "soft_tissue_fast", "attitude", "axis"}


def test_an_unknown_heading_matters_where_the_axis_stands_upright_alone():
    level, oblique, upright = (of_samples(heading_deg=20.0, flatness=each)[0] for each in (1.0, 0.9, 0.0))
    assert level == pytest.approx(of_samples()[0])
    assert level < oblique < upright
    assert upright == pytest.approx(math.hypot(level, 20.0))


def test_nothing_is_known_before_wearing_and_where_nothing_was_delivered():
    worn, missing = ALL.copy(), NOTHING.copy()
    worn[:100] = False
    missing[300:320] = True
    found = of_samples(missing=missing, worn=worn)
    assert (found[:100] == 180.0).all()
    assert (found[300:320] == 180.0).all()
    assert (found[100:300] == of_samples()[0]).all()


def test_after_a_gap_the_inclination_is_found_again_within_seconds():
    missing = NOTHING.copy()
    missing[50:100] = True
    found = of_samples(missing=missing)
    assert found[100] > 2 * of_samples()[0]
    assert (np.diff(found[100:]) <= 0).all()
    assert found[100 + 15 * 25] == pytest.approx(of_samples()[0], rel=0.01)


def test_larger_parts_never_make_it_smaller():
    for name in ("zero_pose_deg", "soft_tissue_slow_deg", "soft_tissue_fast_deg", "attitude_deg"):
        larger = angle_budget(replace(UncertaintySettings(), **{name: 9.0}))
        assert (of_samples(budget=larger) > of_samples()).all()


def test_it_never_exceeds_half_a_turn():
    assert of_samples(heading_deg=1e6, flatness=0.0).max() == 180.0
