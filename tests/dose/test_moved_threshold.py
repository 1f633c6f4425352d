"""The time past a moved angle: at the plan's own it is the analysis', and it follows the angle as it must."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exposure import ExposureCurve
from imu_rom.dose.moved_threshold import common_variance, moved_threshold, set_curves
from imu_rom.exchange.document import result_document


@pytest.fixture(scope="module")
def answer(make_session):
    (answer,) = result_document(make_session(depths=((10.0,) * 15, (5.0,) * 15, (24.0,) * 14 + (-12.0,)))).exercises
    return answer


def moved(answer, threshold_deg, exercise=None):
    return moved_threshold(exercise or answer.exercise, answer.budget, answer.comparison, threshold_deg)


def test_at_the_plans_own_angle_it_is_what_the_analysis_said(answer):
    # the made session's budget grows with the angle, its analysis does not: only the growth is in the way
    steady = replace(answer.budget, excursion_deg=0.0)
    at_own = moved_threshold(answer.exercise, steady, answer.comparison, 4.0)
    for each, done in zip(at_own.sets, answer.comparison.sets, strict=True):
        assert each.past_s == pytest.approx(done.exposure.past_threshold_s, abs=0.01)
        # 15 holds of 2 s at the very same angle fall at once, where the curve falls over a step of 0.1 deg
        assert each.excess_deg_s == pytest.approx(done.exposure.excess_deg_s, abs=15 * 2.0 * 0.1)
        # between steps the curve is straight, the angle's own is not
        assert each.low_s == pytest.approx(done.exposure.past_threshold_low_s, abs=0.1)
        assert each.high_s == pytest.approx(done.exposure.past_threshold_high_s, abs=0.1)
        assert each.probability_above == pytest.approx(done.probability_above_window, abs=0.01)
        assert each.probability_below == pytest.approx(done.probability_below_window, abs=0.01)
    assert at_own.low_s <= answer.comparison.exposure.past_threshold_low_s + 0.1
    assert at_own.high_s >= answer.comparison.exposure.past_threshold_high_s - 0.1


@given(st.floats(-40, 40), st.floats(0, 10))
def test_a_higher_angle_is_passed_for_less(answer, threshold_deg, further_deg):
    lower, higher = moved(answer, threshold_deg), moved(answer, threshold_deg + further_deg)
    assert higher.past_s <= lower.past_s + 1e-9
    assert higher.excess_deg_s <= lower.excess_deg_s + 1e-9
    assert lower.low_s <= lower.past_s <= lower.high_s
    assert lower.past_s == pytest.approx(sum(each.past_s for each in lower.sets))


@pytest.mark.parametrize(
    ("threshold_deg", "words"), [(-24.0, "more"), (0.0, "more"), (8.0, "as asked"), (10.5, "less"), (60.0, "less")]
)
def test_answers_follow_the_angle(answer, threshold_deg, words):
    exercise = replace(answer.exercise, past_threshold_s_per_set=(20.0, 50.0))
    done = replace(answer.comparison.sets[0], prescribed_low_s=20.0, prescribed_high_s=50.0)
    comparison = replace(answer.comparison, sets=(done,))
    budget = replace(answer.budget, terms=tuple(replace(each, value_deg=0.01) for each in answer.budget.terms))
    (one,) = moved_threshold(exercise, budget, comparison, threshold_deg).sets
    assert one.answer == words


def test_near_an_edge_it_stays_undecided(answer):
    assert moved(answer, 9.9).sets[0].answer == "undecided"


def test_a_derived_time_is_compared_at_the_plans_own_angle_only(answer):
    sets = tuple(replace(each, prescribed_derived=True) for each in answer.comparison.sets)
    comparison = replace(answer.comparison, sets=sets)
    for each in moved_threshold(answer.exercise, answer.budget, comparison, 5.0).sets:
        assert (each.answer, each.probability_above) == ("not prescribed", None)


def test_time_without_data_widens_the_high_end_alone(make_session):
    session = make_session(depths=((10.0,) * 15,), gaps=((60.0, 61.5),))
    (answer,) = result_document(session).exercises
    (curve,) = set_curves(answer.comparison)
    assert curve.unseen_s == pytest.approx(1.5, abs=0.05)
    far = moved(answer, 90.0)
    assert (far.past_s, far.low_s) == (0.0, 0.0)
    assert far.high_s == pytest.approx(1.5, abs=0.05)


def test_the_common_error_is_the_budgets(answer):
    constant, growth = common_variance(answer.budget)
    assert math.sqrt(constant + growth * answer.budget.excursion_deg**2) == pytest.approx(answer.budget.u_common_deg)


def test_the_excess_of_a_triangle():
    curve = ExposureCurve(0.0, 0.1, np.linspace(10.0, 0.0, 101))
    assert curve.excess(0.0) == pytest.approx(50.0)
    assert curve.excess(5.03) == pytest.approx(4.97**2 / 2)
    assert curve.excess(-2.0) == pytest.approx(70.0)
    assert curve.excess(11.0) == 0.0
